"""What an operation of a plan is called: its job, its task, which coat, and where; and the place of a coat.

As text it is ``job:task#coat@where``, in plans that are saved, in states of work and in the schedule, which knows
operations by their text alone. Whoever asks what is in the name reads it here.
"""

from __future__ import annotations

import re
from typing import NamedTuple

OF_JOB, COAT, WHERE = ":", "#", "@"
_COAT_AT = re.compile(r"(?:(?P<where>.+)-)?coat-(?P<coat>\d+)")


class CoatPlace(NamedTuple):
    """Where a coat of finish is put on, and which coat it is (01, 02 ...; blank: no coat but work as a whole)."""

    where: str
    coat: str = ""

    def __str__(self) -> str:
        return "-".join(filter(None, (self.where, self.coat and f"coat-{self.coat}")))


def coat_place(place: str) -> CoatPlace:
    """What the place of a line of work says; no other place has such an end."""
    found = _COAT_AT.fullmatch(place)
    return CoatPlace(found["where"] or "", found["coat"]) if found else CoatPlace(place)


class SittingName(NamedTuple):
    """An operation within its job.

    ``coat``: which coat of a finish (01, 02 ...), blank for all other work. ``where``: the place of its coats, of
    what is put back, or the part of the work that is bored first; blank for the work as a whole.
    """

    task: str
    coat: str = ""
    where: str = ""

    def __str__(self) -> str:
        coat = f"{COAT}{self.coat}" if self.coat else ""
        return f"{self.task}{coat}{WHERE}{self.where}" if self.where else f"{self.task}{coat}"


class OperationName(NamedTuple):
    """An operation of a plan: the job and the sitting."""

    job: str
    sitting: SittingName

    def __str__(self) -> str:
        return f"{self.job}{OF_JOB}{self.sitting}"

    @property
    def task(self) -> str:
        """The task of the operation."""
        return self.sitting.task


def operation_name(text: str) -> OperationName:
    """The name that a text stands for. No task and no place has any of the signs in its id; a job may have."""
    job, _, work = text.rpartition(OF_JOB)
    sitting, _, where = work.partition(WHERE)
    task, _, coat = sitting.partition(COAT)
    return OperationName(job, SittingName(task, coat, where))
