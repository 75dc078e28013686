"""The page at the bench: ``page``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    EXAMPLE,
    LedgerOption,
    ShopOption,
    job_path,
    load_shop_of,
)
from estimator.core.errors import Exit
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from estimator.server.desk import Desk
    from estimator.server.pairing import Pairing


def page(
    place: Annotated[
        str, typer.Argument(metavar="PLACE", help="Folder of job files, or one of them to open first.")
    ] = ".",
    port: Annotated[
        int | None,
        typer.Option("--port", help="Port on this machine; a free one if left out.", min=1, max=65535),
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Only print the address.")] = False,
    output: Annotated[
        str | None,
        typer.Option(
            "-o", "--output", metavar="FILE", help="Write the answer for PLACE as one file (.html) and leave."
        ),
    ] = None,
    phone: Annotated[
        str | None,
        typer.Option(
            "--phone",
            metavar="ADDRESS",
            help="Also let paired phones use bench mode, at this one address of the local network.",
        ),
    ] = None,
    ledger: LedgerOption = None,
    shop: ShopOption = None,
) -> int:
    """Open the page at the bench: take in, decide, agree on a screen; it answers this machine, and phones where told."""
    from estimator.server.run import serve

    path = job_path(place) if place.startswith(EXAMPLE) or not Path(place).is_dir() else Path(place)
    desk = _desk(path, phone, ledger, shop)
    if output is None and path.is_dir():
        serve(desk, port, not no_open)
        return Exit.DONE
    return _of_job(desk, path, output, (port, not no_open))


def _desk(path: Path, phone: str | None, ledger: str | None, shop: str | None) -> Desk:
    """The desk of a folder, or of the folder in which a job file lies."""
    from estimator.server.desk import Desk
    from estimator.server.folder import JobFolder

    folder = JobFolder(path if path.is_dir() else path.parent)
    books = Path(ledger) if ledger else Path(shop) / "ledger.sqlite" if shop else None
    return Desk(
        load_shop_of(shop),
        folder,
        books,
        Path(shop) if shop else None,
        pairing=None if phone is None else _pairing(phone),
    )


def _pairing(phone: str) -> Pairing:
    from estimator.server.pairing import Pairing, checked_address

    return Pairing(checked_address(phone))


def _of_job(desk: Desk, path: Path, output: str | None, how: tuple[int | None, bool]) -> int:
    """The page opened at a job, or the answer for it as one file; a job that cannot be read is said at once."""
    from estimator.server.entries import Entries
    from estimator.server.folder import job_url
    from estimator.server.run import serve

    asked = desk.ask(path.stem, Entries())
    if output is None:
        serve(desk, *how, job_url(path.stem))
        return Exit.DONE
    from estimator.core.save import save_text
    from estimator.server.pages import alone_html

    written = save_text(output, alone_html(desk, asked), force=True, extensions=(".html",))
    put(f"wrote {written}")
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(page)
