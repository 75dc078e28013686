"""An invoice, a receipt or a claim ticket as one HTML file: no script, nothing fetched, made to be printed."""

from __future__ import annotations

from estimator.core.text import money
from estimator.ledger.papers import INVOICE, RECEIPT, TICKET, Paper
from estimator.model import Terms
from estimator.report.words.quote import storage_words, warranty_words


def shop_lines(terms: Terms) -> tuple[str, ...]:
    """How to reach the shop, when it is open, its tax number."""
    contact = " · ".join(t for t in (terms.shop_address, terms.shop_phone, terms.shop_email) if t)
    more = [
        terms.opening_hours and f"open {terms.opening_hours}",
        terms.tax_number and f"tax number {terms.tax_number}",
    ]
    return tuple(line for line in (contact, " · ".join(t for t in more if t)) if line)


def paper_terms(paper: Paper, terms: Terms) -> tuple[str, ...]:
    """The terms that belong on the paper, as a customer reads them."""
    said = {INVOICE: [], RECEIPT: [warranty_words(terms)], TICKET: [storage_words(terms)]}[paper.kind]
    if paper.kind == TICKET:
        said.append("Please bring this ticket when you come for it.")
    return tuple(one for one in said if one)


def paper_html(paper: Paper, terms: Terms, size: str) -> str:
    """The page; ``size``: A4 or Letter."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("estimator.report.page"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["money"] = lambda cents: money(cents, paper.currency)
    template = environment.get_template("paper.html")
    return (
        template.render(paper=paper, size=size, shop_name=terms.shop_name, shop_lines=shop_lines(terms),
                        terms=paper_terms(paper, terms)) + "\n"
    )  # fmt: skip
