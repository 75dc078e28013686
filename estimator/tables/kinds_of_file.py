"""Which of the program's own TOML files one is, so that one in the place of another is told by its name."""

from __future__ import annotations

from estimator.core.errors import refusal
from estimator.tables.toml.text import TomlFile

#: what it is -> the sections or keys that only it has, what is accepted where it belongs, what to do with it
KINDS: dict[str, tuple[tuple[str, ...], str, str]] = {
    "job": (
        ("instrument",),
        "a job file, with [instrument]",
        "estimator choose {file}; in a batch: under [[job]]",
    ),
    "batch": (
        ("batch",),
        "a batch file, with [batch]",
        "estimator plan {file}; it names job files under [[job]]",
    ),
    "state": (("state",), "a state file, with [state]", "estimator plan BATCH --state {file}"),
    "settings": (
        (),  # its keys: as many as there are settings (_only_in)
        "the settings of a shop, in shop.toml",
        "give its folder with --shop",
    ),
}
CALLED = {
    "job": "a job file",
    "batch": "a batch file",
    "state": "a state file",
    "settings": "the settings of a shop",
}


def refuse_other_kind(toml: TomlFile, wanted: str) -> None:
    """InputError for a file that has nothing of the kind that is wanted and is one of another kind."""
    if any(name in toml.values for name in _only_in(wanted)):
        return
    for kind, (_, _, step) in KINDS.items():
        if kind != wanted and any(name in toml.values for name in _only_in(kind)):
            next_step = step.format(file=toml.file)
            raise refusal(toml.file, f"this is {CALLED[kind]}", "", KINDS[wanted][1], next_step)


def _only_in(kind: str) -> tuple[str, ...]:
    """The sections or keys that only a kind of file has."""
    if kind != "settings":
        return KINDS[kind][0]
    from estimator.tables.schema.settings import (
        SETTINGS,  # worked out of a record: of a good job file not asked for
    )

    return tuple(column.name for column in SETTINGS)
