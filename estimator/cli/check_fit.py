"""Commands that look without deciding: ``check`` and ``fit``."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.common import (
    FullOption,
    JobArg,
    JsonOption,
    ShopOption,
    StrictOption,
    TopOption,
    load_both,
    load_shop_of,
    print_json,
)
from estimator.core.errors import Exit
from estimator.report.text.terminal import put


def check(
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="Job file, or example:NAME; none: the shop alone.")
    ] = None,
    strict: StrictOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Check the shop's tables and, if named, a job file; say everything that is wrong at once."""

    from estimator.cli.common import tell
    from estimator.estimate.work_list import customer_adds, sense_issues
    from estimator.fit.candidates import offered
    from estimator.report.text.check import show_check, show_check_in_full

    the_job = None
    if job is None:
        the_shop = load_shop_of(shop)
        tell(the_shop.issues)
    else:
        the_shop, the_job = load_both(job, shop, strict)
        offered(the_shop, the_job)
    doubts = tuple(sense_issues(the_shop))
    tell(doubts)
    if as_json:
        from estimator.report.record import as_data
        from estimator.report.records.fit import CheckAnswer, Checked

        print_json(as_data(CheckAnswer(Checked(the_shop, the_job, doubts))))
    elif not full:
        show_check(the_shop, the_job)
    else:
        show_check_in_full(the_shop, the_job, len(doubts), customer_adds(the_shop))
    return Exit.DONE


def fit(
    job: JobArg,
    only: Annotated[
        list[str] | None, typer.Option("--only", metavar="ID", help="Only this upgrade; may be given again.")
    ] = None,
    show_working: Annotated[
        bool, typer.Option("--show-working", help="Print the formula and numbers of every finding.")
    ] = False,
    top: TopOption = None,
    strict: StrictOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Say of every upgrade whether it fits, what work that forces, and what was assumed."""
    from estimator.choose.faults import faults_of_job
    from estimator.fit.judge import judge_job
    from estimator.fit.short_names import numbers_of, upgrades_named
    from estimator.fit.ways import ruled_out
    from estimator.report.record import as_data
    from estimator.report.records.fit import FitAnswer, Judged
    from estimator.report.text import brief
    from estimator.report.text import choice as choice_text
    from estimator.report.words.ways import shut_lines

    the_shop, the_job = load_both(job, shop, strict)
    named = upgrades_named(the_shop, the_job, only, "--only", groups=True) if only else ()
    verdicts = judge_job(the_shop, the_job, named)
    faults = faults_of_job(the_shop, the_job)
    shut = ruled_out(the_shop, the_job, verdicts)
    if as_json:
        print_json(as_data(FitAnswer(Judged(the_job, verdicts, faults, shut))))
    elif full or show_working or only:
        rows = choice_text.FitRows(verdicts, numbers_of(the_shop, the_job), top)
        choice_text.show_fit(the_job, rows, show_working, faults, the_shop)
        put(*shut_lines(shut))
    else:
        brief.show_fit(verdicts, faults, the_shop, shut_lines(shut), top)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(check)
    app.command()(fit)
