"""More than one way to do a task: break-even by the textbook and by trial, shops done another way, and the twin."""

from __future__ import annotations

import random
from decimal import Decimal
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.study import (
    Study,
    done_ways,
    make_choice,
    make_choice_of,
    make_estimate,
    settled,
    study_job,
)
from estimator.choose.verify.answer import priced_amiss
from estimator.choose.verify.lines import lines_amiss
from estimator.choose.verify.rows import Rows
from estimator.core.amounts import Cents
from estimator.core.errors import InputError, Origin
from estimator.estimate.break_even import OtherWay, break_even, other_ways_of, saved_in, way_cost
from estimator.estimate.build import make_setting
from estimator.estimate.labour import run_line, setup_line
from estimator.estimate.three_point import mean_of
from estimator.estimate.ways import and_way, methods_in, upgrades_in
from estimator.fit.ways import named_ways, open_methods, ways_of
from estimator.model import Demand, Job, Reading, Task
from estimator.tables.methods import by_methods, other_ways
from tests.drawn_jobs import example, the_shop

D = Decimal
WAYS = [
    (task, method) for task, methods in sorted(the_shop().ways.methods.items()) for method in sorted(methods)
]


def minutes_of(task: Task, quantity: Decimal) -> Decimal:
    """Set-up and run of a task in plain minutes: no allowance, no factor."""
    run = mean_of(task.run_min_low, task.run_min_likely, task.run_min_high, task.reading)
    return task.setup_min + quantity * run


def reading(job: Job, **values: object) -> Job:
    """The job with some readings taken."""
    readings = {name: Reading(value, False) for name, value in values.items()}  # type: ignore[arg-type]
    return replace(job, instrument=MappingProxyType({**job.instrument, **readings}))


# ------------------------------------------------------------------------------------- break-even


def test_break_even_of_a_published_example() -> None:
    """Fixed 20,000, price 25, cost 5 a unit: 1,000 units (ToolBelt, "Margin, markup and break-even"). A way with
    that set-up that saves 20 a unit is the same sum."""
    assert break_even(D(0), D(25), D(20000), D(5)) == 1000
    assert break_even(D(20000), D(5), D(0), D(25)) == 1000
    # price no higher than the cost of a unit: there is none
    assert break_even(D(0), D(5), D(20000), D(5)) is None
    assert break_even(D(0), D(5), D(20000), D(6)) is None


def test_break_even_equals_trial_of_every_quantity() -> None:
    """Of all ways of the shop, by pricing quantity after quantity: where the cheaper one changes, and nowhere else."""
    shop, job = the_shop(), example("school-guitar")
    setting = make_setting(shop, job)
    crossed = 0
    for task, offered in ways_of(shop, job).items():
        demand = Demand(task, "", D(1), "")
        costs = {way.method: way_cost(way, demand, D(0), setting) for way in offered}
        usual = offered[0].method
        for method in (way.method for way in offered[1:]):
            one, other = costs[usual], costs[method]
            at = break_even(one.fixed, one.each, other.fixed, other.each)

            def told(method: str, quantity: Decimal, task: str = task) -> int:
                there = replace(setting, shop=by_methods(shop, {task: method}))
                row = there.shop.tasks[task]
                run = run_line(row, Demand(task, "", quantity, ""), there)
                return setup_line(row, there).money.cost + run.money.cost

            # whole units: what goes wrong is counted by the piece
            for quantity in map(D, (1, 2, 3, 5, 8, 13, 21, 34, 55)):
                dearer = told(method, quantity) - told(usual, quantity)
                if abs(dearer) <= 6:  # as near as cents tell
                    continue
                if at is None:
                    assert (dearer > 0) == (other.fixed + other.each > one.fixed + one.each)
                else:
                    assert (dearer < 0) == ((quantity > at) == (other.each < one.each)), (
                        task,
                        method,
                        quantity,
                    )
            crossed += at is not None and 1 < at < 55
    assert crossed >= 5


def test_a_few_cm3_of_a_tremolo_cavity_by_burr_take_ten_minutes() -> None:
    shop = by_methods(the_shop(), {"enlarge-tremolo-cavity": "burr"})
    assert 9 <= minutes_of(shop.tasks["enlarge-tremolo-cavity"], D(3)) <= 11
    by_router = minutes_of(the_shop().tasks["enlarge-tremolo-cavity"], D(3))
    assert by_router > 24


def test_one_coat_of_shielding_paint_over_the_cavities_of_a_body_takes_three_to_four_minutes() -> None:
    shop = by_methods(the_shop(), {"shield-cavity-paint": "wide-brush"})
    row = shop.tasks["shield-cavity-paint"]
    two_coats = mean_of(row.run_min_low, row.run_min_likely, row.run_min_high, row.reading) * 520
    assert 3 <= two_coats / 2 <= 4
    assert row.setup_min == 10  # masking and the lug come on top


# ------------------------------------------------------------------------------ shops done another way


def test_what_a_way_does_not_say_is_as_usual_and_there_is_a_way_back() -> None:
    shop = the_shop()
    other = by_methods(shop, {"polish-frets": "wheels"})
    mine, usual = other.tasks["polish-frets"], shop.tasks["polish-frets"]
    assert (mine.method, usual.method, mine.by_usual) == ("wheels", "cloth-grades", usual)
    assert (mine.station, mine.factors, mine.driver) == (usual.station, usual.factors, usual.driver)
    assert (mine.setup_min, mine.level, mine.hazards) == (5, 3, ("H-RO", "H-MD", "H-ER"))
    used = {name: each for name, each, _ in other.task_consumables["polish-frets"]}
    assert "c-cushion-cloth" not in used
    assert used["c-compound-fine"] == D("0.3")
    assert dict(other.task_tools["polish-frets"])["t-rotary"] == D("0.1")
    assert other_ways(other) == {"polish-frets": "wheels"}
    back = by_methods(other, {"polish-frets": "cloth-grades"})
    assert back.tasks == shop.tasks
    assert back.task_consumables == shop.task_consumables
    assert {k: v for k, v in back.task_tools.items() if v} == dict(shop.task_tools)


def test_an_instrument_or_a_missing_tool_rules_a_way_out_with_the_reason() -> None:
    job = reading(example("school-guitar"), board_bound=True, nut_stuck=True)
    told = {(w.task, w.method): w.why_not for of in ways_of(the_shop(), job).values() for w in of}
    assert told["pull-frets", "cold"] == "bound board"
    assert told["slot-nut", "old-nut"] == "nut stuck or missing"
    assert told["slot-nut", "jig"] == ""
    without = replace(job, without_tools=("t-nut-jig", "t-router"))
    ways = ways_of(the_shop(), without)
    told = {(w.task, w.method): w.why_not for of in ways.values() for w in of}
    assert told["slot-nut", "jig"] == "not there: nut slotting jig with spacing strips"
    assert told["route-cavity", "router"] == "not there: trim or plunge router"
    assert open_methods(ways, {})["route-cavity"] == ("burr", "bore-and-chisel")
    with pytest.raises(InputError) as error:
        named_ways(the_shop(), ways, {"slot-nut": "jig", "route-cavity": "x"}, Origin("job"))
    assert "slot-nut cannot be done this way here; found “jig”: not there" in str(error.value)
    assert "no way of this name to do route-cavity" in str(error.value)


def test_the_usual_way_stands_where_nothing_else_is_left() -> None:
    job = replace(example("school-guitar"), without_tools=("t-hand-drill", "t-drill-press"))
    drill = ways_of(the_shop(), job)["drill-hole"]
    assert [(way.method, way.offered) for way in drill] == [("press", True), ("hand", False)]


@pytest.mark.slow
def test_a_way_that_a_job_names_is_taken_whatever_it_costs() -> None:
    job = replace(example("school-guitar"), methods=MappingProxyType({"polish-frets": "cloth-grades"}))
    for ways_open in (False, True):
        study = study_job(the_shop(), job, ways_open=ways_open)
        assert {way.task for way in study.costing.ways}.isdisjoint({"polish-frets"})
        (line,) = [it for it in make_estimate(study, ("polish-frets",)).lines if it.task == "polish-frets"]
        assert (line.method, line.way) == ("cloth-grades", "through nine grades of cushioned cloth")


@pytest.mark.slow
def test_a_named_set_is_done_the_ways_that_cost_least() -> None:
    """Against every combination of the ways of its tasks."""
    shop = the_shop()
    study = study_job(shop, example("short-scale-bass"), ways_open=True)
    chosen = ("level-crown-polish", "new-jack-economy")
    told = make_choice_of(study, chosen)
    tasks = {line.task for line in told.estimate.lines} & set(shop.ways.methods)
    assert len(tasks) == 3
    costs = []
    for level in shop.ways.methods["level-frets"]:
        for crown in shop.ways.methods["crown-frets"]:
            for polish in shop.ways.methods["polish-frets"]:
                fixed = {"level-frets": level, "crown-frets": crown, "polish-frets": polish}
                closed = study_job(shop, replace(study.job, methods=MappingProxyType(fixed)))
                costs.append(closed.costing.estimate(chosen).totals.cost)
    assert told.estimate.totals.cost == min(costs)
    assert settled(study, chosen).costing.estimate(chosen).totals == told.estimate.totals


def test_other_ways_of_a_set_are_told_with_their_break_even() -> None:
    job = replace(example("school-guitar"), without_tools=("t-rotary",))
    told = make_choice_of(study_job(the_shop(), job, ways_open=True), ("polish-frets",))
    ways = {w.other.way.method: w for w in other_ways_of(told.study.costing, told.estimate, told.study.ways)}
    assert set(ways) == {"cloth-grades", "wheels"}
    assert ways["cloth-grades"].more > 0
    # the wheels would be cheaper, but the tool for them is not there
    assert ways["wheels"].more < 0
    assert ways["wheels"].other.way.missing == ("t-rotary",)


def test_what_is_saved_in_a_year_is_what_is_saved_on_a_job_as_often_as_it_came_up() -> None:
    assert [saved_in(jobs, Cents(-287)) for jobs in (0, 1, 3, 250)] == [0, 287, 861, 71_750]
    assert saved_in(2, Cents(5)) == -10
    rotary = replace(example("school-guitar"), without_tools=("t-rotary",))
    told = make_choice_of(study_job(the_shop(), rotary, ways_open=True), ("polish-frets",))

    def ways(done: dict[str, int] | None) -> dict[str, OtherWay]:
        found = other_ways_of(told.study.costing, told.estimate, told.study.ways, done)
        return {way.other.way.method: way for way in found}

    for done, jobs in ((None, None), ({"level-frets": 5}, 0), ({"level-frets": 5, "polish-frets": 3}, 3)):
        wheels, cloth = ways(done)["wheels"], ways(done)["cloth-grades"]
        assert wheels.jobs_a_year == jobs
        assert wheels.saves_a_year == (None if jobs is None else jobs * -wheels.more)
        # another way that is open, and costs more besides, would save nothing
        assert (cloth.jobs_a_year, cloth.saves_a_year) == (None, None)
    named = replace(rotary, without_tools=(), methods=MappingProxyType({"polish-frets": "cloth-grades"}))
    told = make_choice_of(study_job(the_shop(), named, ways_open=True), ("polish-frets",))
    # what costs less and lacks no tool is left by the shop's own will
    assert ways({"polish-frets": 3})["wheels"].more < 0
    assert ways({"polish-frets": 3})["wheels"].jobs_a_year is None


def test_no_tool_opens_a_way_that_the_instrument_rules_out() -> None:
    """The old nut is made to fit again with a rasp, unless it is stuck."""
    tools = ("t-rasp",)
    for stuck in (False, True):
        job = replace(reading(example("school-guitar"), nut_stuck=stuck), without_tools=tools)
        (old,) = [way for way in ways_of(the_shop(), job)["shape-nut"] if way.method == "old-nut"]
        assert (old.missing, old.offered, old.lacks_tools_alone) == (tools, False, not stuck)
        study = study_job(the_shop(), job, ways_open=True)
        name = next(v.upgrade.id for v in study.verdicts if any(d.task == "shape-nut" for d in v.demands))
        told = make_choice_of(study, (name,))
        ways = other_ways_of(told.study.costing, told.estimate, told.study.ways, {"shape-nut": 2})
        found = [w.jobs_a_year for w in ways if (w.task, w.other.way.method) == ("shape-nut", "old-nut")]
        assert found == ([] if stuck else [2])


# ------------------------------------------------------------------------------------- sums and the twin


def test_any_of_a_set_and_a_way_as_a_sum() -> None:
    asked = frozenset("abc")
    for triggers in (None, asked, frozenset("a"), frozenset("ab")):
        for mask in range(16):
            chosen = {name for bit, name in enumerate((*"abc", "t=w")) if mask >> bit & 1}
            if "t=w" in chosen and chosen.isdisjoint(asked):
                continue  # a way is taken only where it is asked for
            wanted = "t=w" in chosen and (triggers is None or not triggers.isdisjoint(chosen))
            summed = sum(
                count
                for who, count in and_way(triggers, "t=w", asked)
                if who is None or not who.isdisjoint(chosen)
            )
            assert summed == wanted


def test_a_set_is_told_apart_from_its_ways() -> None:
    members = ("a", "level-frets=beam", "z")
    assert upgrades_in(members) == ("a", "z")
    assert methods_in(members) == {"level-frets": "beam"}


def in_open_costing(study: Study, chosen: tuple[str, ...], methods: dict[str, str]) -> tuple[str, ...]:
    """The set with the members for some ways, of those that are open."""
    ids = {way.id for way in study.costing.ways}
    return (*chosen, *(f"{t}={m}" for t, m in methods.items() if f"{t}={m}" in ids))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["school-guitar", "short-scale-bass", "tight-commission", "resale-flip"])
def test_a_way_among_others_comes_to_what_it_comes_to_alone_and_by_the_rows(name: str) -> None:
    """The same set and ways priced as sums over open ways, as a shop done so, and by the twin from the rows."""
    chance = random.Random(name)
    study = study_job(the_shop(), example(name), ways_open=True)
    options = [v.upgrade.id for v in study.verdicts]
    by_task: dict[str, list[str]] = {}
    for way in study.costing.ways:
        by_task.setdefault(way.task, []).append(way.method)
    reckoned = {task: study.costing.shop.tasks[task].method for task in study.costing.in_more_ways}
    verdicts = {v.upgrade.id: v for v in study.verdicts}
    taken = 0
    for _ in range(25):
        chosen = tuple(sorted(chance.sample(options, chance.randint(1, 12))))
        methods = {t: chance.choice(ways) for t, ways in by_task.items() if chance.random() < 0.6}
        closed = done_ways(study, reckoned | methods)
        alone = closed.costing.estimate(chosen)
        among = study.costing.estimate(in_open_costing(study, chosen, methods)).totals
        figures = ("attended", "reserve_min", "unattended", "desk", "price", "to_pay")
        assert among.money == alone.totals.money
        assert [getattr(among, f) for f in figures] == [getattr(alone.totals, f) for f in figures]
        assert abs(among.sd - alone.totals.sd) < 1e-6
        twin = Rows(the_shop(), study.job, verdicts, methods=other_ways(closed.shop))
        assert priced_amiss(twin, alone) == []
        assert lines_amiss(alone) == []
        taken += sum(1 for line in alone.lines if closed.shop.tasks[line.task].usual is not None)
    assert taken > 10


@pytest.mark.parametrize("aim", ["price,cost", "score,cost"])
def test_what_a_set_does_not_ask_for_is_done_as_reckoned_whatever_was_looked_at(aim: str) -> None:
    choice = make_choice(
        study_job(the_shop(), example("tight-commission"), ways_open=True), aim, explain=False
    )
    before, after = choice.open_study.shop.tasks, choice.study.shop.tasks
    beside = [task for task in choice.open_study.methods if task not in choice.estimate.tasks]
    assert len(beside) > 5
    assert [task for task in beside if after[task].method != before[task].method] == []
