"""What of a clash rests on values that nobody measured: the same words on the screen and on the page."""

from __future__ import annotations

from collections.abc import Iterable

from estimator.choose.as_assumed import Guess, RefusedAsAssumed
from estimator.choose.questions.clash_as_assumed import ClashAsAssumed, Rescue
from estimator.core.units import lengths_as_read
from estimator.model import IntakeField, Shop

FOR_CUSTOMER = "Some of this is assumed, not measured yet: once it is measured, the answer may be another."


def assumed_lines(refused: Iterable[RefusedAsAssumed], lengths: str) -> list[str]:
    """What does not fit only as assumed, upgrades that the same values refuse on one line."""
    alike: dict[str, list[str]] = {}
    for one in refused:
        alike.setdefault(_why(one), []).append(one.upgrade)
    return [
        lengths_as_read(f"only as assumed, not measured: {', '.join(upgrades)} ({why})", lengths)
        for why, upgrades in alike.items()
    ]


def _why(refused: RefusedAsAssumed) -> str:
    if any(guess.value is None for guess in refused.guesses):
        sizes = ", ".join(f"{guess.name} {guess.assumed}" for guess in refused.guesses)
        return f"usual size of the part: {sizes}; measure the part that you would buy"
    joined = " and " if refused.together else " or "
    assumed = ", ".join(f"{guess.name} {guess.assumed}" for guess in refused.guesses)
    return f"{assumed}; it would fit with {joined.join(_otherwise(guess) for guess in refused.guesses)}"


def _otherwise(guess: Guess) -> str:
    return f"{guess.name} {guess.could_be}"


def measuring_ways(clash: ClashAsAssumed, shop: Shop) -> list[str]:
    """What to measure, as with it otherwise the wish can be met: each set of values once."""
    alike: dict[str, None] = {}
    for rescue in clash.rescues:
        alike.setdefault(_way(rescue, shop))
    return [lengths_as_read(line, shop.lengths) for line in alike]


def _way(rescue: Rescue, shop: Shop) -> str:
    told = " and ".join(
        f"{guess.name} ({_how(shop.intake[guess.name])}): assumed {guess.assumed}, could be {guess.could_be}"
        for guess in rescue.guesses
    )
    return f"measure {told}; the wish can then be met with {', '.join(rescue.chosen) or 'no upgrade at all'}"


def _how(spec: IntakeField) -> str:
    return spec.how or spec.what
