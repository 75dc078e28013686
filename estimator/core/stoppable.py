"""Ctrl-C while a compiled library is at work, or is being loaded: Python itself hears no signal then."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType
from typing import TypeVar

T = TypeVar("T")

HEARD_EVERY = 0.2
"""Seconds after which Ctrl-C is heard at the latest, where a wait for a thread is not broken off by it."""

LEAVES_WITHIN = 3.0
"""Seconds that a library is given to leave its work."""

_pressed = threading.Event()


def listen() -> None:
    """Keep that Ctrl-C was pressed: a library that is just being loaded can swallow it."""
    if threading.current_thread() is threading.main_thread():
        _pressed.clear()
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            signal.signal(signal.SIGINT, _note)


def _note(number: int, frame: FrameType | None) -> None:
    _pressed.set()
    raise KeyboardInterrupt


def heard() -> None:
    """KeyboardInterrupt, where Ctrl-C was pressed and somebody swallowed it."""
    if _pressed.is_set() and threading.current_thread() is threading.main_thread():
        _pressed.clear()
        raise KeyboardInterrupt


def stoppable(work: Callable[[], T], stop: Callable[[], object]) -> T:
    """What ``work`` answers; Ctrl-C stops it by ``stop`` and goes on up as KeyboardInterrupt.

    A library that hears the signal itself takes it for its own: the command would go on with the half-done answer
    of a broken-off search as if it were whole. So the work is done beside the main thread, which is the one that
    hears signals. In another thread nothing of the kind is needed.
    """
    if threading.current_thread() is not threading.main_thread():
        return work()
    answers: list[T] = []
    failures: list[BaseException] = []

    def beside() -> None:
        try:
            answers.append(work())
        except BaseException as failure:  # whatever it is, it is told where the answer was asked for
            failures.append(failure)
        finally:
            left.set()

    heard()
    left = threading.Event()  # a thread whose join is broken off counts as ended, though it goes on
    thread = threading.Thread(target=beside, name="engine", daemon=True)
    try:
        thread.start()
        while not left.wait(HEARD_EVERY):
            pass
    except KeyboardInterrupt:
        stop()
        left.wait(LEAVES_WITHIN)  # what goes on at the end of the program could fall over what is gone
        raise
    if failures:
        raise failures[0]
    return answers[0]
