"""From the jobs of a batch file to the joint choice: parts to buy, packs used, tools missing, sellers."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.batch.own_cash import with_own_cash
from estimator.batch.records import (
    MILLIONTHS,
    Batch,
    BatchWay,
    BoughtPart,
    JobChoice,
    MissingTool,
    Pack,
    PackUse,
    Seller,
)
from estimator.batch.transfers import moved_parts
from estimator.choose.build import with_ways_for
from estimator.choose.kept import without
from estimator.choose.measure import without_packs
from estimator.choose.milp.earning import aims_in
from estimator.choose.study import Study, price_bound, study_job, worked_by
from estimator.choose.verify.choice import clashes
from estimator.core.errors import InputError, Issue, near_miss, note, shown
from estimator.core.money import cents
from estimator.estimate.build import make_costing
from estimator.estimate.costing import Costing
from estimator.estimate.packs import in_order
from estimator.input.batch.load import BatchFile
from estimator.input.batch.stock import buys_its_own, shelf_of, stock_of
from estimator.model import Estimate, Job, Packs, Shop, Supplier
from estimator.model.planning import Person
from estimator.model.problem import Rule, Source
from estimator.model.resale import SendOut
from estimator.tables.methods import worn_by

LATE = Decimal("1.5")
"""Four parcels in five come within this multiple of the days a seller names (from memory)."""


class BatchStudy(Struct, frozen=True):
    """The jobs of a batch looked at from all sides, and their joint choice before anything is decided."""

    shop: Shop
    file: BatchFile
    studies: dict[str, Study]
    batch: Batch
    changed: Mapping[str, tuple[Rule, ...]] = field(default_factory=dict)
    """By job, what is changed for good as nothing else meets its wish: rules that the batch does not hold any more."""
    ways_open: bool = False
    """Whether the ways to do the work are left to the choice."""
    shared: tuple[BatchWay, ...] = ()
    """Work done another way than each job alone would have it done, as its set-up is shared by several."""
    paces: dict[tuple[str, int], Costing] = field(default_factory=dict)
    """By job and skill, what was priced for one of the crew: a plan asks for it several times. Copies share it, as no
    copy has other ``studies``: other studies are another ``BatchStudy``."""

    def hands_of(self, job: str, chosen: Collection[str], people: Iterable[Person]) -> dict[str, Estimate]:
        """By person: the work of a job as priced for their skill; those for whom it is priced already are left out."""
        crew = set(self.file.crew)
        alike = {p.id for p in self.file.people} if len(crew) <= 1 else set()
        found = {}
        for person in people:
            if person.id in alike:
                continue
            if (job, person.skill) not in self.paces:
                study = self.studies[job]
                self.paces[job, person.skill] = make_costing(
                    study.shop, study.job, study.verdicts, crew=(person.skill,)
                )
            found[person.id] = self.paces[job, person.skill].estimate(chosen)
        return found


def study_batch(shop: Shop, file: BatchFile, ways_open: bool = False) -> BatchStudy:
    """Judge and price every job, and gather what they share; ``ways_open``: as in ``study_job``."""
    named = {entry.id: entry.job for entry in file.jobs}
    pieces_there = shop.stocked_pieces(stock_of(shop, named, file.stock))
    studies = {
        name: study_job(
            shop, _from_batch(job, pieces_there, file.tools_missing), "share", file.crew, False, ways_open
        )
        for name, job in named.items()
    }
    _check_named(file, studies)
    return BatchStudy(shop, file, studies, gathered(shop, file, studies), ways_open=ways_open)


def narrowed(study: BatchStudy, aims: str | None) -> BatchStudy:
    """The batch without the ways to do its work that can be best for nothing by some aims and all its limits."""
    if not study.ways_open:
        return study
    # cash breaks ties and is what parts, packs and tools are bought with; the hours of a batch may be limited
    counted = [
        *aims_in(aims or "price,cost"),
        "cash",
        *(["hours"] if study.file.minutes is not None else []),
    ]
    batch = gathered(study.shop, study.file, study.studies, counted)
    return replace(study, batch=with_given_up(batch, study.changed))


def done_by_ways(study: BatchStudy, methods: Mapping[str, Mapping[str, str]]) -> BatchStudy:
    """The batch with the work of each job done the ways named, by job and task, and no other way open."""
    studies = {}
    for name, one in study.studies.items():
        mine = methods.get(name, {})
        other = one.costing.ways or any(one.shop.tasks[task].method != way for task, way in mine.items())
        studies[name] = worked_by(one, mine) if other else one
    if all(studies[name] is one for name, one in study.studies.items()):
        return study
    batch = with_given_up(gathered(study.shop, study.file, studies), study.changed)
    return BatchStudy(study.shop, study.file, studies, batch, study.changed, study.ways_open, study.shared)


def held_to(batch: Batch, sets: Mapping[str, Collection[str]]) -> Batch:
    """The batch with some jobs held to a set, and to none of their wishes and limits."""
    jobs = []
    for job in batch.jobs:
        if job.id in sets:
            rules = tuple(
                Rule(
                    Source.NAMED,
                    "required" if o in sets[job.id] else "refused",
                    f"{o} is decided",
                    upgrades=(o,),
                    of=o,
                )
                for o in job.problem.options
            )
            job = replace(job, problem=replace(job.problem, rules=rules), cash=None)
        jobs.append(job)
    return replace(batch, jobs=tuple(jobs))


def with_named_sets(study: BatchStudy) -> Batch:
    """The batch with jobs that are decided already held to their sets."""
    named = {entry.id: entry.upgrades for entry in study.file.jobs if entry.upgrades is not None}
    return held_to(study.batch, named)


def methods_of(study: BatchStudy, estimate: Estimate, job: str) -> dict[str, str]:
    """How the work of a job is done, by task, where there is more than one way."""
    shop = study.studies[job].shop
    return {task: shop.tasks[task].method for task in estimate.tasks if task in shop.ways.methods}


def with_given_up(batch: Batch, changed: Mapping[str, tuple[Rule, ...]]) -> Batch:
    """The batch that does not hold some rules any more, by job."""
    jobs = tuple(
        replace(job, problem=without(job.problem, changed[job.id])) if job.id in changed else job
        for job in batch.jobs
    )
    return replace(batch, jobs=jobs)


def gathered(shop: Shop, file: BatchFile, studies: Mapping[str, Study], counted: Sequence[str] = ()) -> Batch:
    """The joint choice of some studies; ``counted``: aims that all turns on, by which ways fall out that none needs."""
    named = {entry.id: entry.job for entry in file.jobs}
    stock = stock_of(shop, named, file.stock)
    jobs = []
    parts: list[BoughtPart] = []
    uses: list[PackUse] = []
    whole: set[str] = set()
    optional = {entry.id for entry in file.jobs if entry.optional}
    for name, study in studies.items():
        price = cents(study.job.asking_price) if name in optional else None
        whole_problem = with_ways_for(study.problem, study.costing, counted) if counted else study.problem
        problem, measure = without_packs(whole_problem, study.measure)
        jobs.append(JobChoice(name, problem, measure, price_bound(study), buy_for=price))
        parts.extend(_parts(name, study, named))
        uses.extend(_uses(name, whole_problem.packs, shop))
        whole |= {pack.consumable for pack in whole_problem.packs if pack.in_cost}
    packs = tuple(
        Pack(
            what,
            cents(_bought_at_once(shop, what)[0]),
            int(_bought_at_once(shop, what)[1] * MILLIONTHS),
            int(stock.get(what, Decimal(0)) * MILLIONTHS),
            what in whole,
            shop.consumables[what].by_the_piece,
        )
        for what in sorted({use.consumable for use in uses})
    )
    moved, wanted = moved_parts(file, studies, parts)
    pieces = {part.shelf: int(stock[part.shelf]) for part in wanted if stock.get(part.shelf, 0) >= 1}
    batch = Batch(
        tuple(jobs),
        wanted,
        tuple(uses),
        packs,
        _tools(shop, file, studies),
        sellers_of(shop, file.pace),
        moved,
        file.cash,
        file.minutes,
        file.lost,
        pieces,
    )
    return with_own_cash(batch)


def _from_batch(job: Job, pieces: Collection[str], to_get: tuple[str, ...]) -> Job:
    """A job that knows of no stock: what is there is given out by the batch, once for all its jobs.

    Of ``pieces`` (sold with the work, and in stock) it knows that they are not bought line by line; but where
    its own cash is limited it buys its own, for that limit holds whoever else takes of the stock. ``to_get``: the
    tools that the batch buys or rents where a way needs them.
    """
    stock = {} if buys_its_own(job) else dict.fromkeys(pieces, Decimal(1))
    return replace(job, stock=stock, to_get=to_get)


def _bought_at_once(shop: Shop, what: str) -> tuple[Decimal, Decimal]:
    """Money for what is bought of a consumable at once, and the units in it: a pack, or one piece."""
    known = shop.consumables[what]
    if known.by_the_piece:
        return known.price / known.units_per_pack, Decimal(1)
    return known.price, known.units_per_pack


def _check_named(file: BatchFile, studies: dict[str, Study]) -> None:
    """InputError for upgrades that are decided but not offered on the instrument, or that it cannot have together."""
    issues: list[Issue] = []
    for entry in file.jobs:
        offered = {verdict.upgrade.id: verdict.outcome for verdict in studies[entry.id].verdicts}
        for name in entry.upgrades or ():
            if name not in offered:
                step = near_miss(name, offered) or "look at the spelling: fit lists them all"
                note(
                    issues,
                    entry.origin,
                    f"no upgrade of this name is offered on {entry.id}",
                    shown(name),
                    "the whole name of an upgrade that fit lists for this job",
                    step,
                )
            elif offered[name] == "does-not-fit":
                note(
                    issues,
                    entry.origin,
                    f"this upgrade does not fit {entry.id}",
                    shown(name),
                    next_step="fit says why; take it out, or mend the job file",
                )
        issues += [
            Issue(
                entry.origin,
                f"these upgrades cannot be done together on {entry.id}",
                words,
                next_step="take one of them out, or add what is needed",
            )
            for words in clashes(studies[entry.id].problem, set(entry.upgrades or ()) & set(offered))
        ]
    if issues:
        raise InputError(issues)


def _parts(job: str, study: Study, jobs: Mapping[str, Job]) -> list[BoughtPart]:
    bought = []
    classes = {v.upgrade.id: v.upgrade.part for v in study.verdicts}
    for atom in study.costing.atoms:
        upgrade = atom.part_of
        if not upgrade or not atom.money.cash:
            continue
        part = classes[upgrade]
        assert part is not None
        line = study.costing.parts[upgrade]
        bought.append(
            BoughtPart(
                job,
                upgrade,
                line.part,
                part.part_class,
                atom.money.cash,
                f"{line.quantity:f}",
                shelf=shelf_of(study.shop, jobs, job, line.part),
            )
        )
    return bought


def _uses(job: str, packs: Sequence[Packs], shop: Shop) -> list[PackUse]:
    """Uses of consumables that are bought by the pack; a use may be negative, as in the choice of one job."""
    uses = []
    for pack in packs:
        holds = _bought_at_once(shop, pack.consumable)[1] * MILLIONTHS
        for who, quantity in pack.uses:
            millionths = int((holds * quantity / pack.size).to_integral_value(ROUND_CEILING))
            uses.append(PackUse(job, pack.consumable, who, millionths))
    return uses


def _tools(shop: Shop, file: BatchFile, studies: Mapping[str, Study]) -> tuple[MissingTool, ...]:
    tools = []
    for name in file.tools_missing:
        tool = shop.tools[name]
        premium = tool.default_grade == "premium"
        price = tool.premium_price if premium else tool.inexpensive_price
        needed = [
            (job, in_order(triggers))
            for job, study in studies.items()
            for task, (_, triggers) in study.costing.setups.items()
            if any(used == name for used, _ in study.shop.task_tools.get(task, ()))
        ]
        needed += [
            (job, (way.id,))
            for job, study in studies.items()
            for way in study.costing.ways
            if any(used == name for used, _ in worn_by(study.shop, way.task, way.method))
        ]
        row = rent_of(shop, name, file.tools_missing)
        rent = None if row is None else cents((row.rent_low + row.rent_high) / 2)  # type: ignore[operator]
        tools.append(MissingTool(name, cents(price), tuple(needed), rent))
    return tuple(tools)


def rent_of(shop: Shop, tool: str, missing: Sequence[str]) -> SendOut | None:
    """The row of ``send_out.csv`` by which a tool is rented; None where one rent would serve several missing tools."""
    for row in shop.resale.send_out.values():
        if tool in row.tools and row.rent_low is not None and row.rent_high is not None:
            return row if sum(name in row.tools for name in missing) == 1 else None
    return None


def sellers_of(shop: Shop, pace: str) -> tuple[Seller, ...]:
    """The suppliers with what they sell and the days reckoned with at a pace."""
    sellers = []
    for supplier in shop.planning.suppliers.values():
        sells = {
            offer.sells: int((offer.price_factor * 1000).to_integral_value(ROUND_HALF_UP))
            for offer in shop.planning.offers
            if offer.supplier == supplier.id
        }
        free = None if supplier.free_above is None else cents(supplier.free_above)
        breaks: dict[str, tuple[tuple[int, int], ...]] = {}
        for row in sorted(shop.planning.breaks, key=lambda row: row.from_quantity):
            if row.supplier == supplier.id:
                share = int((row.price_share * 1000).to_integral_value(ROUND_HALF_UP))
                breaks[row.what] = (*breaks.get(row.what, ()), (row.from_quantity, share))
        freight = cents(supplier.freight)
        sellers.append(Seller(supplier.id, freight, free, sells, _days(supplier, pace), breaks))
    return tuple(sellers)


def _days(supplier: Supplier, pace: str) -> int:
    low, high = supplier.lead_days_low, supplier.lead_days_high
    days = {"fast": low, "usual": (low + high) / 2, "safe": high * LATE}[pace]
    return int(days.to_integral_value(ROUND_CEILING))


def lead_days(shop: Shop, pace: str, part_class: str, seller: str) -> int:
    """Days to the door of a part: the longer of its class's and its seller's, rounded up to whole days."""
    known = shop.part_classes[part_class]
    low, high = known.lead_days_low, known.lead_days_high
    supplier = shop.planning.suppliers.get(seller)
    if supplier is not None:
        low, high = max(low, supplier.lead_days_low), max(high, supplier.lead_days_high)
    days = {"fast": low, "usual": (low + high) / 2, "safe": high * LATE}[pace]
    return int(days.to_integral_value(ROUND_CEILING))
