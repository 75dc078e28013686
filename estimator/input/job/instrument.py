"""The [instrument] of a job file: what was measured, and what is assumed for the rest."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.errors import Issue, near_miss, note, shown
from estimator.core.text import BASS, family_of
from estimator.input.job.keys import INSTRUMENT
from estimator.input.job.plausible import in_plain_inches
from estimator.model import Reading, Shop
from estimator.tables.cells import CellError, check_range, plain
from estimator.tables.fretless import KEY, fretless_said
from estimator.tables.intake import Defaults, kind_said
from estimator.tables.quantities import (
    NUMBER_KINDS,
    UNKNOWN,
    Value,
    outside_accepted,
    read_intake,
    read_quantity,
)
from estimator.tables.toml.text import TomlFile
from estimator.tables.toml.values import cell_issue, number_of, read_section, unknown_keys

HIGHEST_LEVEL = Decimal(4)


def read_instrument(
    toml: TomlFile, shop: Shop, issues: list[Issue]
) -> tuple[Mapping[str, Reading], Mapping[str, Reading]]:
    """Every intake field as a Reading (measured or assumed), and the levels found at the bench."""
    raw = toml.values.get(INSTRUMENT.name, {})
    own = {column.name for column in INSTRUMENT.columns}
    if not isinstance(raw, dict):
        read_section(toml, INSTRUMENT.name, raw, (), issues)
        raw = {}
    fields = {name: value for name, value in raw.items() if name not in own}
    if KEY in fields and (issue := fretless_said(fields.pop(KEY), toml.where(INSTRUMENT.name, KEY))):
        issues.append(issue)
    issues.extend(unknown_keys(toml, INSTRUMENT.name, fields, shop.intake))
    given: dict[str, Reading] = {}
    for name, value in fields.items():
        if name in shop.intake and (reading := _measured(toml, shop, name, value, issues)):
            given[name] = reading
    readings = _with_defaults(toml, shop, given, issues)
    return readings, _found_levels(toml, shop, raw.get("levels", {}), issues)


def _measured(toml: TomlFile, shop: Shop, name: str, raw: Any, issues: list[Issue]) -> Reading | None:
    """The reading of one given field; None where it is unknown or cannot be read."""
    spec, where = shop.intake[name], toml.where(INSTRUMENT.name, name)
    unknown = isinstance(raw, str) and raw.strip() == UNKNOWN
    if unknown and UNKNOWN not in spec.choices:
        return None
    try:
        plainly = in_plain_inches(raw, spec.unit if spec.kind in NUMBER_KINDS else "", where, issues)
        value = read_intake(plainly, spec, shop.terms.currency)
    except CellError as error:
        issues.append(cell_issue(error, where, raw))
        return None
    if isinstance(value, Decimal) and (accepted := outside_accepted(value, spec)):
        found = (
            f"{shown(raw)}, that is {plain(value)} {spec.unit}".strip()
            if isinstance(raw, str)
            else plain(value)
        )
        step = f"sure? measure again: {spec.how or spec.what}"
        note(issues, where, "a value outside the usual range", found, accepted, step, "warning")
    return Reading(value, unknown, where)


def _with_defaults(
    toml: TomlFile, shop: Shop, given: Mapping[str, Reading], issues: list[Issue]
) -> Mapping[str, Reading]:
    values: dict[str, Value] = {name: reading.value for name, reading in given.items()}
    is_bass = family_of(kind_said(shop.intake, values)) == BASS
    defaults = Defaults(shop.intake, values, is_bass, shop.plausible.together)
    readings: dict[str, Reading] = {}
    for name, spec in shop.intake.items():
        if name in given:
            readings[name] = given[name]
            continue
        try:
            readings[name] = Reading(defaults.value(name), True, spec.origin)
        except CellError as error:
            step = f"measure it and add a line: {name} = ..."
            where = toml.where(INSTRUMENT.name, name)
            note(
                issues, where, f"its default cannot be worked out: {error.problem}", "", error.accepted, step
            )
    return MappingProxyType(readings)


def _found_levels(toml: TomlFile, shop: Shop, raw: Any, issues: list[Issue]) -> Mapping[str, Reading]:
    path = f"{INSTRUMENT.name}.levels"
    if not isinstance(raw, dict):
        read_section(toml, path, raw, (), issues)
        return MappingProxyType({})
    issues.extend(unknown_keys(toml, path, raw, shop.attributes))
    levels: dict[str, Reading] = {}
    for name, value in raw.items():
        attribute = shop.attributes.get(name)
        if attribute is None or value == UNKNOWN:
            continue
        where = toml.where(path, name)
        try:
            if attribute.kind == "number":
                if attribute.intake_field:
                    raise CellError(
                        "an amount where a level belongs", f"{attribute.intake_field} under [instrument]"
                    )
                plainly = in_plain_inches(value, attribute.unit, where, issues)
                amount = read_quantity(plainly, attribute.unit)
            else:
                amount = read_level(value)
        except CellError as error:
            issues.append(cell_issue(error, where, value))
            continue
        levels[name] = Reading(amount, False, where)
    return MappingProxyType(levels)


def read_level(raw: object) -> Decimal:
    """A level of an attribute, 0 to 4 (halves are accepted)."""
    level = number_of(raw)
    try:
        check_range(level, Decimal(0), HIGHEST_LEVEL)
    except CellError:
        raise CellError("a level outside 0 to 4", "0 to 4") from None
    return level


def attribute_near(name: str, shop: Shop) -> str:
    """A near miss for the name of an attribute, also by its code (``A-01``)."""
    by_code = {attribute.code: attribute.id for attribute in shop.attributes.values() if attribute.code}
    code = name.strip().upper()
    return f"write “{by_code[code]}”" if code in by_code else near_miss(name, shop.attributes)
