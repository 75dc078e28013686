"""The customer's page for a workbook: the record of the page, and its price by the line.

Nothing of the shop's own costs is in it. Sums of the lines are the price, to the cent.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import SpecRow, Study, make_estimate, spec_rows
from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.core.text import sentence_case
from estimator.estimate.commission import Price
from estimator.model import Estimate, PartLine, Shop, Terms
from estimator.price.client.quote import Dues, dues_of
from estimator.report.page.record import ChangeRow, CustomerPage, changes_of, page_of
from estimator.report.words.customer import warnings_noted, work_words
from estimator.tables.cells import plain as number_words
from estimator.workbook.write.rows import CostRow, cost_rows


class PriceLine(Struct, frozen=True):
    """One line of the price in cents; ``parts`` / ``rows`` are the costing rows it is linked to."""

    what: str
    kind: str
    quantity: Decimal | None
    each: Cents | None
    amount: Cents
    parts: tuple[int, ...] = ()
    rows: tuple[int, ...] = ()


class PageOffer(Struct, frozen=True):
    """An offer's money by the line, the words of its work and what it changes for the customer.

    ``work_print`` and ``parts_print`` are sums of row number times quantity: others where a row was changed.
    """

    name: str
    work: tuple[str, ...]
    lines: tuple[PriceLine, ...]
    price: Price
    dues: Dues
    changes: tuple[ChangeRow, ...]
    work_print: Decimal
    parts_print: Decimal


class Page(Struct, frozen=True):
    """The customer's page as a sheet: its words are those of the record, the money stands by the line."""

    record: CustomerPage
    terms: Terms
    offers: tuple[PageOffer, ...]


def make_offer(study: Study, estimate: Estimate, name: str = "") -> PageOffer:
    """The money of one estimated set of upgrades, by the line."""
    totals = estimate.totals
    price = study.costing.price(totals.surety_min, totals.money)
    rows = cost_rows(study.costing, frozenset(estimate.chosen))
    return PageOffer(
        name=name,
        work=tuple(
            work_words(study.shop, verdict)
            for verdict in study.verdicts
            if verdict.upgrade.id in estimate.chosen
        ),
        lines=price_lines(study, estimate, rows, price, beside_others=bool(name)),
        price=price,
        dues=dues_of(study, estimate, price),
        # by the wishes of the job, not of the choice: an offer that leaves some out still says what it gives
        changes=changes_of(study, spec_rows(study, estimate.chosen)),
        work_print=sum((row.number * row.quantity for row in rows if not row.desk), Decimal(0)),
        parts_print=sum((n * part.quantity for n, part in enumerate(estimate.parts, start=1)), Decimal(0)),
    )


def make_page(study: Study, chosen: Collection[str], offers: Mapping[str, Estimate] | None = None) -> Page:
    """The page of a set of upgrades, or of several offers by the names that a customer reads."""
    sets = {name: estimate.chosen for name, estimate in (offers or {}).items()}
    made = [make_offer(study, estimate, name) for name, estimate in (offers or {}).items()]
    return Page(
        page_of(study, chosen, sets),
        study.shop.terms,
        tuple(made) or (make_offer(study, make_estimate(study, chosen)),),
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
    fitting = sum((part.fitting for part in estimate.parts), Cents(0))
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


def cautions(study: Study, chosen: Collection[str]) -> list[str]:
    """What the fit of the chosen upgrades warns the bench of, each once."""
    return [sentence_case(finding.sentence) for finding in warnings_noted(study.verdicts, chosen)]


def level_words(row: SpecRow, value: int, shop: Shop) -> str:
    """A level or amount of the spec in words: ``3: seldom noticed``, ``3650 g``."""
    if row.kind != "level":
        number = f"{(Decimal(value) / 1000).normalize():f}"
        return f"{number} {row.unit}".strip()
    level = (Decimal(value) / 10).normalize()
    words = shop.attributes[row.attribute].words if row.attribute in shop.attributes else ()
    named = words[int(level)] if level == int(level) and 0 <= int(level) < len(words) else ""
    return f"{level:f} of 4: {named}" if named else f"{level:f} of 4"


def id_words(name: str) -> str:
    """An id as words: ``nut-slots`` is ``Nut slots``."""
    return sentence_case(name.replace("-", " ").replace("_", " "))
