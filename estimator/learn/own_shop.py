"""What a shop's own numbers change: every value beside the default's, and the menu with the one and the other."""

from __future__ import annotations

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths
from estimator.model import Shop
from estimator.price.client.menu import MenuRow, menu_of
from estimator.tables.folders import Folder, read_default
from estimator.tables.load import assemble
from estimator.tables.own import Difference, differences


class MenuChange(Struct, frozen=True):
    """A job of the menu with two shops: hundredths of a minute, cents without parts; None: not on that menu."""

    job: str
    what: str
    minutes_before: Hundredths | None
    minutes_after: Hundredths | None
    price_before: Cents | None
    price_after: Cents | None


class OwnShop(Struct, frozen=True):
    """A shop's own numbers, and what they do to its menu; ``same``: jobs that they leave as they were."""

    differences: tuple[Difference, ...]
    changes: tuple[MenuChange, ...]
    same: int
    currency: str


def own_shop(folder: Folder) -> OwnShop:
    """What the files of a folder change in the default shop; InputError carries every complaint of them."""
    default = read_default()
    shop = assemble([default, folder])
    changes, same = menu_changes(assemble([default]), shop)
    return OwnShop(
        tuple(differences(default.files, folder.files, folder.label)), changes, same, shop.terms.currency
    )


def menu_changes(before: Shop, after: Shop) -> tuple[tuple[MenuChange, ...], int]:
    """The jobs of the menu whose minutes or price differ between two shops, and how many do not."""
    old, new = ({row.job.id: row for row in menu_of(shop)} for shop in (before, after))
    rows = [_change(old.get(name), new.get(name)) for name in dict.fromkeys((*old, *new))]
    moved = [
        row for row in rows if (row.minutes_before, row.price_before) != (row.minutes_after, row.price_after)
    ]
    return tuple(moved), len(rows) - len(moved)


def _change(old: MenuRow | None, new: MenuRow | None) -> MenuChange:
    job = (new or old).job  # type: ignore[union-attr]  # one of the two is there
    return MenuChange(
        job.id,
        job.what,
        old.minutes if old else None,
        new.minutes if new else None,
        old.price if old else None,
        new.price if new else None,
    )
