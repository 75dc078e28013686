"""Commands start fast: nothing heavy is imported until it is used."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("pulp", "highspy", "numpy", "pandas", "openpyxl", "xlsxwriter", "ortools", "scipy")


def loaded_by(code: str) -> set[str]:
    """The heavy modules that a fresh interpreter holds after ``code``."""
    script = f"{code}\nimport sys\nprint('LOADED', *[m for m in {HEAVY!r} if m in sys.modules])"
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    line = next(line for line in run.stdout.splitlines() if line.startswith("LOADED"))
    return set(line.split()[1:])


def test_help_imports_nothing_heavy() -> None:
    assert loaded_by("from estimator.cli.main import run\nassert run(['--help']) == 0") == set()


def test_the_check_can_see_a_heavy_import() -> None:
    assert "xlsxwriter" in loaded_by("import xlsxwriter")


@pytest.mark.slow
def test_check_fit_and_estimate_import_no_solver() -> None:
    for command in ("check", "fit", "estimate"):
        code = f"from estimator.cli.main import run\nassert run(['{command}', 'example:school-guitar']) == 0"
        assert loaded_by(code) == set(), command
