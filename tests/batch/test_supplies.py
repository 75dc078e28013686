"""Work waits for the packs that its own quantity takes, not for the last pack of the kind."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.arrivals import DAY, arrival_of, bought_as
from estimator.batch.build import study_batch
from estimator.batch.records import MILLIONTHS, Purchase
from estimator.batch.supplies import demands_of, supplies_of
from estimator.input.batch.load import load_batch
from estimator.plan.awaited import taken_by
from estimator.plan.plan import Plan, plan_batch, plan_chosen
from estimator.plan.replan.plan import plan_again
from estimator.plan.replan.progress import load_state
from estimator.plan.replan.saved_plan import kept_text, read_kept
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Link, Operation, SchedulingProblem, Search
from estimator.schedule.resources import calendar_of
from estimator.schedule.supplies import BEGUN, served, with_supplies
from tests.plan.bench import EXAMPLES, shop

QUICK = Search(engine="rule", tries=5)


def week() -> Calendar:
    return calendar_of(shop(), datetime(2026, 10, 5).date(), ())


def work_of(minutes: Sequence[int], chain: bool) -> SchedulingProblem:
    operations = tuple(
        Operation(f"j:o{n}", "j", m, (Link(f"j:o{n - 1}"),) if chain and n else (), one_of=("me",))
        for n, m in enumerate(minutes)
    )
    return SchedulingProblem(operations, {"me": 1})


def starts_of(work: SchedulingProblem) -> dict[str, int]:
    return {o.id: o.earliest for o in work.operations}


def test_the_first_pack_serves_what_needs_it_first_and_the_stock_before_it() -> None:
    supply = {"glue": [(0, 10), (1000, 50), (9000, 50)]}
    demands = {"j:o0": {"glue": 10}, "j:o1": {"glue": 50}, "j:o2": {"glue": 1}, "j:o3": {}}
    held = with_supplies(work_of([30, 30, 30, 30], chain=True), week(), supply, demands)
    assert starts_of(held) == {"j:o0": 0, "j:o1": 1000, "j:o2": 9000, "j:o3": 0}
    assert [o.supplied for o in held.operations] == [(), (("glue", 1000),), (("glue", 9000),), ()]


def test_of_equals_the_first_of_the_batch_is_served_unless_a_plan_says_otherwise() -> None:
    supply = {"glue": [(0, 0), (1000, 10), (9000, 10)]}
    demands = {"j:o0": {"glue": 10}, "j:o1": {"glue": 10}}
    work = work_of([30, 30], chain=False)
    assert starts_of(with_supplies(work, week(), supply, demands)) == {"j:o0": 1000, "j:o1": 9000}
    planned = {"j:o0": 9500, "j:o1": 1500}
    assert starts_of(with_supplies(work, week(), supply, demands, planned)) == {"j:o0": 9000, "j:o1": 1000}
    used = {"j:o0": 9500, "j:o1": BEGUN}
    assert starts_of(with_supplies(work, week(), supply, demands, used))["j:o0"] == 9000


def is_short(
    supply: Mapping[str, Sequence[tuple[int, int]]],
    demands: Mapping[str, Mapping[str, int]],
    begins: Mapping[str, int],
) -> bool:
    """Whether at some moment more has been opened than was there: its own count, moment by moment."""
    for moment in sorted(set(begins.values())):
        for what, comes in supply.items():
            there = sum(more for minute, more in comes if minute <= moment)
            used = sum(demands[name].get(what, 0) for name, when in begins.items() if when <= moment)
            if used > there:
                return True
    return False


def test_nothing_is_used_before_it_is_there_and_a_plan_that_can_stand_does() -> None:
    chance, fell_back, waited = random.Random(11), 0, 0
    for _ in range(300):
        number = chance.randint(1, 7)
        work = work_of([chance.randint(10, 400) for _ in range(number)], chance.random() < 0.4)
        demands = {
            o.id: {w: chance.randint(1, 9) for w in chance.sample(("glue", "foil"), chance.randint(0, 2))}
            for o in work.operations
        }
        supply = {}
        for what in ("glue", "foil"):
            wanted = sum(mine.get(what, 0) for mine in demands.values())
            first = chance.randint(0, wanted)
            last = (chance.randint(1, 20000), wanted - first)
            supply[what] = sorted([(chance.choice((0, chance.randint(1, 9000))), first), last])
        held = with_supplies(work, week(), supply, demands)
        assert not is_short(supply, demands, starts_of(held))
        waited += any(o.supplied for o in held.operations)
        # a plan whose every moment is covered is left alone, whatever its order
        names = [o.id for o in work.operations]
        chance.shuffle(names)
        clock, planned = 0, {}
        for name in names:
            while is_short(supply, demands, {**planned, name: clock}):
                clock += 500
            planned[name] = clock
            clock += chance.randint(0, 900)
        again = with_supplies(work, week(), supply, demands, planned)
        assert all(o.earliest <= planned[o.id] for o in again.operations)
        assert not is_short(supply, demands, starts_of(again))
        fell_back += starts_of(again) != starts_of(held)
    assert waited > 200
    assert fell_back > 20


def test_what_no_purchase_covers_comes_with_the_last() -> None:
    assert served({"glue": [(0, 1), (500, 1)]}, {"a": {"glue": 3}}, ["a"]) == {"a": (("glue", 500),)}


def shielded(folder: Path, sellers: Sequence[str]) -> Plan:
    """Two guitars shielded with paint, a jar for each and one more, the jars from the sellers named."""
    path = folder / "paint.toml"
    jobs = "".join(
        f'[[job]]\nid = "{name}"\nfile = "{EXAMPLES}/school-guitar.toml"\nupgrades = ["shield-paint"]\n'
        for name in ("a", "b")
    )
    path.write_text(f'[batch]\nid = "paint"\nstart = 2026-10-05\n{jobs}')
    study = study_batch(shop(), load_batch(path, shop()))
    made = plan_batch(study, search=QUICK)
    assert isinstance(made, Plan)
    others = tuple(p for p in made.answer.purchases if p.what != "c-shield-paint")
    demand = demands_of(study, made.estimates)["a:shield-cavity-paint"]["c-shield-paint"]
    packs = tuple(
        replace(p, holds=demand) if p.consumable == "c-shield-paint" else p for p in study.batch.packs
    )
    study = replace(study, batch=replace(study.batch, packs=packs))
    jars = tuple(Purchase("pack", "c-shield-paint", seller, 1, 1000) for seller in sellers)
    return plan_chosen(study, replace(made.answer, purchases=(*others, *jars)), QUICK)


def test_the_first_jar_is_opened_while_the_second_is_on_its_way(tmp_path: Path) -> None:
    plan = shielded(tmp_path, ("finish-store", "specialist"))
    known = plan.work.by_id()
    jars = {p.seller: p for p in plan.answer.purchases if p.what == "c-shield-paint"}
    early, late = (arrival_of(plan.study, jars[one]) for one in ("finish-store", "specialist"))
    assert early < late
    first, second = (known[f"{job}:shield-cavity-paint"] for job in "ab")
    assert (first.earliest, second.earliest) == (early, late)
    assert jars["specialist"] not in taken_by(plan, first.id)
    assert jars["specialist"] in taken_by(plan, second.id)
    lines = {b.seller: line for b in plan.orders.baskets for line in b.lines if line.what == "c-shield-paint"}
    begins = {
        b.operation: plan.calendar.moment(plan.calendar.elapsed_at_start(b.start)).date()
        for b in plan.schedule.assignments
    }
    assert lines["finish-store"].need_by == begins[first.id]
    assert lines["specialist"].need_by == begins[second.id]


@pytest.mark.slow
def test_only_the_late_jar_is_late_and_who_waits_for_it_says_so(tmp_path: Path) -> None:
    plan = shielded(tmp_path, ("finish-store", "specialist"))
    (tmp_path / "week.json").write_text(kept_text(plan))
    late = datetime(2026, 10, 5) + timedelta(days=20)
    state = (
        '[state]\nplan = "week.json"\nnow = "2026-10-05 09:00"\nothers = "as-planned"\n'
        f'[[late]]\nsupplier = "specialist"\nconsumable = "c-shield-paint"\nexpected = "{late:%Y-%m-%d}"\n'
    )
    (tmp_path / "state.toml").write_text(state)
    again = plan_again(plan.study, load_state(tmp_path / "state.toml"), search=QUICK)
    known = again.plan.work.by_id()
    assert known["a:shield-cavity-paint"].earliest == plan.work.by_id()["a:shield-cavity-paint"].earliest
    assert known["b:shield-cavity-paint"].earliest == 20 * DAY + 720
    assert "specialist comes on Sun 25 Oct" in again.plan.changed["b:shield-cavity-paint"].why
    assert not [name for name in again.plan.changed if name.startswith("a:")]
    kept = read_kept(kept_text(again.plan).encode(), "week.json")
    assert kept.late == {("pack", "specialist", "c-shield-paint"): late.replace(hour=12)}


@pytest.mark.slow
def test_a_late_pack_of_a_plan_kept_before_means_the_packs_of_every_seller(tmp_path: Path) -> None:
    text = kept_text(shielded(tmp_path, ("finish-store", "specialist")))
    old = '"late": [{"kind": "pack", "job": "", "what": "c-shield-paint", "there": "2026-10-20T12:00"}]'
    found = read_kept(text.replace('"late": []', old).encode(), "week.json").late
    assert set(found) == {("pack", seller, "c-shield-paint") for seller in ("finish-store", "specialist")}


@pytest.mark.slow
def test_every_quantity_a_plan_takes_is_covered_by_what_is_bought(tmp_path: Path) -> None:
    plan = shielded(tmp_path, ("finish-store", "specialist"))
    demands = demands_of(plan.study, plan.estimates)
    for what, comes in supplies_of(plan.study, plan.answer).items():
        used = sum(mine.get(what, 0) for mine in demands.values())
        assert 0 < used <= sum(more for _, more in comes) + MILLIONTHS // 100, what
    assert {bought_as(p)[0] for p in plan.answer.purchases} == {"pack"}
