"""A shop's own rows: the key and what changes is enough, and only what differs is written."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.core.errors import InputError, near_miss
from estimator.tables import csv_rows
from estimator.tables.cells import CellError, read_with_unit
from estimator.tables.csv_rows import TableRead, TableRow, key_of, read_table
from estimator.tables.folders import Folder, read_default
from estimator.tables.load import assemble, load_shop
from estimator.tables.own import differences, empty_table, only_what_differs, whole_shop
from estimator.tables.schema.shop import BY_NAME
from estimator.tables.schema.table import THREE_POINTS
from estimator.workbook.shop_book import rates_book_bytes
from estimator.workbook.write.shop_sheets import read_book

DEFAULT = read_default()
TASKS = BY_NAME["tasks"]


def shop_of(**files: str) -> Folder:
    return Folder(
        "mine",
        {
            name.replace("_toml", ".toml") if name.endswith("_toml") else f"{name}.csv": text.encode()
            for name, text in files.items()
        },
    )


@pytest.mark.slow
def test_a_row_needs_its_key_and_what_changes() -> None:
    mine = assemble([DEFAULT, shop_of(tasks="id,run_min_likely\nstring-up,1.5 min\n")])
    old = assemble([DEFAULT]).tasks["string-up"]
    new = mine.tasks["string-up"]
    assert new.run_min_likely == Decimal("1.5") != old.run_min_likely
    assert (new.run_min_low, new.what, new.factors) == (old.run_min_low, old.what, old.factors)
    assert list(mine.tasks) == list(assemble([DEFAULT]).tasks)


def test_blank_stays_and_a_dash_clears() -> None:
    """Two rows change different columns: neither loses what it leaves blank."""
    rows = "id,setup_min,factors,hazards\nbench-inspection,4,,-\nquick-look,,AC,\n"
    table = read_table(rows.encode(), TASKS, "tasks.csv", base_of())
    assert table.issues == []
    inspection, look = (row.values for row in table.rows)
    old = {key[0]: row.values for key, row in base_of().items()}
    assert inspection["setup_min"] == 4
    assert inspection["factors"] == old["bench-inspection"]["factors"] != ()
    assert inspection["hazards"] == () != old["bench-inspection"]["hazards"]
    assert look["factors"] == ("AC",)
    assert look["setup_min"] == old["quick-look"]["setup_min"]
    assert {inspection["basis"], look["basis"]} == {"own"}


def base_of() -> dict[tuple[object, ...], object]:
    return {key_of(TASKS, row.values): row for row in read_table(DEFAULT.files["tasks.csv"], TASKS, "").rows}  # type: ignore[return-value]


def test_a_source_is_not_inherited_and_a_basis_of_ones_own_stays() -> None:
    spec = BY_NAME["woods"]
    base = {key_of(spec, r.values): r for r in read_table(DEFAULT.files["woods.csv"], spec, "").rows}
    published = next(iter(base.values()))
    base = {
        k: TableRow({**r.values, "basis": "published", "source": "a book"}, r.origin) for k, r in base.items()
    }
    wood = published.values["id"]
    own = read_table(f"id,density\n{wood},0.5\n".encode(), spec, "", base).rows[0].values
    assert (own["basis"], own["source"]) == ("own", "")
    said = read_table(f"id,density,basis,source\n{wood},0.5,published,my scale\n".encode(), spec, "", base)
    assert (said.rows[0].values["basis"], said.rows[0].values["source"]) == ("published", "my scale")
    bare = read_table(f"id,density,basis\n{wood},0.5,published\n".encode(), spec, "", base)
    assert [issue.problem for issue in bare.issues] == ["published without a source"]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("id,run_min_likly\nstring-up,2\n", "unknown column"),
        ("run_min_likely\n2\n", "column missing"),
        ("id,run_min_likely\nstrng-up,2\n", "blank where a value is required"),
        ("id,run_min_likely\nstring-up,-\n", "text where a number belongs"),
        ("id,run_min_likely\nstring-up,2 ponds\n", "a unit that is not known here"),
        ("id,run_min_likely\nstring-up,2 mm\n", "a unit that is not known here"),
    ],
)
def test_slips_are_told(text: str, problem: str) -> None:
    """A misspelt key is a new row that lacks all else, never a silent default."""
    issues = read_table(text.encode(), TASKS, "tasks.csv", base_of()).issues  # type: ignore[arg-type]
    assert issues[0].problem == problem
    if "strng" in text:
        assert "string-up" in issues[0].next_step


def test_the_default_shop_itself_stays_strict() -> None:
    issues = read_table(b"id,run_min_likely\nstring-up,2\n", TASKS, "tasks.csv").issues
    assert {issue.problem for issue in issues} == {"column missing"}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1 h 20 min", "min", "80"),
        ("90 s", "min", "1.5"),
        ("90 min", "h", "1.5"),
        ("2 days", "days", "2"),
        ("36 h", "days", "1.5"),
        ("15 %", "share", "0.15"),
        ("1/4 in", "mm", "6.35"),
        ("0.5 kg", "g", "500"),
        ("12", "min", "12"),
    ],
)
def test_units_as_people_write_them(text: str, unit: str, value: str) -> None:
    assert read_with_unit(text, unit) == Decimal(value)


@pytest.mark.parametrize(
    ("text", "unit"), [("15 %", "min"), ("2 h", "money"), ("nan min", "min"), ("h", "h")]
)
def test_a_unit_of_another_kind_is_refused(text: str, unit: str) -> None:
    with pytest.raises(CellError):
        read_with_unit(text, unit)


@pytest.mark.slow
def test_settings_need_no_basis() -> None:
    mine = assemble([DEFAULT, shop_of(shop_toml="charge_per_hour = 60\n")])
    assert mine.terms.charge_per_hour == 60
    assert mine.terms.surety == assemble([DEFAULT]).terms.surety
    with pytest.raises(InputError, match="unknown basis"):
        assemble([DEFAULT, shop_of(shop_toml='charge_per_hour = 60\n[basis]\ncharge_per_hour = "guess"\n')])
    with pytest.raises(InputError, match="no basis is given"):
        assemble([Folder("rates", {**DEFAULT.files, "shop.toml": b"charge_per_hour = 60\n"})])


def test_every_difference_is_listed() -> None:
    folder = shop_of(
        tasks="id,run_min_likely,source\nstring-up,1.5,\n",
        shop_toml="charge_per_hour = 60\nsurety = 80\n[rate_build_up]\ndraw = 41000\n",
    )
    found = [
        (one.file, one.key, one.column, one.after, one.basis)
        for one in differences(DEFAULT.files, folder.files, folder.label)
    ]
    assert found == [
        ("tasks.csv", "string-up", "run_min_likely", "1.5", "own"),
        ("shop.toml", "charge_per_hour", "", "60", "own"),
        ("shop.toml", "rate_build_up.draw", "", "41000", "own"),
    ]


def test_an_unchanged_shop_has_nothing_to_write() -> None:
    assert only_what_differs(DEFAULT.files, DEFAULT.files, "book") == ({}, [])
    assert empty_table(TASKS) == b"id\n"


@pytest.mark.slow
def test_random_changes_survive_the_least_files() -> None:
    """Cells drawn and changed: the least files hold exactly them, and make the same shop as the whole ones."""
    draw = random.Random(22)
    number = ("setup_min", "run_min_high", "level", "rework_pct", "wait_safe_min")
    for _ in range(12):
        known = [key[0] for key in base_of()]
        names = sorted(draw.sample(known, 5), key=known.index)
        lines = [",".join(("id", *number))]
        for name in names:
            old = base_of()[(name,)].values  # type: ignore[attr-defined]
            cells = [
                str(old[column] + 1 if draw.random() < 0.5 and column != "level" else "") for column in number
            ]
            lines.append(",".join((str(name), *cells)))
        own = {"tasks.csv": ("\n".join(lines) + "\n").encode(), "shop.toml": b"fee_most = 21\n"}
        whole = whole_shop(DEFAULT.files, own, "mine")
        least, notes = only_what_differs(DEFAULT.files, whole, "book")
        assert notes == []
        assert differences(DEFAULT.files, least, "a") == differences(DEFAULT.files, own, "a")
        one, other = (assemble([DEFAULT, Folder("mine", files)]) for files in (own, least))
        assert one.terms == other.terms
        assert {n: repr(t) for n, t in _values(one).items()} == {
            n: repr(t) for n, t in _values(other).items()
        }
        assert least["tasks.csv"].count(b"\n") <= 6


def _values(shop: object) -> dict[str, object]:
    from msgspec.structs import replace

    from estimator.core.errors import Origin

    return {name: replace(task, origin=Origin()) for name, task in shop.tasks.items()}  # type: ignore[attr-defined]


def test_a_row_taken_out_of_a_workbook_is_told() -> None:
    lines = DEFAULT.files["spares.csv"].decode().splitlines()
    _, notes = only_what_differs(DEFAULT.files, {"spares.csv": "\n".join(lines[:-1]).encode()}, "book")
    assert len(notes) == 1
    assert lines[-1].split(",")[0] in notes[0]


@pytest.mark.slow
def test_reading_a_book_leaves_no_old_numbers_behind(tmp_path: Path) -> None:
    """What the folder said before and the workbook does not say any more is gone from the shop."""
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "tasks.csv").write_text("id,setup_min\nstring-up,33\n")
    (folder / "shop.toml").write_text("charge_per_hour = 12\n")
    book = tmp_path / "book.xlsx"
    some = {"spares.csv": DEFAULT.files["spares.csv"]}
    book.write_bytes(rates_book_bytes(some))
    with pytest.raises(InputError):
        read_book(str(book), str(folder), force=False)
    assert "own-shop" in read_book(str(book), str(folder), force=True)
    shop = load_shop(folder)
    assert shop.tasks["string-up"].setup_min == assemble([DEFAULT]).tasks["string-up"].setup_min
    assert shop.terms.charge_per_hour == assemble([DEFAULT]).terms.charge_per_hour


def test_a_table_may_have_its_columns_in_any_order() -> None:
    """Seeded: some own rows of every table, with the columns as they stand and moved about."""
    chance = random.Random(25)
    as_declared, moved = {}, {}
    for name in (name for name in DEFAULT.files if name.endswith(".csv")):
        head, *rows = csv.reader(io.StringIO(DEFAULT.files[name].decode(), newline=""))
        order = chance.sample(range(len(head)), len(head))
        for files, places in ((as_declared, range(len(head))), (moved, order)):
            out = io.StringIO(newline="")
            csv.writer(out).writerows([line[place] for place in places] for line in [head, *rows[:3]])
            files[name] = out.getvalue().encode()
    shops = [assemble([DEFAULT, Folder("mine", files)]) for files in (as_declared, moved)]
    assert as_declared != moved
    assert shops[0] == shops[1]


def test_a_middle_number_alone_takes_its_ends_along_only_where_it_must() -> None:
    """Every row with three numbers: the middle one drawn, alone; within its ends these stay, beyond they follow."""
    rng = random.Random(5)
    moved = kept = 0
    for name, columns in (("tasks", THREE_POINTS[0]), ("tasks", THREE_POINTS[1]), ("parts", THREE_POINTS[2])):
        spec = BY_NAME[name]
        base = {
            key_of(spec, row.values): row
            for row in read_table(DEFAULT.files[spec.file], spec, spec.file).rows
        }
        low, middle, high = columns
        drawn = {
            key[0]: (row.values[middle] * rng.choice([25, 60, 100, 140, 400]) / 100).quantize(Decimal("0.01"))
            for key, row in base.items()
            if isinstance(row.values[middle], Decimal) and row.values[middle]
        }
        text = f"id,{middle}\n" + "".join(f"{key},{number}\n" for key, number in drawn.items())
        table = read_table(text.encode(), spec, spec.file, base)
        assert table.issues == []
        for row in table.rows:
            old, new = base[key_of(spec, row.values)].values, row.values
            assert new[low] <= new[middle] <= new[high]
            if old[low] <= new[middle] <= old[high]:
                assert (new[low], new[high]) == (old[low], old[high])
                kept += 1
            else:
                for end in (low, high):
                    assert abs(new[end] * old[middle] - old[end] * new[middle]) <= old[middle] / 100
                moved += 1
        whole = text.replace(middle, f"{middle},{low}").replace("\n", ",1000\n").replace(f"{low},1000", low)
        assert any(
            row.values[low] > row.values[middle]
            for row in read_table(whole.encode(), spec, spec.file, base).rows
        )  # who writes an end as well is taken at his word, and the check of the tables complains
    assert min(moved, kept) > 40


def test_a_difference_says_what_a_number_is_counted_for() -> None:
    """Ten minutes a string are an hour of a guitar, and a price of consumables is that of the whole pack."""
    own = {
        "tasks.csv": b"id,run_min_likely,setup_min\nset-action,0.8,3\n",
        "consumables.csv": b"id,price\nc-strings-guitar,$69\n",
        "parts.csv": b"id,price\npot-standard,7\n",
    }
    found = {(one.key, one.column): one.per for one in differences(DEFAULT.files, own, "mine")}
    assert found == {
        ("set-action", "run_min_likely"): "string",
        ("set-action", "setup_min"): "",
        ("c-strings-guitar", "price"): "10 sets",
        ("pot-standard", "price"): "",
    }


def test_a_key_of_which_a_part_is_left_out_means_the_one_row_there_is() -> None:
    """Own rows written before ``when`` was a part of the key, or without it, still change the row they mean."""
    spec = BY_NAME["upgrade_effects"]
    base = {
        key_of(spec, row.values): row for row in read_table(DEFAULT.files[spec.file], spec, spec.file).rows
    }
    head = "upgrade,grade,attribute,kind,value\n"

    def read(text: str) -> TableRead:
        return read_table((head + text).encode(), spec, spec.file, base)

    (row,) = read("neck-pickup-stack,any,hum,to,3\n").rows
    assert (row.values["when"], row.values["value"]) == ("only-single-coil-neck", "3")
    assert key_of(spec, row.values) in base
    (issue,) = read("shield-foil,any,hum,to,3\n").issues
    assert (issue.where.row, issue.where.column, issue.problem) == (
        2,
        "when",
        "more than one row could be meant",
    )
    assert "when=all-shielded-single-coils or when=all-shielded-no-single-coils" in issue.accepted


def test_a_long_list_of_rows_with_gaps_is_told_and_not_looked_up_row_by_row(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The first ones name the key that may be meant; a list of thousands would be looked through for minutes."""
    asked: list[str] = []

    def counted(word: str, known: Iterable[str]) -> str:
        asked.append(word)
        return near_miss(word, known)

    monkeypatch.setattr(csv_rows, "near_miss", counted)
    rows = "id,setup_min\n" + "".join(f"string-upp-{number},4\n" for number in range(3000))
    table = read_table(rows.encode(), TASKS, "tasks.csv", base_of())
    assert any("2980 more of the same, rows 22 to 3001" in issue.found for issue in table.issues)
    assert all("did you mean" in issue.next_step for issue in table.issues)
    assert 0 < len(asked) <= csv_rows.LOOKED_UP
