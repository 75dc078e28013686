"""One basket per supplier: parts, whole packs, tools, spares; need-by dates; what each job bears."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from msgspec import Struct

from estimator.batch.arrivals import NONE_LATE, BoughtKey, arrival_of
from estimator.batch.build import BatchStudy, rent_of
from estimator.batch.cost_sharing import split
from estimator.batch.records import THOUSAND, JointAnswer, Purchase
from estimator.batch.spares import SPARE_OF, SpareAdvice, advice_of, users_of
from estimator.core.amounts import Cents, Elapsed
from estimator.model.operation import operation_name
from estimator.schedule.records import Operation

NOWHERE = "any shop"
OWNERS = "owners of the instruments"


class OrderLine(Struct, frozen=True):
    """Something to order: how many, the money, who bears how much of it, and when it must be there."""

    kind: str
    what: str
    words: str
    number: str
    cents: Cents
    bears: tuple[tuple[str, Cents], ...]
    need_by: date | None = None


class Basket(Struct, frozen=True):
    """The order at one supplier; ``freight_bears`` splits the freight; ``sent`` False: it is fetched."""

    seller: str
    words: str
    lines: tuple[OrderLine, ...]
    freight: Cents
    freight_bears: tuple[tuple[str, Cents], ...]
    sent: bool = True

    @property
    def goods(self) -> Cents:
        """The goods alone, in cents."""
        return sum((line.cents for line in self.lines), Cents(0))

    @property
    def total(self) -> Cents:
        """Goods and freight."""
        return self.goods + self.freight


class Orders(Struct, frozen=True):
    """All baskets, what each job bears in all, and advice on spares that are not ordered.

    ``had``: parts that come out of the stock or off another instrument, so that nothing is paid for them.
    ``extra``: what the orders come to beyond what the choice reckoned with: spares, less what they save.
    ``no_spares``: why none are ordered where they were asked for.
    """

    baskets: tuple[Basket, ...]
    by_job: Mapping[str, Cents]
    spares: tuple[SpareAdvice, ...]
    had: tuple[OrderLine, ...] = ()
    extra: Cents = Cents(0)
    no_spares: str = ""

    @property
    def total(self) -> Cents:
        """All that is paid to suppliers, in cents; what the jobs bear adds up to it."""
        return sum((basket.total for basket in self.baskets), Cents(0))


def make_orders(study: BatchStudy, answer: JointAnswer, need_by: Mapping[tuple[str, str], date]) -> Orders:
    """The order list of a joint answer.

    ``need_by``: the day on which work begins that needs it (see ``need_by_of``).
    """
    shop, file = study.shop, study.file
    jobs = [job.id for job in file.jobs if job.id in answer.chosen]
    by_seller: dict[str, list[OrderLine]] = {}
    for purchase in answer.purchases:
        if purchase.is_paid:
            seller = OWNERS if purchase.kind == "donor" else purchase.seller
            by_seller.setdefault(seller, []).append(_line(purchase, study, answer, need_by))
    for purchase in answer.spares:
        by_seller.setdefault(purchase.seller, []).append(_spare_line(purchase, study, answer))
    baskets = []
    bears = dict.fromkeys(jobs, Cents(0))
    for seller in sorted(by_seller, key=lambda name: (name == "", name)):
        lines = _joined(by_seller[seller])
        value = dict.fromkeys(jobs, Cents(0))
        for line in lines:
            for job, cents in line.bears:
                value[job] += cents
                bears[job] += cents
        freight = answer.freight.get(seller, Cents(0))
        shares = split(freight, value)
        for job, cents in shares.items():
            bears[job] += cents
        supplier = shop.planning.suppliers.get(seller)
        words = "bought to be sold" if seller == OWNERS else "at the list price"
        baskets.append(
            Basket(
                seller or NOWHERE,
                supplier.what if supplier else words,
                lines,
                freight,
                tuple((job, cents) for job, cents in shares.items() if cents),
                supplier is not None,
            )
        )
    left = () if answer.spares else advice_of(study, answer)
    return Orders(tuple(baskets), bears, left, _had(study, answer, need_by), answer.extra, answer.no_spares)


def _spare_line(purchase: Purchase, study: BatchStudy, answer: JointAnswer) -> OrderLine:
    """Spares of a class, borne by the good pieces that each job takes."""
    shares = split(purchase.cents, users_of(study, answer)[purchase.what])
    bears = tuple((job, share) for job, share in shares.items() if share)
    row = study.shop.resale.spares.get(SPARE_OF[purchase.what])
    what = row.what if row else study.shop.part_classes[purchase.what].what
    wanted = next((a.pieces - a.good for a in advice_of(study, answer) if a.part_class == purchase.what), 0)
    surety = "spare at 90 % surety"
    if purchase.number < wanted:
        surety = f"{purchase.number} of {wanted} spares for 90 % surety"
    words = f"{what}, {surety}{break_words(study, answer, purchase)}"
    return OrderLine("spare", purchase.what, words, str(purchase.number), purchase.cents, bears)


def _had(
    study: BatchStudy, answer: JointAnswer, need_by: Mapping[tuple[str, str], date]
) -> tuple[OrderLine, ...]:
    """Parts that are in stock, or come off another instrument of the batch: nothing is bought for them."""
    lines = []
    for p in answer.purchases:
        if p.is_paid:
            continue
        words, number = f"{p.what} goes to {p.job} for {p.upgrade}: nothing to buy", 1
        if p.kind == "stock":
            number = p.number
            known = study.studies[p.job].costing.parts[p.upgrade].what
            words = f"from stock, {number} x {known} ({p.what}) for {p.job}, {p.upgrade}: nothing to buy"
        day = need_by.get((p.job, p.upgrade))
        lines.append(
            OrderLine(
                p.kind, p.what if p.kind == "stock" else p.upgrade, words, str(number), Cents(0), (), day
            )
        )
    return tuple(lines)


def break_words(study: BatchStudy, answer: JointAnswer, purchase: Purchase) -> str:
    """The quantity break a purchase is priced at, in words; blank if there is none."""
    seller = next((s for s in study.batch.sellers if s.id == purchase.seller), None)
    if seller is None:
        return ""
    kinds = {(p.job, p.upgrade): p for p in study.batch.parts}

    def kind_of(other: Purchase) -> str:
        return kinds[other.job, other.upgrade].part_class if other.kind == "part" else other.what

    number = sum(
        answer.bought(kinds[p.job, p.upgrade]) if p.kind == "part" else THOUSAND * p.number
        for p in (*answer.purchases, *answer.spares)
        if p.seller == seller.id and p.kind in ("part", "pack", "spare") and kind_of(p) == kind_of(purchase)
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
                line.kind,
                line.what,
                line.words,
                f"{Decimal(other.number) + Decimal(line.number):f}",
                other.cents + line.cents,
                _added(other.bears, line.bears),
                min(days) if days else None,
            )
        found[line.kind, line.what] = line
    return tuple(found.values())


def _added(
    one: tuple[tuple[str, Cents], ...], other: tuple[tuple[str, Cents], ...]
) -> tuple[tuple[str, Cents], ...]:
    sums = dict(one)
    for job, cents in other:
        sums[job] = sums.get(job, Cents(0)) + cents
    return tuple(sums.items())


def _line(
    purchase: Purchase, study: BatchStudy, answer: JointAnswer, need_by: Mapping[tuple[str, str], date]
) -> OrderLine:
    shop, kind = study.shop, purchase.kind
    if purchase.kind == "part":
        part = next(p for p in study.batch.parts if (p.job, p.upgrade) == (purchase.job, purchase.upgrade))
        line = study.studies[part.job].costing.parts[part.upgrade]
        day = need_by.get((part.job, part.upgrade))
        number = Decimal(part.quantity) - answer.from_stock(part)
        return OrderLine(
            "part",
            part.part,
            line.what + break_words(study, answer, purchase),
            f"{number:f}",
            purchase.cents,
            ((part.job, purchase.cents),),
            day,
        )
    if purchase.kind == "donor":
        words = study.studies[purchase.job].job.what or purchase.job
        owner = ((purchase.job, purchase.cents),)
        return OrderLine("donor", purchase.job, words, "1", purchase.cents, owner)
    if purchase.kind == "rent":
        row = rent_of(shop, purchase.what, study.file.tools_missing)
        words = f"{shop.tools[purchase.what].what}, rented for a {row.rent_per if row else 'day'}"
        return OrderLine(
            "rent",
            purchase.what,
            words,
            "1",
            purchase.cents,
            ((purchase.job, purchase.cents),),
            need_by.get(("", purchase.what)),
        )
    if purchase.kind == "pack":
        users = dict.fromkeys([job.id for job in study.file.jobs], 0)
        for use in study.batch.uses:
            if use.consumable == purchase.what and answer.does(use.job, use.triggers):
                users[use.job] += use.millionths
        shares = split(purchase.cents, users)
        known = shop.consumables[purchase.what]
        kind, pack = ("piece", "") if known.by_the_piece else ("pack", f" ({known.pack})")
        words = f"{known.what}{pack}{break_words(study, answer, purchase)}"
    else:
        tool = next(t for t in study.batch.tools if t.tool == purchase.what)
        users = {job: 1 for job, triggers in tool.needed_by if answer.does(job, triggers)}
        shares = split(purchase.cents, users)
        words = shop.tools[purchase.what].what
        if tool.rent is not None and tool.rent * len(users) == purchase.cents:
            words += ", bought as it costs no more than renting it"
    bears = tuple((job, cents) for job, cents in shares.items() if cents)
    return OrderLine(
        kind,
        purchase.what,
        words,
        str(purchase.number),
        purchase.cents,
        bears,
        need_by.get((purchase.seller if purchase.kind == "pack" else "", purchase.what)),
    )


def need_by_of(
    study: BatchStudy,
    answer: JointAnswer,
    starts: Mapping[str, date],
    operations: Iterable[Operation],
    late: Mapping[BoughtKey, Elapsed] = NONE_LATE,
) -> dict[tuple[str, str], date]:
    """The day on which the first work that needs it begins: by (job, upgrade), ("", tool) and (seller, consumable).

    ``starts``: operation (job:task) to its day. Packs are needed by the first work that waits for them or for
    packs that come after them: what the stock covers needs none.
    """
    days: dict[tuple[str, str], date] = {}
    for operation, day in starts.items():
        job, sitting = operation_name(operation)
        for tool, _ in study.studies[job].shop.task_tools.get(sitting.task, ()):
            days["", tool] = min(day, days.get(("", tool), day))
    waiting = [
        (what, minute, starts[o.id]) for o in operations if o.id in starts for what, minute in o.supplied
    ]
    for purchase in answer.purchases:
        if purchase.kind == "pack":
            there = arrival_of(study, purchase, late)
            mine = [day for what, minute, day in waiting if what == purchase.what and minute >= there]
            if mine:
                days[purchase.seller, purchase.what] = min(mine)
    for part in study.batch.parts:
        costing = study.studies[part.job].costing
        for (task, _), ranks in costing.ranks.items():
            if study.shop.tasks[task].group in ("strip", "clean", "desk"):
                continue
            if any(who == part.upgrade for rank in ranks for who, _ in rank.wanted_by):
                first = starts.get(f"{part.job}:{task}")
                key = (part.job, part.upgrade)
                if first is not None and (key not in days or first < days[key]):
                    days[key] = first
    return days
