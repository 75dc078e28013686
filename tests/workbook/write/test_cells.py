"""The form of the workbooks: no formula without a value, safe text, same bytes, nothing given away, one page."""

from __future__ import annotations

import io
import random
import re
import shutil
import subprocess
import zipfile
from datetime import date
from decimal import Decimal
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
from msgspec.structs import replace
from openpyxl import Workbook, load_workbook

from estimator.choose.study import Study
from estimator.core.cell_text import FUNCTIONS, UnsafeTextError, a1, check_formula, clean_text, plain_number
from estimator.core.errors import InputError
from estimator.workbook.write import cells as cells_module
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.style import lines_needed, money_format, money_in_words
from tests.workbook.recalculate import cells_of, formulas_in, formulas_of, recalculated, spreadsheet_program

HOSTILE = [
    "=1+1",
    '=HYPERLINK("http://x.example","click")',
    "{=SUM(A1:A9)}",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    " =1+1",
    "\uff1d1+1",
    "=cmd|' /C calc'!A0",
    "http://x.example",
    "mailto:a@x.example",
    "internal:Costing!A1",
    "external:c:\\x.xlsx",
    "#N/A",
    "#REF!",
    "TRUE",
    "00451",
    "1/2",
    "12.5",
    "3e5",
    "&D&P&20 Smith & Sons",
    "<b>&amp;</b>",
    "a\x01b\x02",
    "_x0041_",
    "\u202egnirts",
    "\u2066x\u2069",
    "'=1+1",
    "x" * 40_000,
    "]]>",
    "line\nbreak",
    "\ud800lone",
]


def parts_of(data: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return {name: book.read(name).decode("utf-8") for name in book.namelist()}


@pytest.fixture
def busy(studies: dict[str, Study], chosen: dict[str, tuple[str, ...]]) -> tuple[Study, tuple[str, ...]]:
    return studies["tight-commission"], chosen["tight-commission"]


@pytest.mark.slow
def test_no_formula_stands_without_its_value(busy: tuple[Study, tuple[str, ...]], tmp_path: Path) -> None:
    study, chosen = busy
    for data in (quote_bytes(study, chosen=chosen), customer_quote_bytes(study, chosen=chosen)):
        formulas = 0
        for name, xml in parts_of(data).items():
            if name.startswith("xl/worksheets/sheet"):
                formulas += xml.count("<f>")
                assert not re.search(r"</f></c>|</f><v></v>|</f><v/>", xml), name
        path = tmp_path / "q.xlsx"
        path.write_bytes(data)
        values = cells_of(path)
        missing = [place for place in formulas_of(path) if place not in values]
        assert formulas > 3
        assert missing == []


def test_formulas_keep_to_the_functions_that_every_program_has(
    busy: tuple[Study, tuple[str, ...]], tmp_path: Path
) -> None:
    path = tmp_path / "q.xlsx"
    path.write_bytes(quote_bytes(busy[0], chosen=busy[1]))
    names = set()
    for formula in formulas_of(path).values():
        names |= set(re.findall(r"([A-Z][A-Z0-9.]*)\(", formula))
        assert "_xlfn" not in formula
        assert "[" not in formula
    assert {"ROUND", "SUMIFS", "SUMPRODUCT", "ROUNDUP"} <= names <= FUNCTIONS


def test_the_library_would_write_no_listed_function_under_another_name() -> None:
    """Formulas are written as they are; a function that newer programs name otherwise may not come into the list."""
    import xlsxwriter

    formulas = [f"={name}(A1,B2)" for name in sorted(FUNCTIONS)] + ["=SORT(A1:A3)"]
    target = io.BytesIO()
    book = xlsxwriter.Workbook(target, {"in_memory": True})
    sheet = book.add_worksheet("s")
    for row, formula in enumerate(formulas):
        sheet.write_formula(row, 3, formula)
    book.close()
    with zipfile.ZipFile(target) as packed:
        written = re.findall(r"<f[^>]*>([^<]*)</f>", packed.read("xl/worksheets/sheet1.xml").decode())
    assert [f"={formula}" for formula in written[:-1]] == formulas[:-1]
    assert written[-1] == "_xlfn._xlws.SORT(A1:A3)", "what it looks for is told no more by this"


def test_a_formula_outside_the_list_is_refused() -> None:
    for formula in (
        "=TODAY()",
        "=INDIRECT(A1)",
        "=XLOOKUP(1,A1:A2,B1:B2)",
        "1+1",
        "=[other.xlsx]One!A1",
        "=cmd|'x'!A0",
    ):
        with pytest.raises(UnsafeTextError):
            check_formula(formula)
    check_formula('=IF(A1>0,"TODAY(",ROUND(A1,2))')


def test_numbers_that_are_none_are_refused() -> None:
    for value in (float("nan"), float("inf"), Decimal("NaN"), Decimal("Infinity")):
        with pytest.raises(UnsafeTextError):
            plain_number(value)
    assert plain_number(Decimal("12.30")) == 12.3
    assert str(plain_number(-0.0)) == "0"


def test_a_text_too_many_for_a_cell_is_cut_with_a_mark() -> None:
    assert clean_text("x" * 40_000).endswith("[…]")
    assert len(clean_text("x" * 40_000)) == 32_767
    assert clean_text("a\x01b\x7f\u202ec\td\r\ne") == "abc d\ne"


def hostile_job(study: Study, text: str) -> Study:
    job = replace(study.job, what=text, customer=text, id=text, received="2026-03-02")
    terms = replace(study.shop.terms, shop_name=text, currency=text)
    shop = replace(study.shop, terms=terms)
    return replace(study, job=job, shop=shop)


def formulas_by_column(book: Workbook) -> list[str]:
    """Formulas without the numbers of their rows: a long text takes more lines, and moves what stands below it."""
    return [re.sub(r"\b([A-Z]{1,2})\d+\b", r"\1", one) for one in formulas_in(book).values()]


@pytest.fixture(scope="module")
def plain_formulas(studies: dict[str, Study], chosen: dict[str, tuple[str, ...]]) -> list[list[str]]:
    """Those of both books of the busy job with the words that it has."""
    study, some = studies["tight-commission"], chosen["tight-commission"]
    return [
        formulas_by_column(load_workbook(io.BytesIO(make(study, chosen=some)), keep_links=False))
        for make in (quote_bytes, customer_quote_bytes)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(
    busy: tuple[Study, tuple[str, ...]], text: str, plain_formulas: list[list[str]]
) -> None:
    study, chosen = busy
    hostile = hostile_job(study, text)
    for make, expected in zip((quote_bytes, customer_quote_bytes), plain_formulas, strict=True):
        data = make(hostile, chosen=chosen)
        parts = parts_of(data)
        assert not [n for n in parts if "externalLink" in n or "comments" in n]
        assert "<hyperlink" not in "".join(parts.values())
        book = load_workbook(io.BytesIO(data), keep_links=False)
        assert formulas_by_column(book) == expected
        cell = book["Quote"]["A1"]
        wanted = clean_text(text)
        if wanted:
            assert cell.data_type == "s"
            assert cell.number_format == "@"
            assert cell.value == wanted or cell.value == re.sub(r"^\s+|\s+$", "", wanted) or "_x" in wanted
        (footer,) = re.findall(r"<oddFooter>(.*?)</oddFooter>", parts["xl/worksheets/sheet1.xml"], re.DOTALL)
        left = unescape(footer).split("&8", 1)[1].split("&R&", 1)[0]
        assert "&" not in left.replace("&&", "")


@pytest.mark.slow
def test_hostile_text_survives_another_program(busy: tuple[Study, tuple[str, ...]], tmp_path: Path) -> None:
    study, chosen = busy
    files = []
    texts = HOSTILE[:16]
    for number, text in enumerate(texts):
        path = tmp_path / f"h{number}.xlsx"
        path.write_bytes(customer_quote_bytes(hostile_job(study, text), chosen=chosen))
        files.append(path)
    for text, again in zip(texts, recalculated(files, tmp_path / "again"), strict=True):
        cell = load_workbook(again)["Quote"]["A1"]
        assert cell.data_type == "s"
        assert str(cell.value).strip() == clean_text(text).strip()


@pytest.mark.slow
def test_the_same_input_gives_the_same_bytes(busy: tuple[Study, tuple[str, ...]]) -> None:
    study, chosen = busy
    assert quote_bytes(study, chosen=chosen) == quote_bytes(study, chosen=chosen)
    assert customer_quote_bytes(study, chosen=chosen) == customer_quote_bytes(study, chosen=chosen)
    core = parts_of(quote_bytes(study, chosen=chosen))["docProps/core.xml"]
    assert study.job.received[:10] in core


def test_the_customers_file_gives_nothing_away(busy: tuple[Study, tuple[str, ...]], tmp_path: Path) -> None:
    study, chosen = busy
    data = customer_quote_bytes(study, chosen=chosen)
    parts = parts_of(data)
    path = tmp_path / "c.xlsx"
    path.write_bytes(data)
    book = load_workbook(path)
    assert book.sheetnames == ["Quote"]
    assert list(book.defined_names) == []
    sheet = book["Quote"]
    assert sheet.sheet_state == "visible"
    assert not any(d.hidden for d in (*sheet.row_dimensions.values(), *sheet.column_dimensions.values()))
    assert not [n for n in parts if "comment" in n or "drawing" in n or "custom" in n]
    everything = " ".join(
        xml for name, xml in parts.items() if "sharedStrings" in name or "docProps" in name
    ).lower()
    words = (
        "costing",
        "wage",
        "overhead",
        "margin",
        "reserve",
        "mark-up",
        "floor",
        "rework",
        "per hour",
        "minutes",
        "/work/",
        "/home/",
    )
    assert [word for word in words if word in everything] == []
    money = study.costing.estimate(chosen).totals.money
    numbers = {v for v in cells_of(path).values() if isinstance(v, int | float)}
    secret = {
        money.cost / 100,
        money.labour / 100,
        money.overhead / 100,
        money.reserve / 100,
        money.parts / 100,
    }
    assert numbers & secret == set()


def test_sheets_and_names_are_those_promised(busy: tuple[Study, tuple[str, ...]], tmp_path: Path) -> None:
    path = tmp_path / "q.xlsx"
    path.write_bytes(quote_bytes(busy[0], chosen=busy[1]))
    book = load_workbook(path)
    assert book.sheetnames == [
        "Quote",
        "Costing",
        "Price",
        "Inputs",
        "Wear",
        "Parts and consumables",
        "Spec",
        "Job card",
        "Set-up sheet",
        "Drawings",
        "Templates",
        "Charts",
        "Notes",
    ]
    names = set(book.defined_names)
    assert {
        "in_wage",
        "in_overhead",
        "in_charge",
        "in_z",
        "in_factor1",
        "in_tax_parts",
        "out_cost",
        "out_to_pay",
    } <= names
    for name in names:
        if name.startswith("in_"):
            sheet, _, address = book.defined_names[name].attr_text.partition("!")
            cell = book[sheet.strip("'")][address.replace("$", "")]
            assert not cell.protection.locked, name
            assert cell.fill.fgColor.rgb == "FFF3F6FB", name
            assert cell.border.bottom.style == "thin", name


@pytest.mark.slow
def test_sums_end_on_a_spacer_row_so_that_a_row_put_in_last_is_counted(
    busy: tuple[Study, tuple[str, ...]], tmp_path: Path
) -> None:
    path = tmp_path / "q.xlsx"
    path.write_bytes(quote_bytes(busy[0], chosen=busy[1]))
    book = load_workbook(path)
    for name in ("work_labour", "part_cost", "wear_money", "pack_cash", "buy_cash"):
        sheet, _, address = book.defined_names[name].attr_text.partition("!")
        last = address.replace("$", "").split(":")[1]
        assert book[sheet.strip("'")][last].value is None, name
        row = int(re.sub(r"\D", "", last))
        assert book[sheet.strip("'")].row_dimensions[row].height < 6, name


@pytest.mark.slow
def test_no_cell_is_merged_and_every_sheet_fits_one_page_wide(
    busy: tuple[Study, tuple[str, ...]], tmp_path: Path
) -> None:
    for paper, number in (("A4", "9"), ("Letter", "1")):
        path = tmp_path / f"{paper}.xlsx"
        path.write_bytes(quote_bytes(busy[0], chosen=busy[1], paper=paper))
        for sheet in load_workbook(path):
            assert not sheet.merged_cells.ranges
            assert (sheet.page_setup.fitToWidth or 1) == 1
            # what is drawn at true size is never fitted
            fitted = sheet.sheet_properties.pageSetUpPr.fitToPage
            assert sheet.page_setup.scale in (None, 100) if sheet.title == "Templates" else fitted
            assert str(sheet.page_setup.paperSize or 1) == number
            assert sheet.print_area


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_quote_prints_on_one_page_with_nothing_cut(
    busy: tuple[Study, tuple[str, ...]], paper: str, tmp_path: Path
) -> None:
    spreadsheet_program()
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed here: install poppler-utils to check the printed page")
    study, chosen = busy
    small = tuple(sorted(chosen))[:6]
    own, theirs = tmp_path / "own.xlsx", tmp_path / "theirs.xlsx"
    own.write_bytes(quote_bytes(study, chosen=chosen, paper=paper))
    theirs.write_bytes(customer_quote_bytes(study, chosen=small, paper=paper))
    pdfs = recalculated([own, theirs], tmp_path / "pdf", kind="pdf")
    texts = [
        subprocess.run(
            ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
        ).stdout
        for pdf in pdfs
    ]
    assert texts[1].count("\f") == 1
    total = study.costing.estimate(small).totals.to_pay
    assert f"{total / 100:,.2f}" in texts[1]
    for text in texts:
        assert not re.search(r"###|#NAME|#REF|#VALUE|#DIV|Err:", text)


def test_a_cell_written_twice_is_a_fault() -> None:
    sheet = Sheet("One", (10,))
    sheet.text(0, 0, "a")
    with pytest.raises(UnsafeTextError):
        sheet.text(0, 0, "b")


def test_wrapped_rows_store_their_height_and_a_long_word_is_counted() -> None:
    assert lines_needed("short", 10, 20) == 1
    assert lines_needed("a few words that are longer than twenty characters", 10, 20) == 3
    assert lines_needed("x" * 100, 10, 20) >= 4
    assert lines_needed("one\ntwo", 10, 20) == 2
    sheet = Sheet("One", (10.0,))
    sheet.text(3, 0, "words that need more than one line", "wrap")
    assert sheet._heights[3] > 30


def test_pages_begin_at_sections_and_hold_no_more_than_they_can() -> None:
    """Sections of drawn lengths, none longer than a page: every page begins at one and none runs over."""
    draw = random.Random(8)
    broken = 0
    for _ in range(60):
        sheet, at, begins = Sheet("One", (10,)), 0, []
        for _ in range(draw.randint(1, 9)):
            begins.append(at)
            sheet.text(at, 0, "Part", "section")
            sheet.rule(at, 0, 0, "ink")
            for row in range(at + 1, at + draw.randint(2, 20)):
                sheet.text(row, 0, "x")
                at = row
            at += 1
        sheet.break_at_sections(350)
        assert set(sheet.page_breaks) <= set(begins)
        ends = [0, *sheet.page_breaks, sheet.last_row + 1]
        assert all(sheet.points(a, b) <= 350 for a, b in pairwise(ends))
        broken += len(sheet.page_breaks)
    assert broken > 50


def test_money_is_written_in_one_way_on_what_a_customer_gets(
    busy: tuple[Study, tuple[str, ...]], tmp_path: Path
) -> None:
    assert money_in_words("USD") == '#,##0.00" USD"'
    assert money_in_words('"x"[Red]') == "#,##0.00"
    path = tmp_path / "c.xlsx"
    path.write_bytes(customer_quote_bytes(busy[0], chosen=busy[1]))
    cells = [cell for row in load_workbook(path)["Quote"] for cell in row if cell.value is not None]
    assert not [
        cell.coordinate for cell in cells if "$" in f"{cell.number_format}" or str(cell.value).startswith("$")
    ]
    assert "Total, USD" in {cell.value for cell in cells}


def test_currencies_come_from_a_fixed_list() -> None:
    assert money_format("USD") == '"$"#,##0.00'
    assert money_format("eur") == '"€"#,##0.00'
    assert money_format('"x"[Red]') == "#,##0.00"


def test_addresses() -> None:
    assert (a1(0, 0), a1(9, 25), a1(0, 26), a1(0, 701, absolute=True)) == ("A1", "Z10", "AA1", "$ZZ$1")


def test_a_refused_write_is_an_error_not_a_hole() -> None:
    with pytest.raises(UnsafeTextError):
        cells_module._done(-2, "One!A1")
    book = Book("t", date(2000, 1, 1))
    sheet = book.sheet(Sheet("One", (9,)))
    with pytest.raises(UnsafeTextError):
        book.name("x", sheet, 0, 0) or book.name("x", sheet, 1, 0)


@pytest.mark.slow
def test_an_answer_without_a_set_is_not_quoted(studies: dict[str, Study]) -> None:
    from estimator.choose.study import make_choice
    from estimator.workbook.write.quote import write_quote

    choice = make_choice(studies["impossible-wish"])
    assert choice.answer.status == "infeasible"
    with pytest.raises(InputError, match="nothing to quote"):
        write_quote(choice, "never.xlsx")


@pytest.mark.slow
def test_charts_carry_their_points_and_say_what_they_show(busy: tuple[Study, tuple[str, ...]]) -> None:
    from estimator.workbook.write.sheets.charts import FrontierPoint

    points = [FrontierPoint("bare", 20_000, 210), FrontierPoint("all of it", 69_000, 700)]
    parts = parts_of(quote_bytes(busy[0], chosen=busy[1], frontier=points))
    charts = [xml for name, xml in parts.items() if name.startswith("xl/charts/chart")]
    assert (
        len(charts) == 3 + 3
    )  # the ferrule seats at the neck joint: on the card, as a drawing, and true to size
    for xml in charts:
        assert xml.count("<c:numRef>") == xml.count("<c:numCache>") > 0
        assert not re.search(r"<c:numCache>(?:(?!</c:numCache>).)*<c:v></c:v>", xml)
    drawings = [xml for name, xml in parts.items() if name.startswith("xl/drawings/drawing")]
    described = [re.findall(r'descr="([^"]+)"', drawing) for drawing in drawings]
    (said,) = (words for words in described if len(words) == 3)
    assert sum(map(len, described)) == len(charts)
    assert "bare 200.00 for 2.1" in said[2]
    without = parts_of(quote_bytes(busy[0], chosen=busy[1]))
    assert len([name for name in without if name.startswith("xl/charts/chart")]) == 2 + 3
    assert busy[0].costing.estimate(busy[1]).totals.money.labour / 100 == pytest.approx(
        float(re.findall(r"<c:numCache>.*?<c:v>([\d.]+)</c:v>", charts[3])[0])
    )


def test_few_points_of_the_frontier_are_numbered_and_the_axis_goes_to_a_hundred(
    busy: tuple[Study, tuple[str, ...]],
) -> None:
    from estimator.workbook.write.sheets.charts import MOST_LABELS, FrontierPoint, labelled

    for count in range(1, 90):
        named = labelled(count)
        assert {0, count - 1} <= named <= set(range(count))
        assert min(count, MOST_LABELS // 2) <= len(named) <= MOST_LABELS
    points = [FrontierPoint(f"+ thing {n}", 20_000 + 1000 * n, 2_000 + 100 * n) for n in range(40)]
    parts = parts_of(quote_bytes(busy[0], chosen=busy[1], frontier=points))
    (chart,) = (
        xml for name, xml in parts.items() if name.startswith("xl/charts/") and '<c:max val="100"/>' in xml
    )
    assert '<c:max val="100"/>' in chart
    assert chart.count("<c:ser>") == 1
    assert len(re.findall(r"<a:t>\d+</a:t>", chart)) == len(labelled(40))
    (bar,) = (xml for name, xml in parts.items() if name.startswith("xl/charts/") and "percentStacked" in xml)
    assert bar.count('<c:showSerName val="1"/>') >= 2


def test_sheets_that_stay_in_the_shop_look_it(busy: tuple[Study, tuple[str, ...]], tmp_path: Path) -> None:
    path, theirs = tmp_path / "bench.xlsx", tmp_path / "customer.xlsx"
    path.write_bytes(quote_bytes(busy[0], chosen=busy[1]))
    theirs.write_bytes(customer_quote_bytes(busy[0], chosen=busy[1]))
    colours = set()
    for sheet in load_workbook(path).worksheets:
        head = sheet.oddHeader.right.text or ""
        assert ("not for the customer" in head) == (sheet.title != "Quote"), sheet.title
        if sheet.title != "Quote":
            colours.add(sheet.sheet_properties.tabColor.rgb)
    (page,) = load_workbook(theirs).worksheets
    assert page.oddHeader.right.text is None
    assert len(colours) == 1
    assert page.sheet_properties.tabColor.rgb not in colours


def test_the_job_card_gives_work_in_order_with_waits_and_precautions(
    busy: tuple[Study, tuple[str, ...]], tmp_path: Path
) -> None:
    path = tmp_path / "q.xlsx"
    study, chosen = busy
    path.write_bytes(quote_bytes(study, chosen=chosen))
    sheet = load_workbook(path)["Job card"]
    keys = [str(row[0].value) for row in sheet.iter_rows(min_row=5, max_col=1) if row[0].value]
    position = {key.removeprefix("run:").split("@")[0]: n for n, key in enumerate(keys)}
    pairs = [(a, b) for a, b in study.shop.task_order if a in position and b in position]
    assert len(pairs) > 5
    last = {key.removeprefix("run:").split("@")[0]: n for n, key in enumerate(keys)}
    first = {key.removeprefix("run:").split("@")[0]: n for n, key in reversed(list(enumerate(keys)))}
    assert [(a, b) for a, b in pairs if last[a] > first[b]] == []
    texts = " ".join(
        str(cell.value) for row in sheet.iter_rows(max_row=200, max_col=9) for cell in row if cell.value
    )
    assert texts.index("Precautions") < texts.index("Work, in this order")
    steps = [c.value for (c,) in sheet.iter_rows(min_col=3, max_col=3) if isinstance(c.value, int)]
    assert steps == list(range(1, len(steps) + 1))
    assert "Never:" in texts
    waits = [cell.value for (cell,) in sheet.iter_rows(min_row=5, min_col=7, max_col=7) if cell.value]
    assert any(str(wait).endswith(("h", "min", "days")) for wait in waits)
