"""Commands that write files: ``quote``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    JobArg,
    JsonOption,
    PaperOption,
    ShopOption,
    StrictOption,
    WithOption,
    load_study,
    no_choice,
    paper_of,
    print_json,
)
from estimator.core.errors import Exit

OutputOption = Annotated[
    str | None,
    typer.Option(
        "-o",
        "--output",
        metavar="FILE",
        help="Workbook to write (.xlsx), replaced if it exists; else JOB-quote.xlsx.",
    ),
]
CustomerOption = Annotated[
    str | None,
    typer.Option("--customer", metavar="FILE", help="Also write the customer's page as a file of its own."),
]
PageOption = Annotated[
    str | None,
    typer.Option("--page", metavar="FILE", help="Also the customer's page to print or send (.html)."),
]
PdfOption = Annotated[
    str | None,
    typer.Option(
        "--pdf", metavar="FILE", help="Also that page as PDF (.pdf), by a browser that is installed."
    ),
]
FrontierOption = Annotated[
    bool, typer.Option("--frontier", help="Also a chart of what a little more money buys.")
]
OffersOption = Annotated[
    bool,
    typer.Option("--offers", help="Offers side by side: lean, as wished, the best within the limits."),
]


def quote(
    job: JobArg,
    output: OutputOption = None,
    with_: WithOption = None,
    customer: CustomerOption = None,
    page: PageOption = None,
    pdf: PdfOption = None,
    paper: PaperOption = None,
    frontier: FrontierOption = False,
    offers: OffersOption = False,
    force: ForceOption = False,
    strict: StrictOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Write the quote workbook of the best set, or of the upgrades named with --with.

    With --offers a wish that the limits do not allow is no hindrance: the workbook then rests on the offer
    that keeps most of it within them, or, where there is none, on the one that keeps all of it and says
    by how much it is beyond them.
    """
    from estimator.report.json import choice as choice_json
    from estimator.report.text import choice as choice_text
    from estimator.workbook.quote_files import QuoteFiles, quote_of, say_offers

    study = load_study(job, shop, strict)
    found = quote_of(study, with_ or (), offers)
    if not found.choice.found:
        return no_choice(found.choice, as_json)
    target = Path(output) if output else Path(f"{study.job.id}-quote.xlsx")
    files = QuoteFiles(target, customer, page, pdf, paper_of(paper, study.shop), force or output is not None)
    written = files.write(found, frontier)
    if as_json:
        data = choice_json.choice(found.choice) | {"written": [str(path) for path in written]}
        print_json(data | (found.offers_data() if offers else {}))
    else:
        say_offers(found, job, target, shop)
        choice_text.show_quote(found.choice, written)
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(quote)
