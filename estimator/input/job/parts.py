"""The [[part]] sections of a job file: particular parts, filled up from the shop's typical ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from msgspec.structs import replace

from estimator.core.errors import Issue, near_miss, note, shown
from estimator.core.text import BASS, family_of
from estimator.input.job.keys import PART
from estimator.input.job.plausible import in_plain_inches
from estimator.model import Part, PartDimension, Reading, Shop
from estimator.model.column import said_in
from estimator.model.factor_code import MATERIALS, factor_code
from estimator.tables.cells import NO_LEVELS, CellError, check_range
from estimator.tables.counts import right_count
from estimator.tables.quantities import read_dimension, read_quantity
from estimator.tables.records import typical_dims
from estimator.tables.toml.text import TomlFile
from estimator.tables.toml.values import cell_issue, entries_of, read_section, short_list

_OWN_KEYS = frozenset(column.name for column in PART.columns)
WEIGHT = "weight_g"


Models = Mapping[str, Sequence[Part]]
"""The shop's parts that one of the job may be like, by class."""


def _of_right_count(shop: Shop, instrument: Mapping[str, Reading]) -> Models:
    """The shop's parts by class: of a class that counts something those of the instrument's count, if any."""
    bass = "kind" in instrument and family_of(instrument["kind"].value) == BASS
    return {
        name: [part for part in parts if right_count(part.made_for(bass), instrument)] or parts
        for name, parts in shop.parts_by_class.items()
    }


def read_parts(
    toml: TomlFile, shop: Shop, issues: list[Issue], instrument: Mapping[str, Reading]
) -> Mapping[str, Part]:
    """The parts of the job by id; what is not said of them is as of the shop's part of the right count."""
    models = _of_right_count(shop, instrument)
    parts: dict[str, Part] = {}
    callings: dict[tuple[str, str], str] = {}
    for number, entry in enumerate(entries_of(toml, PART.name, issues)):
        part = _read_part(toml, f"{PART.name}.{number}", entry, shop, issues, models)
        if part is None:
            continue
        if part.id in parts:
            note(
                issues,
                part.origin,
                "two parts have the same id",
                shown(part.id),
                "each id once",
                "rename one",
            )
        other = callings.setdefault((part.part_class, part.variant), part.id)
        if other != part.id:
            step = f'give each a variant of its own, such as variant = "{part.id}"'
            note(
                issues,
                part.origin,
                f"{other} and {part.id} would be called alike",
                f"both “{part.variant}” of {part.part_class}",
                "parts of one class differ in variant",
                step,
            )
        parts[part.id] = part
    return MappingProxyType(parts)


def _read_part(
    toml: TomlFile, path: str, entry: Any, shop: Shop, issues: list[Issue], models: Models
) -> Part | None:
    own = (
        {key: value for key, value in entry.items() if key in _OWN_KEYS} if isinstance(entry, dict) else entry
    )
    before = len(issues)
    values = read_section(toml, path, own, PART.columns, issues, shop.terms.currency)
    if "class" not in values or "id" not in values:
        return None
    if not _known_class(toml, path, values["class"], shop, issues):
        return None
    if "variant" in values and "grade" in values:
        model, grade = _model(toml, path, values, models, issues)
    else:
        model, grade = None, "standard"
    measured = _measured(toml, path, entry, values["class"], shop, issues)
    levels = _levels(toml, path, values.get("levels") or {}, shop, issues)
    price = _price(values, model)
    if price is None and all(issue.severity != "error" for issue in issues[before:]):
        issues.append(_no_price(toml, path, values["class"]))
    if any(issue.severity == "error" for issue in issues[before:]):
        return None
    if "levels" not in own:
        levels = model.levels if model else NO_LEVELS
    said = said_in(Part, PART.name, values) | {
        "variant": values["variant"] or _own_variant(values["id"], model),
        "grade": grade,
        "what": values["what"] or (model.what if model else shop.part_classes[values["class"]].what),
        "price": price if price is not None else Decimal(0),
        "levels": levels,
    }
    part = Part(**said, weight_g=None, origin=toml.where(path))
    return _filled_up(part, measured, model, shop)


def _known_class(toml: TomlFile, path: str, part_class: str, shop: Shop, issues: list[Issue]) -> bool:
    """Whether the shop knows a class of part; complained of if not."""
    if part_class in shop.part_classes:
        return True
    hint = near_miss(part_class, shop.part_classes) or near_miss(f"p-{part_class}", shop.part_classes)
    accepted = short_list(shop.part_classes)
    note(issues, toml.where(path, "class"), "unknown class of part", shown(part_class), accepted, hint)
    return False


def _price(values: Mapping[str, Any], model: Part | None) -> Decimal | None:
    """The price given, else that of the model; nothing for what the customer brings."""
    given: Decimal | None = values.get("price")
    if given is None and model is not None:
        return model.price
    return Decimal(0) if given is None and values.get("owner") == "customer" else given


def _no_price(toml: TomlFile, path: str, part_class: str) -> Issue:
    accepted = f"price = ..., or a grade that parts.csv has for {part_class}"
    where = toml.where(path, "price")
    return Issue(where, "no price is given and none is known", "", accepted, "add the price")


def _filled_up(part: Part, measured: Mapping[str, Decimal | str], model: Part | None, shop: Shop) -> Part:
    """The part with what was measured, and typical sizes and weight where nothing was."""
    specs = shop.part_dimensions.get(part.part_class, {})
    filled = dict(typical_dims(specs)) | dict(model.dims if model else {})
    bass = dict(model.bass_dims) if model else typical_dims(specs, column="typical_bass")
    dims = {name: value for name, value in measured.items() if name != WEIGHT}
    weight = measured.get(WEIGHT)
    typical = {*filled, *bass} - set(dims)
    if weight is None and model is not None and model.weight_g is not None:
        weight = model.weight_g
        typical.add(WEIGHT)
    return replace(
        part,
        weight_g=weight if isinstance(weight, Decimal) else None,
        dims=MappingProxyType(filled | dims),
        typical=frozenset(typical),
        bass_dims=MappingProxyType({name: value for name, value in bass.items() if name not in dims}),
    )


def _own_variant(part: str, model: Part | None) -> str:
    """The variant of a part that states none: its id, unless the model is more than a grade (bone, brass)."""
    return part if model is None or model.variant == model.grade else model.variant


def _model(
    toml: TomlFile, path: str, values: Mapping[str, Any], models: Models, issues: list[Issue]
) -> tuple[Part | None, str]:
    """The shop's part that stands in for what is not given, and the grade of the part."""
    variant, grade = values["variant"], values["grade"]
    kin = models.get(values["class"], ())
    fitting = [part for part in kin if variant in ("", part.variant) and grade in ("", part.grade)]
    if not fitting and variant:
        fitting = [part for part in kin if grade in ("", part.grade)]
    if not grade and len({part.grade for part in fitting}) > 1:
        fitting = [part for part in fitting if part.grade == "standard"] or fitting
    if len(fitting) > 1:
        words = ", ".join(f"{part.variant} ({part.grade})" for part in fitting)
        if variant:
            return fitting[0], grade or fitting[0].grade
        step = 'add a line: variant = "..."'
        problem = "several kinds of this part are known; which one?"
        note(issues, toml.where(path, "variant"), problem, shown(values["class"]), words, step)
        return None, grade
    return (fitting[0], grade or fitting[0].grade) if fitting else (None, grade or "standard")


def _measured(
    toml: TomlFile, path: str, entry: Mapping[str, Any], part_class: str, shop: Shop, issues: list[Issue]
) -> dict[str, Decimal | str]:
    specs = shop.part_dimensions.get(part_class, {})
    measured: dict[str, Decimal | str] = {}
    for name, raw in entry.items():
        if name in _OWN_KEYS:
            continue
        where = toml.where(path, name)
        try:
            if name == WEIGHT:
                weight = read_quantity(raw, "g")
                check_range(weight, Decimal(0), Decimal(20_000))
                measured[name] = weight
            elif name in specs:
                plainly = in_plain_inches(raw, _length_unit(specs[name]), where, issues)
                measured[name] = read_dimension(plainly, specs[name])
            else:
                accepted = (*_OWN_KEYS, WEIGHT, *specs)
                listed = ", ".join((WEIGHT, *specs, *(column.name for column in PART.columns)))
                note(
                    issues,
                    where,
                    f"a [[part]] of {part_class} has no such key or dimension",
                    shown(name),
                    listed,
                    near_miss(name, accepted),
                )
        except CellError as error:
            issues.append(cell_issue(error, where, raw))
    return measured


def _length_unit(spec: PartDimension) -> str:
    return spec.unit if spec.kind == "length" else ""


def _levels(
    toml: TomlFile, path: str, raw: Mapping[str, Any], shop: Shop, issues: list[Issue]
) -> Mapping[str, str]:
    known = {code: list(getattr(shop, table)) for code, table in MATERIALS.items()}
    for code, level in shop.factors:
        known.setdefault(code, []).append(level)
        stem = factor_code(code).root
        if stem != code and level not in known.setdefault(stem, []):
            known[stem].append(level)
    for code, level in raw.items():
        where = toml.where(path, "levels")
        if code not in known:
            hint = near_miss(code, known)
            note(issues, where, "unknown factor code", shown(code), ", ".join(sorted(known)), hint)
        elif level not in known[code]:
            hint = near_miss(str(level), known[code])
            note(issues, where, f"{code} has no such level", shown(level), ", ".join(known[code]), hint)
    return MappingProxyType({code: str(level) for code, level in raw.items()})
