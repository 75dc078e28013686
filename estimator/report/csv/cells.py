"""Tables as CSV: cells that a spreadsheet program would take for a formula are told to be text."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from io import StringIO

from estimator.core.cell_text import clean_text

#: a first character that makes a formula of a text in CSV, which has no types
RISKY = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def guarded(value: object) -> str:
    """A cell as CSV text: numbers as they are, risky text with an apostrophe before it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | Decimal):
        return f"{value:f}" if isinstance(value, Decimal) else str(value)
    raw = str(value)
    text = clean_text(raw)
    if raw.startswith(RISKY) or text.lstrip().startswith(RISKY):
        return text if _NUMBER.fullmatch(text) else f"'{text}"
    return text


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A whole table with plain line ends; always commas and points."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([guarded(cell) for cell in head])
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return out.getvalue()
