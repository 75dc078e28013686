"""What to measure next: each claim is run again through the public functions, and what is not listed is idle."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator.measuring import Worth, measure_next, other_values, with_value
from estimator.model import Shop
from estimator.pipeline import Choice, Study, make_choice, make_estimate, study_job
from estimator.tables.folders import default_folder
from estimator.tables.jobfile import load_job
from estimator.tables.loading import load_shop

JOBS = Path(str(default_folder("example_jobs")))
MORE, LESS = "the same set takes more work", "the same set takes less work"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop()


@pytest.fixture(scope="module", params=["tight-commission", "resale-flip"])
def choice(request: pytest.FixtureRequest, shop: Shop) -> Choice:
    return make_choice(study_job(shop, load_job(JOBS / f"{request.param}.toml", shop)), explain=False)


@pytest.fixture(scope="module")
def worths(choice: Choice) -> tuple[Worth, ...]:
    return measure_next(choice, solves=3)


def again(choice: Choice, worth: Worth) -> Study:
    """The study, had the value been measured and come out at the end that is listed."""
    study = choice.study
    spec, reading = study.shop.intake[worth.field], study.job.instrument[worth.field]
    (value,) = (
        value
        for value in other_values(spec, reading)
        if worth.could_be in (f"{said(value)} {spec.unit}".rstrip(), said(value))
    )
    return study_job(study.shop, with_value(study.job, worth.field, value))


def said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def test_what_is_listed_is_assumed_and_worth_its_chance(choice: Choice, worths: tuple[Worth, ...]) -> None:
    assert worths
    assert [w.worth for w in worths] == sorted((w.worth for w in worths), reverse=True)
    for worth in worths:
        assert choice.study.job.instrument[worth.field].assumed
        assert worth.worth == int(worth.chance * worth.stake)
        spec = choice.study.shop.intake[worth.field]
        assert worth.chance == max(spec.fit_chance_pct / 100, spec.spread)


def test_the_end_of_a_listed_field_changes_what_is_claimed(choice: Choice, worths: tuple[Worth, ...]) -> None:
    """Estimated and chosen afresh at that end: dearer or cheaper by the stake, another set, or no set at all."""
    before = choice.estimate.totals.cost
    for worth in worths:
        study = again(choice, worth)
        claims = worth.changes.split("; ")
        for claim in claims:
            if claim in (MORE, LESS):
                after = make_estimate(study, choice.estimate.chosen).totals.cost
                assert (after > before) is (claim == MORE), worth
                assert after != before, worth
                if len(claims) == 1:
                    assert abs(after - before) == worth.stake, worth
            else:
                best = make_choice(study, explain=False)
                if claim == "the wish could not be met":
                    assert not best.found, worth
                else:
                    assert claim.startswith("another set would be best"), worth
                    assert best.estimate.chosen != choice.estimate.chosen, worth


def test_a_field_whose_ends_change_nothing_is_not_listed(choice: Choice, worths: tuple[Worth, ...]) -> None:
    """No verdict on any upgrade changes at either end, and it tells of no wished attribute: never listed.

    Nor are fields that were measured.
    """
    listed = {worth.field for worth in worths}
    study = choice.study
    telling = {study.shop.attributes[r.attribute].intake_field for r in study.problem.rules if r.attribute}
    telling |= {s.field for s in study.shop.attribute_signs}
    before = {v.upgrade.id: (v.outcome, v.demands) for v in study.verdicts}
    idle = 0
    for field in (
        "rod_turn_left",
        "smell_mould",
        "weight_g",
        "neck_thk_1",
        "pole_spread_neck",
        "tcav_dep",
        "hand",
    ):
        reading = study.job.instrument[field]
        if field in telling or not reading.assumed:
            continue
        for value in other_values(study.shop.intake[field], reading):
            after = study_job(study.shop, with_value(study.job, field, value))
            if {v.upgrade.id: (v.outcome, v.demands) for v in after.verdicts} != before:
                break
        else:
            idle += 1
            assert field not in listed
    assert idle >= 3
    assert all(study.job.instrument[field].assumed for field in listed)


def test_more_solves_never_hide_a_field(choice: Choice) -> None:
    few, more = ({w.field: w.worth for w in measure_next(choice, n)} for n in (0, 2))
    assert set(few) <= set(more)
    assert all(more[field] >= worth for field, worth in few.items())
