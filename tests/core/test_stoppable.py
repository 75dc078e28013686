"""Ctrl-C while a library works: heard at once, told to the library, and no half-done answer taken for a whole one."""

from __future__ import annotations

import contextlib
import signal
import threading
import time
from collections.abc import Iterator

import pytest

from estimator.core.stoppable import listen, stoppable


@pytest.fixture
def ctrl_c() -> Iterator[None]:
    """Ctrl-C as a terminal has it: what is begun in the background of a shell is told to pass it over."""
    before = signal.getsignal(signal.SIGINT)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def test_an_answer_and_a_failure_come_through() -> None:
    assert stoppable(lambda: 7, lambda: pytest.fail("nothing was to be stopped")) == 7
    with pytest.raises(ZeroDivisionError):
        stoppable(lambda: 1 // 0, lambda: None)


@pytest.mark.usefixtures("ctrl_c")
def test_ctrl_c_stops_the_work_and_goes_on_up() -> None:
    told_to_stop = threading.Event()
    begun = time.monotonic()
    ring = threading.Timer(0.3, lambda: signal.raise_signal(signal.SIGINT))
    ring.start()
    with pytest.raises(KeyboardInterrupt):
        stoppable(lambda: told_to_stop.wait(30), told_to_stop.set)
    assert told_to_stop.is_set()
    assert time.monotonic() - begun < 5


def test_beside_another_thread_the_work_is_done_where_it_is_asked() -> None:
    where: list[threading.Thread] = []
    asking = threading.Thread(
        target=lambda: stoppable(lambda: where.append(threading.current_thread()), lambda: None)
    )
    asking.start()
    asking.join()
    assert where == [asking]


@pytest.mark.usefixtures("ctrl_c")
def test_ctrl_c_that_somebody_swallowed_is_heard_at_the_next_question() -> None:
    listen()
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        stoppable(lambda: pytest.fail("asked all the same"), lambda: None)
    assert stoppable(lambda: 7, lambda: None) == 7, "once it has been heard it is over"
