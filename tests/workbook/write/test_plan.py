"""The workbook of a plan: worked out anew by other engines, hostile texts kept as texts, everything in it once."""

from __future__ import annotations

import random
import re
import zipfile
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.plan.plan import Plan
from estimator.schedule.records import Search
from estimator.workbook.read.costing import read_job_card
from estimator.workbook.read.guard import check_bytes
from estimator.workbook.write.plan import card_name, plan_bytes
from estimator.workbook.write.sheets.gantt import CURE, EPOCH, WORK, last_place, place_of, runs_of, triples_of
from estimator.workbook.write.sheets.week import PAGE
from tests.plan.bench import plan
from tests.workbook.own_engine import Engine
from tests.workbook.recalculate import cells_of, differences, formulas_of, named_cells, recalculated

HOSTILE = '=HYPERLINK("http://evil.invalid","x")'


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("plans")
    found = {name: folder / f"{name}.xlsx" for name in ("batch-three", "batch-school")}
    for name, path in found.items():
        path.write_bytes(plan_bytes(plan(name)))
    return found


@pytest.mark.slow
def test_the_stored_values_are_those_another_program_works_out(
    books: dict[str, Path], tmp_path: Path
) -> None:
    again = recalculated(list(books.values()), tmp_path)
    for path, anew in zip(books.values(), again, strict=True):
        assert len(formulas_of(path)) > 40
        assert differences(path, anew) == []


@pytest.mark.slow
def test_a_second_engine_comes_to_the_same(books: dict[str, Path]) -> None:
    for path in books.values():
        engine, stored = Engine(path), cells_of(path)
        for sheet, address in engine.formulas:
            value = stored[sheet, address]
            assert isinstance(value, int | float)
            assert engine.value(sheet, address) == pytest.approx(value, abs=1e-9), (sheet, address)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_totals_are_those_of_the_plan(books: dict[str, Path], name: str) -> None:
    found, path = plan(name), books[name]
    cells, names = cells_of(path), named_cells(path)

    def value(key: str) -> Decimal:
        return Decimal(str(cells[names[key]]))

    assert value("orders_total") == Decimal(found.orders.total) / 100
    shares = [value(f"orders_job{n}") for n in range(1, len(found.orders.by_job) + 1)]
    assert shares == [Decimal(cents) / 100 for cents in found.orders.by_job.values()]
    assert sum(shares) == value("orders_total")
    assert value("cost_total") * 100 == sum(e.totals.cost for e in found.estimates.values())
    assert value("week_total") == found.schedule.figures.minutes == value("hours_total")


def test_every_instrument_has_its_card_and_every_day_its_work(books: dict[str, Path]) -> None:
    found = plan("batch-three")
    book = load_workbook(books["batch-three"])
    assert book.sheetnames == [
        "Week",
        "Plan",
        "Gantt",
        "Orders",
        "Cost by job",
        "Card school",
        "Card commission",
        "Card bass",
        "Notes",
        "Gantt figures",
    ]
    for job in found.estimates:
        told = [str(c.value) for c in book[f"Card {job}"]["D"] if c.value]
        planned = [t for t in told if t[:3] in ("Mon", "Tue", "Wed", "Thu", "Fri")]
        # one operation for a task at several places of one sitting: the same moment on the card
        assert len({t.partition("  ")[0] for t in planned}) == sum(
            o.job == job for o in found.work.operations
        ), job
    week = [str(c.value) for c in book["Week"]["E"] if c.value]
    assert any("strings off" in words and "school" in words for words in week)


def test_the_bars_put_end_to_end_are_the_schedule() -> None:
    found = plan("batch-three")
    runs = runs_of(found)
    for job, triples in triples_of(runs).items():
        now = Decimal(0)
        drawn = []
        for blank, work, cure in triples:
            assert min(blank, work, cure) >= 0
            now += blank
            for width, kind in ((work, WORK), (cure, CURE)):
                if width:
                    drawn.append((now, now + width, kind))
                    now += width
        assert drawn == runs[job]
        shares = sum((high - low for low, high, kind in drawn if kind == WORK), Decimal(0))
        minutes = sum(
            b.end - b.start for b in found.schedule.assignments if found.work.by_id()[b.operation].job == job
        )
        assert float(shares) * 315 == pytest.approx(minutes, abs=0.32 * len(drawn))  # open 315 minutes a day


def test_a_moment_on_the_axis() -> None:
    found = plan("batch-three")
    day = (date(2026, 10, 6) - EPOCH).days
    minute = 1440  # Tuesday, midnight
    assert place_of(found, minute) == day
    assert (
        place_of(found, minute + 12 * 60 + 30) == Decimal("0.571") + day
    )  # at lunch: 180 of 315 minutes gone
    assert place_of(found, minute + 20 * 60) == day + 1
    assert place_of(found, 5 * 1440 + 720) == (date(2026, 10, 10) - EPOCH).days + Decimal(
        "0.5"
    )  # Saturday noon


def hostile(found: Plan) -> Plan:
    file = replace(found.study.file, what=HOSTILE)
    baskets = tuple(
        replace(
            b, words="@SUM(A1)", lines=tuple(replace(line, words="+cmd|' /C calc'!A0") for line in b.lines)
        )
        for b in found.orders.baskets
    )
    orders = replace(found.orders, baskets=baskets)
    return replace(found, study=replace(found.study, file=file), orders=orders)


def test_hostile_texts_stay_texts(tmp_path: Path) -> None:
    data = plan_bytes(hostile(plan("batch-three")))
    check_bytes(data, "plan.xlsx")
    path = tmp_path / "hostile.xlsx"
    path.write_bytes(data)
    found = [
        c for sheet in load_workbook(path) for row in sheet.iter_rows() for c in row if c.value is not None
    ]
    told = [
        c for c in found if "HYPERLINK" in str(c.value) or "cmd|" in str(c.value) or "@SUM" in str(c.value)
    ]
    assert len(told) >= 3
    assert all(c.data_type == "s" and c.hyperlink is None for c in told)
    with zipfile.ZipFile(path) as package:
        assert not any("externalLink" in name or "vba" in name for name in package.namelist())


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert plan_bytes(plan("batch-school")) == plan_bytes(plan("batch-school"))


def test_names_of_cards_fit_and_differ() -> None:
    names = [card_name("a-very-long-name-of-an-instrument-indeed", n) for n in (1, 2)]
    assert len(set(names)) == 2
    assert all(len(name) <= 31 for name in names)
    assert card_name("bass", 3) == "Card bass"


def test_minutes_written_into_the_cards_are_read_back(books: dict[str, Path], tmp_path: Path) -> None:
    book = load_workbook(books["batch-three"])
    for job, minutes in (("school", 11), ("bass", 7.5)):
        sheet = book[f"Card {job}"]
        row = next(
            r
            for r in range(1, sheet.max_row + 1)
            if str(sheet.cell(r, 1).value).startswith("run:strings-off")
        )
        sheet.cell(row, 8).value = minutes
        sheet.cell(row, 9).value = "a string was rusty" if job == "school" else None
    path = tmp_path / "filled.xlsx"
    book.save(path)
    batch, rows = read_job_card(path)
    assert batch == "three-on-the-bench"
    assert [(r.job, r.task, r.minutes, r.remark) for r in rows] == [
        ("school", "strings-off", Decimal(11), "a string was rusty"),
        ("bass", "strings-off", Decimal("7.5"), ""),
    ]


@pytest.mark.slow
def test_a_plan_taken_up_again_makes_a_book(tmp_path: Path) -> None:
    from estimator.plan.replan.plan import plan_again
    from estimator.plan.replan.progress import load_state
    from estimator.plan.replan.saved_plan import kept_text
    from tests.plan.bench import batch

    (tmp_path / "week.json").write_text(kept_text(plan("batch-three")))
    (tmp_path / "state.toml").write_text(
        '[state]\nplan = "week.json"\nnow = "2026-10-08 11:30"\nothers = "as-planned"\n'
        '[[late]]\nsupplier = "parts-house"\nexpected = 2026-10-16\n'
    )
    found = plan_again(
        batch("batch-three"), load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=5)
    )
    path = tmp_path / "again.xlsx"
    path.write_bytes(plan_bytes(found.plan))
    told = " ".join(str(value) for value in cells_of(path, {"Plan", "Week"}).values())
    assert "What changed, and why" in told
    assert "comes on Fri 16 Oct instead of" in told
    engine, stored = Engine(path), cells_of(path)
    for place in engine.formulas:
        assert engine.value(*place) == pytest.approx(stored[place], abs=1e-9), place


@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_no_day_of_the_week_is_headed_at_the_foot_of_a_page(books: dict[str, Path], name: str) -> None:
    """A page of the week begins at a day, and from break to break no page is taller than either paper."""
    sheet = load_workbook(books[name])["Week"]
    heads = {
        cell.row
        for (cell,) in sheet.iter_rows(min_row=5, max_col=1)
        if re.match(r"\w{3} \d", str(cell.value))
    }
    breaks = sorted(mark.id for mark in sheet.row_breaks.brk)
    assert {row + 1 for row in breaks} <= heads
    tall = {row: sheet.row_dimensions[row].height or 15.0 for row in range(1, sheet.max_row + 1)}
    for first, last in zip([0, *breaks], [*breaks, sheet.max_row], strict=True):
        days = len([row for row in heads if first < row <= last])
        assert days == 1 or sum(tall[row] for row in range(first + 1, last + 1)) <= PAGE + 30
    assert len(heads) > 3


@pytest.mark.slow
@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_the_chart_reaches_beyond_the_last_bar(books: dict[str, Path], name: str) -> None:
    with zipfile.ZipFile(books[name]) as book:
        chart = next(
            book.read(part).decode() for part in book.namelist() if part.startswith("xl/charts/chart")
        )
    first, last = (int(re.findall(rf'<c:{end} val="(\d+)"', chart)[0]) for end in ("min", "max"))
    bars = [run for mine in runs_of(plan(name)).values() for run in mine]
    assert all(first <= begins < ends <= last for begins, ends, _ in bars)
    assert max(ends for _, ends, _ in bars) > last - 1, "no empty day after the last"


def test_a_bar_that_ends_within_a_day_needs_the_whole_of_it() -> None:
    draw = random.Random(5)
    for _ in range(200):
        begins = Decimal(draw.randrange(46_000_000, 46_500_000)).scaleb(-3)
        ends = begins + Decimal(draw.randrange(1, 4000)).scaleb(-3)
        last = last_place({"a": [(begins, ends, WORK)], "b": []})
        assert last - 1 < ends <= last
