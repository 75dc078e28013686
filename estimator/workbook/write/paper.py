"""An invoice, a receipt or a claim ticket as a workbook of one sheet."""

from __future__ import annotations

from datetime import date

from estimator.ledger.papers import Paper
from estimator.model import Terms
from estimator.report.page.papers import paper_terms
from estimator.report.words.quote import shop_lines
from estimator.workbook.write.cells import Book, Sheet


def paper_bytes(paper: Paper, terms: Terms, day: date, size: str) -> bytes:
    """The workbook; the same words and sums as the page."""
    book = Book(f"{paper.title} {paper.number}", day, size, terms.shop_name)
    sheet = book.sheet(Sheet(paper.title, [34.0, 34.0, 16.0]))
    row = 0
    for words in (
        terms.shop_name,
        *shop_lines(terms),
        "",
        f"{paper.title} {paper.number}, {paper.dated}",
        paper.headline,
    ):
        if words:
            sheet.text(row, 0, words, "head" if row == 0 else "text")
        row += 1
    who = ", ".join(one for one in (paper.customer, paper.contact) if one)
    for head, words in (("For", who), ("Instrument", paper.about), *paper.facts):
        if words:
            sheet.text(row, 0, head)
            sheet.text(row, 1, words)
            row += 1
    row += 1
    for line in (*paper.lines, *paper.payments, *([paper.total] if paper.total else [])):
        sheet.text(row, 0, line.words)
        if line.beside:
            sheet.text(row, 1, line.beside)
        if line.amount is not None:
            sheet.money(row, 2, line.amount)
        row += 1
    for words in ("", *paper.agreed, *paper_terms(paper, terms)):
        if words:
            sheet.text(row, 0, words)
        row += 1
    return book.done()
