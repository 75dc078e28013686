"""A whole shop as one workbook and back, for the command line."""

from __future__ import annotations

from estimator.core.errors import InputError, Issue, Origin
from estimator.core.save import Output, new_folder, save_all
from estimator.tables.folders import read_default, read_folder
from estimator.tables.load import load_shop
from estimator.workbook.shop_book import read_rates_book, write_rates_book


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
    with new_folder(folder, "--folder", parents=True) as target:
        save_all([Output(target / name, data, force) for name, data in files.items()])
    return f"wrote {len(files)} tables into {target}; estimator check --shop {target} checks them"
