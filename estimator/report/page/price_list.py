"""The price list for customers: the shop's usual jobs by kind of work, made to be printed and hung on the wall.

The figures are those of the menu. What is the bench's alone (hours, what stands in a price, what others post,
ids) is not in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.errors import Origin, refusal, squeezed
from estimator.core.money import cents
from estimator.core.text import amount_text, count, mid_sentence, money, sentence_case, short_day
from estimator.model import Shop, Terms
from estimator.price.client.menu import ALWAYS, MenuRow
from estimator.report.page.images import logo_uri
from estimator.report.page.template import template
from estimator.report.words.quote import (
    FIXED_PRICE,
    SURPRISES,
    bench_fee_words,
    shop_lines,
    warranty_words,
)

OTHER = "Other work"
"""The heading of jobs whose row names none; it stands last."""


class PostedJob(Struct, frozen=True):
    """A row: what is done, what is in it in a word, what comes on top, its price before tax and with it as text.

    ``depends``: the price is the least that is usual, as it depends on the instrument.
    """

    what: str
    included: str
    extra: str
    price: str
    with_tax: str
    depends: bool


class PriceList(Struct, frozen=True):
    """All that stands on the sheet, in the reader's order; ``groups`` are headings with their rows.

    ``taxed``: work is taxed, and each row shows its price with the tax in it too.
    """

    shop_name: str
    shop_lines: tuple[str, ...]
    logo: str
    dated: str
    currency: str
    tax: str
    taxed: bool
    groups: tuple[tuple[str, tuple[PostedJob, ...]], ...]
    terms: tuple[tuple[str, str], ...]


def price_list(rows: Sequence[MenuRow], shop: Shop, day: date) -> PriceList:
    """The list of these jobs of the menu on a day. InputError where there are none, or the logo cannot be shown."""
    if not rows:
        raise refusal(
            "menu_jobs.csv",
            "there is no job to put on a price list",
            "",
            "at least one job of the menu",
            "add rows to menu_jobs.csv in the folder of --shop",
        )
    terms = shop.terms
    headings = dict.fromkeys(row.job.heading for row in rows if row.job.heading)
    return PriceList(
        shop_name=terms.shop_name,
        shop_lines=shop_lines(terms),
        logo=logo_uri(terms.shop_logo, Origin("shop.toml", column="shop_logo")),
        dated=short_day(day),
        currency=terms.currency,
        tax=_tax_words(terms),
        taxed=bool(terms.tax_labour),
        groups=tuple(
            (heading or OTHER, tuple(_posted(row, shop) for row in rows if row.job.heading == heading))
            for heading in (*headings, "")
            if any(row.job.heading == heading for row in rows)
        ),
        terms=tuple(_terms(rows, terms)),
    )


def price_list_html(page: PriceList, paper: str) -> str:
    """The list as one HTML file: no script, nothing fetched; ``paper``: A4 or Letter."""
    return template("price_list.html").render(page=page, paper=paper)


def _posted(row: MenuRow, shop: Shop) -> PostedJob:
    what = sentence_case(row.job.what)
    said = [words for name in row.rows if (words := _name(shop, name))]
    told = [words for words in said if squeezed(words) not in squeezed(what)]
    added = [words for name in row.beside if (words := _name(shop, name))]
    if added:
        told.append(f"added to: {', '.join(added)}")
    return PostedJob(
        what,
        "; ".join(told),
        ", ".join(row.extra),
        amount_text(row.price),
        amount_text(Cents(row.price + row.tax)),
        row.depends,
    )


def _name(shop: Shop, upgrade: str) -> str:
    """An upgrade of the tables as a customer calls it, to stand behind other words; blank where he has none for it."""
    row = shop.customer_names.get(("upgrade", upgrade))
    return mid_sentence(row.words) if row else ""


def _tax_words(terms: Terms) -> str:
    if terms.tax_labour:
        return f"before tax, and with the tax of {_rate(terms.tax_labour)} in it"
    if terms.tax_parts:
        return f"no tax is added to them; parts bear {_rate(terms.tax_parts)}"
    return "no tax is added"


def _rate(share: Decimal) -> str:
    """A share as per cent, with all of its places: a rate of tax is never rounded."""
    return f"{(share * 100).normalize():f} %"


def _terms(rows: Sequence[MenuRow], terms: Terms) -> list[tuple[str, str]]:
    """What holds for all prices, as the shop's settings have it; what the shop does not ask for is not said."""
    before = " before tax" if terms.tax_labour or terms.tax_parts else ""
    said = []
    if any(row.depends for row in rows):
        said.append(
            (
                "“from”",
                "On a plain instrument. Yours may need more: we look at it and quote before any work.",
            )
        )
    if any(row.extra for row in rows):
        said.append(
            ("Extra", "Parts are extra: they come on top at their own price. Fitting them is in the price.")
        )
    inside = "What the work uses up"
    if all(dict(row.pieces)[ALWAYS] for row in rows if not row.job.beside):
        inside = "The look at it when it comes in, and what the work uses up"
    said.append(("In the price", f"{inside}."))
    if any(row.with_set_up is not None and row.with_set_up < row.price for row in rows):
        said.append(("Together", "Several jobs at once cost less than one by one: ask for a quote."))
    said.append(("Quote", _quote_words(terms)))
    said.append(("Surprises", SURPRISES))
    if terms.minimum_charge:
        least = money(cents(terms.minimum_charge), terms.currency)
        said.append(("Least charge", f"A job with its parts comes to {least}{before} at least."))
    if fee := bench_fee_words(terms, paid=False):
        said.append(("Just a look", fee))
    if terms.rush > 1:
        said.append(("In a hurry", f"Ahead of the queue: {_rate(terms.rush - 1)} more on the whole price."))
    if terms.own_part_labour > 1:
        more = _rate(terms.own_part_labour - 1)
        said.append(("Your own parts", f"Fitted after a check that they fit, for {more} more on that work."))
    if warranty := warranty_words(terms):
        said.append(("Warranty", f"{warranty} Parts carry their makers' terms."))
    return said


def _quote_words(terms: Terms) -> str:
    holds = count(terms.quote_valid_days, "day")
    held = f"It is in writing and holds for {holds}. " if terms.quote_valid_days else ""
    return f"{held}{FIXED_PRICE}"
