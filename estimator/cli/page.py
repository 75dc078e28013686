"""The page at the bench: ``page``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from estimator.cli.common import (
    EXAMPLE,
    LedgerOption,
    ShopOption,
    job_path,
    load_shop_of,
)
from estimator.core.errors import Exit


def page(
    place: Annotated[
        str, typer.Argument(metavar="PLACE", help="Folder of job files, or one of them to open first.")
    ] = ".",
    port: Annotated[
        int | None, typer.Option("--port", help="Port on this machine; a free one if left out.", min=1, max=65535)
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Only print the address.")] = False,
    output: Annotated[
        str | None,
        typer.Option("-o", "--output", metavar="FILE", help="Write the answer for PLACE as one file (.html) and leave."),
    ] = None,
    ledger: LedgerOption = None,
    shop: ShopOption = None,
) -> int:  # fmt: skip
    """Open the page at the bench: take in, decide, agree on a screen; it answers this machine alone."""
    from estimator.server.desk import Desk
    from estimator.server.folder import JobFolder, job_url
    from estimator.server.run import serve

    path = job_path(place) if place.startswith(EXAMPLE) or not Path(place).is_dir() else Path(place)
    folder = path if path.is_dir() else path.parent
    books = Path(ledger) if ledger else Path(shop) / "ledger.sqlite" if shop else None
    desk = Desk(load_shop_of(shop), JobFolder(folder), books, Path(shop) if shop else None)
    if output is None and path.is_dir():
        serve(desk, port, not no_open)
        return Exit.DONE
    from estimator.server.entries import Entries

    asked = desk.ask(path.stem, Entries())
    if output is None:
        serve(desk, port, not no_open, job_url(path.stem))
        return Exit.DONE
    from estimator.core.save import save_text
    from estimator.server.pages import alone_html

    written = save_text(output, alone_html(desk, asked), force=True, extensions=(".html",))
    print(f"wrote {written}")
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(page)
