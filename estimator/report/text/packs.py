"""What a set buys where packs and freight count: whole packs, the supplier of everything, the parcels."""

from __future__ import annotations

from estimator.choose.study import Choice
from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.estimate.freight import Bought, Order
from estimator.estimate.packs import IN_STOCK
from estimator.report.text.terminal import money, plain, show_table


def show(choice: Choice) -> None:
    """Tables of packs and of the order where they count; nothing where packs count by the share used."""
    study = choice.study
    if not (choice.found and study.costing.setting.whole_packs):
        return
    currency = study.shop.terms.currency
    show_table(
        "Bought by the pack, counted whole among the consumables (after what is in stock)",
        ("consumable", "packs", "cost"),
        [(what, str(number), money(cents, currency)) for _, what, number, cents in _bought(choice)]
        or [("nothing", "", "")],
        right=(1, 2),
    )
    if study.costing.baskets is None:
        return
    order = _order(choice)
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


def as_data(choice: Choice) -> dict[str, object]:
    """Keys added to ``choose --json``."""
    order = _order(choice)
    return {
        "buying": "whole" if choice.study.costing.setting.whole_packs else "share",
        "packs": [
            {"consumable": name, "what": what, "packs": number, "money": money_text(cents)}
            for name, what, number, cents in (_bought(choice) if choice.found else ())
        ],
        "order": {
            "lines": [
                {
                    "supplier": line.supplier,
                    "what": line.good.what.removeprefix(IN_STOCK),
                    "number": line.number,
                    "money": money_text(line.cents),
                }
                for line in order.lines
            ],
            "freight": [{"supplier": name, "money": money_text(cents)} for name, cents in order.freight],
        },
    }


def _order(choice: Choice) -> Order:
    return choice.study.costing.order_for(choice.estimate.chosen if choice.found else ())


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


def _bought(choice: Choice) -> list[tuple[str, str, int, Cents]]:
    study = choice.study
    packs = study.costing.packs_for(choice.estimate.chosen)
    each = {item.consumable: item.cents for item in study.costing.packs}
    return [
        (name, study.shop.consumables[name].what, number, number * each[name])
        for name, number in packs.items()
    ]
