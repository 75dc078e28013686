"""The [wish] and [budget] of a job file: what is required, what it may take."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.errors import Issue, as_accepted, near_miss, note, shown
from estimator.input.job.instrument import attribute_near, read_level
from estimator.input.job.keys import BUDGET, WISH
from estimator.input.job.plausible import in_plain_inches
from estimator.model import NEVER_PROMISED, Attribute, Budget, Requirement, Shop
from estimator.model.column import said_in
from estimator.tables.cells import CellError, check_range, plain
from estimator.tables.quantities import read_quantity
from estimator.tables.toml.text import TomlFile
from estimator.tables.toml.values import cell_issue, number_of, read_section, short_list, unknown_keys

ANY = "any"


def read_wish(
    toml: TomlFile, shop: Shop, is_bass: bool, issues: list[Issue]
) -> tuple[tuple[Requirement, ...], str, Mapping[str, Decimal]]:
    """Requirements in the order of the attribute table, the profile, and the weights of the score."""
    wish = read_section(toml, WISH.name, toml.values.get(WISH.name, {}), WISH.columns, issues)
    profile = as_accepted(wish.get("profile") or "", shop.profiles)
    if profile and profile not in shop.profiles:
        hint = near_miss(profile, shop.profiles)
        accepted = ", ".join(shop.profiles)
        note(issues, toml.where(WISH.name, "profile"), "unknown profile", shown(profile), accepted, hint)
    rows = shop.profiles.get(profile, {})
    levels = _required_levels(toml, shop, wish.get("require") or {}, issues)
    limits = _limits(toml, shop, wish.get("limits") or {}, issues)
    requirements: list[Requirement] = []
    for name, attribute in shop.attributes.items():
        asked = levels.get(name)
        row = rows.get(name)
        if name in limits:
            requirements.append(limits[name])
        if name in levels and asked is not None:
            origin = toml.where(f"{WISH.name}.require", name)
            requirements.extend(_at_level(attribute, asked, "asked for", is_bass, origin))
        elif name not in levels and name not in limits and row is not None and row.minimum is not None:
            origin = toml.where(WISH.name, "profile")
            requirements.extend(_at_level(attribute, row.minimum, f"profile {profile}", is_bass, origin))
    weights = {name: row.weight for name, row in rows.items()} | _weights(
        toml, shop, wish.get("weights") or {}, issues
    )
    return tuple(requirements), profile, MappingProxyType(weights)


def _at_level(
    attribute: Attribute, level: Decimal, because: str, is_bass: bool, origin: Any
) -> tuple[Requirement, ...]:
    """A required level; for an amount, the limit at which that level begins (level 0: nothing)."""
    if level == 0:
        return ()
    if attribute.kind == "level":
        return (Requirement(attribute.id, None, None, level, because, origin),)
    if not attribute.limits:
        return ()
    amount = attribute.limits[int(level) - 1] + (attribute.bass_shift if is_bass else Decimal(0))
    least, most = (amount, None) if attribute.better == "more" else (None, amount)
    return (Requirement(attribute.id, least, most, level, because, origin),)


def _known(toml: TomlFile, shop: Shop, path: str, raw: Mapping[str, Any], issues: list[Issue]) -> list[str]:
    """The keys of a group that are attributes; the others are complained of."""
    known = []
    for name in raw:
        if name == NEVER_PROMISED:
            note(
                issues,
                toml.where(path, name),
                "sustain and “resonance” cannot be asked for",
                shown(name),
                "attributes that can be measured",
                "take it out; note the player's words in [job] what",
            )
        elif name in shop.attributes:
            known.append(name)
        else:
            note(
                issues,
                toml.where(path, name),
                "unknown attribute",
                shown(name),
                short_list(shop.attributes),
                attribute_near(name, shop),
            )
    return known


def _required_levels(
    toml: TomlFile, shop: Shop, raw: Mapping[str, Any], issues: list[Issue]
) -> dict[str, Decimal | None]:
    path = f"{WISH.name}.require"
    levels: dict[str, Decimal | None] = {}
    for name in _known(toml, shop, path, raw, issues):
        where, attribute = toml.where(path, name), shop.attributes[name]
        if raw[name] == ANY:
            levels[name] = None
            continue
        try:
            level = read_level(raw[name])
            if attribute.kind == "number" and level != level.to_integral_value():
                raise CellError(
                    "half a level of an amount", "0, 1, 2, 3, 4", "or state the amount under [wish.limits]"
                )
            if attribute.kind == "number" and not attribute.limits and level:
                raise CellError("an amount without levels", f"limits = {{ {name} = {{ most = ... }} }}")
            levels[name] = level
        except CellError as error:
            accepted = f'{error.accepted}, or "{ANY}"' if "0" in error.accepted else error.accepted
            issues.append(cell_issue(CellError(error.problem, accepted, error.next_step), where, raw[name]))
    return levels


def _limits(
    toml: TomlFile, shop: Shop, raw: Mapping[str, Any], issues: list[Issue]
) -> dict[str, Requirement]:
    path = f"{WISH.name}.limits"
    limits: dict[str, Requirement] = {}
    for name in _known(toml, shop, path, raw, issues):
        attribute, entry, where = shop.attributes[name], raw[name], toml.where(path, name)
        if attribute.kind != "number":
            step = f"require = {{ {name} = 3 }}"
            note(
                issues, where, "a limit on an attribute that has levels", shown(name), "a level 0 to 4", step
            )
            continue
        if not isinstance(entry, dict) or not entry:
            note(issues, where, "a limit that says neither least nor most", shown(entry), "{ most = ... }")
            continue
        issues.extend(unknown_keys(toml, f"{path}.{name}", entry, ("least", "most")))
        ends: dict[str, Decimal] = {}
        for end in ("least", "most"):
            if end in entry:
                try:
                    plainly = in_plain_inches(entry[end], attribute.unit, where, issues)
                    ends[end] = read_quantity(plainly, attribute.unit)
                    check_range(ends[end], Decimal(0), None)
                except CellError as error:
                    issues.append(cell_issue(error, where, entry[end]))
        least, most = ends.get("least"), ends.get("most")
        if least is not None and most is not None and least > most:
            found = f"least {plain(least)}, most {plain(most)} {attribute.unit}".strip()
            note(issues, where, "a least amount above the most", found, "least up to most", "swap the two")
        limits[name] = Requirement(name, least, most, None, "asked for", where)
    return limits


def _weights(toml: TomlFile, shop: Shop, raw: Mapping[str, Any], issues: list[Issue]) -> dict[str, Decimal]:
    path = f"{WISH.name}.weights"
    weights: dict[str, Decimal] = {}
    for name in _known(toml, shop, path, raw, issues):
        try:
            weights[name] = number_of(raw[name])
            check_range(weights[name], Decimal(0), Decimal(1000))
        except CellError as error:
            issues.append(cell_issue(error, toml.where(path, name), raw[name]))
    return weights


def read_budget(toml: TomlFile, job_kind: str, shop: Shop, issues: list[Issue]) -> Budget:
    """Money, what it is held against, minutes, surety."""
    values = read_section(
        toml, BUDGET.name, toml.values.get(BUDGET.name, {}), BUDGET.columns, issues, shop.terms.currency
    )
    for key, what in (("money", "money"), ("hours", "time")):
        # less than half a cent, or half a hundredth of a minute, counts as nothing
        if values.get(key) is not None and values[key] < Decimal("0.005"):
            step = "name what it may take, or leave the line out for no limit"
            note(
                issues,
                toml.where(BUDGET.name, key),
                f"a budget of no {what}",
                plain(values[key]),
                "more than 0",
                step,
            )
    said = said_in(Budget, BUDGET.name, values)
    usual = "price" if job_kind == "commission" else "cash"
    return Budget(**said | {"on": said["on"] or usual}, origin=toml.where(BUDGET.name))
