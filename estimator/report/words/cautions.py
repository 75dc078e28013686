"""The usual caution of a hazard, as every screen and paper says it."""

from __future__ import annotations

from collections.abc import Iterable

from estimator.model import Estimate, Hazard, Shop


def controls_words(hazard: Hazard) -> str:
    """The usual controls, and what is never done."""
    return f"{hazard.controls}.{f' {never}' if (never := never_words(hazard)) else ''}"


def never_words(hazard: Hazard) -> str:
    """What is never done; blank where nothing is named."""
    return f"Never: {hazard.never}." if hazard.never.strip(" -–") else ""


def caution_words(hazard: Hazard) -> str:
    """Where it arises, the usual controls, what is never done."""
    return f"Caution, {hazard.where}: {controls_words(hazard)}"


def first_caution(shop: Shop, priced: Iterable[Estimate]) -> list[str]:
    """The caution of the work that goes before all others, by the rank of hazards; none where there is none."""
    codes = {code for each in priced for line in each.lines for code in shop.tasks[line.task].hazards}
    found = sorted((shop.hazards[code] for code in codes), key=lambda one: (one.rank, one.id))
    return [caution_words(one) for one in found[:1]]
