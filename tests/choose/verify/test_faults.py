"""Faults put into the program on purpose: each must be refused; sound answers must not be."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.choose import build as building
from estimator.choose.milp import levels, variables
from estimator.choose.milp.linear import Linear
from estimator.choose.study import make_choice, make_choice_of, study_job
from estimator.choose.verify.rows import Rows
from estimator.cli.main import run
from estimator.core.errors import RefutedError
from estimator.estimate import build, costing, labour
from estimator.model import Money, PartLine
from estimator.model.problem import Rule, Scale
from tests.drawn_jobs import EXAMPLES, NAMES, example, the_shop

JOB = str(EXAMPLES / "tight-commission.toml")
CAN_BE_MET = tuple(name for name in NAMES if name != "impossible-wish")
Patch = pytest.MonkeyPatch


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


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (doubled_labour, "labour by the tables 232.97, told 465.94"),
        (halved_parts, "parts by the tables 81.00, told 44.00"),
        (no_setups, "hands-on minutes of the lines add up to"),
    ],
)
def test_a_fault_in_the_estimate_is_refused(
    fault: Callable[[Patch], None], said: str, monkeypatch: Patch
) -> None:
    # without the limit the set stays the same, however wrong its price
    job = example("tight-commission")
    job = replace(job, budget=replace(job.budget, money=None))
    fault(monkeypatch)
    study = study_job(the_shop(), job)
    with pytest.raises(RefutedError) as error:
        make_choice(study)
    assert "did not pass the recheck" in str(error.value)
    chosen = (
        "bridge-pickup-stack-slim-stack",
        "clean-controls",
        "ready-cut-nut-slippery-nut",
        "set-up",
        "shield-paint",
    )
    with pytest.raises(RefutedError) as error:
        make_choice_of(study, chosen)
    assert said in str(error.value)


@pytest.mark.slow
def test_the_command_says_it_readably(monkeypatch: Patch, capsys: pytest.CaptureFixture[str]) -> None:
    no_setups(monkeypatch)
    told = refused(capsys)
    assert "error: the answer (" in told
    assert "next: " in told


def dearer(patch: Patch, upgrade: str) -> None:
    """In the programme, and nowhere else, an upgrade costs 50.00 more than it does."""
    sound = variables.Columns.total

    def total(self: variables.Columns, what: str) -> Linear:
        summed = sound(self, what)
        return summed.add(self.option(upgrade), 5000) if what == "cost" else summed

    patch.setattr(variables.Columns, "total", total)


@pytest.mark.slow
@pytest.mark.parametrize("name", CAN_BE_MET)
def test_a_wrong_coefficient_of_the_best_set_is_refused(name: str, monkeypatch: Patch) -> None:
    study = study_job(the_shop(), example(name))
    best = make_choice(study, "cost", explain=False).answer
    ousted = 0
    for upgrade in best.chosen:
        with monkeypatch.context() as patch:
            dearer(patch, upgrade)
            with pytest.raises(RefutedError) as error:
                make_choice(study, "cost", explain=False)
        if "the set called optimal" in str(error.value):
            ousted += 1
            assert f"at cost {best.objective / 100:.2f}" in str(error.value)
    # where the best set keeps its place its own sum is wrong; on the others a dearer set took the place
    assert ousted or name == "tight-commission"


def strict_programme(patch: Patch) -> None:
    sound = levels.Levels.require

    def require(self: levels.Levels, attribute: str, wanted: int, *more: object) -> None:
        sound(self, attribute, min(levels.TOP_LEVEL, wanted + 10), *more)  # type: ignore[arg-type]

    patch.setattr(levels.Levels, "require", require)


def strict_wishes(patch: Patch) -> None:
    sound = building._requirement_rule

    def rule(*given: object) -> Rule:
        made = sound(*given)  # type: ignore[arg-type]
        return replace(made, least=made.least + 10) if made.kind == "level" and made.least else made

    patch.setattr(building, "_requirement_rule", rule)


def strict_limits(patch: Patch) -> None:
    sound = building._scales

    def scales(*given: object) -> tuple[Scale, ...]:
        made = sound(*given)  # type: ignore[arg-type]
        return tuple(replace(s, limits=tuple((o, plus - 10) for o, plus in s.limits)) for s in made)

    patch.setattr(building, "_scales", scales)


@pytest.mark.slow
@pytest.mark.parametrize("fault", [strict_programme, strict_wishes, strict_limits])
@pytest.mark.parametrize(
    "name", [name for name in CAN_BE_MET if name != "resale-flip"]
)  # its set has a step to spare
def test_level_rules_one_step_too_strict_are_refused(
    name: str, fault: Callable[[Patch], None], monkeypatch: Patch
) -> None:
    fault(monkeypatch)
    with pytest.raises(RefutedError) as error:
        make_choice(study_job(the_shop(), example(name)), explain=False)
    assert "plain search found" in str(error.value) or "by the tables" in str(error.value)


@pytest.mark.slow
@pytest.mark.parametrize("fault", [strict_programme, strict_wishes, strict_limits])
def test_an_answer_that_is_only_dearer_is_refused_too(
    fault: Callable[[Patch], None], monkeypatch: Patch
) -> None:
    """One wish and no limits: with the fault there still is a set, though a needlessly dear one."""
    job = example("tight-commission")
    wishes = tuple(wish for wish in job.requirements if wish.attribute in ("action", "tuning-stability"))
    job = replace(job, requirements=wishes, budget=replace(job.budget, money=None), required=(), refused=())
    sound = make_choice(study_job(the_shop(), job), explain=False).answer
    assert sound.status == "optimal"
    fault(monkeypatch)
    with pytest.raises(RefutedError):
        make_choice(study_job(the_shop(), job), explain=False)


def test_a_piece_in_stock_serves_once() -> None:
    """Counted once a use it would pay for every upgrade that takes the same part."""
    job = example("tight-commission")
    study = study_job(the_shop(), replace(job, refused=()))
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    taking: dict[str, list[str]] = {}
    for name, verdict in verdicts.items():
        part = verdict.upgrade.part
        if part and part.owner == "shop" and verdict.upgrade.part_quantity == 1:
            taking.setdefault(part.id, []).append(name)
    part, (one, other, *_) = next((p, ids) for p, ids in taking.items() if len(ids) > 1)
    price = int(study.costing.parts[one].unit_cost)
    without = Rows(the_shop(), study.job, verdicts).totals((one, other)).cash
    for pieces, saved in ((1, 1), (2, 2), (3, 2)):
        stocked = replace(study.job, stock={part: Decimal(pieces)})
        rows = Rows(the_shop(), stocked, verdicts)
        assert without - rows.totals((one, other)).cash == saved * price
        assert (
            rows.totals((one, other)).cost == Rows(the_shop(), study.job, verdicts).totals((one, other)).cost
        )


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("aim", ["cost", "cash", "hours", "price", "score", "profit", "cost,hours"])
def test_sound_answers_of_the_examples_pass(name: str, aim: str) -> None:
    choice = make_choice(study_job(the_shop(), example(name)), aim, explain=False)
    assert choice.answer.status == (
        "infeasible" if name == "impossible-wish" and aim != "score" else "optimal"
    )
