"""Commands that read workbooks back: ``reprice``, ``worked``, ``intake``, and the shop as one workbook."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    JobArg,
    JsonOption,
    PaperOption,
    ShopOption,
    WithOption,
    load_shop_of,
    load_study,
    names_meant,
    paper_of,
    print_json,
    tell,
)
from estimator.cli.quote import CustomerOption, PageOption, PdfOption, say_files
from estimator.core.errors import Exit, shown
from estimator.report.text.terminal import put

BookArg = Annotated[str, typer.Argument(metavar="BOOK", help="Workbook (.xlsx).")]


def reprice(
    job: JobArg,
    book: BookArg,
    with_: WithOption = None,
    customer: CustomerOption = None,
    page: PageOption = None,
    pdf: PdfOption = None,
    paper: PaperOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> int:
    """Price a quote workbook again with what was changed in it: rates, mark-ups, quantities, parts.

    For the upgrades that the workbook was written for; --with says which where the workbook does not.
    The customer's page can be written anew at what it comes to, with the quote's number and day.
    """
    from estimator.choose.study import make_choice_of
    from estimator.report.record import as_data
    from estimator.report.records.quote import RepriceAnswer, Repriced
    from estimator.report.text import choice as choice_text
    from estimator.workbook.quote_files import CustomerFiles
    from estimator.workbook.read.book_set import as_quoted, book_set, book_ways
    from estimator.workbook.read.costing import open_costing, read_edits
    from estimator.workbook.read.reprice import reprice as price_again

    study = load_study(job, shop)
    opened = open_costing(book, study)
    chosen = make_choice_of(study, names_meant(study, with_) or book_set(opened, study)).estimate.chosen
    study = as_quoted(opened, book_ways(opened, study, chosen))
    edits = read_edits(opened, study, chosen)
    tell(edits.warnings)
    changed, estimate = price_again(study, chosen, edits)
    papers = CustomerFiles(customer, page, pdf, paper_of(paper, study.shop))
    written = papers.write_again(changed, edits, chosen)
    if as_json:
        print_json(as_data(RepriceAnswer(Repriced(changed, estimate, written))))
    else:
        choice_text.show_estimate(changed, estimate)
        say_files(written)
    return Exit.DONE


def worked(book: BookArg, as_json: JsonOption = False) -> int:
    """Read the minutes that were written into a job card."""
    from estimator.report.record import as_data, table_of
    from estimator.report.records.quote import CardRowTold, WorkedAnswer
    from estimator.report.text.terminal import show_table
    from estimator.workbook.read.costing import read_job_card

    job, rows = card = read_job_card(book)
    if as_json:
        print_json(as_data(WorkedAnswer(card)))
    else:
        show_table(f"Minutes written into the job card of {job}", *table_of(CardRowTold, rows))
        if rows:
            put(f"take them over: estimator ledger card {shown(str(book)) if ' ' in str(book) else book}")
    return Exit.DONE


def intake(
    sheet: Annotated[str, typer.Argument(metavar="SHEET", help="Measuring sheet (.xlsx or .txt).")],
    output: Annotated[str, typer.Option("-o", "--output", metavar="FILE", help="Job file to write (.toml).")],
    shop: ShopOption = None,
) -> int:
    """Turn a measuring sheet that was filled in into a job file."""
    from estimator.core.save import save_text
    from estimator.workbook.measuring_sheet import read_measuring

    choice_text, warnings = read_measuring(sheet, load_shop_of(shop))
    tell(warnings)
    put(f"wrote {save_text(output, choice_text, force=True, extensions=('.toml',))}")
    return Exit.DONE


def shop_book(
    write: Annotated[
        str | None, typer.Option("--write", metavar="FILE", help="Workbook to write the shop's tables to.")
    ] = None,
    read: Annotated[
        str | None,
        typer.Option("--read", metavar="FILE", help="Workbook to read tables from, into --folder."),
    ] = None,
    folder: Annotated[str | None, typer.Option("--folder", metavar="DIR", help="Folder for --read.")] = None,
    shop: ShopOption = None,
    force: ForceOption = False,
) -> int:
    """Write all tables of a shop into one workbook, or read such a workbook back into a folder."""
    from estimator.workbook.write import shop_sheets

    put(shop_sheets.write_book(shop, write, force) if write else shop_sheets.read_book(read, folder, force))
    return Exit.DONE


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    for command in (reprice, worked, intake):
        app.command()(command)
    app.command("shop-book")(shop_book)
