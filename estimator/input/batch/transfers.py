"""Parts that may be moved from one instrument to another, as a batch file (TOML) says them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct

from estimator.core.errors import Issue, Origin, note, shown, unknown_word
from estimator.model.column import Column
from estimator.tables.toml.text import TomlFile

MOVED = (
    Column("what", "text", "what comes off", default=""),
    Column("from_job", "id", "the job whose instrument it comes off"),
    Column("from_upgrade", "id", "the upgrade that frees it"),
    Column("to_job", "id", "the job that can use it"),
    Column("to_upgrade", "id", "the upgrade whose part it becomes, at no price"),
    Column("or_bought", "yes-no", "whether a like part may be bought instead", default=True),
)


class Move(Struct, frozen=True):
    """A part that ``from_upgrade`` frees and that can serve as the part of ``to_upgrade`` elsewhere."""

    what: str
    from_job: str
    from_upgrade: str
    to_job: str
    to_upgrade: str
    or_bought: bool
    origin: Origin


def read_moves(
    toml: TomlFile, entries: Sequence[Mapping[str, Any]], jobs: Sequence[str], issues: list[Issue]
) -> tuple[Move, ...]:
    """The moves of a batch file from its entries as read; complaints go to ``issues``."""
    moves = []
    for number, entry in enumerate(entries):
        if not {"from_job", "from_upgrade", "to_job", "to_upgrade"} <= entry.keys():
            continue
        for key in ("from_job", "to_job"):
            if entry[key] not in jobs:
                issues.append(
                    unknown_word(
                        toml.where(f"moved_part.{number}", key),
                        "no job of this name is in the batch",
                        entry[key],
                        jobs,
                        otherwise="take the id of a [[job]]",
                    )
                )
        if entry["from_job"] == entry["to_job"]:
            words = "a part cannot be moved to the instrument it comes off"
            note(issues, toml.where(f"moved_part.{number}", "to_job"), words, shown(entry["to_job"]))
        moves.append(
            Move(
                entry.get("what", ""),
                entry["from_job"],
                entry["from_upgrade"],
                entry["to_job"],
                entry["to_upgrade"],
                entry.get("or_bought", True),
                toml.where(f"moved_part.{number}"),
            )
        )
    return tuple(moves)
