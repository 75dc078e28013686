"""``plan``: a batch through the command line."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.run import run


def test_a_batch_is_planned_and_adds_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawing = tmp_path / "week.svg"
    arguments = [
        "plan",
        "example:batch-three",
        "--engine",
        "rule",
        "--time-limit",
        "1",
        "--gantt",
        str(drawing),
    ]
    assert run([*arguments, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["status"] == "optimal"
    assert sum(Decimal(job["orders"]) for job in data["jobs"]) == Decimal(data["orders"])
    assert all(job["promised"] >= job["finished"][:10] for job in data["jobs"])
    begins = [line["begins"] for line in data["days"]]
    assert begins == sorted(begins)
    assert drawing.read_text().lstrip().startswith("<")


def test_a_batch_file_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", "example:batch-tree"]) == 2
    assert "batch-three" in capsys.readouterr().err
    assert run(["plan", "nowhere.toml"]) == 2
