"""Ways to do a task that are left open to the choice: what each comes to beside the one that is reckoned with.

A way is taken for a task as a whole, wherever on the instrument it is done: its set-up is shared by all its
places. Its atoms are what it takes more (or less) than the base: active where the work is asked for and the
way is taken. Both at once are said by sums of "any of these": any(S) and w is any(S) + w - any(S or w).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import groupby
from math import sqrt

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Hundredths
from estimator.estimate.factors import Instrument
from estimator.estimate.labour import Setting, run_line, run_worked, setup_line
from estimator.estimate.three_point import FAULT_VARIANCE
from estimator.model import Demand, Money, WorkLine

Triggers = frozenset[str] | None
Asked = tuple[str, Demand, Decimal]
"""Who asks for how much of a task at a place, and the price of the part that is fitted by it."""
JOINED = "="
"""Stands between the task and the method in the name of a way; no upgrade has it in its id."""


def way_id(task: str, method: str) -> str:
    """The name of a way among the upgrades of a set."""
    return f"{task}{JOINED}{method}"


def is_way(name: str) -> bool:
    """Whether a member of a set is a way to do a task, not an upgrade."""
    return JOINED in name


def methods_in(chosen: Collection[str]) -> dict[str, str]:
    """The ways of a set: by task the method."""
    return {task: method for task, joined, method in (name.partition(JOINED) for name in chosen) if joined}


def upgrades_in(chosen: Collection[str]) -> tuple[str, ...]:
    """A set without its ways."""
    return tuple(name for name in chosen if not is_way(name))


class Ask(Struct, frozen=True):
    """A demand on a task at a place, who makes it, and the line it is priced at."""

    who: str
    demand: Demand
    part_price: Decimal
    line: WorkLine


class PricedWay(Struct, frozen=True):
    """A task done one way: its set-up, and by place what everyone who asks for it would take."""

    task: str
    method: str
    setting: Setting
    setup: WorkLine
    asks: Mapping[str, tuple[Ask, ...]]

    @property
    def lacks(self) -> frozenset[str]:
        """The tools it needs that have to be got first."""
        if not self.setting.to_get:
            return frozenset()
        worn = self.setting.shop.task_tools.get(self.task, ())
        return frozenset(tool for tool, _ in worn) & self.setting.to_get


def priced_way(task: str, setting: Setting, asked: Mapping[str, Sequence[Asked]]) -> PricedWay:
    """A task as the shop of a setting has it done, priced for everyone who asks, by place."""
    if setting.lines is None:
        return _priced_anew(task, setting, asked)
    row = setting.shop.tasks[task]
    # what is priced keeps the demands it was priced for, so none of theirs is another's identity while it is kept
    asks = tuple(
        (place, *((who, id(demand), price) for who, demand, price in of)) for place, of in asked.items()
    )
    rates = (setting.wage, setting.overhead, setting.batch)
    key = (task, row.method, setting.worked_by, setting.more_odds(row), rates, asks)
    alone = replace(setting, lines=None)

    def priced(instrument: Instrument) -> PricedWay:
        way = _priced_anew(task, replace(setting, instrument=instrument), asked)
        # with the lines that keep it, it would be part of a circle, which only looking for garbage undoes
        return replace(way, setting=alone)

    known: PricedWay = setting.lines.tasks.of(key, setting.instrument, priced)
    return replace(known, setting=setting)


def _priced_anew(task: str, setting: Setting, asked: Mapping[str, Sequence[Asked]]) -> PricedWay:
    row = setting.shop.tasks[task]
    known: dict[object, WorkLine] = {}
    # what a setting reads of the instrument and of the job is in the key by what it came to
    priced_at = task, row.method, setting.worked_by, setting.more_odds(row)

    def line(demand: Demand, price: Decimal) -> WorkLine:
        # variants of an upgrade ask for the same; what is priced does not hang on who asks and why
        key = (
            demand.place,
            demand.quantity,
            demand.share,
            tuple(sorted(demand.levels.items())),
            demand.extra_min,
            demand.extra_rework_pct,
            demand.rework_times,
            demand.setup_share,
            demand.rests_on,
            price if row.rework_kind == "s" else None,
        )
        if key not in known:
            known[key] = _run(key, demand, price)
        return known[key]

    def _run(key: tuple[object, ...], demand: Demand, price: Decimal) -> WorkLine:
        if setting.lines is None:
            return run_line(row, demand, setting, price)
        worked = setting.lines.runs.of(
            (*priced_at, *key),
            setting.instrument,
            lambda seen: run_worked(seen, row, demand, setting, price),
        )
        return worked.paid(setting)

    asks = {
        place: tuple(Ask(who, demand, price, line(demand, price)) for who, demand, price in of)
        for place, of in asked.items()
    }
    return PricedWay(task, row.method, setting, setup_line(row, setting), asks)


MONEY = ("cost", "cash", "price_parts", "consumables", "price_work", "line_tax")
EVERY_FIGURE = (*MONEY, "cost_sure", "minutes", "sure", "priced", "priced_sure", "packs")
"""Everything that an aim or a limit can turn on: money, cost at a surety, minutes on average and at a surety,
those that a quote holds, and what is used of packs."""


def outdone(
    one: PricedWay,
    other: PricedWay,
    counted: Collection[str] = EVERY_FIGURE,
    z: float = 0.0,
    strictly: str = "",
) -> bool:
    """Whether a way is nowhere better than another by the figures that count, whatever is asked for.

    Then nobody needs it. ``z``: the largest factor at which a spread is held. ``strictly``: a figure in which
    it has to be worse, so that nothing that only breaks ties can speak for it.
    """
    if not other.lacks <= one.lacks:
        return False
    names = [name for name in EVERY_FIGURE if name in counted and name != "packs"]
    used = _bought_by_pack(one, other) if "packs" in counted else []
    lines = {place: _pairs(asks, other.asks[place]) for place, asks in one.asks.items()}
    if _soon_told(one, other, [name for name in MONEY if name in counted], lines.values()):
        return False
    hour = float(one.setting.wage + one.setting.overhead) * 100 / 60

    def more(a: WorkLine, b: WorkLine) -> list[float]:
        differences = _more(a, b, z, hour)
        columns = [differences[name] for name in names]
        return columns + [_taken(a, name) - _taken(b, name) for name in used]

    setups = more(one.setup, other.setup)
    least, alone = [0.0] * len(setups), [float("inf")] * len(setups)
    for pairs in lines.values():
        lowest = [0.0] * len(setups)
        for mine, theirs in pairs:
            for column, by in enumerate(more(mine, theirs)):
                # with this demand alone it is already better in something
                if setups[column] + by < 0:
                    return False
                lowest[column] = min(lowest[column], by)
                alone[column] = min(alone[column], by)
        least = [total + low for total, low in zip(least, lowest, strict=True)]
    worse = [setup + (down if down < 0 else up) for setup, down, up in zip(setups, least, alone, strict=True)]
    if not all(by >= 0 for by in worse) or (strictly and worse[names.index(strictly)] <= 0):
        return False
    # the largest demand must be the same one by either way
    return all(_order(mine) == _order(other.asks[place]) for place, mine in one.asks.items())


def _soon_told(
    one: PricedWay,
    other: PricedWay,
    money: Sequence[str],
    lines: Iterable[Iterable[tuple[WorkLine, WorkLine]]],
) -> bool:
    """Whether a way is already better in some money with one demand alone: that is sooner told than all figures."""
    for name in money:
        setup = getattr(one.setup.money, name) - getattr(other.setup.money, name)
        for pairs in lines:
            for mine, theirs in pairs:
                if setup + getattr(mine.money, name) < getattr(theirs.money, name):
                    return True
    return False


def _pairs(mine: Sequence[Ask], theirs: Sequence[Ask]) -> Collection[tuple[WorkLine, WorkLine]]:
    """The lines of demands by two ways, those of all who ask for the same once."""
    lines = [(one.line, other.line) for one, other in zip(mine, theirs, strict=True)]
    return {(id(one), id(other)): (one, other) for one, other in lines}.values()


def _bought_by_pack(*ways: PricedWay) -> list[str]:
    known = ways[0].setting.shop.consumables
    lines = (ask.line for way in ways for asks in way.asks.values() for ask in asks)
    return sorted({use.id for line in lines for use in line.consumables if known[use.id].by_the_pack})


def _more(a: WorkLine, b: WorkLine, z: float, hour: float) -> dict[str, float]:
    """By how much one line is more than another in each figure; where it spreads less, at the least by how much.

    A joint spread never falls by more than the spreads of its lines fall in all.
    """
    found: dict[str, float] = {name: getattr(a.money, name) - getattr(b.money, name) for name in MONEY}
    found["minutes"] = _spent(a) - _spent(b)
    found["priced"] = found["minutes"] - a.allowance + b.allowance
    narrower = max(0.0, b.sd - a.sd) + max(0.0, b.rework_sd - a.rework_sd)
    faults = max(0.0, sqrt(FAULT_VARIANCE) * (b.allowance - a.allowance) / 100)
    found["sure"] = found["minutes"] - z * 100 * (narrower + faults)
    found["priced_sure"] = found["priced"] - z * 100 * (narrower + faults)
    # a cent for the rounding of what the surety adds
    less = z * hour * (narrower + faults)
    found["cost_sure"] = found["cost"] - (less + 1 if less else 0)
    return found


def _spent(line: WorkLine) -> Hundredths:
    return line.setup + line.minutes + line.rework + line.allowance


def _taken(line: WorkLine, name: str) -> float:
    return sum(float(use.quantity) for use in line.consumables if use.id == name)


def _order(asks: Sequence[Ask]) -> list[list[int]]:
    """The asks by size, those alike together."""
    ranked = sorted(range(len(asks)), key=lambda number: rank_key(asks[number].line))
    return [list(alike) for _, alike in groupby(ranked, key=lambda number: rank_key(asks[number].line))]


def rank_key(line: WorkLine) -> tuple[object, ...]:
    """What demands at one place are ranked by: the last is the largest, and is what is done."""
    money = line.money
    return (
        line.minutes,
        money.cost,
        line.quantity,
        line.rework,
        money.price_parts,
        money.consumables,
        line.sd,
    )


def same_rank(line: WorkLine) -> tuple[object, ...]:
    """What demands at one place have in common that are met by one and the same work."""
    money = line.money
    return line.minutes, money.cost, line.quantity, line.sd, line.factor, line.rework, money


def worth_keeping(
    ways: Sequence[PricedWay],
    counted: Collection[str] = EVERY_FIGURE,
    z: float = 0.0,
    strictly: str = "",
) -> list[PricedWay]:
    """The ways that may be best by the figures that count; of two alike the earlier.

    ``strictly``: what is worse in this figure needs not be worse in the mean minutes, which only break ties.
    """
    kept: list[PricedWay] = []
    bare = set(counted) - {"minutes"}
    for number, way in enumerate(ways):
        rivals = (*kept, *ways[number + 1 :])
        if not any(
            (outdone(way, rival, counted, z) and (rival in kept or not outdone(rival, way, counted, z)))
            or (strictly and outdone(way, rival, bare, z, strictly))
            for rival in rivals
        ):
            kept.append(way)
    return kept


def and_way(triggers: Triggers, way: str, asked_by: Triggers) -> tuple[tuple[Triggers, int], ...]:
    """When any of ``triggers`` is chosen and a way is taken, as a sum; it is taken only where ``asked_by`` ask."""
    if triggers is None or (asked_by is not None and asked_by <= triggers):
        return ((frozenset((way,)), 1),)
    return (triggers, 1), (frozenset((way,)), 1), (triggers | {way}, -1)


def times(money: Money, number: int) -> Money:
    """Money so many times, or so many times less."""
    total = Money()
    for _ in range(abs(number)):
        total = total + money if number > 0 else total - money
    return total
