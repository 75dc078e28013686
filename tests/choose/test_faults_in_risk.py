"""A fault makes the work that touches it go wrong oftener: in the estimate, its twin, the simulation, what is told."""

from __future__ import annotations

import random
from decimal import Decimal
from math import sqrt

import pytest
from msgspec.structs import replace

from estimator.choose.study import Known, Study, make_choice_of, study_job
from estimator.choose.verify.choice import recheck
from estimator.estimate.risk.look_ahead import fields_behind, simulate_set
from estimator.model import FaultOdds, Job, WorkLine
from estimator.report.text.risk import at_fault
from estimator.tables.conditions import holds
from tests.choose.test_faults import KINDS, job_of, put, the_shop, values_of, without_fault

D = Decimal


def lines(study: Study, chosen: tuple[str, ...]) -> dict[tuple[str, str], WorkLine]:
    found = study.costing.estimate(chosen).lines
    return {(line.task, line.place): line for line in found}


def able(job: Job) -> Job:
    """Worked by a hand that may do all of it, so that no odds rise for want of skill."""
    return replace(job, terms=replace(job.terms, skill=5))


def test_a_stiff_rod_by_hand() -> None:
    """1 in 100 such rods strips when it is set, a stiff one in 7; half of a serious repair of 240 min each time."""
    found = {
        word: lines(study_job(the_shop(), able(put(job_of("guitar"), "rod_ok", word))), ("set-up",))[
            "adjust-truss-rod", ""
        ]
        for word in ("works", "stiff")
    }
    assert (found["works"].rework_odds, found["works"].rework) == (D("0.01"), 120)
    assert (found["stiff"].rework_odds, found["stiff"].rework) == (D("0.07"), 840)
    assert found["stiff"].rework_sd == pytest.approx(8.4 * sqrt(0.93 / 0.07))


def test_what_nobody_looked_at_raises_no_odds() -> None:
    job = able(job_of("guitar"))
    assert study_job(the_shop(), job).costing.setting.fault_odds == {}
    stiff = put(job, "rod_ok", "stiff")
    assumed = {**stiff.instrument, "rod_ok": replace(stiff.instrument["rod_ok"], assumed=True)}
    assert study_job(the_shop(), replace(stiff, instrument=assumed)).costing.setting.fault_odds == {}


def test_of_several_faults_the_worst_counts() -> None:
    job = put(put(able(job_of("guitar")), "corrosion", "seized"), "stuck_n", D(2))
    odds = study_job(the_shop(), job).costing.setting.fault_odds
    assert (odds["strip-hardware"].fault, odds["strip-hardware"].more_pct) == ("seized", 10)
    assert (odds["set-action"].more_pct if "set-action" in odds else 0) == 0


def bringing(study: Study, task: str) -> str | None:
    """An upgrade that can be done by itself and brings the task."""
    free = replace(study.problem, rules=tuple(r for r in study.problem.rules if r.kind == "refused"))
    for verdict in study.verdicts:
        if any(demand.task == task for demand in verdict.demands) and not recheck(
            free, (verdict.upgrade.id,), 0
        ):
            return verdict.upgrade.id
    return None


def cases() -> list[tuple[FaultOdds, str]]:
    found = []
    for row in the_shop().fault_odds:
        fault = next(f for f in the_shop().faults if f.fault == row.fault)
        found += [(row, kind) for kind in KINDS if holds(fault.when, job_of(kind).instrument)]
    return found


@pytest.mark.slow
def test_every_row_on_every_kind_that_can_have_the_fault() -> None:
    """Against the same shop without the rows: these odds rise by so many points and no others; the twin agrees.

    What is known of one instrument of a kind serves the next (that it changes no study, ``test_faults.py`` holds).
    """
    rng, shop = random.Random(17), the_shop()
    plain = replace(shop, fault_odds=())
    known = {(kind, one is shop): Known() for kind in KINDS for one in (shop, plain)}
    tried: set[tuple[str, str]] = set()
    for row, kind in cases():
        fault = next(f for f in shop.faults if f.fault == row.fault)
        job = able(put(job_of(kind), fault.field, next(iter(values_of(fault, rng)))))
        study = study_job(shop, job, known=known[kind, True])
        upgrade = bringing(study, row.task)
        if upgrade is None:
            continue
        worst = study.costing.setting.fault_odds
        assert worst[row.task].more_pct >= row.more_pct
        without = study_job(plain, job, known=known[kind, False])
        now, before = lines(study, (upgrade,)), lines(without, (upgrade,))
        assert now.keys() == before.keys()
        for key, line in now.items():
            more = worst[key[0]].more_pct / 100 if key[0] in worst else D(0)
            least = min(before[key].rework_odds + more, shop.terms.rework_cap_pct / 100)
            assert line.rework_odds == least, (row.fault, key)
            assert line.rework >= before[key].rework
        make_choice_of(study, (upgrade,))  # refused where the rows of the tables come to other lines
        told = study.costing.estimate((upgrade,))
        more_time = told.totals.expected > without.costing.estimate((upgrade,)).totals.expected
        assert more_time or all(now[key].rework == before[key].rework for key in now)
        assert any(row.task.replace("-", " ") in words for words in at_fault(study, told))
        assert fault.field in fields_behind(study.costing, (upgrade,))
        sound = study_job(shop, able(without_fault(fault, job_of(kind))), known=known[kind, True])
        assert row.fault not in {each.fault for each in sound.costing.setting.fault_odds.values()}
        tried.add((row.fault, row.task))
    assert len(tried) >= 26, sorted({(r.fault, r.task) for r in shop.fault_odds} - tried)


@pytest.mark.slow
def test_the_simulation_draws_the_same_odds() -> None:
    shop = the_shop()
    job = able(put(job_of("guitar"), "rod_ok", "stiff"))
    for study in (study_job(shop, job), study_job(replace(shop, fault_odds=()), job)):
        totals = study.costing.estimate(("set-up",)).totals
        drawn = simulate_set(study.costing, ("set-up",), draws=60_000, seed=3)
        assert drawn.minutes.mean == pytest.approx(totals.expected / 100, rel=0.01)
