"""The start of the page: the address before what is heavy, nobody turned away meanwhile, nothing waits for a solve."""

from __future__ import annotations

import gc
import signal
import subprocess
import sys
import threading
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
import uvicorn

from estimator.model import Shop
from estimator.server import run
from estimator.server.desk import Desk
from estimator.server.entries import Entries
from tests.server.desks import EXAMPLES, desk_in
from tests.server.test_entries import shop
from tests.server.test_in_a_browser import Served

__all__ = ["shop"]

LIGHT = """
import sys
import estimator.cli.page
from estimator.server.desk import Desk
from estimator.server.folder import JobFolder, job_url
from estimator.server.run import alone_in, bound
print([m for m in sys.modules if m.split(".")[0] in
      ("uvicorn", "starlette", "jinja2", "pulp", "highspy", "ortools", "pandas", "numpy")
      or m.startswith(("estimator.choose", "estimator.fit", "estimator.plan", "estimator.server.answers"))])
"""


@pytest.mark.slow
def test_nothing_heavy_is_loaded_before_the_address_is_there() -> None:
    got = subprocess.run([sys.executable, "-c", LIGHT], capture_output=True, text=True, check=True)
    assert got.stdout.strip() == "[]"


def test_who_asks_while_the_pages_are_loaded_waits_and_is_answered(
    tmp_path: Path, shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    made: list[uvicorn.Server] = []
    listens, go_on = threading.Event(), threading.Event()
    load = run.server_of

    def slowly(desk: Desk, port: int) -> uvicorn.Server:
        listens.set()
        assert go_on.wait(20)
        made.append(load(desk, port))
        return made[0]

    monkeypatch.setattr(run, "server_of", slowly)
    monkeypatch.setattr(run, "warm", lambda desk, first: None)
    monkeypatch.setattr(run, "USUAL_PORT", 0)
    desk = desk_in(tmp_path, shop, "short-scale-bass")
    with ThreadPoolExecutor(2) as pool:
        serving = pool.submit(run.serve, desk, None, False)
        assert listens.wait(20)
        address = (tmp_path / run.LOCK).read_text()
        asking = pool.submit(lambda: urllib.request.urlopen(address, timeout=30).read().decode())
        assert not asking.done()
        go_on.set()
        assert "Short-scale bass" in asking.result(30)
        made[0].should_exit = True
        serving.result(30)
    assert gc.isenabled()
    assert f"the page is at {address}/" in capsys.readouterr().out
    gc.unfreeze()


def test_a_page_does_not_wait_for_what_is_being_solved(tmp_path: Path, shop: Shop) -> None:
    desk = desk_in(tmp_path, shop, "short-scale-bass")
    asked = desk.ask("short-scale-bass", Entries())
    with desk.answers.solving, ThreadPoolExecutor(1) as pool:
        study = pool.submit(desk.answers.study, asked.values, asked.job).result(20)
    assert study.job == asked.job


def test_the_desk_makes_its_answers_once_whoever_asks_first(tmp_path: Path, shop: Shop) -> None:
    desk = desk_in(tmp_path, shop)
    with ThreadPoolExecutor(8) as pool:
        made = {id(one) for one in pool.map(lambda _: desk.answers, range(32))}
    assert len(made) == 1


@pytest.mark.slow
@pytest.mark.parametrize("seconds", [0.0, 0.5, 1.5])
def test_stopped_by_hand_it_ends_in_order_whatever_was_solved(tmp_path: Path, seconds: float) -> None:
    """An engine that takes the interruption to itself leaves it to nobody, and one tells its name in passing."""
    (tmp_path / "job.toml").write_bytes((EXAMPLES / "tight-commission.toml").read_bytes())
    served = Served(tmp_path)
    assert "USD" in served.get("/job/job")
    time.sleep(seconds)  # meanwhile the next limits are solved ahead
    served.process.send_signal(signal.SIGINT)
    told, _ = served.process.communicate(timeout=60)
    assert (served.process.returncode, told) == (0, "stopped; nothing was half-written\n")
