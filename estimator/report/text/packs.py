"""What a set buys where packs and freight count: whole packs, the supplier of everything, the parcels."""

from __future__ import annotations

from estimator.choose.study import Choice
from estimator.estimate.freight import Bought
from estimator.estimate.packs import IN_STOCK
from estimator.report.record import table_of
from estimator.report.records.choice import Packs, order_of, packs_bought
from estimator.report.text.terminal import money, plain, show_table


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
    order = order_of(choice)
    rows = [
        (
            study.shop.planning.suppliers[line.supplier].what,
            str(line.number),
            _what(choice, line),
            money(line.cents, currency),
        )
        for line in sorted(order.lines, key=lambda line: line.supplier)
    ]
    rows += [
        (study.shop.planning.suppliers[name].what, "", "freight of the parcel", money(cents, currency))
        for name, cents in order.freight
    ]
    show_table(
        "Where to buy, so that the order as a whole is cheapest",
        ("supplier", "n", "what", "cost"),
        sorted(rows, key=lambda row: row[0]) or [("nothing", "", "", "")],
        right=(1, 3),
    )


def _what(choice: Choice, line: Bought) -> str:
    costing = choice.study.costing
    if line.good.consumable.startswith(IN_STOCK):
        stocked = line.good.consumable.removeprefix(IN_STOCK)
        return next(part.what for part in costing.parts.values() if part.part == stocked)
    if line.good.consumable:
        known = costing.shop.consumables[line.good.consumable]
        return known.what if known.by_the_piece else f"{known.what} ({known.pack})"
    part = costing.parts[line.good.what]
    return part.what if part.quantity == 1 else f"{plain(part.quantity)} x {part.what}"
