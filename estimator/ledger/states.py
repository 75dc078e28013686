"""The states a job goes through, and which may follow which: data, read by ``jobs.py`` alone."""

from __future__ import annotations

NEXT: dict[str, tuple[str, ...]] = {
    "asked": ("quoted", "accepted", "declined"),
    "quoted": ("quoted", "accepted", "declined"),
    "accepted": ("waiting", "at-work", "declined"),
    "waiting": ("at-work", "declined"),
    "at-work": ("waiting", "ready", "declined"),
    "ready": ("told", "collected", "listed", "at-work"),
    "told": ("collected", "at-work"),
    "collected": ("paid", "returned"),
    "paid": ("returned",),
    "listed": ("sold", "at-work"),
    "sold": ("returned",),
    "returned": ("at-work", "ready"),
    "declined": ("asked",),
}
FOR_SALE_ONLY = ("listed", "sold")
"""Only what belongs to the shop is sold."""
FIRST = {"commission": "asked"}
"""The first state by kind of job; the shop's own instruments need no acceptance."""
FIRST_ELSE = "accepted"
UNDER_WAY = ("accepted", "waiting", "at-work", "returned")
"""Work is promised and not done: these hold what they need of the stock."""
WORK_IS_OVER = ("ready", "told", "collected", "listed", "sold", "declined")
"""No time may be open on such a job."""
CLOSED = ("collected", "paid", "sold", "declined")
"""Nothing is done on such a job any more; money may still be owed."""
DONE = ("collected", "paid", "sold")
WORDS = {
    "asked": "asked",
    "quoted": "quoted",
    "accepted": "accepted",
    "waiting": "waiting for parts",
    "at-work": "at work",
    "ready": "ready",
    "told": "told",
    "collected": "collected",
    "paid": "paid",
    "listed": "listed",
    "sold": "sold",
    "returned": "returned",
    "declined": "declined",
}
OPEN_WITH_CUSTOMER = tuple(name for name in NEXT if name not in ("paid", "declined", "sold"))
"""Something is still owed to the customer, or by them."""
