"""What changed between two plans: nothing for work that ends as planned, one line for each job and reason."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from estimator.plan.replan.changes import change_words
from estimator.report.words.replan import change_lines
from estimator.schedule.records import DayChange
from tests.plan.bench import plan
from tests.plan.replan.test_plan import again, planned, state_text

LATE = '[[late]]\nsupplier = "parts-house"\nexpected = "2026-10-20"\n'


@pytest.mark.slow
def test_work_that_runs_over_a_night_and_ends_as_planned_did_not_move(tmp_path: Path) -> None:
    seen = 0
    for name, (begins, ends) in planned("batch-school").items():
        if begins.date() == ends.date():
            continue
        seen += 1
        first = ends - timedelta(minutes=1)
        found = again(tmp_path, state_text(f"{first:%Y-%m-%d %H:%M}"), "batch-school")
        assert found.running[name] == 1
        assert found.plan.changed == {}
        assert found.result.moved == ()
        assert "moved: nothing to another day" in "\n".join(change_lines(found))
        # the same work with a day more before it ends later, and says so
        more = f'[[running]]\noperation = "{name}"\nminutes_left = 600\n'
        slow = again(tmp_path, state_text(f"{first:%Y-%m-%d %H:%M}", more), "batch-school")
        assert slow.plan.changed[name].why.endswith("was not done by now")
        assert slow.plan.changed[name].was == ends
    assert seen


def test_a_late_parcel_is_told_once_for_each_job(tmp_path: Path) -> None:
    found = again(tmp_path, state_text("2026-10-07 15:15", LATE))
    changes = found.plan.changed
    words = change_words(changes)
    assert len(words) == len({(name.partition(":")[0], one.why) for name, one in changes.items()})
    assert len(words) < len(changes)
    # every operation that moved is counted in one of the lines
    told = 0
    for line in words:
        head = line.partition("; ")[0]
        told += int(head.split(", ")[1].split()[0]) if " operations: first " in head else head.count(",")
    assert told == len(changes)
    assert {name.partition(":")[0] for name in changes} <= set(plan("batch-three").study.studies)


TWO_LATE = """
[[late]]
supplier = "parts-house"
expected = "2026-10-13"
[[late]]
supplier = "finish-store"
expected = "2026-10-19"
"""


def test_a_parcel_is_no_reason_for_a_day_after_it_where_a_later_one_is(tmp_path: Path) -> None:
    """What comes on Tuesday keeps nothing till the week after: of two late parcels the one that decides is told."""
    found = again(tmp_path, state_text("2026-10-07 15:15", TWO_LATE))
    changes = found.plan.changed
    later = [one for one in changes.values() if one.was and one.now.date() >= date(2026, 10, 19)]
    assert any("finish-store" in one.why for one in later)
    assert not [one.why for one in later if "parts-house comes on Tue 13 Oct" in one.why]


def test_moves_of_one_reason_are_told_from_the_first_to_the_last() -> None:
    days = [datetime(2026, 10, day, 9) for day in (5, 6, 7, 12, 13)]
    changes = {
        "a:saw": DayChange(days[0], days[3], "rain"),
        "a:sand": DayChange(days[1], days[3], "rain"),
        "a:glue": DayChange(days[2], days[4], "rain"),
        "a:oil": DayChange(None, days[4], "new work"),
        "b:saw": DayChange(days[0], days[3], "rain"),
        "b:sand": DayChange(days[0], days[3], "rain"),
    }
    assert change_words(changes) == [
        "a, 3 operations: first saw, from Mon 5 Oct to Mon 12 Oct, last glue, from Wed 7 Oct to Tue 13 Oct; rain",
        "a, on Tue 13 Oct: oil; new work",
        "b, from Mon 5 Oct to Mon 12 Oct: saw, sand; rain",
    ]
