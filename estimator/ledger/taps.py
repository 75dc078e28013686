"""Taps that come from the bench, some of them late or twice: each is done once, however often it is sent.

Every tap has a word of its own, made where it was tapped. It is kept in the same transaction as what it did;
sent again, after a lost answer or a new start of the program, it gets the first answer and does nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable

from msgspec import Struct, to_builtins
from msgspec.structs import replace

from estimator.core.errors import shown
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.states import WORDS, WORK_IS_OVER
from estimator.ledger.store import Ledger

LONGEST_KEY = 64
SLOWEST_S = 30
"""Seconds that a tap may be under way: by less than this, two taps of one device cannot be told apart in time."""


class Tap(Struct, frozen=True):
    """A tap: its word, all that it asks (as text), the device it comes from, when it was tapped and when it came."""

    key: str
    content: str
    device: str
    at: Moment
    came: Moment


class Told(Struct, frozen=True, omit_defaults=True):
    """What became of a tap: what was asked, and the words of it; as data without what does not hold.

    ``already``: another device had done it; ``spell``: the number of the time recorded; ``photo``: the file kept;
    ``again``: this tap was counted when it first came.
    """

    do: str
    job: str
    task: str
    told: str
    cure: bool = False
    already: bool = False
    spell: int | None = None
    photo: str | None = None
    again: bool = False


def once(ledger: Ledger, tap: Tap, do: Callable[[], Told]) -> Told:
    """Do what a tap asks and keep its answer, or give the answer of the first time (``again``).

    What is refused is not kept: nothing was done by it. InputError where the word of another tap is used.
    """
    if not 0 < len(tap.key) <= LONGEST_KEY:
        raise ledger.refusal(
            "a tap has no word of its own",
            shown(tap.key[:80]),
            f"1 to {LONGEST_KEY} letters",
            "reload the page and tap again",
        )
    with ledger.writing():
        known = ledger.row("SELECT content, told_json FROM tap WHERE key = ?", (tap.key,))
        if known is None:
            told = do()
            of = {"key": tap.key, "content": tap.content, "device": tap.device, "came_at": tap.came.text}
            ledger.add("tap", tap.at, **of, told_json=json.dumps(to_builtins(told), ensure_ascii=False))
            return told
    if known["content"] != tap.content:
        raise ledger.refusal(
            "another tap with the same word was counted already",
            shown(tap.key),
            "a word of its own for each tap",
            "reload the page and tap again",
        )
    return replace(Told(**json.loads(known["told_json"])), again=True)


def device_of_clock(ledger: Ledger, job: str, task: str) -> str:
    """The device from which a running clock was begun last; blank where it was not begun from the bench."""
    row = ledger.row(
        "SELECT device FROM tap WHERE json_extract(told_json, '$.do') = 'begin' AND json_extract(told_json, '$.job') = ?"
        " AND json_extract(told_json, '$.task') = ? ORDER BY at DESC, came_at DESC LIMIT 1",
        (job, task),
    )
    return str(row["device"]) if row else ""


def in_order(ledger: Ledger, device: str, at: Moment) -> Moment:
    """The moment of a tap, never just before that of the tap which the same device sent before it.

    A device sends its taps in their order, but each is under way as long as the network pleases.
    """
    row = ledger.row("SELECT at, ahead_min FROM tap WHERE device = ? ORDER BY rowid DESC LIMIT 1", (device,))
    before = kept_moment(row["at"], row["ahead_min"]) if row else at
    return before if 0 < (before.utc - at.utc).total_seconds() <= SLOWEST_S else at


def clocked_last(ledger: Ledger) -> tuple[str, Moment] | None:
    """The last moment at which hands are known to have been on a clock, and at which task.

    By the times that a clock took, and by what was tapped of clocks that are paused now.
    """
    row = ledger.row(
        "SELECT task, at, ahead_min FROM time_taken WHERE kind = 'hands' AND source = 'timer' AND seconds > 0"
        " UNION ALL SELECT json_extract(told_json, '$.task'), at, ahead_min FROM tap"
        " WHERE json_extract(told_json, '$.do') IN ('begin', 'pause') AND json_extract(told_json, '$.already') IS NULL"
        " AND json_extract(told_json, '$.cure') IS NULL ORDER BY at DESC LIMIT 1"
    )
    return (str(row["task"]), kept_moment(row["at"], row["ahead_min"])) if row else None


def finished_since(ledger: Ledger, job: str) -> tuple[str, Moment] | None:
    """In words how a job stands on which no work is left to do, and since when; None where there is some."""
    row = ledger.row("SELECT state, at, ahead_min FROM step WHERE job = ? ORDER BY id DESC LIMIT 1", (job,))
    if row is None or row["state"] not in WORK_IS_OVER:
        return None
    return WORDS[str(row["state"])], kept_moment(row["at"], row["ahead_min"])
