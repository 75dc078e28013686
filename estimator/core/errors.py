"""Complaints a bench worker can act on, and the exit statuses of the commands.

Every stage collects all complaints of a file before it stops, so that one run shows everything
there is to mend.
"""

from __future__ import annotations

import enum
import re
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches

from msgspec import Struct

_BETWEEN = re.compile(r"[\s_,/-]+")
LONGEST_FOUND = 400
"""Letters of what was found that a message repeats."""


class Exit(enum.IntEnum):
    """Exit statuses of every command."""

    DONE = 0
    CANNOT_BE_MET = 1
    BAD_INPUT = 2
    FAILED = 2
    STOPPED = 130


class Origin(Struct, frozen=True):
    """Where a record or value was read: a file and, where it has them, a row and a column."""

    file: str = ""
    row: int | None = None
    column: str = ""

    def at(self, column: str) -> Origin:
        """The same row, another column."""
        return Origin(self.file, self.row, column)

    def __str__(self) -> str:
        place = [self.file] if self.file else []
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column:
            place.append(cut(self.column, 100))
        return ", ".join(place)


class Issue(Struct, frozen=True):
    """One complaint: where, what is wrong, what was found, what is accepted, what to do next.

    ``severity`` is ``error`` (stops the command) or ``warning`` (is shown and work goes on).
    """

    where: Origin
    problem: str
    found: str = ""
    accepted: str = ""
    next_step: str = ""
    severity: str = "error"

    def __str__(self) -> str:
        parts = [f"{self.where}: {self.problem}" if str(self.where) else self.problem]
        if self.found:
            parts.append(f"found {cut(self.found, LONGEST_FOUND)}")
        if self.accepted:
            parts.append(f"accepted: {self.accepted}")
        if self.next_step:
            parts.append(f"next: {self.next_step}")
        return "; ".join(parts)

    def as_dict(self) -> dict[str, object]:
        """The complaint as plain data for ``--json``."""
        return {
            "severity": self.severity,
            "file": self.where.file,
            "row": self.where.row,
            "column": self.where.column,
            "problem": self.problem,
            "found": self.found,
            "accepted": self.accepted,
            "next": self.next_step,
        }


def note(
    issues: list[Issue],
    where: Origin,
    problem: str,
    found: str = "",
    accepted: str = "",
    next_step: str = "",
    severity: str = "error",
) -> None:
    """One more complaint beside those found before."""
    issues.append(Issue(where, problem, found, accepted, next_step, severity))


class EstimatorError(Exception):
    """Base of all errors a command turns into words."""


class InputError(EstimatorError):
    """Bad input: carries every complaint found, in reading order."""

    def __init__(self, issues: Iterable[Issue] | Issue) -> None:
        self.issues: tuple[Issue, ...] = (issues,) if isinstance(issues, Issue) else tuple(issues)
        super().__init__("\n".join(str(issue) for issue in self.issues))


def warning(where: Origin, problem: str, found: str = "", accepted: str = "", next_step: str = "") -> Issue:
    """A complaint that is shown and stops nothing."""
    return Issue(where, problem, found, accepted, next_step, "warning")


def refusal(
    where: Origin | str, problem: str, found: str = "", accepted: str = "", next_step: str = ""
) -> InputError:
    """The error of one complaint; a place without rows and columns (an option, a file) is told by its name."""
    origin = Origin(where) if isinstance(where, str) else where
    return InputError(Issue(origin, problem, found, accepted, next_step))


class EngineError(EstimatorError):
    """A solver stopped without an answer that can be trusted."""


class RefutedError(EngineError):
    """An answer that plain arithmetic, or a second look at the tables, refutes: it is not told to anyone."""


def unknown_word(
    where: Origin,
    problem: str,
    word: str,
    known: Iterable[str],
    accepted: str | None = None,
    otherwise: str = "",
) -> Issue:
    """The complaint about a word that is none of ``known``: the nearest of them is offered, or what else to do.

    ``accepted``: what is accepted, in words; left out: all of ``known``.
    """
    known = tuple(known)
    told = ", ".join(known) if accepted is None else accepted
    return Issue(where, problem, shown(word), told, near_miss(word, known) or otherwise)


def refused_word(
    where: Origin | str,
    problem: str,
    word: str,
    known: Iterable[str],
    accepted: str | None = None,
    otherwise: str = "take one of these",
) -> InputError:
    """The error of one word that is none of ``known``; see ``unknown_word``."""
    origin = Origin(where) if isinstance(where, str) else where
    return InputError(unknown_word(origin, problem, word, known, accepted, otherwise))


def near_miss(word: str, accepted: Iterable[str]) -> str:
    """A "did you mean" sentence for a mistyped word, or an empty text when nothing is near."""
    near = get_close_matches(word, sorted(accepted), n=1, cutoff=0.6)
    return f"did you mean “{near[0]}”?" if near else ""


def squeezed(word: str) -> str:
    """A word without what people write one way or the other: capitals, blanks, hyphens, commas and strokes."""
    return _BETWEEN.sub("", word.casefold())


def as_accepted(word: str, accepted: Iterable[str]) -> str:
    """The one accepted word that is spelled so but for capitals, blanks and hyphens (``Set up``: ``set-up``).

    The word as it stands where none is, or more than one.
    """
    known = tuple(accepted)
    if word in known:
        return word
    alike = [one for one in known if squeezed(one) == squeezed(word)]
    return alike[0] if len(alike) == 1 and squeezed(word) else word


def visible(text: str) -> str:
    """A text on one line in which nothing acts on the terminal or hides: such letters by their escapes."""
    if text.isprintable():
        return text
    return "".join(_escaped(letter) if _acts(letter) else letter for letter in text)


def _acts(letter: str) -> bool:
    return not letter.isprintable() and unicodedata.category(letter) != "Zs"  # an odd blank is a blank


def _escaped(letter: str) -> str:
    return letter.encode("unicode_escape", "surrogatepass").decode("ascii")


def shown(value: object, limit: int = 60) -> str:
    """A value as it stands in a message: quoted, one line, not endless."""
    text = visible(_as_written(value))
    if not text.strip():
        return "an empty cell" if not text else "only blanks"
    return f"“{cut(text, limit)}”"


def _as_written(value: object) -> str:
    """A value as a person writes it in a file, whatever it is made of inside."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_inside, value))}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_inside(one)}' for key, one in value.items())} }}"
    return str(value)


def _inside(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else _as_written(value)


def cut(text: str, limit: int = 60) -> str:
    """A text that is not endless."""
    return f"{text[:limit]}…" if len(text) > limit else text
