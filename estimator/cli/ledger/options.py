"""Options that the commands of the ledger share, and how one answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import print_json
from estimator.core.errors import Exit
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from collections.abc import Callable


NowOption = Annotated[
    str | None,
    typer.Option(
        "--now", metavar="MOMENT", help='Instead of the clock: "2026-10-05 09:15", or with +02:00 after it.'
    ),
]
RemarkOption = Annotated[str, typer.Option("--remark", metavar="WORDS", help="Words to keep with it.")]
JobIdArg = Annotated[str, typer.Argument(metavar="JOB", help="Id of a job in the ledger.")]
ShopFolder = Annotated[
    str | None, typer.Option("--shop", metavar="DIR", help="Folder of your own shop, with its ledger.")
]


def answer(found: object, as_json: bool, words: str | Callable[[], None]) -> int:
    """Print what a command did, as data or in words."""
    if as_json:
        from estimator.report.records.ledger import data

        print_json(data(found))
    elif isinstance(words, str):
        put(words)
    else:
        words()
    return Exit.DONE
