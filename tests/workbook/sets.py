"""Upgrade sets for tests: those of a list that fit and go together."""

from __future__ import annotations

from collections.abc import Iterable

from estimator.choose.study import Study
from estimator.choose.verify.choice import clashes


def together(study: Study, ids: Iterable[str], most: int) -> tuple[str, ...]:
    """The upgrades of ``ids`` that fit and clash with none taken before them, ``most`` at the most."""
    taken: list[str] = []
    for upgrade in ids:
        fits = study.verdict(upgrade).outcome != "does-not-fit"
        if (
            fits
            and upgrade not in taken
            and len(taken) < most
            and not clashes(study.problem, (*taken, upgrade))
        ):
            taken.append(upgrade)
    return tuple(sorted(taken))
