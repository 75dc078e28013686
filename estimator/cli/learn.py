"""Commands about the shop's own numbers: ``own-shop``."""

from __future__ import annotations

import typer

from estimator.cli.common import JsonOption, ShopOption, print_json
from estimator.core.errors import Exit, InputError, Issue, Origin


def own_shop(shop: ShopOption = None, as_json: JsonOption = False) -> int:
    """Show every number of your shop that is not the default's, and what they do to the menu."""
    from estimator.learn.own_shop import own_shop as look
    from estimator.report.text import learn as text
    from estimator.tables.folders import read_folder

    found = look(read_folder(needed(shop)))
    if as_json:
        print_json(text.own_shop_data(found))
    else:
        text.show_own_shop(found)
    return Exit.DONE


def needed(shop: str | None) -> str:
    """The folder of the shop; InputError where none is named."""
    if shop is None:
        raise InputError(
            Issue(Origin("--shop"), "no shop of your own is named", "", "a folder with tables of your own",
                  "--shop DIR; shop-book --read FILE.xlsx --folder DIR makes one")
        )  # fmt: skip
    return shop


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command("own-shop")(own_shop)
