"""The measuring sheet: what is filled in becomes a job file that reads the same; slips are named by cell."""

from __future__ import annotations

import random
import re
import zipfile
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from estimator.choose.study import Study
from estimator.core.errors import InputError
from estimator.estimate.new_job import STAGE_WORDS, default_job, fields_that_matter, sheet_text
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.workbook.measuring_sheet import SHEET, measuring_bytes, read_measuring
from tests.workbook.recalculate import cells_of, recalculated

D = Decimal


def rows_of(path: Path) -> dict[str, int]:
    return {str(v): int(at[1:]) for (_, at), v in cells_of(path).items() if at[0] == "A" and at[1:].isdigit()}


@pytest.mark.slow
def test_a_filled_in_form_gives_the_same_job(shop: Shop, studies: dict[str, Study], tmp_path: Path) -> None:
    paths = []
    for name, study in studies.items():
        path = tmp_path / f"{name}.xlsx"
        path.write_bytes(measuring_bytes(shop, study.job))
        paths.append(path)
    compared = 0
    for path, again in zip(paths, recalculated(paths, tmp_path / "again"), strict=True):
        job = studies[path.stem].job
        for form in (path, again):
            text, warnings = read_measuring(form, shop)
            file = tmp_path / f"{path.stem}.toml"
            file.write_text(text, encoding="utf-8")
            back = load_job(file, shop)
            for name in ("id", "kind", "what", "customer", "received", "wanted_by"):
                assert getattr(back, name) == getattr(job, name)
            for field, reading in job.instrument.items():
                assert back.instrument[field].value == reading.value, field
                assert back.instrument[field].assumed == reading.assumed, field
                compared += not reading.assumed
            assert all(issue.severity == "warning" for issue in warnings)
    assert compared > 100


def test_a_blank_form_gives_a_job_with_nothing_measured(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "blank.xlsx"
    path.write_bytes(measuring_bytes(shop))
    text, warnings = read_measuring(path, shop)
    assert text.split() == ["[job]", "[instrument]"]
    assert warnings == ()
    assert measuring_bytes(shop) == measuring_bytes(shop)


def typed(key: str, value: object) -> Callable[[Any, dict[str, int]], None]:
    def change(sheet: Any, rows: dict[str, int]) -> None:
        sheet[f"C{rows[key]}"].value = value

    return change


def twice(sheet: Any, rows: dict[str, int]) -> None:
    sheet[f"A{rows['string_n']}"].value = "kind"


def strange(sheet: Any, rows: dict[str, int]) -> None:
    sheet[f"A{rows['string_n']}"].value = "colour"


def keyless(sheet: Any, rows: dict[str, int]) -> None:
    sheet[f"C{max(rows.values()) + 3}"].value = 12


def joined(sheet: Any, rows: dict[str, int]) -> None:
    sheet.merge_cells(f"B{rows['scale']}:C{rows['scale']}")
    sheet[f"B{rows['scale']}"].value = 648


SLIPS: dict[str, tuple[Callable[[Any, dict[str, int]], None], str]] = {
    "comma": (typed("scale", "1,250"), r"C\d+.*1,250"),
    "wrong unit": (typed("weight_g", "3 mm"), r"C\d+.*3 mm"),
    "impossible": (typed("string_n", 400), r"C\d+.*the number 400"),
    "impossible text": (typed("scale", "9000 mm"), "impossible"),
    "near word": (typed("kind", "guitar-sold"), "guitar-solid"),
    "date": (typed("scale", datetime(2026, 1, 2)), "02 Jan 2026"),
    "switch": (typed("scale", True), "a switch"),
    "formula": (typed("scale", "=600+48"), "a formula"),
    "not a day": (typed("job:received", "last week"), "not a date"),
    "key twice": (twice, "a copied row"),
    "unknown key": (strange, "an unknown measurement"),
    "no key": (keyless, "beside no measurement"),
}


@pytest.mark.slow
@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_named_by_cell(slip: str, shop: Shop, tmp_path: Path) -> None:
    change, words = SLIPS[slip]
    path = tmp_path / "form.xlsx"
    path.write_bytes(measuring_bytes(shop))
    rows = rows_of(path)
    book = load_workbook(path)
    change(book[SHEET], rows)
    book.save(path)
    with pytest.raises(InputError, match=words):
        read_measuring(path, shop)


def test_units_capitals_and_blanks_are_taken_as_meant(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "form.xlsx"
    path.write_bytes(measuring_bytes(shop))
    rows = rows_of(path)
    book = load_workbook(path)
    for key, value in (
        ("job:id", "my-job"),
        ("kind", " Guitar-Solid "),
        ("scale", "25 1/2 in"),
        ("string_n", 6),
        ("papers", "Yes"),
    ):
        book[SHEET][f"C{rows[key]}"].value = value
    book.save(path)
    text, _ = read_measuring(path, shop)
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    job = load_job(file, shop)
    assert job.instrument["kind"].value == "guitar-solid"
    assert float(job.instrument["scale"].value) == pytest.approx(647.7)  # 25.5 x 25.4, exact by definition
    assert job.instrument["papers"].value is True


def test_a_bare_fraction_on_the_form_is_inches_and_that_is_said(metric: Shop, tmp_path: Path) -> None:
    """1/64 in = 25.4 / 64 mm; the job file says inches plainly, so nothing is asked twice."""
    shop, path = metric, tmp_path / "form.xlsx"
    path.write_bytes(measuring_bytes(shop))
    rows = rows_of(path)
    book = load_workbook(path)
    for key, value in (("job:id", "my-job"), ("relief", "1/64"), ("nut_clear_b", ".022")):
        book[SHEET][f"C{rows[key]}"].value = value
    book.save(path)
    text, warnings = read_measuring(path, shop)
    assert {warning.problem.split(": ")[-1] for warning in warnings} == {"1/64 in", "0.022 in"}
    assert all("is taken for inches" in warning.problem for warning in warnings)
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    job = load_job(file, shop)
    assert float(job.instrument["relief"].value) == 25.4 / 64
    assert float(job.instrument["nut_clear_b"].value) == pytest.approx(0.5588)
    assert job.issues == ()


USUAL = [
    ("level-crown-polish", "nut-from-blank", "new-tuners"),
    ("new-six-screw-tremolo", "new-block"),
    ("new-tuners", "ready-cut-nut", "shield-paint", "set-up"),
    (),
]


@pytest.mark.parametrize("wanted", USUAL, ids=lambda names: " ".join(names) or "everything")
def test_a_pencil_has_six_millimetres_a_row_on_paper(wanted: tuple[str, ...], shop: Shop) -> None:
    """Fitted to the width alone, never squeezed on one page: a usual choice takes three at most."""
    job = default_job(shop, "guitar-solid")
    fields = [field.id for field in fields_that_matter(shop, job, wanted)]
    page = load_workbook(BytesIO(measuring_bytes(shop, job, fields)))[SHEET]
    high = sum((page.row_dimensions[n].height or 15) for n in range(1, page.max_row + 1))
    wide = sum(page.column_dimensions[name].width for name in "BCDE") * 7 * 0.75  # 7 pixels a character
    scale = min(1, (210 / 25.4 - 1) * 72 / wide)  # A4 with half an inch left free on either side
    assert page.page_setup.fitToHeight == 0
    low = min(
        page.row_dimensions[row[0].row].height or 15 for row in page.iter_rows() if row[0].value in fields
    )
    assert low * scale * 25.4 / 72 >= 6
    if wanted:
        assert high * scale / ((297 / 25.4 - 1.1) * 72) <= 3
    headings = [row[1].value for row in page.iter_rows() if row[0].value is None and row[1].value]
    assert len(headings) == len(set(headings))
    keys = [row[0].value for row in page.iter_rows() if row[0].value]
    assert set(fields) <= set(keys)


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-semi", "guitar-6-hardtail"])
def test_the_text_sheet_stays_within_a_hundred_columns(kind: str, shop: Shop) -> None:
    job = default_job(shop, kind)
    fields = fields_that_matter(shop, job, ())
    lines = sheet_text(shop, job, fields).splitlines()
    assert max(map(len, lines)) <= 100
    rows = [line for line in lines if re.match(r"[* ] (?!level:)[\w:-]+ +\[", line)]
    assert len(rows) > len(fields)
    assert {(line[42], line[43] == " ") for line in rows} == {(" ", False)}  # the words stand in one column
    said = " ".join(" ".join(lines).split())
    for field in fields:
        plan = job.instrument["template"]
        written = str(plan.value) if field.id == "template" and not plan.assumed else "________"
        written = kind if field.id == "kind" and plan.assumed else written
        assert f"{field.id} [{written}]" in said
        assert all(choice in said for choice in field.choices), field.id


#: (what a pencil writes, the value it means in the field's unit or None where it was not measured, a remark is kept)
MESS = (
    ("scale", '25 1/2"', D("647.7"), True),
    ("fret_h", "1,05", D("1.05"), True),
    ("nut_wid", "1 5/8 in", D("41.275"), False),
    ("peg_thk", "14.3 mm", D("14.3"), False),
    ("tuner_hole_d", "10?", D(10), True),
    ("br_spread", "ca. 54", D(54), True),
    ("tcav_len", "?", None, True),
    ("tcav_wid", "n/a", None, True),
    ("tcav_dep", "", None, False),
    ("weight_g", "8 lb", D("3628.73896"), False),
    ("action_b", "2.4 (?)", D("2.4"), True),
    ("relief", "0,25?", D("0.25"), True),
    ("body_thk", "4.5 cm", D(45), False),
    ("strap_hole_ok", "y", True, False),
    ("br_type", " Hardtail ", "hardtail", False),
    ("nut_clear_b", "about .5 mm", D("0.5"), True),
    ("joint_screw_n", "4", D(4), False),
)
HEAD = (
    ("job:id", "anns-guitar"),
    ("job:customer", 'Ann A. \\ "Annie"'),
    ("job:make", "no name, red"),
    ("job:serial", "00451"),
    ("job:kind", "commission"),
    ("wish:profile", "student"),
    ("budget:money", "150 USD"),
    ("level:hum", "1"),
)


def filled(kind: str, shop: Shop, path: Path) -> Path:
    """A form with the mess on it, as a workbook or as text."""
    if kind == "xlsx":
        path.write_bytes(measuring_bytes(shop))
        rows, book = rows_of(path), load_workbook(path)
        for key, words in (*HEAD, *((key, words) for key, words, _, _ in MESS)):
            book[SHEET][f"C{rows[key]}"].value = words or None
        book.save(path)
        return path
    text = sheet_text(shop, default_job(shop, "guitar-solid"), shop.intake.values())
    for key, words in (*HEAD, *((key, words) for key, words, _, _ in MESS)):
        text, times = re.subn(
            rf"(?m)^([* ] {re.escape(key)} +\[)[^\]]*\]", lambda m, w=words: f"{m[1]}{w}__]", text
        )  # type: ignore[misc]
        assert times == 1, key
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("kind", ["xlsx", "txt"])
def test_a_pencils_mess_comes_back_without_a_loss(kind: str, metric: Shop, tmp_path: Path) -> None:
    shop = metric
    text, warnings = read_measuring(filled(kind, shop, tmp_path / f"form.{kind}"), shop)
    assert all(issue.severity == "warning" for issue in warnings)
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    job = load_job(file, shop)
    for key, words, value, remark in MESS:
        reading = job.instrument[key]
        assert reading.assumed is (value is None), key
        if value is not None:
            assert reading.value == value, key
        assert (f"# {key}: " in text) is remark, key
        if remark:
            assert f"“{words}”" in text
    assert job.customer == 'Ann A. \\ "Annie"'
    assert (job.labels.make, job.labels.serial) == ("no name, red", "00451")
    assert (job.kind, job.profile, job.budget.money) == ("commission", "student", D(150))
    assert job.found_levels["hum"].value == 1


def pencilled(chance: random.Random, value: Decimal) -> tuple[str, Decimal | None, bool]:
    """One way to write a length of some mm: the words, what they mean (None: not measured), whether a remark is kept."""
    plain = f"{value:f}"
    sixty_fourths = max(1, round(value / D("25.4") * 64))
    whole, part = divmod(sixty_fourths, 64)
    inches = f"{whole} {part}/64" if whole and part else f"{part}/64" if part else f"{whole}"
    return chance.choice(
        [
            (plain, value, False),
            (f" {plain} mm ", value, False),
            (f"{plain}mm", value, False),
            (f"{value / 10:f} cm", value, False),
            (f"{inches} in", D(sixty_fourths) * D("25.4") / 64, False),
            (f'{inches}"', D(sixty_fourths) * D("25.4") / 64, True),
            (f"{plain}?", value, True),
            (f"{plain} (?)", value, True),
            (f"ca. {plain}", value, True),
            (f"about {plain} mm", value, True),
            ("?", None, True),
            ("n/a", None, True),
            ("", None, False),
            ("   ", None, False),
            *([(plain.replace(".", ","), value, True)] if "." in plain else []),
        ]
    )


def test_sheets_with_drawn_messes_come_back_without_a_loss(metric: Shop, tmp_path: Path) -> None:
    """60 sheets of 12 lengths, each written in a drawn way about its usual value."""
    chance = random.Random(20)
    fresh = default_job(metric, "guitar-solid")
    lengths = [
        spec
        for spec in metric.intake.values()
        if spec.unit == "mm"
        and isinstance(value := fresh.instrument[spec.id].value, Decimal)
        and value > D("0.5")
    ]
    assert len(lengths) > 40
    blank, file = sheet_text(metric, fresh, metric.intake.values()), tmp_path / "job.toml"
    for number in range(60):
        text, told = blank, {}
        for spec in chance.sample(lengths, 12):
            usual = fresh.instrument[spec.id].value
            assert isinstance(usual, Decimal)
            words, meant, remark = told[spec.id] = pencilled(chance, usual)
            text, times = re.subn(rf"(?m)^([* ] {spec.id} +\[)_*\]", lambda m, w=words: f"{m[1]}{w}__]", text)  # type: ignore[misc]
            assert times == 1, spec.id
        form = tmp_path / "form.txt"
        form.write_text(text, encoding="utf-8")
        found, _ = read_measuring(form, metric)
        file.write_text(found.replace("[job]", '[job]\nid = "drawn"', 1) if "\nid = " not in found else found)
        job = load_job(file, metric)
        for name, (words, meant, remark) in told.items():
            reading = job.instrument[name]
            assert reading.assumed is (meant is None), (number, name, words)
            if meant is not None:
                assert isinstance(reading.value, Decimal)
                assert abs(reading.value - meant) < D("0.0001"), (number, name, words)
            assert (f"# {name}: " in found) is remark, (number, name, words)


def test_stages_come_in_the_order_in_which_an_instrument_is_taken_apart(shop: Shop) -> None:
    lines = sheet_text(shop, default_job(shop, "guitar-solid"), shop.intake.values()).splitlines()
    at = [lines.index(words) for words in STAGE_WORDS.values()]
    assert at == sorted(at)
    place = {line[2:].split()[0]: n for n, line in enumerate(lines) if re.match(r"[* ] [\w:-]+ +\[", line)}
    assert (
        at[0]
        < place["kind"]
        < at[1]
        < place["action_b"]
        < at[2]
        < place["fret_h"]
        < at[3]
        < place["ctl_d"]
        < at[4]
    )
    assert at[4] < place["pocket_dep"]
    assert place["job:customer"] < at[0]
    assert lines[place["br_spread"]].startswith(
        "* "
    )  # every third verdict on a bridge would be wrong without it
    assert not lines[place["chip_n"]].startswith("* ")
    assert set(shop.intake) <= set(place)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("  scale   [648", "brackets are broken"),
        ("  colour   [red]", "unknown measurement"),
        ("  scale   [3 kg]", "3 kg"),
        ("  budget:money   [a lot]", "not an amount of money"),
        ("  level:hum   [9]", "not a level"),
        ("  job:received  [last week]", "not a date"),
    ],
)
def test_slips_on_a_text_form_are_named_by_line(line: str, words: str, shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "form.txt"
    path.write_text(f"Measuring sheet\n  kind  [guitar-solid]\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError, match=words) as error:
        read_measuring(path, shop)
    assert error.value.issues[0].where.row == 3


def test_the_figure_shows_each_dimension_that_has_a_letter_and_is_asked_for(shop: Shop) -> None:
    fields = ["scale", "tcav_len", "pocket_len", "chip_n"]
    data = measuring_bytes(shop, None, fields)
    page = load_workbook(BytesIO(data))[SHEET]
    letters = {name: shop.drawn.calipers[name].letter for name in fields[:3]}
    hints = {row[0].value: str(row[4].value) for row in page.iter_rows(max_col=5) if row[0].value in fields}
    assert {name for name, hint in hints.items() if hint.startswith("figure ")} == set(letters)
    assert all(hints[name].startswith(f"figure {letter}:") for name, letter in letters.items())
    with zipfile.ZipFile(BytesIO(data)) as book:
        chart = book.read("xl/charts/chart1.xml").decode()
    assert sorted(re.findall(r"<a:t>(\w+)</a:t>", chart)) == sorted(letters.values())
    everywhere = [place.letter for place in shop.drawn.calipers.values()]
    assert len(everywhere) == len(set(everywhere))


def test_the_text_sheet_names_the_figure_and_comes_back(shop: Shop, tmp_path: Path) -> None:
    """Each dimension that the figure shows bears its letter; the words of the figure are no rows of the form."""
    text = sheet_text(shop, default_job(shop, "guitar-solid"), shop.intake.values())
    named = dict(
        re.findall(r"^[* ] (\w+) +\[_+\] \S* +figure ([A-Z]+), (?:front|side): ", text, re.MULTILINE)
    )
    assert named == {name: place.letter for name, place in shop.drawn.calipers.items()}
    assert "Figure: where the caliper goes" in text
    path = tmp_path / "sheet.txt"
    path.write_text(
        text.replace("scale                [________]", "scale                [648?]"), encoding="utf-8"
    )
    made, told = read_measuring(path, shop)
    assert 'scale = "648 mm"' in made  # the row asks for inches, and no scale is 648 of them
    assert ["taken for mm" in issue.problem for issue in told] == [True]
    none = sheet_text(shop, default_job(shop, "guitar-solid"), [shop.intake["kind"]])
    assert "Figure:" not in none


def test_the_figure_is_not_cut_by_a_page(shop: Shop, tmp_path: Path) -> None:
    """On a sheet of several pages a new one begins at the figure; on a short sheet it stands under the rows."""
    for fields, breaks in ((None, 1), (["scale", "nut_wid"], 0)):
        path = tmp_path / "form.xlsx"
        path.write_bytes(measuring_bytes(shop, fields=fields))
        page = load_workbook(path)[SHEET]
        assert len(page.row_breaks.brk) == breaks
        (chart,) = page._charts
        heading = chart.anchor._from.row  # from 0: the row above, from 1
        assert str(page.cell(heading, 2).value).startswith("Figure")
        assert [mark.id for mark in page.row_breaks.brk] == [heading - 1] * breaks
