"""A neck without frets, however it is said: it is refused in words and never taken for a fretted one.

What is reckoned here is of frets: the levels of frets, the string height and the gap at the nut, a set-up, what a
buyer asks of an instrument. A fretless one has other figures for all of them, which no table here holds.
"""

from __future__ import annotations

import re
from typing import Final

from estimator.core.errors import Issue, Origin, shown
from estimator.tables.cells import CellError
from estimator.tables.toml.values import cell_issue, read_yes_no_value

KEY: Final = "fretless"
"""What people would write for it in a job file or a list."""
FRETS: Final = "fret_n"
"""The field that counts the frets."""
SHOWN_BY: Final = ("kind", "template", FRETS)
"""Fields of the intake into which somebody could write it."""
_SAID = re.compile(
    r"\bfret[_-]?less\b|\bfret\s+less\s+(?:bass|guitar|neck|board)\b|\bunfretted\b|\bde-?fret(?:t(?:ed|ing))?\b"
    r"|\bwithout\s+(?:any\s+)?frets\b",
    re.IGNORECASE,
)
PROBLEM: Final = "a neck without frets is not reckoned here: string height, nut, set-up and what a buyer asks are those of frets"
ACCEPTED: Final = "a fretted neck"
STEP: Final = (
    "for work in which frets have no part (wiring, pickups, tuners, bridge, finish) write the file as of a fretted "
    "neck and name that work alone under open of [upgrades]"
)


def says_fretless(text: object) -> bool:
    """Whether somebody's words speak of a neck without frets."""
    return isinstance(text, str) and _SAID.search(text) is not None


def fretless_error() -> CellError:
    """What is said where a value means a neck without frets."""
    return CellError(PROBLEM, ACCEPTED, STEP)


def fretless_issue(where: Origin, found: str, severity: str = "error") -> Issue:
    """The same as a complaint."""
    return Issue(where, PROBLEM, found, ACCEPTED, STEP, severity)


def fretless_said(raw: object, where: Origin) -> Issue | None:
    """The complaint about a yes to whether a neck has no frets, or about what is neither yes nor no."""
    try:
        return fretless_issue(where, shown(str(raw).lower())) if read_yes_no_value(raw) else None
    except CellError as error:
        return cell_issue(error, where, raw)
