"""All coded fit rules: importing this module registers every family."""

from __future__ import annotations

from estimator.fit.case import RULES
from estimator.fit.rules import (
    body,
    bridges,
    controls,
    frets,
    guards,
    necks,
    nuts,
    onboard,
    pickups,
    posts,
    refret,
    saddles,
    strings,
    tremolo,
    tuners,
)

FAMILIES = (
    bridges,
    tremolo,
    posts,
    refret,
    saddles,
    strings,
    tuners,
    nuts,
    frets,
    pickups,
    controls,
    onboard,
    guards,
    necks,
    body,
)


def known_rules() -> tuple[str, ...]:
    """The numbers of all coded rules, in order."""
    return tuple(sorted(RULES))
