"""What a promised day and the worth of the instrument leave room for, as rules of a choice.

Both are the least that must hold: a set that breaks them cannot be right whatever else is arranged.
A day is out of reach where the hours of the shop up to it do not hold the work at the bench, or
where the shortest cures of one upgrade's own work do not end in time. Parts on their way, other
jobs and the order of the work may make it later still; that is what the plan is for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from functools import cache, lru_cache

from estimator.core.amounts import Cents, Hundredths
from estimator.core.text import money, time_text
from estimator.estimate.costing import Costing
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.uplift import share_left
from estimator.model import Job, NeedlessWork, Shop, Verdict
from estimator.model.planning import WEEKDAYS, TaskOrder, TaskWait
from estimator.model.problem import Clock, Rule, Source
from estimator.model.sale_problem import Sale

MOST_DAYS = 3660
MOST_CHAINS = 4096
"""Chains of cures that are kept to be looked up."""
DESK = "desk"
Stretch = tuple[int, int]


def due_of(
    shop: Shop,
    job: Job,
    verdicts: Iterable[Verdict],
    costing: Costing,
    at_most: Hundredths | None = None,
    lifting: Iterable[Verdict] | None = None,
) -> tuple[Rule, Clock] | None:
    """The rule of a promised day and the clock it is held against.

    ``at_most``: no less than all the work takes, where that is known without adding it up. ``lifting``: all that
    may make work needless, where the verdicts are not all.

    None where no day is promised, the day on which the instrument came in is not known, the shop
    has no readable hours, or nothing that may be chosen could come too late.
    """
    hours = _hours(shop)
    if not (job.received and job.wanted_by and hours):
        return None
    came, wanted = date.fromisoformat(job.received), date.fromisoformat(job.wanted_by)
    most = (wanted - came).days
    order = _order(shop.task_order, shop.direct_order, shop.planning.waits)
    base = {row.task for row in usual_work(shop, job)}
    longest = {}
    # variants of an upgrade ask for the same work
    chains: dict[frozenset[str], int] = {}
    verdicts = tuple(verdicts)
    # what another upgrade may make needless need not be waited for
    lifts: dict[str, dict[str, NeedlessWork]] = {}
    for verdict in verdicts if lifting is None else lifting:
        for row in verdict.upgrade.needless:
            lifts.setdefault(row.task, {})[row.place] = row

    @cache
    def lifted(task: str, place: str) -> bool:
        return any(row.covers(task, place) for row in lifts.get(task, {}).values())

    base = {task for task in base if not lifted(task, "")}
    for verdict in verdicts:
        tasks = base | {
            demand.task
            for demand in verdict.demands
            if demand.quantity > 0 and not lifted(demand.task, demand.place)
        }
        present = frozenset(t for t in tasks if shop.tasks[t].group != DESK)
        if present not in chains:
            cures = tuple((task, _whole(shop.tasks[task].wait_fast_min)) for task in sorted(present))
            chains[present] = order.longest(cures)
        longest[verdict.upgrade.id] = chains[present]
    if most >= MOST_DAYS:
        return None
    at_desk = {task for task in costing.setups if shop.tasks[task].group == DESK}
    desk = frozenset(atom.id for task in sorted(at_desk) for atom in costing.own_atoms_of(task))
    work = _all_work(costing, at_desk) if at_most is None else at_most
    clock = Clock(*_room(came, hours, work, longest, most), desk)
    if all(days <= most for _, days in clock.least) and clock.room[most] >= work:
        return None
    hold = f"{time_text(clock.room[most])} at the bench"
    words = f"back by {job.wanted_by}: {most} {'day' if most == 1 else 'days'} after it came in, {hold} and the shortest cures"
    return Rule(Source.DUE, "due", words, most=most, on=job.received), clock


def _all_work(costing: Costing, at_desk: Collection[str]) -> Hundredths:
    """No less than what all the work takes but for that at the desk, in hundredths of a minute."""
    taken = (costing.most_minutes(task) for task in costing.setups if task not in at_desk)
    return sum(taken, Hundredths(0))


def day_of_return(rule: Rule, days: int) -> str:
    """The day so many days after the instrument came in."""
    return (date.fromisoformat(rule.on) + timedelta(days=days)).isoformat()


def _hours(shop: Shop) -> dict[int, list[Stretch]]:
    """Stretches of bench time in minutes of the day, by weekday; empty where a time cannot be read."""
    found: dict[int, list[Stretch]] = {}
    for row in shop.planning.hours:
        try:
            opens, closes = (time.fromisoformat(t.strip().zfill(5)) for t in (row.opens, row.closes))
        except ValueError:
            return {}
        stretch = (opens.hour * 60 + opens.minute, closes.hour * 60 + closes.minute)
        found.setdefault(WEEKDAYS.index(row.weekday), []).append(stretch)
    return found


def _room(
    came: date, hours: Mapping[int, list[Stretch]], work: Hundredths, longest: Mapping[str, int], most: int
) -> tuple[tuple[Hundredths, ...], tuple[tuple[str, int], ...]]:
    """Bench time up to the end of each day, and by upgrade the first day on which its cures can be over."""
    room: list[Hundredths] = []
    closing: list[int] = []
    passed, opens = Hundredths(0), None
    farthest = max(longest.values(), default=0)
    for number in range(MOST_DAYS):
        stretches = hours.get((came + timedelta(days=number)).weekday(), [])
        passed += Hundredths(sum(100 * (b - a) for a, b in stretches))
        if opens is None and stretches:
            opens = 1440 * number + min(a for a, _ in stretches)
        room.append(passed)
        closing.append(1440 * number + max((b for _, b in stretches), default=0))
        if number >= most and passed >= work and opens is not None and closing[-1] >= opens + farthest:
            break
    first = opens or 0
    least = tuple(
        (upgrade, next((k for k, end in enumerate(closing) if end >= first + minutes), len(closing) - 1))
        for upgrade, minutes in longest.items()
        if minutes
    )
    return tuple(room), least


def _waits(rows: Iterable[TaskWait]) -> dict[tuple[str, str], int]:
    """The shortest waits between pairs of tasks that have one of their own."""
    waits: dict[tuple[str, str], int] = {}
    for row in rows:
        if row.before != row.after:
            pair = (row.before, row.after)
            waits[pair] = max(waits.get(pair, 0), _whole(row.fast_min))
    return waits


def _whole(minutes: Decimal) -> int:
    return int(minutes.to_integral_value(ROUND_HALF_UP))


class _Chains:
    """The chains of cures of a shop, asked of one job after another with mostly the same tasks."""

    def __init__(
        self,
        task_order: tuple[tuple[str, str], ...],
        direct: frozenset[tuple[str, str]],
        waits: Iterable[TaskWait],
    ) -> None:
        self._waits = _waits(waits)
        self._order = TaskOrder((*task_order, *self._waits), direct)
        self._known: dict[tuple[tuple[str, int], ...], int] = {}

    def longest(self, cures: tuple[tuple[str, int], ...]) -> int:
        """Elapsed minutes of the longest chain of cures between tasks, each with its own, that are all on the job."""
        if cures not in self._known:
            if len(self._known) >= MOST_CHAINS:
                self._known.clear()
            self._known[cures] = self._longest(dict(cures))
        return self._known[cures]

    def _longest(self, cures: Mapping[str, int]) -> int:
        links: dict[str, list[tuple[int, str]]] = {task: [] for task in cures}
        for before, then in self._order.among(cures):
            links[before].append((self._waits.get((before, then), cures[before]), then))
        known: dict[str, int] = {}
        return max((_rest(task, links, known) for task in cures), default=0)


def _rest(task: str, links: Mapping[str, Sequence[tuple[int, str]]], known: dict[str, int]) -> int:
    """The longest wait from the end of a task to that of the last one that follows, and in ``known`` those between."""
    if task not in known:
        known[task] = max((lag + _rest(then, links, known) for lag, then in links[task]), default=0)
    return known[task]


@lru_cache(maxsize=8)
def _order(
    task_order: tuple[tuple[str, str], ...], direct: frozenset[tuple[str, str]], waits: tuple[TaskWait, ...]
) -> _Chains:
    return _Chains(task_order, direct, waits)


def worth_of(job: Job, sale: Sale | None, currency: str) -> Rule | None:
    """The rule that a wish costs no more than the instrument will ever bring; None where nobody can say.

    The worth is the one of the job file; else, where it is to be sold and something is wished for,
    the highest price of its sale less the fees, and all the parts that come off.
    """
    if job.budget.worth is not None:
        most = int((job.budget.worth * 100).quantize(Decimal(1), ROUND_HALF_UP))
        why = "what it will ever bring"
    elif sale is not None and (job.requirements or job.required):
        most = (
            share_left(sale.ceiling, sale.fee_basis_points)
            - sale.fixed
            + sum((p.value for p in sale.removed), Cents(0))
        )
        most, why = max(0, most), "the most that its sale will ever bring"
    else:
        return None
    sure = f" at {job.budget.surety:f} % surety" if job.budget.surety is not None else ""
    words = f"cost at most {money(Cents(most), currency)}{sure}, {why}"
    return Rule(Source.WORTH, "money", words, most=most, on="cost", unit=currency)
