"""The priced work of a set: lines, parts, what it comes to."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import Study, all_parts
from estimator.core.text import plain
from estimator.estimate.packs import pieces_from_stock
from estimator.model import Estimate, PartLine, RunFactor, Totals, Use, WorkLine
from estimator.report.record import NUMBER, Kind, Record, Teller

SHARE_OF_A_CENT = Kind(
    "money, four places", lambda money: f"{money:.4f}", lambda money: f"{money:.2f}", right=True
)
SPREAD = Kind("min", lambda minutes: round(minutes, 4))
QUANTITY = Kind("number", lambda value: float(round(value, 4)), plain, right=True)
_use = Teller[Use]()


class Used(Record[Use]):
    """A consumable or tool that work uses."""

    id = _use.text("consumable or tool, an id of consumables.csv or tools.csv", lambda of: of.id)
    quantity = _use.of(QUANTITY, "how much of it", lambda of: of.quantity, head="quantity")
    unit = _use.text("unit of the quantity", lambda of: of.unit, head="unit")
    cost = _use.of(SHARE_OF_A_CENT, "what that costs", lambda of: of.cost, head="{currency}")


_factor = Teller[RunFactor]()


class Factor(Record[RunFactor]):
    """What multiplies the run of a line."""

    name = _factor.text(
        "a code of difficulty, skill, or share (of a run shared with others)", lambda of: of.name
    )
    level = _factor.text("its level, or the degree of skill; blank: a share", lambda of: of.level)
    times = _factor.number("by what it multiplies", lambda of: of.times)


class LineOfWork(Struct, frozen=True):
    """A line of work, and the unit of its quantity."""

    line: WorkLine
    unit: str


def lines_of(study: Study, estimate: Estimate) -> list[LineOfWork]:
    """The work of a set in its order."""
    return [LineOfWork(line, study.shop.tasks[line.task].driver) for line in estimate.lines]


_line = Teller[LineOfWork]()


class Work(Record[LineOfWork]):
    """A line of work: minutes = set-up (on a task's first line) + quantity x factor x each + extra + again."""

    task = _line.text("task, an id of tasks.csv", lambda of: of.line.task)
    place = _line.text("where on the instrument; blank: all of it", lambda of: of.line.place)
    method = _line.where_there(
        _line.text("the way it is done, where there is more than one", lambda of: of.line.method or None)
    )
    way = _line.where_there(
        _line.text("that way in words", lambda of: of.line.way if of.line.method else None)
    )
    quantity = _line.number("how often it is done", lambda of: of.line.quantity, head="n")
    unit = _line.text("of what", lambda of: of.unit, head="of")
    minutes = _line.minutes(
        "hands-on, set-up and run", lambda of: of.line.minutes + of.line.setup, head="min"
    )
    setup_min = _line.minutes("of it set-up", lambda of: of.line.setup)
    each_min = _line.number("min for one at factor 1", lambda of: of.line.each)
    factor = _line.number("times that, all factors together", lambda of: of.line.factor)
    factors = _line.rows(Factor, "what the factor is made of", lambda of: of.line.factors)
    extra_min = _line.number("min that a finding adds once", lambda of: of.line.extra)
    again_min = _line.number("min of set-up done again", lambda of: of.line.again)
    sd_min = _line.of(SPREAD, "spread of the run", lambda of: of.line.sd)
    rework_odds = _line.number("odds that it goes wrong, as a fraction", lambda of: of.line.rework_odds)
    rework_trials = _line.whole("how many times it may", lambda of: of.line.rework_trials)
    rework_min = _line.minutes("held for that", lambda of: of.line.rework)
    hidden_fault_min = _line.minutes("held for faults found later", lambda of: of.line.allowance)
    unattended_min = _line.minutes("it waits or cures, hands off", lambda of: of.line.wait)
    cost = _line.money("cost to the shop", lambda of: of.line.money.cost, head="{currency}")
    labour = _line.money("of it labour", lambda of: of.line.money.labour)
    overhead = _line.money("of it overhead", lambda of: of.line.money.overhead)
    reserve = _line.money("of it for rework and hidden faults", lambda of: of.line.money.reserve)
    consumables = _line.rows(Used, "consumables by use", lambda of: of.line.consumables)
    tools = _line.rows(Used, "wear of tools", lambda of: of.line.tools)
    rests_on_assumed = _line.words(
        "values in it that nobody measured, which widen its spread",
        lambda of: (name for name, _ in of.line.rests_on),
        head="assumed",
    )
    because = _line.text("what asks for it", lambda of: "; ".join(of.line.because))


class PartTaken(Struct, frozen=True):
    """A part of a set, and how many of it come from the stock."""

    line: PartLine
    from_stock: Decimal
    for_customer: bool


def parts_of(study: Study, estimate: Estimate) -> list[PartTaken]:
    """Parts bought, in stock or brought, and strings."""
    lines = all_parts(study, estimate)
    return [
        PartTaken(line, taken, study.job.for_customer)
        for line, taken in zip(lines, _from_stock(study, estimate, lines), strict=True)
    ]


def _from_stock(study: Study, estimate: Estimate, lines: Sequence[PartLine]) -> list[Decimal]:
    """How much of each line comes from the stock: pieces of parts, then what the work takes, in its order."""
    stock, pieces = study.job.stock, pieces_from_stock(estimate.parts, study.job.stock)
    left: dict[str, Decimal] = {}
    taken = []
    for line in lines:
        if line.upgrade:
            taken.append(Decimal(pieces.get(line.upgrade, 0)))
            continue
        there = left.get(
            line.part, stock[line.part] if line.part in study.costing.setting.stocked else Decimal(0)
        )
        taken.append(min(there, line.quantity))
        left[line.part] = there - taken[-1]
    return taken


PIECES = Kind("number", lambda value: NUMBER.data(round(value, 4)), NUMBER.read, right=True)
_part = Teller[PartTaken]()


class Part(Record[PartTaken]):
    """A part of a set, or its strings."""

    part = _part.text("part, an id of parts.csv", lambda of: of.line.part)
    upgrade = _part.text("upgrade that it is for", lambda of: of.line.upgrade)
    quantity = _part.of(PIECES, "how many", lambda of: of.line.quantity, head="n")
    cost = _part.money("what they cost the shop", lambda of: of.line.cost, head="cost")
    price = _part.money(
        "what the customer pays for them; none where there is no customer",
        lambda of: of.line.price if of.for_customer else None,
        head="price",
    )
    fitting = _part.money("what fitting the customer's own part adds", lambda of: of.line.fitting)
    owner = _part.text("who brings it: shop or customer", lambda of: of.line.owner)
    from_stock = _part.of(PIECES, "how many of them are in stock", lambda of: of.from_stock)


class Sums(Struct, frozen=True):
    """What a set comes to, and whether a customer pays for it."""

    totals: Totals
    for_customer: bool


_sums = Teller[Sums]()


class Totalled(Record[Sums]):
    """What a set comes to."""

    parts = _sums.money("of the cost: parts", lambda of: of.totals.money.parts, head="parts")
    consumables = _sums.money(
        "of the cost: consumables", lambda of: of.totals.money.consumables, head="consumables{packs}"
    )
    tools = _sums.money("of the cost: wear of tools", lambda of: of.totals.money.tools, head="tool wear")
    labour = _sums.money("of the cost: labour", lambda of: of.totals.money.labour, head="labour")
    overhead = _sums.money("of the cost: overhead", lambda of: of.totals.money.overhead, head="overhead")
    reserve = _sums.money(
        "of the cost: for rework and hidden faults",
        lambda of: of.totals.money.reserve,
        head="reserve for rework and hidden faults",
    )
    freight = _sums.money(
        "of the cost: freight",
        lambda of: of.totals.money.freight,
        head="freight, with what suppliers ask off the list",
    )
    cost = _sums.money("cost to the shop", lambda of: of.totals.cost, head="cost")
    cash = _sums.money(
        "to lay out: parts, whole packs",
        lambda of: of.totals.money.cash,
        head="cash to lay out (parts, whole packs)",
    )
    price = _sums.money(
        "price before tax",
        lambda of: of.totals.price if of.for_customer else None,
        head="price before tax, hours {held}",
    )
    beyond_cost = _sums.money(
        "what the price leaves beyond the cost; below zero: what it falls short",
        lambda of: of.totals.price - of.totals.cost if of.for_customer else None,
        head="of it beyond the cost",
    )
    tax = _sums.money("tax on it", lambda of: of.totals.tax if of.for_customer else None, head="tax")
    to_pay = _sums.money(
        "price with tax", lambda of: of.totals.to_pay if of.for_customer else None, head="to pay"
    )
    attended_min = _sums.minutes("hands-on, on average", lambda of: of.totals.attended)
    reserve_min = _sums.minutes("held for rework and hidden faults", lambda of: of.totals.reserve_min)
    expected_min = _sums.minutes("hands-on with that", lambda of: of.totals.expected)
    sd_min = _sums.of(SPREAD, "spread of that", lambda of: of.totals.sd)
    p80_min = _sums.minutes("80 of 100 such jobs stay within it", lambda of: of.totals.p80)
    surety = _sums.number("per cent at which a quote is held", lambda of: of.totals.surety)
    quoted_at_mean = _sums.yes("the quote is small and held at its mean", lambda of: of.totals.at_mean)
    surety_min = _sums.minutes("quoted", lambda of: of.totals.surety_min)
    billed_min = _sums.minutes("billed", lambda of: of.totals.billed_min)
    unattended_min = _sums.minutes("waits and cures, hands off", lambda of: of.totals.unattended)
    desk_min = _sums.minutes("desk work that is not billed", lambda of: of.totals.desk)
