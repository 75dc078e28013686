"""Upgrade sets to priced work: the atoms of a job, and the estimate of any set of upgrades.

An atom counts once when any of its triggers is chosen. The same task at the same place is done once,
for the largest demand on it: the demands on a place are ranked by run time, and each rank is an atom
holding what it adds to the rank below, triggered by every upgrade that asks for so much or more.
Adding up atoms is therefore the whole estimate, and the optimiser adds up the same atoms. Only what is
bought by the pack, or beyond what is in stock, is no sum of atoms: ``packs`` holds it, and the optimiser
counts the same packs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import cached_property
from math import floor

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths, TenthGrams
from estimator.core.money import cents
from estimator.estimate.commission import Price, price_of
from estimator.estimate.freight import NOTHING, Order, baskets_of, cheapest_order, wanted_of
from estimator.estimate.labour import Setting
from estimator.estimate.packs import is_shared, packs_bought, packs_of
from estimator.estimate.tax import TaxLine, tax_of
from estimator.estimate.three_point import joint_sd, z_of
from estimator.estimate.ways import PricedWay, Triggers, and_way, methods_in, times, worth_keeping
from estimator.model import (
    Atom,
    Baskets,
    Demand,
    Estimate,
    Job,
    Money,
    Packs,
    PartLine,
    Shop,
    Totals,
    WorkLine,
    add_up,
)

EIGHTY = Decimal(80)
TimedTriggers = tuple[Triggers, Hundredths]
"""Hundredths of a minute and what they count for."""


NO_WORK = WorkLine(
    task="",
    place="",
    quantity=Decimal(0),
    because=(),
    factors=(),
    setup=Hundredths(0),
    minutes=Hundredths(0),
    low=Decimal(0),
    likely=Decimal(0),
    high=Decimal(0),
    sd=0.0,
    rework=Hundredths(0),
    allowance=Hundredths(0),
    wait=Hundredths(0),
    money=Money(),
    mass_g=Decimal(0),
    consumables=(),
    tools=(),
)
"""What is below the first rank of a task at a place."""


class Rank(Struct, frozen=True):
    """One demand level on a place: the priced line, who asks for so much or more, and for what.

    ``demand`` and ``part_price`` are what the line was priced from. ``needless``: where an upgrade makes
    the work needless, the last rank takes all of it off again.
    """

    line: WorkLine
    triggers: Triggers
    wanted_by: tuple[tuple[str, str], ...]
    demand: Demand
    part_price: Decimal
    needless: bool = False


class OpenWay(Struct, frozen=True):
    """A way to do a task that may be taken instead of the one reckoned with; named like an upgrade, ``task=method``.

    ``asked_by``: who asks for the task anywhere (None: it is always done); ``setup_terms`` and ``ranks`` as
    those of ``Costing``, for this way.
    """

    id: str
    task: str
    method: str
    asked_by: Triggers
    setup: WorkLine
    setup_terms: tuple[tuple[Triggers, int], ...]
    ranks: Mapping[str, tuple[Rank, ...]]


def tenths_of(grams: Decimal) -> TenthGrams:
    """Grams in whole tenths, half up: what is lighter is not rounded otherwise than what is heavier."""
    return TenthGrams(int((grams * 10).to_integral_value(ROUND_HALF_UP)))


class Costing(Struct, frozen=True, dict=True):
    """Everything priced for one job: ranks per (task, place), set-ups, parts, atoms.

    ``setup_terms``: where work of a task may become needless, how often its set-up counts (once more or
    once less) when any of some triggers is chosen; a task that is not in it is set up for any of its own.
    ``ways``: other ways to do a task that may be members of a set; ``priced_ways``, by task: the way reckoned
    with and the others, as they were weighed against each other. ``in_more_ways``, by task that could be done
    another way too: the work as it is reckoned with.
    """

    shop: Shop
    job: Job
    setting: Setting
    ranks: dict[tuple[str, str], tuple[Rank, ...]]
    setups: dict[str, tuple[WorkLine, Triggers]]
    parts: dict[str, PartLine]
    mass: dict[str, Decimal]
    desk_tasks: frozenset[str]
    setup_terms: Mapping[str, tuple[tuple[Triggers, int], ...]] = field(default_factory=dict)
    ways: tuple[OpenWay, ...] = ()
    priced_ways: Mapping[str, tuple[PricedWay, ...]] = field(default_factory=dict)
    in_more_ways: Mapping[str, PricedWay] = field(default_factory=dict)
    #: lists of atoms that were made before, by what they are made of, which is kept beside them
    _made: dict[tuple[object, ...], tuple[object, list[Atom]]] = field(default_factory=dict)

    @cached_property
    def atoms(self) -> tuple[Atom, ...]:
        """All atoms of the job, in a fixed order."""
        ways = (
            self._once((way.id, id(way), id(of)), (way, of), self._way_atoms(way))
            for way in self.ways
            for of in (self.setups[way.task],)
        )
        own = (*self._setup_atoms(), *self._run_atoms(), *self._part_atoms())
        return (*own, *(atom for of in ways for atom in of))

    def _once(self, key: tuple[object, ...], of: object, atoms: Iterable[Atom]) -> list[Atom]:
        """Atoms made once for what they are ``of``; the key says which that is, by its identity."""
        if key not in self._made:
            self._made[key] = of, list(atoms)
        return self._made[key][1]

    def own_atoms_of(self, task: str) -> list[Atom]:
        """The atoms of a task as it is reckoned with, its set-up first."""
        line, widest = self.setups[task]
        found = list(self._setup_of(task, line, self.setup_terms.get(task, ((widest, 1),))))
        for place, ranks in self._places[task]:
            found.extend(self._run_of(task, place, ranks))
        return found

    @cached_property
    def _places(self) -> Mapping[str, list[tuple[str, tuple[Rank, ...]]]]:
        """By task its places, with the ranks of each."""
        found: dict[str, list[tuple[str, tuple[Rank, ...]]]] = {task: [] for task in self.setups}
        for (task, place), ranks in self.ranks.items():
            found[task].append((place, ranks))
        return found

    def most_minutes(self, task: str) -> Hundredths:
        """No less than what a task takes in any set, done whichever way: hundredths of a minute, reserve included."""
        if task in self.desk_tasks:
            return Hundredths(0)
        line, widest = self.setups[task]
        own = {"": _setup_minutes(line, self.setup_terms.get(task, ((widest, 1),)))}
        own |= {f"@{place}": _run_minutes(ranks) for place, ranks in self._places[task]}
        most = sum((max(Hundredths(0), taken) for of in own.values() for _, taken in of), Hundredths(0))
        for way in self.ways:
            if way.task == task:
                mine = {"": _setup_minutes(way.setup, way.setup_terms)}
                mine |= {f"@{place}": _run_minutes(ranks) for place, ranks in way.ranks.items()}
                most += sum((_most_more(mine[at], own[at], way) for at in mine), Hundredths(0))
        return most

    @cached_property
    def packs(self) -> tuple[Packs, ...]:
        """What is bought by the pack, and by which work."""
        return packs_of(self)

    @cached_property
    def baskets(self) -> Baskets | None:
        """What may be bought where; None where freight is not counted."""
        return baskets_of(self)

    def _setup_atoms(self) -> list[Atom]:
        atoms: list[Atom] = []
        for task, of in self.setups.items():
            made = self._setup_of(task, of[0], self.setup_terms.get(task, ((of[1], 1),)))
            atoms.extend(self._once((task, id(of)), of, made))
        return atoms

    def _setup_of(self, task: str, line: WorkLine, terms: Iterable[tuple[Triggers, int]]) -> Iterator[Atom]:
        desk = task in self.desk_tasks
        for number, (triggers, count) in enumerate(terms):
            yield Atom(
                id=f"setup:{task}@{number}" if number else f"setup:{task}",
                triggers=triggers,
                money=Money() if desk else times(line.money, count),
                minutes=Hundredths(0) if desk else count * line.setup,
                reserve_min=Hundredths(0) if desk else count * line.allowance,
                desk=count * line.setup if desk else Hundredths(0),
                faults=Hundredths(0) if desk else count * line.allowance,
                task=task,
            )

    def _run_atoms(self) -> list[Atom]:
        return [
            atom
            for (task, place), ranks in self.ranks.items()
            for atom in self._once((task, place, id(ranks)), ranks, self._run_of(task, place, ranks))
        ]

    def _run_of(self, task: str, place: str, ranks: Iterable[Rank]) -> Iterator[Atom]:
        less, none = NO_WORK, Hundredths(0)
        for number, rank in enumerate(ranks):
            line = rank.line
            desk = task in self.desk_tasks
            yield Atom(
                id=f"run:{task}@{place}:{number}",
                triggers=rank.triggers,
                money=Money() if desk else line.money - less.money,
                minutes=none if desk else line.minutes - less.minutes,
                reserve_min=none if desk else _reserve(line) - _reserve(less),
                wait=line.wait - less.wait,
                desk=line.minutes - less.minutes if desk else none,
                sd=0.0 if desk else line.sd - less.sd,
                line="" if desk else f"{task}@{place}",
                mass=tenths_of(line.mass_g) - tenths_of(less.mass_g),
                rework_sd=0.0 if desk else line.rework_sd - less.rework_sd,
                faults=none if desk else line.allowance - less.allowance,
                task=task,
                is_difference=number > 0,
            )
            less = line

    def _way_atoms(self, way: OpenWay) -> Iterator[Atom]:
        """What a task done a way takes more than as it is reckoned with, wherever the work is asked for."""
        task = way.task
        line, widest = self.setups[task]
        mine = list(self._setup_of(task, way.setup, way.setup_terms))
        theirs = list(self._setup_of(task, line, self.setup_terms.get(task, ((widest, 1),))))
        yield from _differences(f"way:{way.id}", mine, theirs, way)
        for place, ranks in way.ranks.items():
            mine = list(self._run_of(task, place, ranks))
            theirs = list(self._run_of(task, place, self.ranks[task, place]))
            yield from _differences(f"way:{way.id}@{place}", mine, theirs, way)

    def _part_atoms(self) -> list[Atom]:
        atoms = []
        for upgrade, part in self.parts.items():
            own = part.owner == "customer"
            cash = Cents(0) if own else part.cost
            if is_shared(part, self.job.stock):
                # its whole pieces are counted as packs are; what a workbook's edit adds to them is bought
                cash = cents(Decimal(part.unit_cost) / 100 * (part.quantity % 1))
            atoms.append(
                Atom(
                    id=f"part:{upgrade}",
                    triggers=frozenset({upgrade}),
                    money=Money(
                        parts=part.cost,
                        price_parts=part.price,
                        cash=cash,
                        price_work=part.fitting,
                        line_tax=tax_of([TaxLine(part.price, self.shop.terms.tax_parts)]),
                    ),
                    part_of=upgrade,
                )
            )
        for upgrade, grams in self.mass.items():
            if grams:
                triggers = frozenset({upgrade})
                atoms.append(Atom(f"mass:{upgrade}", triggers, Money(), mass=tenths_of(grams)))
        return atoms

    @property
    def most_spreads(self) -> float:
        """The largest factor at which a spread of this job is held, by a limit or a quote."""
        skew = self.shop.terms.skew
        return max(0.0, z_of(self.job.budget.surety, skew), z_of(self.quote_surety, skew))

    def with_ways_for(
        self, counted: Collection[str], strictly: str = "", tasks: Collection[str] | None = None
    ) -> Costing:
        """The costing without the ways that can be best for nothing where only some figures count.

        ``strictly``: see ``worth_keeping``. ``tasks``: of which they are left out, if not of all.
        """
        kept = {
            (task, way.method)
            for task, ways in self.priced_ways.items()
            for way in (
                worth_keeping(ways, counted, self.most_spreads, strictly)
                if tasks is None or task in tasks
                else ways
            )
        }
        return replace(self, ways=tuple(way for way in self.ways if (way.task, way.method) in kept))

    def with_ways(self, chosen: Collection[str]) -> frozenset[str]:
        """A set without the ways to do what nobody in it asks for."""
        unasked = {
            way.id
            for way in self.ways
            if way.id in chosen and way.asked_by is not None and way.asked_by.isdisjoint(chosen)
        }
        return frozenset(chosen) - unasked

    def cheapest_ways(self, chosen: Collection[str]) -> dict[str, str]:
        """By task the way that costs the shop least for a set of upgrades; those of the ways reckoned with left out.

        Tasks share nothing but packs, so each is settled by itself, again and again until none gets cheaper.
        """
        by_task: dict[str, list[str]] = {}
        for way in self.ways:
            by_task.setdefault(way.task, []).append(way.id)
        held = set(chosen)
        cents = self.estimate(held).totals.cost
        changed = bool(by_task)
        while changed:
            changed = False
            for ways in by_task.values():
                others = held - set(ways)
                for one in (others, *(others | {way} for way in ways)):
                    cost = self.estimate(one).totals.cost
                    if cost < cents:
                        held, cents, changed = one, cost, True
        return methods_in(self.with_ways(held))

    def estimate(self, chosen: Collection[str]) -> Estimate:
        """The priced work of a set of upgrade ids."""
        chosen_ids = self.with_ways(chosen)
        lines = self._lines(chosen_ids)
        parts = tuple(self.parts[u] for u in sorted(chosen_ids) if u in self.parts)
        active = [atom for atom in self.atoms if is_active(atom.triggers, chosen_ids)]
        mass = Decimal(sum((atom.mass for atom in active), TenthGrams(0))) / 10
        billed = tuple(line for line in lines if line.task not in self.desk_tasks)
        desk = tuple(line for line in lines if line.task in self.desk_tasks)
        return Estimate(tuple(sorted(chosen_ids)), billed, desk, parts, self.totals(active, chosen_ids), mass)

    def totals_of(self, chosen: Collection[str]) -> Totals:
        """The totals of a set of upgrade ids, without its lines."""
        chosen_ids = self.with_ways(chosen)
        return self.totals([atom for atom in self.atoms if is_active(atom.triggers, chosen_ids)], chosen_ids)

    def packs_for(self, chosen: Collection[str]) -> dict[str, int]:
        """Whole packs to buy for a set of upgrades, by consumable; those of which none is bought left out."""
        bought = {packs.consumable: packs_bought(packs, chosen) for packs in self.packs if not packs.part}
        return {name: number for name, number in bought.items() if number}

    def order_for(self, chosen: Collection[str]) -> Order:
        """Where to buy what a set of upgrades takes; nothing where freight is not counted."""
        if self.baskets is None:
            return NOTHING
        return cheapest_order(self.baskets, wanted_of(self.baskets, self.packs, chosen))

    def totals(self, active: list[Atom], chosen: Collection[str]) -> Totals:
        """Active atoms, packs and freight added up, with spread, surety and price."""
        extra = self.order_for(chosen).extra
        paid = [(packs_bought(packs, chosen) * packs.cents, packs.in_cost) for packs in self.packs]
        money = add_up(
            (
                Money(
                    consumables=sum((cents for cents, in_cost in paid if in_cost), Cents(0)),
                    cash=sum((cents for cents, _ in paid), extra),
                    freight=extra,
                ),
                *(atom.money for atom in active),
            )
        )
        spreads: dict[str, float] = {}
        rework: dict[str, float] = {}
        for atom in active:
            if atom.line:
                spreads[atom.line] = spreads.get(atom.line, 0.0) + atom.sd
                rework[atom.line] = rework.get(atom.line, 0.0) + atom.rework_sd
        attended = sum((atom.minutes for atom in active), Hundredths(0))
        reserve = sum((atom.reserve_min for atom in active), Hundredths(0))
        faults = sum((atom.faults for atom in active), Hundredths(0)) / 100.0
        terms = self.shop.terms
        sd = joint_sd(spreads.values(), float(terms.shared_cause), rework.values(), faults)
        surety = self.quote_surety
        quoted_mean, quoted_sd = attended + reserve, sd
        if not terms.faults_priced:
            quoted_mean -= sum((atom.faults for atom in active), Hundredths(0))
            quoted_sd = joint_sd(spreads.values(), float(terms.shared_cause), rework.values())
        at_surety = surety_minutes(quoted_mean, quoted_sd, z_of(surety, terms.skew))
        at_mean = quoted_mean < self.large_from
        quoted = quoted_minutes(quoted_mean, at_surety, self.large_from)
        price = self.price(quoted, money)
        return Totals(
            money=money,
            attended=attended,
            reserve_min=reserve,
            unattended=sum((atom.wait for atom in active), Hundredths(0)),
            desk=sum((atom.desk for atom in active), Hundredths(0)),
            sd=sd,
            p80=surety_minutes(attended + reserve, sd, z_of(EIGHTY, terms.skew)),
            surety=surety,
            surety_min=quoted,
            at_mean=at_mean,
            between=not at_mean and quoted < at_surety,
            quoted_mean=quoted_mean,
            quoted_sd=quoted_sd,
            price=price.price,
            tax=price.tax,
            to_pay=price.to_pay,
            billed_min=price.billed_min,
        )

    @property
    def quote_surety(self) -> Decimal:
        """The surety at which hours are quoted: the job's own, else the shop's."""
        return self.job.budget.surety or self.shop.terms.surety

    @property
    def large_from(self) -> Hundredths:
        """Hundredths of a minute on average from which a quote is held at its surety; 0 if the job asks for one."""
        return Hundredths(0) if self.job.budget.surety is not None else self.shop.terms.large_quote

    def price(self, minutes: Hundredths, money: Money, least: bool = True) -> Price:
        """What a customer would be charged for quoted minutes and money; see ``estimate.commission``.

        ``least``: whether the least charge of the shop counts.
        """
        return price_of(minutes, money, self.shop.terms, self.job.terms, least)

    def _lines(self, chosen: frozenset[str]) -> tuple[WorkLine, ...]:
        lines: list[WorkLine] = []
        set_up: set[str] = set()
        for (task, _), ranks in self.ranks.items():
            active = [rank for rank in ranks if is_active(rank.triggers, chosen)]
            if not active or active[-1].needless:
                continue
            line = active[-1].line
            # only the demand that is met in full gives the reason, not those it outgrows
            reasons = dict.fromkeys(why for who, why in active[-1].wanted_by if not who or who in chosen)
            setup = None if task in set_up else self.setups[task][0]
            set_up.add(task)
            line = replace(line, because=tuple(reasons))
            lines.append(_with_setup(line, setup) if setup else line)
        return tuple(lines)


def _differences(name: str, mine: Iterable[Atom], theirs: Iterable[Atom], way: OpenWay) -> Iterator[Atom]:
    """The atoms of a way less those it takes the place of, each where its triggers and the way are chosen."""
    by_triggers: dict[Triggers, Atom] = {}
    for atoms, sign in ((mine, 1), (theirs, -1)):
        for atom in atoms:
            for triggers, count in and_way(atom.triggers, way.id, way.asked_by):
                before = by_triggers.get(triggers) or Atom("", triggers, Money(), line=atom.line)
                by_triggers[triggers] = _added(before, atom, sign * count)
    for number, (triggers, atom) in enumerate(by_triggers.items()):
        if atom != Atom("", triggers, Money(), line=atom.line):
            yield replace(atom, id=f"{name}:{number}", is_difference=True)


ADDED = ("minutes", "reserve_min", "wait", "desk", "mass", "faults", "sd", "rework_sd")
"""Figures of an atom that are added up, besides its money."""


def _added(atom: Atom, other: Atom, count: int) -> Atom:
    summed = {name: getattr(atom, name) + count * getattr(other, name) for name in ADDED}
    return replace(atom, money=atom.money + times(other.money, count), **summed)


def _with_setup(line: WorkLine, setup: WorkLine) -> WorkLine:
    return replace(
        line,
        setup=setup.setup,
        allowance=line.allowance + setup.allowance,
        low=line.low + setup.low,
        likely=line.likely + setup.likely,
        high=line.high + setup.high,
        money=line.money + setup.money,
        warranty=line.warranty + setup.warranty,
    )


def _setup_minutes(line: WorkLine, terms: Iterable[tuple[Triggers, int]]) -> list[TimedTriggers]:
    return [(triggers, count * (line.setup + line.allowance)) for triggers, count in terms]


def _run_minutes(ranks: Iterable[Rank]) -> list[TimedTriggers]:
    found, below = [], Hundredths(0)
    for rank in ranks:
        taken = rank.line.minutes + _reserve(rank.line)
        found.append((rank.triggers, taken - below))
        below = taken
    return found


def _most_more(mine: Sequence[TimedTriggers], theirs: Sequence[TimedTriggers], way: OpenWay) -> Hundredths:
    """The sum of all that a way adds anywhere to the minutes of what it takes the place of."""
    more: dict[Triggers, Hundredths] = {}
    for of, sign in ((mine, 1), (theirs, -1)):
        for who, minutes in of:
            for triggers, count in and_way(who, way.id, way.asked_by):
                more[triggers] = more.get(triggers, Hundredths(0)) + sign * count * minutes
    return sum((max(Hundredths(0), minutes) for minutes in more.values()), Hundredths(0))


def _reserve(line: WorkLine) -> Hundredths:
    return line.rework + line.allowance


def is_active(triggers: Triggers, chosen: frozenset[str]) -> bool:
    """Whether an atom with these triggers counts for a set."""
    return triggers is None or not triggers.isdisjoint(chosen)


def quoted_minutes(mean: Hundredths, at_surety: Hundredths, large_from: Hundredths) -> Hundredths:
    """Hundredths of a minute that a customer is quoted, from the mean and from what is enough at the surety.

    Below ``large_from`` the mean. From there on each minute of the mean brings one more towards the surety,
    until that is reached: the quote never falls as work is added, and never leaps. 0: always the surety.
    """
    if not large_from:
        return at_surety
    return mean if mean < large_from else min(at_surety, 2 * mean - large_from)


def surety_minutes(expected: Hundredths, sd: float, z: float) -> Hundredths:
    """Hundredths of a minute that are enough at a surety: mean + z x spread, rounded to the hundredth."""
    return Hundredths(floor(expected + z * sd * 100 + 0.5))
