"""By the hour over several instruments where none earns: the least loss, and it is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.build import study_batch
from estimator.batch.solve_exact import choose_jointly
from estimator.cli.main import run
from estimator.input.batch.load import load_batch
from tests.plan.bench import shop
from tests.price.test_losing_by_the_hour import NEEDLESS, SAID, SOUND_PICKUPS


def flips(folder: Path, jobs: dict[str, tuple[int, int]], optional: bool = False) -> Path:
    """A batch of instruments to be sold: clean price and asking price of each, work nobody needs open."""
    lines = ['[batch]\nid = "flips"\nstart = 2026-10-05\ncash = 5000\n']
    names = ", ".join(f'"{name}"' for name in NEEDLESS)
    for name, (base, ask) in jobs.items():
        (folder / f"{name}.toml").write_text(
            f'[job]\nid = "{name}"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\ntier = "C"\n'
            f"base_clean = {base}\nask = {ask}\n{SOUND_PICKUPS}\n[upgrades]\nopen = [{names}]\n"
        )
        lines.append(f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\n')
        lines += ["optional = true\n"] if optional else []
    path = folder / "flips.toml"
    path.write_text("\n".join(lines))
    return path


@pytest.mark.parametrize(
    ("jobs", "losing"),
    [
        ({"one": (113, 239), "two": (150, 220)}, True),
        ({"one": (900, 1), "two": (700, 1)}, False),
        ({"one": (900, 1), "two": (113, 239)}, False),
        ({"one": (200, 10), "two": (113, 300)}, True),
    ],
)
def test_needless_work_does_not_thin_the_loss_of_a_batch_out(
    tmp_path: Path, jobs: dict[str, tuple[int, int]], losing: bool
) -> None:
    batch = study_batch(shop(), load_batch(flips(tmp_path, jobs), shop())).batch
    hourly, profit = choose_jointly(batch, "hourly"), choose_jointly(batch, "profit")
    assert (hourly.status, hourly.gap) == ("optimal", 0)
    assert hourly.none_earns == losing
    if losing:
        assert hourly.chosen == profit.chosen == {"one": (), "two": ()}


def test_one_job_of_a_batch_is_told_as_alone(tmp_path: Path) -> None:
    """At one pay an hour the joint answer of one job is the answer of the job."""
    from estimator.choose.study import make_choice, study_job
    from estimator.input.job.load import load_job

    for base, ask in ((113, 239), (900, 1)):
        batch = study_batch(shop(), load_batch(flips(tmp_path, {"one": (base, ask)}), shop())).batch
        alone = make_choice(study_job(shop(), load_job(tmp_path / "one.toml", shop())), "hourly").answer
        joint = choose_jointly(replace(batch, sellers=()), "hourly")
        assert (joint.chosen["one"], joint.objective) == (alone.chosen, alone.objective)
        assert joint.none_earns == alone.none_earns


def test_instruments_that_may_stay_where_they_are_stay_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = flips(tmp_path, {"one": (113, 239), "two": (150, 220)}, optional=True)
    assert run(["plan", str(path), "--aim", "hourly", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["no_set_earns"].startswith(SAID)
    assert set(told["not_bought"]) == {"one", "two"}
    assert all("would lose" in why for why in told["not_bought"].values())
    assert run(["plan", str(path), "--aim", "hourly", "--full"]) == 1
    assert "no instrument of the batch is bought" in capsys.readouterr().out


@pytest.mark.slow
def test_the_plan_says_that_no_set_earns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    quick = ["--aim", "hourly", "--engine", "rule"]
    for jobs, told in (({"one": (113, 239), "two": (150, 220)}, True), ({"one": (900, 1)}, False)):
        path = flips(tmp_path, jobs)
        saved = tmp_path / f"plan-{told}.json"
        assert run(["plan", str(path), *quick, "--save-plan", str(saved)]) == 0
        assert (SAID in " ".join(capsys.readouterr().out.split())) == told
        assert json.loads(saved.read_text())["choice"]["none_earns"] == told
        assert run(["plan", str(path), *quick, "--json"]) == 0
        words = json.loads(capsys.readouterr().out)["no_set_earns"]
        assert (words is not None and words.startswith(SAID)) == told
