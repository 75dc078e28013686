"""The shop's own numbers on the page: what the ledger teaches, the fit to its menu; taken over and taken back.

What is shown and taken over is what ``estimator learn`` and ``estimator calibrate`` show and take over.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from estimator.core.errors import refusal
from estimator.learn.accept import accept_fit, take_back
from estimator.learn.calibrate import calibrate
from estimator.learn.every_value import PARTS, read_parts
from estimator.learn.menu_entries import read_entries
from estimator.learn.proposal import Proposal, Taught, taught_by
from estimator.ledger.clock import read_moment
from estimator.report.record import as_data
from estimator.report.records.learn import TaughtTold
from estimator.report.text import learn as text
from estimator.report.text.learned_values import show_values
from estimator.report.text.told import Gathered
from estimator.server.desk import Desk

LONGEST = 40
OWN = "own."
"""How the fields of the shop's own menu begin; the job of the menu follows."""


def learned_values(desk: Desk) -> dict[str, object]:
    """What the ledger says of the tables' numbers, and what would be taken over."""
    told = Gathered()
    with desk.ledger() as books:
        if desk.tables is None or books is None:
            return {
                "tables": (),
                "sentences": (),
                "proposed": "",
                "parts": (),
                "seen": "",
                "can": False,
                "back": False,
            }
        taught = taught_by(books, desk.shop, desk.tables, read_moment(None))
        back = books.row("SELECT id FROM learning WHERE taken_back_at IS NULL") is not None
    text.show_lesson(taught.lesson, told)
    show_values(taught, told)
    text.show_honesty(taught.honest, told)
    parts = [(part, Proposal.of((part,), taught).words) for part in PARTS]
    return {
        "tables": told.tables,
        "sentences": told.sentences,
        "proposed": Proposal.of(PARTS, taught).words,
        "parts": [(part, words) for part, words in parts if words],
        "seen": _seen(taught),
        "can": True,
        "back": back,
    }


def _seen(taught: Taught) -> str:
    """A word for exactly what the ledger says now."""
    return hashlib.sha256(json.dumps(as_data(TaughtTold(taught)), default=str).encode()).hexdigest()[:20]


def take_over(desk: Desk, fields: Mapping[str, str]) -> None:
    """Take over what was shown of the parts that are ticked; InputError where the ledger says something else by now."""
    folder = needed(desk)
    parts = read_parts(",".join(part for part in PARTS if fields.get(f"part.{part}") == "1"))
    with desk.ledger() as books:
        if books is None:
            raise refusal("ledger", "there is no ledger, so nothing was learned")
        taught = taught_by(books, desk.shop, folder, read_moment(None))
        if _seen(taught) != fields.get("seen", ""):
            raise refusal(
                "learned",
                "the ledger or the tables say something else than when this page was opened",
                next_step="look at it again, then take it over",
            )
        taken = Proposal.of(parts, taught_by(books, desk.shop, folder, read_moment(None), parts))
        taken.over(books, folder, read_moment(None))
    desk.read_tables()


def put_back(desk: Desk) -> None:
    """Put the tables back to what they were before the last taking over."""
    folder = needed(desk)
    with desk.ledger() as books:
        if books is None:
            raise refusal("ledger", "there is no ledger, so nothing was taken over")
        take_back(books, folder, read_moment(None))
    desk.read_tables()


def needed(desk: Desk) -> Path:
    """The folder of the shop's own tables; InputError where the page was started without one."""
    if desk.tables is None:
        raise refusal(
            "--shop",
            "the page was started without a folder of the shop's own tables",
            next_step="stop it and start it with --shop DIR",
        )
    return desk.tables


def menu_fields(desk: Desk, fields: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """The jobs of the menu: id, words, what was typed beside it."""
    jobs = desk.shop.menu.jobs
    return [(name, job.what, fields.get(OWN + name, "").strip()[:LONGEST]) for name, job in jobs.items()]


def fitted(desk: Desk, fields: Mapping[str, str], over: bool) -> dict[str, object]:
    """The fit to what was typed of the shop's own menu; ``over``: it is taken over into the tables."""
    words = [f"{name}={typed}" for name, _, typed in menu_fields(desk, fields) if typed]
    entries = read_entries(words, desk.shop)
    found, told = calibrate(desk.shop, entries), Gathered()
    text.show_calibration(found, desk.shop, told)
    if over:
        folder = needed(desk)
        with desk.ledger(new=True) as books:
            assert books is not None
            accept_fit(books, folder, desk.shop, found, read_moment(None))
        desk.read_tables()
    return {"tables": told.tables, "sentences": told.sentences}
