"""What it takes to choose the ways with the set, beside the same choice with the usual ways alone. Run with

    python -m tests.benchmarks.bench_ways [--seeds 5] [--why] [--commands]

Seconds of processor time, the least of three after one that loads and compiles what is needed, for study and
choice of 60 upgrades: with the ways of the shop, and with three ways at random for every task there is, which no
shop has. One draw may be easy or hard, so each job is drawn several times; told are the medians, and the least and
the largest ratio. ``--why``: also of what ``--why`` asks of the answer, once for each draw; it is asked of the
ways that were chosen, so it takes as long as without ways, and as long as all else together. ``--commands``: also of
the command ``choose`` as it is called, start and reading included, from tables in which these ways are written,
beside the same tables without any.
"""

from __future__ import annotations

import argparse
import csv
import random
import re
import shutil
import sys
import time
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from msgspec.structs import replace

from estimator.choose.questions.all import Wanted
from estimator.choose.questions.ask import deeper
from estimator.choose.study import make_choice, study_job
from estimator.model import Job, MethodTables, Shop
from estimator.tables.methods import FIGURES, WORDS
from tests.benchmarks.bench_commands import spent
from tests.drawn_jobs import example, the_shop
from tests.slow.choose.test_ways_brute_force import drawn_ways

JOBS = ("tight-commission", "school-guitar", "short-scale-bass", "resale-flip")
UPGRADES = 60
ROOT = Path(__file__).parents[2]


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


def write_ways(shop: Shop, rates: Path) -> None:
    """Put the ways of a shop into its tables."""
    for table, rows in tables_of(shop.ways).items():
        with (rates / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            columns = next(csv.reader(file))
        with (rates / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="")
            writer.writeheader()
            writer.writerows({**row, "basis": "demo"} for row in rows)


def _cell(value: object) -> object:
    if isinstance(value, tuple):
        return " ".join(value)
    return f"{value:f}" if isinstance(value, Decimal) else value


def tables_of(ways: MethodTables) -> dict[str, Iterator[dict[str, object]]]:
    """The rows of the tables of ways."""
    kept = ("task", "method", "what", *FIGURES, *WORDS)
    return {
        "task_methods": (
            {name: _cell(getattr(way, name)) for name in kept} | {"usual": "yes" if way.usual else "no"}
            for of in ways.methods.values()
            for way in of.values()
        ),
        "method_consumables": (
            {
                "task": task,
                "method": method,
                "consumable": name,
                "quantity": f"{each:f}",
                "instruments": family,
            }
            for (task, method), rows in ways.consumables.items()
            for (name, family), each in {(name, family): each for name, each, family in rows}.items()
        ),
        "method_tools": (
            {"task": task, "method": method, "tool": name, "uses": each}
            for (task, method), rows in ways.tools.items()
            for name, each in rows
        ),
    }


def of_command(shop: Shop, name: str, job: Job, folder: Path) -> tuple[float, float]:
    """The least processor time of three calls of ``choose`` without ways and with them, after one of each."""
    text = (ROOT / "example_jobs" / f"{name}.toml").read_text(encoding="utf-8")
    opened = f"[upgrades]\nopen = [{', '.join(map(repr, job.open))}]\n"
    text = re.sub(r"^\[upgrades\]\n|\Z", lambda _: opened, text, count=1, flags=re.MULTILINE)
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    # rows of a shop's own folder come on top of those that are shipped, so a program with other rows is made
    for part in ("estimator", "rates"):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    sides = []
    for of in (replace(shop, ways=MethodTables()), shop):
        write_ways(of, folder / "rates")
        command = [sys.executable, "-m", "estimator", "choose", str(path)]
        sides.append(min([spent(command, str(folder), str(folder)) for _ in range(4)][1:]))
    return sides[0], sides[1]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=5, help="draws of each job")
    parser.add_argument("--why", action="store_true", help="time the reasons of the answers too")
    parser.add_argument("--commands", action="store_true", help="time the command too")
    asked_for = parser.parse_args()
    shop = the_shop()
    print(
        f"{'job':18} {'ways':>14} {'asked':>7} {'usual s':>8} {'open s':>8} {'ratio':>6} {'from':>6} {'to':>6}"
    )
    for name in JOBS:
        drawn = [(seed, *cut_down(name, seed)) for seed in range(1, asked_for.seeds + 1)]
        for words in ("of the shop", "3 a task"):
            timed: dict[str, list[tuple[float, float]]] = {}
            for seed, job, asked in drawn:
                tasks = sorted(task for task in asked if shop.tasks[task].billed)
                known = shop if words == "of the shop" else drawn_ways(shop, tasks, Three(seed))
                usual, opened = (seconds(known, job, ways_open, asked_for.why) for ways_open in (False, True))
                timed.setdefault("choice", []).append((usual[0], opened[0]))
                if asked_for.why:
                    timed.setdefault("why", []).append((usual[1], opened[1]))
                if asked_for.commands:
                    with TemporaryDirectory() as folder:
                        timed.setdefault("command", []).append(of_command(known, name, job, Path(folder)))
            for what, of in timed.items():
                before, after = (median(side) for side in zip(*of, strict=True))
                ratios = sorted(with_ways / without for without, with_ways in of)
                told = f"{median(ratios):6.2f} {ratios[0]:6.2f} {ratios[-1]:6.2f}"
                print(f"{name:18} {words:>14} {what:>7} {before:8.2f} {after:8.2f} {told}", flush=True)


if __name__ == "__main__":
    main()
