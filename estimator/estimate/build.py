"""Upgrade sets to priced work: the atoms of a job, and the estimate of any set of upgrades.

An atom counts once when any of its triggers is chosen. The same task at the same place is done once,
for the largest demand on it: the demands on a place are ranked by run time, and each rank is an atom
holding what it adds to the rank below, triggered by every upgrade that asks for so much or more.
Adding up atoms is therefore the whole estimate, and the optimiser adds up the same atoms.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from math import floor

from estimator.estimate.labour import Setting, run_line, setup_line
from estimator.estimate.markup import marked_up
from estimator.estimate.money import cents, times_rate
from estimator.estimate.packs import pack_atoms
from estimator.estimate.spread import joint_sd, z_of
from estimator.model import Atom, Demand, Estimate, Job, Money, PartLine, Shop, Task, Totals, Verdict, WorkLine
from estimator.price.commission import Price, price_of

Triggers = frozenset[str] | None
EIGHTY = Decimal(80)


@dataclass(frozen=True, slots=True)
class Rank:
    """One demand level on a place: the priced line, who asks for so much or more, and for what.

    ``demand`` and ``part_price`` are what the line was priced from.
    """

    line: WorkLine
    triggers: Triggers
    wanted_by: tuple[tuple[str, str], ...]
    demand: Demand
    part_price: Decimal


@dataclass(frozen=True)
class Costing:
    """Everything priced for one job: ranks per (task, place), set-ups, parts, atoms."""

    shop: Shop
    job: Job
    setting: Setting
    ranks: dict[tuple[str, str], tuple[Rank, ...]]
    setups: dict[str, tuple[WorkLine, Triggers]]
    parts: dict[str, PartLine]
    mass: dict[str, Decimal]
    desk_tasks: frozenset[str]

    @cached_property
    def atoms(self) -> tuple[Atom, ...]:
        """All atoms of the job, in a fixed order."""
        return (*self._setup_atoms(), *self._run_atoms(), *self._part_atoms(), *pack_atoms(self))

    def _setup_atoms(self) -> list[Atom]:
        atoms = []
        for task, (line, triggers) in self.setups.items():
            desk = task in self.desk_tasks
            atoms.append(
                Atom(
                    id=f"setup:{task}",
                    triggers=triggers,
                    money=Money() if desk else line.money,
                    minutes=0 if desk else line.setup,
                    reserve_min=0 if desk else line.allowance,
                    desk=line.setup if desk else 0,
                )
            )
        return atoms

    def _run_atoms(self) -> list[Atom]:
        atoms = []
        for (task, place), ranks in self.ranks.items():
            below: WorkLine | None = None
            for number, rank in enumerate(ranks):
                line = rank.line
                less = below or replace(
                    line, minutes=0, sd=0.0, rework=0, allowance=0, wait=0, money=Money(), mass_g=Decimal(0)
                )
                desk = task in self.desk_tasks
                atoms.append(
                    Atom(
                        id=f"run:{task}@{place}:{number}",
                        triggers=rank.triggers,
                        money=Money() if desk else line.money - less.money,
                        minutes=0 if desk else line.minutes - less.minutes,
                        reserve_min=0 if desk else _reserve(line) - _reserve(less),
                        wait=line.wait - less.wait,
                        desk=line.minutes - less.minutes if desk else 0,
                        sd=0.0 if desk else line.sd - less.sd,
                        line="" if desk else f"{task}@{place}",
                        mass=int((line.mass_g - less.mass_g) * 10),
                    )
                )
                below = line
        return atoms

    def _part_atoms(self) -> list[Atom]:
        atoms = []
        for upgrade, part in self.parts.items():
            own = part.owner == "customer"
            cash = 0 if own else self._cash_for(part)
            atoms.append(
                Atom(
                    id=f"part:{upgrade}",
                    triggers=frozenset({upgrade}),
                    money=Money(parts=part.cost, price_parts=part.price, cash=cash),
                )
            )
        for upgrade, grams in self.mass.items():
            if grams:
                triggers = frozenset({upgrade})
                atoms.append(Atom(f"mass:{upgrade}", triggers, Money(), mass=int(grams * 10)))
        return atoms

    def _cash_for(self, part: PartLine) -> int:
        owned = min(self.job.stock.get(part.part, Decimal(0)), part.quantity)
        return cents(Decimal(part.unit_cost) / 100 * (part.quantity - owned))

    def estimate(self, chosen: Collection[str]) -> Estimate:
        """The priced work of a set of upgrade ids."""
        chosen_ids = frozenset(chosen)
        lines = self._lines(chosen_ids)
        parts = tuple(self.parts[u] for u in sorted(chosen_ids) if u in self.parts)
        active = [atom for atom in self.atoms if is_active(atom.triggers, chosen_ids)]
        mass = Decimal(sum(atom.mass for atom in active)) / 10
        billed = tuple(line for line in lines if line.task not in self.desk_tasks)
        desk = tuple(line for line in lines if line.task in self.desk_tasks)
        return Estimate(tuple(sorted(chosen_ids)), billed, desk, parts, self.totals(active), mass)

    def totals(self, active: list[Atom]) -> Totals:
        """Active atoms added up, with spread, surety and price."""
        money = Money()
        spreads: dict[str, float] = {}
        for atom in active:
            money = money + atom.money
            if atom.line:
                spreads[atom.line] = spreads.get(atom.line, 0.0) + atom.sd
        attended = sum(atom.minutes for atom in active)
        reserve = sum(atom.reserve_min for atom in active)
        sd = joint_sd(spreads.values(), float(self.shop.terms.shared_cause))
        surety = self.quote_surety
        at_surety = surety_minutes(attended + reserve, sd, z_of(surety))
        price = self.price(at_surety, money.price_parts, money.consumables)
        return Totals(
            money=money,
            attended=attended,
            reserve_min=reserve,
            unattended=sum(atom.wait for atom in active),
            desk=sum(atom.desk for atom in active),
            sd=sd,
            p80=surety_minutes(attended + reserve, sd, z_of(EIGHTY)),
            surety=surety,
            surety_min=at_surety,
            price=price.price,
            tax=price.tax,
            to_pay=price.to_pay,
            billed_min=price.billed_min,
        )

    @property
    def quote_surety(self) -> Decimal:
        """The surety at which hours are quoted: the job's own, else the shop's."""
        return self.job.budget.surety or self.shop.terms.surety

    def price(self, minutes: int, price_parts: int, consumables: int) -> Price:
        """What a customer would be charged; see ``price.commission``."""
        return price_of(minutes, price_parts, consumables, self.shop.terms, self.job.settings)

    def _lines(self, chosen: frozenset[str]) -> tuple[WorkLine, ...]:
        lines: list[WorkLine] = []
        set_up: set[str] = set()
        for (task, _), ranks in self.ranks.items():
            active = [rank for rank in ranks if is_active(rank.triggers, chosen)]
            if not active:
                continue
            line = active[-1].line
            reasons = dict.fromkeys(
                why for rank in active for who, why in rank.wanted_by if not who or who in chosen
            )
            setup = None if task in set_up else self.setups[task][0]
            set_up.add(task)
            line = replace(line, because=tuple(reasons))
            lines.append(_with_setup(line, setup) if setup else line)
        return tuple(lines)


def _with_setup(line: WorkLine, setup: WorkLine) -> WorkLine:
    return replace(
        line,
        setup=setup.setup,
        allowance=line.allowance + setup.allowance,
        low=line.low + setup.low,
        likely=line.likely + setup.likely,
        high=line.high + setup.high,
        money=line.money + setup.money,
    )


def _reserve(line: WorkLine) -> int:
    return line.rework + line.allowance


def is_active(triggers: Triggers, chosen: frozenset[str]) -> bool:
    """Whether an atom with these triggers counts for a set."""
    return triggers is None or not triggers.isdisjoint(chosen)


def surety_minutes(expected: int, sd: float, z: float) -> int:
    """Hundredths of a minute that are enough at a surety: mean + z x spread, rounded to the hundredth."""
    return floor(expected + z * sd * 100 + 0.5)


def make_setting(shop: Shop, job: Job) -> Setting:
    """The rates and the operator of a job: client work at wage and overhead, own work at the wanted pay."""
    terms = shop.terms
    client = job.kind == "commission"
    share = terms.hidden_fault_share
    strung = job.instrument.get("strung")
    if strung is not None and strung.value is False:
        share = terms.hidden_fault_share_unstrung
    odd = job.instrument.get("odd_work")
    if odd is not None and odd.value and not odd.assumed:
        share *= Decimal("1.5")
    return Setting(
        shop=shop,
        instrument=job.instrument,
        family="bass" if job.is_bass else "guitar",
        skill=int(Decimal(job.settings.get("skill", terms.skill))),
        wage=terms.wage_per_hour if client else terms.own_pay_per_hour,
        overhead=terms.overhead_per_hour if client else Decimal(0),
        hidden_faults=share,
    )


def make_costing(shop: Shop, job: Job, verdicts: tuple[Verdict, ...]) -> Costing:
    """Price everything a job might need: its base work and the work of every upgrade judged."""
    setting = make_setting(shop, job)
    base = [
        Demand(row.task, "", row.quantity, "comes with every job") for row in shop.base_work.get(job.kind, ())
    ]
    asked: dict[tuple[str, str], list[tuple[str, Demand, Decimal]]] = {}
    for demand in base:
        asked.setdefault((demand.task, demand.place), []).append(("", demand, Decimal(0)))
    for verdict in verdicts:
        part = verdict.upgrade.part
        price = part.price if part else Decimal(0)
        for demand in verdict.demands:
            for sitting in sittings(demand, shop.tasks[demand.task]):
                asked.setdefault((sitting.task, sitting.place), []).append(
                    (verdict.upgrade.id, sitting, price)
                )
    position = _task_positions(shop)
    keys = sorted(asked, key=lambda key: (position[key[0]], key[1]))
    ranks = {key: _rank(asked[key], setting) for key in keys}
    setups: dict[str, tuple[WorkLine, Triggers]] = {}
    for task, place in keys:
        widest = ranks[task, place][0].triggers
        before = setups.get(task)
        triggers = widest if before is None else _union(before[1], widest)
        setups[task] = (setup_line(shop.tasks[task], setting), triggers)
    desk = frozenset(t for t in setups if job.kind == "commission" and not shop.tasks[t].billed)
    return Costing(
        shop, job, setting, ranks, setups, _part_lines(shop, verdicts, setting, job), _mass(verdicts), desk
    )


def sittings(demand: Demand, task: Task) -> list[Demand]:
    """A demand as the sittings it takes: coats of finish are put on one by one, each set up anew."""
    if task.driver != "coat" or demand.quantity <= 1:
        return [demand]
    place = f"{demand.place}-coat" if demand.place else "coat"
    return [
        replace(
            demand,
            place=f"{place}-{number:02d}",
            quantity=Decimal(1),
            setup_share=task.repeat_share if number > 1 else Decimal(0),
        )
        for number in range(1, int(demand.quantity) + 1)
    ]


def _rank(asked: list[tuple[str, Demand, Decimal]], setting: Setting) -> tuple[Rank, ...]:
    """Demands on one place, from the least run time up; equal ones share a rank."""
    task = setting.shop.tasks[asked[0][1].task]
    priced: dict[object, tuple[WorkLine, list[tuple[str, str]], Demand, Decimal]] = {}
    for who, demand, part_price in asked:
        line = run_line(task, demand, setting, part_price)
        key = (line.minutes, line.money.cost, line.quantity, line.sd, line.factor, line.rework, line.money)
        priced.setdefault(key, (line, [], demand, part_price))[1].append((who, demand.because))
    ordered = sorted(priced.items(), key=lambda item: _rank_key(item[1][0]))
    ranks = []
    for number, (_, (line, wanted_by, demand, part_price)) in enumerate(ordered):
        above = [who for _, (_, wants, _, _) in ordered[number:] for who, _ in wants]
        triggers = None if "" in above else frozenset(above)
        ranks.append(Rank(line, triggers, tuple(wanted_by), demand, part_price))
    return tuple(ranks)


def _rank_key(line: WorkLine) -> tuple[object, ...]:
    money = line.money
    return (line.minutes, money.cost, line.quantity, line.rework, money.price_parts, money.consumables, line.sd)


def _union(one: Triggers, other: Triggers) -> Triggers:
    return None if one is None or other is None else one | other


def _part_lines(
    shop: Shop, verdicts: tuple[Verdict, ...], setting: Setting, job: Job
) -> dict[str, PartLine]:
    lines = {}
    for verdict in verdicts:
        upgrade, part = verdict.upgrade, verdict.upgrade.part
        if part is None:
            continue
        own = part.owner == "customer"
        unit_cost = 0 if own else cents(part.price)
        unit_price = marked_up(unit_cost, shop.terms)
        price = cents(Decimal(unit_price) / 100 * upgrade.part_quantity)
        if own:
            price += _own_part_uplift(verdict, setting, job)
        cost = cents(Decimal(unit_cost) / 100 * upgrade.part_quantity)
        lines[upgrade.id] = PartLine(
            part.id, upgrade.id, part.what, part.grade, upgrade.part_quantity,
            unit_cost, cost, unit_price, price, part.owner,
        )  # fmt: skip
    return lines


def _own_part_uplift(verdict: Verdict, setting: Setting, job: Job) -> int:
    """What fitting the customer's own part adds to the price: a share of its labour, no part mark-up."""
    terms = setting.terms
    rate = Decimal(job.settings.get("charge_per_hour", terms.charge_per_hour))
    minutes = sum(
        run_line(setting.shop.tasks[d.task], d, setting).minutes for d in verdict.upgrade.demands
    )
    return times_rate(Decimal(minutes) / 100 * (terms.own_part_labour - 1), rate)


def _mass(verdicts: tuple[Verdict, ...]) -> dict[str, Decimal]:
    masses = {}
    for verdict in verdicts:
        upgrade, part = verdict.upgrade, verdict.upgrade.part
        gained = (part.weight_g or Decimal(0)) * upgrade.part_quantity if part else Decimal(0)
        masses[upgrade.id] = gained - upgrade.mass_removed_g
    return masses


def _task_positions(shop: Shop) -> dict[str, int]:
    """Tasks in an order that respects ``task_order`` and, within it, the order of the table."""
    later: dict[str, list[str]] = {task: [] for task in shop.tasks}
    waiting_for = dict.fromkeys(shop.tasks, 0)
    for before, after in shop.task_order:
        later[before].append(after)
        waiting_for[after] += 1
    row = {task: number for number, task in enumerate(shop.tasks)}
    ready = sorted((t for t in shop.tasks if not waiting_for[t]), key=row.__getitem__)
    ordered: list[str] = []
    while ready:
        task = ready.pop(0)
        ordered.append(task)
        for after in later[task]:
            waiting_for[after] -= 1
            if not waiting_for[after]:
                ready.append(after)
        ready.sort(key=row.__getitem__)
    return {task: number for number, task in enumerate(ordered)}
