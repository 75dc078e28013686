"""Every promise rests on a cause: a level that is lifted names its work, and what it rests on that nobody looked at."""

from __future__ import annotations

from decimal import Decimal
from random import Random

import pytest
from msgspec.structs import replace

from estimator.choose.build import lifted_by
from estimator.choose.study import Study, make_choice_of, study_job
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.rows import Rows
from estimator.core.errors import InputError
from estimator.estimate.baseline import level_now
from estimator.input.job.load import job_from
from estimator.model import Fault, Job, Reading
from estimator.model.problem import Source
from estimator.report.words.customer import expected_words
from estimator.tables.toml.text import parse_toml
from tests.choose.test_kept_unless_asked import drawn, study_of
from tests.choose.test_kinds_counts_faults import bad_value
from tests.drawn_jobs import the_shop

FAULTS = 20
SETS = (
    ("set-up",),
    ("adjust-nut",),
    ("new-strings",),
    ("level-crown-polish",),
    ("set-up", "dress-fret-ends"),
    ("clean-controls", "new-jack-economy"),
    ("shield-paint",),
    ("satin-neck", "roll-board-edges"),
    ("reseat-neck", "set-up"),
    ("polish-body", "clean-hardware"),
)


def by_the_rows(study: Study, job: Job, chosen: tuple[str, ...]) -> dict[str, int]:
    """The levels that a set reaches on a job, by the twin that shares no code with the programme."""
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    setting = study.costing.setting
    return dict(Spec(Rows(study.shop, job, verdicts, setting.crew, setting.whole_packs)).levels(chosen))


def lowered(job: Job, attribute: str, to: Decimal | None = None) -> Job:
    """The job, had somebody found an attribute at a level; left out: one lower than it is taken to be."""
    level, _ = level_now(the_shop(), the_shop().attributes[attribute], job)
    level = max(Decimal(0), level - 1) if to is None else to
    return replace(job, found_levels={**job.found_levels, attribute: Reading(level, False)})


@pytest.mark.slow
@pytest.mark.parametrize("part", range(2))
def test_what_is_lifted_names_its_work_and_falls_with_what_it_rests_on(part):
    told = 0
    readings = {row.name for row in the_shop().promise_rests}
    for seed in range(part * 6, part * 6 + 6):
        study, chosen = study_of(drawn(seed)), SETS[seed % len(SETS)]
        try:
            choice = make_choice_of(study, chosen)
        except InputError:
            continue  # not on this instrument
        job, reached = study.job, by_the_rows(study, study.job, choice.estimate.chosen)
        assumed = [
            a.id
            for a in the_shop().attributes.values()
            if a.kind == "level" and level_now(the_shop(), a, job)[1]
        ]
        falls: dict[str, set[str]] = {}
        for name in assumed:
            lower = by_the_rows(study, lowered(job, name), choice.estimate.chosen)
            for other, level in reached.items():
                if lower[other] < level:
                    falls.setdefault(other, set()).add(name)
            # what is taken to stand of the attribute itself is no work: without it the work must do
            if (
                by_the_rows(study, lowered(job, name, Decimal(0)), choice.estimate.chosen)[name]
                < reached[name]
            ):
                falls.setdefault(name, set()).add(name)
        done = {line.task for line in choice.estimate.lines} | set(choice.estimate.chosen)
        for row in choice.spec:
            if row.kind == "level" and row.reached > row.now:
                assert row.by, row
                assert set(row.by) <= done, row
                assert row.verified_by, row
                assert set(row.rests_on) - readings == falls.get(row.attribute, set()), (seed, row)
                told += 1
            else:
                assert row.by == row.rests_on == ()
    assert told > 5


SLOTS = """
[job]
id = "slots"
kind = "commission"
[instrument]
br_type = "hardtail"
kind = "guitar-solid"
{known}
[wish.require]
tuning-stability = 2
"""


def test_tuning_is_not_promised_where_nobody_looked_at_it():
    for known, promised in (("", False), ("levels = { tuning-stability = 1 }", True)):
        choice = make_choice_of(study_of(SLOTS.format(known=known)), ("adjust-nut",))
        (row,) = [row for row in choice.spec if row.attribute == "tuning-stability"]
        assert row.reached > row.now == 10
        assert "adjust-nut-slots" in row.by
        words = expected_words(row, "at most 5 cents")
        assert (words == "at most 5 cents") is promised
        assert ("expected" in words) is not promised


WORN_TREMOLO = """
[job]
id = "worn"
kind = "commission"
[instrument]
kind = "guitar-solid"
br_type = "{bridge}"
tuner_play = 50
[instrument.levels]
nut-function = 3
{known}
[wish.require]
tuning-stability = 3
"""


@pytest.mark.parametrize(
    ("bridge", "known", "more", "promised"),
    [
        ("two-post-trem", "", (), False),
        ("six-screw-trem", "", (), False),
        ("two-post-trem", "bridge-stability = 3", (), True),
        ("two-post-trem", "bridge-stability = 4", (), True),
        ("two-post-trem", "", ("set-up",), True),
        ("hardtail", "", (), True),
    ],
)
def test_no_tuning_is_promised_of_a_tremolo_that_nobody_set(bridge, known, more, promised):
    """New tuners, strings and slots bring a tremolo nothing that does not return to pitch; no level is held down."""
    study = study_of(WORN_TREMOLO.format(bridge=bridge, known=known))
    spec = make_choice_of(study, ("new-tuners-premium", "adjust-nut", *more)).spec
    (row,) = [row for row in spec if row.attribute == "tuning-stability"]
    assert row.reached >= 30 > row.now
    assert ("bridge-stability" in row.rests_on) is not promised
    assert ("expected" in expected_words(row, "at most 5 cents")) is not promised


def study_with(rows: tuple[Fault, ...], chance: Random) -> Study:
    """A guitar of which nothing was read but its faults."""
    text = '[job]\nid = "faulty"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
    job = job_from(parse_toml(text.encode(), "faulty.toml"), the_shop())
    shown = {row.field: Reading(bad_value(row, chance), False) for row in rows}  # type: ignore[arg-type]
    return study_job(the_shop(), replace(job, instrument={**job.instrument, **shown}))


@pytest.mark.slow
def test_a_level_set_free_by_a_mended_fault_is_promised_only_as_far_as_the_work_brings_it():
    """Over the faults, alone and beside a lesser one: what today is taken to be gives no promise."""
    chance, told, freed = Random(17), 0, 0
    for row in chance.sample(the_shop().faults, FAULTS):
        lesser = [
            f
            for f in the_shop().faults
            if f.attribute == row.attribute and f.field != row.field and f.level > row.level
        ]
        study = study_with((row, *chance.sample(lesser, min(1, len(lesser)))), chance)
        fitting = [f.of for f in study.problem.rules if f.source == Source.UNFIT]
        mends = [u for u in lifted_by(row, study.verdicts) if u not in fitting]
        if not mends:
            continue
        choice = make_choice_of(study, (mends[0],))
        reached = by_the_rows(study, study.job, choice.estimate.chosen)
        for spec in choice.spec:
            if spec.kind != "level" or spec.reached <= spec.now:
                continue
            assumed = level_now(the_shop(), the_shop().attributes[spec.attribute], study.job)[1]
            bare = lowered(study.job, spec.attribute, Decimal(0))
            alone = by_the_rows(study, bare, choice.estimate.chosen)[spec.attribute]
            told += 1
            if assumed and alone < reached[spec.attribute]:
                freed += 1
                assert spec.attribute in spec.rests_on, (row.fault, spec)
                assert "expected" in expected_words(spec, "good")
    assert told >= FAULTS // 2
    assert freed >= 3
