"""What a set buys by the pack, and how it counts in the cost."""

from __future__ import annotations

from estimator.estimate.money import money_text
from estimator.pipeline import Choice
from estimator.report.terminal import money, show_table


def show(choice: Choice) -> None:
    """A table of the packs where they count whole; nothing where they count by the share used."""
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


def as_data(choice: Choice) -> dict[str, object]:
    """Keys added to ``choose --json``."""
    return {
        "buying": "whole" if choice.study.costing.setting.whole_packs else "share",
        "packs": [
            {"consumable": name, "what": what, "packs": number, "money": money_text(cents)}
            for name, what, number, cents in (_bought(choice) if choice.found else ())
        ],
    }


def _bought(choice: Choice) -> list[tuple[str, str, int, int]]:
    study = choice.study
    packs = study.costing.packs_for(choice.estimate.chosen)
    each = {item.consumable: item.cents for item in study.costing.packs}
    return [
        (name, study.shop.consumables[name].what, number, number * each[name])
        for name, number in packs.items()
    ]
