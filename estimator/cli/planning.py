"""The command for several instruments on one bench: ``plan``."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.common import JsonOption, ShopOption, batch_path, print_json, tell
from estimator.errors import Exit


def plan(
    batch: Annotated[
        str,
        typer.Argument(metavar="BATCH", help="Batch file (TOML), or example:NAME for one that comes along."),
    ],
    time_limit: Annotated[
        float,
        typer.Option(
            "--time-limit", metavar="SECONDS", help="How long to search for a better week.", min=0.1
        ),
    ] = 10.0,
    engine: Annotated[
        str, typer.Option("--engine", help="auto, rule (no solver) or cpsat (needs the extra cpsat).")
    ] = "auto",
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
    gantt: Annotated[
        str | None, typer.Option("--gantt", metavar="FILE", help="Draw the week (.svg).")
    ] = None,
    ics: Annotated[
        str | None,
        typer.Option("--ics", metavar="FILE", help="Calendar file (.ics; needs the extra calendar)."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Choose for several instruments together, order once, and plan the week while glue dries."""
    from pathlib import Path

    from estimator.choose.aiming import check_aim
    from estimator.plan.batchfile import load_batch
    from estimator.plan.gathering import study_batch
    from estimator.plan.planning import Plan, plan_batch
    from estimator.report import planning as shown
    from estimator.tables.loading import load_shop

    the_shop = load_shop(Path(shop) if shop is not None else None)
    tell(the_shop.issues)
    check_aim(aim)
    study = study_batch(the_shop, load_batch(batch_path(batch), the_shop))
    made = plan_batch(study, aim, engine=engine, limit=time_limit)
    if not isinstance(made, Plan):
        shown.show_none(made, as_json)
        return Exit.CANNOT_BE_MET
    if as_json:
        print_json(shown.as_data(made))
    else:
        shown.show(made, gain, what_if)
    shown.write_files(made, gantt, ics, force, quiet=as_json)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(plan)
