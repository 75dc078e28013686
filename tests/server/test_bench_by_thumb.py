"""A day at the bench by thumb, on a phone's width, with the program killed and started in between; the figures in the ledger."""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import socket
import struct
import time
import zlib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from estimator.ledger.clock import read_moment
from estimator.ledger.jobs import Booking, Offered, accept, book, give_quote
from estimator.ledger.stock import BOUGHT, MILLION, stock_move
from estimator.ledger.store import Ledger
from estimator.ledger.timers import times_of
from tests.server.browser import Browser, browsing, there
from tests.server.desks import EXAMPLES
from tests.server.test_in_a_browser import Served

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not there, reason="no browser")]
PHONE = "127.0.0.2"
JOBS = ("tight-commission", "short-scale-bass", "resale-flip")
TASKS = ("strings-off", "set-action", "string-up")
READY = "document.documentElement.dataset.ready"
STILL = f"{READY} && !document.documentElement.dataset.going"
SENT = f"{READY} && document.documentElement.dataset.unsent === '0'"


def button(words: str) -> str:
    """The button of these words that is shown."""
    return f"Array.from(document.querySelectorAll('button')).find(b => b.offsetHeight && b.innerText.trim() === '{words}')"


def link(words: str) -> str:
    return f"Array.from(document.querySelectorAll('a')).find(a => a.innerText.includes('{words}'))"


def step_link(job: str, task: str) -> str:
    return f"document.querySelector('a[href=\"/bench/step?job={job}&task={task}\"]')"


def free_port() -> int:
    """A port that stays free while the program is away: no other test takes it, and no connection is given it."""
    while True:
        port = random.SystemRandom().randrange(20_000, 30_000)
        with socket.socket() as tried:
            try:
                tried.bind(("127.0.0.1", port))
            except OSError:
                continue
        return port


class Shop:
    """The command with a phone's address, on a folder with three jobs that were taken."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for job in JOBS:
            shutil.copy(EXAMPLES / f"{job}.toml", folder)
        with Ledger(folder / "ledger.sqlite", new=True) as books, books.writing():
            now = read_moment(None)
            stock_move(books, BOUGHT, "c-strings-guitar", 5 * MILLION, now)
            for job in JOBS:
                book(books, Booking(job, "own", job.replace("-", " "), "guitar-solid", "USD"), now)
                uses = {("string-up", "c-strings-guitar"): MILLION} if job == JOBS[0] else {}
                offered = Offered(5000, 0, 5000, "USD", [], seconds=dict.fromkeys(TASKS, 600), uses=uses)
                accept(books, job, give_quote(books, job, offered, now), None, now)
        self.served = Served(folder, free_port(), "--phone", PHONE)
        self.read_code()

    def read_code(self) -> None:
        out = self.served.process.stdout
        assert out is not None
        for line in iter(out.readline, ""):
            match = re.search(r"pairs at (http://127\.0\.0\.2:\d+)/pair with the code (\d{8})", line)
            if match:
                self.address, self.code = match[1], match[2]
                return
        raise AssertionError("no code was shown")

    def spells(self) -> dict[tuple[str, str], list[int]]:
        found: dict[tuple[str, str], list[int]] = {}
        with Ledger(self.folder / "ledger.sqlite") as books:
            for job in JOBS:
                for row in times_of(books, job):
                    if not row.corrected_by:
                        found.setdefault((job, row.task), []).append(row.seconds)
        return found


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Shop]:
    opened = Shop(tmp_path)
    yield opened
    opened.served.stop(signal.SIGTERM)


@pytest.fixture
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browsing(tmp_path_factory.mktemp("phone"), 390) as opened:
        opened.thumb()
        yield opened


def pair(phone: Browser, workshop: Shop) -> None:
    phone.open(f"{workshop.address}/pair#{workshop.code}")
    phone.until(f"{READY} && document.getElementById('code').value.length === 8")
    phone.tap(button("Pair"))
    phone.until(f"location.pathname === '/bench' && {READY}")


def go(phone: Browser, job: str, task: str) -> None:
    """To a step, by today's list."""
    if phone.run("document.querySelector('h1').innerText") != "Today":
        phone.tap(link("Today"))
    phone.until(f"{STILL} && document.querySelector('h1').innerText === 'Today' && {step_link(job, task)}")
    phone.tap(step_link(job, task))
    clock = "document.getElementById('clock')"
    phone.until(f"{STILL} && {clock}?.dataset.job === '{job}' && {clock}.dataset.task === '{task}'")


def press(phone: Browser, words: str) -> float:
    """Tap on the clock; when it was."""
    phone.until(f"Boolean({button(words)})")
    time.sleep(0.7)  # a finger that bounces counts once
    at = time.time()
    phone.tap(button(words))
    return at


def timed(
    phone: Browser, job: str, task: str, seconds: float, expected: dict[tuple[str, str], list[float]]
) -> None:
    go(phone, job, task)
    begun = press(phone, "Start")
    phone.until("document.getElementById('clock').dataset.state === 'runs'")
    time.sleep(seconds)
    expected[job, task] = [press(phone, "End") - begun]
    phone.until("document.getElementById('clock').dataset.state === 'done'")


def test_the_day_of_three_instruments_with_the_program_stopped_in_between(
    workshop: Shop, phone: Browser
) -> None:
    expected: dict[tuple[str, str], list[float]] = {}
    pair(phone, workshop)
    first, second, third = JOBS

    # by the clock, with the door bell, and a finger that bounces
    go(phone, first, "strings-off")
    begun = press(phone, "Start")
    phone.tap("document.querySelector('#clock .at-runs button')")  # bounced onto what stands there now
    rang = press(phone, "Pause")
    phone.until(f"{SENT} && document.getElementById('clock').dataset.state === 'paused'")
    time.sleep(1.5)
    again = press(phone, "Go on")
    time.sleep(1.2)
    expected[first, "strings-off"] = [rang - begun, press(phone, "End") - again]
    phone.until(f"{SENT} && document.getElementById('clock').dataset.state === 'done'")
    # when a step is done, the big button leads on; not for a finger that bounces
    time.sleep(0.7)
    phone.tap("document.querySelector('#clock a')")
    phone.until(f"{STILL} && document.getElementById('clock').dataset.task === 'set-action'")
    timed(phone, second, "strings-off", 1, expected)
    phone.until(SENT)

    # the list is open, so that its steps are fetched ahead; then the program is killed in the middle of a step
    go(phone, third, "strings-off")
    begun = press(phone, "Start")
    phone.until(SENT)
    phone.tap(link("Today"))
    phone.until(f"{STILL} && document.querySelector('h1').innerText === 'Today'")
    phone.until("document.documentElement.dataset.ahead === 'yes'")
    workshop.served.stop(signal.SIGKILL)
    phone.tap(step_link(third, "strings-off"))
    phone.until("document.getElementById('clock')?.dataset.state === 'runs'")
    expected[third, "strings-off"] = [press(phone, "End") - begun]
    phone.until("document.getElementById('clock').dataset.state === 'done'")
    for job in JOBS:
        timed(phone, job, "set-action", 1.2, expected)
    phone.until(
        "document.documentElement.dataset.unsent === '7' && document.documentElement.dataset.away === 'true'"
    )
    assert "7 not sent yet" in phone.run("document.getElementById('unsent').innerText")
    assert phone.run("document.querySelectorAll('#unsent li').length") == 7
    assert (third, "strings-off") not in workshop.spells()

    # started anew the pairing is over: what was tapped is still there, and goes after the new code
    workshop.served.start()
    workshop.read_code()
    phone.until("!document.getElementById('pairing').hidden", 30)
    assert phone.run("document.documentElement.dataset.unsent") == "7"
    phone.tap("document.getElementById('again-code')")
    phone.type(workshop.code)
    phone.tap("document.querySelector('#pair-again button')")
    phone.until(SENT)
    assert phone.run("document.getElementById('refused').hidden")

    # what it used, what went wrong, a measurement
    timed(phone, first, "string-up", 1, expected)
    phone.until(f"{SENT} && Boolean({button('Take it off')})")
    phone.tap(button("Take it off"))
    phone.until(f"{SENT} && !document.getElementById('h-used')")
    go(phone, second, "string-up")
    phone.tap("document.querySelector('#d-wrong summary')")
    phone.tap("document.getElementById('lost')")
    phone.type("3")
    phone.tap("document.querySelector('#d-wrong button')")
    phone.until(f"{SENT} && document.getElementById('said').innerText.includes('gone wrong')")
    phone.tap(link("Measure"))
    phone.until("document.querySelector('h1').innerText === 'Measure'")
    phone.tap("document.querySelector('a[href=\"/bench/intake?file=tight-commission\"]')")
    phone.until("Boolean(document.querySelector('main input[id^=m-]'))")
    for summary in range(int(phone.run("document.querySelectorAll('summary').length"))):
        if phone.run(
            f"document.querySelectorAll('summary')[{summary}].parentElement.querySelector('#m-nut_wid') !== null && !document.querySelectorAll('summary')[{summary}].parentElement.open"
        ):
            phone.tap(f"document.querySelectorAll('summary')[{summary}]")
    phone.run("document.getElementById('m-nut_wid').value = ''")
    phone.tap("document.getElementById('m-nut_wid')")
    phone.type("1.7")
    phone.tap("document.getElementById('m-nut_wid').form.querySelector('button')")
    phone.until(f"{SENT} && document.getElementById('said').innerText.includes('nut wid 1.7')")
    assert 'nut_wid = "1.7 in"' in (workshop.folder / "tight-commission.toml").read_text(encoding="utf-8")

    found = workshop.spells()
    assert found.pop((second, "string-up")) == [180]
    assert found.keys() == expected.keys()
    for step, stretches in expected.items():
        # the ledger holds moments in whole seconds: each stretch is right to the second
        assert len(found[step]) == 1, step
        assert abs(found[step][0] - sum(stretches)) <= len(stretches), (step, found[step], stretches)
    with Ledger(workshop.folder / "ledger.sqlite") as books:
        left = books.rows("SELECT SUM(millionths) AS left_ FROM stock_move WHERE item = 'c-strings-guitar'")
        taps = books.rows("SELECT at, came_at FROM tap ORDER BY rowid")
    assert left[0]["left_"] == 4 * MILLION
    assert [tap["at"] for tap in taps] == sorted(tap["at"] for tap in taps)
    # while it was away, unpaired (401), and with the word of the start before (403)
    assert not [
        line for line in phone.console if not re.search("ERR_CONNECTION_REFUSED|status of 40[13]", line)
    ]
    assert {re.sub(r":\d+/.*", "", url) for url in phone.requests if url.startswith("http")} == {
        f"http://{PHONE}"
    }


def test_taps_outlive_the_page_and_a_restart_of_the_program(workshop: Shop, phone: Browser) -> None:
    """On the laptop's own address, where nothing is paired: the page is closed while the program is away."""
    phone.open(f"{workshop.served.address}/bench/step?job={JOBS[0]}&task=set-action")
    phone.until(SENT)
    workshop.served.stop(signal.SIGKILL)
    begun = press(phone, "Start")
    time.sleep(1)
    ended = press(phone, "End")
    phone.until("document.documentElement.dataset.unsent === '2'")
    phone.send("Page.navigate", url="about:blank")
    workshop.served.start()
    workshop.read_code()
    time.sleep(1)
    phone.open(f"{workshop.served.address}/bench")
    phone.until(f"{SENT} && document.querySelector('main').innerText.includes('done')")
    assert abs(workshop.spells()[JOBS[0], "set-action"][0] - (ended - begun)) <= 1


def picture_file(path: Path) -> Path:
    """A picture of 2,400 by 30 points."""
    row = b"\0" + bytes(range(240)) * 30

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 2400, 30, 8, 2, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(row * 30))
        + chunk(b"IEND", b"")
    )
    return path


def test_a_photo_taken_while_the_program_is_away_is_sent_later_once_and_smaller(
    workshop: Shop, phone: Browser, tmp_path: Path
) -> None:
    file = picture_file(tmp_path / "photo-of-the-camera.png")
    phone.open(f"{workshop.served.address}/bench/step?job={JOBS[0]}&task=set-action")
    phone.until(SENT)
    workshop.served.stop(signal.SIGKILL)
    root = phone.send("DOM.getDocument")["root"]["nodeId"]
    node = phone.send(
        "DOM.querySelector", nodeId=root, selector="form[data-say='Photo before'] input[type=file]"
    )["nodeId"]
    phone.send("DOM.setFileInputFiles", files=[str(file)], nodeId=node)
    phone.until(
        "document.documentElement.dataset.unsent === '1' && document.documentElement.dataset.away === 'true'"
    )
    workshop.served.start()
    workshop.read_code()
    phone.until(f"{SENT} && document.querySelectorAll('.photos img').length === 1")
    with Ledger(workshop.folder / "ledger.sqlite") as books:
        rows = books.rows("SELECT path, remark FROM photo")
    assert [(row["path"], row["remark"]) for row in rows] == [
        (f"photos/{JOBS[0]}-1.jpg", "before Set action")
    ]
    phone.until("document.querySelector('.photos img').naturalWidth === 1800")


def test_two_devices_on_one_clock_count_it_once(
    workshop: Shop, phone: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    pair(phone, workshop)
    with browsing(tmp_path_factory.mktemp("laptop"), 1000) as laptop:
        go(phone, JOBS[0], "set-action")
        laptop.open(f"{workshop.served.address}/bench/step?job={JOBS[0]}&task=set-action")
        laptop.until(SENT)
        begun = press(phone, "Start")
        phone.until(SENT)
        laptop.run(f"{button('Start')}.click()")
        laptop.until("document.getElementById('said').innerText.includes('begun on phone 1. It counts once')")
        time.sleep(1)
        ended = press(phone, "End")
        phone.until(SENT)
        laptop.run(f"{button('End')}.click()")
        laptop.until("document.getElementById('said').innerText.includes('ended already')")
    found = workshop.spells()
    assert len(found[JOBS[0], "set-action"]) == 1
    assert abs(found[JOBS[0], "set-action"][0] - (ended - begun)) <= 1


PAGES = (
    "/bench",
    "/bench/jobs",
    "/bench/intake?file=short-scale-bass",
    "/bench/step?job=short-scale-bass&task=set-action",
    "/bench/figures?job=short-scale-bass&task=set-action",
)


@pytest.mark.parametrize("width", [360, 390, 430])
def test_every_target_is_large_and_nothing_is_found_by_the_checker(
    workshop: Shop, phone: Browser, width: int
) -> None:
    axe = (files("axe_core_python") / "axe.min.js").read_text(encoding="utf-8")
    pair(phone, workshop)
    phone.size(width)
    for path in PAGES:
        phone.open(f"{workshop.address}{path}")
        phone.until(SENT)
        assert phone.run("document.documentElement.scrollWidth <= innerWidth"), path
        small = phone.run(
            "Array.from(document.querySelectorAll('a, button, input:not([type=hidden]):not([type=file]), select, summary, label.button'))"
            ".filter(e => e.offsetHeight && !e.disabled).map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])"
            ".filter(([, r]) => r.height < 48 || r.width < 48).map(([h, r]) => `${h} ${r.width}x${r.height}`)"
        )
        assert small == [], path
        phone.run(axe)
        found = phone.run(
            "axe.run().then(r => r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html).join(' | ')))"
        )
        assert found == [], path
    assert phone.console == []
    phone.open(f"{workshop.served.address}/phone")
    phone.run(axe)
    assert phone.run("axe.run().then(r => r.violations.map(v => v.id))") == []
    assert phone.run("document.documentElement.scrollWidth <= innerWidth")
    if width == 390 and os.environ.get("PICTURES"):
        for number, path in enumerate(PAGES):
            phone.open(f"{workshop.address}{path}")
            phone.until(SENT)
            phone.picture(Path(os.environ["PICTURES"]) / f"{number}.png", whole=False)
