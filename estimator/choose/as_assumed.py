"""Work that only an assumed value refuses, at what a chosen set works on: with it measured another set may be best."""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct

from estimator.choose.study import Study


class RefusedAsAssumed(Struct, frozen=True):
    """An upgrade that does not fit only as some values are assumed, by their names."""

    upgrade: str
    assumed: tuple[str, ...]


def refused_as_assumed(study: Study, chosen: Collection[str]) -> tuple[RefusedAsAssumed, ...]:
    """Other work at what a set works on that does not fit only as something is assumed of the instrument.

    A refret stands there for a levelling, because nobody measured how high the frets are.
    """
    slots = {v.upgrade.row.slot for v in study.verdicts if v.upgrade.id in chosen}
    refused = []
    for verdict in study.verdicts:
        against = [found for found in verdict.findings if found.outcome == "no"]
        assumed = [value for found in against for value in found.assumed]
        if verdict.upgrade.row.slot not in slots or any(not found.assumed for found in against):
            continue
        if assumed and not any(value.dimension for value in assumed):
            names = tuple(dict.fromkeys(value.name for value in assumed))
            refused.append(RefusedAsAssumed(verdict.upgrade.id, names))
    return tuple(refused)
