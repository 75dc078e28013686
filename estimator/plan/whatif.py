"""What another pair of hands or a second station would bring: the plan solved again with more."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.plan.arrangement import Person
from estimator.plan.operations import Figures
from estimator.plan.planning import Plan, plan_chosen


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One change and what the plan would come to; ``saved`` is open time of the whole, in minutes."""

    words: str
    figures: Figures
    saved: int
    less_late: int


def what_if(
    plan: Plan, engine: str = "rule", limit: float = 3.0, tries: int | None = None
) -> tuple[WhatIf, ...]:
    """The plan with a helper, a second full hand, and one more of each station that the plan uses.

    Each is solved again from the plan's own order, so more means never worse.
    """
    now = plan.schedule.figures
    people = plan.study.file.people
    best = max(person.skill for person in people)
    changes: list[tuple[str, tuple[Person, ...], dict[str, int]]] = [
        ("a helper of skill 2", (*people, Person("helper", 2)), {}),
        (f"a second hand of skill {best}", (*people, Person("second hand", best)), {}),
    ]
    used = {name for o in plan.work.operations for name, _ in (*o.needs, *o.holds)}
    for station in plan.shop.planning.stations.values():
        if station.id in used:
            number = plan.work.resources[station.id] + station.each
            changes.append(
                (f"{station.what}: {number} instead of {number - station.each}", people, {station.id: number})
            )
    found = []
    for words, hands, stations in changes:
        again = plan_chosen(
            plan.study,
            plan.answer,
            plan.schedule.aims,
            engine,
            limit,
            tries,
            hands,
            stations,
            plan.schedule.bookings,
        )
        figures = again.schedule.figures
        found.append(WhatIf(words, figures, now.makespan - figures.makespan, now.lateness - figures.lateness))
    return tuple(found)
