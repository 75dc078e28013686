"""The price list for customers: the figures of the menu and of a quote, the shop's own terms, sound HTML."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import html5lib
import pytest
from msgspec.structs import replace

from estimator.choose.study import study_job
from estimator.choose.tools import make_named_or_best
from estimator.core.errors import InputError
from estimator.model import Shop
from estimator.price.client.menu import MenuRow, menu_of, plain_job
from estimator.price.client.quote import Quote, quote_for
from estimator.report.page.pdf import browser_there, pdf_of
from estimator.report.page.price_list import OTHER, PostedJob, PriceList, price_list, price_list_html
from estimator.report.record import as_data
from estimator.report.records.price import MenuAnswer, MenuTold
from estimator.tables.load import load_shop
from tests.report.page.test_customer_page import read
from tests.shops import default_shop, write_shop

DAY = date(2026, 11, 30)
NASTY = '<script>alert("x")</script> & </td></table>'
SOME = ("restring-hardtail", "set-up-hardtail", "partial-refret-one", "clean-controls", "refinish-body")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


@pytest.fixture(scope="module")
def menu(shop: Shop) -> tuple[MenuRow, ...]:
    return menu_of(shop)


def with_terms(shop: Shop, **changed: object) -> Shop:
    return replace(shop, terms=replace(shop.terms, **changed))  # type: ignore[arg-type]


def posted(page: PriceList) -> list[PostedJob]:
    return [row for _, rows in page.groups for row in rows]


def some(shop: Shop) -> tuple[MenuRow, ...]:
    return menu_of(shop, SOME)


def figure(cents: int) -> str:
    return f"{Decimal(cents) / 100:,.2f}"


def text_of(page: PriceList) -> str:
    return " ".join(" ".join(read(price_list_html(page, "A4")).words).split())


def rows_of(html: str) -> list[tuple[str, str]]:
    """What is done and the last figure of each row, as they stand in the page."""
    found = []
    for row in re.findall(r"<tr><th scope=\"row\">(.*?)</tr>", html, re.S):
        what = re.split(r"</th>|<small>", row)[0].strip()
        found.append((what, re.findall(r"[\d,]+\.\d\d", row.partition("</th>")[2])[-1]))
    return found


def test_the_figures_are_those_that_the_menu_tells(shop: Shop, menu: tuple[MenuRow, ...]) -> None:
    told = as_data(MenuAnswer(MenuTold(menu, shop)))
    page = price_list(menu, shop, DAY)
    shown = {what.casefold(): price for what, price in rows_of(price_list_html(page, "A4"))}
    jobs = told["jobs"]
    assert isinstance(jobs, list)
    assert len(shown) == len(jobs) == len(shop.menu.jobs) > 30
    for job in jobs:
        assert shown[job["what"].casefold()].replace(",", "") == job["price_without_parts"]
    assert {row.what.casefold(): row.depends for row in posted(page)} == {
        job["what"].casefold(): job["depends_on_the_instrument"] for job in jobs
    }
    assert told["written"] is None


def quoted(shop: Shop, row: MenuRow, upgrades: Sequence[str]) -> Quote:
    """The quote of a customer who brings such an instrument for these upgrades."""
    study = study_job(shop, plain_job(shop, row.job), ways_open=True)
    choice = make_named_or_best(study, upgrades)
    return quote_for(choice.study, choice.estimate.chosen)


def held_against_quotes(shop: Shop, rows: Sequence[MenuRow]) -> int:
    held = 0
    for row in rows:
        both = quoted(shop, row, (*row.job.upgrades, *row.job.beside))
        price, parts = both.price, both.steps.parts
        if row.job.beside:
            alone = quoted(shop, row, row.job.beside)
            price, parts = price - alone.price, parts - alone.steps.parts
        assert price - parts == row.price, row.job.id
        assert bool(row.extra) == (parts > 0), row.job.id
        held += 1
    return held


def test_a_quote_of_such_a_job_asks_the_same_without_its_parts(shop: Shop) -> None:
    assert held_against_quotes(shop, some(shop)) == len(SOME)


@pytest.mark.slow
def test_every_job_of_the_list_is_quoted_as_it_is_posted(shop: Shop, menu: tuple[MenuRow, ...]) -> None:
    assert held_against_quotes(shop, menu) == len(menu)


@pytest.mark.parametrize(("per", "rate"), [("invoice", "8.25"), ("line", "9.975"), ("line", "20")])
def test_where_work_is_taxed_both_prices_stand_there(shop: Shop, per: str, rate: str) -> None:
    """Parts are free of tax here, so that what a quote bears is the tax on the work."""
    taxed = with_terms(shop, tax_labour=Decimal(rate) / 100, tax_per=per)
    rows = some(taxed)
    page = price_list(rows, taxed, DAY)
    for row, it in zip(
        rows, sorted(posted(page), key=lambda it: [r.job.what for r in rows].index(uncapped(it))), strict=True
    ):
        assert (it.price, it.with_tax) == (figure(row.price), figure(row.price + row.tax))
        alone = quoted(taxed, row, row.job.beside).tax if row.job.beside else 0
        assert row.tax == quoted(taxed, row, (*row.job.upgrades, *row.job.beside)).tax - alone > 0
    words = text_of(page)
    assert f"the tax of {rate} % in it" in words
    assert "before tax with tax" in words
    assert "30.00 USD before tax at least" in words
    assert {it.with_tax for it in posted(price_list(some(shop), shop, DAY))} == {
        it.price for it in posted(price_list(some(shop), shop, DAY))
    }


def uncapped(it: PostedJob) -> str:
    return it.what[:1].lower() + it.what[1:]


def test_a_tax_on_parts_alone_is_told_and_changes_no_price(shop: Shop) -> None:
    parts = with_terms(shop, tax_parts=Decimal("0.07"))
    page = price_list(some(parts), parts, DAY)
    assert not page.taxed
    assert "parts bear 7 %" in text_of(page)
    assert [it.price for it in posted(page)] == [it.price for it in posted(price_list(some(shop), shop, DAY))]


def test_the_terms_are_the_shops_own_and_what_it_does_not_ask_for_is_not_said(shop: Shop) -> None:
    full = text_of(price_list(some(shop), shop, DAY))
    for words in (
        shop.terms.shop_name,
        shop.terms.shop_address,
        "30 Nov 2026",
        "no tax is added",
        "holds for 30 days",
        "30.00 USD at least",
        "35 % more on the whole price",
        "15 % more on that work",
        "90 days on our work",
        "Parts are extra",
        "In the price The look at it when it comes in, and what the work uses up.",
    ):
        assert words in full
    bare = with_terms(
        shop,
        shop_address="",
        shop_phone="",
        shop_email="",
        opening_hours="",
        rush=Decimal(1),
        own_part_labour=Decimal(1),
        minimum_charge=Decimal(0),
        bench_fee=Decimal(0),
        warranty_days=0,
        readjust_days=0,
        quote_valid_days=0,
    )
    page = price_list(some(bare), bare, DAY)
    assert page.shop_lines == ()
    assert [head for head, _ in page.terms] == [
        "“from”",
        "Extra",
        "In the price",
        "Together",
        "Quote",
        "Surprises",
    ]
    assert "0 days" not in text_of(page)
    lone = price_list(menu_of(shop, ("clean-controls",)), shop, DAY)
    assert {"“from”", "Extra"}.isdisjoint(head for head, _ in lone.terms)


def test_from_stands_before_what_depends_on_the_instrument_alone(
    shop: Shop, menu: tuple[MenuRow, ...]
) -> None:
    html = price_list_html(price_list(menu, shop, DAY), "A4")
    assert html.count("<small>from</small>") == sum(row.depends for row in menu)
    by_id = {row.job.id: row for row in menu}
    assert not by_id["restring-hardtail"].depends  # a set of strings goes on any of its kind alike
    assert not by_id["clean-controls"].depends
    assert by_id["set-up-hardtail"].depends  # nobody measured the nut and the relief
    assert by_id["pickup-one"].depends  # nor whether the pickup goes into its cavity


def test_of_a_job_beside_another_only_what_it_adds_counts(shop: Shop) -> None:
    """A set-up takes strings and rests on what nobody measured; cleaning the controls beside it does neither."""
    job = replace(shop.menu.jobs["clean-controls"], beside=("set-up",))
    own = replace(shop, menu=replace(shop.menu, jobs=MappingProxyType({job.id: job})))
    (row,) = menu_of(own)
    assert (row.depends, row.extra) == (False, ())
    assert held_against_quotes(own, [row]) == 1
    turned = replace(job, upgrades=("set-up",), beside=("clean-controls",))
    own = replace(shop, menu=replace(shop.menu, jobs=MappingProxyType({job.id: turned})))
    (row,) = menu_of(own)
    assert (row.depends, row.extra) == (True, ("strings",))
    jack = replace(job, upgrades=("set-up",), beside=("new-jack-standard",))
    own = replace(shop, menu=replace(shop.menu, jobs=MappingProxyType({job.id: jack})))
    assert menu_of(own)[0].extra == ("strings",)  # the jack is the other job's


def test_what_comes_on_top_is_named_of_the_job_itself(menu: tuple[MenuRow, ...]) -> None:
    extra = {row.job.id: row.extra for row in menu}
    assert extra["restring-hardtail"] == ("strings",)
    assert extra["nut-bone"] == ("parts", "strings")
    assert extra["jack"] == ("parts",)
    assert extra["clean-controls"] == ()
    assert extra["partial-refret-one"] == ("parts",)  # its strings are those of the level that it is added to


def test_jobs_stand_under_their_kind_of_work_in_the_order_of_the_table(
    shop: Shop, menu: tuple[MenuRow, ...]
) -> None:
    page = price_list(menu, shop, DAY)
    headings = [heading for heading, _ in page.groups]
    assert headings == list(dict.fromkeys(job.heading for job in shop.menu.jobs.values()))
    assert OTHER not in headings
    for heading, rows in page.groups:
        assert [uncapped(it) for it in rows] == [
            job.what for job in shop.menu.jobs.values() if job.heading == heading
        ]
    blank = [replace(row, job=replace(row.job, heading="")) if row.job.id == SOME[0] else row for row in menu]
    assert price_list(blank, shop, DAY).groups[-1][0] == OTHER


def test_a_job_that_is_added_to_another_says_so_whatever_its_words(shop: Shop) -> None:
    jobs = dict(shop.menu.jobs)
    jobs["partial-refret-one"] = replace(jobs["partial-refret-one"], what="one fret renewed")
    own = replace(shop, menu=replace(shop.menu, jobs=MappingProxyType(jobs)))
    (it,) = posted(price_list(menu_of(own, ("partial-refret-one",)), own, DAY))
    assert it.included.endswith("added to: all frets levelled, rounded and polished")


def test_words_of_the_shop_are_escaped_and_nothing_is_fetched(shop: Shop) -> None:
    job = replace(shop.menu.jobs["jack"], what=NASTY, heading=NASTY)
    own = with_terms(shop, shop_name=NASTY, shop_address=NASTY, currency="<b>")
    own = replace(own, menu=replace(own.menu, jobs=MappingProxyType({"jack": job})))
    html = price_list_html(price_list(menu_of(own), own, DAY), "A4")
    tree = read(html)
    assert "script" not in {tag for tag, _ in tree.tags}
    assert "".join(tree.words).count(NASTY) == 5  # title, name, address, heading, row
    assert not [attrs for _, attrs in tree.tags if {"src", "href", "action", "data"} & attrs.keys()]
    assert "url(" not in html
    assert "http" not in html
    html5lib.HTMLParser(strict=True).parse(html)


def test_another_currency_stands_in_every_sum_and_no_other(shop: Shop) -> None:
    crowns = with_terms(shop, currency="SEK")
    words = text_of(price_list(some(crowns), crowns, DAY))
    assert "USD" not in words
    assert "in SEK" in words
    assert "30.00 SEK" in words


def test_a_shop_of_its_own_with_few_jobs_and_dearer_hours(tmp_path: Path) -> None:
    row = {
        "id": "polish",
        "what": "frets polished bright",
        "upgrades": "polish-frets",
        "instrument": "kind=guitar-solid",
        "basis": "own",
    }
    write_shop(
        tmp_path / "own",
        {"menu_jobs": [row]},
        'shop_name = "Mine"\ncharge_per_hour = 90\n[basis]\nshop_name = "own"\ncharge_per_hour = "own"\n',
    )
    own = load_shop(tmp_path / "own")
    rows = menu_of(own, ("polish",))
    page = price_list([one for one in rows if one.job.id == "polish"], own, DAY)
    assert [heading for heading, _ in page.groups] == [OTHER]
    (it,) = posted(page)
    assert it.what == "Frets polished bright"
    assert it.included == ""  # the tables' words for it say no more
    (mine,) = (one for one in rows if one.job.id == "polish")
    assert it.price == figure(mine.price)
    assert held_against_quotes(own, [mine]) == 1
    assert "Mine" in text_of(page)


def test_a_menu_without_jobs_makes_no_list(shop: Shop) -> None:
    with pytest.raises(InputError, match="no job to put on a price list"):
        price_list((), shop, DAY)


def crowded(shop: Shop) -> PriceList:
    """Every job with names as long as they come, one of them a single word."""
    page = price_list(
        menu_of(shop, SOME), with_terms(shop, shop_name="W" * 90, tax_labour=Decimal("0.2")), DAY
    )
    long = tuple(
        (
            heading * 9,
            tuple(
                replace(it, what="M" * 120 if not n else it.what + " and more" * 30)
                for n, it in enumerate(rows)
            ),
        )
        for heading, rows in page.groups
    )
    return replace(page, groups=long)


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser that prints")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_default_menu_prints_to_two_sheets(shop: Shop, menu: tuple[MenuRow, ...], paper: str) -> None:
    taxed = with_terms(shop, tax_labour=Decimal("0.19"))
    for page, most in (
        (price_list(menu, shop, DAY), 2),
        (price_list(menu_of(taxed), taxed, DAY), 2),
        (price_list(some(shop), shop, DAY), 1),
    ):
        pdf = pdf_of(price_list_html(page, paper))
        assert max(int(n) for n in re.findall(rb"/Count (\d+)", pdf)) == most
