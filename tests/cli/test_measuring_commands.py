"""The commands about measuring, as a user runs them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.input.job.load import load_job
from tests.shops import default_shop


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["guitar-solid", "guitar-semi", "bass-solid", "bass-semi"])
def test_a_new_job_file_reads_back_as_it_is(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "fresh.toml"
    assert run(["new", str(path), "--kind", kind]) == 0
    assert run(["check", str(path)]) == 0
    assert "in order" in capsys.readouterr().out


@pytest.mark.slow
def test_its_commented_defaults_are_what_is_assumed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "fresh.toml"
    assert run(["new", str(path), "--kind", "guitar-solid"]) == 0
    head, tail = path.read_text().split("[wish]")
    opened = re.sub(r"^# ([a-z_0-9]+ = )", r"\1", head, flags=re.M)
    both = {}
    for name, text in (("assumed", head), ("stated", opened)):
        file = tmp_path / f"{name}.toml"
        file.write_text(text + "[wish]" + tail)
        capsys.readouterr()
        assert run(["estimate", str(file), "--with", "set-up", "--json"]) == 0
        both[name] = json.loads(capsys.readouterr().out)["totals"]["cost"]
    assert both["assumed"] == both["stated"]


def test_only_what_matters_is_asked(tmp_path: Path) -> None:
    run(["new", str(tmp_path / "jack.toml"), "--for", "new-jack", "--sheet", str(tmp_path / "jack.txt")])
    run(["new", str(tmp_path / "all.toml")])
    jack, everything = (tmp_path / "jack.toml").read_text(), (tmp_path / "all.toml").read_text()
    assert "jack_state" in jack
    assert "tcav_len" not in jack
    assert "tcav_len" in everything
    assert "jack_state" in (tmp_path / "jack.txt").read_text()


def test_new_does_not_replace_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("precious")
    assert run(["new", str(path)]) == 2
    assert path.read_text() == "precious"
    assert run(["new", str(path), "--kind", "banjo", "--force"]) == 2
    assert "guitar-solid" in capsys.readouterr().err
    assert path.read_text() == "precious"


@pytest.mark.parametrize("form", [".xlsx", ".txt"])
@pytest.mark.parametrize(
    ("stem", "name"), [("blue", "blue"), ("Blue Guitar (2)", "blue-guitar-2"), ("_", "new-job")]
)
def test_job_file_and_sheet_have_one_name_that_is_taken_back_in(
    stem: str, name: str, form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, sheet, back = tmp_path / f"{stem}.toml", tmp_path / f"sheet{form}", tmp_path / "back.toml"
    assert run(["new", str(job), "--for", "new-jack", "--sheet", str(sheet)]) == 0
    assert run(["intake", str(sheet), "-o", str(back)]) == 0
    shop = default_shop()
    assert load_job(job, shop).id == load_job(back, shop).id == name


@pytest.mark.slow
@pytest.mark.parametrize("form", [".xlsx", ".txt"])
def test_every_kind_and_plan_comes_back_from_its_sheet_as_itself(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = default_shop()
    kinds = [
        *shop.intake["kind"].choices,
        *(name for name in shop.intake["template"].choices if name != "none"),
    ]
    for kind in kinds:
        sheet, back = tmp_path / f"{kind}{form}", tmp_path / "back.toml"
        arguments = ["new", str(tmp_path / f"{kind}.toml"), "--kind", kind, "--for", "new-jack"]
        assert run([*arguments, "--sheet", str(sheet)]) == 0
        assert run(["intake", str(sheet), "-o", str(back)]) == 0
        said = load_job(back, shop).instrument
        assert kind in (said["kind"].value, said["template"].value)


@pytest.mark.slow
def test_measure_ranks_by_worth(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["measure", "example:tight-commission", "--solves", "2", "--json"]) == 0
    ranked = json.loads(capsys.readouterr().out)["measure"]
    assert ranked
    worths = [float(row["worth"]) for row in ranked]
    assert worths == sorted(worths, reverse=True)
    for row in ranked:
        assert row["changes"]
        assert 0 < row["chance"] <= 1


@pytest.mark.slow
def test_measure_tells_what_matters_when_the_wish_cannot_be_met(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["measure", "example:impossible-wish", "--solves", "1", "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert (data["status"], data["upgrades"]) == ("infeasible", [])
    (row,) = (row for row in data["measure"] if row["field"] == "post_edge")
    assert {turn["after"] for turn in row["verdicts"]} == {"does-not-fit"}
    assert "br_screw_n" in data["taken_for_seen"]
    assert run(["measure", "example:impossible-wish", "--solves", "1", "--full"]) == 1
    shown = capsys.readouterr().out
    assert "as things are assumed the wish cannot be met" in shown
    assert "Measure first" in shown
    assert "post_edge" in shown


def test_triage_never_calls_the_unseen_fine(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["triage", "example:resale-flip", "--json"]) == 0
    before = json.loads(capsys.readouterr().out)
    assert before["checks"][8]["outcome"] == "not-checked"
    assert run(["triage", "example:resale-flip", "--json", "--seen", "smell-strong=yes"]) == 0
    after = json.loads(capsys.readouterr().out)
    assert after["checks"][8]["outcome"] != "not-checked"
    assert run(["triage", "example:resale-flip", "--seen", "smel-strong=yes"]) == 2
    assert "did you mean “smell-strong”?" in capsys.readouterr().err


def test_drawings_are_written_to_the_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [
        "draw",
        "example:tight-commission",
        "--upgrade",
        "new-block-premium",
        "--folder",
        str(tmp_path),
    ]
    assert run(arguments) == 0
    (file,) = tmp_path.glob("*.svg")
    assert file.read_text().lstrip().startswith("<")
    assert run(arguments) == 2
    assert (
        run(["draw", "example:tight-commission", "--upgrade", "clean-body", "--folder", str(tmp_path)]) == 0
    )
    assert "nothing to draw" in capsys.readouterr().out


@pytest.mark.parametrize(("command", "option"), [("draw", "--upgrade"), ("fit", "--only")])
def test_a_wrong_name_is_told_with_the_option_that_the_command_has(
    command: str, option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([command, "example:tight-commission", option, "new-blok-premium"]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"error: {option}: no upgrade of this name")
    assert "new-block-premium" in said


@pytest.mark.slow
def test_risk_agrees_with_the_estimate(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["example:short-scale-bass", "--with", "level-crown-polish", "--json"]
    assert run(["estimate", *arguments, "--full"]) == 0
    totals = json.loads(capsys.readouterr().out)["totals"]
    assert run(["risk", *arguments, "--simulate", "--draws", "20000", "--full"]) == 0
    ahead = json.loads(capsys.readouterr().out)
    assert ahead["mean_min"] == pytest.approx(totals["expected_min"], abs=0.02)
    assert ahead["sd_min"] == pytest.approx(totals["sd_min"], rel=1e-3)
    assert ahead["simulation"]["minutes"]["mean"] == pytest.approx(ahead["mean_min"], rel=0.02)
    assert sum(d["variance_pct"] for d in ahead["drivers"]) == pytest.approx(100, abs=0.1)
