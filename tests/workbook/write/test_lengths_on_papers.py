"""Lengths on the papers of the bench: mm in a metric shop, inches with their mm where the trade reads inches."""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.choose.study import Study, study_job
from estimator.core.units import lengths_as_read
from estimator.estimate.new_job import default_job, sheet_text
from estimator.fit.candidates import all_upgrades
from estimator.input.job.load import job_from, load_job
from estimator.model import Shop
from estimator.report.drawings import drawn_of
from estimator.report.hole_plans import HolePlan, rows_of
from estimator.report.svg.fit import drawing, head_of
from estimator.tables.toml.text import parse_toml
from estimator.workbook.measuring_sheet import SHEET, measuring_bytes, read_measuring
from estimator.workbook.quote_files import quote_bytes
from estimator.workbook.write.drawn_marks import facts_of
from estimator.workbook.write.sheets.job_card import SETUP_LINES, SETUP_SHEET, target_words
from estimator.workbook.write.sheets.templates import hole_words

D = Decimal
JOBS = Path(__file__).resolve().parents[3] / "example_jobs"
MM = Fraction(254, 10)


def shop_of(shop: Shop, lengths: str) -> Shop:
    return replace(shop, terms=replace(shop.terms, lengths=lengths))


@pytest.fixture(scope="module")
def books(shop: Shop) -> Mapping[str, tuple[Study, Any]]:
    """A job whose holes are plugged and bored, as a workbook of a shop of either kind."""
    made = {}
    for lengths in ("mm", "in"):
        own = shop_of(shop, lengths)
        study = study_job(own, load_job(JOBS / "tight-commission.toml", own))
        chosen = ("new-tuners", "level-crown-polish", "nut-slots")
        held = {v.upgrade.id for v in study.verdicts}
        made[lengths] = (
            study,
            load_workbook(io.BytesIO(quote_bytes(study, chosen=tuple(c for c in chosen if c in held)))),
        )
    return made


def near(inches: str, mm: str | Decimal) -> bool:
    """Whether a figure in inches is that length: within half of its last place, or of the last place of the mm."""
    off = abs(Fraction(inches) * MM - Fraction(mm))
    return off <= MM * Fraction(1, 2 * 10 ** places_of(inches)) or off <= Fraction(
        1, 2 * 10 ** places_of(str(mm))
    )


def places_of(figure: str) -> int:
    return len(figure.partition(".")[2])


BESIDE = re.compile(
    r"([\d.]+(?:(?: to | x | by |-)[\d.]+)*)(?: in)? [(\[]([\d.]+(?:(?: to | x | by |-)[\d.]+)*) mm[)\]]"
)
NUMBER = re.compile(r"\d+(?:\.\d+)?")


def pairs(text: str) -> list[tuple[str, str]]:
    """Every figure in inches with the mm that stand beside it."""
    found = []
    for one in BESIDE.finditer(text):
        found += list(zip(NUMBER.findall(one[1]), NUMBER.findall(one[2]), strict=True))
    return found


def words_of(page: Any) -> list[str]:
    return [c.value for row in page.iter_rows() for c in row if isinstance(c.value, str)]


@pytest.mark.slow
def test_the_set_up_sheet(books: Mapping[str, tuple[Study, Any]]) -> None:
    for lengths, (study, book) in books.items():
        rows = {
            str(row[0].value): row
            for row in book[SETUP_SHEET].iter_rows(min_row=5)
            if row[0].value is not None
        }
        height = rows["String height, bass side"]
        gap = rows["Gap over the first fret, bass side"]
        assert rows["Worst error at the 12th fret"][1].value == "cents"
        for row in (height, gap, rows["Neck relief"]):
            assert row[1].value == lengths
        for row, field in ((height, "action_b"), (gap, "nut_clear_b")):
            known = study.job.instrument[field]
            assert not known.assumed
            if lengths == "mm":
                assert D(str(row[3].value)) == known.value
            else:
                places = len(row[3].number_format.partition(".")[2])
                assert near(f"{row[3].value:.{places}f}", known.value)
                assert float(row[3].value) * 25.4 == pytest.approx(float(known.value))
        assert gap[2].value == {"mm": "0.30 to 0.60", "in": "0.012 to 0.024 (0.30 to 0.60 mm)"}[lengths]


@pytest.mark.slow
def test_the_job_card(books: Mapping[str, tuple[Study, Any]]) -> None:
    metric, inch = (words_of(books[lengths][1]["Job card"]) for lengths in ("mm", "in"))
    lengths = [words for words in metric if re.search(r"\d mm\b", words)]
    assert lengths
    assert not [words for words in metric if re.search(r"[\d.]+ in\b(?! \()", words)]
    # every line of the card of one shop is that of the other, read as people there read lengths
    assert inch == [lengths_as_read(words, "in", beside=True) for words in metric]
    both = [pair for words in inch for pair in pairs(words)]
    assert both
    assert all(near(inches, mm) for inches, mm in both)


@pytest.mark.parametrize("lengths", ["mm", "in"])
def test_the_measuring_sheet_asks_in_the_unit_of_the_shop(shop: Shop, lengths: str, tmp_path: Path) -> None:
    own = shop_of(shop, lengths)
    page = load_workbook(io.BytesIO(measuring_bytes(own)))[SHEET]
    units = {str(row[0].value): row[3].value for row in page.iter_rows(min_row=5)}
    text = sheet_text(own, default_job(own, "guitar-solid"), own.intake.values())
    written = dict(re.findall(r"(?m)^[* ] (\w+) +\[_+\] (\S*)", text))
    asked = [spec.id for spec in own.intake.values() if spec.kind == "length"]
    assert len(asked) > 50
    assert {units[name] for name in asked} == {lengths}
    assert {written[name] for name in asked} == {lengths}
    assert (units["weight_g"], written["weight_g"]) == ("g", "g")
    # no other figure is left in the unit that is not asked for
    other = {"mm": "in", "in": "mm"}[lengths]
    assert not [line for line in text.splitlines()[5:] if re.search(rf"\d {other}\b", line)]


#: what is written in a row of inches, and the mm that it means
TYPED = (
    ("relief", "0.010", D("0.254")),
    ("action_b", "5/64", D("1.984375")),
    ("action_t", "1.5 mm", D("1.5")),
    ("scale", "25 1/2", D("647.7")),
    ("nut_wid", "42", D(42)),
    ("fret_h", ".042", D("1.0668")),
    ("body_thk", "4.5 cm", D(45)),
    ("weight_g", "3600", D(3600)),
)


@pytest.mark.parametrize("kind", ["xlsx", "txt", "numbers"])
def test_what_is_written_in_a_row_of_inches_is_inches(shop: Shop, kind: str, tmp_path: Path) -> None:
    own = shop_of(shop, "in")
    path = tmp_path / ("form.txt" if kind == "txt" else "form.xlsx")
    if kind == "txt":
        text = sheet_text(own, default_job(own, "guitar-solid"), own.intake.values())
        for key, words, _ in TYPED:
            text = re.sub(rf"(?m)^([* ] {key} +\[)_*\]", lambda m, w=words: f"{m[1]}{w}]", text)  # type: ignore[misc]
        path.write_text(text, encoding="utf-8")
    else:
        path.write_bytes(measuring_bytes(own))
        book = load_workbook(path)
        rows = {str(row[0].value): row[2] for row in book[SHEET].iter_rows(min_row=5)}
        for key, words, _ in TYPED:
            bare = re.fullmatch(r"[\d.]+", words) and kind == "numbers"
            rows[key].value = float(words) if bare else words
        book.save(path)
    # the row says its unit, whatever the shop that reads it back has
    for reader in (own, shop_of(shop, "mm")):
        made, told = read_measuring(path, reader)
        file = tmp_path / "job.toml"
        named = made if kind == "txt" else made.replace("[job]", '[job]\nid = "a-job"')
        file.write_text(named, encoding="utf-8")
        job = load_job(file, reader)
        for key, words, value in TYPED:
            assert job.instrument[key].value == value, (key, words)
        # 42 inches is no nut: it is taken for mm, and that is told
        assert [issue.found for issue in told if "taken for mm" in issue.problem] == ["“42”"]


def test_a_unit_that_is_no_length_is_asked_about(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "form.txt"
    path.write_text("  nut_wid              [42] parsec   width of the nut\n", encoding="utf-8")
    with pytest.raises(Exception, match="the unit of a row; found “parsec”"):
        read_measuring(path, shop)


@pytest.mark.slow
def test_a_measured_job_comes_back_from_a_form_in_inches_as_it_was(shop: Shop, tmp_path: Path) -> None:
    own, compared = shop_of(shop, "in"), 0
    for source in sorted(JOBS.glob("*.toml")):
        job = load_job(source, own)
        path, file = tmp_path / "form.xlsx", tmp_path / "job.toml"
        path.write_bytes(measuring_bytes(own, job))
        page = load_workbook(path)[SHEET]
        for row in page.iter_rows(min_row=5):
            spec = own.intake.get(str(row[0].value))
            if spec is not None and spec.kind == "length" and isinstance(row[2].value, int | float):
                places = len(row[2].number_format.partition(".")[2])
                value = job.instrument[spec.id].value
                assert isinstance(value, Decimal)
                assert near(f"{row[2].value:.{places}f}", value)
                compared += 1
        file.write_text(read_measuring(path, own)[0], encoding="utf-8")
        back = load_job(file, own)
        for name, reading in job.instrument.items():
            assert back.instrument[name].value == reading.value, name
    assert compared > 20


@pytest.mark.slow
def test_drawings_and_templates(shop: Shop) -> None:
    """Words of every drawing in both units; ordinates and dimensions stay mm, and a bit keeps its own mark."""
    told: dict[str, list[str]] = {"mm": [], "in": []}
    drawn = 0
    for lengths, words in told.items():
        own = shop_of(shop, lengths)
        for source in ("tight-commission", "resale-flip"):
            job = load_job(JOBS / f"{source}.toml", own)
            for upgrade in all_upgrades(own, job):
                found = drawn_of(own, job, upgrade)
                words += [gap.words for gap in found.not_drawn]
                for plan in found.plans.values():
                    drawn += 1
                    svg = drawing(plan, head_of(job))
                    words.append(" ".join(text for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)))
                    words += [f"{what} {value}" for what, value in facts_of(plan)]
                    if isinstance(plan, HolePlan):
                        words += [hole_words(plan, row) for row in rows_of(plan)]
    assert drawn > 40
    assert not [text for text in told["mm"] if pairs(text)]
    bits = [re.findall(r"[\d.]+ mm or [\d/ ]+ in \([\d.]+\)", " ".join(words)) for words in told.values()]
    assert bits[0] == bits[1] != []
    both = [pair for text in told["in"] for pair in pairs(text)]
    assert len(both) > 100
    assert all(near(inches, mm) for inches, mm in both)
    left = [
        text
        for text in told["in"]
        if re.search(
            r"(?<! in [(\[])(?<![\d.])[\d.]+ mm\b(?! or)", re.sub(r"[(\[][^()\[\]]* mm[)\]]", "", text)
        )
    ]
    # the bar of a drawing is measured in mm
    assert not [text for text in left if not re.search(r"\b100? mm", text)]


@pytest.mark.slow
def test_the_spec(books: Mapping[str, tuple[Study, Any]]) -> None:
    metric, inch = (words_of(books[lengths][1]["Spec"]) for lengths in ("mm", "in"))
    assert [words for words in metric if re.search(r"\d mm\b", words)]
    assert inch == [lengths_as_read(words, "in") for words in metric]
    assert not [words for words in inch if re.search(r"\d mm\b", words)]


@pytest.mark.slow
def test_notes_for_the_bench(books: Mapping[str, tuple[Study, Any]]) -> None:
    metric, inch = (words_of(books[lengths][1]["Notes"]) for lengths in ("mm", "in"))
    assert any(re.fullmatch(r"[\d.]+ mm", words) for words in metric)
    whole = [words for words in inch if re.fullmatch(r"[\d.]+ in \([\d.]+ mm\)", words)]
    assert whole
    assert all(near(inches, mm) for words in whole for inches, mm in pairs(words))
    assert not [words for words in inch if re.fullmatch(r"[\d.]+ mm", words)]


@pytest.mark.parametrize("level", [1, 2, 3, 4])
@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_the_set_up_sheet_aims_at_the_treble_side_as_the_words_of_the_level_do(
    kind: str, level: int, shop: Shop, tmp_path: Path
) -> None:
    """Both sides of the level that was promised, on a bass each 0.7 mm more, and both below what was there."""
    own = shop_of(shop, "mm")
    path = tmp_path / "job.toml"
    head = f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "{kind}"\n'
    path.write_text(f"{head}[wish]\nrequire = {{ action = {level} }}\n", encoding="utf-8")
    study = study_job(own, load_job(path, own))
    told = re.match(r"([\d.]+) mm bass side, ([\d.]+) mm treble side", own.attributes["action"].words[level])
    assert told is not None
    more = D("0.7") if kind == "bass-solid" else D(0)
    aimed = [
        target_words(study, judged) for _, _, field, judged, _ in SETUP_LINES if field.startswith("action")
    ]
    assert aimed == [f"at most {D(side) + more}" for side in told.groups()]
    assert own.attributes["action"].bass_shift == D("0.7")


def test_what_was_measured_in_inches_is_told_in_round_mm_in_a_metric_shop(shop: Shop) -> None:
    own = shop_of(shop, "mm")
    fields = {
        field.id: f"{round(Fraction(field.default_guitar) / MM * 64)}/64 in"
        for field in shop.intake.values()
        if field.unit == "mm"
        and NUMBER.fullmatch(field.default_guitar)
        and Fraction(field.default_guitar) > 1
    }
    assert len(fields) > 40
    text = (
        'job = { id = "inches", kind = "commission", what = "hard" }\n[instrument]\nkind = "guitar-solid"\n'
    )
    text += "".join(f'{name} = "{inches}"\n' for name, inches in fields.items())
    text += "[wish]\nrequire = { action = 3, fret-levelness = 3, nut-function = 3, tuner-quality = 3 }\n"
    study = study_job(own, job_from(parse_toml(text.encode(), "inches.toml"), own))
    chosen = ("set-up", "level-crown-polish")
    book = load_workbook(io.BytesIO(quote_bytes(study, chosen=chosen)))
    cells = (cell.value for sheet in book for row in sheet.iter_rows() for cell in row)
    told = [words for words in cells if isinstance(words, str)]
    assert any("1.98 mm" in words for words in told)
    assert [words for words in told if re.search(r"\d\.\d{4,}(?: [\d./ to]+)? mm", words)] == []
