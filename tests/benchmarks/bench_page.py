"""How quick the page is: start to numbers, key and drag to numbers, memory, a list of 200 jobs.

``python -m tests.benchmarks.bench_page``; needs an installed browser. Each figure is of this machine as it is now.
The page was started once before, so that its modules are compiled, as they are from the second start on.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import tempfile
import time
from pathlib import Path

from tests.server.browser import Browser, browsing
from tests.server.desks import EXAMPLES
from tests.server.test_in_a_browser import BURST, SETTLED, Served, on_screen

JOB = "tight-commission"


def milliseconds(took: list[float]) -> str:
    took = sorted(took)
    return f"median {took[len(took) // 2] * 1000:.0f} ms, worst {took[-1] * 1000:.0f} ms (of {len(took)})"


def memory_mb(pid: int) -> float:
    lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS"))


def drags(browser: Browser, low: int, high: int, times: int) -> list[float]:
    """From an entry to its numbers, dimmed no more; each a limit that was not asked for before."""
    draw, took = random.Random(1), []
    for value in draw.sample(range(low, high, 5), times):
        begun = time.perf_counter()
        browser.run(BURST.format(values=[value]))
        browser.until(SETTLED)
        took.append(time.perf_counter() - begun)
    return took


def keys(browser: Browser, times: int) -> list[float]:
    browser.run("document.getElementById('money-slide').focus()")
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        browser.press("ArrowRight")
        browser.until(SETTLED)
        took.append(time.perf_counter() - begun)
    return took


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder, profile = Path(name) / "jobs", Path(name) / "profile"
        folder.mkdir()
        shutil.copy(EXAMPLES / f"{JOB}.toml", folder)
        text = (EXAMPLES / "school-guitar.toml").read_text(encoding="utf-8")
        for number in range(200):
            (folder / f"job-{number}.toml").write_text(text, encoding="utf-8")
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(name) / "compiled")
        warming = Served(folder)
        warming.get(f"/job/{JOB}")
        warming.stop(signal.SIGTERM)
        with browsing(profile) as browser:
            begun = time.perf_counter()
            served = Served(folder)
            print(f"start to first answer over the wire: {time.perf_counter() - begun:.2f} s")
            browser.open(f"{served.address}/job/{JOB}")
            print(f"start to the page on the screen: {time.perf_counter() - begun:.2f} s")
            browser.until(SETTLED)
            print(f"start to numbers on the screen: {time.perf_counter() - begun:.2f} s {on_screen(browser)}")
            time.sleep(6)  # the limits are looked ahead meanwhile
            for times in (2, 30):  # the first two warm up
                took = drags(browser, 530, 1000, times)
            print(f"drag to new numbers: {milliseconds(took)}")
            print(f"key to new numbers: {milliseconds(keys(browser, 15))}")
            print(f"memory: {memory_mb(served.process.pid):.0f} MB")
            listed = []
            for _ in range(5):
                start = time.perf_counter()
                served.get("/")
                listed.append(time.perf_counter() - start)
            print(f"list of 201 jobs: {milliseconds(listed)}")
            served.stop(signal.SIGTERM)


if __name__ == "__main__":
    main()
