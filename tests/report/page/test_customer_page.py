"""The customer's page: what it says holds, what it must not say is not in it, and it is sound HTML."""

from __future__ import annotations

import base64
import random
import re
import zipfile
import zlib
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import load_shop, study_job
from estimator.choose.study import Choice, Study, make_choice, make_choice_of
from estimator.choose.verify.choice import day_done
from estimator.core.errors import InputError, Origin
from estimator.input.job.load import job_from, load_job
from estimator.model import Shop
from estimator.price.client.quote import quote_for, storage_with_tax
from estimator.price.client.ready import ready_of
from estimator.price.client.three_offers import three_offers
from estimator.report.page import pdf as printing
from estimator.report.page.html import page_html
from estimator.report.page.images import PHOTO_MOST, logo_uri
from estimator.report.page.outline import POINTS, ROW, outline_svg
from estimator.report.page.pdf import browser_there, office_there, pdf_of
from estimator.report.page.record import ChangeRow, CustomerPage, Done, customer_page, page_of
from estimator.report.page.room import PAPERS, SETTINGS, height_of, setting_for
from estimator.report.words.quote import storage_words
from estimator.tables.toml.text import parse_toml
from estimator.workbook.write.cells import Sheet
from estimator.workbook.write.chart_figures import offers_by_name
from estimator.workbook.write.customer_page import make_page
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.quote import LOGO_HIGH, PHOTO_HIGH, write_head
from estimator.workbook.write.style import text_width
from tests.shops import default_shop

EXAMPLES = Path(__file__).parents[3] / "example_jobs"
CUTS = ("contour-heel", "heel-ferrules", "hardtail-bridge", "refinish-spray")
MANY = (
    "set-up",
    "nut-from-blank",
    "level-crown-polish",
    "dress-fret-ends",
    "new-tuners",
    "shield-paint",
    "new-jack",
    "clean-controls",
    "polish-body",
    "satin-neck",
    "string-trees",
    "new-knobs",
    "firm-strap-buttons",
    "reseat-neck",
)
VOID = {"meta", "br", "link", "img", "input", "hr"}


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def named(shop: Shop, wanted: Iterable[str]) -> Choice:
    """The first upgrade that fits of each that is wanted, on a plain guitar."""
    text = '[job]\nid = "plain"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
    study = study_job(shop, job_from(parse_toml(text.encode(), "plain.toml"), shop))
    fitting = [v.upgrade.id for v in study.verdicts if v.outcome != "does-not-fit"]
    chosen = [next(name for name in fitting if name.startswith(one)) for one in wanted]
    return make_choice_of(study, chosen)


class Tree(HTMLParser):
    """Reads HTML; ``wrong`` holds what is not closed where it should be."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)


def read(html: str) -> Tree:
    tree = Tree()
    tree.feed(html)
    tree.close()
    assert tree.wrong == []
    assert tree.open == []
    return tree


def cents(text: str) -> int:
    return int(re.sub(r"[^0-9]", "", text))


def numbers_of(words: str) -> set[int]:
    """The numbers that an offer names: ``1, 3 to 5``."""
    found: set[int] = set()
    for part in words.split(", "):
        ends = [int(one) for one in part.split(" to ") if one.isdigit()]
        found |= set(range(ends[0], ends[-1] + 1)) if ends else set()
    return found


@pytest.mark.slow
def test_the_boxes_say_what_the_quote_comes_to(shop: Shop) -> None:
    study = study_job(shop, load_job(EXAMPLES / "tight-commission.toml", shop))
    made = three_offers(study)
    rest = made.resting()
    assert rest is not None
    page = customer_page(rest.choice, offers_by_name(made))
    assert cents(page.price) == rest.quote.to_pay
    assert cents(page.to_start) == rest.quote.deposit
    assert [cents(row.total) for row in page.offers] == sorted(
        (o.quote.to_pay for o in made.made), reverse=True
    )
    for work in page.done:  # nobody reads work of another offer as work of this price
        within = [row.name for row in page.offers if work.number in numbers_of(row.numbers)]
        assert work.only == ("" if len(within) == len(page.offers) else ", ".join(within).lower())
        assert (f"(only with: {work.only})" in page_html(page, "A4")) == bool(work.only)
    for row in page.offers:
        assert sum(cents(part) for part in (row.work, row.parts, row.materials, row.tax)) == cents(row.total)
    lean = next(row for row in page.offers if row.name == "The essentials")
    assert "hum stays: strong" in lean.stays
    assert {change.name for change in page.changes} >= {"Hum", "Height of the strings"}
    assert page.lasting == ()
    text = " ".join(" ".join(read(page_html(page, "A4")).words).split())
    for words in (page.price, "Thu 15 Oct", "no new holes, no wood cut", "☐ Everything you wished for"):
        assert words in text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("instrument", "wish", "upgrades", "change"),
    [
        ('br_type = "six-screw-trem"', "bridge-stability = 3", 'required = ["block-tremolo"]', "function"),
        ("twist = 0.9", "action = 2", "", "feel"),
        ("hum_grade = 1", "hum = 4", 'required = ["bridge-pickup-humbucker"]', "sound"),
    ],
)
def test_what_changes_of_its_kind_is_named_and_signed(
    shop: Shop, instrument: str, wish: str, upgrades: str, change: str
) -> None:
    text = (
        f'[job]\nid = "kind"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n{instrument}\n'
        f"[wish]\nrequire = {{ {wish} }}\n[upgrades]\n{upgrades}\n"
    )
    choice = make_choice(study_job(shop, job_from(parse_toml(text.encode(), "kind.toml"), shop)))
    page = customer_page(choice)
    told = shop.lasting.changes[change].told
    assert told
    (words,) = [words for words in page.lasting if words.startswith(told)]
    html = " ".join(" ".join(read(page_html(page, "A4")).words).split())
    assert "no new holes, no wood cut" not in html
    assert words in html
    for rule in choice.answer.changed:  # whatever the choice says it changes stands where the customer signs
        named_by = shop.lasting.changes[rule.of].told
        assert any(words.startswith(named_by) for words in page.lasting), rule.words


@pytest.mark.slow
def test_today_says_what_was_measured_and_nothing_that_was_not(shop: Shop) -> None:
    """Figures of a level give way to the measured ones, words keep them beside; what is assumed shows none."""
    text = (
        '[job]\nid = "high"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n{}'
        "[wish.require]\naction = 2\nfret-levelness = 2\nnut-function = 3\n"
    )

    def today(measured: str) -> dict[str, str]:
        study = study_job(metric, job_from(parse_toml(text.format(measured).encode(), "high.toml"), metric))
        return {change.name: change.today for change in customer_page(make_choice(study)).changes}

    metric = replace(shop, terms=replace(shop.terms, lengths="mm"))
    height, frets, nut = "Height of the strings", "Evenness of the frets", "How the nut works"
    flat = "fret_uneven = 0.03\nnut_clear_b = 0.4\nnut_clear_t = 0.3\n"
    found = today("action_b = 2.9\naction_t = 2.3\nfret_uneven = 0.1\nnut_clear_b = 0.95\n")
    assert found[height] == "2.9 mm thick string / 2.3 mm thin"
    assert found[frets] == "a little uneven (0.1 mm)"
    assert found[nut] == "too high over the first fret (0.95 mm)"
    assert today("action_b = 2.9\n" + flat)[height] == "2.9 mm thick string"
    assert "mm)" not in " ".join(today("").values())
    # uneven frets hold the level lower than the height that was measured would tell
    assert today("action_b = 1.9\naction_t = 1.5\nfret_uneven = 0.2\n")[height] == "above 2.4 mm"


def test_what_cannot_be_undone_is_named_and_signed(shop: Shop) -> None:
    page = customer_page(named(shop, CUTS))
    assert any("ferrules are bored" in words for words in page.lasting)
    assert "Wood is taken off the body" in page.lasting
    html = page_html(page, "Letter")
    assert "I know this and want it done" in html
    assert "size: Letter" in html
    assert all(words in html for words in page.lasting if "'" not in words)
    assert "I know this" not in page_html(customer_page(named(shop, ["clean-controls"])), "A4")


def test_no_cost_no_id_and_no_note_of_the_bench_is_on_any_page(shop: Shop) -> None:
    """Ids with a dash, costs, sureties and words that only the bench uses, over whole files."""
    ids = {name for name in (*shop.tasks, *shop.upgrades, *shop.consumables, *shop.attributes) if "-" in name}
    looked = 0
    for ids_chosen in (CUTS, MANY, ("set-up",)):
        choice = named(shop, ids_chosen)
        html = page_html(customer_page(choice), "A4")
        body = html.partition("<body>")[2]
        words = " ".join(read(html).words)
        assert not {name for name in ids if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", words)} - {
            "set-up",
            "string-through",
            "hum-cancelling",
            "soap-bar",
        }
        totals = choice.estimate.totals
        for figure in (totals.cost, totals.money.labour, totals.money.reserve):
            assert f"{figure / 100:.2f}" not in body
        for word in ("surety", "markup", "mark-up", "R1", "shop only", "floor", "hands-on", "rework"):
            assert word not in body
        looked += len(choice.estimate.chosen)
    assert looked >= 15


def test_words_of_the_job_are_escaped_and_nothing_is_fetched(shop: Shop) -> None:
    nasty = '<script>alert("x")</script> & "q"'
    text = f"""
[job]
id = "nasty"
kind = "commission"
what = '{nasty}'
customer = '{nasty}'
make = '{nasty}'
[instrument]
kind = "bass-solid"
"""
    study = study_job(shop, job_from(parse_toml(text.encode(), "nasty.toml"), shop))
    html = page_html(customer_page(make_choice_of(study, ["set-up"])), "A4")
    tree = read(html)
    assert "script" not in {tag for tag, _ in tree.tags}
    assert nasty in "".join(tree.words)
    fetched = {"src", "href", "action", "srcset", "data"}
    assert not [attrs for _, attrs in tree.tags if fetched & attrs.keys()]
    assert "url(" not in html
    assert "http" not in html


def test_fourteen_upgrades_are_numbered_without_gaps(shop: Shop) -> None:
    page = customer_page(named(shop, MANY))
    assert [work.number for work in page.done] == list(range(1, len(page.done) + 1))
    assert len(page.done) >= 10
    assert page.offers[0].numbers == f"1 to {len(page.done)}"
    assert all(work.mark for work in page.done)


@pytest.mark.parametrize("kind", sorted(POINTS))
def test_numbers_on_the_outline_do_not_lie_on_each_other(kind: str) -> None:
    drawn = outline_svg(
        kind, 5, ("pickup-neck",), [(n, mark) for n, mark in enumerate(POINTS[kind], start=1)]
    )
    spots: dict[float, list[float]] = {}
    for x, y in re.findall(r'<text x="([\d.]+)" y="([\d.]+)"', drawn):
        spots.setdefault(float(x), []).append(float(y))
    assert sum(map(len, spots.values())) == len(POINTS[kind])
    for column in spots.values():
        assert all(b - a >= ROW - 0.011 for a, b in zip(sorted(column), sorted(column)[1:], strict=False))
        assert 0 < min(column) < max(column) < 99


@pytest.mark.slow
def test_ready_is_never_before_the_work_can_be_done_and_the_queue_puts_it_off(shop: Shop) -> None:
    job = load_job(EXAMPLES / "tight-commission.toml", shop)
    study = study_job(shop, job)
    choice = make_choice(study, "price,cost", explain=False)
    came = date.fromisoformat(job.received)
    ready = ready_of(study, choice.estimate, came)
    assert ready.day is not None
    assert ready.days == (ready.day - came).days
    assert ready.days >= ready.queue_days
    if study.problem.clock is not None:
        assert ready.days >= day_done(study.problem, choice.estimate.chosen)

    busy = replace(shop, terms=replace(shop.terms, queue_days=shop.terms.queue_days + 7))
    later = ready_of(study_job(busy, job), choice.estimate, came)
    assert later.day is not None
    assert later.day >= ready.day + timedelta(days=6)
    assert ready_of(study, choice.estimate, None).day is None


@pytest.mark.parametrize(
    ("lengths", "place", "read"),
    [
        ("mm", "US", "2.7 mm thick string / 2.3 mm thin"),
        ("", "NZ", "2.7 mm thick string / 2.3 mm thin"),
        ("country", "US", "0.106 in thick string / 0.091 in thin"),
        ("in", "NZ", "0.106 in thick string / 0.091 in thin"),
    ],
)
def test_levels_on_a_bass_are_those_of_a_bass_as_people_there_read_them(
    shop: Shop, lengths: str, place: str, read: str
) -> None:
    shop = replace(shop, terms=replace(shop.terms, lengths=lengths, menu_place=place))
    text = '[job]\nid = "low"\nkind = "commission"\n[instrument]\nkind = "bass-solid"\naction_b = 3.6\naction_t = 3.2\nnut_clear_b = 0.7\nsaddle_down = 3\nfret_uneven = 0.06\n[wish.require]\naction = 2\n'
    study = study_job(shop, job_from(parse_toml(text.encode(), "low.toml"), shop))
    page = customer_page(make_choice(study, "price,cost", explain=False))
    (row,) = [row for row in page.changes if row.name == "Height of the strings"]
    assert row.afterwards == read
    now = "3.6 mm thick string / 3.2 mm thin" if "mm" in read else "0.142 in thick string / 0.126 in thin"
    assert row.today == now
    assert page.outline == "bass"


def sheets_of(page: CustomerPage, paper: str) -> int:
    pdf = pdf_of(page_html(page, paper))
    assert pdf.startswith(b"%PDF")
    return max(int(n) for n in re.findall(rb"/Count (\d+)", pdf))


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser that prints")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_page_prints_to_one_sheet(shop: Shop, paper: str) -> None:
    """The examples, alone and with their offers; wood that is cut; fourteen upgrades."""
    pages = [customer_page(named(shop, CUTS)), customer_page(named(shop, MANY))]
    for name in ("tight-commission", "school-guitar"):
        made = three_offers(study_job(shop, load_job(EXAMPLES / f"{name}.toml", shop)))
        rest = made.resting()
        assert rest is not None
        pages += [customer_page(rest.choice), customer_page(rest.choice, offers_by_name(made))]
    assert [sheets_of(page, paper) for page in pages] == [1] * len(pages)


@pytest.mark.slow
@pytest.mark.skipif(office_there() is None, reason="no office program that prints")
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheets_print_to_one_page(shop: Shop, paper: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What prints to one sheet as a page does so as a workbook."""
    books = [partial(customer_quote_bytes, named(shop, some), paper=paper) for some in (CUTS, MANY)]
    for name in ("tight-commission", "school-guitar"):
        made = three_offers(study_job(shop, load_job(EXAMPLES / f"{name}.toml", shop)))
        rest = made.resting()
        assert rest is not None
        books += [
            partial(customer_quote_bytes, rest.choice, paper=paper, offers=offers)
            for offers in (None, offers_by_name(made))
        ]
    monkeypatch.setattr(printing, "browser_there", lambda: None)
    assert [len(re.findall(rb"/Type\s*/Page\b", pdf_of("", one))) for one in books] == [1] * len(books)


def test_a_long_line_of_whose_instrument_it_is_runs_on_below(shop: Shop) -> None:
    page = make_page(*_study_and_set(shop))
    page = replace(page, record=replace(page.record, about="A. Customer of a long name · " * 9))
    sheet = Sheet("Quote", (14, 44, 9, 17, 13))
    write_head(sheet, page.record, 4)
    texts = [cell.content for cell in sheet._cells.values() if cell.kind == "text"]
    assert sum("A. Customer" in text for text in texts) > 1
    assert all(text_width(text, 9) <= 7 * sum(sheet.widths) for text in texts if "A. Customer" in text)


def _study_and_set(shop: Shop) -> tuple[Study, tuple[str, ...]]:
    choice = named(shop, MANY[:2])
    return choice.study, choice.estimate.chosen


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser that prints")
def test_what_is_said_to_fit_one_sheet_does(shop: Shop) -> None:
    """Pages drawn of many works, changes, notes and long names: none runs over where it is said to fit."""
    draw = random.Random(19)
    base = customer_page(named(shop, MANY[:4]))
    words = [
        "worn",
        "frets",
        "levelled",
        "and",
        "polished,",
        "ends",
        "rounded,",
        "strings",
        "of",
        "your",
        "choice",
        "fitted",
        "and",
        "tuned",
    ]

    def text(most: int) -> str:
        return " ".join(draw.choices(words, k=draw.randint(1, most)))

    fitting = 0
    for _ in range(8):
        page = replace(
            base,
            headline=text(9),
            done=tuple(
                Done(n, text(9), (text(9),) * draw.randint(0, 1), "") for n in range(1, draw.randint(3, 18))
            ),
            changes=tuple(ChangeRow(text(4), text(5), True, text(6), 2) for _ in range(draw.randint(0, 8))),
            notes=tuple(text(20) for _ in range(draw.randint(0, 3))),
            lasting=tuple(text(12) for _ in range(draw.randint(0, 6))),
        )
        paper = draw.choice(("A4", "Letter"))
        closest = min(height_of(page, paper, it) for it in SETTINGS)
        if closest <= PAPERS[paper][1]:
            fitting += 1
            assert sheets_of(page, paper) == 1
    assert fitting >= 4


def test_a_longer_page_is_set_closer_and_one_that_never_fits_is_not(shop: Shop) -> None:
    page = customer_page(named(shop, ["set-up"]))
    long = replace(page, done=page.done * 12, notes=("A remark that takes a line of its own",) * 8)
    endless = replace(page, done=page.done * 90)
    assert [setting_for(one, "Letter") for one in (page, long, endless)] == ["", "tight", ""]
    tall = [height_of(long, "A4", it) for it in SETTINGS]
    assert tall == sorted(tall, reverse=True)


def test_page_and_workbook_bear_the_same_number(shop: Shop) -> None:
    text = '[job]\nid = "low"\nkind = "commission"\n{more}[instrument]\nkind = "bass-solid"\n'
    for more, number in (('number = "2026-031"\n', "2026-031"), ("", "low")):
        study = study_job(shop, job_from(parse_toml(text.replace("{more}", more).encode(), "low.toml"), shop))
        choice = make_choice_of(study, ["set-up"])
        assert (
            customer_page(choice).number == make_page(study, choice.estimate.chosen).record.number == number
        )


def test_what_rush_and_storage_come_to_stands_beside_the_price(shop: Shop) -> None:
    """The figures on the page add up: to start, then the rest with storage in it, the look at the bench off."""
    text = (
        '[job]\nid = "soon"\nkind = "commission"\nreceived = 2026-09-07\n[instrument]\nkind = "guitar-solid"\n'
        "[terms]\nrush = true\nstored_days = 40\nbench_fee_paid = true\n"
    )
    study = study_job(shop, job_from(parse_toml(text.encode(), "soon.toml"), shop))
    choice = make_choice_of(study, ["set-up"])
    page, quote = customer_page(choice), quote_for(study, choice.estimate.chosen)
    assert quote.steps.rush > 0
    assert any(
        f"{quote.steps.rush / 100:.2f} USD of the price is for doing it ahead" in t for t in page.notes
    )
    collection = dict(page.terms)["Collection"]
    for cents_of in (
        quote.dues.on_collection,
        quote.dues.storage + quote.dues.storage_tax,
        quote.dues.credit,
    ):
        assert f"{cents_of / 100:.2f} USD" in collection
    assert quote.to_pay + quote.dues.storage + quote.dues.storage_tax - quote.dues.credit == (
        quote.deposit + quote.dues.on_collection
    )
    slow = replace(study, shop=replace(shop, terms=replace(shop.terms, queue_days=90)))
    assert ready_of(slow, choice.estimate, date(2026, 9, 7)).queue_days == 0


def test_storage_is_told_with_its_tax_where_it_is_taxed(shop: Shop) -> None:
    """A day that is told without its tax comes out dearer on the bill than on the page that was signed."""
    for rate, said in (("0", "then 2.00 USD a day."), ("0.08", "then 2.00 USD and its tax a day.")):
        terms = replace(shop.terms, tax_labour=Decimal(rate))
        taxed = storage_with_tax(terms.storage_free_days + 1, terms) > terms.storage_per_day * 100
        assert taxed == ("tax" in said)
        choice = named(replace(shop, terms=terms), ["set-up"])
        assert said in dict(customer_page(choice).terms)["Collection"]
        assert said.removesuffix(".") in storage_words(terms)


def test_a_fault_that_is_left_is_told_and_one_that_is_mended_is_not(shop: Shop) -> None:
    text = (
        '[job]\nid = "left"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\ndc_ohm_bridge = 0\n'
        'jack_state = "loose"\n[wish]\nrequire = { output-jack = 3 }\n'
    )
    study = study_job(shop, job_from(parse_toml(text.encode(), "left.toml"), shop))
    dead, loose = "the bridge pickup is dead", "the jack is loose"
    page = page_of(study, ("new-jack-economy",))
    assert f"Seen, and left as it is: {dead}" in page.notes
    assert not any(loose in note for note in page.notes)
    words = " ".join(" ".join(read(page_html(page, "A4")).words).split())
    assert dead in words
    assert "dc_ohm" not in words
    offers = {
        "Lean": ("new-jack-economy",),
        "As wished": ("new-jack-economy", "bridge-pickup-single-economy"),
    }
    beside = page_of(study, offers["As wished"], offers)
    assert f"Seen, and left as it is by “The essentials”: {dead}" in beside.notes
    assert not any(dead in note for note in page_of(study, offers["As wished"]).notes)


POSTS = (
    '[job]\nid = "posts"\nkind = "commission"\nreceived = "2026-09-07"\n[instrument]\nkind = "guitar-semi"\n'
    'br_type = "post-and-tailpiece"\nposts_pulling = "yes"\n[wish]\nrequire = { output-jack = 3 }\n'
)


@pytest.mark.slow
def test_each_offer_says_what_it_changes_for_good_and_when_it_is_ready(shop: Shop) -> None:
    study = study_job(shop, job_from(parse_toml(POSTS.encode(), "posts.toml"), shop))
    fitting = [v.upgrade for v in study.verdicts if v.outcome != "does-not-fit"]
    small = ("new-jack-economy",)
    cutting, seen = 0, 0
    for upgrade in fitting:
        if upgrade.id in small or upgrade.row.needs_any or upgrade.row.needs_all:
            continue
        offers = {"Within budget": small, "As wished": (*small, upgrade.id)}
        page = page_of(study, small, offers)
        alone = page_of(study, offers["As wished"])
        assert page.lasting == tuple(
            f"{words} — only with “Everything you wished for”" for words in alone.lasting
        )
        assert page.ready_words.startswith("the most for your budget: ")
        assert {row.name: row.ready for row in page.offers} == {
            "Everything you wished for": alone.ready,
            "The most for your budget": page.ready,
        }
        assert [row.ready for row in alone.offers] == [""]
        assert page.changes_with == "the most for your budget"
        both = page_of(study, offers["As wished"], {**offers, "Lean": offers["As wished"]})
        assert all(
            words.endswith("only with “Everything you wished for”, “The essentials”")
            for words in both.lasting
        )
        seen += alone.ready != page.ready
        if alone.lasting and not cutting:
            html = " ".join(" ".join(read(page_html(page, "A4")).words).split())
            assert "no new holes, no wood cut" not in html
            assert all(words in html for words in page.lasting)
            assert f"; ready {alone.ready})" in html
        cutting += bool(alone.lasting)
        if cutting >= 5 and seen >= 5:
            break
    assert cutting >= 5
    assert seen >= 5


DOT = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
MARK = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><style>.a{fill:#123}</style><path class="a" d="M0 0h9v9z"/>%s</svg>'
UNSAFE = (
    "<script>alert(1)</script>",
    '<g onload="alert(1)"/>',
    '<image href="https://example.org/a.png"/>',
    '<a xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="javascript:alert(1)"><path/></a>',
    '<rect style="fill:url(http://example.org/x)"/>',
    "<style>@import 'x.css';</style>",
    "<foreignObject><body xmlns='http://www.w3.org/1999/xhtml'/></foreignObject>",
    "<SCRIPT/>",
    '<g ONCLICK="x"/>',
    "<style>a{b:url( 'https://example.org')}</style>",
    "<g>",
)


def with_pictures(folder: Path, photo: str, logo: str) -> CustomerPage:
    return customer_page(chosen_with_pictures(folder, photo, logo))


def chosen_with_pictures(folder: Path, photo: str, logo: str) -> Choice:
    """A set-up of a job file in ``folder`` that names pictures beside it, of a shop with its own beside it."""
    theirs = folder / "own"
    theirs.mkdir(exist_ok=True)
    named_logo = f'shop_logo = "{logo}"\n[basis]\nshop_logo = "demo"\n' if logo else ""
    (theirs / "shop.toml").write_text(named_logo, encoding="utf-8")
    named_photo = f'photo = "{photo}"\n' if photo else ""
    job = folder / "job.toml"
    job.write_text(
        f'[job]\nid = "seen"\nkind = "commission"\n{named_photo}[instrument]\nkind = "guitar-solid"\n',
        encoding="utf-8",
    )
    own = load_shop(theirs)
    return make_choice_of(study_job(own, load_job(job, own)), ["set-up"])


def test_photo_and_logo_stand_in_the_page_itself(tmp_path: Path) -> None:
    (tmp_path / "front.png").write_bytes(DOT)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "mark.svg").write_text(MARK % "", encoding="utf-8")
    page = with_pictures(tmp_path, "front.png", "mark.svg")
    held = [attrs for tag, attrs in read(page_html(page, "A4")).tags if tag == "img"]
    assert [(attrs["src"] or "").partition(",")[0] for attrs in held] == [
        "data:image/svg+xml;base64",
        "data:image/png;base64",
    ]
    assert base64.b64decode((held[1]["src"] or "").partition(",")[2]) == DOT
    assert "<svg" not in page_html(page, "A4").partition("<body>")[2]  # the photo in place of the outline
    plain = page_html(with_pictures(tmp_path, "", ""), "A4")
    assert "<img" not in plain
    assert "<svg" in plain


def test_photo_and_logo_stand_on_the_sheets_too(tmp_path: Path) -> None:
    """Each at its own shape, within its box, whatever size on paper is written into it."""
    dots = b"\x00\x00\x0b\x13\x00\x00\x0b\x13\x01"  # 2,835 to the metre: 72 to the inch
    phys = (9).to_bytes(4, "big") + b"pHYs" + dots + zlib.crc32(b"pHYs" + dots).to_bytes(4, "big")
    for name, data in (("front.png", DOT), ("back.png", DOT[:33] + phys + DOT[33:])):
        (tmp_path / name).write_bytes(data)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "mark.png").write_bytes(DOT)
    choice = chosen_with_pictures(tmp_path, 'front.png"\nphoto_2 = "back.png', "mark.png")
    sides = []
    for data in (quote_bytes(choice), customer_quote_bytes(choice)):
        drawing = zipfile.ZipFile(BytesIO(data)).read("xl/drawings/drawing1.xml").decode()
        sides += [(int(x), int(y)) for x, y in re.findall(r'<a:ext cx="(\d+)" cy="(\d+)"/>', drawing)]
        rows = re.findall(r"<xdr:from>.*?<xdr:row>(\d+)<", drawing)
        assert len(rows) == 3
        assert len(set(rows)) == 2  # the logo above, the photos side by side
    assert all(wide == high for wide, high in sides)  # a square stays one
    assert {high // 9525 for _, high in sides} == {LOGO_HIGH, PHOTO_HIGH}
    assert quote_bytes(choice) == quote_bytes(choice)


@pytest.mark.parametrize("many", [1, 2, 3])
def test_one_photo_takes_the_place_of_the_outline_and_several_stand_side_by_side(
    tmp_path: Path, many: int
) -> None:
    (tmp_path / "front.png").write_bytes(DOT)
    more = "".join(f'\nphoto_{n} = "front.png' + '"' * (n < many) for n in range(2, many + 1))
    page = with_pictures(tmp_path, "front.png" + '"' * (many > 1) + more, "")
    tags = read(page_html(page, "A4")).tags
    assert sum(tag == "img" for tag, _ in tags) == many
    assert any(tag == "svg" for tag, _ in tags) == (many > 1)
    assert sum(dict(attrs).get("class") == "number" for _, attrs in tags) == len(page.done)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (None, "there is no such picture"),
        (DOT[:-20], "cut off"),
        (b"GIF89a" + bytes(40), "none of those that can be shown"),
        (b"<svg/>", "SVG"),
        (DOT[:-12] + bytes(PHOTO_MOST) + DOT[-12:], "too large"),
    ],
)
def test_a_picture_that_cannot_be_shown_is_named(tmp_path: Path, data: bytes | None, said: str) -> None:
    if data is not None:
        (tmp_path / "front.png").write_bytes(data)
    with pytest.raises(InputError) as error:
        with_pictures(tmp_path, "front.png", "")
    assert said in str(error.value)
    assert "[job] photo" in str(error.value)


@pytest.mark.slow
@pytest.mark.skipif(browser_there() is None, reason="no browser that prints")
def test_a_page_with_a_large_photo_prints_to_one_sheet(tmp_path: Path) -> None:
    wide, high = 900, 1600
    rows = b"".join(b"\0" + random.Random(row).randbytes(wide) for row in range(high))

    def chunk(name: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")

    head = wide.to_bytes(4, "big") + high.to_bytes(4, "big") + bytes((8, 0, 0, 0, 0))
    photo = DOT[:8] + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    assert len(photo) > 1_000_000
    (tmp_path / "front.png").write_bytes(photo)
    page = with_pictures(tmp_path, "front.png", "")
    assert sheets_of(page, "Letter") == 1
    assert len(pdf_of(page_html(page, "Letter"))) > 500_000  # it is in it


def test_a_drawing_that_is_more_than_a_picture_is_refused(tmp_path: Path) -> None:
    logo = tmp_path / "mark.svg"
    for more in UNSAFE:
        logo.write_text(MARK % more, encoding="utf-8")
        with pytest.raises(InputError, match="more than a picture"):
            logo_uri(str(logo), Origin("shop.toml"))
    logo.write_text('<!DOCTYPE svg [<!ENTITY a "b">]>' + MARK % "&a;", encoding="utf-8")
    with pytest.raises(InputError, match="more than a picture"):
        logo_uri(str(logo), Origin("shop.toml"))
    logo.write_text(MARK % '<use href="#a"/><rect fill="url(#b)"/>', encoding="utf-8")
    assert logo_uri(str(logo), Origin("shop.toml")).startswith("data:image/svg")
    assert logo_uri("", Origin("shop.toml")) == ""


def test_a_wish_that_is_met_by_a_guess_alone_is_not_passed_over(shop: Shop) -> None:
    """Who asks for less hum and reads a quote without a word on it takes it for promised, or forgotten."""
    for known, told in (("", True), ("hum_grade = 3", False)):
        text = (
            'job = { id = "hums", kind = "commission", what = "it hums" }\n[instrument]\nkind = "bass-solid"\n'
            f"{known}\n[wish]\nrequire = {{ action = 2, hum = 3 }}\n"
        )
        study = study_job(shop, job_from(parse_toml(text.encode(), "hums.toml"), shop))
        page = page_of(study, ("set-up",))
        assert any(change.name == "Height of the strings" for change in page.changes)
        about = [note for note in page.notes if note.endswith("we measure it first: Hum")]
        assert [note.startswith("Wished for, and by our guess so already") for note in about] == [True] * told
