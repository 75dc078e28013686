"""``plan``: a batch through the command line."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.main import run
from tests.batch.test_donors import donors
from tests.plan.bench import EXAMPLES


@pytest.mark.slow
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


@pytest.mark.slow
def test_the_aim_decides_which_donors_are_bought(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = donors(tmp_path, {"cheap": 20, "dear": 400})
    arguments = ["plan", str(path), "--engine", "rule", "--time-limit", "1", "--json"]
    assert run([*arguments, "--aim", "profit", "--full"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [job["job"] for job in data["jobs"]] == ["cheap"]
    assert list(data["not_bought"]) == ["dear"]
    assert run(arguments) == 2
    assert "add --aim profit" in capsys.readouterr().err
    assert run([*arguments, "--aim", "riches"]) == 2
    assert "no aim of this name" in capsys.readouterr().err


def test_a_job_file_or_a_folder_is_told_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "mine.toml"
    job.write_text('[job]\nid = "a"\n[instrument]\nkind = "guitar-solid"\n', encoding="utf-8")
    for given, words in ((job, "this is a job file"), (tmp_path, "a folder where a batch file belongs")):
        assert run(["plan", str(given)]) == 2
        complaint = capsys.readouterr().err
        assert words in complaint
        assert complaint.count("error:") == 1


@pytest.mark.slow
def test_complaints_of_a_batch_name_its_file_or_the_file_of_the_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = donors(tmp_path, {"cheap": 20})

    def told(*more: str) -> str:
        assert run(["plan", str(path), "--engine", "rule", "--json", *more]) == 2
        said = capsys.readouterr()
        return str(
            [it["file"] for it in json.loads(said.out or said.err)["errors"] if it["severity"] == "error"]
        )

    assert told() == f"['{path}']"
    school = f'[[job]]\nid = "school"\nfile = "{EXAMPLES}/school-guitar.toml"\n'
    path.write_text(f'[batch]\nid = "b"\nstart = 2026-10-05\n{school}')
    assert told("--aim", "profit") == told("--aim", "hourly") == f"['{path}']"
    path.write_text(f'[batch]\nid = "b"\nstart = 2026-10-05\n[[person]]\nid = "clamps"\nskill = 3\n{school}')
    assert told() == f"['{path}']"
    (tmp_path / "plain.toml").write_text(
        '[job]\nid = "p"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
    )
    path.write_text('[batch]\nid = "b"\nstart = 2026-10-05\n[[job]]\nid = "p"\nfile = "plain.toml"\n')
    assert told("--aim", "score") == f"['{tmp_path / 'plain.toml'}']"
