"""Nothing is worked on before it is there or after it is gone, by a checker with its own list of what takes what off."""

from __future__ import annotations

import json
import random
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from estimator.batch.arrivals import bought_as, minute_of
from estimator.batch.build import study_batch
from estimator.choose.verify.choice import clashes
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.replan.saved_plan import kept_text, read_kept
from estimator.report.record import as_data
from estimator.report.records.plan import Moved
from estimator.schedule.records import Search
from tests.plan.bench import EXAMPLES, job, shop

OFF_AT = {
    # what comes off: tasks after any of which the old one is in the hand; common practice, no source to name
    "new-saddles": ("swap-saddles",),
    "new-tuners": ("fit-tuner",),
    "bridge-pickup": ("strip-electronics", "fit-pickup-two-wire", "fit-pickup-four-wire"),
    "neck-pickup": ("strip-electronics", "fit-pickup-two-wire", "fit-pickup-four-wire"),
    "new-pots": ("fit-pot",),
    "new-switch": ("fit-switch",),
    "new-six-screw-tremolo": ("strip-hardware",),
}
ON_GUARD = (
    "shield-cavity-foil",
    "fit-harness",
    "fit-pickup-two-wire",
    "fit-pickup-four-wire",
    "fit-pot",
    "fit-switch",
)
APART = ("strip", "clean", "desk")


def planned(folder: Path, one: list[str], other: list[str], more: str = "") -> Plan:
    path = folder / "pair.toml"
    path.write_text(
        '[batch]\nid = "pair"\nstart = 2026-10-05\n'
        f'[[job]]\nid = "a"\nfile = "{EXAMPLES}/tight-commission.toml"\nupgrades = {one}\n'
        f'[[job]]\nid = "b"\nfile = "{EXAMPLES}/school-guitar.toml"\nupgrades = {other}\n{more}'.replace(
            "'", '"'
        )
    )
    made = plan_batch(
        study_batch(shop(), load_batch(path, shop())), "cost,cash", search=Search(engine="rule", tries=5)
    )
    assert isinstance(made, Plan)
    return made


def task(operation: str) -> str:
    return operation.partition(":")[2].partition("@")[0].partition("#")[0]


def can_stand(name: str, upgrades: list[str]) -> bool:
    return not clashes(job(name).problem, upgrades)


def offered(name: str) -> dict[str, list[str]]:
    names = sorted(set(job(name).problem.options))
    return {kind: [n for n in names if n.startswith(kind + "-")] for kind in OFF_AT}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_a_part_is_off_before_it_is_fitted_elsewhere(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    froms, tos = offered("tight-commission"), offered("school-guitar")
    while True:
        kinds = chance.sample([k for k in OFF_AT if froms[k] and tos[k]], chance.choice((1, 2)))
        one = [chance.choice(froms[kind]) for kind in kinds]
        other = [chance.choice(tos[kind]) for kind in kinds]
        if can_stand("tight-commission", one) and can_stand("school-guitar", other):
            break  # else it is drawn again: saddles do not go on a bridge that is replaced
    if chance.random() < 0.3 and "shield-paint" in study_options():
        one.append("shield-paint")
    moves = "".join(
        f'[[moved_part]]\nfrom_job = "a"\nfrom_upgrade = "{a}"\nto_job = "b"\nto_upgrade = "{b}"\n'
        for a, b in zip(one, other, strict=False)
    )
    plan = planned(tmp_path, one, other, moves)
    moved = [p for p in plan.answer.purchases if p.kind == "moved"]
    assert moved
    groups = {name: row.group for name, row in shop().tasks.items()}
    for purchase in moved:
        kind = next(k for k in kinds if purchase.upgrade.startswith(k))
        off = [
            b.end
            for b in plan.schedule.assignments
            if b.operation.startswith("a:") and task(b.operation) in OFF_AT[kind]
        ]
        fitted = tasks_of(plan, "b", purchase.upgrade)
        starts = [
            b.start
            for b in plan.schedule.assignments
            if b.operation.startswith("b:")
            and task(b.operation) in fitted
            and groups[task(b.operation)] not in APART
        ]
        assert off, kind
        assert starts, kind
        assert min(off) <= min(starts), (kind, purchase.upgrade)


def study_options() -> set[str]:
    return set(job("tight-commission").problem.options)


def tasks_of(plan: Plan, job: str, upgrade: str) -> set[str]:
    """Tasks that this upgrade by itself brings to the job."""
    costing = plan.study.studies[job].costing
    alone, nothing = costing.estimate([upgrade]), costing.estimate([])
    return {line.task for line in alone.lines} - {line.task for line in nothing.lines}


@pytest.mark.slow
def test_two_instruments_that_swap_parts_still_get_a_week(tmp_path: Path) -> None:
    moves = "".join(
        f'[[moved_part]]\nfrom_job = "{a}"\nfrom_upgrade = "{u}"\nto_job = "{b}"\nto_upgrade = "{v}"\n'
        for a, u, b, v in (
            ("a", "new-saddles-standard", "b", "new-saddles-standard"),
            ("b", "new-saddles-standard", "a", "new-saddles-standard"),
        )
    )
    plan = planned(tmp_path, ["new-saddles-standard"], ["new-saddles-standard"], moves)
    moved = [p for p in plan.answer.purchases if p.kind == "moved"]
    assert sorted((p.off_job, p.job, p.seller) for p in moved) == [("a", "b", ""), ("b", "a", "")]
    told = [as_data(Moved(p)) for p in moved]
    assert sorted((one["from_job"], one["to_job"]) for one in told) == [("a", "b"), ("b", "a")]
    text = kept_text(plan)
    assert read_kept(text.encode(), "week.json").purchases == plan.answer.purchases
    earlier = json.loads(text)
    for purchase in earlier["purchases"]:
        off = purchase.pop("off_job")
        purchase["seller"] = off or purchase["seller"]
    assert read_kept(json.dumps(earlier).encode(), "week.json").purchases == plan.answer.purchases


@pytest.mark.slow
@pytest.mark.parametrize("guard", ["new-guard-standard", "guard-from-blank-standard"])
def test_a_new_guard_is_foiled_and_wired_only_when_it_has_come(tmp_path: Path, guard: str) -> None:
    from estimator.plan.replan.plan import plan_again
    from estimator.plan.replan.progress import load_state

    plan = planned(tmp_path, [guard, "shield-paint", "bridge-pickup-single-standard"], ["set-up"])
    parcel = next(p for p in plan.answer.purchases if p.upgrade == guard)
    there = plan.study.file.start
    late = datetime(there.year, there.month, there.day) + timedelta(days=24)
    (tmp_path / "week.json").write_text(kept_text(plan))
    (tmp_path / "state.toml").write_text(
        f'[state]\nplan = "week.json"\nnow = "{there} 09:00"\nothers = "as-planned"\n'
        f'[[late]]\njob = "a"\nupgrade = "{guard}"\nexpected = "{late:%Y-%m-%d}"\n'
    )
    again = plan_again(
        plan.study, load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=5)
    ).plan
    came = again.calendar.working_at(again.late[bought_as(parcel)])
    assert came == again.calendar.working_at(minute_of(again.calendar, late + timedelta(hours=12)))
    works = [
        b
        for b in again.schedule.assignments
        if b.operation.startswith("a:") and task(b.operation) in ON_GUARD
    ]
    assert {task(b.operation) for b in works} >= {"shield-cavity-foil"}
    assert all(b.start >= came for b in works)
    cut = [b.end for b in again.schedule.assignments if task(b.operation) == "cut-guard-blank"]
    assert all(b.start >= end for end in cut for b in works)
