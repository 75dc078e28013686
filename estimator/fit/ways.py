"""Which ways to do a task an instrument and a shop leave open, and why the others are not offered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from estimator.core.errors import InputError, Origin, note, unknown_word
from estimator.model import Job, Shop, Verdict
from estimator.tables.conditions import holds
from estimator.tables.methods import worn_by


class OfferedWay(Struct, frozen=True):
    """A way to do a task on one instrument: offered, or why not. ``unfit``: the instrument itself rules it out."""

    task: str
    method: str
    what: str
    usual: bool
    why_not: str = ""
    missing: tuple[str, ...] = ()
    unfit: bool = False

    @property
    def offered(self) -> bool:
        """Whether it may be taken."""
        return not self.why_not

    @property
    def lacks_tools_alone(self) -> bool:
        """Whether it could be taken if the tools were there."""
        return not self.offered and not self.unfit


def ways_of(shop: Shop, job: Job) -> dict[str, tuple[OfferedWay, ...]]:
    """By task all its ways, the usual one first: those that the instrument or a missing tool rules out with the reason.

    The usual way stands where nothing else is left, whatever is missing: the tool has to be got.
    """
    found: dict[str, tuple[OfferedWay, ...]] = {}
    for task, methods in shop.ways.methods.items():
        ways = []
        for name, method in methods.items():
            against = [c for c in method.not_when if holds(c, job.instrument)]
            missing = tuple(tool for tool, _ in worn_by(shop, task, name) if tool in job.without_tools)
            reasons = [c.replace("-", " ") for c in against]
            reasons += [f"not there: {shop.tools[tool].what}" for tool in missing]
            why_not = "; ".join(reasons)
            ways.append(OfferedWay(task, name, method.what, method.usual, why_not, missing, bool(against)))
        ways.sort(key=lambda way: not way.usual)
        if not any(way.offered for way in ways):
            first = ways[0]
            ways[0] = OfferedWay(task, first.method, first.what, True, "", first.missing)
        found[task] = tuple(ways)
    return found


def ruled_out(shop: Shop, job: Job, verdicts: Iterable[Verdict]) -> tuple[OfferedWay, ...]:
    """The ways that are not offered to do the work of some upgrades."""
    tasks = {demand.task for verdict in verdicts for demand in verdict.demands}
    return tuple(way for of in ways_of(shop, job).values() for way in of if way.why_not and way.task in tasks)


def named_ways(
    shop: Shop, ways: Mapping[str, Sequence[OfferedWay]], named: Mapping[str, str], where: Origin
) -> None:
    """InputError for a way that is not known, or not offered on this instrument."""
    issues = []
    for task, method in named.items():
        at = where.at(task)
        if task not in ways:
            known = ", ".join(ways) or "none: no task has more than one way"
            problem = "this task has only one way" if task in shop.tasks else "unknown task"
            issues.append(unknown_word(at, problem, task, ways, known))
            continue
        mine = {way.method: way for way in ways[task]}
        if method not in mine:
            accepted = ", ".join(f"{way.method} ({way.what})" for way in ways[task])
            issues.append(unknown_word(at, f"no way of this name to do {task}", method, mine, accepted))
        elif not mine[method].offered:
            others = ", ".join(way.method for way in ways[task] if way.offered)
            found = f"“{method}”: {mine[method].why_not}"
            step = "take another way, or leave the choice to the program"
            note(issues, at, f"{task} cannot be done this way here", found, others, step)
    if issues:
        raise InputError(issues)


def open_methods(
    ways: Mapping[str, Sequence[OfferedWay]], named: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """By task the methods that the choice may take, the usual one first; those of one way alone are not open."""
    return {
        task: (named[task],) if task in named else tuple(way.method for way in of if way.offered)
        for task, of in ways.items()
    }
