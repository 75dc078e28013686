"""The rates as a workbook: there and back without loss, and complaints by sheet and cell."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from openpyxl import load_workbook

from estimator.core.errors import InputError
from estimator.tables.csv_rows import read_table
from estimator.tables.folders import Folder, read_default
from estimator.tables.load import assemble
from estimator.tables.schema.shop import TABLES
from estimator.workbook.shop_book import GROUPS, START_SHEET, rates_book_bytes, read_rates_book


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return dict(read_default().files)


def values(files: dict[str, bytes]) -> dict[str, list[dict[str, object]]]:
    return {
        spec.name: [dict(row.values) for row in read_table(files[spec.file], spec, spec.file).rows]
        for spec in TABLES
        if spec.file in files
    }


@pytest.mark.slow
def test_the_whole_shop_there_and_back_is_the_same(files: dict[str, bytes], tmp_path: Path) -> None:
    path = tmp_path / "rates.xlsx"
    path.write_bytes(rates_book_bytes(files))
    back = read_rates_book(path)
    assert back.keys() == files.keys()
    assert back["shop.toml"].decode().rstrip() == files["shop.toml"].decode().rstrip()
    one, other = values(files), values(back)
    assert sum(map(len, one.values())) > 500
    for name in one:
        assert one[name] == other[name], name
    before, after = assemble([Folder("a", files)]), assemble([Folder("a", back)])
    assert before.terms == after.terms
    assert list(before.tasks) == list(after.tasks)
    assert rates_book_bytes(files) == rates_book_bytes(files)
    again = tmp_path / "again.xlsx"
    again.write_bytes(rates_book_bytes(back))
    assert read_rates_book(again) == back


def test_random_shops_there_and_back_are_the_same(files: dict[str, bytes], tmp_path: Path) -> None:
    """Random rows of hard texts and numbers in a table of free text and numbers."""
    chance = random.Random(7)
    texts = ["=1+1", "a,b", 'say "so"', "00451", "1/6", "½", "'x", "-5", "@x", "ä ö", "12.50", "x; y", "TRUE"]
    for number in range(10):
        lines = [
            "id,what,pack,price,unit,units_per_pack,shelf_months,billed_as,on_shelf,abrasive,used_for,basis,source"
        ]
        for row in range(chance.randint(1, 20)):
            what, use = (chance.choice(texts).replace('"', '""') for _ in range(2))
            price = f"{chance.randint(0, 99999) / 100:.{chance.randint(0, 4)}f}"
            months = chance.choice(["", "12", "7"])
            units = chance.choice(["1/3", "40", "0.25", "10.50"])
            lines.append(f'c-{row},"{what}",x,{price},ml,{units},{months},wear,yes,no,"{use}",memory,')
        some = {"consumables.csv": ("\n".join(lines) + "\n").encode()}
        path = tmp_path / f"{number}.xlsx"
        path.write_bytes(rates_book_bytes(some))
        assert values(read_rates_book(path)) == values(some)


@pytest.mark.slow
def test_choices_and_ids_of_other_tables_can_be_picked(files: dict[str, bytes], tmp_path: Path) -> None:
    path = tmp_path / "rates.xlsx"
    path.write_bytes(rates_book_bytes(files))
    book = load_workbook(path)
    lists = {v.formula1 for v in book["tasks"].data_validations.dataValidation}
    assert '"published,common-practice,memory,demo,own,own menu,measured"' in lists
    assert '"yes,no"' in lists
    links = {v.formula1 for v in book["task_tools"].data_validations.dataValidation}
    assert any(str(formula).startswith("tools!$A$2") for formula in links)


def test_wrong_cells_are_named_and_nothing_is_taken(files: dict[str, bytes], tmp_path: Path) -> None:
    from datetime import datetime

    path = tmp_path / "rates.xlsx"
    path.write_bytes(rates_book_bytes({"tasks.csv": files["tasks.csv"], "tools.csv": files["tools.csv"]}))
    book = load_workbook(path)
    head = [cell.value for cell in book["tasks"][1]]
    book["tasks"].cell(3, head.index("run_min_low") + 1).value = "12,5"
    book["tasks"].cell(4, head.index("setup_min") + 1).value = datetime(2026, 2, 1)
    book["tasks"].cell(5, head.index("setup_min") + 1).value = "=1+1"
    book["tools"].cell(2, 3).value = -4
    book.save(path)
    with pytest.raises(InputError) as caught:
        read_rates_book(path)
    said = [str(issue) for issue in caught.value.issues]
    assert any("row 3" in line and "run_min_low" in line and "tasks" in line for line in said)
    assert any("tasks!" in line and "date" in line for line in said)
    assert any("tasks!" in line and "formula" in line for line in said)
    assert any("row 2" in line and "tools" in line for line in said)


def test_a_workbook_of_something_else_is_refused(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "other.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("Holidays").write_string(0, 0, "x")
    book.close()
    with pytest.raises(InputError, match="no sheet of this workbook is a table of rates"):
        read_rates_book(path)


@pytest.mark.slow
def test_the_start_sheet_leads_to_every_table_and_counts_its_rows(
    files: dict[str, bytes], tmp_path: Path
) -> None:
    path = tmp_path / "rates.xlsx"
    path.write_bytes(rates_book_bytes(files))
    book = load_workbook(path)
    counted = load_workbook(path, data_only=True)[START_SHEET]
    start = book.worksheets[0]
    assert start.title == START_SHEET
    assert set(GROUPS) <= {spec.name for spec in TABLES}
    led = {c.coordinate: c.hyperlink.location or "" for (c,) in start.iter_rows(max_col=1) if c.hyperlink}
    there = {name: ref for ref, location in led.items() for name in [location.partition("!")[0].strip("'")]}
    assert set(there) == {spec.name for spec in TABLES} | {"shop.toml"} == set(book.sheetnames[1:])
    for spec in TABLES:
        rows = read_table(files[spec.file], spec, spec.file).rows
        assert counted[there[spec.name].replace("A", "B")].value == len(rows), spec.name
    heads = [cell.value for (cell,) in start.iter_rows(max_col=1) if cell.value in GROUPS.values()]
    assert heads == list(GROUPS.values())


def test_a_row_added_is_counted_by_the_formula(files: dict[str, bytes], tmp_path: Path) -> None:
    path = tmp_path / "rates.xlsx"
    path.write_bytes(rates_book_bytes({"woods.csv": files["woods.csv"]}))
    start = load_workbook(path)[START_SHEET]
    (formula,) = [c.value for row in start for c in row if str(c.value).startswith("=COUNTA")]
    last = int(formula.rpartition("$")[2].rstrip(")"))
    assert last > files["woods.csv"].count(b"\n") + 100
