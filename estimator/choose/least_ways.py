"""What work takes at least, whichever way it is done: a floor under every set, with one way a task.

Of each demand on a task whose way is open it is reckoned what its ways take at least, figure by figure, without
pricing them: what a unit takes and the set-up are those of the rows, what may be otherwise by some way is left out.
No set, done whatever ways, takes less than here of anything that an aim or a limit turns on. So a set that comes to
more here than another truly does is no better than that one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_CEILING, Decimal
from functools import cached_property
from math import prod

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.costing import Costing, Rank
from estimator.estimate.factors import Instrument, chip_odds, run_factors
from estimator.estimate.labour import Setting, setup_line, with_allowance
from estimator.estimate.rework import expected_rework, rework_odds
from estimator.estimate.three_point import mean_of, sd_of
from estimator.estimate.tools.wear import price_and_life
from estimator.estimate.ways import Ask, PricedWay, same_rank
from estimator.model import Demand, Money, Task, Use, WorkLine
from estimator.tables.counts import kinds_of
from estimator.tables.methods import done_by, used_by, worn_by

NOTHING, ZERO, ONE = Hundredths(0), Decimal(0), Decimal(1)
CRUMB = Decimal("1e-7")
"""Of a minute or a cent: more than the last figure of a quotient can take off."""
HUNDREDTH = Decimal("0.01")
"""Of a minute, by which two runs may differ that are alike when rounded."""
HAIR = 1e-9
"""Share by which a spread, which is a float, is taken lower than it is worked out."""
BY_FACTORS = ("wood", "nut")
"""What a tool wears by that the factors of the work tell."""


class _Unit(Struct, frozen=True):
    """What a unit of a task takes by a way: minutes on average and their spread, and the multiple of its odds of rework."""

    minutes: Decimal
    spread: Decimal
    chips: Decimal


class _Way(Struct, frozen=True):
    """A way as its rows have it. ``setup`` in minutes, and ``again`` for a further sitting, allowance included.

    ``setup_cost`` in cents.
    ``used`` and ``worn``: of each consumable and tool that it takes otherwise the share of what is taken now.
    ``new``: cents of what it takes besides for a unit, as far as that hangs on nothing else.
    """

    row: Task
    skill: int
    setup: Decimal
    setup_cost: Decimal
    again: Decimal
    used: Mapping[str, Decimal]
    worn: Mapping[str, Decimal]
    new: Decimal


class _Taken(Struct, frozen=True):
    """What the run of a demand takes at least by a way: its minutes, the same with rework, cents, and its spread.

    ``used``: cents of ``cost`` that are used up and charged by use. ``sells``: whether it takes all that it sells.
    """

    ask: Ask
    way: _Way
    spent: Decimal
    minutes: Decimal
    cost: Decimal
    used: Decimal
    spread: Decimal
    sells: bool


class _Rows(Struct, frozen=True, dict=True):
    """A task with all its open ways; ``base`` is the work as it is reckoned with.

    ``alike``: whether all ways turn on the same factors. ``allowed``: standard minutes to a normal one.
    """

    base: PricedWay
    ways: tuple[_Way, ...]
    alike: bool
    allowed: Decimal
    known: dict[tuple[tuple[str, str], ...], tuple[_Unit, ...]] = field(default_factory=dict)
    _taken: dict[int, tuple[_Taken, ...]] = field(default_factory=dict)
    _least: dict[tuple[int, bool], tuple[object, tuple[Rank, ...] | None]] = field(default_factory=dict)

    @property
    def setting(self) -> Setting:
        """What prices the work."""
        return self.base.setting

    def look_at_all(self) -> None:
        """Work out of every demand what it takes, so that nothing of the instrument is read any more."""
        for asks in self.base.asks.values():
            for ask in asks:
                self.taken(ask)

    def least_ranks(self, place: str, ranks: tuple[Rank, ...], alone: bool) -> tuple[Rank, ...] | None:
        """The ranks of a place at the least of all ways (``_least_ranks``); of the same ranks once."""
        key = id(ranks), alone
        if key not in self._least:
            self._least[key] = ranks, _least_ranks(self, self.base.asks[place], ranks, alone)
        return self._least[key][1]

    @cached_property
    def most_minutes(self) -> Hundredths:
        """What the task takes at the most, at all its places together."""
        faults = self.setting.hidden_faults
        most = max(way.setup for way in self.ways) * (1 + faults)
        for asks in self.base.asks.values():
            taken = (each for ask in asks for each in self.taken(ask))
            # each line is rounded by itself: its minutes, its rework and what is held for faults
            most += max(each.minutes + each.spent * faults for each in taken) + 2 * HUNDREDTH
        return Hundredths(int(100 * most) + 1)

    def units(self, demand: Demand) -> tuple[_Unit, ...]:
        """What a unit of a demand takes, by way."""
        levels = tuple(sorted(demand.levels.items()))
        if levels not in self.known:
            # most ways turn on the same factors
            times: dict[object, Decimal] = {}
            self.known[levels] = tuple(self._unit(way, demand.levels, times) for way in self.ways)
        return self.known[levels]

    def _unit(self, way: _Way, levels: Mapping[str, str], known: dict[object, Decimal]) -> _Unit:
        shop, instrument, row = self.setting.shop, self.setting.instrument, way.row
        key = row.factors, way.skill, row.beginner_factor
        if key not in known:
            factors = run_factors(row, shop, instrument, levels, way.skill)
            known[key] = prod((factor.times for factor in factors), start=self.allowed)
        times = known[key]
        low, likely, high, reading = row.run_min_low, row.run_min_likely, row.run_min_high, row.reading
        mean, spread = mean_of(low, likely, high, reading), sd_of(low, high, reading)
        return _Unit(times * mean, times * spread, chip_odds(row, shop, instrument, levels))

    def taken(self, ask: Ask) -> tuple[_Taken, ...]:
        """What a demand takes at least, by way; of all who ask for the same once."""
        key = id(ask.line)
        if key not in self._taken:
            ways = zip(self.ways, self.units(ask.demand), strict=True)
            self._taken[key] = tuple(self._taken_by(way, unit, ask) for way, unit in ways)
        return self._taken[key]

    def _taken_by(self, way: _Way, unit: _Unit, ask: Ask) -> _Taken:
        demand, setting, row = ask.demand, self.setting, way.row
        units = demand.quantity * demand.share
        run = unit.minutes * units + demand.extra_min * self.allowed
        minutes = spent = run + way.again if demand.setup_share else run
        more = setting.more_odds(row)
        if row.rework_pct or demand.extra_rework_pct or more:
            odds = rework_odds(row, demand, unit.chips, way.skill, setting.terms, more)
            minutes += expected_rework(row, demand, odds, run, ZERO, ZERO, setting.terms).minutes
        used, things, sells = self._things(ask.line, way)
        hours = (minutes + spent * setting.hidden_faults) * (setting.wage + setting.overhead) / 60
        cost = 100 * (hours + things) + demand.quantity * way.new
        spread = unit.spread * units * (ask.line.widening if self.alike else ONE)
        return _Taken(ask, way, spent, minutes, cost, used, spread, sells)

    def _things(self, line: WorkLine, way: _Way) -> tuple[Decimal, Decimal, bool]:
        """What a line takes of what it takes now: cents charged by use, all of it in units of money; ``sells``."""
        shop, whole = self.setting.shop, self.setting.whole_packs
        used = things = ZERO
        sells = True
        for use in line.consumables:
            item, share = shop.consumables[use.id], way.used.get(use.id, ONE)
            if item.billed_as == "part":
                things += use.cost * share
                sells = sells and share >= 1
            elif not (whole and item.by_the_pack):
                used += use.cost * share
        for use in line.tools:
            if self.alike or shop.tools[use.id].wear_by not in BY_FACTORS:
                things += use.cost * way.worn.get(use.id, ONE)
        return 100 * used, used + things, sells


class LeastWays(Struct, frozen=True, dict=True):
    """What the work of a costing, done the first of the ``methods`` open for each task, takes at least by any of them."""

    costing: Costing
    methods: Mapping[str, Sequence[str]]

    @cached_property
    def _rows(self) -> dict[str, _Rows]:
        work = self.costing.in_more_ways
        return {task: _known_rows(work[task], of) for task, of in self.methods.items() if task in work}

    @cached_property
    def costed(self) -> Costing | None:
        """The costing with all that is open at its least; its lines are good for sums alone.

        None where that is not to be said: of an order with freight, which one pack more can make cheaper, and where
        by another way a larger demand may be a smaller one, and take off another mass.
        """
        costing = self.costing
        if costing.baskets is not None:
            return None
        ranks, setups = dict(costing.ranks), dict(costing.setups)
        for task, rows in self._rows.items():
            asks = rows.base.asks
            # set-up and work that are always done together have a least together
            alone = len(asks) == 1 and task not in costing.setup_terms
            for place in asks:
                least = rows.least_ranks(place, costing.ranks[task, place], alone)
                if least is None:
                    return None
                ranks[task, place] = least
            line, triggers = costing.setups[task]
            setups[task] = _least_setup(rows, line, alone), triggers
        return replace(costing, ranks=ranks, setups=setups)

    @property
    def most_minutes(self) -> Hundredths:
        """No less than all work at the bench takes in any set, done whichever way: reserve included."""
        costing, total = self.costing, NOTHING
        for task in costing.setups:
            most = costing.most_minutes(task)
            if task in self._rows and task not in costing.desk_tasks:
                most = max(most, self._rows[task].most_minutes)
            total += most
        return total


def _known_rows(base: PricedWay, methods: Sequence[str]) -> _Rows:
    """A task with its open ways, told once for the same demands where what was priced is kept."""
    setting = base.setting
    if setting.lines is None:
        return _rows_of(base, methods)
    shop = setting.shop
    odds = setting.more_odds(shop.tasks[base.task])
    # what is kept keeps the demands it was told of, so none of theirs is another's identity
    rates = setting.wage, setting.overhead, setting.batch
    key = base.task, base.method, tuple(methods), id(base.asks), setting.worked_by, odds, rates

    def told(instrument: Instrument) -> _Rows:
        # without the lines that keep it, of which it would be part of a circle
        alone = replace(setting, instrument=instrument, lines=None)
        rows = _rows_of(replace(base, setting=alone), methods)
        rows.look_at_all()
        return rows

    known: _Rows = setting.lines.least.of(key, setting.instrument, told)
    return known


def _rows_of(base: PricedWay, methods: Sequence[str]) -> _Rows:
    setting, shop = base.setting, base.setting.shop
    first, known = shop.tasks[base.task], shop.ways.methods[base.task]
    allowed = with_allowance(ONE, setting.terms)
    hour = 100 * (setting.wage + setting.overhead) / 60 * (1 + setting.hidden_faults)
    used = shop.task_consumables.get(base.task, ())
    tools = _as_rows(shop.task_tools.get(base.task, ()))
    ways = []
    for method in methods:
        row = done_by(first, known[method])
        there = used_by(shop, base.task, method)
        wearing = _as_rows(worn_by(shop, base.task, method))
        ways.append(
            _Way(
                row,
                setting.skill_for(row),
                row.setup_min * allowed,
                row.setup_min * allowed * hour,
                row.setup_min * row.repeat_share * allowed,
                _shares(used, there),
                _shares(tools, wearing),
                _new(setting, row, _besides(used, there), _besides(tools, wearing)),
            )
        )
    return _Rows(base, tuple(ways), len({way.row.factors for way in ways}) == 1, allowed)


Row = tuple[str, Decimal, str]
"""What a unit of work takes: the name of a thing, how much of it, and on which instruments."""


def _as_rows(tools: Iterable[tuple[str, Decimal]]) -> list[Row]:
    return [(name, uses, "") for name, uses in tools]


def _shares(now: Iterable[Row], there: Iterable[Row]) -> dict[str, Decimal]:
    """By thing that is taken otherwise there the share of what is taken now, the least for any instrument."""
    each = {(name, family): amount for name, amount, family in there}
    shares: dict[str, Decimal] = {}
    for name, amount, family in now:
        share = each.get((name, family), ZERO) / amount if amount else ONE
        if share != 1:
            shares[name] = min(shares.get(name, share), share)
    return shares


def _besides(now: Iterable[Row], there: Iterable[Row]) -> list[Row]:
    known = {(name, family) for name, _, family in now}
    return [row for row in there if (row[0], row[2]) not in known]


def _new(setting: Setting, row: Task, used: Sequence[Row], worn: Sequence[Row]) -> Decimal:
    """Cents of what a way takes besides for a unit, as far as nothing else multiplies it."""
    shop, total = setting.shop, ZERO
    kinds = kinds_of(setting.family, setting.instrument, {family for _, _, family in used}) if used else ()
    for name, amount, family in used:
        item = shop.consumables[name]
        by_pack = setting.whole_packs and item.by_the_pack
        if (
            family in kinds
            and row.driver != "coat"
            and not (by_pack or (item.abrasive and row.group == "frets"))
        ):
            total += amount * item.price / item.units_per_pack
    for name, amount, _ in worn:
        wear_by = shop.tools[name].wear_by
        if wear_by not in BY_FACTORS and not (wear_by == "metal" and row.group == "frets"):
            price, life = price_and_life(shop.tools[name])
            total += amount * price / life
    return 100 * total


def _least_setup(rows: _Rows, line: WorkLine, alone: bool) -> WorkLine:
    ways = [setup_line(way.row, rows.setting) for way in rows.ways]
    let_off = min(way.money.price_work for way in ways)
    if alone:
        return replace(line, setup=NOTHING, allowance=NOTHING, money=Money(price_work=let_off))
    return replace(
        line,
        setup=min(way.setup for way in ways),
        allowance=min(way.allowance for way in ways),
        money=Money(labour=min(way.money.cost for way in ways), price_work=let_off),
    )


def _least_ranks(
    rows: _Rows, asks: Sequence[Ask], ranks: Sequence[Rank], alone: bool
) -> tuple[Rank, ...] | None:
    """The ranks of a place at the least of all ways; None where the mass taken off there may hang on the way.

    By another way the order may be another: what is done is then the work of one who asks for no more than here, and
    by that way for no less time than whoever is of this rank.
    """
    by_line = {id(ask.line): ask for ask in asks}
    by_rank: dict[object, list[tuple[_Taken, ...]]] = {}
    for ask in by_line.values():
        by_rank.setdefault(same_rank(ask.line), []).append(rows.taken(ask))
    found, below = list[Rank](), list[tuple[_Taken, ...]]()
    for rank in ranks:
        if rank.needless:
            found.append(rank)
            continue
        here = by_rank[same_rank(rank.line)]
        below += here
        done = list(_may_be_done(here, below))
        if any(taken.ask.line.mass_g != rank.line.mass_g for taken in done):
            return None
        found.append(replace(rank, line=_least_line(rows, rank.line, done, alone)))
    return tuple(found)


def _may_be_done(here: Sequence[tuple[_Taken, ...]], below: Sequence[tuple[_Taken, ...]]) -> Iterator[_Taken]:
    """By each way the demands that may be the largest where one of those ``here`` is, and none but those ``below``."""
    for way, mine in enumerate(zip(*here, strict=True)):
        least = min(taken.spent for taken in mine) - HUNDREDTH
        for demand in below:
            if demand[way].spent >= least:
                yield demand[way]


def _least_line(rows: _Rows, line: WorkLine, done: Sequence[_Taken], alone: bool) -> WorkLine:
    """A line with the least of several in every figure that is added up; its set-up with it where it is ``alone``."""
    # each is rounded by itself, and the set-up too: the hours, the overhead and the reserve, what is used up and worn
    times, set_up = (2, 1) if alone else (1, 0)
    faults = min(taken.spent + set_up * taken.way.setup for taken in done) * rows.setting.hidden_faults
    minutes = min(taken.minutes + set_up * taken.way.setup for taken in done)
    cost = _rounded(min(taken.cost + set_up * taken.way.setup_cost for taken in done), 3 * times + 3)
    used = _rounded(min(taken.used for taken in done), 1)
    sold = [taken.ask.line.money if taken.sells else Money() for taken in done]
    return replace(
        line,
        minutes=Hundredths(_rounded(100 * minutes, times + 1)),
        rework=NOTHING,
        rework_odds=ZERO,
        allowance=Hundredths(_rounded(100 * faults, times)),
        sd=max(0.0, float(min(taken.spread for taken in done)) * (1 - HAIR)),
        money=Money(
            consumables=Cents(used),
            labour=Cents(cost - used),
            price_parts=min(money.price_parts for money in sold),
            cash=min(money.cash for money in sold),
            line_tax=min(money.line_tax for money in sold),
        ),
        consumables=_least_uses(line, done),
    )


def _rounded(value: Decimal, times: int) -> int:
    """No more than so many numbers that add up to ``value`` come to, each rounded half up to a whole one."""
    return int((value - CRUMB - Decimal(times) / 2).to_integral_value(ROUND_CEILING))


def _least_uses(line: WorkLine, done: Sequence[_Taken]) -> tuple[Use, ...]:
    """Of what a line uses up the least that is taken of each thing."""
    if not line.consumables or all(taken.ask.line is line and not taken.way.used for taken in done):
        return line.consumables
    least: list[Use] = []
    for use in line.consumables:
        quantity = min(
            sum((u.quantity for u in taken.ask.line.consumables if u.id == use.id), ZERO)
            * taken.way.used.get(use.id, ONE)
            for taken in done
        )
        if quantity and use.id not in (known.id for known in least):
            least.append(replace(use, quantity=quantity))
    return tuple(least)
