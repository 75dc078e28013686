"""Ways to do a task that are left open to the choice: what each comes to beside the one that is reckoned with.

A way is taken for a task as a whole, wherever on the instrument it is done: its set-up is shared by all its
places. Its atoms are what it takes more (or less) than the base: active where the work is asked for and the
way is taken. Both at once are said by sums of "any of these": any(S) and w is any(S) + w - any(S or w).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from estimator.estimate.labour import Setting, run_line, setup_line
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


@dataclass(frozen=True, slots=True)
class Ask:
    """A demand on a task at a place, who makes it, and the line it is priced at."""

    who: str
    demand: Demand
    part_price: Decimal
    line: WorkLine


@dataclass(frozen=True, slots=True)
class PricedWay:
    """A task done one way: its set-up, and by place what everyone who asks for it would take."""

    task: str
    method: str
    setting: Setting
    setup: WorkLine
    asks: Mapping[str, tuple[Ask, ...]]


def priced_way(task: str, setting: Setting, asked: Mapping[str, Sequence[Asked]]) -> PricedWay:
    """A task as the shop of a setting has it done, priced for everyone who asks, by place."""
    row = setting.shop.tasks[task]
    asks = {
        place: tuple(
            Ask(who, demand, price, run_line(row, demand, setting, price)) for who, demand, price in of
        )
        for place, of in asked.items()
    }
    return PricedWay(task, row.method, setting, setup_line(row, setting), asks)


def outdone(one: PricedWay, other: PricedWay) -> bool:
    """Whether a way is nowhere better than another, whatever is asked for: then nobody needs it."""
    known = one.setting.shop.consumables
    lines = [ask.line for way in (one, other) for asks in way.asks.values() for ask in asks]
    used = sorted({use.id for line in lines for use in line.consumables if known[use.id].by_the_pack})

    def more(a: WorkLine, b: WorkLine) -> list[float]:
        return [x - y for x, y in zip(_figures(a, used), _figures(b, used), strict=True)]

    setups = more(one.setup, other.setup)
    least, alone = [0.0] * len(setups), [float("inf")] * len(setups)
    for place, mine in one.asks.items():
        theirs = other.asks[place]
        # the largest demand must be the same one by either way
        if _order(mine) != _order(theirs):
            return False
        differences = [more(x.line, y.line) for x, y in zip(mine, theirs, strict=True)]
        for column, values in enumerate(zip(*differences, strict=True)):
            least[column] += min(0.0, *values)
            alone[column] = min(alone[column], *values)
    return all(
        setup + (down if down < 0 else up) >= 0 for setup, down, up in zip(setups, least, alone, strict=True)
    )


def _figures(line: WorkLine, used: Sequence[str]) -> tuple[float, ...]:
    """Everything about a line that an aim or a limit can turn on; last what it uses of packs."""
    money = line.money
    spent = line.setup + line.minutes + line.rework + line.allowance
    packs = (sum(float(use.quantity) for use in line.consumables if use.id == name) for name in used)
    return (
        money.cost, money.cash, money.price_parts, money.consumables, money.price_work, money.line_tax,
        spent, spent - line.allowance, line.allowance, line.sd, line.rework_sd, *packs,
    )  # fmt: skip


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


def worth_keeping(ways: Sequence[PricedWay]) -> list[PricedWay]:
    """The ways that may be best for something; of two alike the earlier."""
    kept: list[PricedWay] = []
    for number, way in enumerate(ways):
        rivals = (*kept, *ways[number + 1 :])
        if not any(outdone(way, rival) and (rival in kept or not outdone(rival, way)) for rival in rivals):
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
