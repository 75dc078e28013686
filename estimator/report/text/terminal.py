"""What a terminal shows: the one place where text is put out and laid out; numbers and times as they are spoken.

Nothing is wider than the terminal, no word is broken, no line ends in blanks. Where nobody watches (the
output is piped) lines are ``PIPED`` columns wide; the variable COLUMNS of the environment goes before both.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from threading import Timer

from estimator.core.errors import refusal
from estimator.core.text import columns_of, folded, has_stray_bytes, time_text
from estimator.core.text import money as money
from estimator.core.text import plain as plain
from estimator.core.text import whole as whole

PIPED = 100
"""Columns of text that goes into a file or to another program."""
NARROW = 60
"""Below so many columns a table that does not fit as it is becomes a list."""
LEAST = 20
"""A terminal that says it is narrower than this is taken to be this wide."""
GAP = "   "
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"
Layout = Callable[[int], Iterable[str]]
"""Makes lines of at most so many columns."""
PATIENCE = 1.0
"""Seconds after which long work says that it goes on."""


def width() -> int:
    """How wide a line may be."""
    told = os.environ.get("COLUMNS", "")
    if told.isascii() and told.isdigit() and int(told):
        return max(LEAST, int(told))
    try:
        watched = sys.stdout.isatty()
        return max(LEAST, os.get_terminal_size(sys.stdout.fileno()).columns or PIPED) if watched else PIPED
    except (OSError, ValueError):  # a terminal that does not tell, a stream of no file
        return PIPED


def put(*texts: str) -> None:
    """Texts, each on lines of its own; what is too wide goes on below, further in than it began."""
    for text in texts:
        show(partial(_folded_lines, text))


def show(layout: Layout) -> None:
    """Print what a layout makes of the columns there are: all text of all commands goes through here."""
    for line in layout(width()):
        print(line)


def typed(question: str) -> str:
    """One line as typed; EOFError where the input is closed, InputError where it holds bytes that are no letters."""
    try:
        line = input(question)
    except UnicodeDecodeError:
        line = "\udcff"
    if has_stray_bytes(line):
        raise refusal(
            "what was typed",
            "holds bytes that are no letters: the terminal sends another coding than it says",
            "",
            "text in the coding of the terminal",
            "type it without letters of other languages, or set the terminal to UTF-8",
        )
    return line


def _folded_lines(text: str, most: int) -> list[str]:
    return [line for whole in text.splitlines() or [""] for line in laid_out(whole, most)]


def laid_out(line: str, most: int) -> list[str]:
    """A line in lines of at most so many columns."""
    if columns_of(line) <= most:
        return [line.rstrip()]
    begins = line[: len(line) - len(line.lstrip())]
    return folded(line.strip(), most, begins, begins + "  ")


hours = time_text
"""Time goes by the name of what it says wherever a text is made for the screen."""


def show_table(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()
) -> None:
    """Print a table as wide as its words need and the terminal allows; columns in ``right`` are set flush right."""
    show(partial(_title_lines, title))
    show(partial(_body_lines, heads, [tuple(row) for row in rows], right))


def _body_lines(
    heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int], most: int
) -> list[str]:
    lines = table_lines(heads, rows, right, most)
    return [*(list_lines(heads, rows, most) if lines is None else lines), ""]


def _title_lines(title: str, most: int) -> list[str]:
    lines = laid_out(title, most)
    return [f"{BOLD}{line}{PLAIN}" for line in lines] if _shows_bold() else lines


def _shows_bold() -> bool:
    """Whether somebody watches on a terminal that is known to show bold letters, and wants them."""
    term = os.environ.get("TERM", "")
    return sys.stdout.isatty() and term not in ("", "dumb") and not os.environ.get("NO_COLOR")


def table_lines(
    heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int], most: int
) -> list[str] | None:
    """A table of at most so many columns of letters; None where its words are too long or the room too narrow."""
    shown = [tuple(heads), *rows] if any(heads) else list(rows)
    if not shown:
        return []
    columns = list(zip(*shown, strict=True))
    wide = [max(columns_of(cell) for cell in column) for column in columns]
    least = [
        max(columns_of(word) for cell in column for word in (cell.split() or [""])) for column in columns
    ]
    room = most - 1 - len(GAP) * (len(wide) - 1)
    if sum(wide) > room and (most < NARROW or sum(least) > room):
        return None
    while sum(wide) > room:
        # the widest column that can give way gives one
        wide[max((n for n in range(len(wide)) if wide[n] > least[n]), key=lambda n: wide[n])] -= 1
    out = ["", *_row_lines(shown[0], wide, right)]
    if any(heads):
        out.append(" " + "─" * (sum(wide) + len(GAP) * (len(wide) - 1)))
    return out + [line for row in shown[1:] for line in _row_lines(row, wide, right)]


def _row_lines(row: Sequence[str], wide: Sequence[int], right: Sequence[int]) -> list[str]:
    cells = [folded(cell, most) for cell, most in zip(row, wide, strict=True)]
    lines = []
    for at in range(max(map(len, cells))):
        parts = []
        for number, (cell, most) in enumerate(zip(cells, wide, strict=True)):
            text = cell[at] if at < len(cell) else ""
            blank = " " * (most - columns_of(text))
            parts.append(blank + text if number in right else text + blank)
        lines.append((" " + GAP.join(parts)).rstrip())
    return lines


def list_lines(heads: Sequence[str], rows: Sequence[Sequence[str]], most: int) -> list[str]:
    """The same row by row: the first cell, below it the others by their names."""
    lines = []
    for row in rows:
        lines += folded(row[0], most, "", "  ") if row[0] else []
        said = [
            f"{head}: {cell}" if head else cell
            for head, cell in zip(heads[1:], row[1:], strict=True)
            if cell.strip()
        ]
        lines += folded("; ".join(said), most, "  ", "    ") if said else []
    return lines


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
def watching(words: str = "working") -> Iterator[Callable[[str], None]]:
    """One line on standard error, from a second on, that says how far long work is; nothing when nobody watches."""
    if not sys.stderr.isatty():
        yield lambda words: None
        return
    from rich.console import Console as RichConsole

    # its usual signs are letters that few screens have: they would count as letters that are lost
    status = RichConsole(stderr=True).status(words, spinner="line")
    begins = Timer(PATIENCE, status.start)
    begins.daemon = True
    begins.start()
    try:
        yield status.update
    finally:
        begins.cancel()
        begins.join()
        status.stop()
