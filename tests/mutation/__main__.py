"""Are the tests any good? Small mistakes are put into a copy, one by one; the tests should notice each.

python -m tests.mutation --seed 1 --mutants 60: those of KEPT and so many more, drawn at random. What no
test notices is listed; what was looked at and does the same in another way stands in ``same.csv``.
"""

from __future__ import annotations

import argparse
import csv
import importlib.util
import itertools
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

from tests.mutation.mutants import Mutant, mutants_of, replaced

ROOT = Path(__file__).resolve().parents[2]
# where mistakes are put, and the tests that bear on that, quick ones first
BEARING = {
    "estimator/estimate/risk/": "published/test_three_point.py published/test_money.py estimate/risk",
    "estimator/estimate/tools/": "estimate/test_tool_options.py price/test_quote.py",
    "estimator/estimate/": "price/test_quote.py choose/milp/test_freight.py choose/milp/test_packs.py "
    "estimate/test_*.py published/test_[gmtw]*.py choose/verify price/test_[lr]*.py price/test_offer.py",
    "estimator/choose/": "choose/milp choose/verify choose/test_*.py choose/solvers published choose",
    "estimator/schedule/": "schedule plan",
    "estimator/price/": "price cli/test_selling.py",
    "estimator/batch/": "batch/test_model.py batch",
}
MEMORY = 6 * 1024**3
SECONDS = 900
"""Memory in bytes and processor time that the tests of one mistake may take."""
DRAWN_FROM = (
    "estimator/estimate/",
    "estimator/choose/",
    "estimator/schedule/verify.py",
    "estimator/schedule/serial_sgs.py",
    "estimator/price/",
)
# dear mistakes, always tried: file, the text that stands there once, what it becomes
KEPT = (
    (
        "estimator/schedule/serial_sgs.py",
        "self.air[DUSTY].append((assignment.start, assignment.end))\n        elif operation.air == WET:\n"
        "            self.air[WET].append((assignment.start, assignment.free))",
        "self.air[DUSTY].append((assignment.start, assignment.free))\n        elif operation.air == WET:\n"
        "            self.air[WET].append((assignment.start, assignment.end))",
    ),
    (
        "estimator/schedule/serial_sgs.py",
        "(WET, end) if operation.air == DUSTY else (DUSTY, free)",
        "(DUSTY, end) if operation.air == DUSTY else (WET, free)",
    ),
    (
        "estimator/estimate/commission.py",
        "min(max(share, terms.fee_least), terms.fee_most)",
        "max(share, terms.fee_least)",
    ),
    (
        "estimator/estimate/freight.py",
        "sums[parcel.supplier] >= parcel.free_from",
        "sums[parcel.supplier] > parcel.free_from",
    ),
    (
        "estimator/choose/milp/freight.py",
        "model.bounds(basket)[1] >= free_from",
        "model.bounds(basket)[1] > free_from",
    ),
    (
        "estimator/choose/milp/freight.py",
        "basket.add(free, -free_from), 0,",
        "basket.add(free, -free_from - 1), 0,",
    ),
    ("estimator/choose/verify/choice.py", "basket < parcel.free_from", "basket <= parcel.free_from"),
    (
        "estimator/batch/verify.py",
        "sum(mine, Cents(0)) >= seller.free_from",
        "sum(mine, Cents(0)) > seller.free_from",
    ),
)
# a first failure is enough, so nothing is shrunk; drawn cases are the same in every run
PYTEST = """
import sys, pytest
class Short:
    def pytest_collection(self):
        import hypothesis
        phases = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
        hypothesis.settings.register_profile("short", phases=phases, derandomize=True, database=None)
        hypothesis.settings.load_profile("short")
options = ["-x", "--tb=no", "-rfE", "-p", "no:cacheprovider"]
sys.exit(pytest.main([*options, *sys.argv[1:]], plugins=[Short()]))
"""


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--mutants", type=int, default=60, help="drawn at random, beside those of KEPT")
    parser.add_argument("--jobs", type=int, default=2, help="how many at once")
    parser.add_argument("--limit", type=float, default=900, help="seconds for the tests of one mistake")
    parser.add_argument("--only", default="", help="only files whose path begins like this")
    asked = parser.parse_args()
    kept = [replaced(ROOT, *change) for change in KEPT if change[0].startswith(asked.only)]
    drawn = _drawn(asked.seed, asked.mutants, asked.only)
    survivors = 0
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(asked.jobs) as pool:
        copies: SimpleQueue[Path] = SimpleQueue()
        for number in range(asked.jobs):
            skip = shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".venv", ".hypothesis")
            copies.put(Path(shutil.copytree(ROOT, Path(folder, str(number)), ignore=skip)))
        tried = pool.map(lambda mutant: _tried(mutant, copies, asked.limit), [*kept, *drawn])
        for mutant, (failed, seconds) in zip([*kept, *drawn], tried, strict=True):
            survivors += not failed
            print(f"{'noticed ' if failed else 'SURVIVED'} {seconds:3.0f} s  {mutant}  {failed}", flush=True)
    print(f"{len(kept) + len(drawn)} mistakes, {survivors} not noticed (seed {asked.seed})")
    return 1 if survivors else 0


def _tried(mutant: Mutant, copies: SimpleQueue[Path], limit: float) -> tuple[str, float]:
    """The test that notices a mistake ("" for none), which must pass without it."""
    began = time.monotonic()
    copy = copies.get()
    try:
        _put(copy, mutant.file, mutant.source)
        failed = _first_failure(_bearing(mutant.file), copy, limit)
        _put(copy, mutant.file, (ROOT / mutant.file).read_text(encoding="utf-8"))
        if failed.startswith("tests/") and _first_failure([failed], copy, limit):
            raise SystemExit(f"{failed} fails without any mistake put in")
        return failed, time.monotonic() - began
    finally:
        copies.put(copy)


def _bearing(file: str) -> list[str]:
    patterns = BEARING[next(room for room in BEARING if file.startswith(room))].split()
    found = [sorted((ROOT / "tests").glob(pattern)) for pattern in patterns]
    return [path.relative_to(ROOT).as_posix() for paths in found for path in paths]


def _drawn(seed: int, number: int, only: str) -> list[Mutant]:
    """A sample of all mutants, without those that are known to do the same."""
    with (Path(__file__).parent / "same.csv").open(encoding="utf-8", newline="") as text:
        same = {(row["file"], row["text"], row["old"], row["new"]) for row in csv.DictReader(text)}
    files = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "estimator").rglob("*.py"))
    draw = random.Random(seed)
    rooms = []
    for room in DRAWN_FROM:
        here = [
            m
            for file in files
            if file.startswith(room) and file.startswith(only)
            for m in mutants_of(ROOT, file)
        ]
        here = [m for m in here if (m.file, m.text, m.old, m.new) not in same]
        rooms.append(draw.sample(here, min(number, len(here))))
    # one room after another, so that a small sample has of each
    turns = [mutant for turn in itertools.zip_longest(*rooms) for mutant in turn if mutant]
    return turns[:number]


def _put(copy: Path, file: str, source: str) -> None:
    path = copy / file
    path.write_text(source, encoding="utf-8")
    # a compiled file is told from its source by size and second only
    Path(importlib.util.cache_from_source(str(path))).unlink(missing_ok=True)


def _bounded() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def _first_failure(tests: Sequence[str], copy: Path, limit: float) -> str:
    """The first failure of the tests of a copy, "" for none."""
    # a mistake may ask for memory or time without end, even where this program is stopped meanwhile
    run = subprocess.Popen(
        [sys.executable, "-c", PYTEST, *tests],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        preexec_fn=_bounded,
    )
    try:
        said, _ = run.communicate(timeout=limit)
    except subprocess.TimeoutExpired:
        os.killpg(run.pid, signal.SIGKILL)
        run.communicate()
        return f"not done in {limit:.0f} s"
    if run.returncode == 0:
        return ""
    told = [line for line in said.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    failed = [line.split(" ", 1)[1].split(" - ")[0] for line in told]
    return failed[0] if failed else f"cannot be run: {said[-200:]}"


if __name__ == "__main__":
    sys.exit(main())
