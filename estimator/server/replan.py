"""A kept plan of the week taken up again: what has not come, what moves and why, what can still be promised.

The plan is kept beside its batch as ``estimator plan --save-plan`` keeps one, so the command takes it up too.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime, time
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.arrivals import is_sent
from estimator.batch.build import BatchStudy
from estimator.core.errors import Issue, refusal, shown
from estimator.core.save import save_bytes
from estimator.core.text import day
from estimator.ledger.clock import read_moment
from estimator.ledger.for_choice import ledger_names
from estimator.ledger.for_plan import state_by_ledger
from estimator.plan.plan import Plan
from estimator.plan.replan.plan import PlannedAgain, plan_again
from estimator.plan.replan.progress import StateFile, state_from
from estimator.plan.replan.saved_plan import KeptPlan, kept_text, read_kept
from estimator.schedule.records import Search
from estimator.server.desk import Desk
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import toml_text

LATE = "late."
"""How the fields of what has not come begin; the supplier follows."""


class LateParcel(Struct, frozen=True):
    """What a supplier sends, when it was to come at the latest, and what was typed for when it is expected now."""

    seller: str
    holds: str
    typed: str


class Kept(Struct, frozen=True):
    """The kept plan of a batch, where it lies, and the word for exactly its bytes."""

    path: Path
    plan: KeptPlan
    version: str


def plan_path(desk: Desk, batch: str) -> Path:
    """Where the plan of a batch of the folder is kept; a link there that leads elsewhere is refused."""
    path = desk.folder.root / f"{batch}-plan.json"
    if path.is_symlink():
        raise refusal(path.name, "the kept plan is a link", next_step="take the link away")
    return path


def kept_of(desk: Desk, batch: str) -> Kept | None:
    """The kept plan of a batch; None where none is kept."""
    path = plan_path(desk, batch)
    if not path.is_file():
        return None
    data = path.read_bytes()
    return Kept(path, read_kept(data, path.name), hashlib.sha256(data).hexdigest()[:20])


def keep(desk: Desk, batch: str, plan: Plan, seen: str) -> None:
    """Keep a plan; InputError where another was kept since the page was opened (``seen``: the one it knew)."""
    now = kept_of(desk, batch)
    _check_seen(plan_path(desk, batch).name, now.version if now else "", seen)
    save_bytes(plan_path(desk, batch), kept_text(plan).encode(), force=True, extensions=(".json",))


def _check_seen(name: str, version: str, seen: str) -> None:
    if seen != version:
        raise refusal(
            name,
            "another plan of this batch was kept since this page was opened",
            next_step="go back to the week and look at it",
        )


def parcels_of(kept: KeptPlan, fields: Mapping[str, str]) -> tuple[LateParcel, ...]:
    """By supplier what was ordered of it, and what was typed beside it."""
    held: dict[str, list[str]] = {}
    for one in (*kept.purchases, *kept.spares):
        if is_sent(one):
            what = f"{one.job}: {one.upgrade}" if one.kind == "part" else one.what
            held.setdefault(one.seller, []).append(what.replace("-", " "))
    return tuple(
        LateParcel(seller, ", ".join(dict.fromkeys(things)), fields.get(LATE + seller, ""))
        for seller, things in sorted(held.items())
    )


def now_of(kept: KeptPlan, typed: str) -> str:
    """The moment that is planned from: what was typed, else the clock, but not before the plan begins."""
    if typed:
        return _one_line(typed)
    begins = kept.made or datetime.combine(kept.start, time())
    return f"{max(begins, read_moment(None).local.replace(tzinfo=None)):%Y-%m-%d %H:%M}"


def _one_line(typed: str) -> str:
    """A moment as a browser sends it, in the form of the state file."""
    return " ".join(typed.replace("T", " ").split())


def state_of(
    desk: Desk, study: BatchStudy, kept: Kept, fields: Mapping[str, str]
) -> tuple[StateFile, tuple[Issue, ...]]:
    """Where the work stands: by the ledger if a job of the plan is booked there, else done as it was planned till now."""
    now = now_of(kept.plan, fields.get("now", ""))
    lines = [
        "[state]",
        f"plan = {toml_text(kept.path.name)}",
        f"now = {toml_text(now)}",
        'others = "as-planned"',
    ]
    sellers = {one.seller for one in parcels_of(kept.plan, {})}
    for name, typed in fields.items():
        seller = name.removeprefix(LATE)
        if name == seller or not typed.strip():
            continue
        if seller not in sellers:
            raise refusal(
                "late",
                "nothing was ordered of this supplier",
                shown(seller),
                ", ".join(sorted(sellers)),
                "go back to the week and look at what is expected",
            )
        expected = _one_line(typed)
        lines += ["[[late]]", f"supplier = {toml_text(seller)}", f"expected = {toml_text(expected)}"]
    typed_in = state_from(parse_toml("\n".join(lines).encode(), "what was typed"), kept.path.parent)
    with desk.ledger() as books:
        if books is None or not ledger_names(books, study.file):
            return typed_in, ()
        recorded, told = state_by_ledger(books, study, str(kept.path), read_moment(now))
    return replace(recorded, late={**recorded.late, **typed_in.late}), told


def again(
    desk: Desk, study: BatchStudy, kept: Kept, fields: Mapping[str, str]
) -> tuple[PlannedAgain, tuple[Issue, ...]]:
    """The plan of what is left, as ``estimator plan --state`` or ``--progress`` makes it, and warnings."""
    _check_seen(kept.path.name, kept.version, fields.get("seen", kept.version))
    state, told = state_of(desk, study, kept, fields)
    with desk.answers.solving:
        made = plan_again(study, state, Search(engine="auto"))
    return made, (*told, *made.warnings)


def kept_words(kept: KeptPlan) -> str:
    """Which plan is kept, in a line."""
    made = (
        f", made again on {kept.made:%a} {kept.made.day} {kept.made:%b}, {kept.made:%H:%M}"
        if kept.made
        else ""
    )
    return f"The plan that was kept begins on {day(kept.start)}{made}."
