"""Batches from files: donors that may be left out, parts moved between instruments, quantity breaks, aims."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.batch.build import study_batch
from estimator.batch.records import JointAnswer
from estimator.choose.measure import without_packs
from estimator.choose.study import study_job
from estimator.core.errors import InputError
from estimator.input.batch.load import load_batch
from estimator.input.job.load import load_job
from estimator.plan.plan import Plan, measure_gain, plan_batch
from estimator.report.words.plan import no_plan_words, plan_words
from estimator.schedule.records import Search
from tests.choose.own_measure import measure_of
from tests.plan.bench import EXAMPLES, shop

TUNERS = """
[[moved_part]]
what = "tuners"
from_job = "commission"
from_upgrade = "new-tuners"
to_job = "school"
to_upgrade = "new-tuners-standard"
"""


def donors(folder: Path, asks: dict[str, int], cash: int = 1000, optional: str = "true") -> Path:
    """A batch of the example's bargain at several prices."""
    text = (EXAMPLES / "resale-flip.toml").read_text()
    lines = [f'[batch]\nid = "donors"\nstart = 2026-10-05\ncash = {cash}\n']
    for name, ask in asks.items():
        (folder / f"{name}.toml").write_text(text.replace("ask = 120", f"ask = {ask}"))
        lines.append(f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\noptional = {optional}\n')
    path = folder / "donors.toml"
    path.write_text("\n".join(lines))
    return path


def swapped(folder: Path, more: str, commission: str, school: str) -> Path:
    """A customer's guitar and a school's, their sets decided."""
    path = folder / "swap.toml"
    path.write_text(
        '[batch]\nid = "swap"\nstart = 2026-10-05\n'
        f'[[job]]\nid = "commission"\nfile = "{EXAMPLES}/tight-commission.toml"\nupgrades = {commission}\n'
        f'[[job]]\nid = "school"\nfile = "{EXAMPLES}/school-guitar.toml"\nupgrades = {school}\n{more}'
    )
    return path


def planned(path: Path, aim: str = "cost,cash") -> Plan | JointAnswer:
    return plan_batch(
        study_batch(shop(), load_batch(path, shop())), aim, search=Search(engine="rule", tries=5)
    )


@pytest.mark.slow
def test_only_donors_that_pay_are_bought_and_it_says_why(tmp_path: Path) -> None:
    made = planned(donors(tmp_path, {"cheap": 20, "like": 30, "dear": 400}), "profit")
    assert isinstance(made, Plan)
    assert set(made.answer.chosen) == {"cheap", "like"}
    assert made.answer.left_out == ("dear",)
    assert "would lose" in made.answer.why_not["dear"]
    assert {o.job for o in made.work.operations} == {"cheap", "like"}
    owners = next(b for b in made.orders.baskets if b.seller == "owners of the instruments")
    assert [(line.what, line.cents) for line in owners.lines] == [("cheap", 2000), ("like", 3000)]
    assert sum(made.orders.by_job.values()) == made.orders.total
    assert "dear: not bought: at 400.00 USD it would lose" in plan_words(made)
    gain = measure_gain(made)
    assert gain.joint[0] <= gain.single[0]


@pytest.mark.slow
def test_shared_cash_decides_between_donors(tmp_path: Path) -> None:
    free = planned(donors(tmp_path, {"cheap": 20, "like": 30}), "profit")
    assert isinstance(free, Plan)
    assert free.answer.left_out == ()
    poor = planned(donors(tmp_path, {"cheap": 20, "like": 30}, cash=60), "profit")
    assert isinstance(poor, Plan)
    assert len(poor.answer.left_out) == 1
    reason = poor.answer.why_not[poor.answer.left_out[0]]
    assert "by itself it would leave" in reason
    assert "do not reach" in reason or "less in all" in reason


@pytest.mark.slow
def test_nothing_worth_buying_is_told(tmp_path: Path) -> None:
    # where every donor loses, the least loss is none bought, by the hour too
    for aim in ("profit", "hourly"):
        none = planned(donors(tmp_path, {"dear": 400, "dearer": 500}), aim)
        assert isinstance(none, JointAnswer)
        assert none.left_out == ("dear", "dearer")
        assert "Nothing is worth doing" in no_plan_words(none)


@pytest.mark.slow
def test_aims_that_a_batch_cannot_have_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="what an instrument may bring counts only where money is the aim"):
        planned(donors(tmp_path, {"cheap": 20}))
    school = EXAMPLES / "batches" / "batch-school.toml"
    with pytest.raises(InputError, match="nothing in this batch is to be sold"):
        planned(school, "profit")
    with pytest.raises(InputError, match="only be sought where every instrument is to be sold"):
        planned(school, "hourly")
    path = tmp_path / "bad.toml"
    path.write_text(
        school.read_text().replace("../", f"{EXAMPLES}/").replace('id = "g1"', 'id = "g1"\noptional = true')
    )
    with pytest.raises(InputError, match="only an instrument that is bought to be sold can be left out"):
        load_batch(path, shop())


@pytest.mark.slow
def test_a_part_that_comes_off_is_fitted_elsewhere_after_it_is_off(tmp_path: Path) -> None:
    sets = ('["new-tuners-locking-six"]', '["new-tuners-standard"]')
    bought = planned(swapped(tmp_path, "", *sets))
    moved = planned(swapped(tmp_path, TUNERS, *sets))
    assert isinstance(bought, Plan)
    assert isinstance(moved, Plan)
    parts = {(p.job, p.upgrade): p for p in bought.study.batch.parts}
    tuners = next(p for p in bought.answer.purchases if p.upgrade == "new-tuners-standard")
    assert parts["school", "new-tuners-standard"].list_cents == tuners.cents
    assert {p.kind for p in moved.answer.purchases if p.job == "school"} == {"moved"}
    assert moved.answer.objective is not None
    assert bought.answer.objective is not None
    assert (
        moved.answer.objective <= bought.answer.objective - tuners.cents + 900
    )  # a parcel may lose free freight
    assert tuple(line.words for line in moved.orders.had) == (
        "tuners off commission (new-tuners) goes to school for new-tuners-standard: nothing to buy",
    )
    assert moved.orders.had[0].words in " ".join(plan_words(moved).split())
    ends = {b.operation: b for b in moved.schedule.assignments}
    links = [
        (link.before, o.id)
        for o in moved.work.operations
        for link in o.after
        if link.before.split(":")[0] != o.job
    ]
    assert links
    assert all(before.startswith("commission:") and after.startswith("school:") for before, after in links)
    assert all(ends[before].end <= ends[after].start for before, after in links)


@pytest.mark.slow
def test_a_part_that_stays_on_serves_nobody(tmp_path: Path) -> None:
    made = planned(swapped(tmp_path, TUNERS, "[]", '["new-tuners-standard"]'))
    assert isinstance(made, Plan)
    assert {p.kind for p in made.answer.purchases if p.job == "school"} == {"part"}
    only = TUNERS + "or_bought = false\n"
    answer = planned(swapped(tmp_path, only, "[]", '["new-tuners-standard"]'))
    assert isinstance(answer, JointAnswer)
    assert answer.status == "infeasible"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('"new-tuners"', '"new-tunerz"'), "no upgrade of this name is offered on commission"),
        (('to_job = "school"', 'to_job = "scool"'), "no job of this name is in the batch"),
        (('to_job = "school"', 'to_job = "commission"'), "cannot be moved to the instrument it comes off"),
        (('"new-tuners-standard"', '"set-up"'), "nothing has to be bought for set-up"),
        (("to_upgrade", "to_upgrad"), "to_upgrade"),
    ],
)
def test_a_move_that_makes_no_sense_is_refused(change: tuple[str, str], told: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=told):
        planned(swapped(tmp_path, TUNERS.replace(*change), "[]", "[]"))


@pytest.mark.slow
def test_orders_tell_the_quantity_break(tmp_path: Path) -> None:
    path = tmp_path / "five.toml"
    jobs = "".join(
        f'[[job]]\nid = "g{n}"\nfile = "{EXAMPLES}/school-guitar.toml"\nupgrades = ["new-jack-standard"]\n'
        for n in range(5)
    )
    path.write_text(f'[batch]\nid = "five"\nstart = 2026-10-05\n{jobs}')
    made = planned(path)
    assert isinstance(made, Plan)
    line = next(x for b in made.orders.baskets for x in b.lines if x.what == "jack-standard")
    price = shop().parts["jack-standard"].price
    assert line.number == "5"
    assert line.words.endswith("at 90 % from 5 on")
    assert line.cents == 5 * int(price * 90)
    assert sum(cents for _, cents in line.bears) == line.cents


def test_a_job_priced_with_its_own_freight_leaves_it_to_the_batch() -> None:
    study = study_job(shop(), load_job(EXAMPLES / "tight-commission.toml", shop()), buying="whole")
    problem, measure = without_packs(study.problem, study.measure)
    chosen = ("bridge-pickup-stack-slim-stack", "set-up", "shield-paint")
    assert study.problem.baskets is not None
    assert (problem.baskets, problem.packs) == (None, ())
    plain = measure_of(problem)(chosen)
    assert (measure(chosen).cost, measure(chosen).cash) == (plain.cost, plain.cash)
    assert measure(chosen).cash < study.measure(chosen).cash


@pytest.mark.slow
def test_one_of_two_like_donors_is_left_out_for_a_tie(tmp_path: Path) -> None:
    made = planned(donors(tmp_path, {"one": 60, "two": 60}, cash=100), "profit")
    assert isinstance(made, Plan)
    assert len(made.answer.left_out) == 1
    reason = made.answer.why_not[made.answer.left_out[0]]
    assert reason.endswith("no more would be left in all: a tie")
    assert "0.00 USD less" not in reason
