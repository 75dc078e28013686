"""Draws per second of the simulation against the bare numpy floor for the same draws.

Floor: one normal number per line and trial and one common one per trial, made in the same blocks,
nothing done with them. Run from the top of the project, single-threaded::

    OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.bench_simulate
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import partial

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from estimator import load_shop
from estimator.estimate.risk.distributions import Spread, spread_of
from estimator.estimate.risk.monte_carlo import BLOCK, draw_times, simulate_work
from estimator.estimate.work_list import neutral_setting, price_work
from estimator.model import Demand, Shop
from tests.estimate.risk.curves import closed_form_of_times

DRAWS = 100_000
REPEATS = 15


def best_of(*actions: Callable[[], object]) -> list[float]:
    """Least seconds of each action, after one run to warm up; taken in turn, so that all meet the same load."""
    times: list[list[float]] = [[] for _ in actions]
    for number in range(REPEATS + 1):
        for action, found in zip(actions, times, strict=True):
            start = time.perf_counter()
            action()
            if number:
                found.append(time.perf_counter() - start)
    return [min(found) for found in times]


def bare(columns: int) -> None:
    """The random numbers alone."""
    rng = np.random.Generator(np.random.SFC64(1))
    for start in range(0, DRAWS, BLOCK):
        size = min(BLOCK, DRAWS - start)
        rng.standard_normal((size, columns))
        rng.standard_normal((size, 1))


def times_only(spreads: Sequence[Spread]) -> None:
    """The lines' minutes added up, without rework, faults and points."""
    draw_times(spreads, 0.2, DRAWS, np.random.Generator(np.random.SFC64(1)))


def list_of(shop: Shop, count: int) -> list[Demand]:
    """The first tasks of the table, one unit each."""
    return [Demand(task, "", Decimal(1), "") for task in list(shop.tasks)[:count]]


def main() -> None:
    """Print one row per length of list."""
    shop = load_shop()
    print(f"{DRAWS} trials, best of {REPEATS}")
    print(
        "lines  floor ms  times ms  ratio  all ms  ratio  million draws/s  80 % closed  drawn  error  gap %"
    )
    for count in (10, 30, 60, 110):
        lines = price_work(neutral_setting(shop), list_of(shop, count)).lines
        spreads = [spread_of(line) for line in lines]
        columns = sum(s.high > s.low for s in spreads)
        floor, times, whole = best_of(
            partial(bare, columns),
            partial(times_only, spreads),
            partial(simulate_work, lines, shop, 72.5, draws=DRAWS),
        )
        closed = closed_form_of_times(lines, shop).at(80)
        plain = simulate_work(lines, shop, 72.5, draws=DRAWS, events=False).minutes
        point = next(p for p in plain.points if p.percent == 80)
        print(
            f"{columns:5d} {floor * 1e3:9.1f} {times * 1e3:9.1f} {times / floor:6.2f} {whole * 1e3:7.1f}"
            f" {whole / floor:6.2f} {columns * DRAWS / times / 1e6:16.1f} {closed:12.1f} {point.value:6.1f}"
            f" {point.error:6.2f} {100 * (point.value / closed - 1):6.2f}"
        )


if __name__ == "__main__":
    main()
