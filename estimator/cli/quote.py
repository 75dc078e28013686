"""Commands that write files: ``quote``."""

from __future__ import annotations

import enum
import os
from pathlib import Path
from typing import Annotated

import typer

from estimator.cli.common import (
    JobArg,
    JsonOption,
    ShopOption,
    StrictOption,
    WithOption,
    load_study,
    print_json,
)
from estimator.core.errors import Exit, InputError, Issue, Origin


def two_files(one: Path, other: Path) -> None:
    """InputError if two files to write are the same one."""
    if os.path.realpath(one) == os.path.realpath(other):
        raise InputError(
            Issue(
                Origin(str(other)),
                "both workbooks would be written to the same file",
                next_step="give the customer's page a name of its own",
            )
        )


class Paper(enum.StrEnum):
    """Sizes a sheet can be printed on."""

    A4 = "A4"
    LETTER = "Letter"


def quote(
    job: JobArg,
    output: Annotated[
        str | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="Workbook to write (.xlsx), replaced if it exists; else JOB-quote.xlsx.",
        ),
    ] = None,
    with_: WithOption = None,
    customer: Annotated[
        str | None,
        typer.Option(
            "--customer", metavar="FILE", help="Also write the customer's page as a file of its own."
        ),
    ] = None,
    paper: Annotated[
        Paper, typer.Option("--paper", help="Size of the sheet.", case_sensitive=False)
    ] = Paper.A4,
    frontier: Annotated[
        bool, typer.Option("--frontier", help="Also a chart of what a little more money buys.")
    ] = False,
    offers: Annotated[
        bool,
        typer.Option("--offers", help="Offers side by side: lean, as wished, the best within the limits."),
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace JOB-quote.xlsx if it exists.")] = False,
    strict: StrictOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Write the quote workbook of the best set, or of the upgrades named with --with.

    With --offers a wish that the limits do not allow is no hindrance: the workbook then rests on the offer
    that keeps most of it within them, or, where there is none, on the one that keeps all of it and says
    by how much it is beyond them.
    """
    from estimator.choose.study import make_named_or_best
    from estimator.price.client.three_offers import three_offers
    from estimator.report.json import choice as jsonout
    from estimator.report.text import choice as text
    from estimator.report.text import money as selling
    from estimator.workbook.write import chart_figures as charts
    from estimator.workbook.write.chart_figures import name_of
    from estimator.workbook.write.quote import write_both_quotes, write_quote

    study = load_study(job, shop, strict)
    made = three_offers(study, with_ or ()) if offers else None
    side_by_side = charts.offers_by_name(made) if made else {}
    rest = made.resting() if made and not with_ else None
    instead = name_of(rest) if rest and rest.apart else ""
    if made and not with_:
        choice = rest.choice if rest else made.wished
    else:
        choice = make_named_or_best(study, with_ or ())
    if not choice.found:
        if as_json:
            print_json(jsonout.choice(choice))
        else:
            text.show_choice(choice)
        return Exit.CANNOT_BE_MET
    target = Path(output) if output else Path(f"{study.job.id}-quote.xlsx")
    if customer:
        two_files(target, Path(customer))
    points = charts.frontier_points(choice) if frontier else ()
    replace = force or output is not None
    size, beside = paper.value, side_by_side if len(side_by_side) > 1 else None
    if customer:
        written = write_both_quotes(
            choice, target, customer, force=replace, paper=size, frontier=points, offers=beside
        )
    else:
        written = [write_quote(choice, target, force=replace, paper=size, frontier=points, offers=beside)]
    if as_json:
        data = jsonout.choice(choice) | {"written": [str(path) for path in written]}
        print_json(data | ({"offers": list(side_by_side), "rests_on": instead or None} if offers else {}))
    else:
        if instead:
            named = " ".join(f"--with {name}" for name in choice.estimate.chosen)
            print(
                f"The whole wish cannot be met within the limits; the workbook rests on the offer “{instead}”."
            )
            print(f"To read it back: reprice {job} {target} {named}")
        if made and beside is None:
            print(
                f"“{name_of(made.made[0])}” is the only offer: there is one page."
                if made.made[0].over
                else "All offers come to the same set of upgrades: there is one page."
            )
        if made:
            selling.say(selling.offers_words(made))
        text.show_quote(choice, written)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(quote)
