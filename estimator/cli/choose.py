"""Commands that price and decide: ``estimate`` and ``choose``."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    JobArg,
    JsonOption,
    ShopOption,
    StrictOption,
    SuretyOption,
    WithOption,
    load_both,
    load_study,
    no_choice,
    print_json,
)
from estimator.core.errors import Exit

if TYPE_CHECKING:
    from estimator.core.save import Output


def estimate(
    job: JobArg,
    with_: WithOption = None,
    surety: SuretyOption = None,
    strict: StrictOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Price a set of upgrades that you name: work, minutes, wear, cost and price."""
    from estimator.choose.study import make_estimate
    from estimator.report.json import choice as jsonout
    from estimator.report.text import choice as text

    study = load_study(job, shop, strict, surety)
    priced = make_estimate(study, with_ or ())
    if as_json:
        print_json(jsonout.estimate(study, priced))
    else:
        text.show_estimate(study, priced)
    return Exit.DONE


def choose(
    job: JobArg,
    aim: Annotated[
        str | None,
        typer.Option(
            "--aim",
            help="What to make best of: cost, cash, hours, price, score, profit, hourly; or several in a row: "
            "cost,hours. If left out: price,cost on client work, else cost.",
        ),
    ] = None,
    engine: Annotated[
        str | None,
        typer.Option("--engine", help="Solver: highs, cbc or cpsat; chosen by itself if left out."),
    ] = None,
    time_limit: Annotated[
        float | None,
        typer.Option("--time-limit", metavar="SECONDS", help="Stop searching after so long.", min=0.0),
    ] = None,
    next_best: Annotated[
        int,
        typer.Option(
            "--next", metavar="N", help="Also the N best sets, with their differences.", min=0, max=100
        ),
    ] = 0,
    why: Annotated[
        bool, typer.Option("--why", help="Also what each upgrade truly costs, and what keeps the others out.")
    ] = False,
    frontier: Annotated[
        bool, typer.Option("--frontier", help="Also what a little more money buys: cost against score.")
    ] = False,
    with_hours: Annotated[
        bool, typer.Option("--with-hours", help="Frontier of cost, score and hours; stops after 30 seconds.")
    ] = False,
    svg: Annotated[
        str | None, typer.Option("--svg", metavar="FILE", help="Draw the frontier (.svg).")
    ] = None,
    buying: Annotated[
        str,
        typer.Option(
            "--buying",
            metavar="share|whole",
            help="Packs count in cost by the share used; or whole, with the suppliers' freight.",
        ),
    ] = "share",
    save_model: Annotated[
        str | None, typer.Option("--save-model", metavar="FILE", help="Write the programme (.lp or .mps).")
    ] = None,
    strict: StrictOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Find the best upgrade set within the wish and the budget, and prove it."""
    from estimator.choose.milp.earning import usual_aim
    from estimator.choose.questions.all import Wanted
    from estimator.choose.questions.ask import deeper, model_file
    from estimator.choose.study import make_choice, study_job
    from estimator.core.save import Output, check_target
    from estimator.report.json import choice as jsonout
    from estimator.report.json import questions as depth_data
    from estimator.report.text import choice as text
    from estimator.report.text import packs
    from estimator.report.text import questions as depth

    deadline = None if time_limit is None else time.perf_counter() + time_limit
    study = study_job(*load_both(job, shop, strict), buying)
    aim = usual_aim(study.job.kind) if aim is None else aim
    files: list[Output] = []
    told = []
    for path, endings in ((save_model, (".lp", ".mps")), (svg, (".svg",))):
        if path:
            check_target(path, force=True, extensions=endings)
    if save_model:
        data, words = model_file(study, aim, save_model)
        files.append(Output(save_model, data, force=True))
        told.append(f"wrote {save_model}{words}")
    if not svg:
        _save(files, told, quiet=as_json)
    choice = make_choice(study, aim=aim, engine=engine, time_limit=time_limit)
    wanted = Wanted(next_best, why, frontier or with_hours or svg is not None, with_hours, every=as_json)
    further = deeper(choice, wanted, engine, deadline)
    if svg:
        files.append(depth.frontier_file(choice, further, svg))
        _save(files, [*told, f"wrote {svg}"], quiet=as_json)
    if as_json:
        print_json(jsonout.choice(choice) | packs.as_data(choice) | depth_data.as_data(further))
    else:
        text.show_choice(choice)
        packs.show(choice)
        depth.show(choice, further)
    return Exit.DONE if choice.found else Exit.CANNOT_BE_MET


def _save(files: Sequence[Output], told: Sequence[str], quiet: bool) -> None:
    """All files of one command or none of them, and what was written."""
    from estimator.core.save import save_all

    save_all(files)
    if not quiet:
        print(*told, sep="\n", end="\n" if told else "")


def risk(
    job: JobArg,
    with_: WithOption = None,
    simulate: Annotated[
        bool, typer.Option("--simulate", help="Also draw many such jobs, rework and faults as events.")
    ] = False,
    draws: Annotated[
        int, typer.Option("--draws", help="How many jobs to draw.", min=100, max=5_000_000)
    ] = 100_000,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the draws.", min=0)] = 1,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say how long, how much and how sure: points of hours and cost, what drives them, what is used up.

    For the upgrades named with --with, else for the best set.
    """
    from estimator.choose.study import make_named_or_best
    from estimator.estimate.risk.look_ahead import fit_risks, look_ahead, simulate_set
    from estimator.fit.otherwise import Otherwise
    from estimator.report.text import risk as shown

    study = load_study(job, shop)
    choice = make_named_or_best(study, with_ or ())
    if not choice.found:
        return no_choice(choice, as_json)
    chosen = choice.estimate.chosen
    otherwise = Otherwise(study.shop, study.job, chosen)
    ahead = look_ahead(study.costing, chosen, otherwise=otherwise)
    risks = fit_risks(otherwise, chosen)
    simulated = simulate_set(study.costing, chosen, draws=draws, seed=seed) if simulate else None
    if as_json:
        print_json(shown.as_data(study, ahead, risks, simulated))
    else:
        shown.show(study, ahead, risks, simulated)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(estimate)
    app.command()(choose)
    app.command()(risk)
