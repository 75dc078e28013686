"""The settings of ``shop.toml``: declared once, read from one or more files, made into Terms."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from types import MappingProxyType
from typing import Any

from msgspec.structs import asdict

from estimator.core.errors import InputError, Issue, Origin, near_miss, note, shown
from estimator.model import BASES, MarkupBand, Terms
from estimator.model.column import ZERO, Column
from estimator.tables.cells import CellError, check_range
from estimator.tables.kinds_of_file import refuse_other_kind
from estimator.tables.schema.settings import (
    BUILD_UP,
    GROUPS,
    HOUR_LINES,
    MARKUP,
    OPTIONAL,
    OUTRIGHT,
    OVERHEAD_LINES,
    PAY_LINES,
    SETTINGS,
)
from estimator.tables.toml.text import TomlFile, parse_toml
from estimator.tables.toml.values import read_section, unknown_keys

CENT = Decimal("0.01")
#: ISO 4217 currencies without hundredths (JPY, BHD seen in the OPC UA specification, part 3; the rest: memory)
UNDIVIDED = (
    "BIF",
    "CLP",
    "DJF",
    "GNF",
    "ISK",
    "JPY",
    "KMF",
    "KRW",
    "PYG",
    "RWF",
    "UGX",
    "UYI",
    "VND",
    "VUV",
    "XAF",
    "XOF",
    "XPF",
)
THOUSANDTHS = ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND")


def read_terms(files: Sequence[tuple[str, bytes]]) -> Terms:
    """Terms from the default ``shop.toml`` and those laid over it, later ones winning key by key.

    Each file is (name shown, bytes). InputError carries all complaints. In the first every key needs a basis;
    what a shop lays over it is its own where it does not say so.
    """
    merged: dict[str, Any] = {}
    build_up: dict[str, Any] = {}
    issues: list[Issue] = []
    currency = currency_said(data for _, data in files)
    for number, (file, data) in enumerate(files):
        try:
            toml = parse_toml(data, file)
            refuse_other_kind(toml, "settings")
        except InputError as error:
            issues.extend(error.issues)
            continue
        values = _read_file(toml, issues, currency, own=number > 0)
        given = {key: value for key, value in values.items() if key in toml.values}
        if given.get("shop_logo"):  # named from where the settings lie
            given["shop_logo"] = (Path(file).parent / given["shop_logo"]).as_posix()
        if "rate_build_up" in toml.values:
            for name in OUTRIGHT:
                merged.pop(name, None)
            build_up.update(
                {k: v for k, v in values["rate_build_up"].items() if k in _group(toml, "rate_build_up")}
            )
        merged.update({key: value for key, value in given.items() if key != "rate_build_up"})
    if not issues:
        issues.extend(_fill_rates(merged, build_up, files[-1][0]))
        issues.extend(_contradictions(merged, files[-1][0]))
    if issues:
        raise InputError(issues)
    merged["rate_build_up"] = MappingProxyType(build_up)
    merged.update({name: "" for name in OPTIONAL if merged.get(name) is None})
    return Terms(**{name: merged[name] for name in Terms.__struct_fields__})


def currency_said(files: Iterable[bytes]) -> str:
    """The currency that the last of some ``shop.toml`` names, as it stands there; blank where none can be read."""
    found = ""
    for data in files:
        try:
            said = parse_toml(data, "").values.get("currency", found)
        except InputError:
            continue  # complained of where the file is read
        found = said.strip().upper() if isinstance(said, str) else found
    return found


def doubts(terms: Terms, places: Collection[str], file: str) -> Iterator[Issue]:
    """Warnings about settings that are read but hardly meant; ``places``: countries that any table knows."""
    if places and terms.menu_place and terms.menu_place not in places:
        yield Issue(
            Origin(file, None, "menu_place"),
            "no table knows this country: its menu is held against no posted prices, and prints on A4",
            shown(terms.menu_place),
            ", ".join(sorted(places)),
            near_miss(terms.menu_place, places) or "add its row to countries.csv, or take one of these",
            "warning",
        )
    if not terms.charge_per_hour:
        yield Issue(
            Origin(file, None, "charge_per_hour"),
            "customers are charged nothing for an hour of work",
            "0",
            "what an hour has to bring",
            "estimator rate works it out",
            "warning",
        )


def _group(toml: TomlFile, name: str) -> dict[str, Any]:
    raw = toml.values.get(name, {})
    return raw if isinstance(raw, dict) else {}


def _read_file(toml: TomlFile, issues: list[Issue], currency: str, own: bool) -> dict[str, Any]:
    flat = {key: raw for key, raw in toml.values.items() if key not in (*GROUPS, "basis", "source")}
    values = read_section(toml, "", flat, SETTINGS, issues, currency)
    if "rate_build_up" in toml.values:
        columns = [Column(c.name, c.kind, c.meaning, c.unit, ZERO, c.low, c.high) for c in BUILD_UP]
        values["rate_build_up"] = read_section(
            toml, "rate_build_up", toml.values["rate_build_up"], columns, issues, currency
        )
    if "markup" in toml.values:
        values["markup"] = _read_markup(toml, issues, currency)
    needed = [] if own else [*flat, *(name for name in GROUPS if name in toml.values)]
    issues.extend(_basis_issues(toml, needed))
    return values


def _read_markup(toml: TomlFile, issues: list[Issue], currency: str) -> tuple[MarkupBand, ...]:
    raw = toml.values["markup"]
    if not isinstance(raw, list) or not raw:
        note(issues, toml.where("markup"), "no mark-up bands", "", "one [[markup]] section per band")
        return ()
    bands: list[MarkupBand] = []
    for number, entry in enumerate(raw):
        band = read_section(toml, f"markup.{number}", entry, MARKUP, issues, currency)
        if len(band) == len(MARKUP):
            bands.append(MarkupBand(band["up_to"], band["factor"]))
    issues.extend(_bands_out_of_order(bands, toml.where("markup")))
    return tuple(bands)


def _bands_out_of_order(bands: Sequence[MarkupBand], where: Origin) -> list[Issue]:
    limits = [band.up_to for band in bands]
    rising = [limit for limit in limits if limit is not None]
    if None not in limits[:-1] and limits[-1:] == [None] and rising == sorted(set(rising)):
        return []
    return [
        Issue(
            where,
            "mark-up bands out of order",
            ", ".join(str(limit) for limit in limits),
            "bands with rising up_to, the last one without up_to so that it holds for all dearer parts",
        )
    ]


def terms_issues(terms: Terms, file: str) -> list[Issue]:
    """Everything a ``shop.toml`` with these terms would be refused for; for terms changed on another way."""
    values = asdict(terms)
    cells = [(column, values[column.name], column.name) for column in SETTINGS]
    for number, band in enumerate(terms.markup, start=1):
        cells += [
            (column, getattr(band, column.name), f"markup {number}: {column.name}") for column in MARKUP
        ]
    issues: list[Issue] = []
    for column, value, name in cells:
        if not isinstance(value, Decimal | int) or isinstance(value, bool):
            continue
        try:
            check_range(Decimal(value), column.low, column.high, column.kind)
        except CellError as error:
            where = Origin(file, None, name)
            note(issues, where, error.problem, shown(str(value)), error.accepted, error.next_step)
    return (
        issues
        + _bands_out_of_order(terms.markup, Origin(file, None, "markup"))
        + _contradictions(values, file)
    )


def _basis_issues(toml: TomlFile, keys: Iterable[str]) -> list[Issue]:
    basis, source = _group(toml, "basis"), _group(toml, "source")
    known = [column.name for column in SETTINGS] + [*GROUPS, "everything"]
    issues = unknown_keys(toml, "basis", basis, known) + unknown_keys(toml, "source", source, known)
    for key, value in basis.items():
        if value not in BASES:
            hint = near_miss(str(value), BASES)
            note(issues, toml.where("basis", key), "unknown basis", shown(value), ", ".join(BASES), hint)
        elif value == "published" and not source.get(key):
            note(
                issues,
                toml.where("basis", key),
                "published without a source",
                "",
                "the publication by name",
                f'add a line under [source]: {key} = "..."',
            )
    for key in keys:
        if key in known and key not in basis and "everything" not in basis:
            note(
                issues,
                toml.where("basis", key),
                "no basis is given for this key",
                "",
                ", ".join(BASES),
                f'write under [basis]: {key} = "memory" (or everything = "memory" for all)',
            )
    return issues


def _fill_rates(merged: dict[str, Any], build_up: dict[str, Any], file: str) -> list[Issue]:
    """Work out pay and overhead per billed hour from the yearly lines, half up to the cent."""
    missing = [column.name for column in HOUR_LINES if column.name not in build_up]
    wanted = [name for name in OUTRIGHT if merged.get(name) is None]
    if wanted and missing:
        return [
            Issue(
                Origin(file, None, name),
                "neither given nor to be worked out",
                "",
                f"{name} outright, or [rate_build_up] with {', '.join(missing)}",
            )
            for name in wanted
        ]
    if wanted:
        hours = build_up["weeks"] * build_up["hours_per_week"] * build_up["billable_share"]
        for name, lines in zip(OUTRIGHT, (PAY_LINES, OVERHEAD_LINES), strict=True):
            if name in wanted:
                total = sum((build_up.get(line.name, ZERO) for line in lines), ZERO)
                merged[name] = (total / hours).quantize(CENT, ROUND_HALF_UP)
    required = [*(column.name for column in SETTINGS if column.name not in OPTIONAL), "markup"]
    return [
        Issue(Origin(file, None, name), "a setting is missing", "", name, f"add a line: {name} = ...")
        for name in required
        if merged.get(name) is None
    ]


def _contradictions(merged: dict[str, Any], file: str) -> list[Issue]:
    pairs = (("fee_least", "fee_most"), ("hidden_fault_share", "hidden_fault_share_unstrung"))
    return _currency_issues(merged, file) + [
        Issue(
            Origin(file, None, low),
            f"{low} is above {high}",
            f"{merged[low]} and {merged[high]}",
            f"{low} up to {high}",
        )
        for low, high in pairs
        if merged.get(low) is not None and merged.get(high) is not None and merged[low] > merged[high]
    ]


def _currency_issues(merged: dict[str, Any], file: str) -> list[Issue]:
    """All money is kept and rounded in hundredths: currencies with another smallest coin are refused."""
    said = merged.get("currency", "")
    currency, where = said.strip().upper(), Origin(file, None, "currency")
    if currency not in (*UNDIVIDED, *THOUSANDTHS):
        if not said or re.fullmatch("[A-Z]{3}", said):
            return []
        step = "prices of listings in another currency are told by these letters"
        accepted = "three capital letters, such as USD or EUR"
        return [Issue(where, "a currency that is not told by its letters", shown(said), accepted, step)]
    coin = "has no hundredths" if currency in UNDIVIDED else "is divided into thousandths"
    return [
        Issue(
            where,
            f"{currency} {coin}, and this program rounds every price to the hundredth",
            shown(currency),
            "a currency with two decimal places",
            "state all money in such a currency, and turn the amount to pay into yours by hand",
        )
    ]


def still_in_another_currency(
    default: str, terms: Terms, priced: tuple[int, int], file: str
) -> Iterator[Issue]:
    """A warning where the shop has another currency than the default one and prices are left as they were.

    ``priced``: how many rows with a price are the default's, and how many there are. Nobody changes money here.
    """
    theirs, every = priced
    if terms.currency != default and theirs:
        yield Issue(
            Origin(file, None, "currency"),
            f"{theirs} of {every} prices of parts, consumables and tools are still the default shop's, made in {default}: "
            f"each counts as so many {terms.currency}, and so do sums of shop.toml that are not yours yet",
            shown(terms.currency),
            f"prices in {terms.currency}",
            "write your own into parts.csv, consumables.csv, tools.csv and shop.toml (estimator shop-book --write "
            "FILE.xlsx has them all in one workbook); estimator own-shop shows what is yours",
            "warning",
        )
