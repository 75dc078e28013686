"""Further questions of one job's choice, asked of the programme that answered the first."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from msgspec.structs import replace

from estimator.choose.kept import without
from estimator.choose.milp.earning import aims_in, check_aim, problem_for
from estimator.choose.study import Choice, Study, given_up_for, make_choice, price_bound, settled_beside
from estimator.core.amounts import Cents
from estimator.core.errors import refusal
from estimator.core.money import cents
from estimator.estimate.break_even import other_ways_of
from estimator.estimate.build import make_costing, make_setting
from estimator.estimate.tools.grades import GradeChoice, grades_for
from estimator.model import Verdict

if TYPE_CHECKING:
    from estimator.choose.measure import Measure
    from estimator.choose.milp.model import Programme
    from estimator.choose.questions.all import PostOptimality, Wanted
    from estimator.choose.questions.sensitivity import Repricing


def programme_of(study: Study, aim: str = "cost", engine: str | None = None) -> Programme:
    """The programme of a job, to ask more than one question of."""
    from estimator.choose.milp.model import Programme

    check_aim(aim)
    return Programme(
        problem_for(study.problem, aim, study.job.file), study.measure, price_bound(study), engine
    )


def deeper(
    choice: Choice, wanted: Wanted, engine: str | None = None, deadline: float | None = None
) -> PostOptimality:
    """Further questions of a choice: the next best sets, why, ranges, and the frontier.

    They are about the set of least cost that meets the wish, whatever was aimed at. Of a wish that
    cannot be met ``why`` tells every smallest clash. ``deadline``: a time of time.perf_counter.
    """
    from estimator.choose.questions.all import PostOptimality, PriceSettings, analyse_optimum, clashes_of

    impossible = choice.answer.status == "infeasible"
    if not wanted or not (choice.found or impossible):
        return PostOptimality()
    # why a wish cannot be met holds whichever way the work is done; all else is asked of the ways chosen
    study = choice.open_study if impossible else settled_beside(choice)
    programme = programme_of(study, "cost", engine)
    programme.deadline = deadline
    if impossible:
        clashes = clashes_of(programme) if wanted.why else None
        depth = analyse_optimum(programme, (), replace(wanted, next_best=0, why=False))
        return replace(depth, clashes=clashes)
    chosen = choice.answer.chosen
    if choice.answer.aim != "cost" and (wanted.next_best or wanted.why):
        chosen = _least_cost(study, programme)
    setting = study.costing.setting
    bought = {
        upgrade: study.costing.parts[upgrade].unit_cost
        for upgrade in chosen
        if upgrade in study.costing.parts and study.costing.parts[upgrade].owner != "customer"
    }
    rate = cents(setting.wage + setting.overhead)
    prices = PriceSettings(rate, bought, _repriced(study, chosen), repricing_of(study, programme, engine))
    depth = analyse_optimum(programme, chosen, wanted, prices)
    if not wanted.why:
        return depth
    ways = other_ways_of(study.costing, study.costing.estimate(chosen), study.ways, wanted.jobs_a_year)
    return replace(depth, tools=tool_grades(study, chosen), ways=ways)


def _least_cost(study: Study, programme: Programme) -> tuple[str, ...]:
    """The set of least cost that meets the wish, asked of the programme that the further questions are asked of."""
    from estimator.choose.choose import confirm
    from estimator.choose.milp.objectives import stages_of
    from estimator.choose.solvers.backends import OPTIMAL
    from estimator.choose.tie_break import settle

    if programme.problem.least_score is None:
        found, _ = settle(programme, stages_of("cost", programme))
        if found.status == OPTIMAL and found.chosen is not None:
            confirm(programme, found)
            return found.chosen
    deadline = programme.deadline
    left = None if deadline is None else max(0.1, deadline - time.perf_counter())
    return make_choice(study, "cost", programme.engine, left, explain=False).answer.chosen


def tool_grades(study: Study, chosen: Collection[str]) -> tuple[GradeChoice, ...]:
    """Tools of a set for which the other grade than the one charged would have cost less."""
    setting = study.costing.setting
    grades = grades_for(study.costing.estimate(chosen).lines, study.shop, setting.wage + setting.overhead)
    return tuple(choice for choice in grades if choice.cheapest.grade.name != choice.charged)


def _repriced(study: Study, chosen: tuple[str, ...]) -> Callable[[str, Cents], Measure]:
    """Measures a set with another price (cents) of one of its parts; only its own work is priced anew."""
    mine = tuple(verdict for verdict in study.verdicts if verdict.upgrade.id in chosen)

    def figures(upgrade: str, price: Cents) -> Measure:
        changed = tuple(_at_price(v, price) if v.upgrade.id == upgrade else v for v in mine)
        costing = make_costing(study.shop, study.job, changed, setting=study.costing.setting)
        return study.priced_as(costing).measure(chosen)

    return figures


def repricing_of(study: Study, programme: Programme, engine: str | None) -> Repricing:
    """The job priced anew at another labour rate: another wage over the same overhead, or another own pay."""
    from estimator.choose.build import with_work_of
    from estimator.choose.milp.model import Programme
    from estimator.choose.questions.sensitivity import Repricing

    overhead = cents(study.costing.setting.overhead)

    def at(rate: int, verdicts: tuple[Verdict, ...]) -> Study:
        pay = Decimal(rate - overhead) / 100
        terms = replace(study.shop.terms, wage_per_hour=pay)
        job = replace(study.job, sale=replace(study.job.sale, own_pay_per_hour=pay))
        shop = replace(study.shop, terms=terms)
        # what another rate pays for is the same work: it is worked out once
        setting = replace(make_setting(shop, job, study.buying), lines=study.costing.setting.lines)
        costing = make_costing(shop, job, verdicts, setting=setting)
        return replace(study.priced_as(costing), shop=shop, job=job, verdicts=verdicts)

    @lru_cache(maxsize=4)
    def anew(rate: int) -> Programme:
        there = at(rate, study.verdicts)
        # rules, levels and slots do not hang on the rate
        problem = with_work_of(study.frame, there.costing)
        there = replace(there, frame=problem)
        made = programme.at_other_costs(problem, there.measure)
        if made is None:
            made = Programme(problem, there.measure, price_bound(there), engine, programme.deadline)
            made.expects_many = programme.expects_many
        return made

    def cost(rate: int, chosen: tuple[str, ...]) -> int:
        mine = tuple(v for v in study.verdicts if v.upgrade.id in chosen)
        return at(rate, mine).costing.totals_of(chosen).cost

    return Repricing(anew, cost, overhead)


def _at_price(verdict: Verdict, price: Cents) -> Verdict:
    part = verdict.upgrade.part
    assert part is not None
    return replace(verdict, upgrade=replace(verdict.upgrade, part=replace(part, price=Decimal(price) / 100)))


def model_file(study: Study, aim: str, path: str) -> tuple[bytes, str]:
    """The programme of the first aim as the bytes of a .lp or .mps file, for anyone to check with another solver.

    With them words on which aim it is, where more than one was asked for.
    """
    from estimator.choose.milp.objectives import OBJECTIVES
    from estimator.choose.solvers.lp_file import model_bytes

    check_aim(aim)
    first, *later = aims_in(aim)
    total = OBJECTIVES[first].total
    if total is None:
        raise refusal(
            "--save-model",
            f"the aim {aim} is a ratio and has no single programme",
            next_step="write the programme of --aim profit instead",
        )
    if first != "score":  # what is scored is not demanded, so nothing has to be changed for it
        study = replace(study, frame=without(study.frame, given_up_for(study)))
    programme = programme_of(_with_payment(study, first), aim)
    data = model_bytes(programme, total(programme), path)  # put in its place with all else that is written
    return data, f" (the aim {first}; {', '.join(later)} comes after it)" if later else ""


def _with_payment(study: Study, aim: str) -> Study:
    """For an aim that earns on client work: the study with the least price of the wish as its income."""
    from estimator.choose.choose import EARNING, paid

    if not study.problem.billed or aim not in EARNING:
        return study
    least = make_choice(study, "price", explain=False).answer
    if not least.proven or least.objective is None:
        raise refusal(
            "--save-model",
            "there is no income: no set of upgrades meets the wish",
            next_step="run choose without --save-model: it names what clashes and the cheapest ways out",
        )
    return replace(study, frame=paid(study.frame, Cents(least.objective)))
