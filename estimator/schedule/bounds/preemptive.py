"""One machine whose work may be broken off at will: the most urgent of what has come, at every moment."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator


def ends_by_urgency(items: Iterable[tuple[int, int, int]]) -> Iterator[tuple[int, int]]:
    """The urgency and the end of each piece of work, in the order in which they end.

    ``items``: when it comes, its minutes, its urgency (the smallest number goes first).
    """
    waiting = sorted(items)
    ready: list[list[int]] = []
    now = at = 0
    while ready or at < len(waiting):
        if not ready:
            now = max(now, waiting[at][0])
        while at < len(waiting) and waiting[at][0] <= now:
            heapq.heappush(ready, [waiting[at][2], waiting[at][1]])
            at += 1
        top = ready[0]
        until = waiting[at][0] if at < len(waiting) else now + top[1]
        step = min(top[1], until - now)
        now += step
        top[1] -= step
        if top[1] == 0:
            heapq.heappop(ready)
            yield top[0], now
