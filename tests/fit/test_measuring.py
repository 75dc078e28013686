"""What to measure next: each claim is run again through the public functions, and what is not listed is idle."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.questions.measure_next import WorthMeasuring, look_into
from estimator.choose.study import Choice, Study, make_choice, make_estimate, study_job
from estimator.estimate.risk.look_ahead import fit_risks, look_ahead
from estimator.fit.otherwise import Otherwise
from estimator.input.job.load import job_from, load_job
from estimator.model import Shop
from estimator.tables.folders import default_folder
from estimator.tables.toml.text import parse_toml
from tests.fit.measured import measured_as
from tests.shops import default_shop

JOBS = Path(str(default_folder("example_jobs")))
MORE, LESS = "the same set takes more work", "the same set takes less work"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


@pytest.fixture(scope="module", params=["tight-commission", "resale-flip"])
def choice(request: pytest.FixtureRequest, shop: Shop) -> Choice:
    return make_choice(study_job(shop, load_job(JOBS / f"{request.param}.toml", shop)), explain=False)


@pytest.fixture(scope="module")
def worths(choice: Choice) -> tuple[WorthMeasuring, ...]:
    return look_into(choice).worths


def again(choice: Choice, worth: WorthMeasuring) -> Study:
    """The study, had the value been measured and come out as is listed, with the defaults that follow."""
    study = choice.study
    return study_job(study.shop, measured_as(study.shop, study.job, worth.field, worth.value))


@pytest.mark.slow
def test_what_is_listed_is_assumed_and_worth_its_chance(
    choice: Choice, worths: tuple[WorthMeasuring, ...]
) -> None:
    assert worths
    assert [w.worth for w in worths] == sorted((w.worth for w in worths), reverse=True)
    for worth in worths:
        assert choice.study.job.instrument[worth.field].assumed
        assert worth.worth == int(worth.chance * worth.stake)
        spec = choice.study.shop.intake[worth.field]
        # how often it is another where that is known; a spread says how far minutes go astray with it
        assert worth.chance == (spec.fit_chance_pct / 100 if spec.fit_chance_pct else spec.spread)


@pytest.mark.slow
def test_what_is_listed_changes_what_is_claimed(choice: Choice, worths: tuple[WorthMeasuring, ...]) -> None:
    """Judged, estimated and chosen afresh: verdicts turned, dearer or cheaper, another set, or no set at all."""
    before = choice.estimate.totals.cost
    verdicts = {v.upgrade.id: v for v in choice.study.verdicts}
    claimed = 0
    for worth in worths:
        study = again(choice, worth)
        after = {v.upgrade.id: v for v in study.verdicts}
        for turn in worth.turns:
            assert turn.before == verdicts.get(turn.upgrade), worth
            assert turn.after == after.get(turn.upgrade), worth
        claims = worth.changes.split("; ")
        for claim in claims:
            if claim in (MORE, LESS):
                cost = make_estimate(study, choice.estimate.chosen).totals.cost
                assert (cost > before) is (claim == MORE), worth
                assert cost != before, worth
                claimed += 1
            elif claim == "the wish could not be met":
                assert not make_choice(study, explain=False).found, worth
                claimed += 1
            elif claim.startswith("it would go beyond this"):
                assert not make_choice(study, explain=False).found or "another set" in worth.changes, worth
                claimed += 1
            elif claim.startswith("another set would be best"):
                assert make_choice(study, explain=False).estimate.chosen != choice.estimate.chosen, worth
                claimed += 1
            elif ": " in claim:
                assert worth.turns, worth
            else:
                assert claim.endswith("would stand elsewhere today"), worth
        if worth.worth:
            assert {MORE, LESS, "the wish could not be met"} & set(claims) or "another set" in worth.changes
    assert claimed >= 3


@pytest.mark.slow
def test_what_is_not_listed_changes_nothing(choice: Choice, worths: tuple[WorthMeasuring, ...]) -> None:
    """Every assumed value that is not listed, put to what it may be: same verdicts, same cost of the set.

    Nor are fields listed that were measured.
    """
    listed = {worth.field for worth in worths}
    study = choice.study
    otherwise = Otherwise(study.shop, study.job)
    before = {v.upgrade.id: (v.outcome, v.demands) for v in study.verdicts}
    idle = [field for field in otherwise.assumed if field not in listed]
    assert len(idle) > 20
    for field in idle[::5]:
        for value in otherwise.values(field)[::2]:
            after = study_job(study.shop, measured_as(study.shop, study.job, field, value))
            assert {v.upgrade.id: (v.outcome, v.demands) for v in after.verdicts} == before, field
            cost = make_estimate(after, choice.estimate.chosen).totals.cost
            assert cost == choice.estimate.totals.cost, field
    assert all(study.job.instrument[field].assumed for field in listed)


@pytest.mark.slow
def test_measure_lists_what_risk_warns_of(choice: Choice, worths: tuple[WorthMeasuring, ...]) -> None:
    """Every bar of an assumed value and every risk of fit that ``risk`` tells is worth measuring."""
    study, chosen = choice.study, choice.estimate.chosen
    otherwise = Otherwise(study.shop, study.job, chosen)
    listed = {worth.field: worth for worth in worths}
    bars = look_ahead(study.costing, chosen, otherwise=otherwise).assumed
    assert bars
    for bar in bars:
        assert bar.name in listed
        most = max(abs(cost - choice.estimate.totals.cost) for cost in (bar.low_cents, bar.high_cents))
        assert listed[bar.name].stake >= most
    for risk in fit_risks(otherwise, chosen):
        assert set(risk.upgrades) & {turn.upgrade for turn in listed[risk.field].turns}


@pytest.mark.slow
def test_a_value_that_takes_the_set_beyond_its_limit_is_told_so(shop: Shop) -> None:
    """More work is one thing, more than the customer pays another: then the wish is chosen for again."""
    choice = make_choice(study_job(shop, load_job(JOBS / "tight-commission.toml", shop)), explain=False)
    worths = {worth.field: worth for worth in look_into(choice, solves=0).worths}
    pots = worths["pot_value"]
    assert not make_choice(again(choice, pots), explain=False).found
    claims = pots.changes.split("; ")
    assert {MORE, "the wish could not be met"} <= set(claims)
    assert any(claim.startswith("it would go beyond this: price at most 525.00 USD: ") for claim in claims)
    assert pots.stake >= choice.estimate.totals.money.parts
    assert "beyond" not in worths["nut_stuck"].changes  # it takes more work too, and is still within


@pytest.mark.slow
def test_posts_near_an_edge_are_listed(shop: Shop) -> None:
    """Two parts would no longer fit though neither is in the chosen set."""
    choice = make_choice(study_job(shop, load_job(JOBS / "tight-commission.toml", shop)), explain=False)
    worth = next(w for w in look_into(choice, solves=0).worths if w.field == "post_edge")
    assert worth.changes == "no longer fits: locking-tremolo, two-post-tremolo"
    assert {turn.outcomes for turn in worth.turns if turn.lost} == {("fits-after", "does-not-fit")}


@pytest.mark.slow
def test_all_measured_leaves_nothing_to_measure(shop: Shop) -> None:
    job = load_job(JOBS / "tight-commission.toml", shop)
    taken = {name: replace(reading, assumed=False) for name, reading in job.instrument.items()}
    choice = make_choice(study_job(shop, replace(job, instrument=MappingProxyType(taken))), explain=False)
    looked = look_into(choice)
    assert (looked.worths, looked.tried, looked.taken_for_seen) == ((), 0, ())


@pytest.mark.slow
def test_a_wish_that_cannot_be_met_as_assumed_names_what_could_rescue_it(shop: Shop) -> None:
    """The bass is assumed to have a hump too high to level away; the one measurement that could tell goes first."""
    job = load_job(JOBS / "short-scale-bass.toml", shop)
    found = make_choice(study_job(shop, job), explain=False)
    assert found.found
    blocking = next(w for w in look_into(found).worths if "the wish could not be met" in w.changes)
    worst = replace(job.instrument[blocking.field], value=blocking.value)
    assumed = replace(job, instrument=MappingProxyType({**job.instrument, blocking.field: worst}))
    lost = make_choice(study_job(shop, assumed), explain=False)
    assert not lost.found
    worths = look_into(lost).worths
    rescuing = [w for w in worths if w.rescues]
    assert worths[0].rescues
    assert blocking.field in {w.field for w in rescuing}
    for worth in rescuing:
        best = make_choice(again(lost, worth), explain=False)
        assert best.found
        assert worth.changes.startswith("the wish could be met with " + ", ".join(best.estimate.chosen))


@pytest.mark.slow
def test_more_solves_never_hide_a_field(choice: Choice) -> None:
    few, more = ({w.field: w.worth for w in look_into(choice, n).worths} for n in (0, 2))
    assert set(few) <= set(more)
    assert all(more[field] >= worth for field, worth in few.items())


@pytest.mark.slow
def test_a_value_that_makes_the_work_quicker_can_rescue_a_wish(shop: Shop) -> None:
    """The nearest set is a little too dear: clean screws alone bring it under the limit, no part of it changes."""
    text = """
[job]
id = "near"
kind = "own"
[instrument]
kind = "guitar-solid"
br_type = "hardtail"
nut_clear_b = 0.9
[wish.require]
nut-function = 3
[upgrades]
open = ["adjust-nut", "ready-cut-nut"]
[budget]
on = "cost"
money = {money}
"""

    def choice(money: object, more: str = "") -> Choice:
        job = text.replace("{money}", str(money)).replace("[wish.require]", f"{more}\n[wish.require]")
        return make_choice(study_job(shop, job_from(parse_toml(job.encode(), "near"), shop)))

    dirty, clean = (choice(500, f'corrosion = "{state}"').answer.measure for state in ("dirty", "clean"))
    assert dirty is not None
    assert clean is not None
    assert clean.cost + 100 < dirty.cost
    short = choice(Decimal(clean.cost + 50) / 100)
    assert not short.found
    (told,) = [worth for worth in look_into(short).worths if worth.field == "corrosion"]
    assert told.rescues
    assert told.value == "clean"
