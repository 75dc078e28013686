"""The command for several instruments on one bench: ``plan``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer
from msgspec.structs import replace

from estimator.cli.common import (
    ForceOption,
    FromLedgerOption,
    FullOption,
    JsonOption,
    LedgerOption,
    PaperOption,
    ShopOption,
    batch_path,
    load_shop_of,
    needs_ledger_stock,
    open_ledger,
    paper_of,
    tell,
)

if TYPE_CHECKING:
    from estimator.batch.build import BatchStudy
    from estimator.batch.records import JointAnswer
    from estimator.input.batch.load import BatchFile
    from estimator.model import Shop
    from estimator.plan.plan import Plan
    from estimator.plan.replan.plan import PlannedAgain
    from estimator.plan.replan.progress import StateFile

BatchArg = Annotated[
    str,
    typer.Argument(metavar="BATCH", help="Batch file (TOML), or example:NAME for one that comes along."),
]
TimeLimitOption = Annotated[
    float | None,
    typer.Option(
        "--time-limit",
        metavar="SECONDS",
        help="Stop the search for a better week after so long; without it every machine finds the same week.",
        min=0.1,
    ),
]
EngineOption = Annotated[str, typer.Option("--engine", help="auto, rule (no solver) or cpsat.")]
AimOption = Annotated[
    str | None,
    typer.Option(
        "--aim",
        help="What to make best of: cost, cash, hours, price, score, profit, hourly; or several in a row: "
        "cost,hours. Left out: what the customers pay on client work, then the cost, then the cash.",
    ),
]
GainOption = Annotated[
    bool, typer.Option("--gain", help="Also what planning together saves against one by one.")
]
WhatIfOption = Annotated[
    bool, typer.Option("--what-if", help="Also what a helper or another station would bring.")
]
OutputOption = Annotated[
    str | None,
    typer.Option(
        "-o", "--output", metavar="FILE", help="Workbook to write (.xlsx); replaced if it is there."
    ),
]
CsvOption = Annotated[
    str | None,
    typer.Option("--csv", metavar="FOLDER", help="Folder for orders and week as tables (.csv)."),
]
GanttOption = Annotated[str | None, typer.Option("--gantt", metavar="FILE", help="Draw the week (.svg).")]
IcsOption = Annotated[
    str | None,
    typer.Option("--ics", metavar="FILE", help="Calendar file (.ics; needs the library icalendar)."),
]
IcsEachOption = Annotated[
    bool, typer.Option("--ics-each", help="Beside --ics FILE also a calendar a person: FILE-PERSON.ics.")
]
SavePlanOption = Annotated[
    str | None,
    typer.Option("--save-plan", metavar="FILE", help="Keep the plan (.json), to take it up again later."),
]
StateTemplateOption = Annotated[
    str | None,
    typer.Option("--state-template", metavar="FILE", help="File (.toml) to fill in where the work stands."),
]
StateOption = Annotated[
    str | None,
    typer.Option(
        "--state", metavar="FILE", help="Plan what is left of a saved plan from this state (.toml)."
    ),
]
ProgressOption = Annotated[
    str | None,
    typer.Option(
        "--progress",
        metavar="FILE",
        help="Plan what is left of a saved plan (.json) from what the ledger holds.",
    ),
]
AtOption = Annotated[
    str | None,
    typer.Option(
        "--now", metavar="MOMENT", help="With --progress: instead of the clock, such as 2026-10-08 11:30."
    ),
]


def plan(
    batch: BatchArg,
    time_limit: TimeLimitOption = None,
    engine: EngineOption = "auto",
    aim: AimOption = None,
    gain: GainOption = False,
    what_if: WhatIfOption = False,
    output: OutputOption = None,
    csv: CsvOption = None,
    gantt: GanttOption = None,
    ics: IcsOption = None,
    ics_each: IcsEachOption = False,
    save_plan: SavePlanOption = None,
    state_template: StateTemplateOption = None,
    state: StateOption = None,
    progress: ProgressOption = None,
    now: AtOption = None,
    from_ledger: FromLedgerOption = False,
    ledger: LedgerOption = None,
    paper: PaperOption = None,
    force: ForceOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Choose for several instruments together, order once, and plan the week while glue dries."""
    from estimator.batch.build import study_batch
    from estimator.choose.milp.earning import check_aim
    from estimator.plan.replan.plan import PlannedAgain
    from estimator.workbook import plan_files

    files = plan_files.PlanFiles(output, csv, gantt, ics, save_plan, state_template, ics_each, force=force)
    besides = plan_files.checked(files, plan_files.Besides(gain, what_if, full), state or progress)
    check_aim(aim)
    loaded = _load_batch(batch, shop, (ledger, from_ledger, progress))
    study = study_batch(*loaded, ways_open=not (state or progress))
    where = _where_it_stands(study, state, progress, (ledger, shop, now))
    made = _made(study, aim, where, (engine, time_limit))
    tell(made.warnings if isinstance(made, PlannedAgain) else ())
    return plan_files.hand_over(made, replace(files, paper=paper_of(paper, study.shop)), besides, as_json)


def _made(
    study: BatchStudy, aim: str | None, where: StateFile | None, how: tuple[str, float | None]
) -> Plan | PlannedAgain | JointAnswer:
    """A new plan, or one of what is left."""
    from estimator.plan.plan import plan_batch
    from estimator.plan.replan.plan import plan_again
    from estimator.report.text.terminal import watching
    from estimator.schedule.records import Search

    engine, limit = how
    with watching() as watch:
        search = Search(engine=engine, limit=limit, tell=watch)
        return plan_again(study, where, search) if where else plan_batch(study, aim, search)


def _where_it_stands(
    study: BatchStudy,
    state: str | None,
    progress: str | None,
    books: tuple[str | None, str | None, str | None],
) -> StateFile | None:
    """Where the work of a saved plan stands, by the state file or by the ledger; None for a new plan."""
    from estimator.core.errors import refusal

    ledger, shop, now = books
    if (state and progress) or (now and not progress):
        found = "--state beside it" if state and progress else "--now without --progress"
        raise refusal(
            "--progress",
            "it is not clear where the work stands",
            found,
            "a state file, or the ledger with --progress PLAN.json",
            "leave one out",
        )
    if state:
        from estimator.plan.replan.progress import load_state

        return load_state(state)
    if progress is None:
        return None
    from estimator.ledger.clock import read_moment
    from estimator.ledger.for_plan import state_by_ledger

    with open_ledger(ledger, shop, now=now) as kept:
        found_state, told = state_by_ledger(kept, study, progress, read_moment(now))
    tell(told)
    return found_state


def _load_batch(
    batch: str, shop: str | None, books: tuple[str | None, bool, str | None]
) -> tuple[Shop, BatchFile]:
    """The shop and the batch with their warnings; by the ledger without what was declined, and with its stock.

    ``books``: the ledger, whether the stock is taken from it, and the plan of which it tells how far it has come.
    """
    from estimator.input.batch.load import load_batch

    ledger, stock, progress = books
    needs_ledger_stock(ledger, stock or progress is not None)
    the_shop = load_shop_of(shop)
    the_batch = load_batch(batch_path(batch), the_shop)
    tell((*the_shop.issues, *the_batch.issues))
    if stock or progress is not None:
        from estimator.ledger.for_choice import batch_with_stock, without_declined

        with open_ledger(ledger, shop) as kept:
            the_batch, told = without_declined(kept, the_batch)
            tell(told)
            if stock:
                the_batch, told = batch_with_stock(kept, the_shop, the_batch)
                tell(told)
    return the_shop, the_batch


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(plan)
