"""What it takes to choose the ways with the set, beside the same choice with the usual ways alone. Run with

    python -m tests.benchmarks.bench_ways [--seeds 5] [--why]

Seconds of processor time, the least of three after one that loads and compiles what is needed, for study and
choice of 60 upgrades: with the ways of the shop, and with three ways at random for every task there is, which no
shop has. One draw may be easy or hard, so each job is drawn several times; told are the medians, and the least and
the largest ratio. ``--why``: also of what ``--why`` asks of the answer, once for each draw; it is asked of the
ways that were chosen, so it takes as long as without ways, and as long as all else together.
"""

from __future__ import annotations

import argparse
import random
import time
from statistics import median

from msgspec.structs import replace

from estimator.choose.questions.all import Wanted
from estimator.choose.questions.ask import deeper
from estimator.choose.study import make_choice, study_job
from estimator.model import Job, Shop
from tests.drawn_jobs import example, the_shop
from tests.slow.choose.test_ways_brute_force import drawn_ways

JOBS = ("tight-commission", "school-guitar", "short-scale-bass", "resale-flip")
UPGRADES = 60


class Three(random.Random):
    """Chance that always makes two ways beside the usual one."""

    def randint(self, a: int, b: int) -> int:
        return 2 if (a, b) == (1, 2) else super().randint(a, b)


def cut_down(name: str, seed: int) -> tuple[Job, set[str]]:
    """An example with 60 of its upgrades open, those of its best set among them, and the tasks they ask for."""
    job = example(name)
    study = study_job(the_shop(), job)
    fit = [v for v in study.verdicts if v.outcome != "does-not-fit"]
    kept = {*make_choice(study, explain=False).answer.chosen, *job.required}
    rest = [v.upgrade.id for v in fit if v.upgrade.id not in kept]
    kept |= set(random.Random(seed).sample(rest, min(len(rest), UPGRADES - len(kept))))
    tasks = {d.task for v in fit if v.upgrade.id in kept for d in v.demands}
    return replace(job, open=tuple(sorted(kept))), tasks


def seconds(shop: Shop, job: Job, ways_open: bool, why: bool) -> tuple[float, float]:
    """The least processor time of three choices after the first; and of the reasons of the last, if asked for."""
    choosing = []
    for _ in range(4):
        start = time.process_time()
        choice = make_choice(study_job(shop, job, ways_open=ways_open), explain=False)
        choosing.append(time.process_time() - start)
    start = time.process_time()
    if why:
        deeper(choice, Wanted(why=True))
    return min(choosing[1:]), time.process_time() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=5, help="draws of each job")
    parser.add_argument("--why", action="store_true", help="time the reasons of the answers too")
    asked_for = parser.parse_args()
    shop = the_shop()
    print(
        f"{'job':18} {'ways':>14} {'asked':>7} {'usual s':>8} {'open s':>8} {'ratio':>6} {'from':>6} {'to':>6}"
    )
    for name in JOBS:
        drawn = [(seed, *cut_down(name, seed)) for seed in range(1, asked_for.seeds + 1)]
        for words in ("of the shop", "3 a task"):
            pairs: dict[str, list[tuple[float, float]]] = {"choice": [], "why": []}
            for seed, job, asked in drawn:
                tasks = sorted(task for task in asked if shop.tasks[task].billed)
                known = shop if words == "of the shop" else drawn_ways(shop, tasks, Three(seed))
                sides = (seconds(known, job, ways_open, asked_for.why) for ways_open in (False, True))
                for of, pair in zip(pairs.values(), zip(*sides, strict=True), strict=True):
                    of.append(pair)
            for what, of in list(pairs.items())[: 2 if asked_for.why else 1]:
                usual, opened = (median(side) for side in zip(*of, strict=True))
                ratios = sorted(after / before for before, after in of)
                told = f"{median(ratios):6.2f} {ratios[0]:6.2f} {ratios[-1]:6.2f}"
                print(f"{name:18} {words:>14} {what:>7} {usual:8.2f} {opened:8.2f} {told}", flush=True)


if __name__ == "__main__":
    main()
