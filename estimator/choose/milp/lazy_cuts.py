"""Figures that are not linear, each as a column held from below by cuts that are added when needed.

Minutes at a surety are expected minutes + z x sqrt((1 - c) x sum of squares + c x square of the
sum, with the squares of rework and hidden faults on top): a norm, so any tangent is a lower bound. The price, but for a least charge, is a step
function of a few figures that never falls when one of them rises; a set measured too dear yields
"any set with no less of all of them costs no less".
Each cut is true of every set; the last resort speaks of one set only, so the rounds end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal

from estimator.choose.measure import (
    PER_HOUR,
    PRICED_BY,
    Measure,
    PriceBound,
    Spreads,
    active_pieces,
    joint_spread,
    slopes,
    spread_cents,
    spreads_of,
    spreads_together,
    widest,
)
from estimator.choose.milp.linear import CUT, LAZY, STRUCTURE, Linear
from estimator.choose.milp.variables import Columns
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import EngineError
from estimator.model.problem import CostPiece, Summed

SCALE = 256
"""Tangents are kept in 256ths of a hundredth of a minute, rounded down."""
THOUSANDTHS = 1000
PRICE_LIMIT = 10**9
QUOTED = "quoted"
PRICE = "price"
"""Name of the price among the figures that are held from below."""
MinutesKey = float | tuple[str, float]
"""Minutes by the normal factor they are held at; those of a quote apart, where it holds other minutes."""


class LazyCuts:
    """Makes the columns of minutes and price, and the cuts on them."""

    def __init__(self, columns: Columns, bound: PriceBound) -> None:
        self.columns = columns
        self.bound = bound
        problem = columns.problem
        self.priced = problem.priced_pieces
        #: the key of the minutes that a large quote holds: those of limits too, where faults are quoted
        self.quoted: MinutesKey = problem.z_price if problem.faults_priced else (QUOTED, problem.z_price)
        self._minutes: dict[MinutesKey, Linear] = {}
        self._price: Linear | None = None
        self._beyond = Linear()
        self._cost_spread: Linear | None = None
        self._below: dict[tuple[str, int], Linear] = {}
        self._known: set[tuple[object, ...]] = set()

    def minutes(self, z: float) -> Linear:
        """Minutes at the normal factor ``z`` in hundredths: exact at 0, else held by tangents."""
        if z == 0 or not widest(self.columns.problem.pieces):
            return self.columns.total("minutes")
        if z not in self._minutes:
            pieces = self.columns.problem.pieces
            self._minutes[z] = self._minutes_column(z, self.columns.total("minutes"), pieces)
            self._tangent(z, spreads_together(pieces))
        return self._minutes[z].copy()

    def quoted_mean(self) -> Linear:
        """The mean of the minutes that a quote holds, in hundredths."""
        total = self.columns.total("minutes")
        return total if self.columns.problem.faults_priced else total.add(self.columns.total("faults"), -1)

    def quoted_minutes(self) -> Linear:
        """The minutes that a large quote holds at its surety: exact where nothing spreads, else by tangents."""
        problem = self.columns.problem
        if problem.faults_priced:
            return self.minutes(problem.z_price)
        if problem.z_price == 0 or not widest(self.priced):
            return self.quoted_mean()
        if self.quoted not in self._minutes:
            self._minutes[self.quoted] = self._minutes_column(
                problem.z_price, self.quoted_mean(), self.priced
            )
            self._tangent(self.quoted, spreads_together(self.priced))
        return self._minutes[self.quoted].copy()

    def _minutes_column(self, z: float, mean: Linear, pieces: Sequence[CostPiece]) -> Linear:
        model = self.columns.model
        spread = abs(z) * 100 * widest(pieces)
        low, high = model.bounds(mean)
        least = low - 1 if z > 0 else math.floor(low - spread) - 1
        return Linear({model.column("t", least, math.ceil(high + spread) + 1, kind=LAZY): 1})

    def cost_spread(self) -> Linear:
        """Cents that the surety of the limits adds to the cost: the minutes beyond the mean, at their cost.

        Two columns, so that no row mixes large and small numbers: whole hundredths beyond the mean, and
        the cents that they come to, half up. Both are whole to every engine: the minutes may lie a part of
        a hundredth low, and the cents must not fall with them. Exact once the minutes are lifted.
        """
        model, z, rate = self.columns.model, self.columns.problem.z_minutes, self.columns.problem.hour_cents
        minutes = self.minutes(z)
        if not rate or z not in self._minutes:
            return Linear()
        if self._cost_spread is None:
            spread = math.ceil(abs(z) * 100 * widest(self.columns.problem.pieces)) + 1
            low = -spread if z < 0 else 0
            beyond = self._beyond = Linear({model.column("d", low, spread): 1})
            ends = spread_cents(Hundredths(low), rate), spread_cents(Hundredths(spread), rate)
            self._cost_spread = Linear({model.column("e", *ends): 1})
            # tagged as of the trade: the minutes are weighed here, and so have to be lifted to their full value
            model.add(beyond.copy().add(minutes, -1).add(self.columns.total("minutes")), 0, None, STRUCTURE)
            in_cents = self._cost_spread.times(PER_HOUR).add(beyond, -rate)
            model.add(in_cents, 1 - PER_HOUR // 2, None, STRUCTURE)
        return self._cost_spread.copy()

    def beyond(self) -> Linear:
        """Whole hundredths of a minute by which the surety of the limits lies beyond the mean."""
        self.cost_spread()
        return self._beyond.copy()

    def price(self) -> Linear:
        """The price in cents, held from below by the bound and by cuts."""
        if self._price is None:
            model, bound = self.columns.model, self.bound
            self._price = Linear({model.column("p", bound.least, PRICE_LIMIT, kind=LAZY): 1})
            below = self._price.times(THOUSANDTHS)
            # a small quote is held at its mean, so that is all that every set pays for
            small = self.columns.problem.large_from
            minutes = self.quoted_mean() if small else self.quoted_minutes()
            below.add(minutes, -math.floor(THOUSANDTHS * bound.per_minute / 100))
            # rounding the slope down must not lift the bound where minutes could fall below nothing
            below.constant += max(0, -model.bounds(minutes)[0])
            slope, of_work = self._slopes()
            work = self.columns.total("price_work")
            below.add(self.columns.total("price_parts"), -slope).add(work, -of_work)
            below.constant += max(0, -model.bounds(work)[0])
            below.add(self._fee(), -of_work)
            model.add(below, THOUSANDTHS * bound.constant, None, CUT)
        return self._price.copy()

    def _fee(self) -> Linear:
        """Cents that a price holds at least for what is used up: those beyond ``fee_from``, where minutes are quoted.

        Without it the price of a set that uses much up would have to be cut set by set.
        """
        used, model = self.columns.total("consumables"), self.columns.model
        if self.bound.fee_from is None or model.bounds(used)[1] <= self.bound.fee_from:
            return Linear()
        most = model.bounds(used)[1] - self.bound.fee_from
        fee = Linear({model.column("f", 0, most, kind=LAZY): 1})
        nothing_quoted = self._under("mean" if self.columns.problem.large_from else "minutes", 1)
        row = fee.copy().add(used, -1).add(nothing_quoted, most)
        model.add(row, -self.bound.fee_from, None, CUT)
        return fee

    def held(self) -> dict[MinutesKey | str, int]:
        """The columns held from below: by normal factor for minutes, ``price``, ``cost_spread``."""
        columns: dict[MinutesKey | str, int] = {z: next(iter(t.terms)) for z, t in self._minutes.items()}
        for name, figure in ((PRICE, self._price), ("cost_spread", self._cost_spread)):
            if figure is not None:
                columns[name] = next(iter(figure.terms))
        return columns

    def told(self, what: MinutesKey | str, measured: Measure) -> int | None:
        """What a measured set has of a held figure; None if it does not tell."""
        if isinstance(what, str):
            return {PRICE: measured.price, "cost_spread": measured.cost_spread}[what]
        return measured.minutes if what == self.columns.problem.z_minutes else None

    def lift(self, what: MinutesKey | str, chosen: tuple[str, ...], measured: Measure) -> None:
        """Add a cut by which a held figure is no lower than what ``chosen`` measures."""
        if what == PRICE:
            self.cut_price(chosen, measured)
        elif what == "cost_spread":
            self.cut_cost_spread(chosen, measured)
        elif isinstance(what, float | int):
            self.cut_minutes(float(what), chosen, measured.minutes)

    def cut_minutes(self, z: float, chosen: tuple[str, ...], measured: int) -> None:
        """Lift the minutes column to what ``chosen`` measures."""
        if z not in self._minutes:
            raise EngineError("the estimate's minutes are not the sum of the programme's minutes")
        lines = spreads_together(active_pieces(self.columns.problem, chosen))
        key = ("tangent", z, chosen)
        if z > 0 and key not in self._known:
            self._known.add(key)
            self._tangent(z, lines)
            return
        pieces = self.columns.problem.pieces
        up = all(p.minutes >= 0 and _widens(p) for p in pieces)
        relevant = {u for p in pieces if p.minutes or spreads_of(p) for u in p.triggers or ()}
        self._one_set(self._minutes[z], chosen, measured, relevant, up and z > 0)

    def cut_cost_spread(self, chosen: tuple[str, ...], measured: Measure) -> None:
        """Lift what the surety adds to the cost to what ``chosen`` measures."""
        z, pieces = self.columns.problem.z_minutes, self.columns.problem.pieces
        key = ("tangent", z, chosen)
        if z > 0 and key not in self._known:
            self._known.add(key)
            self._tangent(z, spreads_together(active_pieces(self.columns.problem, chosen)))
            return
        relevant = {u for p in pieces if spreads_of(p) for u in p.triggers or ()}
        up = z > 0 and all(_widens(p) for p in pieces)
        self._one_set(self.cost_spread(), chosen, measured.cost_spread, relevant, up)

    def cut_price(self, chosen: tuple[str, ...], measured: Measure) -> None:
        """Lift the price column to what ``chosen`` measures."""
        problem, key = self.columns.problem, self.quoted
        if key in self._minutes and problem.z_price > 0 and ("tangent", key, chosen) not in self._known:
            self._known.add(("tangent", key, chosen))
            self._tangent(key, spreads_together(active_pieces(problem, chosen, self.priced)))
        if self._step_cut(measured) or self._plain_cut(measured):
            return
        everything = set(self.columns.members)
        self._one_set(self.price(), chosen, measured.price, everything, False)

    def check_bound(self, measured: Measure) -> None:
        """Refuse a lower bound on the price that a measured set shows to be wrong."""
        bound = self.bound
        least = bound.constant + bound.per_minute * measured.price_minutes / 100
        least += bound.per_part * measured.price_parts
        if bound.fee_from is not None and measured.price_minutes > 0:
            least += bound.of_work * max(0, measured.consumables - bound.fee_from)
        least = max(least + bound.of_work * measured.price_work, bound.least)
        if measured.price < math.floor(least + 1e-6):
            raise EngineError(f"the price {measured.price} lies below its own lower bound {least:.2f}")
        if bound.price is not None and bound.price(*measured.figures) > measured.price:
            raise EngineError("the price function gives more than the estimate")

    def _tangent(self, key: MinutesKey, at: Spreads) -> None:
        share = self.columns.problem.shared_cause
        z, pieces = (key[1], self.priced) if isinstance(key, tuple) else (key, self.columns.problem.pieces)
        if z > 0 and joint_spread(at, share) <= 0:
            return
        slope = slopes(at, spreads_together(pieces), share) if z > 0 else {}
        below = self.columns.tangent(z, slope, SCALE, pieces)
        # the measured figure is rounded to the nearest hundredth, so it may lie half of one below the curve
        row = self._minutes[key].times(SCALE).add(below, -1)
        self.columns.model.add(row, -SCALE // 2, None, CUT)

    def _step_cut(self, measured: Measure) -> bool:
        """With the price function known: one cut for a whole step of the staircase."""
        price = self.bound.price
        if price is None:
            return False
        bounds, total = self.columns.model.bounds, self.columns.total
        parts, work, tax = total("price_parts"), total("price_work"), total("line_tax")
        least_parts, least_work, least_tax = (Cents(bounds(of)[0]) for of in (parts, work, tax))
        least_parts = max(Cents(0), least_parts)
        taken, used_all = measured.price_minutes, measured.consumables
        level = price(taken, least_parts, used_all, least_work, least_tax)
        minutes = _first(
            lambda m: price(Hundredths(m), least_parts, used_all, least_work, least_tax) >= level, taken
        )
        used = _first(
            lambda c: price(Hundredths(minutes), least_parts, Cents(c), least_work, least_tax) >= level,
            used_all,
        )
        if not self._new("step", minutes, used, level, self._by_mean(minutes, measured)):
            return False
        slope, of_work = self._slopes()
        whole = slope % THOUSANDTHS == of_work % THOUSANDTHS == 0
        roundings = self.bound.roundings
        slack = THOUSANDTHS * (int(not whole) if roundings is None else roundings)
        more = slope * (measured.price_parts - least_parts) + of_work * (measured.price_work - least_work)
        taxed = THOUSANDTHS if self.bound.by_line else 0
        claim = THOUSANDTHS * level + taxed * (measured.line_tax - least_tax) + more - slack
        if THOUSANDTHS * measured.price < claim:
            raise EngineError("a cent of parts adds less to the price than its lower bound says")
        row = self.price().times(THOUSANDTHS).add(parts, -slope).add(work, -of_work).add(tax, -taxed)
        row.constant += slope * least_parts + of_work * least_work + taxed * least_tax + slack
        lift = THOUSANDTHS * level
        for literal in (*self._quoted_under(minutes, measured), self._under("consumables", used)):
            row.add(literal, lift)
        self.columns.model.add(row, THOUSANDTHS * level, None, CUT)
        return True

    def _slopes(self) -> tuple[int, int]:
        """What a cent of parts and one of work besides the hours add at least, in thousandths of a cent."""
        return math.floor(THOUSANDTHS * self.bound.per_part), math.floor(THOUSANDTHS * self.bound.of_work)

    def _plain_cut(self, measured: Measure) -> bool:
        """No less minutes, parts and the rest: no lower price (what a least charge adds left out)."""
        figures, price = measured.figures, self.bound.price
        if not self._new("plain", *figures, self._by_mean(figures[0], measured)):
            return False
        level = measured.price if price is None else price(*figures)
        row = self.price()
        for literal in self._quoted_under(figures[0], measured):
            row.add(literal, level)
        for what, figure in zip(PRICED_BY[1:], figures[1:], strict=True):
            row.add(self._under(what, figure), level)
        self.columns.model.add(row, level, None, CUT)
        return True

    def _by_mean(self, figure: int, measured: Measure) -> bool:
        """Whether the mean of a measured set alone shows that its quote holds so many minutes."""
        return bool(self.columns.problem.large_from) and measured.price_mean >= figure

    def _quoted_under(self, figure: int, measured: Measure) -> tuple[Linear, ...]:
        """Literals, one of which may be 1 only where a quote holds fewer minutes than ``figure``.

        A quote is never below its mean. One that lies beyond the size of a large one is at most its surety,
        and goes beyond that size by at most twice what its mean does (``quoted_minutes`` of the estimate).
        """
        large = self.columns.problem.large_from
        if self._by_mean(figure, measured):
            return (self._under("mean", figure),)
        if large:
            return self._under("mean", -((-large - figure) // 2)), self._under("minutes", figure)
        return (self._under("minutes", figure),)

    def _under(self, what: Summed | Literal["mean"], figure: int) -> Linear:
        """A literal that may be 1 only if ``what`` stays below ``figure``."""
        key = (what, figure)
        if key not in self._below:
            model = self.columns.model
            if what == "minutes":
                total = self.quoted_minutes()
            else:
                total = self.quoted_mean() if what == "mean" else self.columns.total(what)
            least, most = model.bounds(total)
            if least >= figure:
                self._below[key] = Linear()
            else:
                literal = Linear({model.column("b"): 1})
                model.add(total.copy().add(literal, most - figure + 1), None, most, CUT)
                self._below[key] = literal
        return self._below[key]

    def _new(self, *key: object) -> bool:
        fresh = key not in self._known
        self._known.add(key)
        return fresh

    def _one_set(
        self, column: Linear, chosen: tuple[str, ...], value: int, relevant: set[str], up: bool
    ) -> None:
        """column >= value unless an upgrade of the set is dropped (or, unless ``up``, one is added)."""
        if not self._new("set", *column.terms, chosen, value):
            raise EngineError(f"an engine broke a row of its own on the set {', '.join(chosen)}")
        least = self.columns.model.bounds(column)[0]
        row = column.copy()
        for upgrade, position in self.columns.members.items():
            if upgrade not in relevant:
                continue
            if upgrade in chosen:
                row.constant += value - least
                row.add(Linear({position: -1}), value - least)
            elif not up:
                row.add(Linear({position: 1}), value - least)
        self.columns.model.add(row, value, None, CUT)


def _widens(piece: CostPiece) -> bool:
    """Whether a piece never makes the time surer."""
    return all(value >= 0 for value in spreads_of(piece).values())


def _first(reached: Callable[[int], bool], known: int) -> int:
    """The smallest whole number from 0 to ``known`` (where it holds) at which a monotone test holds."""
    low, high = 0, known
    while low < high:
        middle = (low + high) // 2
        if reached(middle):
            high = middle
        else:
            low = middle + 1
    return low
