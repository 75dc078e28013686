"""The commands of the ledger, under one word: ``ledger``."""

from __future__ import annotations

import typer

from estimator.cli.ledger import bench, books, jobs, papers
from estimator.cli.ledger.options import at_desk
from estimator.cli.stages import InFull

NAMES = {"runs": "running", "show_customer": "show-customer", "erase_customer": "erase-customer"}
TIMELESS = ("instrument", "backup", "check", "show_customer")
"""Commands that ask no clock."""
HELP = "Keep times, stock, customers and money as they happen, in one file of the shop."


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    group = typer.Typer(name="ledger", cls=InFull, help=HELP, no_args_is_help=True, rich_markup_mode=None)
    for module in (jobs, papers, bench, books):
        for command in module.COMMANDS:
            name = command.__name__
            group.command(NAMES.get(name))(at_desk(command, clock=name not in TIMELESS))
    app.add_typer(group)
