"""Work never counts as mending a fault that it makes worse, or leaves as it is."""

from __future__ import annotations

import random
from decimal import Decimal
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.build import lifted_by
from estimator.choose.faults import faults_found
from estimator.choose.study import make_choice_of, study_job
from estimator.choose.verify.choice import levels_reached, recheck
from estimator.input.job.load import job_from
from estimator.model import Job, Reading
from estimator.tables.conditions import holds
from estimator.tables.toml.text import parse_toml
from tests.choose.test_faults import KINDS, job_of, put, the_shop, values_of

D = Decimal
#: attributes that weight at the peghead decides
BY_WEIGHT = ("balance",)


def diving_bass(tuner_mass: int) -> Job:
    text = (
        '[job]\nid = "dives"\nkind = "own"\n[instrument]\nkind = "bass-solid"\nbalance = "fast"\n'
        f"tuner_mass = {tuner_mass}\n"
    )
    return job_from(parse_toml(text.encode(), "dives.toml"), the_shop())


@pytest.mark.parametrize(
    ("old", "mends"),
    [
        # four of 100 g come off: 420 g are heavier, 400 g are no help, 220 g are
        (100, {"new-bass-tuners-premium"}),
        (110, {"new-bass-tuners-premium", "new-bass-tuners-economy", "new-bass-tuners-standard"}),
        (50, set()),
    ],
)
def test_only_lighter_tuners_mend_a_dive(old: int, mends: set[str]) -> None:
    study = study_job(the_shop(), diving_bass(old))
    (fault,) = faults_found(study)
    assert {one for one in fault.mends if one.startswith("new-bass-tuners")} == mends
    assert "move-strap-button" in fault.mends
    for verdict in study.verdicts:
        if verdict.upgrade.row.id == "new-bass-tuners" and verdict.outcome != "does-not-fit":
            make_choice_of(study, (verdict.upgrade.id,))  # refused where the twin finds another spec
            level = levels_reached(study.problem, (verdict.upgrade.id,))["balance"]
            assert level == levels_reached(study.problem, ())["balance"] or verdict.upgrade.id in mends


def heavier_parts(job: Job, rng: random.Random) -> Job:
    """The instrument with some of its old parts much lighter, or much heavier, than usual."""
    readings = dict(job.instrument)
    for field in the_shop().intake.values():
        value = readings[field.id].value if field.id in readings else None
        if (
            field.kind == "mass"
            and field.id != "weight_g"
            and isinstance(value, Decimal)
            and rng.random() < 0.6
        ):
            readings[field.id] = Reading(D(int(value * rng.choice((D("0.5"), D("1.1"), D(2))))), False)
    return replace(job, instrument=MappingProxyType(readings))


@pytest.mark.slow
def test_every_fault_and_every_upgrade_that_mends_it() -> None:
    """Over kinds and old parts of any weight: what mends a fault lowers nothing it holds down, and adds no weight there."""
    shop, rng, tried = the_shop(), random.Random(4), 0
    for row in shop.faults:
        for kind in KINDS:
            if row.field not in job_of(kind).instrument or not holds(row.when, job_of(kind).instrument):
                continue
            if row.attribute not in BY_WEIGHT and rng.random() < 0.88:
                continue
            job = heavier_parts(put(job_of(kind), row.field, next(iter(values_of(row, rng)))), rng)
            study = study_job(shop, job)
            free = replace(study.problem, rules=tuple(r for r in study.problem.rules if r.kind == "refused"))
            stands = levels_reached(study.problem, ())[row.attribute]
            for upgrade in lifted_by(row, study.verdicts):
                if recheck(free, (upgrade,), 0):
                    continue
                tried += 1
                said = f"{row.fault} on {kind}: {upgrade}"
                assert levels_reached(study.problem, (upgrade,))[row.attribute] >= stands, said
                made = study.verdict(upgrade).upgrade
                if row.attribute in BY_WEIGHT and made.part is not None:
                    mass, count = (D(str(job.instrument[name].value)) for name in ("tuner_mass", "tuner_n"))
                    assert (made.part.weight_g or 0) < mass * count, said
    assert tried > 40
