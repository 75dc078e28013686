"""What stands on the customer's page: the work in plain words, the lines of the price, the terms.

Nothing of the shop's own costs is in it. Sums of the lines are the price, to the cent.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from estimator.choose.study import SpecRow, Study
from estimator.core.money import money_text
from estimator.core.text import day_of, day_words, sentence_case
from estimator.estimate.commission import Price
from estimator.estimate.sale_terms import usual_work
from estimator.model import Estimate, Job, PartLine, Shop, Terms
from estimator.price.client.quote import Dues, dues_of
from estimator.report.words.customer import expected_words, warnings_noted, warnings_told, work_told
from estimator.report.words.quote import bench_fee_words, storage_words, warranty_words
from estimator.workbook.write.rows import CostRow, cost_rows


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One line of the price in cents; ``parts`` / ``rows`` are the costing rows it is linked to."""

    what: str
    kind: str
    quantity: Decimal | None
    each: int | None
    amount: int
    parts: tuple[int, ...] = ()
    rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PageWork:
    """One thing done, in plain words, with the work that it takes on this instrument besides."""

    what: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PageOffer:
    """One offer to the customer, complete: what is done, what it costs, what it rests on."""

    name: str
    work: tuple[PageWork, ...]
    lines: tuple[PriceLine, ...]
    price: Price
    dues: Dues
    result: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    at_mean: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """What an offer is made on: who, what, when, and the shop's terms."""

    shop_name: str
    customer: str
    instrument: str
    what: str
    number: str
    day: date | None
    valid_until: date | None
    terms: Terms
    surety: Decimal
    rush: bool
    wanted_by: str = ""
    for_sale: bool = False
    bench_fee_paid: bool = False
    offers: tuple[PageOffer, ...] = field(default=())


def make_offer(study: Study, estimate: Estimate, spec: Sequence[SpecRow], name: str = "") -> PageOffer:
    """The offer for one estimated set of upgrades."""
    totals = estimate.totals
    price = study.costing.price(totals.surety_min, totals.money)
    chosen = frozenset(estimate.chosen)
    rows = cost_rows(study.costing, chosen)
    lines = price_lines(study, estimate, rows, price, beside_others=bool(name))
    return PageOffer(
        name=name,
        work=tuple(_work(study, estimate, rows)),
        lines=lines,
        price=price,
        dues=dues_of(study, estimate, price),
        at_mean=totals.at_mean,
        result=tuple((id_words(row.attribute), reached_words(row, study.shop)) for row in spec if row.asked),
        cautions=(
            *warnings_told(study.shop, study.verdicts, chosen),
            *beyond_budget(study, price, name),
        ),
    )


def make_page(study: Study, offers: Sequence[PageOffer]) -> Page:
    """The page that one or more offers for a job stand on."""
    job, terms = study.job, study.shop.terms
    day = day_of(job.received)
    return Page(
        shop_name=terms.shop_name,
        customer=job.customer,
        instrument=instrument_words(job),
        what=job.what,
        number=job.quote_number,
        day=day,
        valid_until=day + timedelta(days=terms.quote_valid_days) if day else None,
        terms=terms,
        surety=study.costing.quote_surety,
        rush=job.settings.get("rush") == "yes",
        wanted_by=day_words(job.wanted_by),
        for_sale=job.kind != "commission",
        bench_fee_paid=job.settings.get("bench_fee_paid") == "yes",
        offers=tuple(offers),
    )


def price_lines(
    study: Study, estimate: Estimate, rows: Sequence[CostRow], price: Price, beside_others: bool = False
) -> tuple[PriceLine, ...]:
    """The lines of a price, each taxed by itself where tax is by the line.

    Work, parts, things used up that are sold as parts, materials, rush; fitting a customer's own part
    is work and stands in its line. ``beside_others``: whether offers share the words of a line.
    """
    parts = [
        _part_line(number, part, study.shop.terms) for number, part in enumerate(estimate.parts, start=1)
    ]
    sold = _sold_with_work(rows, study.shop)
    fee = [PriceLine("Workshop materials", "fee", None, None, price.fee)] if price.fee else []
    rush = (
        [PriceLine("Priority: done ahead of the queue", "rush", None, None, price.rush)] if price.rush else []
    )
    return (
        PriceLine(_work_words(study, estimate, beside_others), "work", None, None, price.work),
        *parts,
        *sold,
        *fee,
        *rush,
    )


def _work_words(study: Study, estimate: Estimate, beside_others: bool) -> str:
    fitting = sum(part.fitting for part in estimate.parts)
    let_off = fitting + estimate.warranty - estimate.totals.money.price_work
    if not let_off:
        return "Work at the bench"
    batch = study.costing.setting.batch
    off = "less" if beside_others else f"{money_text(let_off)} {study.shop.terms.currency} off"
    return f"Work at the bench ({off}, for set-ups shared by your {batch} instruments)"


def _part_line(number: int, part: PartLine, terms: Terms) -> PriceLine:
    if part.owner == "customer":
        times = f", at {number_words(terms.own_part_labour)} times the labour" if part.fitting else ""
        what = f"{sentence_case(part.what)} (your own part): fitted with the work above{times}; no warranty on it"
        return PriceLine(what, "own-part", part.quantity, None, part.price, parts=(number,))
    return PriceLine(
        sentence_case(part.what), "part", part.quantity, part.unit_price, part.price, parts=(number,)
    )


def _sold_with_work(rows: Sequence[CostRow], shop: Shop) -> list[PriceLine]:
    lines = []
    for row in rows:
        sold = [use for use in row.consumables if shop.consumables[use.id].billed_as == "part"]
        if row.desk or not sold or not row.line.money.price_parts:
            continue
        what = sentence_case(" and ".join(use.what for use in sold))
        quantity = round(row.quantity * sold[0].quantity, 4) if len(sold) == 1 else None
        lines.append(PriceLine(what, "sold", quantity, None, row.line.money.price_parts, rows=(row.number,)))
    return lines


def _work(study: Study, estimate: Estimate, rows: Sequence[CostRow]) -> list[PageWork]:
    works = []
    for verdict in study.verdicts:
        if verdict.upgrade.id not in estimate.chosen:
            continue
        works.append(PageWork(sentence_case(verdict.upgrade.what), work_told(study.shop, verdict)))
    always = [
        id_words(row.task.id).lower()
        for row in rows
        if not row.setup and not row.desk and row.key in _base_keys(study)
    ]
    if always:
        works.append(PageWork("With every job: " + ", ".join(dict.fromkeys(always))))
    return works


def _base_keys(study: Study) -> frozenset[str]:
    return frozenset(f"run:{row.task}@" for row in usual_work(study.shop, study.job))


def cautions(study: Study, chosen: Collection[str]) -> list[str]:
    """What the fit of the chosen upgrades warns the bench of, each once."""
    return [sentence_case(finding.sentence) for finding in warnings_noted(study.verdicts, chosen)]


def beyond_budget(study: Study, price: Price, name: str) -> list[str]:
    """That the customer pays more than the budget named; what the shop limits for itself is not told."""
    currency = study.shop.terms.currency
    return [
        f"{name or 'This quote'}: {money_text(price.to_pay)} {currency} is beyond your budget of "
        f"{money_text(rule.most)} {currency}"
        for rule in study.problem.rules
        if rule.kind == "money" and rule.on == "price" and rule.most is not None and price.to_pay > rule.most
    ]


def _held_words(page: Page) -> str:
    """What the price is held at: the mean of a small job, the surety of a large one."""
    average = "It is set at what such jobs take on average"
    sure = f"It is set so that about {number_words(page.surety)} in 100 such jobs stay within it"
    sizes = {offer.at_mean for offer in page.offers}
    if len(sizes) == 2:
        return f"{average}, or, for the larger ones, so that about {number_words(page.surety)} in 100 stay within it"
    return average if sizes == {True} else sure


def terms_in_words(page: Page) -> list[tuple[str, str]]:
    """The shop's terms as a customer reads them: (heading, sentence)."""
    terms = page.terms
    said = []
    if page.valid_until is None:
        said.append(("Valid", f"{terms.quote_valid_days} days from its date."))
    said.append(
        ("Fixed price",
         f"This is a fixed price for what is listed. {_held_words(page)}; if ours takes longer, the price stays as "
         "it is.")
    )  # fmt: skip
    said.append(
        ("Not included",
         "Anything not listed, and faults that could not be seen before the work began. If we find one, we stop, "
         "tell you in writing what it would cost, and go on only when you say so.")
    )  # fmt: skip
    if warranty := warranty_words(terms):
        parts = " Parts carry their makers' terms; parts you bring carry none from us."
        said.append(("Warranty", warranty + parts))
    said.append(("Collection", f"{storage_words(terms)} Old parts come back with the instrument."))
    if fee := bench_fee_words(terms, page.bench_fee_paid):
        said.append(("Bench fee", fee))
    return said


def level_words(row: SpecRow, value: int, shop: Shop) -> str:
    """A level or amount of the spec in words: ``3: seldom noticed``, ``3650 g``."""
    if row.kind != "level":
        number = f"{(Decimal(value) / 1000).normalize():f}"
        return f"{number} {row.unit}".strip()
    level = (Decimal(value) / 10).normalize()
    words = shop.attributes[row.attribute].words if row.attribute in shop.attributes else ()
    named = words[int(level)] if level == int(level) and 0 <= int(level) < len(words) else ""
    return f"{level:f} of 4: {named}" if named else f"{level:f} of 4"


def reached_words(row: SpecRow, shop: Shop) -> str:
    """What is reached, for a customer: the words of the level where it has them."""
    words = level_words(row, row.reached, shop)
    return expected_words(row, words.partition(": ")[2] or words)


def number_words(value: Decimal) -> str:
    """A Decimal without trailing noughts."""
    return f"{value.normalize():f}"


def id_words(name: str) -> str:
    """An id as words: ``nut-slots`` is ``Nut slots``."""
    return sentence_case(name.replace("-", " ").replace("_", " "))


def instrument_words(job: Job) -> str:
    """The kind of instrument and its strings, in words."""
    kind = job.instrument.get("kind")
    strings = job.instrument.get("string_n")
    words = [sentence_case(str(kind.value).replace("-", ", "))] if kind else []
    if strings and not strings.assumed and isinstance(strings.value, Decimal):
        words.append(f"{number_words(strings.value)} strings")
    return ", ".join(words)
