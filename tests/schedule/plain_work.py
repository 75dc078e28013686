"""Work given as plain operations, for tests that need no jobs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.schedule.calendar import Calendar, always_open
from estimator.schedule.records import (
    NO_CHANGE_OVERS,
    USUAL_SEARCH,
    Assignment,
    ChangeOvers,
    Due,
    Operation,
    Schedule,
    SchedulingProblem,
    Search,
)
from estimator.schedule.solve import schedule_work


def schedule(
    operations: Sequence[Operation],
    resources: Mapping[str, int],
    calendar: Calendar | None = None,
    search: Search = USUAL_SEARCH,
    dues: Sequence[Due] = (),
    change_overs: ChangeOvers = NO_CHANGE_OVERS,
    start_from: Sequence[Assignment] = (),
) -> Schedule:
    """A schedule of ``operations`` on ``resources`` (name: how many there are)."""
    work = SchedulingProblem(tuple(operations), dict(resources), tuple(dues), change_overs)
    return schedule_work(work, calendar or always_open(), search, start_from)
