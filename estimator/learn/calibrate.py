"""The shop's own menu on its first day: the least change of the handbook that makes its prices and minutes.

What may move, and how far: what is charged for an hour (x 0.4 to x 2.5), and the speed of each group of tasks
(x 0.5 to x 2 of its minutes, whichever way a task is done). A job is held at the ways that cost least, as the menu
prints it; which these are is looked at anew as the charge and the minutes move. Of all such changes the one with the least sum of squares is taken: each price
or time missed counts in units of 3 %, the hourly charge in units of 35 %, each group in units of 25 % (of
logarithms; memory). What is missed by much counts by its size only, so that one odd price does not bend the
rest. Prices are without parts and before tax, as the menu prints them; that they are
rounded up to the billing unit counts as half a unit, with that much doubt.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from math import exp, fsum, log
from types import MappingProxyType
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.ways import way_id
from estimator.learn.times import COLUMNS, FINE, MINUTES
from estimator.model import MenuJob, Shop, TaskMethod
from estimator.model import Task as ShopTask
from estimator.price.client.menu import minutes_by_group, row_of

MISSED, CHARGE, GROUP = 0.03, 0.35, 0.25
CHARGE_ENDS, GROUP_ENDS = (0.4, 2.5), (0.5, 2.0)
#: an entry missed by more than this is one that menu and work cannot both hold; in the fit it counts by its size only
CLASH = 0.10
ANCHORS, ROUNDS, SWEEPS = 3, 8, 400
CENT = Decimal("0.01")
#: factors nearer to one than this are no change: one it is
LEAST = 0.02
Minutes = dict[str, Any]
"""By column, new minutes (Decimal) of a row."""


class Entry(Struct, frozen=True):
    """What a shop says of a job of the menu: a price in cents without parts, or hundredths of a minute hands-on."""

    job: str
    price: Cents | None = None
    minutes: Hundredths | None = None


class Held(Struct, frozen=True):
    """An entry beside what the tables give before and after, and what the shop's price earns an hour, in cents.

    ``unit``: price or minutes; ``earns_before`` with the handbook's minutes, ``earns_after`` with the fitted ones.
    """

    entry: Entry
    what: str
    wanted: int
    before: int
    after: int
    earns_before: Cents | None
    earns_after: Cents | None

    @property
    def clashes(self) -> bool:
        """Whether menu and work cannot both hold here."""
        return abs(log(self.after / self.wanted)) > CLASH


class Calibration(Struct, frozen=True):
    """The fit: the hourly charge, the factor of each group's minutes, every entry, and at which end a factor stands."""

    charge_before: Decimal
    charge: Decimal
    groups: Mapping[str, float]
    held: tuple[Held, ...]
    at_end: tuple[str, ...]

    @property
    def clashes(self) -> tuple[Held, ...]:
        """The entries that menu and work cannot both hold."""
        return tuple(one for one in self.held if one.clashes)

    @property
    def moved(self) -> dict[str, float]:
        """The groups whose minutes change by more than a little."""
        return {name: factor for name, factor in self.groups.items() if factor != 1}


class _Job(Struct, frozen=True):
    """A job of the menu as a sum: minutes of each group and the rest, and cents per minute at a charge of one."""

    minutes: Mapping[str, float]
    rest: float
    per_minute: float

    def total(self, groups: Mapping[str, float]) -> float:
        return self.rest + fsum(m * exp(groups[name]) for name, m in self.minutes.items())


def calibrate(shop: Shop, entries: Sequence[Entry]) -> Calibration:
    """The least change under which the shop's tables give its own menu, as near as they can."""
    jobs = {entry.job: shop.menu.jobs[entry.job] for entry in entries}
    smooth = _smooth(shop)
    names = sorted({task.group for task in shop.tasks.values()})
    sums = {name: _as_sum(smooth, job, {}) for name, job in jobs.items()}
    used = [name for name in names if any(name in job.minutes for job in sums.values())]
    factors = dict.fromkeys([*used, ""], 0.0)  # logarithms; "" is the charge
    half_unit = float(shop.terms.billing_unit_min) / 2
    for _ in range(ANCHORS):
        for _ in range(ROUNDS):
            _step(factors, entries, sums, float(shop.terms.charge_per_hour), half_unit)
        charge = (shop.terms.charge_per_hour * Decimal(repr(exp(factors[""])))).quantize(CENT, ROUND_HALF_UP)
        groups = {name: exp(factors[name]) for name in used}
        # ways and the price of a minute are those of the shop as fitted: a large quote is held at its surety, and so on
        fitted = with_factors(smooth, groups, charge)
        sums = {name: _as_sum(fitted, job, groups) for name, job in jobs.items()}
    groups = {name: factor if abs(factor - 1) >= LEAST else 1.0 for name, factor in groups.items()}
    after = with_factors(shop, groups, charge)  # what is written: what is told of it is told of this
    rows = {name: (row_of(shop, job), row_of(after, job)) for name, job in jobs.items()}
    held = []
    for entry in entries:
        old, new = rows[entry.job]
        wanted = entry.price if entry.price is not None else entry.minutes
        pick = (old.price, new.price) if entry.price is not None else (old.minutes, new.minutes)
        earns = [
            None if entry.price is None or not row.minutes else round(entry.price * 6000 / row.minutes)
            for row in (old, new)
        ]
        held.append(Held(entry, jobs[entry.job].what, wanted or 0, *pick, *earns))
    ends = [name or "charge_per_hour" for name, value in factors.items() if _at_end(name, value)]
    return Calibration(shop.terms.charge_per_hour, charge, groups, tuple(held), tuple(ends))


def _smooth(shop: Shop) -> Shop:
    """The shop with nothing rounded up and no least charge: its prices then move as its minutes do."""
    terms = replace(shop.terms, billing_unit_min=CENT, minimum_charge=Decimal(0))
    return replace(shop, terms=terms)


def _scaled(work: ShopTask | TaskMethod, factor: float) -> Minutes:
    """The minutes of a task, or those that a way has of its own, times a factor."""
    by = Decimal(repr(factor))
    times = {name: value * by for name in COLUMNS if (value := getattr(work, name)) is not None}
    return {n: v.quantize(MINUTES if v >= 1 else FINE, ROUND_HALF_UP) for n, v in times.items()}


def _new_minutes(shop: Shop, groups: Mapping[str, float]) -> dict[str, Minutes]:
    """The new minutes of every task of some groups, and under the names of its ways those that these have of their own."""
    found = {}
    for name, task in shop.tasks.items():
        if task.group in groups:
            found[name] = _scaled(task, groups[task.group])
            for method, way in shop.ways.methods.get(name, {}).items():
                if mine := _scaled(way, groups[task.group]):
                    found[way_id(name, method)] = mine
    return found


def with_factors(shop: Shop, groups: Mapping[str, float], charge: Decimal) -> Shop:
    """The shop with the minutes of its groups, whichever way the work is done, and its charge as fitted."""
    new = _new_minutes(shop, groups)
    methods = {
        name: MappingProxyType(
            {way: replace(method, **new.get(way_id(name, way), {})) for way, method in of.items()}
        )
        for name, of in shop.ways.methods.items()
    }
    return replace(
        shop,
        tasks=MappingProxyType(
            {name: replace(task, **new.get(name, {})) for name, task in shop.tasks.items()}
        ),
        ways=replace(shop.ways, methods=MappingProxyType(methods)),
        terms=replace(shop.terms, charge_per_hour=charge),
    )


def _as_sum(shop: Shop, job: MenuJob, groups: Mapping[str, float]) -> _Job:
    """A job as the sum of its minutes before any factor; ``groups``: the factors that the shop's minutes hold."""
    row = row_of(shop, job)
    now = {name: value / 100 for name, value in minutes_by_group(shop, job).items()}
    return _Job(
        {name: minutes / groups.get(name, 1.0) for name, minutes in now.items()},
        row.minutes / 100 - fsum(now.values()),
        row.price / (row.minutes / 100) / float(shop.terms.charge_per_hour),
    )


def _step(
    factors: dict[str, float],
    entries: Sequence[Entry],
    jobs: Mapping[str, _Job],
    charge: float,
    half_unit: float,
) -> None:
    """One Gauss-Newton step within the ends, its quadratic solved coordinate by coordinate."""
    rows: list[tuple[dict[str, float], float, float]] = []
    for entry in entries:
        job = jobs[entry.job]
        total = job.total(factors)
        billed = total + half_unit * (entry.price is not None)  # a price rounds up by half a unit on average
        slopes = {name: m * exp(factors[name]) / billed for name, m in job.minutes.items()}
        missed = MISSED**2
        if entry.price is not None:
            missed += (2 * half_unit / billed) ** 2 / 12
            gives = job.per_minute * billed * charge * exp(factors[""])
            slopes[""] = 1.0
            off = log(entry.price / gives)
        else:
            off = log((entry.minutes or 0) / 100 / total)
        weight = 1.0 if abs(off) <= CLASH else CLASH / abs(off)
        # about the point where all factors stand: wanted = off + slopes x factors
        rows.append((slopes, off + fsum(s * factors[n] for n, s in slopes.items()), weight / missed))
    for _ in range(SWEEPS):
        moved = 0.0
        for name in factors:
            pull = 1 / (CHARGE if not name else GROUP) ** 2
            top = 0.0
            for slopes, wanted, weight in rows:
                if name in slopes:
                    others = fsum(s * factors[n] for n, s in slopes.items() if n != name)
                    top += weight * slopes[name] * (wanted - others)
                    pull += weight * slopes[name] ** 2
            low, high = _ends(name)
            new = min(max(top / pull, low), high)
            moved = max(moved, abs(new - factors[name]))
            factors[name] = new
        if moved < 1e-9:
            return


def _ends(name: str) -> tuple[float, float]:
    low, high = GROUP_ENDS if name else CHARGE_ENDS
    return log(low), log(high)


def _at_end(name: str, value: float) -> bool:
    return min(abs(value - end) for end in _ends(name)) < 1e-6


def new_times(shop: Shop, found: Calibration) -> dict[str, Minutes]:
    """The minutes of every task of a moved group, and of the ways to do it under their names, column by column."""
    return _new_minutes(shop, found.moved)
