"""The pictures of the README, made anew by the program from the example jobs: python -m tests.pictures

A browser has to be installed; the pictures are kept small, in as few colours as show no difference. Each holds, as
a text of its own, the figures that could be read in what it was made of; a test holds them against those of today.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
from html import unescape
from pathlib import Path
from tempfile import TemporaryDirectory
from zlib import crc32

from estimator.cli.main import run
from tests.server.browser import Browser, browsing
from tests.server.desks import app_of, desk_in, get
from tests.shops import default_shop as the_shop

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "example_jobs"
PICTURES = EXAMPLES / "pictures"
JOB = "tight-commission"
COLOURS = 64
TAG = re.compile(r"<style.*?</style>|<script.*?</script>|<[^>]*>", re.S)
FIGURE = re.compile(
    r"\d[\d.,]* USD|\d+ h \d+ min|(?:Mon|Tue|Wed|Thu|Fri) \d+ [A-Z][a-z]{2}|[PW] \d+ [A-Z][a-z]{2}"
)
KEY, AFTER_HEAD = b"Figures", 8 + 25
"""What the text in a picture is called, and where it stands: behind the signature and the head."""


def main() -> None:
    """Write all of them."""
    PICTURES.mkdir(exist_ok=True)
    with TemporaryDirectory() as name, browsing(Path(name) / "browser") as browser:
        folder = Path(name)
        page, week, jobs = written(folder)
        _shot(browser, page.as_uri(), (800, 1130), "quote-page")
        wide, high = _size_of(week.read_text(encoding="utf-8"))
        _shot(browser, week.as_uri(), (wide, high), "week")
        _bench(browser, jobs)
        for picture, told in figures(folder).items():
            say(PICTURES / f"{picture}.png", told)


def written(folder: Path) -> tuple[Path, Path, Path]:
    """The customer's page, the drawing of the week and the folder of jobs for the page at the bench, as of today."""
    jobs = folder / "jobs"
    jobs.mkdir()
    for job in (JOB, "short-scale-bass", "school-guitar"):
        shutil.copy(EXAMPLES / f"{job}.toml", jobs)
    page, week = folder / "page.html", folder / "week.svg"
    made = run(["quote", f"example:{JOB}", "-o", str(folder / "book.xlsx"), "--page", str(page)])
    made += run(["plan", "example:batch-three", "--gantt", str(week)])
    assert made == 0
    return page, week, jobs


def figures(folder: Path) -> dict[str, str]:
    """By picture the money, times and days in what it shows, in their order, of what was ``written`` to a folder."""
    answer = get(app_of(desk_in(folder / "jobs", the_shop())), f"/job/{JOB}?wait=1").text
    begins, ends = answer.index('aria-label="The answer"'), answer.index('id="h-reached"')
    sources = {
        "quote-page": (folder / "page.html").read_text(encoding="utf-8"),
        "week": (folder / "week.svg").read_text(encoding="utf-8"),
        "bench-page": answer[begins:ends],
    }
    return {name: "; ".join(FIGURE.findall(unescape(TAG.sub(" ", text)))) for name, text in sources.items()}


def say(file: Path, words: str) -> None:
    """Put a text into a picture, as its second chunk."""
    told = KEY + b"\0" + words.encode("latin-1")
    chunk = b"tEXt" + told
    png = file.read_bytes()
    sized = len(told).to_bytes(4, "big") + chunk + crc32(chunk).to_bytes(4, "big")
    file.write_bytes(png[:AFTER_HEAD] + sized + png[AFTER_HEAD:])


def said(file: Path) -> str:
    """The text that was put into a picture."""
    png = file.read_bytes()
    size = int.from_bytes(png[AFTER_HEAD : AFTER_HEAD + 4], "big")
    key, _, words = png[AFTER_HEAD + 8 : AFTER_HEAD + 8 + size].partition(b"\0")
    return words.decode("latin-1") if key == KEY else ""


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
