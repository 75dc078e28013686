"""Ctrl-C at any moment of a long command: it ends at once, says so, and writes nothing of a broken-off search."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

SAYS = "stopped; nothing was half-written"
LONG = {
    "choose": ["choose", "example:tight-commission", "--why", "--next", "6", "--frontier"],
    "plan": [
        "plan",
        "example:batch-school",
        "-o",
        "week.xlsx",
        "--save-plan",
        "week.json",
        "--gantt",
        "week.svg",
    ],
    "measure": ["measure", "example:tight-commission", "--solves", "60"],
    "sell": ["sell", "example:resale-flip", "--full"],
    "quote": ["quote", "example:tight-commission", "-o", "quote.xlsx", "--page", "quote.html", "--offers"],
}
BEGUN = """
import os, sys
from estimator.__main__ import main
class Begun:
    def find_spec(name, path=None, target=None):
        if name == "estimator.cli":
            sys.meta_path.remove(Begun)
            os.write(int(sys.argv.pop(1)), b".")
sys.meta_path.insert(0, Begun)
main()
"""
"""Tells that the command line begins to load: an interpreter that has not come so far is killed without a word."""
ENDED = (130, -signal.SIGINT)
"""A shell tells both as 130: one that is stopped while it reads lines of code made on the way ends by the signal."""
HERE = {**os.environ, "PYTHONPATH": os.pathsep.join(p or os.getcwd() for p in sys.path)}


def heard() -> None:
    """Let the child hear Ctrl-C, whatever the process that runs the tests does with it."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def broken_off(arguments: list[str], after: float, folder: Path) -> tuple[int | None, str, float]:
    """Exit status (None: it was done before), what it said, and seconds from Ctrl-C to its end."""
    told, tells = os.pipe()
    run = subprocess.Popen(
        [sys.executable, "-c", BEGUN, str(tells), *arguments],
        cwd=folder,
        env=HERE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heard,
        pass_fds=[tells],
    )
    os.close(tells)
    assert os.read(told, 1) == b"."
    os.close(told)
    time.sleep(after)
    if run.poll() is not None:
        return None, run.communicate()[1], 0.0
    begun = time.monotonic()
    run.send_signal(signal.SIGINT)
    said = run.communicate(timeout=60)[1]
    return run.returncode, said, time.monotonic() - begun


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent another way there")
@pytest.mark.parametrize("command", LONG)
def test_ctrl_c_ends_a_command_wherever_it_is(command: str, tmp_path: Path) -> None:
    draw = random.Random(command)
    began = time.monotonic()
    broken_off(LONG[command], 0.0, tmp_path)
    subprocess.run(
        [sys.executable, "-m", "estimator", *LONG[command]],
        cwd=tmp_path,
        env=HERE,
        capture_output=True,
        check=True,
    )
    whole = time.monotonic() - began
    for file in tmp_path.iterdir():
        file.unlink()
    ended = 0
    for _ in range(8):
        status, said, seconds = broken_off(LONG[command], draw.uniform(0, 0.95 * whole), tmp_path)
        if status is None:
            continue
        if status == 0:  # it was on its last way out
            assert seconds < 2, said
        else:
            assert status in ENDED, said
            assert said.strip().splitlines()[-1:] == [SAYS]
            assert seconds < 5
            written = {file.name for file in tmp_path.iterdir()}
            assert written in (set(), {word for word in LONG[command] if "." in word}), "some files, not all"
            ended += 1
        for file in tmp_path.iterdir():
            file.unlink()
    assert ended, "Ctrl-C never came before the end"


LEAVES = """
import atexit, os, signal
from estimator.__main__ import main
atexit.register(lambda: os.kill(os.getpid(), signal.SIGINT))
main()
"""


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent another way there")
def test_ctrl_c_is_heard_no_more_once_all_is_said() -> None:
    ended = subprocess.run(
        [sys.executable, "-c", LEAVES, "--version"],
        env=HERE,
        capture_output=True,
        text=True,
        preexec_fn=heard,
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout
