"""Faults put into the program on purpose: each must be refused; sound answers must not be."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from estimator.cli.run import run
from estimator.errors import RefutedError
from estimator.estimate import build, costing, labour
from estimator.model import Money, PartLine, Shop
from estimator.pipeline import make_choice, make_choice_of, study_job
from estimator.tables.jobfile import load_job
from estimator.tables.loading import load_shop

EXAMPLES = Path(__file__).parents[1] / "example_jobs"
JOB = str(EXAMPLES / "tight-commission.toml")
Patch = pytest.MonkeyPatch


@cache
def the_shop() -> Shop:
    return load_shop()


def refused(capsys: pytest.CaptureFixture[str], *more: str) -> str:
    """What ``choose`` says on stderr when it refuses its own answer; status 2 and JSON besides."""
    assert run(["choose", JOB, *more]) == 2
    assert run(["choose", JOB, "--json", *more]) == 2
    told = capsys.readouterr()
    assert json.loads(told.out[told.out.index("{") :])["status"] == "refuted"
    assert "Traceback" not in told.err
    return told.err


def doubled_labour(patch: Patch) -> None:
    sound = labour.labour_money

    def twice(*given: object) -> Money:
        money = sound(*given)  # type: ignore[arg-type]
        return replace(money, labour=2 * money.labour)

    patch.setattr(labour, "labour_money", twice)


def halved_parts(patch: Patch) -> None:
    sound = build._part_lines

    def half(*given: object) -> dict[str, PartLine]:
        lines = sound(*given)  # type: ignore[arg-type]
        return {name: replace(line, cost=line.cost // 2) for name, line in lines.items()}

    patch.setattr(build, "_part_lines", half)


def no_setups(patch: Patch) -> None:
    patch.setattr(costing, "_with_setup", lambda line, _: line)


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (doubled_labour, "labour by the tables 282.53, told 565.06"),
        (halved_parts, "parts by the tables 81.00, told 44.00"),
        (no_setups, "hands-on minutes of the lines add up to"),
    ],
)
def test_a_fault_in_the_estimate_is_refused(
    fault: Callable[[Patch], None], said: str, monkeypatch: Patch, capsys: pytest.CaptureFixture[str]
) -> None:
    # without the limit the set stays the same, however wrong its price
    assert run(["choose", JOB, "--aim", "cost"]) == 0
    capsys.readouterr()
    fault(monkeypatch)
    job = load_job(JOB, the_shop())
    job = replace(job, budget=replace(job.budget, money=None))
    study = study_job(the_shop(), job)
    with pytest.raises(RefutedError) as error:
        make_choice(study)
    assert "did not pass the recheck" in str(error.value)
    chosen = ("bridge-pickup-stack-slim-stack", "clean-controls", "ready-cut-nut-slippery-nut", "set-up",
              "shield-paint")  # fmt: skip
    with pytest.raises(RefutedError) as error:
        make_choice_of(study, chosen)
    assert said in str(error.value)


def test_the_command_says_it_readably(monkeypatch: Patch, capsys: pytest.CaptureFixture[str]) -> None:
    no_setups(monkeypatch)
    told = refused(capsys)
    assert "error: the answer (" in told
    assert "next: " in told


@pytest.mark.parametrize("name", sorted(path.stem for path in EXAMPLES.glob("*.toml")))
@pytest.mark.parametrize("aim", ["cost", "cash", "hours", "price", "score", "profit"])
def test_sound_answers_of_the_examples_pass(name: str, aim: str) -> None:
    job = load_job(str(EXAMPLES / f"{name}.toml"), the_shop())
    choice = make_choice(study_job(the_shop(), job), aim, explain=False)
    assert choice.answer.status in ("optimal", "infeasible")
    assert choice.found or choice.answer.measure is None
