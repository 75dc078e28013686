"""Further questions of one job's choice, asked of the programme that answered the first."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from estimator.choose.aiming import check_aim, problem_for
from estimator.errors import InputError, Issue, Origin
from estimator.estimate.alternatives import GradeChoice, grades_for
from estimator.estimate.build import make_costing
from estimator.estimate.money import cents
from estimator.estimate.packs import SHARE, WHOLE
from estimator.model import Verdict
from estimator.pipeline import Choice, Study, make_choice, price_bound

if TYPE_CHECKING:
    from estimator.choose.depth import Depth, Wanted
    from estimator.choose.measure import Measure
    from estimator.choose.programme import Programme


def programme_of(study: Study, aim: str = "cost", engine: str | None = None) -> Programme:
    """The programme of a job, to ask more than one question of."""
    from estimator.choose.programme import Programme

    check_aim(aim)
    return Programme(
        problem_for(study.problem, aim, study.job.file), study.measure, price_bound(study), engine
    )


def deeper(choice: Choice, wanted: Wanted, engine: str | None = None) -> Depth:
    """Further questions of a choice: the next best sets, why, ranges, and the frontier."""
    from estimator.choose.depth import Depth, Prices, look_deeper

    if not wanted or not (choice.found or wanted.frontier):
        return Depth()
    study = choice.study
    if not choice.found:
        wanted = replace(wanted, next_best=0, why=False)
    programme = programme_of(study, "cost", engine)
    chosen = choice.answer.chosen
    if choice.answer.aim != "cost" and (wanted.next_best or wanted.why):
        chosen = make_choice(study, engine=engine, explain=False).answer.chosen
    setting = study.costing.setting
    bought = {
        upgrade: study.costing.parts[upgrade].unit_cost
        for upgrade in chosen
        if upgrade in study.costing.parts and study.costing.parts[upgrade].owner != "customer"
    }
    prices = Prices(cents(setting.wage + setting.overhead), bought, _repriced(study, chosen))
    depth = look_deeper(programme, chosen, wanted, prices)
    return replace(depth, tools=tool_grades(study, chosen)) if wanted.why else depth


def tool_grades(study: Study, chosen: Collection[str]) -> tuple[GradeChoice, ...]:
    """Tools of a set for which the other grade than the one charged would have cost less."""
    setting = study.costing.setting
    grades = grades_for(study.costing.estimate(chosen).lines, study.shop, setting.wage + setting.overhead)
    return tuple(choice for choice in grades if choice.cheapest.grade.name != choice.charged)


def _repriced(study: Study, chosen: tuple[str, ...]) -> Callable[[str, int], Measure]:
    """Measures a set with another price (cents) of one of its parts; only its own work is priced anew."""
    mine = tuple(verdict for verdict in study.verdicts if verdict.upgrade.id in chosen)
    buying = WHOLE if study.costing.setting.whole_packs else SHARE

    def figures(upgrade: str, price: int) -> Measure:
        changed = tuple(_at_price(v, price) if v.upgrade.id == upgrade else v for v in mine)
        costing = make_costing(study.shop, study.job, changed, buying)
        return replace(study, costing=costing).measure(chosen)

    return figures


def _at_price(verdict: Verdict, price: int) -> Verdict:
    part = verdict.upgrade.part
    assert part is not None
    return replace(verdict, upgrade=replace(verdict.upgrade, part=replace(part, price=Decimal(price) / 100)))


def write_model(study: Study, aim: str, path: str) -> None:
    """Write the programme of an aim as .lp or .mps, for anyone to check with another solver."""
    from estimator.choose.export import save_model
    from estimator.choose.objectives import AIMS

    programme = programme_of(study, aim)
    total = AIMS[aim.split(",")[0].strip()].total
    if total is None:
        raise InputError(
            Issue(Origin("--save-model"), f"the aim {aim} is a ratio and has no single programme",
                  next_step="write the programme of --aim profit instead")
        )  # fmt: skip
    save_model(programme, total(programme), path)
