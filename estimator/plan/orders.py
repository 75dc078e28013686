"""One basket per supplier: parts, whole packs, tools, spares; need-by dates; what each job bears."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from estimator.model import Shop
from estimator.plan.gathering import BatchStudy, rent_of
from estimator.plan.jobs import task_of
from estimator.plan.joint_records import THOUSAND, JointAnswer, Purchase
from estimator.plan.saying import money
from estimator.plan.sharing import split

NOWHERE = "any shop"
OWNERS = "owners of the instruments"
SPARE_OF = {
    "p-nutblank": "nut-blank",
    "p-nutcut": "ready-cut-nut",
    "p-guardblank": "guard-blank",
    "p-pot": "pot",
    "p-insert4": "threaded-insert",
}
"""Class of part to the row of ``spares.csv`` that knows how often one is spoiled."""
EXPERT = 4
"""Skill from which the odds of an expert are taken."""


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Something to order: how many, the money, who bears how much of it, and when it must be there."""

    kind: str
    what: str
    words: str
    number: str
    cents: int
    bears: tuple[tuple[str, int], ...]
    need_by: date | None = None


@dataclass(frozen=True, slots=True)
class Basket:
    """The order at one supplier; ``freight_bears`` splits the freight; ``sent`` False: it is fetched."""

    seller: str
    words: str
    lines: tuple[OrderLine, ...]
    freight: int
    freight_bears: tuple[tuple[str, int], ...]
    sent: bool = True

    @property
    def goods(self) -> int:
        """The goods alone, in cents."""
        return sum(line.cents for line in self.lines)

    @property
    def total(self) -> int:
        """Goods and freight."""
        return self.goods + self.freight


@dataclass(frozen=True, slots=True)
class SpareAdvice:
    """Pieces to have for so many good ones at 90 % surety, and what practice pieces to use."""

    part_class: str
    words: str
    good: int
    pieces: int
    practise_on: str


@dataclass(frozen=True, slots=True)
class Orders:
    """All baskets, what each job bears in all, and advice on spares (not ordered by itself)."""

    baskets: tuple[Basket, ...]
    by_job: Mapping[str, int]
    spares: tuple[SpareAdvice, ...]
    moved: tuple[OrderLine, ...] = ()

    @property
    def total(self) -> int:
        """All that is paid to suppliers, in cents; what the jobs bear adds up to it."""
        return sum(basket.total for basket in self.baskets)


def make_orders(study: BatchStudy, answer: JointAnswer, need_by: Mapping[tuple[str, str], date]) -> Orders:
    """The order list of a joint answer.

    ``need_by``: the day on which work begins that needs it, by (job, upgrade) for parts and by
    ("", consumable) for packs.
    """
    shop, file = study.shop, study.file
    jobs = [job.id for job in file.jobs if job.id in answer.chosen]
    by_seller: dict[str, list[OrderLine]] = {}
    for purchase in answer.purchases:
        if purchase.kind != "moved":
            seller = OWNERS if purchase.kind == "donor" else purchase.seller
            by_seller.setdefault(seller, []).append(_line(purchase, study, answer, need_by))
    baskets = []
    bears = dict.fromkeys(jobs, 0)
    for seller in sorted(by_seller, key=lambda name: (name == "", name)):
        lines = _joined(by_seller[seller])
        value = dict.fromkeys(jobs, 0)
        for line in lines:
            for job, cents in line.bears:
                value[job] += cents
                bears[job] += cents
        freight = answer.freight.get(seller, 0)
        shares = split(freight, value)
        for job, cents in shares.items():
            bears[job] += cents
        supplier = shop.planning.suppliers.get(seller)
        words = "bought to be sold" if seller == OWNERS else "at the list price"
        baskets.append(
            Basket(seller or NOWHERE, supplier.what if supplier else words, lines, freight,
                   tuple((job, cents) for job, cents in shares.items() if cents), supplier is not None)
        )  # fmt: skip
    return Orders(tuple(baskets), bears, _spares(study, answer), _moved(answer, need_by))


def _moved(answer: JointAnswer, need_by: Mapping[tuple[str, str], date]) -> tuple[OrderLine, ...]:
    """Parts that come off another instrument of the batch: nothing is bought for them."""
    return tuple(
        OrderLine(
            "moved", p.upgrade, f"{p.what} goes to {p.job} for {p.upgrade}: nothing to buy", "1", 0, (),
            need_by.get((p.job, p.upgrade)),
        )
        for p in answer.purchases if p.kind == "moved"
    )  # fmt: skip


def break_words(study: BatchStudy, answer: JointAnswer, purchase: Purchase) -> str:
    """The quantity break a purchase is priced at, in words; blank if there is none."""
    seller = next((s for s in study.batch.sellers if s.id == purchase.seller), None)
    if seller is None:
        return ""
    kinds = {(p.job, p.upgrade): p for p in study.batch.parts}

    def kind_of(other: Purchase) -> str:
        return kinds[other.job, other.upgrade].part_class if other.kind == "part" else other.what

    number = sum(
        kinds[p.job, p.upgrade].thousandths if p.kind == "part" else THOUSAND * p.number
        for p in answer.purchases
        if p.seller == seller.id and p.kind == purchase.kind and kind_of(p) == kind_of(purchase)
    )
    steps = [step for step in seller.breaks.get(kind_of(purchase), ()) if step[0] * THOUSAND <= number]
    return f", at {Decimal(steps[-1][1]) / 10:f} % from {steps[-1][0]} on" if steps else ""


def _joined(lines: list[OrderLine]) -> tuple[OrderLine, ...]:
    """Lines of the same thing as one: numbers and money added, the earliest day kept."""
    found: dict[tuple[str, str], OrderLine] = {}
    for line in lines:
        other = found.get((line.kind, line.what))
        if other is not None:
            days = [day for day in (other.need_by, line.need_by) if day is not None]
            line = OrderLine(
                line.kind, line.what, line.words, f"{Decimal(other.number) + Decimal(line.number):f}",
                other.cents + line.cents, _added(other.bears, line.bears), min(days) if days else None,
            )  # fmt: skip
        found[line.kind, line.what] = line
    return tuple(found.values())


def _added(
    one: tuple[tuple[str, int], ...], other: tuple[tuple[str, int], ...]
) -> tuple[tuple[str, int], ...]:
    sums = dict(one)
    for job, cents in other:
        sums[job] = sums.get(job, 0) + cents
    return tuple(sums.items())


def _line(
    purchase: Purchase, study: BatchStudy, answer: JointAnswer, need_by: Mapping[tuple[str, str], date]
) -> OrderLine:
    shop = study.shop
    if purchase.kind == "part":
        part = next(p for p in study.batch.parts if (p.job, p.upgrade) == (purchase.job, purchase.upgrade))
        line = study.studies[part.job].costing.parts[part.upgrade]
        day = need_by.get((part.job, part.upgrade))
        return OrderLine(
            "part", part.part, line.what + break_words(study, answer, purchase), part.quantity, purchase.cents,
            ((part.job, purchase.cents),), day,
        )  # fmt: skip
    if purchase.kind == "donor":
        words = study.studies[purchase.job].job.what or purchase.job
        owner = ((purchase.job, purchase.cents),)
        return OrderLine("donor", purchase.job, words, "1", purchase.cents, owner)
    if purchase.kind == "rent":
        row = rent_of(shop, purchase.what, study.file.tools_missing)
        words = f"{shop.tools[purchase.what].what}, rented for a {row.rent_per if row else 'day'}"
        return OrderLine("rent", purchase.what, words, "1", purchase.cents, ((purchase.job, purchase.cents),),
                         need_by.get(("", purchase.what)))  # fmt: skip
    if purchase.kind == "pack":
        users = dict.fromkeys([job.id for job in study.file.jobs], 0)
        for use in study.batch.uses:
            if use.consumable == purchase.what and answer.does(use.job, use.triggers):
                users[use.job] += use.millionths
        shares = split(purchase.cents, users)
        known = shop.consumables[purchase.what]
        words = f"{known.what} ({known.pack}){break_words(study, answer, purchase)}"
    else:
        tool = next(t for t in study.batch.tools if t.tool == purchase.what)
        users = {job: 1 for job, triggers in tool.needed_by if answer.does(job, triggers)}
        shares = split(purchase.cents, users)
        words = shop.tools[purchase.what].what
    bears = tuple((job, cents) for job, cents in shares.items() if cents)
    return OrderLine(
        purchase.kind,
        purchase.what,
        words,
        str(purchase.number),
        purchase.cents,
        bears,
        need_by.get(("", purchase.what)),
    )


def _each(study: BatchStudy, answer: JointAnswer, part_class: str) -> str:
    """What one more of a class would cost where the first of it is bought, in words."""
    classes = {(p.job, p.upgrade): p for p in study.batch.parts}
    for bought in answer.purchases:
        part = classes.get((bought.job, bought.upgrade))
        if bought.kind == "part" and part is not None and part.part_class == part_class and part.thousandths:
            each = -(-bought.cents * THOUSAND // part.thousandths)
            where = bought.seller or NOWHERE
            return f" ({money(each, study.shop.terms.currency)} each at {where})"
    return ""


def _spares(study: BatchStudy, answer: JointAnswer) -> tuple[SpareAdvice, ...]:
    from estimator.price.spares import pieces_for

    shop = study.shop
    wanted: dict[str, int] = {}
    for part in study.batch.parts:
        if part.part_class in SPARE_OF and answer.does(part.job, (part.upgrade,)):
            wanted[part.part_class] = wanted.get(part.part_class, 0) + max(1, int(Decimal(part.quantity)))
    skill = max(person.skill for person in study.file.people)
    advice = []
    for part_class, good in wanted.items():
        row = shop.resale.spares.get(SPARE_OF[part_class])
        if row is None:
            continue
        odds = (row.expert_pct if skill >= EXPERT else row.beginner_pct) / 100
        pieces = pieces_for(good, odds).pieces
        words = f"{row.what}{_each(study, answer, part_class)}"
        advice.append(SpareAdvice(part_class, words, good, pieces, row.practise_on))
    return tuple(advice)


def need_by_of(study: BatchStudy, starts: Mapping[str, date], shop: Shop) -> dict[tuple[str, str], date]:
    """The day on which the first work that needs it begins: by (job, upgrade), and ("", consumable or tool).

    ``starts``: operation (job:task) to its day.
    """
    days: dict[tuple[str, str], date] = {}
    for operation, day in starts.items():
        task = task_of(operation.partition(":")[2])
        needed = [what for what, _, _ in shop.task_consumables.get(task, ())]
        needed += [tool for tool, _ in shop.task_tools.get(task, ())]
        for what in needed:
            days["", what] = min(day, days.get(("", what), day))
    for part in study.batch.parts:
        costing = study.studies[part.job].costing
        for (task, _), ranks in costing.ranks.items():
            if shop.tasks[task].group in ("strip", "clean", "desk"):
                continue
            if any(who == part.upgrade for rank in ranks for who, _ in rank.wanted_by):
                first = starts.get(f"{part.job}:{task}")
                key = (part.job, part.upgrade)
                if first is not None and (key not in days or first < days[key]):
                    days[key] = first
    return days
