"""Ten years of a busy shop in one ledger: how long a task's end, the board, the reports and learning take.

Run it with ``python -m tests.benchmarks.bench_ledger``. Beside each time stands that of the same in a
ledger of a tenth of the size (twenty repeats, the middle one; three of learning), and what a bare write and sync of one
block takes on this disk: no acknowledged write can be quicker than that. Below it, the most memory that learning holds.
"""

from __future__ import annotations

import os
import random
import statistics
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from estimator.learn.every_value import every_value
from estimator.learn.factors import factors
from estimator.learn.honesty import honesty
from estimator.learn.times import lesson
from estimator.ledger import jobs, reports, timers
from estimator.ledger.board import board
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import Storage
from estimator.ledger.shelf import StockTerms, shelf
from estimator.ledger.store import Ledger
from estimator.ledger.used import proposed
from estimator.tables.load import load_shop

JOBS, LINES = 5_000, 150_000
REPEATS, LEARNINGS = 20, 3
BEGINS = datetime(2016, 1, 4, 8, 0, tzinfo=UTC)
SHOP = load_shop()
TASKS = tuple(SHOP.tasks)[:30]
ITEMS = (*list(SHOP.consumables)[:2], *list(SHOP.parts)[:40])
WAYS = tuple(SHOP.resale.ways)


def filled(path: Path, many: int, lines: int) -> float:
    """A ledger of so many jobs and log lines, written row by row in one transaction; its size in megabytes."""
    draw = random.Random(1)
    with Ledger(path, new=True) as ledger, ledger.writing():
        for n in range(many):
            moment = Moment(BEGINS + timedelta(days=3650 * n / many), 60)
            state = (
                "paid" if n < many - 25 else draw.choice(("accepted", "waiting", "at-work", "ready", "told"))
            )
            ledger.write("INSERT INTO customer (name) VALUES (?)", (f"customer {n}",))
            ledger.write(
                "INSERT INTO job (id, customer, kind, what, instrument, currency, state, promised)"
                " VALUES (?, ?, 'commission', 'less hum', 'guitar-solid', 'USD', ?, ?)",
                (f"job-{n}", n + 1, state, str(moment.day)),
            )
            for step in ("asked", "quoted", "accepted", state):
                ledger.write(
                    "INSERT INTO step (job, state, at, ahead_min) VALUES (?, ?, ?, 60)",
                    (f"job-{n}", step, moment.text),
                )
            number = f"{moment.local.year}-{n:05d}"
            ledger.write(
                "INSERT INTO quote VALUES (?, ?, ?, 60, 20000, 0, 20000, 4000, 'USD', '[]')",
                (number, f"job-{n}", moment.text),
            )
            ledger.write("UPDATE job SET accepted_quote = ? WHERE id = ?", (number, f"job-{n}"))
            for task in TASKS[:20]:
                ledger.write(
                    "INSERT INTO quote_task VALUES (?, ?, ?)", (number, task, draw.randrange(300, 3600))
                )
                ledger.write("INSERT INTO quote_chance VALUES (?, ?, 100)", (number, task))
            if n % 5 == 0:
                ledger.write(
                    "INSERT INTO listing VALUES (?, ?, 'B', 30000, ?, 60)",
                    (f"job-{n}", WAYS[n % len(WAYS)], moment.text),
                )
                sold = Moment(moment.utc + timedelta(days=draw.expovariate(1 / 20)), 60)
                ledger.write(
                    "INSERT INTO step (job, state, at, ahead_min) VALUES (?, 'sold', ?, 60)",
                    (f"job-{n}", sold.text),
                )
            ledger.write(
                "INSERT INTO payment (job, kind, cents, currency, at, ahead_min)"
                " VALUES (?, 'payment', 20000, 'USD', ?, 60)",
                (f"job-{n}", moment.text),
            )
            for item in (*ITEMS[:2], ITEMS[2 + n % 40]):
                for kind, sum_, change in (("bought", 700, 10**6), ("used", 0, -(10**6))):
                    ledger.write(
                        "INSERT INTO stock_move (item, kind, millionths, cents, currency, job, at, ahead_min)"
                        " VALUES (?, ?, ?, ?, 'USD', ?, ?, 60)",
                        (item, kind, change, sum_, f"job-{n}", moment.text),
                    )
            if n % 25 == 0:
                ledger.write(
                    "INSERT INTO step (job, state, at, ahead_min) VALUES (?, 'returned', ?, 60)",
                    (f"job-{n}", moment.text),
                )
                ledger.write(
                    "INSERT INTO step (job, state, at, ahead_min) VALUES (?, ?, ?, 60)",
                    (f"job-{n}", state, moment.text),
                )
        for n in range(lines):
            ledger.write(
                "INSERT INTO spell (job, task, kind, seconds, source, at, ahead_min, redone)"
                " VALUES (?, ?, ?, ?, 'timer', ?, 60, ?)",
                (
                    f"job-{n % many}",
                    TASKS[n // many % 20],
                    "cure" if n // many == 21 else "hands",
                    draw.randrange(60, 5000),
                    Moment(BEGINS, 60).text,
                    int(n // many > 21 and draw.random() < 0.1),
                ),
            )
    return path.stat().st_size / 1e6


def middle_ms(act: Callable[[], object], repeats: int = REPEATS) -> float:
    """The middle of many times, in milliseconds; of learning, of a few."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1000


def measured(path: Path, many: int) -> dict[str, float]:
    """What each act takes in a ledger that is opened anew for it, as a command does."""
    now = Moment(BEGINS + timedelta(days=3650), 60)
    job = f"job-{many - 1}"
    with Ledger(path) as ledger, ledger.writing():
        ledger.write("UPDATE job SET state = 'at-work' WHERE id = ?", (job,))
        ledger.write(
            "INSERT INTO step (job, state, at, ahead_min) VALUES (?, 'at-work', ?, 60)", (job, now.text)
        )

    def opened(act: Callable[[Ledger], object]) -> Callable[[], object]:
        def run() -> object:
            with Ledger(path) as ledger:
                return act(ledger)

        return run

    def begin_and_end(ledger: Ledger) -> None:
        timers.begin(ledger, job, TASKS[1], now)
        timers.end(ledger, now)
        proposed(ledger, job, TASKS[1])

    with tempfile.TemporaryDirectory() as shop:
        folder = Path(shop)

        def learning(ledger: Ledger) -> None:
            found = lesson(ledger, SHOP, {})
            honesty(ledger, SHOP, {one.task: one.level.factor for one in found.tasks})

        learned = {
            "learn times, honesty": middle_ms(opened(learning), LEARNINGS),
            "learn single values": middle_ms(
                opened(lambda it: every_value(it, SHOP, folder, now, factors(it, SHOP))), LEARNINGS
            ),
        }
        tracemalloc.start()
        opened(learning)()
        opened(lambda it: every_value(it, SHOP, folder, now, factors(it, SHOP)))()
        print(f"memory of learning over {many} jobs: {tracemalloc.get_traced_memory()[1] / 1e6:.0f} MB")
        tracemalloc.stop()
    return {
        **learned,
        "begin and end a task": middle_ms(opened(begin_and_end)),
        "board": middle_ms(opened(lambda it: board(it, Storage(now, lambda days: max(0, days - 30) * 200)))),
        "all of one job": middle_ms(opened(lambda it: jobs.history(it, job))),
        "report of one job": middle_ms(opened(lambda it: reports.estimate_against_actual(it, job))),
        "report by task": middle_ms(opened(lambda it: reports.by_task(it))),
        "pay per hour": middle_ms(opened(reports.pay_per_hour)),
        "cash by month": middle_ms(opened(reports.cash_by_month)),
        "hours by task": middle_ms(opened(reports.hours_by_task)),
        "hours by month": middle_ms(opened(reports.hours_by_month)),
        "warranty": middle_ms(opened(reports.warranty)),
        "stock with order points": middle_ms(opened(lambda it: shelf(it, {}, StockTerms(9), now))),
        "check of the file": middle_ms(opened(lambda it: it.faults())),
    }


def bare_write_ms(folder: Path) -> float:
    """Write one block and wait until it is on the disk."""
    with (folder / "block").open("wb") as stream:

        def write() -> None:
            stream.write(b"x" * 4096)
            stream.flush()
            os.fsync(stream.fileno())

        return middle_ms(write)


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found = []
        for many, lines in ((JOBS // 10, LINES // 10), (JOBS, LINES)):
            path = folder / f"{many}.sqlite"
            size = filled(path, many, lines)
            found.append(measured(path, many))
            print(f"{many} jobs, {lines} lines: {size:.1f} MB")
        print(f"bare write and sync of 4 kB: {bare_write_ms(folder):.2f} ms")
        print(f"{'':24}{'tenth, ms':>12}{'whole, ms':>12}{'times':>8}")
        for act, small in found[0].items():
            print(f"{act:24}{small:12.1f}{found[1][act]:12.1f}{found[1][act] / small:8.1f}")


if __name__ == "__main__":
    main()
