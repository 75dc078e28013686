"""Where the time of the main job goes: ``python -m tests.benchmarks.main_job [EXAMPLE]``.

One fresh process per run; the floor is the bare interpreter with the same third-party imports.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys

RUNS = 5
FLOOR = "import typer, pulp, highspy, xlsxwriter"
JOB = """
import json, resource, sys, time
marks = [("start", time.perf_counter())]
def mark(name): marks.append((name, time.perf_counter()))
import pulp, highspy, xlsxwriter
from estimator.cli.common import job_path
from estimator.choose.study import study_job, make_choice
from estimator.tables.load import load_shop
from estimator.input.job.load import load_job
from estimator.workbook.write.quote import quote_bytes
import estimator.choose.choose
mark("imports")
shop = load_shop(); job = load_job(job_path("example:" + sys.argv[1]), shop)
mark("reading and checking")
study = study_job(shop, job)
mark("fit and pricing")
choice = make_choice(study)
mark("choice")
quote_bytes(choice)
mark("writing")
spent = {name: at - before for (name, at), (_, before) in zip(marks[1:], marks)}
build, solve = choice.answer.seconds_build, choice.answer.seconds_solve
spent["choice: building"], spent["choice: solving"] = build, solve
spent["choice: measuring, checking"] = spent.pop("choice") - build - solve
print(json.dumps([spent, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


def main() -> None:
    """Print the table."""
    example = sys.argv[1] if len(sys.argv) > 1 else "tight-commission"
    runs = []
    for _ in range(RUNS):
        done = subprocess.run(
            [sys.executable, "-c", JOB, example], capture_output=True, text=True, check=True
        )
        runs.append(json.loads(done.stdout.splitlines()[-1]))
    floor = statistics.median(_seconds([sys.executable, "-c", FLOOR]) for _ in range(RUNS))
    whole = statistics.median(
        _seconds([sys.executable, "-m", "estimator", "choose", f"example:{example}", "--json"])
        for _ in range(RUNS)
    )
    total = statistics.median(sum(spent.values()) for spent, _ in runs)
    print(f"main job on {example}, medians of {RUNS}")
    for name in runs[0][0]:
        seconds = statistics.median(spent[name] for spent, _ in runs)
        print(f"  {name:<28} {1000 * seconds:8.0f} ms {100 * seconds / total:5.1f} %")
    print(f"  peak memory {max(memory for _, memory in runs):.0f} MiB")
    print(
        f"choose, whole process {whole:.2f} s; floor (same imports, nothing else) {floor:.2f} s; ratio {whole / floor:.2f}"
    )


def _seconds(command: list[str]) -> float:
    import time

    start = time.perf_counter()
    subprocess.run(command, capture_output=True, check=True)
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
