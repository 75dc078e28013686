"""A whole shop as one workbook and back, for the command line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from estimator.core.errors import refusal
from estimator.core.save import Output, new_folder, save_all
from estimator.tables.folders import SHOP_FILE, read_default, read_folder
from estimator.tables.load import load_shop
from estimator.tables.own import empty_table, only_what_differs, whole_shop
from estimator.tables.schema.shop import TABLES
from estimator.workbook.shop_book import read_rates_book, write_rates_book

NOTHING = b"# nothing differs from the default shop\n"


def write_book(shop: str | None, target: str, force: bool) -> str:
    """Write the default shop, or a folder of one's own, as a workbook; says what was written."""
    load_shop(shop)  # a shop that does not read cleanly is not worth a workbook
    default = dict(read_default().files)
    folder = read_folder(shop) if shop else None
    files = whole_shop(default, folder.files, folder.label) if folder else default
    return f"wrote {write_rates_book(files, target, force=force)}: {len(files)} tables"


def read_book(source: str | None, folder: str | None, force: bool) -> str:
    """Read what a workbook says else than the default shop into a folder; says what was written."""
    if not source or not folder:
        raise refusal(
            "shop-book",
            "nothing to do",
            accepted="--write FILE, or --read FILE with --folder DIR",
            next_step="shop-book --write shop.xlsx writes the tables of the shop",
        )
    whole = read_rates_book(source)
    files, notes = only_what_differs(read_default().files, whole, source)
    changed = len(files)
    with new_folder(folder, "--folder", parents=True) as target:
        # what stands there already and says nothing else than the default any more says nothing at all
        files |= {spec.file: empty_table(spec) for spec in TABLES if _stale(target / spec.file, files)}
        if not files or _stale(target / SHOP_FILE, files):
            files[SHOP_FILE] = NOTHING
        save_all([Output(target / name, data, force) for name, data in files.items()])
    told = f"wrote what differs from the default shop, {changed} tables, into {target}"
    return "\n".join([*notes, f"{told}; estimator own-shop --shop {target} shows it"])


def _stale(path: Path, files: Mapping[str, bytes]) -> bool:
    return path.name not in files and path.is_file()
