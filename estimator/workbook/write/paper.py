"""An invoice, a receipt or a claim ticket as a workbook of one sheet, in the order of the page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from estimator.core.text import sentence_case
from estimator.ledger.papers import INVOICE, Paper, PaperLine
from estimator.model import Terms
from estimator.report.page.papers import paper_terms
from estimator.report.words.quote import shop_lines
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import wrapped_lines

WIDTHS = (20.0, 58.0, 16.0)
HEAD, WORDS, AMOUNT = range(3)


def paper_bytes(paper: Paper, terms: Terms, day: date, size: str) -> bytes:
    """The workbook; the same words and sums as the page."""
    title = f"{paper.title} {paper.number}"
    book = Book(title, day, size, terms.shop_name)
    sheet = book.sheet(
        Sheet(paper.title, WIDTHS, footer=f"{terms.shop_name}  ·  {title}", for_customers=True)
    )
    row = _head(sheet, paper, terms)
    row = _sums(sheet, row, f"What was agreed, {paper.currency}", paper.lines, len(paper.lines) - 1)
    if paper.agreed:
        row = _section(sheet, row, "Agreed on the way")
        row = _run_over(sheet, row, paper.agreed)
    paid = (*paper.payments, *([paper.total] if paper.total else []))
    row = _sums(sheet, row, f"Paid, {paper.currency}", paid, len(paper.payments))
    row = _run_over(sheet, row + 1, paper_terms(paper, terms))
    if paper.kind != INVOICE:
        sheet.low(row, 40)
        sheet.rule(row, HEAD, WORDS, "ink")
        sheet.rule(row, AMOUNT, AMOUNT, "ink")
        sheet.text(row + 1, HEAD, "Signature", "soft")
        sheet.text(row + 1, AMOUNT, "Date", "soft")
    return book.done()


def _head(sheet: Sheet, paper: Paper, terms: Terms) -> int:
    """Shop, title and number, headline, whose instrument; the next free row."""
    sheet.text(0, HEAD, terms.shop_name, "title")
    sheet.text(0, AMOUNT, f"{paper.title} {paper.number}", "right", bold=True)
    lines = shop_lines(terms) or ("",)
    for row, line in enumerate(lines, start=1):
        sheet.text(row, HEAD, line, "soft")
    sheet.text(1, AMOUNT, paper.dated, "soft-right")
    row = len(lines) + 1
    sheet.low(row, 6)
    sheet.rule(row, HEAD, AMOUNT, "heavy")
    row += 1
    for line in wrapped_lines(sentence_case(paper.headline), sum(WIDTHS), 16) if paper.headline else ():
        sheet.text(row, HEAD, line, "title", font_size=16)
        row += 1
    who = ", ".join(one for one in (paper.customer, paper.contact) if one)
    for head, words in (("For", who), ("Instrument", paper.about), *paper.facts):
        if words:
            sheet.text(row, HEAD, head, "soft")
            sheet.text(row, WORDS, words, "wrap")
            row += 1
    return row


def _section(sheet: Sheet, row: int, words: str) -> int:
    sheet.low(row, 10)
    sheet.text(row + 1, HEAD, words, "section")
    sheet.rule(row + 1, HEAD, AMOUNT, "ink")
    return row + 2


def _sums(sheet: Sheet, row: int, words: str, lines: Sequence[PaperLine], total: int) -> int:
    """Lines with their amounts, that at ``total`` as their sum."""
    if not lines:
        return row
    row = _section(sheet, row, words)
    for number, line in enumerate(lines):
        sums = number == total
        last = row
        for part in wrapped_lines(f"{line.words}  {line.beside}".strip(), WIDTHS[HEAD] + WIDTHS[WORDS], 10):
            last = row
            sheet.text(row, HEAD, part, "bold" if sums else "text")
            row += 1
        if line.amount is not None:
            sheet.money(last, AMOUNT, line.amount, "money-bold" if sums else "money")
        sheet.tall(last, 17)
        sheet.rule(last, HEAD, AMOUNT, "ink" if number == total - 1 else "hair")
    return row


def _run_over(sheet: Sheet, row: int, texts: Sequence[str]) -> int:
    """Texts in lines that run over the empty cells to their right."""
    for text in texts:
        for line in wrapped_lines(text, sum(WIDTHS), 10):
            sheet.text(row, HEAD, line)
            row += 1
    return row
