"""A desk on a folder of its own, and requests put to it in this process."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path
from urllib.parse import urlencode

from msgspec import Struct

from estimator.model import Shop
from estimator.server.app import guarded
from estimator.server.desk import Desk
from estimator.server.folder import JobFolder
from estimator.server.guard import Guard, Message

PORT = 8642
HOST = f"127.0.0.1:{PORT}"
EXAMPLES = Path(__file__).parent.parent.parent / "example_jobs"


def desk_in(folder: Path, shop: Shop, *names: str) -> Desk:
    """A desk on a folder with copies of some examples."""
    for name in names:
        shutil.copy(EXAMPLES / f"{name}.toml", folder)
    return Desk(shop, JobFolder(folder))


class Got(Struct, frozen=True):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()


def asked(
    app: Guard,
    path: str,
    method: str = "GET",
    headers: list[tuple[str, str]] | None = None,
    body: bytes = b"",
) -> Got:
    """One request as it comes over the wire, with exactly these headers."""
    address, _, query = path.partition("?")
    scope = {
        "type": "http",
        "method": method,
        "path": address,
        "raw_path": address.encode(),
        "root_path": "",
        "query_string": query.encode(),
        "scheme": "http",
        "http_version": "1.1",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 50000),
        "state": {},
        "headers": [(n.lower().encode(), v.encode()) for n, v in headers or []],
    }
    sent: list[Message] = []

    waiting = [body]

    async def receive() -> Message:
        if not waiting:
            await asyncio.sleep(60)  # nobody hangs up
        return {"type": "http.request", "body": waiting.pop(), "more_body": False}

    async def send(message: Message) -> None:
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    told = {n.decode().lower(): v.decode() for n, v in sent[0].get("headers", ())}
    return Got(sent[0].get("status", 0), told, b"".join(m.get("body", b"") for m in sent[1:]))


def get(app: Guard, path: str) -> Got:
    """As our own page asks."""
    return asked(app, path, headers=[("Host", HOST), ("Sec-Fetch-Site", "same-origin")])


def post(app: Guard, path: str, fields: dict[str, str], word: str | None = None) -> Got:
    """As a form of our own page sends."""
    body = urlencode(fields).encode()
    headers = [
        ("Host", HOST),
        ("Origin", f"http://{HOST}"),
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", "application/x-www-form-urlencoded"),
        ("Content-Length", str(len(body))),
    ]
    return asked(app, f"{path}?word={app.word if word is None else word}", "POST", headers, body)


def app_of(desk: Desk) -> Guard:
    """The application as it is served."""
    return guarded(desk, PORT)
