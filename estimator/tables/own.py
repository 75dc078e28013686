"""What a shop of one's own changes in the default shop, and the least files that say so.

A file of a shop's own rows needs a row's key and the columns that it changes; what stays as it is in the
default shop is not repeated, so that a better default reaches the shop as well.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from io import StringIO
from typing import Any

from msgspec import Struct

from estimator.core.errors import InputError
from estimator.core.text import count
from estimator.model import OWN
from estimator.tables.cells import plain
from estimator.tables.csv_rows import CLEARED, Key, TableRow, key_of, read_table
from estimator.tables.folders import SHOP_FILE
from estimator.tables.schema.settings import GROUPS, OPTIONAL, SETTINGS
from estimator.tables.schema.shop import TABLES
from estimator.tables.schema.table import TableSpec
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import toml_text

BASIS = ("basis", "source")
NEW_ROW = "(new row)"
Files = Mapping[str, bytes]
RowsByKey = Mapping[Key, TableRow]


class Difference(Struct, frozen=True):
    """One value of a shop that is not the default's: where, what it was, what it is, and on what it rests."""

    file: str
    key: str
    column: str
    before: str
    after: str
    basis: str
    source: str = ""
    per: str = ""


PER = {
    ("tasks.csv", "run_min_low"): "driver",
    ("tasks.csv", "run_min_likely"): "driver",
    ("tasks.csv", "run_min_high"): "driver",
    ("consumables.csv", "price"): "pack",
}
"""Numbers that are easily taken for those of the whole, and the column that says of how much they are."""


def as_text(value: object) -> str:
    """A typed value as a cell says it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, Mapping):
        return " ".join(f"{name}={word}" for name, word in value.items())
    if isinstance(value, tuple):
        return " ".join(map(as_text, value))
    return str(value)


def rows_of(spec: TableSpec, files: Files, label: str, base: RowsByKey | None = None) -> RowsByKey:
    """The rows of one file by their key, laid over ``base``; InputError carries its complaints."""
    if spec.file not in files:
        return {}
    table = read_table(files[spec.file], spec, f"{label}/{spec.file}", base)
    if table.issues:
        raise InputError(table.issues)
    return {key_of(spec, row.values): row for row in table.rows}


def differences(default: Files, own: Files, label: str) -> list[Difference]:
    """Every value of a shop's own files that is not the default's, file by file."""
    found: list[Difference] = []
    for spec in TABLES:
        if spec.file not in own:
            continue
        base = rows_of(spec, default, "rates")
        for key, row in rows_of(spec, own, label, base).items():
            found.extend(_of_row(spec, key, row, base.get(key)))
    if SHOP_FILE in own:
        found.extend(_of_settings(default[SHOP_FILE], own[SHOP_FILE], f"{label}/{SHOP_FILE}"))
    return found


def _of_row(spec: TableSpec, key: Key, row: TableRow, old: TableRow | None) -> Iterable[Difference]:
    name = " ".join(as_text(part) for part in key if part != "")
    basis, source = row.values["basis"], row.values["source"]
    if old is None:
        yield Difference(spec.file, name, NEW_ROW, "", "", basis, source)
        return
    for column in changed_columns(row, old):
        before, after = (as_text(values[column]) for values in (old.values, row.values))
        per = as_text(row.values[PER[spec.file, column]]) if (spec.file, column) in PER else ""
        yield Difference(spec.file, name, column, before, after, basis, source, per)


def changed_columns(row: TableRow, old: TableRow) -> list[str]:
    """The columns in which a row says something else than the one it is laid over, its basis apart."""
    return [name for name, value in old.values.items() if name not in BASIS and row.values[name] != value]


def _settings(data: bytes, file: str) -> tuple[dict[str, Any], dict[str, str], dict[str, str]]:
    """The settings of a ``shop.toml`` by key (``rate_build_up.draw`` for one in a group), bases and sources."""
    values = parse_toml(data, file).values
    flat = {key: raw for key, raw in values.items() if key not in (*BASIS, "rate_build_up")}
    group = values.get("rate_build_up", {})
    flat |= {f"rate_build_up.{key}": raw for key, raw in group.items()} if isinstance(group, dict) else {}
    basis, source = (values.get(name, {}) for name in BASIS)
    return flat, basis, source


def _of_settings(default: bytes, own: bytes, file: str) -> Iterable[Difference]:
    old, _, _ = _settings(default, SHOP_FILE)
    new, bases, sources = _settings(own, file)
    for key, value in new.items():
        if value == old.get(key):
            continue
        top = key.partition(".")[0]
        basis = bases.get(top, bases.get("everything", OWN))
        before, after = (toml_text(raw) if raw is not None else "" for raw in (old.get(key), value))
        yield Difference(SHOP_FILE, key, "", before, after, basis, sources.get(top, ""))


# ------------------------------------------------------------------------------------ writing the least


def only_what_differs(default: Files, whole: Files, label: str) -> tuple[dict[str, bytes], list[str]]:
    """The files of ``whole`` cut down to what the default does not say, and what they cannot say, in words."""
    files: dict[str, bytes] = {}
    notes: list[str] = []
    for spec in TABLES:
        if spec.file not in whole:
            continue
        base = rows_of(spec, default, "rates")
        mine = rows_of(spec, whole, label, base)
        if gone := [key for key in base if key not in mine]:
            names = ", ".join(" ".join(map(as_text, key)) for key in gone[:5])
            notes.append(
                f"{spec.file}: not in it, and left as they are: {count(len(gone), 'row')} of the default shop ({names}"
                f"{', ...' if len(gone) > 5 else ''}); a row cannot be taken out, only changed"
            )
        if data := least_table(spec, list(mine.values()), base):
            files[spec.file] = data
    if SHOP_FILE in whole and (data := _least_settings(default[SHOP_FILE], whole[SHOP_FILE], label)):
        files[SHOP_FILE] = data
    return files, notes


def least_table(spec: TableSpec, rows: Sequence[TableRow], base: RowsByKey) -> bytes:
    """A CSV file of the rows that differ from ``base``: the key, the columns that change, basis and source."""
    kept: list[dict[str, str]] = []
    for row in rows:
        old = base.get(key_of(spec, row.values))
        columns = changed_columns(row, old) if old is not None else list(row.values)
        if not columns:
            continue
        cells = {name: as_text(row.values[name]) or (CLEARED if old is not None else "") for name in columns}
        cells |= {name: as_text(row.values[name]) for name in spec.key}
        # a basis that came with the default row is that of the default's number, not of this one
        if old is None or any(row.values[name] != old.values[name] for name in BASIS):
            cells |= {name: row.values[name] for name in BASIS}
            if cells["basis"] == OWN and not cells["source"]:
                cells = {name: text for name, text in cells.items() if name not in BASIS}
        kept.append(cells)
    if not kept:
        return b""
    used = {name for cells in kept for name, text in cells.items() if text} | set(spec.key)
    head = [column.name for column in spec.columns if column.name in used]
    out = StringIO()
    writer = csv.DictWriter(out, head, restval="", extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(kept)
    return out.getvalue().encode()


def empty_table(spec: TableSpec) -> bytes:
    """A file of this table that changes nothing."""
    return (",".join(spec.key) + "\n").encode()


def whole_shop(default: Files, own: Files, label: str) -> dict[str, bytes]:
    """All files of the shop that a folder makes of the default one, each of them whole."""
    files = dict(default)
    for spec in TABLES:
        if spec.file not in own:
            continue
        base = rows_of(spec, default, "rates")
        merged = {**base, **rows_of(spec, own, label, base)}
        out = StringIO()
        names = [column.name for column in spec.columns]
        writer = csv.DictWriter(out, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows({name: as_text(row.values[name]) for name in names} for row in merged.values())
        files[spec.file] = out.getvalue().encode()
    if SHOP_FILE in own:
        files[SHOP_FILE] = _merged_settings(default[SHOP_FILE], own[SHOP_FILE], f"{label}/{SHOP_FILE}")
    return files


def _merged_settings(default: bytes, own: bytes, file: str) -> bytes:
    old, bases, sources = _settings(default, SHOP_FILE)
    new, own_bases, own_sources = _settings(own, file)
    tops = {key.partition(".")[0] for key in new}
    kept = {key: text for key, text in bases.items() if key not in tops}
    changed = {key: own_bases.get(key, own_bases.get("everything", OWN)) for key in tops}
    said = {key: text for key, text in sources.items() if key not in tops} | own_sources
    return settings_text({**old, **new}, {**kept, **changed}, said)


def _least_settings(default: bytes, whole: bytes, label: str) -> bytes:
    old, bases, sources = _settings(default, SHOP_FILE)
    new, own_bases, own_sources = _settings(whole, f"{label}/{SHOP_FILE}")
    changed = {key: value for key, value in new.items() if value != old.get(key)}
    needed = {column.name for column in SETTINGS if column.name not in OPTIONAL and column.name in old}
    if needed <= new.keys():  # a whole file: what is left out of it is not wanted
        changed |= {key: "" for key in OPTIONAL if isinstance(old.get(key), str) and key not in new}
    tops = {key.partition(".")[0] for key in changed}
    kept = {
        key: text
        for key, text in own_bases.items()
        if key in tops
        and (text != OWN or own_sources.get(key))  # what is not named is its own anyway
        and (text, own_sources.get(key)) != (bases.get(key), sources.get(key))
    }
    said = {key: text for key, text in own_sources.items() if key in kept}
    return settings_text(changed, kept, said) if changed else b""


def changed_settings(
    own: bytes, values: Mapping[str, object], basis: str, sources: Mapping[str, str]
) -> bytes:
    """A shop's own ``shop.toml`` with some settings of another value and basis."""
    old, bases, said = _settings(own, SHOP_FILE)
    return settings_text({**old, **values}, {**bases, **dict.fromkeys(values, basis)}, {**said, **sources})


def settings_text(values: Mapping[str, Any], basis: Mapping[str, str], source: Mapping[str, str]) -> bytes:
    """A ``shop.toml`` of some settings."""
    lines = [
        f"{key} = {toml_text(value)}" for key, value in values.items() if "." not in key and key not in GROUPS
    ]
    for band in values.get("markup", ()):
        lines += ["", "[[markup]]", *(f"{key} = {toml_text(value)}" for key, value in band.items())]
    group = "rate_build_up."
    groups = {"rate_build_up": {k.removeprefix(group): v for k, v in values.items() if k.startswith(group)}}
    groups |= {"basis": dict(basis), "source": dict(source)}
    for name, entries in groups.items():
        if entries:
            lines += ["", f"[{name}]", *(f"{key} = {toml_text(value)}" for key, value in entries.items())]
    return ("\n".join(lines).lstrip("\n") + "\n").encode()
