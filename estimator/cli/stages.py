"""The commands in the order of a job: help tells them by stage."""

from __future__ import annotations

import click
from typer.core import TyperGroup

STAGES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("On a screen", ("page",)),
    ("Take in", ("new", "intake", "check", "fit", "measure", "triage")),
    ("Decide", ("estimate", "choose", "risk", "offer", "sell")),
    ("Price", ("price", "menu", "change", "rate", "spares", "invest")),
    ("Plan", ("plan",)),
    ("Hand over", ("quote", "reprice", "draw", "worked")),
    ("Keep the books", ("ledger",)),
    ("Own shop", ("shop-book", "own-shop", "calibrate", "learn")),
)
ENOUGH = 300
"""Letters of a first sentence that are shown; help wraps them."""


class InFull(TyperGroup):
    """A group of commands whose help gives the first sentence of each, whole."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands in the order in which they were added."""
        commands = [(name, self.get_command(ctx, name)) for name in self.list_commands(ctx)]
        rows = [(name, one.get_short_help_str(ENOUGH)) for name, one in commands if one is not None]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


class ByStage(TyperGroup):
    """A group of commands whose help lists them by stage."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands of each stage; one that stands in no stage is listed last."""
        named = {name for _, names in STAGES for name in names}
        others = tuple(name for name in self.list_commands(ctx) if name not in named)
        width = max(len(name) for name in self.commands)
        for title, names in (*STAGES, ("Other", others)):
            rows = []
            for name in names:
                command = self.get_command(ctx, name)
                if command is not None:
                    rows.append((name.ljust(width), command.get_short_help_str(ENOUGH)))
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)
