"""Values that can hardly be meant as they stand: one piece for the set, a value its neighbours contradict.

What is told here is a warning: the value is taken as it was given, and ``--strict`` stops at it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from math import log
from typing import Any

from estimator.core.errors import Issue, Origin, note, shown
from estimator.input.job.keys import PART
from estimator.model import Neighbour, Part, PerPiece, Reading, Shop
from estimator.model.plausible import INSTRUMENT as OF_INSTRUMENT
from estimator.tables.cells import parsed, plain, range_text
from estimator.tables.conditions import holds, thing_of
from estimator.tables.faults import shows, word_of
from estimator.tables.intake import PART_OF
from estimator.tables.quantities import bare_inches
from estimator.tables.toml.text import TomlFile

Readings = Mapping[str, Reading]
OUTSIDE = Decimal("1.25")
"""A value may lie beyond what is usual by this factor before the other meaning is looked at."""
FAR = {"weight_g": Decimal(2), "price": Decimal(3)}
"""How far a part may lie beyond the shop's own parts of its class, as a factor, before it is asked about."""
WORDS = ("none", "one", "both", "all three", "all four", "all five", "all six", "all seven", "all eight")


def in_plain_inches(raw: Any, unit: str, where: Origin, issues: list[Issue]) -> Any:
    """A value as it is to be read: a bare fraction of a length with its inches, and that is told."""
    plainly = bare_inches(raw, unit)
    if not plainly:
        return raw
    step = f"write “{plainly}” if inches are meant, or the number in {unit}"
    problem = f"a fraction without a unit is taken for inches: {plainly}"
    note(issues, where, problem, shown(raw), f"“{plainly}”, or a number in {unit}", step, "warning")
    return plainly


def doubts(
    toml: TomlFile, shop: Shop, instrument: Readings, parts: Mapping[str, Part], family: str
) -> Iterator[Issue]:
    """Every doubt about what was measured on the instrument (a guitar or a bass: ``family``) and its parts."""
    for neighbour in shop.plausible.neighbours:
        if neighbour.instruments in ("any", family) and holds(neighbour.when, instrument):
            yield from _beside(neighbour, shop, instrument, family)
    yield from _of_what_is_not_there(shop, instrument)
    asked = [
        row
        for row in shop.plausible.per_piece
        if row.instruments in ("any", family) and holds(row.when, instrument)
    ]
    for row in asked:
        reading = instrument.get(row.value) if row.part_class == OF_INSTRUMENT else None
        if reading is not None and not reading.assumed:
            spec = shop.intake[row.value]
            usual = (row.low or spec.accepted_low, row.high or spec.accepted_high)
            yield from _one_or_all(row, _number(reading), spec.unit, usual, instrument, reading.origin)
    for number, entry in enumerate(_entries(toml)):
        part = parts.get(str(entry.get("id")))
        if part is not None:
            rows = {row.value: row for row in asked if row.part_class == part.part_class}
            yield from _of_part(toml, f"{PART.name}.{number}", part, rows, shop, instrument)


def _of_what_is_not_there(shop: Shop, instrument: Readings) -> Iterator[Issue]:
    """A fault that was measured on something which the instrument has not: else nobody would hear of it."""
    told = set()
    for fault in shop.faults:
        reading = instrument.get(fault.field)
        there = thing_of(fault.when)
        if not there or fault.fault in told or reading is None:
            continue
        if shows(fault, reading) and not holds(fault.when, instrument):
            told.add(fault.fault)
            yield Issue(
                reading.origin,
                f"{fault.what}, but as it is told or usual on such an instrument there is no {there}",
                f"{fault.field} = {word_of(reading)}",
                "a value of what is there",
                f"say what {there} there is, or write the value at the place that was meant; till then it counts for nothing",
                "warning",
            )


def parts_of_wholes(shop: Shop, instrument: Readings) -> Iterator[Issue]:
    """A part said larger than the whole: an error where both were measured, else the whole is in doubt."""
    for name, whole in PART_OF.items():
        part, full = instrument.get(name), instrument.get(whole)
        if part is None or full is None or part.assumed or _number(part) <= _number(full):
            continue
        least = f"at most {plain(_number(full))} {shop.intake[whole].unit}, the whole"
        if full.assumed:
            found = (
                f"{_named(name, shop, instrument)}; {whole} was not measured, usually {plain(_number(full))}"
            )
            step = f"measure the whole too: {whole} ({shop.intake[whole].how})"
            yield Issue(part.origin, "a part larger than the usual whole", found, least, step, "warning")
            continue
        step = f"measure both again: {name} ({shop.intake[name].how}), {whole} ({shop.intake[whole].how})"
        found = f"{_named(name, shop, instrument)} of {_named(whole, shop, instrument)}"
        yield Issue(part.origin, "a part larger than the whole", found, least, step)


def _entries(toml: TomlFile) -> list[Mapping[str, Any]]:
    found = toml.values.get(PART.name, [])
    return [entry if isinstance(entry, dict) else {} for entry in found] if isinstance(found, list) else []


def _number(reading: Reading) -> Decimal:
    return reading.value if isinstance(reading.value, Decimal) else Decimal(0)


def _beside(row: Neighbour, shop: Shop, instrument: Readings, family: str) -> Iterator[Issue]:
    """A measured value outside what is usual beside its neighbours, all of which were measured too."""
    low, high = parsed(row.low), parsed(row.high)
    others = tuple(dict.fromkeys((*low.names, *high.names)))
    readings = [instrument.get(name) for name in (row.field, *others)]
    if any(reading is None or reading.assumed for reading in readings):
        return
    value = _number(instrument[row.field])
    least, most = (end.value(lambda name: _number(instrument[name])) for end in (low, high))
    if least <= value <= most:
        return
    unit = shop.intake[row.field].unit
    beside = " and ".join(_named(name, shop, instrument) for name in others) or f"a {family}"
    hows = dict.fromkeys(f"{name} ({shop.intake[name].how})" for name in (row.field, *others))
    yield Issue(
        instrument[row.field].origin,
        f"two values that do not go together: {row.because}"
        if others
        else f"not what is usual: {row.because}",
        f"{_named(row.field, shop, instrument)} beside {beside}",
        f"{row.field} usually {range_text(least, most)} {unit}".strip(),
        f"measure again: {', '.join(hows)}",
        "warning",
    )


def _named(name: str, shop: Shop, instrument: Readings) -> str:
    return f"{name} {plain(_number(instrument[name]))} {shop.intake[name].unit}".strip()


def _of_part(
    toml: TomlFile,
    path: str,
    part: Part,
    rows: Mapping[str, PerPiece],
    shop: Shop,
    instrument: Readings,
) -> Iterator[Issue]:
    """Weight and price of a part as given, against the shop's own parts of its class."""
    kin = shop.parts_by_class.get(part.part_class, ())
    known = {
        "weight_g": [other.weight_g for other in kin if other.weight_g],
        "price": [other.price for other in kin if other.price],
    }
    given = {"weight_g": None if "weight_g" in part.typical else part.weight_g, "price": part.price}
    for name, value in given.items():
        if not value or not known[name]:
            continue
        low, high = min(known[name]), max(known[name])
        where, unit = toml.where(path, name), "g" if name == "weight_g" else ""
        row = rows.get(name)
        told = () if row is None else tuple(_one_or_all(row, value, unit, (low, high), instrument, where))
        yield from told
        if not told and not low / FAR[name] <= value <= high * FAR[name]:
            accepted = f"{range_text(low, high)} {unit}".strip()
            step = f"sure? that is what the shop's own parts of {part.part_class} have"
            yield Issue(where, "a value outside the usual range", plain(value), accepted, step, "warning")


def _one_or_all(
    row: PerPiece,
    value: Decimal,
    unit: str,
    usual: tuple[Decimal | None, Decimal | None],
    instrument: Readings,
    where: Origin,
) -> Iterator[Issue]:
    """A value that is far from what is usual and would be near it if it were meant the other way."""
    low, high = usual
    pieces = parsed(row.pieces).value(lambda name: _number(instrument[name]))
    if value <= 0 or pieces <= 1 or not low or not high:
        return
    other = value * pieces if row.counts == "all" else value / pieces
    if low / OUTSIDE <= value <= high * OUTSIDE or 2 * _off(other, low, high) > _off(value, low, high):
        return
    fits, asks = (row.one, row.all) if row.counts == "all" else (row.all, row.one)
    sum_ = f"{plain(value)} {'x' if row.counts == 'all' else '/'} {plain(pieces)}"
    size = f"{plain(_short(other))} {unit}".strip()
    count = WORDS[int(pieces)] if pieces < len(WORDS) else f"all {plain(pieces)}"
    yield Issue(
        where,
        f"{plain(value)}: for one, or {count}?"
        if row.one.startswith("one ") and "to the next" not in row.one
        else f"{plain(value)}: {row.one}, or {row.all}?",
        f"{plain(value)} {unit}".strip() + f", which would fit {fits}",
        f"what is asked is {asks}: usually {range_text(low, high)} {unit}".strip(),
        f"if it is for {fits}, write {row.value} = {plain(_short(other))} ({sum_} = {size})",
        "warning",
    )


def _off(value: Decimal, low: Decimal, high: Decimal) -> float:
    """How far a value lies outside a range, as the logarithm of a factor; 0 inside."""
    return max(0.0, log(low / value), log(value / high))


def _short(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.01")).normalize() + 0
