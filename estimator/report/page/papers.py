"""An invoice, a receipt or a claim ticket as one HTML file: no script, nothing fetched, made to be printed."""

from __future__ import annotations

from estimator.core.errors import Origin
from estimator.core.text import money, sentence_case
from estimator.ledger.papers import INVOICE, RECEIPT, TICKET, Paper
from estimator.model import Terms
from estimator.report.page.images import logo_uri
from estimator.report.page.template import template
from estimator.report.words.quote import shop_lines, storage_words, warranty_words


def paper_terms(paper: Paper, terms: Terms) -> tuple[str, ...]:
    """The terms that belong on the paper, as a customer reads them."""
    said = {INVOICE: [], RECEIPT: [warranty_words(terms)], TICKET: [storage_words(terms)]}[paper.kind]
    if paper.kind == TICKET:
        said.append("Please bring this ticket when you come for it.")
    return tuple(one for one in said if one)


def paper_html(paper: Paper, terms: Terms, size: str) -> str:
    """The page; ``size``: A4 or Letter."""
    return template("paper.html", money=lambda cents: money(cents, paper.currency)).render(
        paper=paper,
        size=size,
        shop_name=terms.shop_name,
        shop_lines=shop_lines(terms),
        headline=sentence_case(paper.headline or paper.title),
        logo=logo_uri(terms.shop_logo, Origin("shop.toml", column="shop_logo")),
        terms=paper_terms(paper, terms),
    )
