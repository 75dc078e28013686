"""The streams of a command: what it is given by letters, what it says in letters that the other end can show."""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Iterable
from typing import TextIO

from estimator.core.errors import refusal, visible
from estimator.core.text import has_stray_bytes

PLAIN = {
    "─": "-",
    "–": "-",
    "—": "-",
    "−": "-",
    "·": ".",
    "…": "...",
    "“": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
    "×": "x",
    "≤": "<=",
    "≥": ">=",
    "€": "EUR",
    "£": "GBP",
    "\u00a0": " ",
    "\u202f": " ",
}
"""What stands for a letter on a screen that does not have it; for all others a question mark."""
_HANDLER = "estimator-plain"


def _in_plain(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    return "".join(PLAIN.get(letter, "?") for letter in error.object[error.start : error.end]), error.end


def prepare_streams() -> None:
    """Nothing that is put out is refused for its letters, and a stream that was closed takes all.

    A screen keeps its own coding; a file or another program gets UTF-8, whatever the screen's coding is.
    """
    # closed by whoever started us: nobody listens, work all the same
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:  # print would put complaints among the output
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    codecs.register_error(_HANDLER, _in_plain)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding=_coding(stream), errors=_HANDLER)


def _coding(stream: TextIO) -> str:
    return stream.encoding if stream.isatty() else "utf-8"


def check_letters(arguments: Iterable[str]) -> None:
    """InputError for a word of the command line that holds bytes which are no letters: no file could keep it."""
    for word in arguments:
        if has_stray_bytes(word):
            raise refusal(
                "the command",
                "a word of it holds bytes that are no letters",
                f"“{visible(word)}”",
                "text in UTF-8",
                "type the word anew; give a file another name first if it is the file's name",
            )
