"""Which measurement next, as text and as data."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.estimate.money import money_text
from estimator.measuring import Worth
from estimator.pipeline import Choice
from estimator.report.terminal import money, show_table

FIRST = 3


def show(choice: Choice, worths: Sequence[Worth]) -> None:
    """The ranked list, and the three to take first."""
    study = choice.study
    if not worths:
        print(f"{study.job.id}: no assumed value can change a verdict or the chosen set")
        return
    currency = study.shop.terms.currency
    show_table(
        f"Measure first ({study.job.id})",
        ("value", "assumed", "could be", "chance", "at stake", "worth", "what would change"),
        [
            (
                w.field, w.assumed, w.could_be, f"{100 * w.chance:.0f} %", money(w.stake, currency),
                money(w.worth, currency), w.changes,
            )
            for w in worths[:12]
        ],
        right=(3, 4, 5),
    )  # fmt: skip
    print("Measure these first: " + "; ".join(f"{w.field} ({w.how or w.what})" for w in worths[:FIRST]) + ".")
    print(
        "worth = chance that the assumption is wrong x money at stake; one value at a time, at the ends of its range."
    )


def as_data(choice: Choice, worths: Sequence[Worth]) -> dict[str, object]:
    """The object that ``measure --json`` prints."""
    return {
        "job": choice.study.job.id,
        "upgrades": list(choice.estimate.chosen),
        "measure": [
            {
                "field": w.field, "assumed": w.assumed, "could_be": w.could_be, "chance": float(w.chance),
                "stake": money_text(w.stake), "worth": money_text(w.worth), "changes": w.changes, "how": w.how,
            }
            for w in worths
        ],
    }  # fmt: skip
