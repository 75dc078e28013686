"""A phone beside the page: which are let in, by a code that is shown on this machine alone and counts once.

What a phone gets is bench mode and nothing else: today's list, steps, clocks, measurements, photos. It comes over
plain HTTP on the local network; the pairing lives in memory and ends with the program.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
import threading
import time
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie

from msgspec import Struct, field

from estimator.core.errors import refusal, shown
from estimator.server.guard import (
    App,
    Guard,
    Receive,
    Refusal,
    Scope,
    Send,
    headers_of,
    turned_away,
    with_headers,
)

COOKIE = "bench"
DIGITS = 8
LIVES_S = 300
"""Seconds that a code may be used."""
TRIES = 5
"""Wrong codes after which the right one does not count any more either."""
MOST_PHONES = 4
PAIR = "/pair"
FILES = ("/static/bench.css", "/static/bench.js", "/static/mark.svg")
"""What any device on the network may read: nothing of the shop stands in it."""
WARNING = (
    "This is plain HTTP: others on that network could read the names of jobs, steps, times, measurements and photos"
    " as they pass, and copy the pairing; use your own network, never one for guests."
)


class Pairing(Struct):
    """The code that is open now, and the phones that used one. ``clock``: seconds that only ever go on."""

    address: str
    port: int = 0
    clock: Callable[[], float] = time.monotonic
    told: Callable[[str], None] = print
    _code: str = ""
    _until: float = 0.0
    _tries: int = 0
    _count: int = 0
    _phones: dict[str, str] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def new_code(self) -> str:
        """A code for one phone; the one before it does not count any more."""
        with self._lock:
            self._code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}}"
            self._until, self._tries = self.clock() + LIVES_S, TRIES
            return self._code

    @property
    def open_code(self) -> tuple[str, int]:
        """The code that counts now, and the seconds it still does; blank where none does."""
        left = self._until - self.clock()
        return (self._code, int(left)) if self._code and left > 0 else ("", 0)

    def pair(self, given: str) -> str | None:
        """The token for a phone that shows the right code; None where it is wrong, used, too old or tried too often."""
        typed = "".join(given.split())
        with self._lock:
            if not self._code or self.clock() >= self._until:
                self._code = ""
                return None
            if not hmac.compare_digest(typed.encode(), self._code.encode()):
                self._tries -= 1
                if self._tries <= 0:
                    self._code = ""
                    self.told(
                        "Pairing: too many wrong codes; the code does not count any more. Show a new one on the page “Phone”."
                    )
                return None
            self._code = ""
            token = secrets.token_urlsafe(32)
            self._count += 1
            name = f"phone {self._count}"
            self._phones[_kept(token)] = name
            while len(self._phones) > MOST_PHONES:
                self._phones.pop(next(iter(self._phones)))
        self.told(f"Pairing: {name} is paired.")
        return token

    def name_of(self, token: str) -> str:
        """The name of the phone that has this token; blank where none has."""
        return self._phones.get(_kept(token), "")

    @property
    def phones(self) -> tuple[str, ...]:
        """The phones that are let in."""
        return tuple(self._phones.values())

    def forget(self, name: str) -> None:
        """Let a phone in no more."""
        with self._lock:
            self._phones = {kept: one for kept, one in self._phones.items() if one != name}

    @property
    def url(self) -> str:
        """The address that a phone opens."""
        return f"http://{self.address}:{self.port}"

    def link(self) -> str:
        """The address with the open code behind it, where no server and no log sees it."""
        code, _ = self.open_code
        return f"{self.url}{PAIR}#{code}" if code else f"{self.url}{PAIR}"


def _kept(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def checked_address(text: str) -> str:
    """One address of a local network; InputError for any other, and for all addresses at once."""
    try:
        found = ipaddress.IPv4Address(text)
    except ValueError:
        found = None
    if (
        found is None
        or found.is_global
        or found.is_unspecified
        or found.is_multicast
        or found.is_reserved
        or str(found) == "127.0.0.1"
    ):
        seems = own_address()
        raise refusal(
            "--phone",
            "is no address of a local network",
            shown(text),
            "one address of this machine, such as 192.168.1.20, never all of them",
            f"--phone {seems} seems to be it" if seems else "look it up in the network settings",
        )
    return str(found)


def own_address() -> str:
    """The address by which this machine would go out to its network; blank if it has none. Nothing is sent."""
    import socket

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # an address that is kept for examples
            found = ipaddress.IPv4Address(asked.getsockname()[0])
        except OSError:
            return ""
    return "" if found.is_global or found.is_loopback or found.is_unspecified else str(found)


class PhoneGuard(Struct):
    """The same application for paired phones: behind a guard for their address, then only what a phone gets."""

    guard: Guard
    pairing: Pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One connection: let in, sent to the pairing, or turned away."""
        if scope["type"] != "http":
            await self.guard(scope, receive, send)
            return
        refused = self.guard.refusal(scope)
        path = scope["path"]
        name = self.pairing.name_of(_token(scope))
        if refused is None and not name and path not in (PAIR, *FILES):
            if scope["method"] != "POST" and path in ("/", "/bench"):
                await _onward(PAIR, send)
                return
            refused = Refusal(
                401,
                "This device is not paired. Open the page of the pairing and type the code that the laptop shows.",
            )
        if refused is None and name and path in ("/", PAIR) and scope["method"] != "POST":
            await _onward("/bench", send)
            return
        if (
            refused is None
            and path not in (PAIR, *FILES)
            and path != "/bench"
            and not path.startswith("/bench/")
        ):
            refused = Refusal(
                403,
                "A phone gets today's list, steps, clocks, measurements and photos. All else stands on the laptop.",
            )
        if refused is not None:
            await turned_away(refused, send)
            return
        scope.setdefault("state", {})["device"] = name or "a device that is not paired"
        await self.guard(scope, receive, send)


class Doors(Struct):
    """Two doors to one application: this machine's own, and that of the phones, by the socket a request came in at."""

    own: Guard
    phone: PhoneGuard

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One connection, by the door it came in at."""
        server = scope.get("server") or ("", 0)
        at_phone = tuple(server)[:2] == (self.phone.pairing.address, self.phone.pairing.port)
        await (self.phone if at_phone else self.own)(scope, receive, send)


def doors(own: Guard, pairing: Pairing) -> Doors:
    """The doors to what is behind the page's own guard."""
    app: App = own.app
    guard = Guard(app, pairing.port, names=(pairing.address,), door=PAIR)
    return Doors(own, PhoneGuard(guard, pairing))


def _token(scope: Scope) -> str:
    lines = headers_of(scope).get("cookie", [])
    try:
        found = SimpleCookie("; ".join(lines)).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found else ""


async def _onward(path: str, send: Send) -> None:
    sending = with_headers(send)
    headers = [(b"location", path.encode()), (b"content-length", b"0")]
    await sending({"type": "http.response.start", "status": 303, "headers": headers})
    await sending({"type": "http.response.body", "body": b""})
