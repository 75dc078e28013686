"""Till when things keep, and when to order more.

Order point, for each item: mean use a day x days till a parcel comes + 1.645 x spread of the use of a day x
square root of these days. The plain order point of stock keeping (common-practice): use of the last year is
taken as it was, day by day, and 1.645 spreads run short in one of twenty waits (the normal's 95 per cent).
What is used, and what a count finds missing, is use; what spoiled is not. The days are the longest that
suppliers.csv gives for one who sells the item.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import ROUND_CEILING
from math import isqrt

from msgspec import Struct
from msgspec.structs import asdict

from estimator.core.amounts import Millionths
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.records import ShelfRow, StockRow
from estimator.ledger.stock import COUNTED, MILLION, SPOILED, USED, stock
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop

YEAR_DAYS, LEAST_DAYS = 365, 28
"""Days of use that are looked at; a shorter history is taken for at least so many."""
SURE_THOUSANDTHS = 1645
SOON_DAYS = 30
"""Days ahead that the end of a shelf life is told."""


class StockTerms(Struct, frozen=True):
    """What the shop's tables say of an item: days till a parcel comes, units in a pack, days that an open pack keeps."""

    lead_days: int
    pack: Millionths = Millionths(MILLION)
    open_days: int | None = None


def keeps_of(shop: Shop) -> tuple[dict[str, StockTerms], StockTerms]:
    """What the tables say of each consumable and part, and of what only a job file names."""
    planning = shop.planning
    days = {
        one.id: int(one.lead_days_high.to_integral_value(ROUND_CEILING))
        for one in planning.suppliers.values()
    }
    longest = max(days.values(), default=0)

    def lead(*names: str) -> int:
        return max((days[one.supplier] for one in planning.offers if one.sells in names), default=longest)

    found = {
        item.id: StockTerms(
            lead("consumables", item.id),
            Millionths(max(1, int(item.units_per_pack * MILLION))),
            None if item.shelf_months is None else int(item.shelf_months * 365 / 12),
        )
        for item in shop.consumables.values()
    } | {part.id: StockTerms(lead("*", part.part_class)) for part in shop.parts.values()}
    return found, StockTerms(longest)


class StockLot(Struct):
    """What came in at once, with what of it is left; ``opened``: the day its pack in use was opened."""

    came: date
    millionths: Millionths
    best_before: date | None
    taken: Millionths = Millionths(0)
    opened: date | None = None

    def take(self, many: Millionths, day: date, pack: Millionths) -> None:
        """Take some out; what is bought by the pack is opened pack by pack."""
        before, self.taken = self.taken, self.taken + many
        if self.taken % pack == 0:
            self.opened = None
        elif before % pack == 0 or before // pack != self.taken // pack:
            self.opened = day

    def keeps_till(self, open_days: int | None) -> date | None:
        """The day till which the pack in use, or the lot, keeps."""
        opened = self.opened + timedelta(days=open_days) if self.opened and open_days is not None else None
        days = [day for day in (opened, self.best_before) if day]
        return min(days) if days else None


def lots_of(moves: Sequence[Row], pack: Millionths) -> list[StockLot]:
    """The lots with something left; what goes off first is used first, of equals what came first."""
    lots: list[StockLot] = []
    for move in moves:
        day, change = kept_moment(move["at"], move["ahead_min"]).day, Millionths(move["millionths"])
        if change > 0:
            until = date.fromisoformat(move["best_before"]) if move["best_before"] else None
            lots.append(StockLot(day, change, until))
            lots.sort(key=lambda lot: (lot.best_before or date.max, lot.came))
        for lot in lots:
            taken = min(-change, lot.millionths - lot.taken)
            if taken > 0:
                lot.take(taken, day, pack)
                change += taken
        lots = [lot for lot in lots if lot.taken < lot.millionths]
    return lots


def order_point(
    uses: Mapping[date, Millionths], today: date, since: date, lead_days: int
) -> Millionths | None:
    """Millionths at which to order; None where nothing was used in the year up to today. Rounded up."""
    first = max(since, today - timedelta(days=YEAR_DAYS - 1))
    days = max(LEAST_DAYS, (today - first).days + 1)
    counted = [many for day, many in uses.items() if today - timedelta(days=YEAR_DAYS) < day <= today]
    total = sum(counted, Millionths(0))
    if not total:
        return None
    # spread x days, squared, in whole numbers: n x (sum of squares) - (sum) squared
    square = days * sum(many * many for many in counted) - total * total
    safety = SURE_THOUSANDTHS * isqrt(square * lead_days)
    return Millionths(-(-(total * lead_days * 1000 + safety) // (days * 1000)))


def shelf(ledger: Ledger, keeps: Mapping[str, StockTerms], usual: StockTerms, now: Moment) -> list[ShelfRow]:
    """The stock, item by item, with its order point, whether and how many to order, and what goes off by when."""
    moves: dict[str, list[Row]] = {}
    for move in ledger.rows(
        "SELECT item, kind, millionths, at, ahead_min, best_before FROM stock_move ORDER BY at, id"
    ):
        moves.setdefault(move["item"], []).append(move)
    return [_told(row, moves.get(row.item, []), keeps.get(row.item, usual), now.day) for row in stock(ledger)]


def _told(row: StockRow, moves: Sequence[Row], of: StockTerms, today: date) -> ShelfRow:
    uses: dict[date, Millionths] = {}
    for move in moves:
        if move["kind"] == USED or (move["kind"] == COUNTED and move["millionths"] < 0):
            day = kept_moment(move["at"], move["ahead_min"]).day
            uses[day] = uses.get(day, Millionths(0)) - move["millionths"]
    since = kept_moment(moves[0]["at"], moves[0]["ahead_min"]).day if moves else today
    point = order_point(uses, today, since, of.lead_days)
    free = row.left - row.reserved
    low = free < 0 or (point is not None and free <= point)
    # what stands just at its order point needs a pack, though nothing is short of it yet
    packs = max(1, -(-((point or Millionths(0)) - free) // of.pack)) if low else 0
    lots = lots_of(moves, of.pack)
    ends = [(until, lot) for lot in lots if (until := lot.keeps_till(of.open_days))]
    off = sum((_of_this(lot, until, of.pack) for until, lot in ends if until < today), Millionths(0))
    return ShelfRow(
        **asdict(row),
        lead_days=of.lead_days,
        order_point=point,
        to_order=packs * of.pack,
        keeps_till=str(min(until for until, _ in ends)) if ends else None,
        gone_off=off,
        soon_off=any(today <= until <= today + timedelta(days=SOON_DAYS) for until, _ in ends),
        spoiled=-sum((m["millionths"] for m in moves if m["kind"] == SPOILED), Millionths(0)),
    )


def _of_this(lot: StockLot, until: date, pack: Millionths) -> Millionths:
    """How much of a lot is past its day: all of it by its label, else what is left of the open pack."""
    left = lot.millionths - lot.taken
    return left if lot.best_before == until else min(left, pack - Millionths(lot.taken % pack))
