"""Time of ``fit`` on a job with 60 candidate parts, beside the bare start of the interpreter with the same imports.

Run: python -m tests.benchmarks.bench_fit [ROUNDS] (not part of the test run). Both are whole processes, run
in turn; the median of each is printed, the rules' own time (all verdicts in one process), and the ratio.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

#: class of part -> the dimension that differs from candidate to candidate, its first value and step
CANDIDATES = {
    "p-trem6": ("spread", 52.5, 0.3),
    "p-block": ("block_h", 30, 1),
    "p-hum": ("depth", 14, 0.5),
    "p-nutcut": ("len", 40, 0.4),
    "p-tuner6": ("hole_d", 8.5, 0.2),
}
EACH = 12
LOADED = """
import sys, io, contextlib
from estimator.cli.main import run
with contextlib.redirect_stdout(io.StringIO()):
    assert run(["fit", sys.argv[1], "--json"]) == 0
print(" ".join(sorted(name for name in sys.modules if not name.startswith("_"))))
"""
BARE = """
import importlib, sys
for name in sys.argv[1].split():
    importlib.import_module(name)
"""


def job_text() -> str:
    """A job with twelve candidates of each of five classes; nothing of the instrument was measured."""
    lines = ["[job]", 'id = "many"', 'kind = "own"', "[instrument]", 'kind = "guitar-solid"']
    for part_class, (dimension, first, step) in CANDIDATES.items():
        for number in range(EACH):
            lines += [
                "[[part]]",
                f'id = "{part_class.removeprefix("p-")}-{number}"',
                f'class = "{part_class}"',
                'grade = "standard"',
                "price = 40",
                f'what = "candidate {number}"',
                f"{dimension} = {first + step * number:.2f}",
            ]
    return "\n".join(lines) + "\n"


def seconds(*arguments: str) -> float:
    """Wall time of one process of this interpreter; it must succeed."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def judged_in_process(job: str) -> tuple[int, int, float]:
    """Verdicts, findings, and the seconds that judging alone takes (the best of five)."""
    from estimator.fit.candidates import offered
    from estimator.fit.judge import judge_all
    from estimator.input.job.load import load_job
    from estimator.tables.load import load_shop

    shop = load_shop()
    read = load_job(job, shop)
    upgrades = offered(shop, read)
    times = []
    for _ in range(5):
        start = time.perf_counter()
        verdicts = judge_all(shop, read, upgrades)
        times.append(time.perf_counter() - start)
    return len(verdicts), sum(len(v.findings) for v in verdicts), min(times)


def main(rounds: int = 9) -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.toml"
        path.write_text(job_text(), encoding="utf-8")
        job = str(path)
        listed = subprocess.run(
            [sys.executable, "-c", LOADED, job], check=True, capture_output=True, text=True
        ).stdout
        shown = subprocess.run(
            [sys.executable, "-m", "estimator", "fit", job, "--json"],
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        candidates = [v for v in json.loads(shown)["verdicts"] if "candidate" in v["what"]]
        whole, bare = [], []
        for _ in range(rounds):
            whole.append(seconds("-m", "estimator", "fit", job, "--json"))
            bare.append(seconds("-c", BARE, listed))
        verdicts, findings, judging = judged_in_process(job)
    fit, floor = statistics.median(whole), statistics.median(bare)
    print(f"candidate parts {EACH * len(CANDIDATES)}, verdicts on them {len(candidates)}, all {verdicts}")
    print(f"fit, whole command        {1000 * fit:7.0f} ms (median of {rounds})")
    print(f"start with same imports   {1000 * floor:7.0f} ms")
    print(f"ratio                     {fit / floor:7.2f}")
    print(f"judging alone             {1000 * judging:7.1f} ms, {findings} findings")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
