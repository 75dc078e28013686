"""The ways to do the work of a batch are chosen with its sets: never dearer than each job's own, less where shared."""

from __future__ import annotations

import itertools
import random
from datetime import date
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.records import JointAnswer
from estimator.batch.ways import WayFigures, best_shared, once_for_all, shared_figures
from estimator.choose.study import make_choice, study_job
from estimator.choose.tools import choose_with_tools
from estimator.core.errors import InputError
from estimator.input.batch.load import BatchFile, BatchJob
from estimator.model import Budget, Job, Shop
from estimator.model.planning import Person
from estimator.plan.plan import choose_sets, plan_batch
from estimator.plan.replan.saved_plan import answer_of, as_kept, kept_text, read_kept
from estimator.report.words.plan import choice_lines
from estimator.schedule.records import Search
from tests.batch.test_ways import with_set_up
from tests.drawn_jobs import example, the_shop


def small(upgrades: tuple[str, ...] = ("polish-frets",), name: str = "school-guitar") -> Job:
    """An example that has nothing to choose but the ways to do some upgrades."""
    job = example(name)
    return replace(job, open=upgrades, required=upgrades, refused=(), requirements=(), budget=Budget())


def batch_of(jobs: list[Job], **more: object) -> BatchFile:
    entries = tuple(BatchJob(f"j{number}", job, None, 1, None) for number, job in enumerate(jobs))
    plain = BatchFile(
        "batch",
        "",
        date(2026, 10, 5),
        "usual",
        (Person("bench", 4),),
        entries,
        frozenset(),
        None,
        None,
        False,
        (),
        {},
        {},
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def sets_of(shop: Shop, file: BatchFile, aims: str = "cost") -> tuple[BatchStudy, JointAnswer]:
    return choose_sets(study_batch(shop, file, ways_open=True), aims)


@pytest.mark.slow
def test_each_job_of_a_batch_is_worked_as_it_would_be_chosen_alone() -> None:
    job = small()
    alone = make_choice(study_job(the_shop(), job, alone=False, ways_open=True), "cost", explain=False)
    study, answer = sets_of(the_shop(), batch_of([job]))
    assert alone.study.shop.tasks["polish-frets"].method == "wheels"
    assert study.studies["j0"].shop.tasks["polish-frets"].method == "wheels"
    assert answer.measures["j0"].cost == alone.estimate.totals.cost
    assert answer.chosen == {"j0": alone.answer.chosen}


def test_a_way_that_a_job_names_stays() -> None:
    named = replace(small(), methods={"polish-frets": "cloth-grades"})
    study, _ = sets_of(with_set_up(30), batch_of([named, small(), small(), small(), small()]))
    ways = [study.studies[f"j{number}"].shop.tasks["polish-frets"].method for number in range(5)]
    assert ways == ["cloth-grades", *["wheels"] * 4]


@pytest.mark.slow
@pytest.mark.parametrize(("jobs", "taken"), [(1, "cloth-grades"), (4, "wheels")])
def test_a_shared_set_up_makes_the_heavier_way_worth_it(jobs: int, taken: str) -> None:
    study, answer = sets_of(with_set_up(30), batch_of([small()] * jobs))
    assert {one.shop.tasks["polish-frets"].method for one in study.studies.values()} == {taken}
    told = [(way.task, way.other.method, way.jobs, way.alone) for way in study.shared]
    if jobs == 1:
        assert told == []
        return
    assert told == [("polish-frets", "wheels", ("j0", "j1", "j2", "j3"), False)]
    # by hand: every instrument's run, one set-up, and what of it is repeated on the others
    figures = shared_figures(study, answer)["polish-frets"]
    one = figures["j0"]
    assert all(of == one for of in figures.values())
    wheels, cloth = one["wheels"], one["cloth-grades"]
    assert wheels.full + wheels.run > cloth.full + cloth.run
    by_wheels = wheels.full + 3 * wheels.again + 4 * wheels.run
    assert study.shared[0].saves == cloth.full + 3 * cloth.again + 4 * cloth.run - by_wheels


def test_a_limit_is_never_broken_for_a_shared_set_up() -> None:
    shop = with_set_up(30)
    lone = study_job(shop, small(), alone=False, ways_open=True)
    best = make_choice(lone, "cost", explain=False).estimate.totals.cost
    held = replace(small(), budget=Budget(money=Decimal(best) / 100))
    study, _ = sets_of(shop, batch_of([held] * 4))
    assert {one.shop.tasks["polish-frets"].method for one in study.studies.values()} == {"cloth-grades"}
    assert study.shared == ()


def drawn_figures(chance: random.Random) -> tuple[dict[str, dict[str, WayFigures]], dict[str, str]]:
    methods = ("a", "b", "c")[: chance.randint(2, 3)]
    figures: dict[str, dict[str, WayFigures]] = {}
    for number in range(chance.randint(1, 5)):
        mine = chance.sample(methods, chance.randint(1, len(methods)))
        figures[f"j{number}"] = {
            method: WayFigures(
                full := chance.randint(0, 900), chance.randint(0, full), chance.randint(0, 900)
            )
            for method in mine
        }
    return figures, {job: chance.choice(sorted(of)) for job, of in figures.items()}


def test_no_assignment_of_ways_is_cheaper_than_the_one_taken() -> None:
    for seed in range(400):
        figures, now = drawn_figures(random.Random(seed))
        best = min(
            once_for_all(figures, dict(zip(figures, taken, strict=True)))
            for taken in itertools.product(*figures.values())
        )
        taken = best_shared(figures, now)
        assert once_for_all(figures, taken) == best, seed
        # what is as good as it is stays
        assert taken == now or best < once_for_all(figures, now), seed


@pytest.mark.slow
def test_the_plan_says_which_ways_and_why() -> None:
    study = study_batch(with_set_up(30), batch_of([small()] * 4), ways_open=True)
    plan = plan_batch(study, "cost", Search(engine="rule"))
    assert not isinstance(plan, JointAnswer)
    words = " ".join(" ".join(choice_lines(plan)).split())
    assert "polish frets of j0, j1, j2, j3: with polishing wheels in the rotary tool" in words
    assert (
        "is done with polishing wheels in the rotary tool, set up once for them, not through nine grades"
        in words
    )
    assert "USD less in all, though it would pay for none of them alone" in words
    assert "under [methods]" not in words


@pytest.mark.slow
def test_a_kept_plan_is_taken_up_the_ways_it_was_made() -> None:
    shop = with_set_up(30)
    file = batch_of([small()] * 4)
    made = plan_batch(study_batch(shop, file, ways_open=True), "cost", Search(engine="rule"))
    assert not isinstance(made, JointAnswer)
    kept = read_kept(kept_text(made).encode(), "week.json")
    assert {of["polish-frets"] for of in kept.methods.values()} == {"wheels"}
    # whether the ways are open when it is taken up or not
    for ways_open in (False, True):
        study = as_kept(kept, study_batch(shop, file, ways_open=ways_open))
        assert answer_of(kept, study).measures == made.answer.measures
        estimate = study.studies["j0"].costing.estimate(kept.chosen["j0"])
        assert estimate.totals == made.estimates["j0"].totals
    unknown = replace(kept, methods={"j0": {"polish-frets": "gone"}})
    with pytest.raises(InputError, match="cannot be done any more as it was planned"):
        as_kept(unknown, study_batch(shop, file))


@pytest.mark.slow
def test_no_tool_is_bought_to_take_less_than_it_costs_off_a_price() -> None:
    """The rotary tool takes a few coins off what customers pay: not for its price, whoever pays it."""
    shop, job = the_shop(), example("school-guitar")
    missing = ("t-rotary",)
    alone = choose_with_tools(
        study_job(shop, replace(job, without_tools=missing), ways_open=True), "price,cost"
    )
    assert alone.tools.got == ()
    _, answer = sets_of(shop, batch_of([job], tools_missing=missing), "price,cost")
    assert [p for p in answer.purchases if p.kind in ("tool", "rent")] == []
    assert answer.measures["j0"].price == alone.answer.measure.price


@pytest.mark.slow
def test_a_tool_that_is_there_for_enough_customers_is_bought() -> None:
    shop, job = the_shop(), small()
    without = sets_of(shop, batch_of([replace(job, without_tools=("t-rotary",))]), "price,cost")[1]
    there = sets_of(shop, batch_of([job]), "price,cost")[1]
    saves = without.measures["j0"].price - there.measures["j0"].price
    tool = shop.tools["t-rotary"].inexpensive_price * 100
    enough = int(tool // saves) + 1
    for number in (enough - 1, enough):
        _, answer = sets_of(shop, batch_of([job] * number, tools_missing=("t-rotary",)), "price,cost")
        bought = [p.what for p in answer.purchases if p.kind == "tool"]
        assert bought == (["t-rotary"] if number == enough else []), number
