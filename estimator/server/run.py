"""Starting and stopping the page: one for a folder, on this machine alone."""

from __future__ import annotations

import gc
import logging
import socket
import threading
import webbrowser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING

from estimator.core.errors import refusal

if TYPE_CHECKING:
    import uvicorn

    from estimator.server.desk import Desk
    from estimator.server.pairing import Pairing

HOST = "127.0.0.1"
LOCK = ".estimator-page.lock"
USUAL_PORT = 8642
"""Taken if it is free, so that an address of yesterday holds today."""


def bound(port: int | None, host: str = HOST) -> socket.socket:
    """A socket at one address, this machine's own if no other is named: at the port named, else the usual one, else any that is free."""
    for wanted in (port,) if port is not None else (USUAL_PORT, 0):
        opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((host, wanted))
        except OSError:
            opened.close()
            continue
        return opened
    raise refusal(
        "--port",
        "the port is taken by another program",
        f"{port}",
        "a port that is free",
        "leave --port out and a free one is chosen",
    )


@contextmanager
def alone_in(folder: Path) -> Iterator[IO[str]]:
    """The lock of a folder; InputError with the address of the page that is open on it already."""
    path = folder / LOCK
    try:
        held = path.open("a+", encoding="utf-8")
    except OSError as error:
        raise refusal(
            str(folder),
            "the folder cannot be written in",
            error.strerror or "",
            "a folder of your own",
            "name another folder",
        ) from None
    with held:
        if not _taken(held):
            held.seek(0)
            raise refusal(
                str(folder),
                "a page is open on this folder already",
                held.read().strip(),
                "one page for a folder",
                "open that address, or stop that page first",
            )
        try:
            yield held
        finally:
            with suppress(OSError):
                path.unlink()


def _taken(held: IO[str]) -> bool:
    """Whether the lock was free; it goes with the process that holds it, however that ends."""
    try:
        try:
            import fcntl

            fcntl.flock(held.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except ImportError:
            import msvcrt

            held.seek(1 << 20)  # far behind the address, which stays readable
            msvcrt.locking(held.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    except OSError:
        return False
    return True


def server_of(desk: Desk, port: int) -> uvicorn.Server:
    """The server, not yet running."""
    import uvicorn

    from estimator.server.app import with_phone

    config = uvicorn.Config(
        with_phone(desk, port),
        log_level="warning",
        access_log=False,
        lifespan="off",
        ws="none",
        server_header=False,
        date_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=2,
    )
    return uvicorn.Server(config)


def serve(desk: Desk, port: int | None, opens: bool, first: str = "/") -> None:
    """Serve until it is stopped; prints the address, and opens it in the browser if asked to.

    The address is there before the pages are loaded: the browser, which takes longest to start, starts
    meanwhile, and what it asks for waits at the socket.
    """
    logging.basicConfig(level=logging.WARNING)
    with alone_in(desk.folder.root) as lock, ExitStack() as opened:
        listening = [opened.enter_context(bound(port))]
        chosen = listening[0].getsockname()[1]
        if desk.pairing is not None:
            listening.append(opened.enter_context(for_phones(desk.pairing, chosen)))
        for one in listening:
            one.listen()
        address = f"http://{HOST}:{chosen}"
        lock.truncate(0)
        lock.write(address)
        lock.flush()
        print(f"the page is at {address}{first}  (Ctrl-C stops it)", flush=True)
        if desk.pairing is not None:
            say_pairing(desk.pairing, address)
        try:
            if opens:
                threading.Thread(target=webbrowser.open, args=(f"{address}{first}",), daemon=True).start()
            with _no_search_for_garbage():
                server = server_of(desk, chosen)
            threading.Thread(target=warm, args=(desk, first), daemon=True).start()
            desk.ahead.begin()
            server.run(sockets=listening)
        except KeyboardInterrupt:
            pass
        finally:
            desk.ahead.stop()
    print("stopped; nothing was half-written")


def for_phones(pairing: Pairing, port: int) -> socket.socket:
    """The socket at the one address of the local network; InputError where this machine has no such address."""
    from estimator.server.pairing import own_address

    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as tried:
        try:
            tried.bind((pairing.address, 0))
        except OSError:
            seems = own_address()
            raise refusal(
                "--phone",
                "this machine has no such address",
                pairing.address,
                "one of its own addresses",
                f"--phone {seems} seems to be it" if seems else "look it up in the network settings",
            ) from None
    opened = bound(port, pairing.address)
    pairing.port = opened.getsockname()[1]
    return opened


def say_pairing(pairing: Pairing, page: str) -> None:
    """How a phone is paired, on the terminal: the address as a code for its camera, and the code to type."""
    import sys

    import segno

    from estimator.report.text.terminal import put
    from estimator.server.pairing import LIVES_S, WARNING

    code = pairing.new_code()
    put(
        "",
        f"a phone pairs at {pairing.url}/pair with the code {code} (once, within {LIVES_S // 60} minutes; "
        f"new codes: {page}/phone)",
    )
    with suppress(UnicodeEncodeError):  # a terminal that has no such signs has the address above
        segno.make(pairing.link(), error="l", micro=False).terminal(out=sys.stdout, compact=True)
    put(WARNING)
    sys.stdout.flush()


@contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """While modules are loaded, which leave next to none; what is loaded then is not searched ever after."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def warm(desk: Desk, first: str) -> None:
    """Load what a first answer needs, and make that of the job that is opened first, while the browser starts."""
    from estimator.choose.solvers.backends import load_confirming, load_usual
    from estimator.server.entries import Entries
    from estimator.server.folder import job_url

    load_usual()
    name = next((name for name in desk.folder.paths() if job_url(name) == first), None)
    if name is not None:
        with suppress(Exception):  # the page tells what is wrong
            asked = desk.ask(name, Entries())
            desk.answers.choice(asked.values, asked.job, asked.entries.aim)
    load_confirming()
