"""``ledger``: photos, what was agreed on the way, an instrument's history, and the papers a customer gets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    PaperOption,
    paper_of,
)
from estimator.cli.ledger.options import Desk, JobIdArg, RemarkOption

if TYPE_CHECKING:
    from datetime import date

    from estimator.ledger.papers import Paper as CustomerPaper
    from estimator.model import Terms


def photo(
    at: Desk,
    job: JobIdArg,
    file: Annotated[str, typer.Argument(metavar="FILE", help="The photo; it stays where it is.")],
    remark: RemarkOption = "",
) -> int:
    """Keep where a photo of a job lies; show tells where the file is not there any more."""
    from estimator.ledger.papers import add_photo
    from estimator.report.records.books import PhotoKept

    with at.open() as books:
        found = add_photo(books, job, file, at.moment, remark)
    return at.answer(PhotoKept(found), f"{job}: photo {found.photo} is kept")


def agree(
    at: Desk,
    job: JobIdArg,
    words: Annotated[
        str, typer.Argument(metavar="WORDS", help="What was agreed, as the customer may read it.")
    ],
    quote: Annotated[
        str | None, typer.Option("--quote", metavar="NUMBER", help="The quote with its price.")
    ] = None,
) -> int:
    """Keep what was agreed on the way; it stands on the invoice. A change of price is a newer quote."""
    from estimator.ledger.papers import agree as agree_on
    from estimator.report.records.books import AgreedOn

    with at.open() as books:
        found = agree_on(books, job, words, quote, at.moment)
    return at.answer(AgreedOn(found), f"{job}: agreed: {found.agreed}")


def instrument(
    at: Desk, serial: Annotated[str, typer.Argument(metavar="SERIAL", help="Its serial number.")]
) -> int:
    """Tell all jobs on an instrument, by its serial number, whoever brought it."""
    from estimator.ledger.customers import show_instrument
    from estimator.report.records.books import InstrumentTold
    from estimator.report.text.ledger import show_job

    with at.open() as books:
        found = show_instrument(books, serial)

    def words() -> None:
        for job in found.jobs:
            show_job(job)

    return at.answer(InstrumentTold(found), words)


def paper(
    at: Desk,
    job: JobIdArg,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="invoice, receipt or claim-ticket.")],
    page: Annotated[
        str | None, typer.Option("--page", metavar="FILE", help="Page to print or send (.html).")
    ] = None,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="Workbook (.xlsx).")
    ] = None,
    size: PaperOption = None,
    force: ForceOption = False,
) -> int:
    """Write an invoice, a receipt or a claim ticket for the customer, as a page, a workbook, or both."""
    from estimator.core.errors import refusal
    from estimator.core.save import check_target
    from estimator.ledger.jobs import storage_of
    from estimator.ledger.papers import paper as paper_for
    from estimator.ledger.records import PaperMade
    from estimator.report.records import books as tells

    if page is None and output is None:
        accepted = "--page FILE.html, -o FILE.xlsx, or both"
        raise refusal("paper", "where to is not said", "neither --page nor -o", accepted, "name a file")
    moment, own = at.moment, at.tables
    for target, ending, replaced in ((page, ".html", force), (output, ".xlsx", True)):
        if target is not None:
            check_target(target, force=replaced, extensions=(ending,))
    with at.open() as books:
        it = paper_for(books, job, kind, moment, storage_of(own, moment))
    targets = (page, output, force)
    written = _paper_files(it, own.terms, targets, (paper_of(size, own), moment.day))
    told = "\n".join([f"{it.title} {it.number} for {job}", *(f"wrote {one}" for one in written)])
    return at.answer(tells.PaperMade(PaperMade(job, it.kind, it.number, written)), told)


def _paper_files(
    it: CustomerPaper, terms: Terms, targets: tuple[str | None, str | None, bool], how: tuple[str, date]
) -> list[str]:
    """Write the page and the workbook, both or none; their names."""
    from estimator.core.save import Output, save_all, text_output

    (page, output, force), (size, day) = targets, how
    files = []
    if page is not None:
        from estimator.report.page.papers import paper_html

        files.append(text_output(page, paper_html(it, terms, size), force=force, extensions=(".html",)))
    if output is not None:
        from estimator.workbook.write.paper import paper_bytes

        files.append(Output(output, paper_bytes(it, terms, day, size), True, (".xlsx",)))
    return [str(one) for one in save_all(files)]


COMMANDS = (photo, agree, instrument, paper)
