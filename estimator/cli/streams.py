"""The streams of a command: what it is given by letters, what it says in letters that the other end can show."""

from __future__ import annotations

import codecs
import os
import sys
import unicodedata
from collections.abc import Iterable
from contextlib import suppress
from typing import TextIO

from estimator.core.errors import refusal, visible
from estimator.core.text import count, has_stray_bytes

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
"""What stands for a sign on a screen that does not have it, with nothing lost; of a letter the plain one, else a question mark."""
_HANDLER = "estimator-plain"
_LOST: set[str] = set()
"""Letters that could not be shown as they are since the streams were prepared."""


def _in_plain(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    return "".join(_plain(letter) for letter in error.object[error.start : error.end]), error.end


def _plain(letter: str) -> str:
    if letter in PLAIN:
        return PLAIN[letter]
    _LOST.add(letter)
    plain = "".join(one for one in unicodedata.normalize("NFKD", letter) if one.isascii())
    return plain or "?"


def letters_lost() -> str:
    """That letters were not shown as they are, and where they are whole; blank where all were."""
    if not _LOST:
        return ""
    return (
        f"note: this screen has no sign for {count(len(_LOST), 'letter')} of the text; a plain letter or a “?” stands there. "
        "Put out into a file (> FILE) it is whole; the files that are written have it whole too"
    )


def prepare_streams() -> None:
    """Nothing that is put out is refused for its letters, and a stream that was closed takes all.

    A screen keeps its own coding; a file or another program gets UTF-8, whatever the screen's coding is.
    """
    # closed by whoever started us: nobody listens, work all the same
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:  # print would put complaints among the output
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    _LOST.clear()
    codecs.register_error(_HANDLER, _in_plain)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding=_coding(stream), errors=_HANDLER)


def _coding(stream: TextIO) -> str:
    return stream.encoding if stream.isatty() else "utf-8"


def check_letters(arguments: Iterable[str]) -> None:
    """InputError for a word of the command line that holds bytes which are no letters: no file could keep it.

    Bytes that are letters, in a shell that is said to have plain ones alone, are told apart: there the shell is wrong.
    """
    for word in arguments:
        if not has_stray_bytes(word):
            continue
        with suppress(UnicodeError):
            meant = word.encode(errors="surrogateescape").decode()
            raise refusal(
                "the command",
                "a word of it holds letters that this shell is set not to have",
                f"“{visible(meant)}”",
                "a shell whose letters are UTF-8",
                "set LC_ALL=C.UTF-8 or PYTHONUTF8=1 for it, and run the command again",
            )
        raise refusal(
            "the command",
            "a word of it holds bytes that are no letters",
            f"“{visible(word)}”",
            "text in UTF-8",
            "type the word anew; give a file another name first if it is the file's name",
        )
