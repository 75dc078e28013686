"""Every promise rests on a cause: a level that is lifted names its work, and what it rests on that nobody looked at."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from estimator.choose.study import Study, make_choice_of
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.rows import Rows
from estimator.core.errors import InputError
from estimator.estimate.baseline import level_now
from estimator.model import Job, Reading
from estimator.report.words.customer import expected_words
from tests.choose.test_kept_unless_asked import drawn, study_of
from tests.drawn_jobs import the_shop

SETS = (
    ("set-up",), ("adjust-nut",), ("new-strings",), ("level-crown-polish",), ("set-up", "dress-fret-ends"),
    ("clean-controls", "new-jack-economy"), ("shield-paint",), ("satin-neck", "roll-board-edges"),
    ("reseat-neck", "set-up"), ("polish-body", "clean-hardware"),
)  # fmt: skip


def by_the_rows(study: Study, job: Job, chosen: tuple[str, ...]) -> dict[str, int]:
    """The levels that a set reaches on a job, by the twin that shares no code with the programme."""
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    setting = study.costing.setting
    return dict(Spec(Rows(study.shop, job, verdicts, setting.crew, setting.whole_packs)).levels(chosen))


def lowered(job: Job, attribute: str) -> Job:
    """The job, had somebody found an attribute a level lower than it is taken to be."""
    level, _ = level_now(the_shop(), the_shop().attributes[attribute], job)
    found = {**job.found_levels, attribute: Reading(max(Decimal(0), level - 1), False)}
    return replace(job, found_levels=found)


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
