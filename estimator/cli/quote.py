"""Commands that write files: ``quote``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    FullOption,
    JobArg,
    JsonOption,
    LedgerOption,
    PaperOption,
    ShopOption,
    StrictOption,
    WithOption,
    load_study,
    names_meant,
    no_choice,
    open_ledger,
    paper_of,
    print_json,
)
from estimator.core.errors import Exit
from estimator.report.text.terminal import put, watching

if TYPE_CHECKING:
    from estimator.choose.study import Study
    from estimator.workbook.quote_files import CustomerFiles, FoundQuote, QuoteFiles

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
    typer.Option(
        "--customer",
        metavar="FILE",
        help="Also the customer's part alone (.xlsx); of a folder JOB-customer.xlsx in it.",
    ),
]
PageOption = Annotated[
    str | None,
    typer.Option("--page", metavar="FILE", help="Also the customer's page to print or send (.html)."),
]
PdfOption = Annotated[
    str | None,
    typer.Option(
        "--pdf",
        metavar="FILE",
        help="Also that page as PDF (.pdf), by a browser that is installed, else by an office program.",
    ),
]
PlanOption = Annotated[
    str | None,
    typer.Option(
        "--plan",
        metavar="PLAN.json",
        help="Ready on the day of this saved plan (plan --save-plan); PLAN.json#NAME where it names the job so.",
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
    plan: PlanOption = None,
    ledger: LedgerOption = None,
    force: ForceOption = False,
    strict: StrictOption = False,
    full: FullOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Write the quote workbook of the best set, or of the upgrades named with --with.

    With --offers a wish that the limits do not allow is no hindrance: the workbook then rests on the offer that
    keeps most of it within them, or else on the one that keeps all of it and says by how much it is beyond them.
    """
    from estimator.workbook.quote_files import CustomerFiles, QuoteFiles

    study = load_study(job, shop, strict)
    theirs = CustomerFiles(customer, page, pdf, paper_of(paper, study.shop))
    found = _found(study, theirs, with_, offers)
    if not found.choice.found:
        return no_choice(found.choice, as_json, full)
    target = Path(output or f"{study.job.id}-bench.xlsx")
    files = QuoteFiles(target, theirs, force or output is not None)
    found = _from_elsewhere(found, files, plan, (ledger, shop), numbered)
    written = _written(files, found, frontier)
    if as_json:
        _print_data(found, written, offers, numbered)
    else:
        _say(found, (job, shop), written, numbered, full)
    return Exit.DONE


def _found(study: Study, theirs: CustomerFiles, typed: Sequence[str] | None, offers: bool) -> FoundQuote:
    """What is to be quoted; on a terminal it says that it is at work."""
    from estimator.workbook.quote_files import quote_of

    theirs.check_job(study.job)  # before it is asked for a wish that would not help
    with watching("choosing"):
        return quote_of(study, names_meant(study, typed), offers)


def _written(files: QuoteFiles, found: FoundQuote, frontier: bool) -> list[Path]:
    """The files, written; on a terminal it says that it is at work."""
    with watching("writing the files"):
        return files.write(found, frontier)


def _from_elsewhere(
    found: FoundQuote,
    files: QuoteFiles,
    plan: str | None,
    where: tuple[str | None, str | None],
    numbered: bool,
) -> FoundQuote:
    """The quote with what others know: the next number of the ledger, the day of the plan or of the ledger.

    The ledger is read where it is named or gives the number; it is begun where there is none to give it.
    """
    from estimator.ledger.clock import read_moment
    from estimator.workbook.quote_files import known_of, next_number, planned_day, promise_of

    job = found.choice.study.job.id
    files.check(job)
    planned = planned_day(found.choice, plan) if plan else None
    if numbered or where[0]:
        with open_ledger(*where, new=numbered) as books:
            if numbered:
                found = found.numbered(next_number(books, found.choice, read_moment(None)))
            if known := known_of(books, job):
                found = found.after(known)
            if planned is None and (day := promise_of(books, job)):
                found = found.promised(day, "ledger")
    return found.promised(planned, "plan") if planned else found


def say_files(written: Sequence[Path]) -> None:
    """The files that were written, and which program made a PDF of them."""
    for path in written:
        put(f"wrote {path}")
    say_pdf(written)


def say_pdf(written: Sequence[Path]) -> None:
    """Which program made a PDF, where one was written."""
    for path in written:
        if path.suffix.lower() == ".pdf":
            from estimator.report.page.pdf import printed_by

            put(f"{path} was made by {printed_by()}")


def _print_data(found: FoundQuote, written: Sequence[Path], offers: bool, numbered: bool) -> None:
    from estimator.report.record import as_data
    from estimator.report.records.quote import QuoteAnswer, QuoteWritten

    number = found.choice.study.job.quote_number if numbered else None
    beside = (tuple(found.side_by_side()), found.instead or None) if offers else None
    print_json(as_data(QuoteAnswer(QuoteWritten(found.choice, written, number, beside))))


def _say(
    found: FoundQuote, of: tuple[str, str | None], written: Sequence[Path], numbered: bool, full: bool
) -> None:
    """What was written, ``of`` which job and shop; then time, what to measure first and the caution, or all."""
    from estimator.report.page.record import change_words
    from estimator.report.text import brief
    from estimator.report.text import choice as choice_text
    from estimator.report.words.tools import tool_lines
    from estimator.workbook.quote_files import say_offers

    say_offers(found, of[0], written[0], of[1])
    choice_text.show_quote(found.choice, written)
    say_pdf(written)
    if numbered:
        put(f"quote {found.choice.study.job.quote_number}")
    study = found.choice.study
    to_pay = None if found.offers else found.choice.estimate.totals.to_pay
    put(*(f"{words}." for words in change_words(study.job, to_pay, study.shop.terms.currency)))
    (choice_text.show_choice if full else brief.show_quote)(found.choice)
    put(*tool_lines(found.choice))


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(quote)
