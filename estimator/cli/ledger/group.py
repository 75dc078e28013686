"""The commands of the ledger, under one word: ``ledger``."""

from __future__ import annotations

import typer

from estimator.cli.ledger import bench, books, jobs

HELP = "Keep times, stock, customers and money as they happen, in one file of the shop."


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    group = typer.Typer(name="ledger", help=HELP, no_args_is_help=True, rich_markup_mode=None)
    for command in (jobs.book, jobs.quote, jobs.accept, bench.begin, bench.pause, bench.end, bench.time,
                    bench.correct, bench.card, bench.stock, jobs.move, jobs.pay, jobs.receipt, jobs.board, jobs.show,
                    books.report, books.backup, books.export, books.check):  # fmt: skip
        group.command()(command)
    group.command("running")(bench.runs)
    group.command("show-customer")(jobs.show_customer)
    group.command("erase-customer")(jobs.erase_customer)
    app.add_typer(group)
