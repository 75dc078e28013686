"""A phone beside the page: what lets it in and what does not, and what it never gets."""

from __future__ import annotations

import random
import re
import socket
from pathlib import Path
from urllib.parse import urlencode

import pytest

from estimator.core.errors import InputError
from estimator.model import Shop
from estimator.server.app import with_phone
from estimator.server.desk import Desk
from estimator.server.guard import MOST_BYTES, App, Guard
from estimator.server.pairing import LIVES_S, MOST_PHONES, TRIES, Doors, Pairing, checked_address
from estimator.server.run import bound, for_phones
from tests.server.desks import HOST, PORT, Got, asked, desk_in, get
from tests.server.test_pages import JOB, shop

__all__ = ["shop"]

PHONE = "127.0.0.2"
AT = f"{PHONE}:{PORT}"


class Hall:
    """The page with both doors, the clock of the pairing set by hand."""

    def __init__(self, shop: Shop, folder: Path) -> None:
        (folder / "small.toml").write_text(
            JOB.format(what="a small job", customer="Zebediah Quill"), encoding="utf-8"
        )
        self.now = 1000.0
        self.told: list[str] = []
        self.pairing = Pairing(PHONE, PORT, clock=lambda: self.now, told=self.told.append)
        self.desk: Desk = desk_in(folder, shop)
        self.desk.pairing = self.pairing
        app = with_phone(self.desk, PORT)
        assert isinstance(app, Doors)
        self.app = app

    @property
    def word(self) -> str:
        return self.app.phone.guard.word

    def get(self, path: str, cookie: str = "", host: str = AT, **headers: str) -> Got:
        sent = [("Host", host), *(("Cookie", f"bench={cookie}"),) * bool(cookie), *headers.items()]
        return asked(at_phone(self.app), path, headers=sent)

    def post(self, path: str, fields: dict[str, str], cookie: str = "", **more: str) -> Got:
        body = urlencode(fields).encode()
        sent = {
            "Host": AT,
            "Origin": f"http://{AT}",
            "Content-Type": "application/x-www-form-urlencoded",
            "Content-Length": str(len(body)),
            **({"Cookie": f"bench={cookie}"} if cookie else {}),
            **more,
        }
        return asked(at_phone(self.app), f"{path}?word={self.word}", "POST", list(sent.items()), body)

    def pair(self, code: str | None = None) -> tuple[Got, str]:
        got = self.post("/pair", {"code": self.pairing.open_code[0] if code is None else code})
        match = re.match(r"bench=([\w-]+);", got.headers.get("set-cookie", ""))
        return got, match[1] if match else ""


def at_phone(app: Doors) -> Guard:
    """The door of the phones, as if a request had come in at its socket."""

    async def there(scope, receive, send) -> None:  # type: ignore[no-untyped-def]
        await app({**scope, "server": (PHONE, PORT)}, receive, send)

    return there  # type: ignore[return-value]


@pytest.fixture
def hall(shop: Shop, tmp_path: Path) -> Hall:
    return Hall(shop, tmp_path)


def test_the_right_code_lets_one_phone_in_once(hall: Hall) -> None:
    hall.pairing.new_code()
    code = hall.pairing.open_code[0]
    assert re.fullmatch(r"\d{8}", code)
    got, token = hall.pair(f" {code[:4]} {code[4:]} ")
    assert (got.status, got.headers["location"]) == (303, "/bench")
    cookie = got.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "domain" not in cookie
    assert hall.get("/bench", token).status == 200
    again, second = hall.pair(code)  # replayed
    assert (again.status, second) == (403, "")
    assert hall.told == ["Pairing: phone 1 is paired."]
    assert hall.pairing.phones == ("phone 1",)


def test_five_wrong_codes_lock_the_right_one_out(hall: Hall) -> None:
    code = hall.pairing.new_code()
    wrong = f"{(int(code) + 1) % 10**8:08}"
    for _ in range(TRIES):
        assert hall.pair(wrong)[0].status == 403
    assert hall.pair(code)[0].status == 403
    assert any("too many wrong codes" in line for line in hall.told)
    assert hall.pairing.open_code == ("", 0)


def test_one_wrong_code_less_and_the_right_one_still_counts(hall: Hall) -> None:
    code = hall.pairing.new_code()
    for _ in range(TRIES - 1):
        assert hall.pair("00000000" if code != "00000000" else "1")[0].status == 403
    assert hall.pair(code)[0].status == 303


@pytest.mark.parametrize(("after", "status"), [(LIVES_S - 1, 303), (LIVES_S, 403), (LIVES_S + 9999, 403)])
def test_a_code_is_short_lived(hall: Hall, after: int, status: int) -> None:
    code = hall.pairing.new_code()
    hall.now += after
    assert hall.pair(code)[0].status == status


def test_before_any_code_and_with_an_older_one_nobody_gets_in(hall: Hall) -> None:
    assert hall.pair("")[0].status == 403
    old = hall.pairing.new_code()
    while hall.pairing.new_code() == old:
        pass
    assert hall.pair(old)[0].status == 403
    assert hall.pair("")[0].status == 403


@pytest.mark.parametrize("code", ["", "x" * 5000, "é" * 8, "\x00" * 8, "12345678 OR 1=1", "１２３４５６７８"])
def test_odd_codes_are_wrong_codes(hall: Hall, code: str) -> None:
    hall.pairing.new_code()
    assert hall.pair(code)[0].status == 403


GUESSED = ["", "x", "null", "../..", "a" * 4000, '"', "phone 1", ";;=", "\x7f"]


def test_a_second_device_without_pairing_gets_nothing(hall: Hall) -> None:
    hall.pairing.new_code()
    _, token = hall.pair()
    for cookie in (*GUESSED, token[:-1], token + "x", token.swapcase()):
        for path in (
            "/bench/step?job=small&task=x",
            "/bench/intake?file=small",
            "/bench/photo?file=small&name=x",
            "/job/small",
            "/money",
        ):
            assert hall.get(path, cookie).status == 401, (path, cookie)
        for path in ("/", "/bench"):
            got = hall.get(path, cookie)
            assert (got.status, got.headers["location"]) == (303, "/pair")
        assert hall.post("/bench/tap", {"do": "begin", "key": "k"}, cookie).status == 401
    assert hall.get("/pair").status == 200
    assert hall.get("/static/bench.js").status == 200
    assert hall.get("/static/page.js").status == 401


FORBIDDEN = [
    "/",
    "/new",
    "/money",
    "/price-list",
    "/donors",
    "/week",
    "/week/x",
    "/phone",
    "/job/small",
    "/job/small/answer",
    "/job/small/quote",
    "/job/small/paper",
    "/job/small/ledger",
    "/job/small/receipt",
    "/job/small/drawings",
    "/job/small/intake",
    "/job/small/photo/x.jpg",
    "/static/page.js",
    "/static/page.css",
    "/benchmark",
    "/bench/../job/small",
    "/bench/..%2fjob/small",
    "//job/small",
    "/bench//job/small",
    "/BENCH/../money",
    "/./money",
]


def test_a_paired_phone_never_gets_prices_quotes_or_customers(hall: Hall) -> None:
    hall.pairing.new_code()
    _, token = hall.pair()
    for path in FORBIDDEN:
        got = hall.get(path, token)
        assert got.status in (303, 403, 404), path
        assert "Zebediah" not in got.text
        assert "USD" not in got.text
        if got.status == 303:
            assert got.headers["location"] == "/bench"
    for path in (
        "/job/small/agree",
        "/job/small/pay",
        "/job/small/save",
        "/job/small/move",
        "/new",
        "/donors",
        "/phone",
    ):
        assert hall.post(path, {"code": "x"}, token).status == 403, path


def as_multipart(fields: dict[str, bytes], charset: str) -> tuple[bytes, dict[str, str]]:
    parts = [
        f'--x\r\nContent-Disposition: form-data; name="{n}"\r\n\r\n'.encode() + v for n, v in fields.items()
    ]
    body = b"\r\n".join([*parts, b"--x--\r\n"])
    return body, {
        "Content-Type": f"multipart/form-data; boundary=x; charset={charset}",
        "Content-Length": str(len(body)),
    }


def test_what_goes_wrong_is_told_to_a_phone_on_a_page_of_the_bench(
    hall: Hall, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An address that is not there, a form that cannot be read, a fault: no word of the other door, no way to the desk."""
    hall.pairing.new_code()
    odd = [
        as_multipart({"code": code}, charset)
        for code, charset in ((b"+2AA-", "utf-7"), (b"\\ud800", "unicode_escape"), (b"x", "undefined"))
    ]
    headers = {"Host": AT, "Origin": f"http://{AT}"}
    found = [
        asked(at_phone(hall.app), f"/pair?word={hall.word}", "POST", [*{**headers, **more}.items()], body)
        for body, more in odd
    ]
    _, token = hall.pair()
    for key in ("do", "key", "job", "file"):
        fields = {"do": b"begin", "key": b"k", "job": b"small", "file": b"small", key: b"\\ud800"}
        body, more = as_multipart(fields, "unicode_escape")
        sent = {**headers, **more, "Cookie": f"bench={token}"}
        found.append(asked(at_phone(hall.app), f"/bench/tap?word={hall.word}", "POST", [*sent.items()], body))
    assert {got.status for got in found} == {400}
    found += [hall.get("/bench/none", token), hall.get("/bench/tap", token)]

    def broken(*args: object) -> None:
        raise RuntimeError("Zebediah Quill owes 4711")

    monkeypatch.setattr("estimator.server.bench.routes.day_values", broken)
    found.append(hall.get("/bench", token))
    assert [got.status for got in found[-3:]] == [404, 405, 500]
    for got in found:
        assert hall.app.own.word not in got.text
        assert hall.desk.shop.terms.shop_name not in got.text
        assert not re.search(r'Zebediah|4711|action="/looking|href="/(?!bench|static)', got.text)


@pytest.mark.parametrize(
    "line",
    [
        'money = "about 4711"',
        "money = 4711 0",
        "money = -4711",
        'money = 300\n4711 = "x"',
        'money = 300\n[job]\ncustomer = "Zebediah Quill"',
        'money = 300\n[terms]\ndeposit = "4711 x"',
        'money = 300\n[sale]\ncustomer = "Zebediah Quill',
    ],
)
def test_a_job_file_that_cannot_be_read_tells_a_phone_where_and_never_what(hall: Hall, line: str) -> None:
    hall.pairing.new_code()
    _, token = hall.pair()
    path = hall.desk.folder.root / "small.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("money = 300", line), encoding="utf-8")
    got = hall.get("/bench/intake?file=small", token)
    assert got.status == 422
    words = re.sub(r"<[^>]+>", " ", got.text[got.text.index("<main") :])
    assert "mall.toml, row 1" in words
    assert not re.search("4711|Zebediah", words)


@pytest.mark.parametrize(
    "host",
    [
        "",
        "evil.example",
        HOST,
        f"localhost:{PORT}",
        PHONE,
        f"{PHONE}:80",
        f"{AT}.evil.example",
        f"127.0.0.3:{PORT}",
    ],
)
def test_a_foreign_host_is_turned_away_at_the_phones_door_too(hall: Hall, host: str) -> None:
    hall.pairing.new_code()
    code = hall.pairing.open_code[0]
    _, token = hall.pair()
    for path in ("/bench", "/pair", "/static/bench.js"):
        assert hall.get(path, token, host=host).status == 421
    assert hall.post("/pair", {"code": code}, Host=host).status == 421


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "http://evil.example",
        f"http://{HOST}",
        f"https://{AT}",
        f"http://{PHONE}",
        f"http://{AT}.evil.example",
    ],
)
def test_a_foreign_origin_cannot_pair_nor_tap(hall: Hall, origin: str) -> None:
    code = hall.pairing.new_code()
    assert hall.post("/pair", {"code": code}, Origin=origin).status == 403
    _, token = hall.pair(code)
    assert token
    assert hall.post("/bench/tap", {"do": "begin", "key": "k"}, token, Origin=origin).status == 403
    assert (
        hall.post("/bench/tap", {"do": "begin", "key": "k"}, token, **{"Sec-Fetch-Site": "cross-site"}).status
        == 403
    )
    assert hall.get("/bench", token, **{"Sec-Fetch-Site": "cross-site"}).status == 403


def test_the_words_of_the_two_doors_differ_and_neither_opens_the_other(hall: Hall) -> None:
    assert hall.word != hall.app.own.word
    hall.pairing.new_code()
    _, token = hall.pair()
    assert hall.app.own.word not in hall.get("/bench", token).text
    own: App = hall.app
    body = [("Host", HOST), ("Origin", f"http://{HOST}"), ("Content-Length", "0")]
    assert asked(own, f"/bench/tap?word={hall.word}", "POST", body).status == 403  # type: ignore[arg-type]
    # at this machine's own door a cookie counts nothing and no host of the phones is answered
    assert asked(own, "/bench", headers=[("Host", AT), ("Cookie", f"bench={token}")]).status == 421  # type: ignore[arg-type]
    assert get(hall.app.own, "/pair").status == 404
    assert get(hall.app.own, "/new").status == 200


def test_long_or_chunked_forms_are_turned_away_at_the_phones_door(hall: Hall) -> None:
    assert hall.post("/pair", {"code": "1"}, **{"Content-Length": str(MOST_BYTES + 1)}).status == 413
    assert hall.post("/pair", {"code": "1"}, **{"Transfer-Encoding": "chunked"}).status == 411


def test_the_pairing_ends_by_hand_and_with_the_program(hall: Hall, shop: Shop, tmp_path: Path) -> None:
    hall.pairing.new_code()
    _, token = hall.pair()
    anew = Hall(shop, tmp_path)
    assert anew.get("/bench/jobs", token).status == 401
    hall.pairing.forget("phone 1")
    assert hall.get("/bench/jobs", token).status == 401
    assert hall.pairing.phones == ()


def test_only_so_many_phones_are_let_in_at_once(hall: Hall) -> None:
    tokens = []
    for _ in range(MOST_PHONES + 1):
        hall.pairing.new_code()
        tokens.append(hall.pair()[1])
    assert [hall.get("/bench/jobs", token).status for token in tokens] == [401] + [200] * MOST_PHONES


def test_the_laptops_page_shows_the_code_and_a_picture_of_the_address(hall: Hall) -> None:
    own = hall.app.own
    assert "No code counts now" in get(own, "/phone").text
    body = [("Host", HOST), ("Origin", f"http://{HOST}"), ("Content-Length", "0")]
    assert asked(own, f"/phone?word={own.word}", "POST", body).status == 303
    page = get(own, "/phone").text
    assert hall.pairing.open_code[0] in page
    assert f"http://{AT}/pair" in page
    assert "<svg" in page
    assert "others on that network could read" in page
    assert not re.search(r"<[^>]+\sstyle=", page)
    assert get(Guard(own.app, PORT), "/phone").status == 200


def test_without_the_option_no_phone_is_let_in(shop: Shop, tmp_path: Path) -> None:
    app = with_phone(desk_in(tmp_path, shop), PORT)
    assert isinstance(app, Guard)
    assert get(app, "/phone").status == 404
    assert get(app, "/pair").status == 404
    assert asked(app, "/bench", headers=[("Host", AT)]).status == 421


@pytest.mark.parametrize(
    "text",
    [
        "0.0.0.0",
        "8.8.8.8",
        "127.0.0.1",
        "224.0.0.1",
        "255.255.255.255",
        "::",
        "::1",
        "localhost",
        "",
        "192.168.1",
        "192.168.1.20:80",
        "1.1.1.1/24",
    ],
)
def test_only_one_address_of_a_local_network_is_taken(text: str) -> None:
    with pytest.raises(InputError) as caught:
        checked_address(text)
    assert "--phone" in str(caught.value)


@pytest.mark.parametrize("text", ["192.168.1.20", "10.0.0.7", "172.16.4.4", "127.0.0.2", "169.254.3.4"])
def test_addresses_of_local_networks_are_taken(text: str) -> None:
    assert checked_address(text) == text


def test_the_socket_is_at_this_one_address_alone() -> None:
    pairing = Pairing(PHONE)
    with for_phones(pairing, 0) as opened:
        assert opened.getsockname() == (PHONE, pairing.port)
        opened.listen()
        with pytest.raises(OSError), socket.create_connection(("127.0.0.3", pairing.port), timeout=2):
            pass
    with pytest.raises(InputError), for_phones(Pairing("192.0.2.77"), 0):
        pass
    with bound(None) as own:
        assert own.getsockname()[0] == "127.0.0.1"


@pytest.mark.slow
def test_no_order_of_tries_lets_in_more_than_the_codes_that_were_shown(hall: Hall) -> None:
    """Drawn orders of new codes, waits, wrong, right, old and used codes: never more phones than codes used in time."""
    for seed in range(40):
        draw, pairing, shown = random.Random(seed), hall.pairing, list[str]()
        fair = 0
        for _ in range(60):
            what = draw.choice(("new", "wait", "right", "wrong", "old"))
            if what == "new":
                shown.append(pairing.new_code())
                left, until = TRIES, hall.now + LIVES_S
            elif what == "wait":
                hall.now += draw.choice((1, 100, LIVES_S))
            elif shown:
                code = {"right": shown[-1], "wrong": "x", "old": draw.choice(shown)}[what]
                good = code == shown[-1] and left > 0 and hall.now < until
                assert (pairing.pair(code) is not None) == good, (seed, what)
                fair += good
                left = 0 if good else left - 1 if hall.now < until else 0
        assert fair <= len(shown)
