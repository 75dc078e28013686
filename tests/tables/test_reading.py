"""Reading one CSV file: what is tolerated, and one broken input per message."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.core.errors import Issue
from estimator.core.units import MOST_DECIMALS
from estimator.tables.cells import CellError, read_yes_no
from estimator.tables.csv_rows import MOST_ALIKE, TableRead, read_table
from estimator.tables.quantities import read_quantity
from estimator.tables.schema.shop import BY_NAME
from estimator.tables.toml.values import number_of

HEADER = (
    "id,what,pack,price,unit,units_per_pack,shelf_months,billed_as,on_shelf,abrasive,used_for,basis,source"
)
GOOD = "c-glue,glue,tube,6.50,drop,100,,,,,,memory,"


def read(text: str | bytes, table: str = "consumables") -> TableRead:
    data = text.encode() if isinstance(text, str) else text
    return read_table(data, BY_NAME[table], "consumables.csv")


def lines(*rows: str) -> str:
    return "\n".join((HEADER, *rows)) + "\n"


def only(text: str | bytes) -> Issue:
    issues = read(text).issues
    assert len(issues) == 1, [str(issue) for issue in issues]
    return issues[0]


def test_blanks_become_declared_defaults() -> None:
    (row,) = read(lines(GOOD)).rows
    assert row.values["price"] == Decimal("6.50")
    assert row.values["shelf_months"] is None
    assert row.values["billed_as"] == "wear"
    assert row.values["on_shelf"] is True
    assert (row.origin.file, row.origin.row) == ("consumables.csv", 2)


@pytest.mark.parametrize(
    "data",
    [
        b"\xef\xbb\xbf" + lines(GOOD).encode(),
        lines(GOOD).replace("\n", "\r\n").encode(),
        lines(GOOD).replace("\n", "\r").encode(),
        lines(GOOD).replace(",", ";").encode(),
        lines(GOOD).replace(",", "\t").encode(),
        ("sep=;\n" + lines(GOOD).replace(",", ";")).encode(),
        "".join(line + ",,,\n" for line in lines(GOOD).splitlines()).encode(),
        lines(",,,,,,,,,,,,", GOOD, "", "   ").encode(),
        ("# my own remark\n" + lines("#c-old,gone", GOOD)).encode(),
        lines(GOOD).rstrip("\n").encode(),
    ],
    ids=[
        "bom",
        "crlf",
        "cr",
        "semicolons",
        "tabs",
        "sep",
        "empty-columns",
        "blank-rows",
        "comments",
        "no-newline",
    ],
)
def test_tolerates(data: bytes) -> None:
    result = read(data)
    assert result.issues == []
    assert [row.values["id"] for row in result.rows] == ["c-glue"]


def test_rows_are_counted_as_a_spreadsheet_shows_them() -> None:
    two_lines = GOOD.replace("glue,tube", '"glue\nfor wood",tube')
    text = lines(two_lines, "", "# remark", GOOD.replace("c-glue", "c-wax").replace("6.50", "-1"))
    issue = only(text)
    assert (issue.where.row, issue.where.column) == (5, "price")
    assert read(text).rows[0].values["what"] == "glue\nfor wood"


def test_fractions_are_exact_enough() -> None:
    (row,) = read(lines(GOOD.replace(",100,", ",1/8,"))).rows
    assert row.values["units_per_pack"] == Decimal("0.125")


BAD_CELLS = [
    ("6.50", '"6,50"', "price", "a comma in a number", "decimal point"),
    ("6.50", "NaN", "price", "not a number", "plain number"),
    ("6.50", "inf", "price", "not a number", "plain number"),
    ("6.50", "#VALUE!", "price", "not a number", "plain number"),
    ("6.50", "1E+05", "price", "a number in scientific notation", "plain number"),
    ("6.50", "$6.50", "price", "a currency sign in a number", "plain number"),
    ("6.50", "−6", "price", "a dash that is not a minus sign", "plain number"),
    ("6.50", "-6.50", "price", "negative money", "from 0 to 1000000"),
    ("6.50", "2000000", "price", "a number that is too large", "from 0 to 1000000"),
    ("6.50", "9" * 12, "price", "text where a number belongs", "below one thousand million"),
    ("6.50", "9" * 5000, "price", "text where a number belongs", "plain number"),
    ("6.50", "cheap", "price", "text where a number belongs", "a plain number"),
    ("6.50", "6.50 g", "price", "text where a number belongs", "without a unit"),
    ("6.50", "5/0", "price", "text where a number belongs", "zero"),
    ("6.50", "", "price", "blank where a value is required", "price of a pack"),
    (",100,", ",0,", "units_per_pack", "a number that is too small", "at least 0.001"),
    ("c-glue", "C Glue", "id", "not an id", "write “c-glue”"),
    ("c-glue", "C Glüe Straße Łódź", "id", "not an id", "write “c-glue-strasse-odz”"),
    ("c-glue", "c_glue", "id", "not an id", "joined by dashes"),
    (
        ",,,,,memory",
        ",wera,,,,memory",
        "billed_as",
        "a word that is not accepted here",
        "did you mean “wear”?",
    ),
    (
        ",,,,,memory",
        ",Wears,,,,memory",
        "billed_as",
        "a word that is not accepted here",
        "did you mean “wear”?",
    ),
    (",,,memory", ",maybe,,memory", "abrasive", "neither yes nor no", "yes, no"),
    ("memory", "guess", "basis", "a word that is not accepted here", "common-practice"),
    ("memory", "", "basis", "blank where a value is required", "where the numbers"),
    ("memory", "published", "source", "published without a source", "publication by name"),
]


@pytest.mark.parametrize(("old", "new", "column", "problem", "help_text"), BAD_CELLS)
def test_bad_cell(old: str, new: str, column: str, problem: str, help_text: str) -> None:
    assert GOOD.count(old) == 1
    issue = only(lines(GOOD.replace(old, new)))
    assert (issue.where.file, issue.where.row, issue.where.column) == ("consumables.csv", 2, column)
    assert issue.problem == problem
    assert help_text in str(issue)


def test_decimal_comma_of_a_semicolon_file() -> None:
    issue = only(lines(GOOD).replace(",", ";").replace("6.50", "6,50"))
    assert issue.problem == "a comma in a number"
    assert "“6,50”" in issue.found


@pytest.mark.parametrize(
    ("data", "row", "problem", "help_text"),
    [
        (
            lines(GOOD).encode().replace(b"tube", b"tub\xe9"),
            2,
            "the file is not UTF-8 text",
            "byte 0xE9 at position 118",
        ),
        (lines(GOOD).encode("utf-16"), None, "the file is saved as UTF-16 (“Unicode text”)", "CSV UTF-8"),
        (lines(GOOD).encode().replace(b"tube", b"tu\0be"), 2, "the file holds NUL bytes", "CSV UTF-8"),
        (b"", None, "the file is empty", HEADER),
        (
            lines(GOOD.replace("tube", '"tube')).encode(),
            2,
            "a quote is opened and never closed",
            "every quote closed",
        ),
        (lines(GOOD.replace("tube", '"tu"be')).encode(), 2, "a stray quote in a cell", "doubled"),
        (
            lines(GOOD.replace("tube", "t" * 140_000)).encode(),
            2,
            "a cell of more than 100,000 characters",
            "quotes",
        ),
        (lines("c-glue,glue").encode(), 2, "the row is too short", "2 cells"),
        (lines(GOOD + ",more").encode(), 2, "a cell outside the named columns", "“more”"),
    ],
    ids=["latin-1", "utf-16", "nul", "empty", "open-quote", "stray-quote", "huge-cell", "short", "long"],
)
def test_bad_file(data: bytes, row: int | None, problem: str, help_text: str) -> None:
    issue = only(data)
    assert (issue.where.row, issue.problem) == (row, problem)
    assert help_text in str(issue)


def test_bad_headers() -> None:
    issue = read(lines(GOOD).replace("price", "prize")).issues
    assert [i.problem for i in issue] == ["unknown column", "column missing"]
    assert issue[0].next_step == "did you mean “price”?"
    assert issue[1].where.column == "price"
    assert (
        only(lines(GOOD).replace("unit,", "unit,unit,").replace("drop,", "drop,x,")).problem
        == "the same column twice"
    )


def test_duplicate_key_names_both_rows() -> None:
    issue = only(lines(GOOD, "", GOOD))
    assert issue.problem == "the same row twice"
    assert issue.found == "“c-glue” in rows 2 and 4"


def test_all_complaints_are_collected_and_long_runs_shortened() -> None:
    bad = [GOOD.replace("c-glue", f"c-glue-{n}").replace("6.50", f"x{n}") for n in range(50)]
    issues = read(lines(*bad, GOOD.replace("100", "0"))).issues
    prices = [issue for issue in issues if issue.where.column == "price"]
    assert len(prices) == MOST_ALIKE + 1
    assert prices[-1].found == "30 more of the same, rows 22 to 51"
    assert [issue.where.row for issue in issues if issue.where.column == "units_per_pack"] == [52]


@pytest.mark.parametrize(
    ("table", "column", "cell", "problem"),
    [
        ("tasks", "factors", "CD, NM", "commas in a list"),
        ("tasks", "factors", "CD CD", "the same word twice in a list"),
        ("tasks", "level", "2.5", "not a whole number"),
        ("tasks", "level", "6", "a number that is too large"),
        ("bundle_work", "levels", "FW", "not a pair"),
        ("bundle_work", "levels", "FW=a FW=b", "the same name twice"),
        ("bundle_work", "quantity", "2 *", "cannot be worked out: a number or a name is missing at the end"),
        ("bundle_work", "quantity", "(string_n)", "cannot be worked out: cannot read “(string_n)”"),
        ("bundle_work", "quantity", "0,5", "a comma in a number"),
    ],
)
def test_bad_cells_of_other_kinds(table: str, column: str, cell: str, problem: str) -> None:
    names = [c.name for c in BY_NAME[table].columns]
    out = io.StringIO()
    writer = csv.DictWriter(out, names, restval="1")
    writer.writeheader()
    writer.writerow({column: cell})
    issues = read_table(out.getvalue().encode(), BY_NAME[table], "x.csv").issues
    assert problem in [issue.problem for issue in issues if issue.where.column == column]


WORDS = st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,4}){0,2}", fullmatch=True)
TEXTS = (
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30)
    .map(str.strip)
    .filter(bool)
)
MONEY = st.decimals(min_value=0, max_value=1_000_000, places=2)
ROWS = st.lists(
    st.fixed_dictionaries(
        {"id": WORDS, "what": TEXTS, "pack": TEXTS, "price": MONEY, "unit": TEXTS, "used_for": TEXTS}
    ),
    min_size=1,
    max_size=8,
    unique_by=lambda row: row["id"],
)


@pytest.mark.slow
@given(rows=ROWS, delimiter=st.sampled_from(",;\t"), end=st.sampled_from(["\n", "\r\n"]), bom=st.booleans())
def test_rows_written_as_csv_are_read_back(
    rows: list[dict[str, object]], delimiter: str, end: str, bom: bool
) -> None:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, HEADER.split(","), restval="", delimiter=delimiter, lineterminator=end)
    writer.writeheader()
    writer.writerows(row | {"units_per_pack": "7", "basis": "demo"} for row in rows)
    result = read((b"\xef\xbb\xbf" if bom else b"") + out.getvalue().encode())
    assert result.issues == []
    assert [{name: row.values[name] for name in rows[0]} for row in result.rows] == rows


@pytest.mark.parametrize(
    ("text", "kohm"), [("250k", "250"), ("500 K", "500"), ("470 ohm", "0.47"), ("250", "250")]
)
def test_resistances_are_read_as_people_write_them(text: str, kohm: str) -> None:
    assert read_quantity(text, "kohm") == Decimal(kohm)


@pytest.mark.parametrize(("text", "unit"), [("250k", "mm"), ("250 mm", "kohm"), ("2 h", "kohm")])
def test_a_unit_of_another_kind_is_refused(text: str, unit: str) -> None:
    with pytest.raises(CellError):
        read_quantity(text, unit)


@pytest.mark.parametrize(("text", "value"), [("Y", True), ("n", False), ("Yes", True), ("FALSE", False)])
def test_yes_and_no_may_be_one_letter(text: str, value: bool) -> None:
    assert read_yes_no(text) is value


@pytest.mark.parametrize("exponent", [10, 61, 308, 999, 10**6, 10**9, 10**18 - 1])
def test_a_number_of_any_exponent_is_read_or_refused_at_once(exponent: int) -> None:
    """TOML bounds no exponent: what is far beyond is refused before anything reckons with it, as a fraction or else."""
    for sign in ("", "-"):
        with pytest.raises(CellError, match="huge"):
            number_of(Decimal(f"{sign}7e{exponent}"))
        tiny = Decimal(f"{sign}7e-{exponent}")
        if exponent <= MOST_DECIMALS:
            assert number_of(tiny) == tiny
        else:
            with pytest.raises(CellError, match="too small"):
                number_of(tiny)
