"""Further questions of one job's choice, asked of the programme that answered the first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from estimator.errors import InputError, Issue, Origin
from estimator.pipeline import Choice, Study, check_aim, make_choice, price_bound, problem_for

if TYPE_CHECKING:
    from estimator.choose.depth import Depth
    from estimator.choose.programme import Programme


def programme_of(study: Study, aim: str = "cost", engine: str | None = None) -> Programme:
    """The programme of a job, to ask more than one question of."""
    from estimator.choose.programme import Programme

    check_aim(aim)
    return Programme(problem_for(study, aim), study.measure, price_bound(study), engine)


def deeper(
    choice: Choice, next_best: int = 0, why: bool = False, frontier: bool = False, engine: str | None = None
) -> Depth:
    """Further questions of a choice: the next best sets, why, and the frontier of cost against score."""
    from estimator.choose.depth import Depth, look_deeper

    if not (next_best or why or frontier) or not (choice.found or frontier):
        return Depth()
    study = choice.study
    setting = study.costing.setting
    cents_per_minute = float(setting.wage + setting.overhead) * 100 / 60
    programme = programme_of(study, "cost", engine)
    chosen = choice.answer.chosen
    if choice.answer.aim != "cost" and (next_best or why):
        chosen = make_choice(study, engine=engine, explain=False).answer.chosen
    return look_deeper(
        programme, chosen, cents_per_minute, next_best if choice.found else 0, why and choice.found, frontier
    )


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
