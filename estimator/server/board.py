"""The list of jobs and the promise board as they stand on the page."""

from __future__ import annotations

import tomllib
from pathlib import Path

from msgspec import Struct

from estimator.core.text import day_words, sentence_case
from estimator.ledger.records import BoardRow
from estimator.server.agreed import OnTheClock, clock
from estimator.server.desk import Desk
from estimator.server.folder import KIND_WORDS, job_url

_READ: dict[tuple[Path, int, int], tuple[str, str, str]] = {}
"""Id, words and kind of the job files that were looked at, by path, time of change and length."""


class JobLine(Struct, frozen=True):
    """A job on the list: its address, what it is, and what is said beside it."""

    url: str
    what: str
    beside: str


def jobs_values(desk: Desk) -> dict[str, object]:
    """The board by its headings, and the job files that are not on it."""
    from estimator.ledger.board import HEADINGS, board
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import storage_of

    files = desk.folder.paths()
    lines = {name: read_line(path) for name, path in files.items()}
    by_id = {job: name for name, (job, _, _) in lines.items()}
    headed, on_board = [], set()
    runs: list[OnTheClock] = []
    with desk.ledger() as books:
        if books is not None:
            runs = clock(books, read_moment(None))
            found = board(books, storage_of(desk.shop, read_moment(None)))
            for heading, rows in found.items():
                told = [_booked(row, by_id.get(row.job, "")) for row in rows]
                on_board |= {row.job for row in rows}
                if told:
                    headed.append((HEADINGS[heading], told))
    others = [
        JobLine(job_url(name), sentence_case(what or job), KIND_WORDS.get(kind, kind))
        for name, (job, what, kind) in lines.items()
        if job not in on_board
    ]
    return {
        "clock": runs,
        "headed": headed,
        "others": others,
        "folder": desk.folder.root.name or str(desk.folder.root),
    }


def _booked(row: BoardRow, file: str) -> JobLine:
    from estimator.ledger.states import WORDS

    said = [WORDS[row.state]]
    said += [row.customer] if row.customer else []
    said += [f"promised for {day_words(row.promised)}"] if row.promised else []
    said += [] if file else ["its file is not in this folder"]
    what = sentence_case(row.what or row.job)
    return JobLine(job_url(file) if file else "", what, ", ".join(said))


def read_line(path: Path) -> tuple[str, str, str]:
    """Id, words and kind of a job file; of one that cannot be read, its name (its page says what is wrong)."""
    stat = path.stat()
    key = (path, stat.st_mtime_ns, stat.st_size)
    if key not in _READ:
        try:
            job = tomllib.loads(path.read_text(encoding="utf-8-sig"))["job"]
            told = (
                str(job.get("id") or path.stem),
                str(job.get("what") or ""),
                str(job.get("kind") or "own"),
            )
        except (ValueError, KeyError, AttributeError, OSError):
            told = (path.stem, f"{path.stem} (cannot be read: open it to see why)", "")
        _READ[key] = told
    return _READ[key]
