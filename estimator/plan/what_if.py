"""What another pair of hands or a second station would bring: the plan solved again with more."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Minutes
from estimator.model.planning import Person
from estimator.plan.plan import Plan, plan_chosen
from estimator.schedule.records import Figures, Search

BENCH = "bench-place"
"""The row of ``shop_stations.csv`` at which a person works; more people come with a place of their own."""
NEW = "new "
"""People who are not in the shop now; no id of a batch file has a blank in it."""


class WhatIf(Struct, frozen=True):
    """One change and what the plan would come to.

    ``saved`` is open time of the whole, ``relieved`` what people who are not there now would do, in minutes.
    """

    words: str
    figures: Figures
    saved: Minutes
    less_late: Minutes
    relieved: Minutes = Minutes(0)


BY_RULES = Search(engine="rule")


def what_if(plan: Plan, search: Search = BY_RULES) -> tuple[WhatIf, ...]:
    """The plan with a helper, a second full hand, and one more of each station that the plan uses.

    Each is solved again from the plan's own order, so more means never worse.
    """
    now = plan.schedule.figures
    people = plan.study.file.people
    best = max(person.skill for person in people)
    bench = {BENCH: plan.work.resources[BENCH] + 1} if BENCH in plan.work.resources else {}
    own = " with a bench place" if bench else ""
    changes: list[tuple[str, tuple[Person, ...], dict[str, int]]] = [
        (f"a helper of skill 2{own}", (*people, Person(f"{NEW}helper", 2)), bench),
        (f"a second hand of skill {best}{own}", (*people, Person(f"{NEW}hand", best)), bench),
    ]
    used = {name for o in plan.work.operations for name, _ in (*o.needs, *o.holds)}
    for station in plan.shop.planning.stations.values():
        if station.id in used and (station.id != BENCH or len(people) > 1):
            number = plan.work.resources[station.id] + station.each
            changes.append(
                (f"{station.what}: {number} instead of {number - station.each}", people, {station.id: number})
            )
    found = []
    for words, hands, stations in changes:
        again = plan_chosen(
            plan.study,
            plan.answer,
            replace(search, objectives=plan.schedule.objectives),
            hands,
            stations,
            plan.schedule.assignments,
        )
        figures = again.schedule.figures
        relieved = Minutes(sum(b.end - b.start for b in again.schedule.assignments if b.who.startswith(NEW)))
        found.append(
            WhatIf(
                words, figures, now.makespan - figures.makespan, now.tardiness - figures.tardiness, relieved
            )
        )
    return tuple(found)
