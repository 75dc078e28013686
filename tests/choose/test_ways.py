"""A way to do a task chosen with the set: small problems made by hand, and answers that are to be refused."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import pytest
from msgspec.structs import replace

from estimator.choose import study as studying
from estimator.choose import ways_on_demand
from estimator.choose.choose import choose
from estimator.choose.measure import Measure
from estimator.choose.study import make_choice, make_choice_of, study_job, worked_by
from estimator.choose.verify.choice import asked_for, recheck, totals_of
from estimator.core.errors import RefutedError
from estimator.estimate.build import make_costing
from estimator.estimate.costing import Costing
from estimator.model.problem import CostPiece, Problem, Rule, Source, WayChoice
from estimator.tables.methods import by_methods
from tests.choose.examples import piece
from tests.choose.own_measure import measure_of
from tests.drawn_jobs import example, the_shop

#: two cavities to rout (20 min of set-up, 1 a cm3) or to cut by burr (4 and 3): 2 cm3 for a, 10 more for b
CAVITIES = Problem(
    options=("a", "b"),
    slots=(),
    prerequisites=(),
    conflicts=(),
    pieces=(
        piece("set-up", ("a", "b"), 2000, 2000),
        piece("rout", ("a", "b"), 200, 200),
        piece("rout more", ("b",), 1000, 1000),
        piece("burr set-up", ("rout=burr",), -1600, -1600),
        piece("burr", ("rout=burr",), 400, 400),
        # burr and b: 20 more for the 10 cm3
        piece("burr more 1", ("b",), 2000, 2000),
        piece("burr more 2", ("rout=burr",), 2000, 2000),
        piece("burr more 3", ("b", "rout=burr"), -2000, -2000),
    ),
    scales=(),
    amounts=(),
    rules=(),
    z_minutes=0.0,
    z_price=0.0,
    shared_cause=0.2,
    ways=(WayChoice("rout", ("a", "b"), ("rout=burr",)),),
)


def required(*names: str, limit: int | None = None) -> Problem:
    rules = [Rule(Source.REQUIRED, "required", f"{n} is required", upgrades=(n,), of=n) for n in names]
    if limit is not None:
        rules.append(Rule("hours", "minutes", "the hours", most=limit))
    return replace(CAVITIES, rules=tuple(rules))


@pytest.mark.parametrize(
    ("names", "aim", "chosen", "figure"),
    [
        ((), "cost", (), 0),
        (("a",), "cost", ("a", "rout=burr"), 1000),  # 4 + 2 x 3
        (("b",), "cost", ("b",), 3200),  # 20 + 12, not 4 + 36
        (("a", "b"), "hours", ("a", "b"), 3200),
        (("a",), "hours", ("a", "rout=burr"), 1000),
    ],
)
def test_the_way_follows_the_quantity(
    names: tuple[str, ...], aim: str, chosen: tuple[str, ...], figure: int
) -> None:
    problem = required(*names)
    answer = choose(problem, measure_of(problem), aim=aim, explain=False)
    assert (answer.status, answer.chosen, answer.objective) == ("optimal", chosen, figure)
    assert recheck(problem, answer.chosen) == []


def test_a_limit_that_only_another_way_keeps() -> None:
    problem = required("a", limit=1500)
    dearer = replace(problem, pieces=(*problem.pieces, piece("burrs worn", ("rout=burr",), 5000, 0)))
    answer = choose(dearer, measure_of(dearer), explain=False)
    assert (answer.chosen, answer.objective) == (("a", "rout=burr"), 6000)
    assert choose(required("b", limit=3100), measure_of(required("b"))).status == "infeasible"


def test_the_recheck_knows_ways() -> None:
    two = replace(CAVITIES, ways=(WayChoice("rout", ("a", "b"), ("rout=burr", "rout=chisel")),))
    (both,) = recheck(two, ("a", "rout=burr", "rout=chisel"))
    assert both.words == "rout is done one way, not by rout=burr and rout=chisel"
    (unknown,) = recheck(two, ("a", "rout=axe"))
    assert unknown.words == "rout=axe is not open to choice"
    # what nobody asks for is done no way at all
    assert asked_for(two, ("rout=burr",)) == ()
    assert totals_of(two, ("rout=burr",)).cost == 0


def test_a_way_that_would_be_cheaper_refutes_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """The better way taken out of the programme, and nowhere else: the plain look at ways finds it."""
    sound = ways_on_demand.best_for

    def without_burr(*given: Any) -> Costing:
        costing = sound(*given)
        return replace(costing, ways=tuple(way for way in costing.ways if way.task != "polish-frets"))

    job = replace(
        example("school-guitar"), open=("polish-frets",), required=("polish-frets",), requirements=()
    )
    study = study_job(the_shop(), job, ways_open=True)
    honest = make_choice(study, "cost", explain=False)
    assert "polish-frets=wheels" in honest.answer.ways
    monkeypatch.setattr(ways_on_demand, "best_for", without_burr)
    with pytest.raises(RefutedError) as error:
        make_choice(study, "cost", explain=False)
    assert "with polish-frets done with polishing wheels in the rotary tool it comes to cost" in str(
        error.value
    )


def test_a_set_that_measures_otherwise_done_its_ways_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    job = replace(
        example("school-guitar"), open=("polish-frets",), required=("polish-frets",), requirements=()
    )
    study = study_job(the_shop(), job, ways_open=True)
    sound = studying.Study.measure

    def measured(self: studying.Study, chosen: tuple[str, ...]) -> Measure:
        told = sound(self, chosen)
        return replace(told, cash=told.cash + 1) if not self.costing.ways else told

    monkeypatch.setattr(studying.Study, "measure", measured)
    with pytest.raises(RefutedError) as error:
        make_choice(study, "cost", explain=False)
    assert "comes to another cash when its work is done the ways chosen" in str(error.value)


def test_pieces_of_ways_are_told_by_their_names() -> None:
    job = replace(example("school-guitar"), open=("polish-frets",))
    study = study_job(the_shop(), job, ways_open=True)
    mine: list[CostPiece] = [p for p in study.problem.pieces if p.id.startswith("way:")]
    assert mine
    assert {way for choice in study.problem.ways for way in choice.ways} == {w.id for w in study.costing.ways}


def test_a_shop_done_another_way_may_change_its_terms() -> None:
    """The recheck reads the terms that hold now, not those of the shop before its ways were taken."""
    job = replace(example("school-guitar"), open=("polish-frets",), requirements=())
    settled = make_choice_of(study_job(the_shop(), job, ways_open=True), ("polish-frets",)).study
    terms = replace(settled.shop.terms, allowance=Decimal("0.4"), wage_per_hour=Decimal(51))
    again = make_choice_of(study_job(replace(settled.shop, terms=terms), job), ("polish-frets",))
    (line,) = [line for line in again.estimate.lines if line.task == "polish-frets"]
    assert line.method == "wheels"
    assert line.setup == 700  # 5 minutes and 40 % of them


@pytest.mark.parametrize("name", ["tight-commission", "resale-flip", "short-scale-bass"])
def test_runs_priced_before_are_what_is_worked_out_for_other_ways(name: str) -> None:
    """Ways drawn one after another on one study: every line as if nothing had been priced before."""
    chance = random.Random(name)
    study = study_job(the_shop(), example(name), ways_open=True)
    lines = study.costing.setting.lines
    told = set()
    for _ in range(6):
        methods = {
            task: chance.choice([way.method for way in ways]) for task, ways in sorted(study.ways.items())
        }
        done = worked_by(study, methods).costing
        assert done.setting.lines is lines is not None
        anew = make_costing(by_methods(study.shop, methods), study.job, study.verdicts)
        assert (done.ranks, done.setups, done.atoms) == (anew.ranks, anew.setups, anew.atoms)
        told.add(tuple(atom.money.cost for atom in done.atoms))
    assert len(told) > 1
