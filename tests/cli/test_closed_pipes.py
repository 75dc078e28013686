"""Whoever reads the output may go away at any moment: no traceback, and the exit status says what happened."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

NOWHERE = "no-such-file"
JOBS = (
    "check",
    "fit",
    "estimate",
    "choose",
    "risk",
    "measure",
    "price",
    "offer",
    "sell",
    "plan",
    "triage",
)


def left_alone(arguments: list[str], *gone: str) -> tuple[int, str, str]:
    """Exit status and output of a run where the readers of some streams have gone before it begins."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "estimator", *arguments],
            stdout=writer if "stdout" in gone else subprocess.PIPE,
            stderr=writer if "stderr" in gone else subprocess.PIPE,
            check=False,
        )
    finally:
        os.close(writer)
    return done.returncode, (done.stdout or b"").decode(), (done.stderr or b"").decode()


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [["worked", f"{NOWHERE}.xlsx"], ["reprice", "example:school-guitar", f"{NOWHERE}.xlsx"]]
    + [[command, f"{NOWHERE}.toml"] for command in JOBS],
    ids=lambda arguments: arguments[0],
)
def test_a_refusal_that_nobody_reads_is_still_a_refusal(arguments: list[str]) -> None:
    status, _, said = left_alone([*arguments, "--json"], "stdout")
    assert (status, said.count("\n")) == (2, 1)
    assert said.startswith("error: ")
    assert NOWHERE in said


@pytest.mark.slow
@pytest.mark.parametrize("gone", [("stdout",), ("stderr",), ("stdout", "stderr")])
def test_complaints_and_results_that_nobody_reads(gone: tuple[str, ...]) -> None:
    status, printed, said = left_alone(["worked", f"{NOWHERE}.xlsx"], *gone)
    assert status == 2
    assert printed == ""
    assert said.startswith("error: ") or "stderr" in gone
    status, printed, said = left_alone(["estimate", "example:school-guitar", "--with", "set-up"], *gone)
    assert (status, said) == (0, "")
    assert ("set-up" in printed) == ("stdout" not in gone)


def test_complaints_stay_out_of_the_output_where_nobody_listens_to_them() -> None:
    closing = "import os, sys; os.close(2); os.execv(sys.executable, [sys.executable, '-m', 'estimator', *sys.argv[1:]])"
    done = subprocess.run(
        [sys.executable, "-c", closing, "worked", f"{NOWHERE}.xlsx"], stdout=subprocess.PIPE, check=False
    )
    assert (done.returncode, done.stdout) == (2, b"")
