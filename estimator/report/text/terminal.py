"""What a terminal shows: tables through rich, numbers and times as they are spoken."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from decimal import Decimal
from typing import TYPE_CHECKING

from estimator.core.money import amount

if TYPE_CHECKING:
    from rich.console import Console

PLAIN_WIDTH = 110


def console() -> Console:
    """A console as wide as the terminal, or plain and of fixed width when the output is piped."""
    from rich.console import Console

    if sys.stdout.isatty():
        return Console(highlight=False, markup=False)
    return Console(width=PLAIN_WIDTH, highlight=False, markup=False, color_system=None)


def money(cents: int, currency: str) -> str:
    """Cents as money with thousands parted by commas."""
    return f"{amount(cents):,.2f} {currency}"


def hours(hundredths: int, rounding: str | None = None) -> str:
    """Hundredths of a minute as hours and minutes, to the nearest minute or by a rounding of ``decimal``."""
    total = int((Decimal(hundredths) / 100).to_integral_value(rounding))
    return f"{total // 60} h {total % 60:02d} min" if total >= 60 else f"{total} min"


def plain(value: Decimal) -> str:
    """A number without trailing noughts, at most two places."""
    return f"{round(value, 2).normalize():f}"


def show_table(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()
) -> None:
    """Print a table; columns numbered in ``right`` are set flush right."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        expand=False,
    )
    table.show_header = any(heads)
    for number, head in enumerate(heads):
        table.add_column(head, justify="right" if number in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console().print(table)


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error while long work goes on; nothing when nobody watches."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console as RichConsole
    from rich.progress import Progress

    with Progress(console=RichConsole(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@contextmanager
def watching() -> Iterator[Callable[[str], None]]:
    """One line on standard error that says how far long work is; nothing when nobody watches."""
    if not sys.stderr.isatty():
        yield lambda words: None
        return
    from rich.console import Console as RichConsole

    with RichConsole(stderr=True).status("working") as status:
        yield status.update
