"""Commands that write files: ``quote``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    JobArg,
    JsonOption,
    LedgerOption,
    PaperOption,
    ShopOption,
    StrictOption,
    WithOption,
    load_study,
    no_choice,
    open_ledger,
    paper_of,
    print_json,
)
from estimator.core.errors import Exit

if TYPE_CHECKING:
    from estimator.workbook.quote_files import FoundQuote

OutputOption = Annotated[
    str | None,
    typer.Option(
        "-o",
        "--output",
        metavar="FILE",
        help="Workbook to write (.xlsx), replaced if it exists; else JOB-bench.xlsx.",
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
NumberedOption = Annotated[
    bool,
    typer.Option(
        "--numbered",
        help="Give it the next number of the ledger, which is never given again; a booked job's quote is kept there.",
    ),
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
    numbered: NumberedOption = False,
    ledger: LedgerOption = None,
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
    from estimator.workbook.quote_files import QuoteFiles, quote_of

    study = load_study(job, shop, strict)
    found = quote_of(study, with_ or (), offers)
    if not found.choice.found:
        return no_choice(found.choice, as_json)
    target = Path(output) if output else Path(f"{study.job.id}-bench.xlsx")
    files = QuoteFiles(target, customer, page, pdf, paper_of(paper, study.shop), force or output is not None)
    if numbered:
        files.check()
        found = _numbered(found, ledger, shop)
    written = files.write(found, frontier)
    if as_json:
        _print_data(found, written, offers, numbered)
    else:
        _say(found, job, written, shop, numbered)
    return Exit.DONE


def _numbered(found: FoundQuote, ledger: str | None, shop: str | None) -> FoundQuote:
    """The quote with the next number of the ledger, which is begun where there is none."""
    from estimator.ledger.clock import read_moment
    from estimator.workbook.quote_files import next_number

    with open_ledger(ledger, shop, new=True) as books:
        return found.numbered(next_number(books, found.choice, read_moment(None)))


def _print_data(found: FoundQuote, written: Sequence[Path], offers: bool, numbered: bool) -> None:
    from estimator.report.json import choice as choice_json

    data = choice_json.choice(found.choice) | {"written": [str(path) for path in written]}
    data |= {"number": found.choice.study.job.quote_number} if numbered else {}
    print_json(data | (found.offers_data() if offers else {}))


def _say(found: FoundQuote, job: str, written: Sequence[Path], shop: str | None, numbered: bool) -> None:
    from estimator.report.text import choice as choice_text
    from estimator.workbook.quote_files import say_offers

    say_offers(found, job, written[0], shop)
    choice_text.show_quote(found.choice, written)
    if numbered:
        print(f"quote {found.choice.study.job.quote_number}")


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(quote)
