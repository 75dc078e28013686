"""What an answer was made of goes when the answer goes: nothing of it stays for the garbage collector to find.

A circle among what is kept holds a whole study, thousands of records, until somebody looks for it; whoever answers
many questions one after another pays for the looking.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from estimator.cli.main import run

JOB = "example:tight-commission"
COMMANDS = {
    "check": ["check", JOB],
    "fit": ["fit", JOB],
    "estimate": ["estimate", JOB, "--with", "set-up"],
    "choose": ["choose", JOB],
    "choose among few": ["choose", "few.toml", "--why", "--next", "2"],
    "choose, not met": ["choose", "example:impossible-wish"],
    "risk": ["risk", JOB],
    "price": ["price", JOB],
    "offer": ["offer", "example:resale-flip"],
    "sell": ["sell", "example:resale-flip"],
    "quote": ["quote", JOB, "-o", "q.xlsx", "--page", "p.html", "--force"],
    "plan": ["plan", "example:batch-three", "--engine", "rule", "--time-limit", "0.5", "--force"],
}
SLOW = {"plan", "sell", "offer", "quote", "choose, not met", "price"}
FEW = (
    '[job]\nid = "few"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n[wish]\nrequire = { action = 2 }\n'
    '[upgrades]\nopen = ["set-up", "clean-controls"]\n'
)


@contextmanager
def nothing_thrown_away() -> Iterator[list[object]]:
    """What only looking for garbage finds, instead of its being thrown away."""
    gc.collect()
    gc.disable()
    gc.set_debug(gc.DEBUG_SAVEALL)
    found: list[object] = []
    try:
        yield found
        gc.collect()
        found += gc.garbage
    finally:
        gc.set_debug(0)
        gc.garbage.clear()
        gc.enable()


def records(found: list[object]) -> list[str]:
    """The names of our own records among them."""
    return sorted({type(one).__name__ for one in found if type(one).__module__.startswith("estimator.")})


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name in SLOW else []) for name in COMMANDS]
)
def test_no_record_of_a_command_stays_when_it_is_over(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "few.toml").write_text(FEW, encoding="utf-8")
    run(COMMANDS[name])  # what is kept of the shop on purpose is kept by the first
    with nothing_thrown_away() as found:
        assert run(COMMANDS[name]) in (0, 1), capsys.readouterr().err
    assert records(found) == []


def test_a_circle_would_be_seen() -> None:
    class Circle:
        def __init__(self) -> None:
            self.itself = self

    Circle.__module__ = "estimator.made.up"
    with nothing_thrown_away() as found:
        Circle()
    assert records(found) == ["Circle"]
