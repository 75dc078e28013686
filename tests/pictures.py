"""The pictures of the README, made anew by the program from the example jobs: python -m tests.pictures

A browser has to be installed; the pictures are kept small, in as few colours as show no difference.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from estimator.cli.main import run
from tests.server.browser import Browser, browsing

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "example_jobs"
PICTURES = EXAMPLES / "pictures"
JOB = "tight-commission"
COLOURS = 64


def main() -> None:
    """Write all of them."""
    PICTURES.mkdir(exist_ok=True)
    with TemporaryDirectory() as name, browsing(Path(name) / "browser") as browser:
        folder = Path(name)
        jobs = folder / "jobs"
        jobs.mkdir()
        for job in (JOB, "short-scale-bass", "school-guitar"):
            shutil.copy(EXAMPLES / f"{job}.toml", jobs)
        page, week = folder / "page.html", folder / "week.svg"
        made = run(["quote", f"example:{JOB}", "-o", str(folder / "book.xlsx"), "--page", str(page)])
        made += run(["plan", "example:batch-three", "--gantt", str(week)])
        assert made == 0
        _shot(browser, page.as_uri(), (800, 1130), "quote-page")
        wide, high = _size_of(week.read_text(encoding="utf-8"))
        _shot(browser, week.as_uri(), (wide, high), "week")
        _bench(browser, jobs)


def _size_of(svg: str) -> tuple[int, int]:
    """The size that a drawing says it has, in pixels."""
    found = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert found is not None
    return round(float(found[1])), round(float(found[2]))


def _bench(browser: Browser, jobs: Path) -> None:
    """A job on the page at the bench, as the command serves it."""
    served = subprocess.Popen(
        [sys.executable, "-m", "estimator", "page", str(jobs), "--no-open"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    try:
        assert served.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:\d+", served.stdout.readline())
        assert found is not None
        browser.size(1180, 900)
        browser.open(f"{found[0]}/job/{JOB}")
        browser.until(
            "document.documentElement.dataset.ready && !document.querySelector('#answer.late, [data-later]')"
        )
        _keep(browser, "bench-page")
    finally:
        served.terminate()
        served.wait(timeout=30)


def _shot(browser: Browser, address: str, size: tuple[int, int], name: str) -> None:
    browser.size(*size)
    browser.open(address)
    _keep(browser, name)


def _keep(browser: Browser, name: str) -> None:
    """What is seen, with few colours: a picture of text and lines is a third of the size so."""
    file = PICTURES / f"{name}.png"
    browser.picture(file, whole=False)
    try:
        from PIL import Image
    except ImportError:  # larger, and as good
        return
    with Image.open(io.BytesIO(file.read_bytes())) as seen:
        seen.convert("RGB").quantize(COLOURS).save(file, optimize=True)


if __name__ == "__main__":
    main()
