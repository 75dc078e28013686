"""The shop: the tables that come with the program, overlaid by a folder of the user's own."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence

from estimator.core.errors import InputError, Issue
from estimator.model import Shop
from estimator.tables.checks.run import check_tables
from estimator.tables.csv_rows import TableRow, key_of, read_table
from estimator.tables.folders import SHOP_FILE, Folder, read_default, read_folder
from estimator.tables.records import build_shop
from estimator.tables.schema.shop import TABLES
from estimator.tables.schema.table import TableSpec
from estimator.tables.settings import currency_said, doubts, read_terms, still_in_another_currency


def load_shop(folder: str | os.PathLike[str] | None = None) -> Shop:
    """The default shop, overlaid by ``folder`` if given.

    Rows of the folder's tables with a known key change what they name of the default's row in place, others
    add; keys of its ``shop.toml`` replace. InputError carries every complaint of every file; the warnings of a
    good shop are in ``Shop.issues``.
    """
    folders = [read_default()]
    if folder is not None:
        folders.append(read_folder(folder))
    return assemble(folders)


def assemble(folders: Sequence[Folder]) -> Shop:
    """A shop from folders already read, later ones laid over earlier ones."""
    issues: list[Issue] = []
    settings = [(f"{f.label}/{SHOP_FILE}", f.files[SHOP_FILE]) for f in folders if SHOP_FILE in f.files]
    currency = currency_said(data for _, data in settings)
    rows = {spec.name: _overlay(spec, folders, issues, currency) for spec in TABLES}
    terms = None
    try:
        terms = read_terms(settings)
    except InputError as error:
        issues.extend(error.issues)
    if issues or terms is None:
        raise InputError(issues)
    last = f"{folders[-1].label}/{SHOP_FILE}"
    found = [
        *check_tables(rows),
        *doubts(terms, _places(rows), last),
        *still_in_another_currency(
            currency_said(data for _, data in settings[:1]), terms, _priced(rows, folders), last
        ),
    ]
    problems = [issue for issue in found if issue.severity == "error"]
    warnings = tuple(issue for issue in found if issue.severity != "error")
    shop = build_shop(terms, rows, tuple(f.label for f in folders), warnings, problems)
    if problems:
        raise InputError(problems)
    return shop


def _priced(rows: Mapping[str, Sequence[TableRow]], folders: Sequence[Folder]) -> tuple[int, int]:
    """How many rows with a price are as in the first folder, and how many there are."""
    priced = [row for name in ("parts", "consumables", "tools") for row in rows[name]]
    default = f"{folders[0].label}/"
    return sum(row.origin.file.startswith(default) for row in priced), len(priced)


def _places(rows: Mapping[str, Sequence[TableRow]]) -> set[str]:
    """The countries that prices were read in, or that say how they write."""
    posted = {row.values["place"] for row in rows["posted_prices"]} - {"unknown"}
    return posted | {row.values["id"] for row in rows["countries"]}


def _overlay(
    spec: TableSpec, folders: Sequence[Folder], issues: list[Issue], currency: str
) -> list[TableRow]:
    merged: dict[tuple[object, ...], TableRow] = {}
    for folder in folders:
        if spec.file not in folder.files:
            continue
        own = dict(merged) if folder is not folders[0] else None
        table = read_table(folder.files[spec.file], spec, f"{folder.label}/{spec.file}", own, currency)
        issues.extend(table.issues)
        for row in table.rows:
            merged[key_of(spec, row.values)] = row
    return list(merged.values())
