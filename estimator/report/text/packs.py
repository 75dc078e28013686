"""What a set buys where packs and freight count: whole packs, the supplier of everything, the parcels."""

from __future__ import annotations

from estimator.choose.study import Choice
from estimator.estimate.freight import Bought
from estimator.report.record import table_of
from estimator.report.records.choice import Basket, BasketTold, Packs, order_of, packs_bought
from estimator.report.text.terminal import plain, show_table


def show(choice: Choice) -> None:
    """Tables of packs and of the order where they count; nothing where packs count by the share used."""
    study = choice.study
    if not (choice.found and study.costing.setting.whole_packs):
        return
    currency = study.shop.terms.currency
    show_table(
        "Bought by the pack, counted whole among the consumables (after what is in stock)",
        *table_of(Packs, packs_bought(choice), currency),
    )
    if study.costing.baskets is None:
        return
    order, sellers = order_of(choice), study.shop.planning.suppliers
    lines = sorted(order.lines, key=lambda line: line.supplier)
    rows = [
        *(Basket(sellers[one.supplier].what, one.number, _what(choice, one), one.cents) for one in lines),
        *(Basket(sellers[name].what, None, "freight of the parcel", cents) for name, cents in order.freight),
    ]
    rows.sort(key=lambda row: row.supplier)
    show_table(
        "Where to buy, so that the order as a whole is cheapest", *table_of(BasketTold, rows, currency)
    )


def _what(choice: Choice, line: Bought) -> str:
    costing = choice.study.costing
    if line.good.part:
        return next(part.what for part in costing.parts.values() if part.part == line.good.part)
    if line.good.consumable:
        known = costing.shop.consumables[line.good.consumable]
        return known.what if known.by_the_piece else f"{known.what} ({known.pack})"
    part = costing.parts[line.good.what]
    return part.what if part.quantity == 1 else f"{plain(part.quantity)} x {part.what}"
