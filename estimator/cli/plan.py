"""The command for several instruments on one bench: ``plan``."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.common import JsonOption, ShopOption, batch_path, tell
from estimator.cli.quote import Paper
from estimator.core.errors import Exit, InputError, Issue, Origin


def plan(
    batch: Annotated[
        str,
        typer.Argument(metavar="BATCH", help="Batch file (TOML), or example:NAME for one that comes along."),
    ],
    time_limit: Annotated[
        float | None,
        typer.Option(
            "--time-limit",
            metavar="SECONDS",
            help="Stop the search for a better week after so long; without it every machine finds the same week.",
            min=0.1,
        ),
    ] = None,
    engine: Annotated[str, typer.Option("--engine", help="auto, rule (no solver) or cpsat.")] = "auto",
    aim: Annotated[
        str,
        typer.Option(
            "--aim",
            help="What the choice aims at: cost, cash, hours, price, score, profit, hourly; or a chain.",
        ),
    ] = "cost,cash",
    gain: Annotated[
        bool, typer.Option("--gain", help="Also what planning together saves against one by one.")
    ] = False,
    what_if: Annotated[
        bool, typer.Option("--what-if", help="Also what a helper or another station would bring.")
    ] = False,
    output: Annotated[
        str | None,
        typer.Option(
            "-o", "--output", metavar="FILE", help="Workbook to write (.xlsx); replaced if it is there."
        ),
    ] = None,
    csv: Annotated[
        str | None,
        typer.Option("--csv", metavar="FOLDER", help="Folder for orders and week as tables (.csv)."),
    ] = None,
    gantt: Annotated[
        str | None, typer.Option("--gantt", metavar="FILE", help="Draw the week (.svg).")
    ] = None,
    ics: Annotated[
        str | None,
        typer.Option("--ics", metavar="FILE", help="Calendar file (.ics; needs the extra calendar)."),
    ] = None,
    save_plan: Annotated[
        str | None,
        typer.Option("--save-plan", metavar="FILE", help="Keep the plan (.json), to take it up again later."),
    ] = None,
    state_template: Annotated[
        str | None,
        typer.Option(
            "--state-template", metavar="FILE", help="File (.toml) to fill in where the work stands."
        ),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option(
            "--state", metavar="FILE", help="Plan what is left of a saved plan from this state (.toml)."
        ),
    ] = None,
    paper: Annotated[
        Paper, typer.Option("--paper", help="Paper the workbook prints on.", case_sensitive=False)
    ] = Paper.A4,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Choose for several instruments together, order once, and plan the week while glue dries."""
    from pathlib import Path

    from estimator.batch.build import study_batch
    from estimator.choose.milp.earning import check_aim
    from estimator.input.batch.load import load_batch
    from estimator.plan.plan import Plan, plan_batch
    from estimator.plan.replan.plan import plan_again
    from estimator.plan.replan.progress import load_state
    from estimator.report.text.terminal import watching
    from estimator.schedule.records import Search
    from estimator.tables.load import load_shop
    from estimator.workbook import plan_files as shown

    files = shown.PlanFiles(output, csv, gantt, ics, save_plan, state_template, paper.value, force)
    files.check()
    if state and (gain or what_if):
        option = "--gain" if gain else "--what-if"
        step = f"leave {option} out, or plan anew without --state"
        raise InputError(
            Issue(Origin(option), "is asked of a plan that begins, not of one under way", next_step=step)
        )
    the_shop = load_shop(Path(shop) if shop is not None else None)
    the_batch = load_batch(batch_path(batch), the_shop)
    tell((*the_shop.issues, *the_batch.issues))
    check_aim(aim)
    study = study_batch(the_shop, the_batch)
    with watching() as watch:
        if state:
            again = plan_again(study, load_state(state), Search(engine=engine, limit=time_limit, tell=watch))
        else:
            made = plan_batch(study, aim, Search(engine=engine, limit=time_limit, tell=watch))
    if state:
        tell(again.warnings)
        shown.show(again, gain, what_if, as_json)
        shown.write_files(again.plan, files, quiet=as_json)
        return Exit.DONE
    if not isinstance(made, Plan):
        shown.show_none(made, as_json)
        return Exit.CANNOT_BE_MET
    shown.show(made, gain, what_if, as_json)
    shown.write_files(made, files, quiet=as_json)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(plan)
