"""What may reach the page at all: this machine's own browser, from the page itself, with the word of this start.

Plain ASGI around the application. A page anywhere on the web can make a browser send requests to a port of this
machine; so the Host header is held against DNS rebinding, the Origin, where the request comes from and a word
made anew at each start against posts from elsewhere, and lengths and methods against everything else.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from html import escape
from typing import Any
from urllib.parse import parse_qs

from msgspec import Struct, field

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BYTES = 64 * 1024
"""The longest form that is read."""
MOST_PHOTO_BYTES = 5 * 1024 * 1024
"""The largest photo, with what a form puts around it."""
UPLOADS = "/photo"
"""How the address of a route ends that takes a photo."""
DOOR = "/"
"""The one page that may be reached by a link from elsewhere."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    ("x-content-type-options", "nosniff"),
    # with no-referrer a browser calls the origin of our own forms "null"
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
    ("cache-control", "no-store"),
)
WORD = "word"
"""The name under which the word of this start stands in the address that a form is sent to."""
OURS = ("same-origin", "none")
"""Where a request may come from, by the browser's own account."""


class Refusal(Struct, frozen=True):
    """A request that is not let in: the status, and why in words."""

    status: int
    words: str
    out_of_date: bool = False


class Guard(Struct):
    """The application behind the guard. ``port``: the one it listens on; ``word``: made at each start."""

    app: App
    port: int
    word: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    names: tuple[str, ...] = ("127.0.0.1", "localhost")
    door: str = DOOR

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One connection: let in, or answered here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # nothing here is spoken but plain requests
            await send({"type": "websocket.close", "code": 1008})
            return
        refused = self.refusal(scope)
        if refused is not None:
            await turned_away(refused, send)
            return
        scope.setdefault("state", {})[WORD] = self.word
        await self.app(scope, receive, with_headers(send))

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names that this server answers to."""
        return tuple(f"{name}:{self.port}" for name in self.names)

    def refusal(self, scope: Scope) -> Refusal | None:
        """Why a request is not let in; None if it is."""
        headers = headers_of(scope)
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0] not in self.hosts:
            return Refusal(421, "This page answers only to its own address on this machine.")
        method, path = scope["method"], scope["path"]
        if method not in ("GET", "HEAD", "POST"):
            return Refusal(405, "Only GET, HEAD and POST are understood here.")
        foreign = [site for site in headers.get("sec-fetch-site", []) if site not in OURS]
        if method != "POST":
            if foreign and path != self.door:
                return Refusal(403, "This was asked for by a page from elsewhere.")
            return _body_of_get(headers)
        return self._post_refused(headers, scope, foreign)

    def _post_refused(
        self, headers: dict[str, list[str]], scope: Scope, foreign: list[str]
    ) -> Refusal | None:
        origins = headers.get("origin", [])
        if len(origins) != 1 or origins[0] not in [f"http://{host}" for host in self.hosts]:
            return Refusal(403, "This was sent by a page from elsewhere, or does not say by which.")
        if foreign:
            return Refusal(403, "This was sent by a page from elsewhere.")
        if "transfer-encoding" in headers or len(headers.get("content-length", [])) != 1:
            return Refusal(411, "A form has to say how long it is.")
        length = headers["content-length"][0]
        if not (length.isascii() and length.isdigit()):
            return Refusal(411, "A form has to say how long it is.")
        most = MOST_PHOTO_BYTES if scope["path"].endswith(UPLOADS) else MOST_BYTES
        if len(length) > 12 or int(length) > most:
            return Refusal(413, f"That is too large: at most {most // 1024:,} KiB are read here.")
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get(WORD, [])
        if len(given) != 1 or not hmac.compare_digest(given[0].encode(), self.word.encode()):
            return Refusal(403, "This page is out of date: the estimator was started anew since.", True)
        return None


def _body_of_get(headers: dict[str, list[str]]) -> Refusal | None:
    lengths = headers.get("content-length", ["0"])
    if "transfer-encoding" in headers or lengths != ["0"]:
        return Refusal(413, "A question has no body here.")
    return None


def headers_of(scope: Scope) -> dict[str, list[str]]:
    """The headers of a request by name, each as often as it came."""
    found: dict[str, list[str]] = {}
    for name, value in scope.get("headers", ()):
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def with_headers(send: Send) -> Send:
    """Every answer carries the headers; a policy of its own (for a page to print) stays."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            have = {name.lower() for name, _ in message.get("headers", ())}
            more = [(n.encode(), v.encode()) for n, v in HEADERS if n.encode() not in have]
            if b"content-security-policy" not in have:
                more.append((b"content-security-policy", POLICY.encode()))
            message = {**message, "headers": [*message.get("headers", ()), *more]}
        await send(message)

    return sending


async def turned_away(refused: Refusal, send: Send) -> None:
    """Say why a request is not let in."""
    step = (
        "Nothing was saved. Go back, note what you typed, reload the page and send it again."
        if refused.out_of_date
        else "Nothing was changed. Open the address that the estimator printed when it started."
    )
    page = (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Not let in</title></head>'
        f"<body><main><h1>Not let in</h1><p>{escape(refused.words)}</p><p>{step}</p></main></body></html>\n"
    )
    body = page.encode()
    headers = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    sending = with_headers(send)
    await sending({"type": "http.response.start", "status": refused.status, "headers": headers})
    await sending({"type": "http.response.body", "body": body})
