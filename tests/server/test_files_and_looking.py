"""Job files taken in and given out by the page; and what a customer who looks on does not see, on any page."""

from __future__ import annotations

import random
import re
from html import unescape
from pathlib import Path

import pytest

from estimator.input.job.load import job_from, load_job
from estimator.ledger.clock import read_moment
from estimator.ledger.jobs import accept, book, booking_of, give_quote, pay
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.server.entries import Entries
from estimator.server.folder import LARGEST
from estimator.server.guard import MOST_BYTES, Guard
from estimator.tables.toml.text import parse_toml
from tests.ledger.shop import offered
from tests.server.desks import EXAMPLES, HOST, Got, app_of, asked, desk_in, get, post
from tests.server.test_entries import NAMES
from tests.server.test_entries import shop as usual
from tests.server.test_pages import HOSTILE, JOB, app, figure, own_figures, shop

__all__ = ["app", "shop", "usual"]
GOOD = JOB.format(what="a job sent", customer="B. Player").encode()
OWN = "<h1>Donors to buy</h1>"
LOOK = {"on": "1", "back": "/"}


def send(app: Guard, data: bytes, sent_as: str = "sent-job.toml", wanted: str = "") -> Got:
    """A file sent as a browser sends it."""
    edge = b"----edge-of-the-parts"
    head = f'Content-Disposition: form-data; name="file"; filename="{sent_as}"\r\nContent-Type: application/toml\r\n\r\n'
    name = f'Content-Disposition: form-data; name="as"\r\n\r\n{wanted}'
    body = (
        b"--"
        + edge
        + b"\r\n"
        + head.encode()
        + data
        + b"\r\n--"
        + edge
        + b"\r\n"
        + name.encode()
        + b"\r\n--"
        + edge
        + b"--\r\n"
    )
    headers = [
        ("Host", HOST),
        ("Origin", f"http://{HOST}"),
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", f"multipart/form-data; boundary={edge.decode()}"),
        ("Content-Length", str(len(body))),
    ]
    return asked(app, f"/import?word={app.word}", "POST", headers, body)


def files_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.mark.slow
def test_what_was_given_out_is_taken_in_again_byte_by_byte(usual: Shop, tmp_path: Path) -> None:
    app = app_of(desk_in(tmp_path, usual, *NAMES))
    for name in NAMES:
        out = get(app, f"/job/{name}/file")
        assert out.headers["content-disposition"] == f'attachment; filename="{name}.toml"'
        assert out.body == (EXAMPLES / f"{name}.toml").read_bytes()
        got = send(app, out.body, f"{name}.toml", f"{name}-again")
        assert (got.status, got.headers["location"]) == (303, f"/job/{name}-again?told=in")
        assert (tmp_path / f"{name}-again.toml").read_bytes() == out.body
        load_job(tmp_path / f"{name}-again.toml", usual)


@pytest.mark.parametrize(
    ("data", "sent_as", "wanted", "said"),
    [
        (b"", "a.toml", "", "no file was chosen"),
        (GOOD, "a.exe", "", "is no job file"),
        (GOOD, "toml", "", "is no job file"),
        (b"\x89PNG\r\n\x1a\n" + GOOD, "a.toml", "", ""),
        (b"\x00\x01" + GOOD, "a.toml", "", ""),
        (b"\xff\xfe\xfd[job]\n", "a.toml", "", ""),
        (b'[batch]\nid = "x"\n', "a.toml", "", "is no job file"),
        (b'[job]\nid = "x"\nkind = "own"\n[instrument]\nkind = "a boat"\n', "a.toml", "", "boat"),
        (
            b'[job]\nid = "x"\nkind = "own"\nunheard = 1\n[instrument]\nkind = "guitar-solid"\n',
            "a.toml",
            "",
            "unheard",
        ),
        (GOOD, "small.toml", "", "small.toml"),
        (GOOD, "../../etc/passwd.toml", "", ""),
        (GOOD, "a.toml", "../up", "cannot be the name of a job"),
        (GOOD, "a.toml", "/etc/passwd", "cannot be the name of a job"),
        (GOOD, "a.toml", "c:\\x", "cannot be the name of a job"),
        (GOOD, "A B.toml", "", "cannot be the name of a job"),
        (GOOD, "a.toml", HOSTILE, "cannot be the name of a job"),
        (GOOD, ".toml", "", "cannot be the name of a job"),
    ],
)
def test_what_is_no_job_file_is_not_taken_in(
    app: Guard, tmp_path: Path, data: bytes, sent_as: str, wanted: str, said: str
) -> None:
    before = files_in(tmp_path)
    got = send(app, data, sent_as, wanted)
    if sent_as == "../../etc/passwd.toml":  # only the last part of a name counts, and it is a name of ours
        assert got.headers["location"] == "/job/passwd?told=in"
        assert files_in(tmp_path).keys() - before.keys() == {"passwd.toml"}
        return
    assert got.status == 422
    assert said in unescape(got.text)
    assert "<script>alert" not in got.text
    assert "Traceback" not in got.text
    assert files_in(tmp_path) == before


def test_a_file_that_is_too_large_is_refused_before_it_is_read(app: Guard, tmp_path: Path) -> None:
    before = files_in(tmp_path)
    got = send(app, GOOD + b"#" * MOST_BYTES)
    assert got.status == 413
    assert MOST_BYTES <= LARGEST  # what is taken in is listed
    assert files_in(tmp_path) == before


@pytest.mark.slow
def test_bytes_changed_anywhere_are_taken_in_whole_or_not_at_all(
    app: Guard, shop: Shop, tmp_path: Path
) -> None:
    """120 drawn damages: what is taken in is read by the commands, what is not leaves no file."""
    draw, taken = random.Random(23), 0
    for number in range(120):
        data = bytearray(GOOD)
        for _ in range(draw.randint(1, 2)):
            at, most = draw.randrange(len(data)), draw.choice((96, 256))
            data[at : at + 1] = bytes(draw.randrange(32, most) for _ in range(draw.randint(0, 2)))
        got = send(app, bytes(data), f"drawn-{number}.toml")
        path = tmp_path / f"drawn-{number}.toml"
        assert got.status in (303, 422), bytes(data)
        assert path.exists() == (got.status == 303)
        if got.status == 303:
            taken += 1
            assert job_from(parse_toml(path.read_bytes(), path.name), shop).id
            assert get(app, f"/job/drawn-{number}").status == 200
    assert 5 < taken < 115


def switched(app: Guard, on: bool) -> None:
    assert post(app, "/looking", {"on": "1" if on else "0", "back": "/"}).status == 303


@pytest.mark.slow
def test_one_switch_hides_the_shops_own_money_on_every_page(app: Guard) -> None:
    paths = (
        "/",
        "/new",
        "/job/small?wait=1&show=frontier",
        "/job/small/answer?wait=1&show=frontier",
        "/job/small/intake",
        "/job/small/ledger",
        "/job/small/quote",
        "/job/small/paper",
        "/job/small/drawings",
    )
    mine = get(app, paths[2]).text
    prices = re.findall(r'<span class="time">([^<]*USD)<', mine)
    own = own_figures(mine) - {*prices, figure(get(app, paths[2]), "price")}
    assert len(own) >= 4
    switched(app, True)
    theirs = {path: get(app, path) for path in paths}
    for path, got in theirs.items():
        assert got.status == 200
        assert not (own & set(re.findall(r"[\d,]+\.\d\d USD", got.text))), path
        if "answer" not in path and "paper" not in path:
            assert 'data-hiding="1"' in got.text, path
            assert "The customer has gone" in got.text, path
    assert "yours only" not in theirs[paths[2]].text
    assert 'href="/job/small?looking' not in theirs[paths[2]].text
    for path in ("/donors", "/learned", "/own-menu", "/job/small/file"):
        got = get(app, path)
        assert "Hidden while a customer looks" in got.text, path
        assert "<textarea" not in got.text
        assert b"[job]" not in got.body
    assert (
        "Measure first"
        not in get(app, "/job/small/intake?first=1").text.split("Hidden")[1].split("</section>")[0]
    )
    switched(app, False)
    assert own <= own_figures(get(app, paths[2]).text)


@pytest.mark.slow
def test_what_was_paid_for_an_instrument_is_not_seen_by_who_looks_on(usual: Shop, tmp_path: Path) -> None:
    desk = desk_in(tmp_path, usual, "resale-flip")
    app = app_of(desk)
    job = desk.ask("resale-flip", Entries()).job
    now = read_moment("2026-10-05 09:00")
    with Ledger(tmp_path / "ledger.sqlite", new=True) as books:
        book(books, booking_of(job, "USD", str(tmp_path / "resale-flip.toml")), now)
        accept(books, job.id, give_quote(books, job.id, offered(43210, 0), now), None, now)
        pay(books, job.id, "purchase", 12345, now, "cash")
    page = get(app, "/job/resale-flip/ledger").text
    assert "123.45 USD" in page
    assert "432.10 USD" in page
    switched(app, True)
    page = get(app, "/job/resale-flip/ledger").text
    assert "123.45" not in page
    assert "432.10" not in page
    assert "Pay per hour" not in get(app, "/money").text


@pytest.mark.parametrize(
    "back",
    ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere", "/a?b", "x", "/job/a/../b\r\nx: y"],
)
def test_the_switch_leads_back_to_our_own_pages_alone(app: Guard, back: str) -> None:
    got = post(app, "/looking", {"on": "0", "back": back})
    assert (got.status, got.headers["location"]) == (303, "/")
    assert (
        post(app, "/looking", {"on": "0", "back": "/job/small/intake"}).headers["location"]
        == "/job/small/intake"
    )
    assert post(app, "/looking", LOOK, word="of-yesterday").status == 403


def test_a_new_start_does_not_show_the_till_to_who_still_looks(shop: Shop, tmp_path: Path) -> None:
    """The program is killed while a customer looks on: the next start hides as the last one did."""
    app = app_of(desk_in(tmp_path, shop, "resale-flip"))
    assert OWN in get(app, "/donors").text
    switched(app, True)
    again = app_of(desk_in(tmp_path, shop))
    assert OWN not in get(again, "/donors").text
    assert "The customer has gone" in get(again, "/").text
    switched(again, False)
    assert OWN in get(app_of(desk_in(tmp_path, shop)), "/donors").text
    assert [path.name for path in tmp_path.iterdir()] == ["resale-flip.toml"]


def test_a_job_file_is_given_out_and_taken_in(app: Guard, tmp_path: Path) -> None:
    out = get(app, "/job/small/file")
    assert out.body == (tmp_path / "small.toml").read_bytes()
    got = send(app, out.body, "small.toml", "another")
    assert (got.status, got.headers["location"]) == (303, "/job/another?told=in")
    assert (tmp_path / "another.toml").read_bytes() == out.body
    assert "taken in as it was sent" in get(app, "/job/another?told=in").text


def test_no_form_of_a_start_before_changes_anything(app: Guard, tmp_path: Path) -> None:
    """Every address that something can be sent to, those to come too: an old tab after a restart, and a page from elsewhere."""
    from estimator.server import job_routes, shop_routes

    before = files_in(tmp_path)
    paths = [*shop_routes.SENT, *job_routes.SENT]
    assert {"/import", "/looking", "/learned", "/own-menu", "/week/{batch}", "/job/{name}/intake"} <= set(
        paths
    )
    for path in paths:
        path = path.replace("{name}", "small").replace("{batch}", "small")
        got = post(app, path, {"do": "over", "on": "1", "name": "x"}, word="of-the-start-before")
        assert got.status == 403, path
        assert "out of date" in got.text
        headers = [("Host", HOST), ("Origin", "http://elsewhere.example"), ("Content-Length", "0")]
        assert asked(app, f"{path}?word={app.word}", "POST", headers).status == 403
    assert files_in(tmp_path) == before
    assert "data-hiding" not in get(app, "/").text


def test_hostile_words_stay_words_on_every_page_of_the_shop(app: Guard) -> None:
    query = "?" + "&".join(
        f"{name}={HOSTILE.replace('&', '%26').replace('#', '%23')}"
        for name in ("told", "first", "now", "seen", "anew")
    )
    for path in (
        "/",
        "/new",
        "/learned",
        "/own-menu",
        "/donors",
        "/week",
        "/week/small",
        "/job/small/intake",
        f"/week/{HOSTILE.split('#')[0]}",
    ):
        got = get(app, path + query)
        assert "<script>alert" not in got.text, path
        assert "default-src 'none'" in got.headers["content-security-policy"], path
