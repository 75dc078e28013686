"""Raw requests of every shape that must not get in, and those that must."""

from __future__ import annotations

import asyncio

import pytest

from estimator.server.guard import (
    HEADERS,
    MOST_BYTES,
    MOST_PHOTO_BYTES,
    POLICY,
    Guard,
    Message,
    Receive,
    Scope,
    Send,
)
from tests.server.desks import HOST, PORT, asked

OWN = [
    ("Host", HOST),
    ("Origin", f"http://{HOST}"),
    ("Sec-Fetch-Site", "same-origin"),
    ("Content-Length", "0"),
]


async def inside(scope: Scope, receive: Receive, send: Send) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", b"text/plain")]})
    await send({"type": "http.response.body", "body": b"inside"})


@pytest.fixture
def guard() -> Guard:
    return Guard(inside, PORT, "the-word")


def without(name: str) -> list[tuple[str, str]]:
    return [(n, v) for n, v in OWN if n != name]


def test_what_our_own_page_asks_and_sends_gets_in(guard: Guard) -> None:
    for host in (HOST, f"localhost:{PORT}"):
        got = asked(guard, "/job/x", headers=[("Host", host), ("Sec-Fetch-Site", "none")])
        assert (got.status, got.text) == (200, "inside")
    assert asked(guard, "/job/x", "HEAD", [("Host", HOST)]).status == 200
    assert asked(guard, "/job/x/save?word=the-word", "POST", OWN).status == 200


@pytest.mark.parametrize(
    "hosts",
    [
        [],
        ["evil.example"],
        [f"evil.example:{PORT}"],
        ["127.0.0.1"],
        ["127.0.0.1:80"],
        [f"127.0.0.1:{PORT}."],
        [f"127.0.0.1.evil.example:{PORT}"],
        [f"LOCALHOST:{PORT}"],
        [HOST, "evil.example"],
        [HOST, HOST],
        [""],
        [f"[::1]:{PORT}"],
        [f"0.0.0.0:{PORT}"],
    ],
)
def test_a_foreign_or_missing_host_is_turned_away(guard: Guard, hosts: list[str]) -> None:
    """A name of elsewhere that was made to lead here (rebinding) comes with that name as its Host."""
    headers = [("Host", host) for host in hosts]
    assert asked(guard, "/", headers=headers).status == 421
    assert asked(guard, "/x?word=the-word", "POST", [*headers, *without("Host")]).status == 421
    rebound = [("Host", "evil.example"), ("Origin", "http://evil.example"), ("Sec-Fetch-Site", "same-origin")]
    assert asked(guard, "/job/x/answer", headers=rebound).status == 421


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://evil.example",
        f"https://{HOST}",
        "http://127.0.0.1",
        f"http://evil.example:{PORT}",
        f"http://{HOST}.evil.example",
    ],
)
def test_a_post_with_a_foreign_or_no_origin_is_turned_away(guard: Guard, origin: str | None) -> None:
    headers = without("Origin") + ([("Origin", origin)] if origin is not None else [])
    assert asked(guard, "/job/x/save?word=the-word", "POST", headers).status == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything"])
def test_what_comes_from_elsewhere_gets_the_door_alone(guard: Guard, site: str) -> None:
    headers = [*without("Sec-Fetch-Site"), ("Sec-Fetch-Site", site)]
    assert asked(guard, "/job/x/save?word=the-word", "POST", headers).status == 403
    for path in ("/job/x", "/job/x/answer", "/job/x/paper", "/static/page.js"):
        assert asked(guard, path, headers=[("Host", HOST), ("Sec-Fetch-Site", site)]).status == 403
    assert asked(guard, "/", headers=[("Host", HOST), ("Sec-Fetch-Site", site)]).status == 200


@pytest.mark.parametrize(
    "query", ["", "?word=", "?word=other", "?word=the-word&word=the-word", "?word=the-word%00", "?w=the-word"]
)
def test_a_post_without_the_word_of_this_start_is_turned_away(guard: Guard, query: str) -> None:
    got = asked(guard, f"/job/x/save{query}", "POST", OWN)
    assert got.status == 403
    assert "out of date" in got.text


def test_a_new_start_has_a_new_word() -> None:
    assert len({Guard(inside, PORT).word for _ in range(20)}) == 20
    assert len(Guard(inside, PORT).word) >= 30


@pytest.mark.parametrize(
    ("path", "length", "status"),
    [
        ("/job/x/save", str(MOST_BYTES), 200),
        ("/job/x/save", str(MOST_BYTES + 1), 413),
        ("/job/x/save", "9" * 40, 413),
        ("/job/x/photo", str(MOST_PHOTO_BYTES), 200),
        ("/job/x/photo", str(MOST_PHOTO_BYTES + 1), 413),
        ("/job/x/save", "-1", 411),
        ("/job/x/save", "1e3", 411),
        ("/job/x/save", "²", 411),
        ("/job/x/save", "", 411),
    ],
)
def test_a_body_has_to_say_how_long_it_is_and_not_be_too_long(
    guard: Guard, path: str, length: str, status: int
) -> None:
    headers = [*without("Content-Length"), ("Content-Length", length)]
    assert asked(guard, f"{path}?word=the-word", "POST", headers).status == status


def test_chunks_two_lengths_or_none_are_turned_away(guard: Guard) -> None:
    bare = without("Content-Length")
    for more in ([("Transfer-Encoding", "chunked")], [], [("Content-Length", "1"), ("Content-Length", "2")]):
        assert asked(guard, "/job/x/save?word=the-word", "POST", [*bare, *more]).status == 411
    for more in ([("Transfer-Encoding", "chunked")], [("Content-Length", "5")]):
        assert asked(guard, "/job/x", headers=[("Host", HOST), *more]).status == 413


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PATCH", "get"])
def test_other_methods_are_turned_away(guard: Guard, method: str) -> None:
    assert asked(guard, "/job/x", method, OWN).status == 405


def test_every_answer_carries_the_headers(guard: Guard) -> None:
    for got in (asked(guard, "/", headers=[("Host", HOST)]), asked(guard, "/", headers=[])):
        assert got.headers["content-security-policy"] == POLICY
        assert {n: got.headers[n] for n, _ in HEADERS} == dict(HEADERS)
        assert not [name for name in got.headers if name.startswith("access-control") or name == "set-cookie"]
    assert "unsafe" not in POLICY
    assert "default-src 'none'" in POLICY


def test_no_socket_is_opened(guard: Guard) -> None:
    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "websocket.connect"}

    async def send(message: Message) -> None:
        sent.append(message)

    asyncio.run(
        guard({"type": "websocket", "path": "/", "headers": [(b"host", HOST.encode())]}, receive, send)
    )
    assert sent == [{"type": "websocket.close", "code": 1008}]
