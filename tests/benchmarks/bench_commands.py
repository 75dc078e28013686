"""Processor time of each command beside its floor: ``python -m tests.benchmarks.bench_commands [RUNS]``.

The floor of a command is the bare interpreter that imports the third-party modules which the command had loaded
when it ended: what no better code of ours could save, but by doing without them. Processor time of the process and its children, not the
clock, so that a busy machine says nearly the same; the least of the runs. Modules are compiled before, as they are
from the second run of a command on, in a folder of this run: else each would be compiled anew wherever the
environment forbids to keep them.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

EXAMPLE = "example:tight-commission"
COMMANDS = (
    ("check", ["check", EXAMPLE]),
    ("fit", ["fit", EXAMPLE]),
    ("estimate", ["estimate", EXAMPLE, "--with", "set-up"]),
    ("choose", ["choose", EXAMPLE]),
    ("choose --full", ["choose", EXAMPLE, "--full"]),
    ("choose --why --next 3", ["choose", EXAMPLE, "--why", "--next", "3"]),
    ("quote", ["quote", EXAMPLE, "-o", "q.xlsx"]),
    ("measure", ["measure", EXAMPLE]),
    ("risk", ["risk", EXAMPLE]),
    ("price", ["price", EXAMPLE]),
    ("draw", ["draw", EXAMPLE, "--upgrade", "new-tuners", "--folder", ".", "--force"]),
    ("sell", ["sell", "example:resale-flip"]),
    ("offer", ["offer", "example:resale-flip"]),
    ("plan", ["plan", "example:batch-three"]),
    ("menu", ["menu"]),
    ("--help", ["--help"]),
)
LOADED = """
import sys
from estimator.cli.main import run
status = run(sys.argv[1:])
from importlib.metadata import packages_distributions
own = set(packages_distributions()) - {"estimator"}
with open("loaded.txt", "w") as file:
    file.write(" ".join(name for name in sys.modules if name.partition(".")[0] in own))
sys.exit(status)  # of a command that is refused no time is told
"""
FLOOR = """
import sys
from contextlib import suppress
from importlib import import_module
for name in sys.argv[1:]:
    with suppress(ImportError):  # what cannot be had by itself came with another
        import_module(name)
"""


def main() -> None:
    """Print the table."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    root = str(Path(__file__).parents[2])
    print(f"{'command':<24} {'floor s':>8} {'s':>8} {'ratio':>6}   loaded")
    with tempfile.TemporaryDirectory() as folder:
        for name, words in COMMANDS:
            # compiles all that is measured
            spent([sys.executable, "-c", LOADED, *words], folder, root)
            loaded = Path(folder, "loaded.txt").read_text(encoding="utf-8").split()
            bare = [sys.executable, "-c", FLOOR, *loaded] if loaded else [sys.executable, "-c", "pass"]
            floor = min(spent(bare, folder, root) for _ in range(runs))
            whole = min(spent([sys.executable, "-m", "estimator", *words], folder, root) for _ in range(runs))
            packages = " ".join(sorted({module.partition(".")[0] for module in loaded}))
            print(
                f"{name:<24} {floor:8.2f} {whole:8.2f} {whole / max(floor, 0.01):6.1f}   {packages}",
                flush=True,
            )


def spent(command: list[str], folder: str, root: str) -> float:
    """Processor seconds of a process with its children."""
    paths = {**os.environ, "PYTHONPATH": root, "PYTHONPYCACHEPREFIX": str(Path(folder, "compiled"))}
    paths.pop("PYTHONDONTWRITEBYTECODE", None)
    before = os.times()
    subprocess.run(
        command, cwd=folder, env=paths, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True
    )
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


if __name__ == "__main__":
    main()
