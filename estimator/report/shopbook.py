"""A whole shop as one workbook and back, for the command line."""

from __future__ import annotations

from pathlib import Path

from estimator.errors import InputError, Issue, Origin
from estimator.report.rates_book import read_rates_book, write_rates_book
from estimator.report.saving import check_target, save_bytes
from estimator.tables.folders import read_default, read_folder
from estimator.tables.loading import load_shop


def write_book(shop: str | None, target: str, force: bool) -> str:
    """Write the default shop, or a folder of one's own, as a workbook; says what was written."""
    load_shop(shop)  # a shop that does not read cleanly is not worth a workbook
    files = (read_folder(shop) if shop else read_default()).files
    return f"wrote {write_rates_book(files, target, force=force)}: {len(files)} tables"


def read_book(source: str | None, folder: str | None, force: bool) -> str:
    """Read a workbook of tables into a folder, all of it or nothing; says what was written."""
    if not source or not folder:
        raise InputError(
            Issue(
                Origin("shop-book"),
                "nothing to do",
                accepted="--write FILE, or --read FILE with --folder DIR",
                next_step="shop-book --write shop.xlsx writes the tables of the shop",
            )
        )
    files = read_rates_book(source)
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    for name in files:
        check_target(target / name, force=force)
    for name, data in files.items():
        save_bytes(target / name, data, force=force)
    return f"wrote {len(files)} tables into {target}; estimator check --shop {target} checks them"
