"""What is to be scheduled and the schedule it comes to, as plain records; no engine here.

Two clocks: *elapsed* minutes run day and night from the start of the plan (glue dries by them);
*working* minutes count only the time in which somebody may work. ``calendar.Calendar`` turns one
into the other. All times are whole minutes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from msgspec import Struct, field

from estimator.core.amounts import Elapsed, Minutes
from estimator.core.text import Tell, silent

USUAL_OBJECTIVES = ("tardiness", "makespan", "minutes")
USUAL_EFFORT = 3.5
"""How much is looked at when nobody sets a time: counted work, so that every machine finds the same week."""
WET, DUSTY = "wet", "dusty"


class Link(Struct, frozen=True):
    """An operation that must end before, and the elapsed minutes that must pass after its end.

    ``lag`` None: its own ``cure``.
    """

    before: str
    lag: Elapsed | None = None


class Operation(Struct, frozen=True):
    """A piece of attended work.

    ``minutes`` is the run of the quickest who may do it, ``slower`` the minutes on top by person. ``setup`` comes on top, or only ``again`` where it directly follows work of
    the same ``family`` by the same hand. ``kind`` decides the change-over minutes. ``one_of``: the
    people of whom one does it; ``needs``: (resource, amount) taken while it runs; ``holds``: taken
    until its ``cure`` (elapsed minutes) is over. ``earliest``: elapsed minute before which it cannot
    start (a part on its way); ``supplied``: by consumable the minute at which the packs that it waits for are there. ``splittable``: whether it may be broken off at closing time. ``air``:
    ``dusty`` work keeps away from ``wet`` work and its cure. ``meanwhile`` is the waiting class
    (M0 to M4) for people to read; what it forbids is in ``needs``, ``holds`` and ``air``.
    """

    id: str
    job: str
    minutes: Minutes
    after: tuple[Link, ...] = ()
    needs: tuple[tuple[str, int], ...] = ()
    one_of: tuple[str, ...] = ()
    holds: tuple[tuple[str, int], ...] = ()
    cure: Elapsed = Elapsed(0)
    earliest: Elapsed = Elapsed(0)
    splittable: bool = True
    setup: Minutes = Minutes(0)
    again: Minutes = Minutes(0)
    family: str = ""
    kind: str = ""
    air: str = ""
    meanwhile: str = "M0"
    what: str = ""
    station: str = ""
    slower: tuple[tuple[str, Minutes], ...] = ()
    supplied: tuple[tuple[str, Elapsed], ...] = ()


class Due(Struct, frozen=True):
    """What is promised for a job: the elapsed minute it is due, and how much a late minute weighs."""

    job: str
    at: Elapsed | None = None
    weight: int = 1


class ChangeOvers(Struct, frozen=True):
    """Minutes from one kind of work to another: the pair's own, else ``other``; same kind: none."""

    pairs: Mapping[tuple[str, str], Minutes] = field(default_factory=dict)
    other: Minutes = Minutes(0)

    def minutes(self, before: str, after: str) -> Minutes:
        """Minutes to change from one kind to another."""
        return Minutes(0) if before == after else self.pairs.get((before, after), self.other)

    def worst(self, after: str) -> Minutes:
        """The most it can take to come to a kind of work; also what the first work of a plan pays."""
        known = [minutes for (_, to), minutes in self.pairs.items() if to == after]
        return max([*known, self.other]) if after else Minutes(0)


NO_CHANGE_OVERS = ChangeOvers()


class Assignment(Struct, frozen=True):
    """An operation in its place: working minutes from ``start`` to ``end``, cure over at ``free``.

    ``who`` is the person, blank where nobody in particular is needed.
    """

    operation: str
    start: Minutes
    end: Minutes
    free: Minutes
    who: str = ""


class SchedulingProblem(Struct, frozen=True):
    """Everything that a schedule has to respect, in one record.

    ``resources``: how many there are of each; people are resources of one. ``open_most``: how many
    jobs may be open at once (0: no limit); links between jobs keep it (see ``racks``). ``first``: by
    person what they did last before all this, so that a set-up that stands is not done again. ``away``:
    by person the stretches of working minutes in which they do nothing here.
    """

    operations: tuple[Operation, ...]
    resources: Mapping[str, int]
    dues: tuple[Due, ...] = ()
    change_overs: ChangeOvers = NO_CHANGE_OVERS
    open_most: int = 0
    first: Mapping[str, Operation] = field(default_factory=dict)
    away: Mapping[str, tuple[tuple[Minutes, Minutes], ...]] = field(default_factory=dict)

    def by_id(self) -> dict[str, Operation]:
        """Operations by name."""
        return {operation.id: operation for operation in self.operations}

    def waits(self) -> dict[str, Elapsed]:
        """By operation: the elapsed minutes for which something waits or cures after it."""
        waits = {operation.id: operation.cure for operation in self.operations}
        for operation in self.operations:
            for link in operation.after:
                waits[link.before] = max(waits.get(link.before, Elapsed(0)), link.lag or Elapsed(0))
        return waits


class Figures(Struct, frozen=True):
    """What a schedule comes to, in working minutes; ``tardiness`` is weighted and summed over jobs.

    ``idle_evenings``: days that end without anything curing or settling (a tie-break, never an aim).
    """

    tardiness: Minutes
    max_tardiness: Minutes
    makespan: Minutes
    completion: Minutes
    minutes: Minutes
    idle_evenings: int = 0

    def of(self, objective: str) -> int:
        """The figure that an objective makes small, or that breaks a tie."""
        return FIGURE_OF[objective](self)


FIGURE_OF: Mapping[str, Callable[[Figures], int]] = {
    "tardiness": lambda figures: figures.tardiness,
    "max_tardiness": lambda figures: figures.max_tardiness,
    "makespan": lambda figures: figures.makespan,
    "completion": lambda figures: figures.completion,
    "minutes": lambda figures: figures.minutes,
    "idle_evenings": lambda figures: figures.idle_evenings,
}
"""By objective (see ``solve.OBJECTIVES``) its figure, and what breaks ties between them."""


class Search(Struct, frozen=True):
    """How a schedule is looked for.

    ``objectives`` are minimised one after another (see ``solve.OBJECTIVES``). ``engine``: ``rule`` (pure
    Python, no proof beyond the plain lower bounds), ``cpsat`` (OR-Tools), ``auto`` (cpsat where the work is
    not too large). ``limit``: seconds by the clock; without it the search stops by counted work, ``effort``.
    ``tries``: schedules that the local search looks at (None: by size and effort). ``day_sooner``: hands-on
    minutes that may be given for each open day that jobs are done sooner. ``tell`` is told how far it is.
    """

    objectives: tuple[str, ...] = USUAL_OBJECTIVES
    engine: str = "auto"
    limit: float | None = None
    tries: int | None = None
    effort: float = USUAL_EFFORT
    day_sooner: int = 0
    tell: Tell = silent


USUAL_SEARCH = Search()


class Schedule(Struct, frozen=True):
    """A schedule with its proof.

    ``status``: ``optimal`` (proven for the whole chain of aims), ``feasible`` (keeps every rule;
    ``bounds`` say how far it can be off). ``bounds``: a proven lower bound per aim. ``method`` names
    what found it. ``assignments`` are in order of start.
    """

    status: str
    objectives: tuple[str, ...]
    assignments: tuple[Assignment, ...]
    figures: Figures
    bounds: Mapping[str, int]
    method: str
    rule: Figures
    seconds: float = 0.0

    def gap(self, objective: str) -> float:
        """How far the bound lies below the figure, as a share of the figure."""
        value = self.figures.of(objective)
        return max(0.0, (value - self.bounds.get(objective, 0)) / max(1, value))


class DayChange(Struct, frozen=True):
    """An operation that starts on another day than in the plan before (``was`` None: it was not in it), and why."""

    was: datetime | None
    now: datetime
    why: str
