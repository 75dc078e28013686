"""The measuring sheet: the intake as a form to print or fill in, and what was filled in as a job file.

A blank stays unmeasured; the job then takes the default and says so. Lengths may carry their unit as
text (``5/8 in``); everything is checked by the same rules as a job file.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

from msgspec import Struct, field

from estimator.core.cell_text import a1
from estimator.core.days import DayError, day_as_written
from estimator.core.errors import InputError, Issue, Origin, note, refusal
from estimator.core.given import bytes_given
from estimator.core.text import day_of, sentence_case
from estimator.core.units import (
    ALIASES,
    INCH,
    UNITS,
    inch_format,
    lengths_as_read,
    to_decimal,
    unit_example,
)
from estimator.estimate.new_job import (
    SHEET_ROWS,
    by_stage,
    is_starred,
    judged_attributes,
    known_of,
    unit_said,
)
from estimator.input.job.plausible import in_plain_inches
from estimator.model import IntakeField, Job, Shop
from estimator.tables.cells import CellError
from estimator.tables.cells import plain as number_words
from estimator.tables.quantities import outside_accepted, read_intake
from estimator.workbook.read.cells import EditedBook
from estimator.workbook.write.caliper_figure import write_figure
from estimator.workbook.write.cells import Book, Sheet

SHEET, FAULTS = "Measuring sheet", "What else is wrong"
KEY, WHAT, VALUE, UNIT, HOW = range(5)
WIDTHS = (10, 46, 15, 8, 52)
FIGURE_POINTS, PAGE_POINTS = 330, 840
"""Of the figure with its heading, and of a page of either paper."""
HEADS = {KEY: "Key", WHAT: "What", VALUE: "Value", UNIT: "Unit", HOW: "How, or words accepted"}
LEVELS = "Judged at the bench: 0 bad to 4 as good as it gets"
LONGEST_LIST = 255
#: points of a row that a pencil writes into: 6 mm on paper, fitted to its width
PENCIL = 22
#: so many points are still written into easily when they are fitted on one page
ONE_PAGE = 1300
NUMBERS = ("length", "number", "count", "mass", "money", "angle")


def measuring_bytes(
    shop: Shop,
    job: Job | None = None,
    fields: Collection[str] | None = None,
    paper: str = "A4",
    faults: Collection[str] = (),
) -> bytes:
    """The form; with a job, what it has measured stands in it. ``fields`` limits it to what matters.

    ``faults``: fields that show what is wrong beside that; they stand on a page of their own.
    """
    created = (day_of(job.received) if job else None) or date(2000, 1, 1)
    book = Book("Measuring sheet", created, paper, shop.terms.shop_name)
    sheet = _page(book, shop, SHEET, f"Measuring sheet  ·  {job.id}" if job else SHEET)
    at = 4
    for key, label in SHEET_ROWS:
        at = _row(sheet, at, key, sentence_case(label), known_of(job, key))
    asked = [spec for spec in shop.intake.values() if fields is None or spec.id in fields]
    at = _stages(sheet, at, shop, job, asked)
    at = _heading(sheet, at, LEVELS)
    for name in judged_attributes(shop) if fields is None else ():
        level = job.found_levels.get(name) if job else None
        known = "" if level is None or level.assumed else str(level.value)
        at = _row(sheet, at, f"level:{name}", sentence_case(shop.attributes[name].what), known)
    if fields is not None:
        at = _row(
            sheet, at, "levels", "Levels: attribute = level, parted by commas (hum = 1, action = 2)", ""
        )
    if sheet.points(0, at + 1) % PAGE_POINTS + FIGURE_POINTS > PAGE_POINTS:
        sheet.page_breaks.append(at + 1)  # the figure is not cut by the end of a page
    last = write_figure(
        book, sheet, at + 1, [p for name, p in shop.drawn.calipers.items() if name in {s.id for s in asked}]
    )
    sheet.print_last_row = max(last, at)
    if faults:
        beside = _page(book, shop, FAULTS, FAULTS)
        _stages(beside, 4, shop, job, [spec for spec in shop.intake.values() if spec.id in faults])
        if beside.height <= ONE_PAGE:
            beside.pages_tall = 1
    book.property("schema", "1")
    return book.done()


def _page(book: Book, shop: Shop, name: str, title: str) -> Sheet:
    """One worksheet of the form, with its head; the rows begin below it."""
    sheet = book.sheet(
        Sheet(
            name,
            WIDTHS,
            hidden_columns=(KEY,),
            footer=f"{shop.terms.shop_name}  ·  {title}",
            repeat=(3, 3),
            freeze=(4, 0),
            margin=0.5,
        )
    )
    sheet.print_last_column = HOW
    words = (
        f"Leave blank what was not measured. A unit may stand with the value: {unit_example(shop.lengths)}, 2.25 lb. "
        "Mark a doubt with ?. * often decides whether a part fits."
    )
    sheet.headline(title, words, WHAT, HOW)
    for column, head in HEADS.items():
        sheet.text(
            3,
            column,
            head,
            "head-right" if column == VALUE else "head",
            indent=1 if column in (UNIT, HOW) else 0,
        )
    sheet.rule(3, WHAT, HOW, "ink")
    return sheet


def _stages(sheet: Sheet, at: int, shop: Shop, job: Job | None, asked: Sequence[IntakeField]) -> int:
    """The fields stage by stage; the row after them."""
    for stage, held in by_stage(shop, asked):
        at = _heading(sheet, at, stage)
        for spec in held:
            place = shop.drawn.calipers.get(spec.id)
            _field(sheet, at, spec, job, f"figure {place.letter}: " if place else "", shop)
            at += 1
    return at


def _heading(sheet: Sheet, at: int, words: str) -> int:
    sheet.text(at, WHAT, words, "bold")
    sheet.tall(at, 22)
    sheet.rule(at, WHAT, HOW, "ink")
    return at + 1


def _row(sheet: Sheet, at: int, key: str, label: str, value: str) -> int:
    sheet.text(at, KEY, key, "soft")
    sheet.text(at, WHAT, label, "wrap", font_size=9)
    sheet.fill_or_text(at, VALUE, value)
    sheet.tall(at, PENCIL)
    sheet.rule(at, WHAT, HOW)
    return at + 1


def _field(sheet: Sheet, at: int, spec: IntakeField, job: Job | None, figure: str, shop: Shop) -> None:
    shown = shop.lengths
    sheet.text(at, KEY, spec.id, "soft")
    star = "* " if is_starred(spec) else ""
    sheet.text(at, WHAT, lengths_as_read(star + sentence_case(spec.what), shown), "wrap", font_size=9)
    sheet.tall(at, PENCIL)
    reading = job.instrument.get(spec.id) if job else None
    value = reading.value if reading is not None and not reading.assumed else None
    unit = unit_said(shop, spec) if spec.kind in NUMBERS else ""
    if isinstance(value, bool):
        sheet.fill_or_text(at, VALUE, "yes" if value else "no")
    elif isinstance(value, Decimal) and unit == "in":
        # the cell holds the whole value and shows what is said, so that it comes back as it was measured
        sheet.input(at, VALUE, value / INCH, "number", num_format=inch_format(value))
    elif isinstance(value, Decimal):
        sheet.input(at, VALUE, value, "number")
    else:
        sheet.fill_or_text(at, VALUE, " ".join(value) if isinstance(value, tuple) else value or "")
    choices = ["yes", "no"] if spec.kind == "yes-no" else list(spec.choices)
    if choices and spec.kind != "list" and len(",".join(choices)) <= LONGEST_LIST:
        sheet.check_range(at, VALUE, at, {"validate": "list", "source": choices, "error_type": "warning"})
    sheet.text(at, UNIT, unit, "soft", indent=1)
    hint = figure + (", ".join(choices) if choices else lengths_as_read(spec.how, shown))
    sheet.text(at, HOW, hint, "soft-wrap", indent=1)
    sheet.rule(at, WHAT, HOW)


class _SheetValues(Struct):
    """What was on a sheet: by section of the job file, TOML by key; what was doubted or could not be a value."""

    sections: dict[str, dict[str, str]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def put(self, section: str, name: str, written: str) -> None:
        self.sections.setdefault(section, {})[name] = written

    def text(self) -> str:
        """The job file; what was doubted stands in it as remarks, so that nothing is lost."""
        lines = [f"# {note}" for note in self.notes] + ([""] if self.notes else [])
        for section in ("job", "instrument", "instrument.levels", "wish", "budget"):
            rows = self.sections.get(section, {})
            if rows or section in ("job", "instrument"):
                lines += [f"[{section}]", *(f"{name} = {value}" for name, value in rows.items()), ""]
        return "\n".join(lines)


UNKNOWN = frozenset(
    {"?", "??", "-", "--", "–", "n/a", "na", "unknown", "not known", "not measured", "dunno", "no idea"}
)
_DOUBT = re.compile(r"^(?:ca\.?|about|approx\.?|~|≈)\s*|\s*(?:\(\?+\)|\?+)$", re.IGNORECASE)
_BARE = re.compile(r"[-+]?\s*(?:\d+[\s-]+\d+/\d+|\d+/\d+|\d+(?:\.\d*)?|\.\d+)")
WIDEST = Decimal(1_000_000)
TYPED_PLACES = 6
"""Places of a number that somebody may have typed; the cell of a known length in inches holds more."""
_COMMA = re.compile(r"(?<![\d,.])(\d+),(\d{1,2}|\d{4,})(?![\d,.])")


def pencilled(text: str) -> tuple[str, str]:
    """What somebody wrote, as a value and a remark: a doubt, or words that say that it was not measured.

    A single comma before other than three digits parts decimals; ``1,250`` has two readings and stays as it is.
    """
    plain = " ".join(text.split())
    if plain.casefold() in UNKNOWN:
        return "", f"not measured: “{plain}”"
    sure = _DOUBT.sub("", _DOUBT.sub("", plain)).strip()
    value = _COMMA.sub(r"\1.\2", sure).replace("''", '"')
    value = re.sub(r"(?<=[\d\s])[\"”″]$", " in", value)
    remark = (
        f"doubted: “{plain}”" if sure != plain else f"read as {value}: “{plain}”" if value != sure else ""
    )
    return value, remark


def _possible(spec: IntakeField, value: str) -> bool:
    """Whether a value lies within the limits beyond which nothing of its kind is."""
    try:
        read_intake(value, spec)
    except CellError:
        return False
    return True


class _Reader(Struct):
    """Takes values off a sheet one by one; complaints are gathered with their place."""

    shop: Shop
    file: str
    issues: list[Issue] = field(default_factory=list)
    taken: _SheetValues = field(default_factory=_SheetValues)

    def take(self, key: str, text: str, where: Origin, unit: str = "") -> None:
        """One row: its key, what was written beside it, and the unit that stands in the row."""
        value, remark = pencilled(text)
        if remark:
            self.taken.notes.append(f"{key}: {remark}")
        if not value:
            return
        section, _, name = key.rpartition(":")
        if section in ("job", "wish", "budget"):
            self._head(section, name, value, where)
        elif section == "level":
            self._level(name, value, where)
        elif key == "levels":
            for pair in value.split(","):
                name, _, level = pair.partition("=")
                self._level(name.strip(), level.strip(), where)
        else:
            spec = self.shop.intake[key]
            self._field(spec, self.with_unit(spec, value, unit, where), where, bare=value)

    def with_unit(self, spec: IntakeField, value: str, unit: str, where: Origin) -> str:
        """A bare figure with the unit of its row, where that is another length than the one of the table."""
        given = ALIASES.get(unit.casefold(), unit.casefold())
        if spec.kind != "length" or given in ("", spec.unit):
            return value
        if given not in UNITS["length"]:
            self.wrong(where, "the unit of a row", unit, ", ".join(UNITS["length"]), "put the unit back")
            return value
        if not _BARE.fullmatch(value):
            return value
        if "/" not in value and not _possible(spec, f"{value} {given}") and _possible(spec, value):
            problem = f"{sentence_case(spec.what)}: cannot be in {given}, so it is taken for {spec.unit}"
            step = f"write “{value} {spec.unit}”, or measure again in {given}"
            note(self.issues, where, problem, f"“{value}”", f"a length in {given}", step, severity="warning")
            return f"{value} {spec.unit}"
        return f"{value} {given}"

    def knows(self, key: str) -> bool:
        return (
            key in self.shop.intake
            or key == "levels"
            or key in dict(SHEET_ROWS)
            or (key.startswith("level:") and key.removeprefix("level:") in self.shop.attributes)
        )

    def wrong(self, where: Origin, problem: str, found: str, accepted: str, step: str = "") -> None:
        note(self.issues, where, problem, f"“{found}”", accepted, step)

    def _head(self, section: str, name: str, value: str, where: Origin) -> None:
        if section == "budget" and name != "hours":
            number = re.sub(r"^[^\d]*|[^\d]*$", "", value)
            if not re.fullmatch(r"\d+(\.\d+)?", number):
                self.wrong(where, "not an amount of money", value, "a number, such as 150")
                return
            value = number
        elif name in ("received", "wanted_by"):
            try:
                value = str(day_of(value) or day_as_written(value, self.shop.dates))
            except DayError as error:
                self.wrong(where, "not a date", value, str(error))
                return
        elif not (section == "budget" and re.fullmatch(r"\d+(\.\d+)?", value)):
            value = _quoted(value)
        self.taken.put(section, name, value)

    def _level(self, name: str, value: str, where: Origin) -> None:
        if name not in self.shop.attributes or not re.fullmatch(r"[0-4](\.\d)?", value):
            self.wrong(where, "not a level", f"{name} = {value}", "an attribute and a level from 0 to 4")
            return
        self.taken.put("instrument.levels", f'"{name}"', value)

    def _field(self, spec: IntakeField, value: str, where: Origin, bare: str = "") -> None:
        raw: object = in_plain_inches(value, spec.unit if spec.kind in NUMBERS else "", where, self.issues)
        if spec.kind in ("choice", "list"):
            known = {choice.casefold(): choice for choice in spec.choices}
            raw = " ".join(known.get(word.casefold(), word) for word in str(raw).split())
        written = _quoted(str(raw))
        if spec.kind == "list":
            written = "[" + ", ".join(_quoted(word) for word in str(raw).split()) + "]"
        answer = {"yes": True, "y": True, "no": False, "n": False}.get(str(raw).casefold())
        if spec.kind == "yes-no" and answer is not None:
            raw, written = answer, "true" if answer else "false"
        read = self._checked(spec, raw, value, where, bare if bare != value else "")
        if read:
            self.taken.put("instrument", spec.id, written)

    def _checked(self, spec: IntakeField, raw: object, value: object, where: Origin, bare: str = "") -> bool:
        """Whether a value can be; ``bare``: what was written of it, where its unit is that of its row."""
        what = sentence_case(spec.what)
        meant = f"write “{bare} {spec.unit}” if {spec.unit} are meant; else " if bare else ""
        shown = "in" if bare and str(value).endswith(" in") else spec.unit
        try:
            read = read_intake(raw, spec, self.shop.terms.currency)
        except CellError as error:
            accepted = lengths_as_read(error.accepted, shown)
            self.wrong(where, f"{what}: {error.problem}", str(value), accepted, meant + error.next_step)
            return False
        if isinstance(read, Decimal) and (usual := outside_accepted(read, spec)):
            note(
                self.issues,
                where,
                f"{what}: outside the usual range",
                f"“{value}”",
                lengths_as_read(usual, shown),
                f"sure? {meant}measure again: {spec.how or spec.what}",
                severity="warning",
            )
        return True

    def number(self, spec: IntakeField, number: Decimal, where: Origin, unit: str = "") -> None:
        """A value that is a number already, in the unit of its row."""
        written = self.with_unit(spec, number_words(number), unit, where)
        if written != number_words(number):
            if -int(number.as_tuple().exponent) <= TYPED_PLACES:
                self._field(spec, written, where, bare=number_words(number))
                return
            # a length that stood in the cell as it was handed out: its mm as they were
            mm = Fraction(number) * UNITS["length"][written.rpartition(" ")[2]]
            number = to_decimal(mm).quantize(Decimal("1e-6"), ROUND_HALF_UP)
        if self._checked(spec, number, number, where):
            self.taken.put("instrument", spec.id, number_words(number) if number else "0")


def read_measuring(path: str | Path, shop: Shop) -> tuple[str, tuple[Issue, ...]]:
    """A filled-in form (.xlsx or .txt) as the text of a job file, and warnings; InputError carries every complaint."""
    if str(path).lower().endswith(".txt"):
        return _read_text(path, shop)
    book = EditedBook(path)
    reader = _Reader(shop, str(path), book.issues)
    # forms of one page, and those written by earlier versions, have no second one
    for sheet in (SHEET, *(name for name in book.values.sheetnames if name == FAULTS)):
        if book.has(sheet) and (head := book.header(sheet, ("Key", "What", "Value"))):
            _read_page(book, sheet, head, reader)
    book.stop_if_wrong()
    return reader.taken.text(), tuple(book.issues)


def _read_page(book: EditedBook, sheet: str, head: tuple[int, dict[str, int]], reader: _Reader) -> None:
    """What stands on one worksheet of the form."""
    top, columns = head
    keys = book.keyed_rows(sheet, top + 1, columns["Key"], ("",))
    for key, row in keys.items():
        cell = a1(row - 1, columns["Value"] - 1)
        if not reader.knows(key):
            book.complain(
                sheet,
                a1(row - 1, columns["Key"] - 1),
                "an unknown measurement",
                f"“{key}”",
                "the rows of the form",
                "make a fresh form",
            )
        elif key in reader.shop.intake:
            unit = book.text(sheet, a1(row - 1, columns["Unit"] - 1)) if "Unit" in columns else ""
            _measured(book, sheet, cell, reader.shop.intake[key], reader, unit)
        elif text := book.text(sheet, cell):
            reader.take(key, text, Origin(book.file, None, f"{sheet}!{cell}"))
    _lost_keys(book, sheet, top, columns, set(keys.values()))


_LINE = re.compile(r"^[*\s]*([A-Za-z][\w:-]*)\s*\[([^\]]*)\]\s*(\S*)")


def _read_text(path: str | Path, shop: Shop) -> tuple[str, tuple[Issue, ...]]:
    """The text form: what stands in the brackets of each line."""
    reader = _Reader(shop, str(path))
    try:
        text = bytes_given(path, "a measuring sheet (.txt or .xlsx)").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refusal(str(path), "the sheet cannot be read", str(error), "a text file in UTF-8") from None
    seen: set[str] = set()
    for number, line in enumerate(text.splitlines(), start=1):
        match = _LINE.match(line)
        where = Origin(str(path), number)
        if match is None:
            if re.match(r"^[*\s]*[\w:-]+\s+.*\[", line) or re.match(r"^[*\s]*[a-z][\w:-]*\s+_{4,}", line):
                reader.wrong(where, "a row whose brackets are broken", line.strip(), "key [value]")
            continue
        key, written = match[1], match[2].strip("_ ")
        if not reader.knows(key):
            reader.wrong(where, "an unknown measurement", key, "the rows of the form", "make a fresh form")
        elif key in seen:
            reader.wrong(where, "a row that stands twice", key, "every key once")
        else:
            seen.add(key)
            reader.take(key, written, where, match[3])
    if not seen:
        reader.wrong(
            Origin(str(path)), "no measuring sheet", "no row of the form", "a sheet made by new --sheet"
        )
    if any(issue.severity == "error" for issue in reader.issues):
        raise InputError(reader.issues)
    return reader.taken.text(), tuple(reader.issues)


def _measured(book: EditedBook, sheet: str, cell: str, spec: IntakeField, reader: _Reader, unit: str) -> None:
    """What stands in the form for a field, in the unit of its row."""
    value, kind = book.values[sheet][cell].value, book.formulas[sheet][cell].data_type
    what, where = sentence_case(spec.what), Origin(book.file, None, f"{sheet}!{cell}")
    if kind == "f":
        book.complain(sheet, cell, what, "a formula", "a plain value", "type the value itself")
    elif isinstance(value, str):
        if value.strip():
            reader.take(spec.id, value, where, unit)
    elif isinstance(value, bool) and spec.kind == "yes-no":
        reader.taken.put("instrument", spec.id, "true" if value else "false")
    elif value is not None and (
        spec.kind in NUMBERS or not isinstance(value, int | float) or isinstance(value, bool)
    ):
        low, high = spec.hard_low, spec.hard_high
        if spec.kind == "length" and unit not in ("", spec.unit):
            low = high = None  # limits of another unit; the value is held against them once it is in theirs
        number = book.number(
            sheet, cell, what, -WIDEST if low is None else low, WIDEST if high is None else high
        )
        if number is not None:
            reader.number(spec, number, where, unit)
    elif value is not None:
        reader.take(spec.id, number_words(Decimal(f"{value:.15g}")), where)


def _lost_keys(book: EditedBook, sheet: str, top: int, columns: dict[str, int], known: set[int]) -> None:
    """Values that stand beside no key: their row was put in by hand or its key was deleted."""
    page = book.values[sheet]
    for row in range(top + 1, min(page.max_row, 2000) + 1):
        if row not in known and page.cell(row, columns["Value"]).value is not None:
            book.complain(
                sheet,
                a1(row - 1, columns["Value"] - 1),
                "a value beside no measurement of the form",
                f"“{page.cell(row, columns['Value']).value}”",
                "the rows of the form",
                "move the value to its row, or make a fresh form",
            )


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
