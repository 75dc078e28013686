"""What goes to a customer is searched whole for what stays in the shop: words, figures, ids; plants prove the search."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from html import unescape
from io import BytesIO
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import Choice, Study, make_choice_of
from estimator.choose.tools import make_named_or_best
from estimator.input.job.load import job_from, load_job
from estimator.model import Shop
from estimator.price.client.menu import CORE, MenuRow, menu_of
from estimator.report.page.html import page_html
from estimator.report.page.price_list import price_list, price_list_html
from estimator.report.page.record import customer_page
from estimator.tables.toml.text import parse_toml
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from tests.shops import default_shop

EXAMPLES = Path(__file__).parents[3] / "example_jobs"
PLANT = "zq{}plant"
"""A word that no table holds; what is planted says where it came from."""
BENCH_WORDS = (
    "surety",
    "mark-up",
    "markup",
    "overhead",
    "reserve",
    "rework",
    "hands-on",
    "desk work",
    "wage",
    "margin",
    "assumed",
    "not measured",
    "hidden fault",
    "donor",
    "minutes",
    "costing",
    "profit",
    "/home/",
    "/tmp/",
    "C:\\",
)
RULE = re.compile(r"\bR\d\d\b")
Row = TypeVar("Row")


def everything(data: bytes) -> str:
    """All that stands in a file: the source of a page; every part of a workbook, its names and properties too."""
    if not data.startswith(b"PK"):
        return unescape(data.decode())
    with zipfile.ZipFile(BytesIO(data)) as parts:
        return unescape(
            " ".join(
                part.filename + " " + parts.read(part).decode("utf-8", "replace")
                for part in parts.infolist()
                if not part.filename.endswith(("styles.xml", "theme1.xml"))
            )
        )


def words_of(text: str) -> str:
    """The text a reader sees, without the styles of a page and without the names of elements."""
    return re.sub(r"<[^>]*>", " ", re.sub(r"<style>.*?</style>", " ", text, flags=re.DOTALL))


def given_away(
    data: bytes, figures: Iterable[int], ids: Iterable[str], rates: Iterable[Decimal]
) -> list[str]:
    """What of the shop's own stands in a customer's file; figures in cents."""
    text = everything(data)
    seen = words_of(text)
    found = sorted(set(re.findall(PLANT.format(r"\w*"), text.lower())))
    found += [word for word in BENCH_WORDS if word.lower() in seen.lower()]
    found += RULE.findall(seen)
    numbers = {Decimal(n) for n in re.findall(r"(?<![\w.#-])\d+\.\d+(?![\w.%])", seen.replace(",", ""))}
    found += [str(Decimal(cents) / 100) for cents in figures if Decimal(cents) / 100 in numbers]
    found += [str(rate) for rate in rates if rate in numbers]
    found += [name for name in ids if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", seen)]
    return found


def planted(rows: Mapping[str, Row], where: str, *fields: str) -> Mapping[str, Row]:
    change: dict[str, Any] = dict.fromkeys(fields, PLANT.format(where))
    return MappingProxyType({name: replace(row, **change) for name, row in rows.items()})  # type: ignore[type-var]


@pytest.fixture(scope="module")
def shop() -> Shop:
    """A shop whose every word for the bench is a plant, and whose rates are like no price."""
    own = default_shop()
    kept = {name: row for name, row in own.consumables.items() if row.billed_as == "part"}
    consumables = {**planted(own.consumables, "consumable", "what", "pack"), **kept}
    terms = replace(
        own.terms, wage_per_hour=Decimal("61.37"), overhead_per_hour=Decimal("23.71"), surety=Decimal("83.5")
    )
    return replace(
        own,
        terms=terms,
        tasks=planted(own.tasks, "task", "what"),
        tools=planted(own.tools, "tool", "what"),
        consumables=MappingProxyType(consumables),
        hazards=planted(own.hazards, "hazard", "where", "harm", "controls", "never"),
        attributes=planted(own.attributes, "attribute", "what", "verified_by"),
    )


def with_planted_findings(study: Study) -> Study:
    verdicts = tuple(
        replace(v, findings=tuple(replace(f, sentence=PLANT.format("finding")) for f in v.findings))
        for v in study.verdicts
    )
    return replace(study, verdicts=verdicts)


Both = tuple[Choice, dict[str, Choice] | None]


def examples(shop: Shop) -> list[Both]:
    """The best set of an example, alone and with a lean offer beside it."""
    example = with_planted_findings(study_job(shop, load_job(EXAMPLES / "tight-commission.toml", shop)))
    best = make_named_or_best(example, ())
    lean = make_choice_of(example, [*best.estimate.chosen][:2])
    return [(best, None), (best, {"As wished": best, "Lean": lean})]


def by_name(shop: Shop) -> list[Both]:
    """Works that cut wood, and many works, on a plain guitar."""
    text = '[job]\nid = "plain"\nkind = "commission"\nreceived = 2026-10-05\n[instrument]\nkind = "guitar-solid"\n'
    plain = with_planted_findings(study_job(shop, job_from(parse_toml(text.encode(), "plain.toml"), shop)))
    fitting = [v.upgrade.id for v in plain.verdicts if v.outcome != "does-not-fit"]
    sets = (
        ("contour-heel", "heel-ferrules", "hardtail-bridge", "refinish-spray"),
        (
            "set-up",
            "nut-from-blank",
            "level-crown-polish",
            "new-tuners",
            "shield-paint",
            "new-jack",
            "satin-neck",
        ),
    )
    named = [[next(i for i in fitting if i.startswith(one)) for one in wanted] for wanted in sets]
    return [(make_choice_of(plain, ids), None) for ids in named]


def secrets(choice: Choice) -> tuple[list[int], list[str], list[Decimal]]:
    """Figures, ids and rates of the shop's own; small sums are left out, they may well be a price too."""
    shop, estimate = choice.study.shop, choice.estimate
    money = estimate.totals.money
    figures = [
        estimate.totals.cost,
        money.cost,
        money.labour,
        money.overhead,
        money.reserve,
        money.consumables,
        money.tools,
    ]
    figures += [line.money.labour for line in estimate.lines]
    shown = {part.price for part in estimate.parts} | {part.unit_price for part in estimate.parts}
    # what is used up beyond the fee is charged at cost, so that one figure may be both
    shown.add(choice.study.costing.price(estimate.totals.surety_min, money).fee)
    ids = [
        n for n in (*shop.tasks, *shop.upgrades, *shop.consumables, *shop.tools, *shop.attributes) if "-" in n
    ]
    words = {"set-up", "string-through", "hum-cancelling", "soap-bar"}
    rates = [shop.terms.wage_per_hour, shop.terms.overhead_per_hour, shop.terms.surety]
    return [f for f in figures if f >= 1000 and f not in shown], [i for i in ids if i not in words], rates


@pytest.mark.slow
def test_nothing_of_the_shops_own_is_in_a_customers_file(shop: Shop) -> None:
    searched = 0
    for choice, offers in (*examples(shop), *by_name(shop)):
        own = secrets(choice)
        assert len(own[0]) >= 3
        for data in (
            page_html(customer_page(choice, offers), "A4").encode(),
            customer_quote_bytes(choice, offers=offers),
        ):
            assert given_away(data, *own) == []
            searched += 1
    assert searched == 8


@pytest.mark.slow
def test_the_same_search_finds_it_all_in_the_shops_own_workbook(shop: Shop) -> None:
    choice, _ = by_name(shop)[0]  # the fit warns of some of its works
    figures, ids, rates = secrets(choice)
    found = given_away(quote_bytes(choice), figures, ids, rates)
    for where in ("task", "tool", "consumable", "hazard", "finding"):
        assert PLANT.format(where) in found
    assert str(Decimal(choice.estimate.totals.cost) / 100) in found
    assert {"61.37", "23.71"} <= set(found)
    assert "overhead" in found


@pytest.mark.parametrize("where", ["text", "formula", "name", "property", "title", "sheet", "footer"])
def test_a_plant_is_found_wherever_in_a_workbook_it_stands(where: str) -> None:
    word = PLANT.format(where)
    book = Book(word if where == "title" else "Quote", date(2026, 1, 1))
    sheet = book.sheet(
        Sheet(word if where == "sheet" else "Quote", (9,), footer=word if where == "footer" else "")
    )
    sheet.text(0, 0, word if where == "text" else "Price")
    if where == "formula":
        sheet.formula(1, 0, f'=IF(A1="{word}",1,0)', 0)
    if where == "name":
        book.name(word, sheet, 0, 0)
    if where == "property":
        book.property(word, "1")
    assert given_away(book.done(), (), (), ()) == [word]


@pytest.mark.slow
def test_a_plant_is_found_wherever_in_a_page_it_stands(shop: Shop) -> None:
    page = customer_page(by_name(shop)[1][0])
    figure = page.price.replace(",", "").partition(" ")[0]
    plants = (
        replace(page, headline=PLANT.format("head")),
        replace(page, notes=("The surety is good",)),
        replace(page, about="see R07"),
        replace(page, price_words="costs 448.18"),
        replace(page, shop_lines=("nut-blank-id",)),
    )
    found = [given_away(page_html(one, "A4").encode(), [44818], ["nut-blank-id"], []) for one in plants]
    assert found == [[PLANT.format("head")], ["surety"], ["R07"], ["448.18"], ["nut-blank-id"]]
    assert given_away(page_html(page, "A4").encode(), [int(Decimal(figure) * 100)], (), ()) == [figure]


def bench_of(rows: Iterable[MenuRow]) -> tuple[list[int], list[str]]:
    """What of the menu is the bench's alone, but for what is a price too: figures in cents, ids and reasons."""
    rows = tuple(rows)
    public = {row.price for row in rows} | {row.price + row.tax for row in rows} | {3000}
    figures = {value for row in rows for _, value in row.pieces}
    figures |= {value for row in rows if row.band for value in (row.band.low, row.band.middle, row.band.high)}
    figures |= {row.minutes for row in rows} | {row.with_set_up for row in rows if row.with_set_up}
    return [f for f in figures if abs(f) >= 1000 and f not in public], [
        row.job.id for row in rows if "-" in row.job.id
    ]


def test_nothing_of_the_shops_own_is_on_the_price_list(shop: Shop) -> None:
    """Hours, pieces of a price, what others post, reasons and ids; the same search finds each that is put in."""
    jobs = {
        name: replace(
            job, reason=PLANT.format("reason"), origin=replace(job.origin, file=PLANT.format("file"))
        )
        for name, job in shop.menu.jobs.items()
    }
    posted = {
        name: tuple(replace(row, list=PLANT.format("list"), source=PLANT.format("source")) for row in rows)
        for name, rows in shop.menu.posted.items()
    }
    own = replace(shop, menu=replace(shop.menu, jobs=jobs, posted=posted))
    rows = menu_of(own)
    figures, ids = bench_of(rows)
    ids += [name for name in (*own.tasks, *own.upgrades, *own.consumables) if "-" in name]
    ids = [name for name in ids if name not in ("set-up", "string-through")]
    rates = [
        own.terms.wage_per_hour,
        own.terms.overhead_per_hour,
        own.terms.surety,
        own.terms.charge_per_hour,
    ]
    assert len(figures) > 100
    page = price_list(rows, own, date(2026, 11, 30))
    assert given_away(price_list_html(page, "A4").encode(), figures, ids, rates) == []
    core = dict(rows[0].pieces)[CORE]
    heading, (first, *others) = page.groups[0]
    for words in (
        f"{Decimal(core) / 100:.2f}",
        "18 minutes",
        "hands-on",
        PLANT.format("reason"),
        rows[0].job.id,
    ):
        telling = replace(page, groups=((heading, (replace(first, included=words), *others)),))
        assert given_away(price_list_html(telling, "A4").encode(), [core], ids, rates) != [], words
