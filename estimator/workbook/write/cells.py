"""The only place that writes a cell of a workbook.

Text is always text (never a formula, a link or a number), a formula always carries its value, and
heights of wrapped rows are stored, because not every program works them out when it opens a file.
Cells are gathered first and written when the book is closed, so that rules can be drawn over them.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

from msgspec import Struct, field

from estimator.core.amounts import Cents
from estimator.core.cell_text import UnsafeTextError, Value, a1, check_formula, clean_text, mark, plain_number
from estimator.workbook.write.style import (
    BANNER,
    BENCH_TAB,
    CUSTOMER_TAB,
    FONT,
    INK,
    INPUT,
    NOT_FOR_CUSTOMERS,
    PAPERS,
    RULES,
    STYLES,
    lines_needed,
    row_height,
)


class _Cell(Struct, frozen=True):
    kind: str
    content: Any
    style: dict[str, Any]
    value: Any = None


def _look(style: str, more: dict[str, Any]) -> dict[str, Any]:
    """A declared style, or a copy of it with something laid over it."""
    return {**STYLES[style], **more} if more else STYLES[style]


class Sheet(Struct):
    """One sheet: what is written to it is kept until the book is closed."""

    name: str
    widths: Sequence[float]
    landscape: bool = False
    hidden_columns: tuple[int, ...] = ()
    footer: str = ""
    repeat: tuple[int, int] | None = None
    print_last_column: int | None = None
    print_last_row: int | None = None
    freeze: tuple[int, int] | None = None
    #: fitted on one page wide and so many tall (0: as many as it takes)
    pages_tall: int = 0
    #: inches of paper left free on every side
    margin: float = 0.75
    #: printed at 100 %, so that what is drawn on it has its true size
    true_size: bool = False
    page_breaks: list[int] = field(default_factory=list)
    #: goes to a customer
    for_customers: bool = False
    _cells: dict[tuple[int, int], _Cell] = field(default_factory=dict)
    _heights: dict[int, float] = field(default_factory=dict)
    _sections: set[int] = field(default_factory=set)
    _checks: list[tuple[int, int, dict[str, Any]]] = field(default_factory=list)
    _column_checks: list[tuple[int, int, int, dict[str, Any]]] = field(default_factory=list)
    charts: list[tuple[int, int, Any, dict[str, Any]]] = field(default_factory=list)
    pictures: list[tuple[int, dict[str, Any]]] = field(default_factory=list)

    @property
    def last_row(self) -> int:
        """The lowest row written to."""
        return max((row for row, _ in self._cells), default=0)

    def _put(self, row: int, column: int, cell: _Cell) -> None:
        if (row, column) in self._cells and self._cells[row, column].kind != "blank":
            raise UnsafeTextError(f"{self.name}!{a1(row, column)} is written twice")
        self._cells[row, column] = cell

    @property
    def height(self) -> float:
        """Points from the first row to the last."""
        return self.points(0, self.last_row + 1)

    def points(self, first: int, below: int) -> float:
        """Points from the top of a row to the top of another."""
        return sum(self._heights.get(row, 15.0) for row in range(first, below))

    def begin_section(self, row: int) -> None:
        """A row that heads what follows, whatever it looks like: see ``break_at_sections``."""
        self._sections.add(row)

    def break_at_sections(self, most: float) -> None:
        """Begin a new page at the last section that leaves a page of at most so many points."""
        top = last = 0
        for row in [*sorted(self._sections), self.last_row + 1]:
            if last > top and self.points(top, row) > most:
                self.page_breaks.append(last)
                top = last
            last = row

    def text(self, row: int, column: int, text: str, style: str = "text", **more: Any) -> None:
        """Text, whatever it looks like."""
        look = _look(style, more)
        shown = clean_text(text)
        self._put(row, column, _Cell("text", shown, look))
        if style == "section":
            self._sections.add(row)
        size = float(look.get("font_size", 10))
        lines = 1
        if look.get("text_wrap"):
            room = self.widths[column] if column < len(self.widths) else 9
            lines = lines_needed(shown, size, room, bool(look.get("bold")))
        if lines > 1 or size > 11:
            self.tall(row, row_height(lines, size))

    def head(self, row: int, column: int, words: str, side: str = "left") -> None:
        """The head of a column: ``left``, ``right``, or with an ``indent`` beside figures."""
        style = "head-right" if side == "right" else "head"
        self.text(row, column, words, style, **({"indent": 1} if side == "indent" else {}))

    def headline(self, title: str, words: str, first: int, last: int, style: str = "soft") -> None:
        """The title of the sheet, what it tells, and a heavy line below them from one column to another."""
        self.text(0, first, title, "title")
        self.text(1, first, words, style)
        self.rule(1, first, last, "heavy")

    def end_rows(self, row: int, first: int, last: int) -> None:
        """A thin spacer row on which sums and names end, so that rows put in above it are counted."""
        self.low(row, 5)
        self.rule(row, first, last, "ink")

    def link(self, row: int, column: int, sheet: str, style: str = "text", **more: Any) -> None:
        """The name of another sheet of this book, leading there; never out of the book."""
        look = _look(style, {**more, "font_color": INPUT["font_color"], "underline": 1})
        self._put(row, column, _Cell("link", clean_text(sheet), look))

    def number(
        self, row: int, column: int, value: int | float | Decimal, style: str = "number", **more: Any
    ) -> None:
        """A plain number."""
        self._put(row, column, _Cell("number", plain_number(value), _look(style, more)))

    def money(self, row: int, column: int, cents: Cents, style: str = "money", **more: Any) -> None:
        """An amount of whole cents."""
        self.number(row, column, Decimal(cents).scaleb(-2), style, **more)

    def day(self, row: int, column: int, when: date, style: str = "date", **more: Any) -> None:
        """A date."""
        self._put(row, column, _Cell("number", (when - date(1899, 12, 30)).days, _look(style, more)))

    def formula(
        self, row: int, column: int, formula: str, value: Value, style: str = "number", **more: Any
    ) -> None:
        """A formula and what it comes to now; programs that do not calculate show the value."""
        check_formula(formula)
        stored: Value = clean_text(value) if isinstance(value, str) else plain_number(value)
        self._put(row, column, _Cell("formula", formula, _look(style, more), stored))

    def input(
        self,
        row: int,
        column: int,
        value: int | float | Decimal,
        style: str = "number",
        low: Decimal | None = None,
        high: Decimal | None = None,
        **more: Any,
    ) -> None:
        """A number the reader may change: marked, unlocked, and checked against its limits."""
        self.number(row, column, value, style, **{**INPUT, **more})
        if low is not None and high is not None:
            said = f"a number from {low:f} to {high:f}"
            self._checks.append(
                (
                    row,
                    column,
                    {
                        "validate": "decimal",
                        "criteria": "between",
                        "minimum": plain_number(low),
                        "maximum": plain_number(high),
                        "error_title": "Out of range",
                        "error_message": f"Type {said}.",
                    },
                )
            )

    def choice(
        self, row: int, column: int, value: str, choices: Sequence[str], style: str = "right", **more: Any
    ) -> None:
        """A word the reader may change for another of a fixed list (words of the program's own)."""
        self.text(row, column, value, style, **{**INPUT, **more})
        self._checks.append((row, column, {"validate": "list", "source": list(choices)}))

    def fill_or_text(self, row: int, column: int, text: str) -> None:
        """A text the reader may change, or an empty cell to fill in; what is typed into it stays text."""
        if text:
            self.text(row, column, text, "wrap", align="right", **INPUT)
        else:
            self.fill_in(row, column, "right")

    def check_range(self, row: int, column: int, last_row: int, check: dict[str, Any]) -> None:
        """A rule for what may be typed into a piece of a column."""
        self._column_checks.append((row, column, last_row, check))

    def fill_in(self, row: int, column: int, style: str = "text", **more: Any) -> None:
        """An empty cell for the reader to fill in."""
        self._put(row, column, _Cell("blank", None, {**STYLES[style], **INPUT, **more}))

    def picture(self, row: int, data: bytes, words: str, box: tuple[float, float, float]) -> None:
        """A PNG or JPEG on a row: in ``box`` (dots from the left, wide and high at most), its shape kept.

        Its own shape in dots counts, not the size on paper that a camera or a scanner wrote into it.
        """
        from xlsxwriter.image import Image

        left, wide, high = box
        own = Image(BytesIO(data))
        scale = min(wide / own.width, high / own.height)
        options = {
            "image_data": BytesIO(data),
            "description": mark(words),
            "object_position": 2,
            "x_offset": left,
            "y_offset": 2,
            "x_scale": scale * own.x_dpi / 96,
            "y_scale": scale * own.y_dpi / 96,
        }
        self.pictures.append((row, options))

    def rule(self, row: int, first: int, last: int, kind: str = "hair") -> None:
        """A line under a row, from one column to another; under inputs their own line stays."""
        for column in range(first, last + 1):
            cell = self._cells.get((row, column), _Cell("blank", None, {}))
            if cell.style.get("bg_color") and kind == "hair":
                continue
            self._cells[row, column] = _Cell(
                cell.kind, cell.content, {**cell.style, **RULES[kind]}, cell.value
            )

    def tall(self, row: int, points: float) -> None:
        """At least so many points for a row."""
        self._heights[row] = max(self._heights.get(row, 15.0), points)

    def closer(self, share: float) -> None:
        """Every row only this share as high, but those with a picture."""
        kept = {row for row, _ in self.pictures}
        for row in range(self.last_row + 1):
            if row not in kept:
                self._heights[row] = self._heights.get(row, 15.0) * share

    def low(self, row: int, points: float) -> None:
        """Exactly so many points for a row without text (a spacer)."""
        self._heights[row] = points


def _as_it_is(formula: str, expand_future_functions: bool = False) -> str:
    """A formula as the file holds it, in place of the library's own step.

    The library looks through each for the thirty functions that newer programs write under another name, which took
    a third of the time of a workbook; none of these is among the ``FUNCTIONS`` that ``check_formula`` lets through.
    """
    return formula.removeprefix("=")


class Book:
    """A workbook being made; ``done`` hands over its bytes, the same for the same content."""

    def __init__(self, title: str, created: date, paper: str = "A4", company: str = "") -> None:
        import xlsxwriter

        self._buffer = BytesIO()
        self.paper = PAPERS[paper]
        self._book = xlsxwriter.Workbook(
            self._buffer,
            {
                "in_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        self._book.formats[0].set_font_name(FONT)
        self._book.formats[0].set_font_size(10)
        self._book.set_properties(
            {
                "title": mark(title),
                "company": mark(company),
                "author": "",
                "created": datetime(created.year, created.month, created.day),
            }
        )
        self._formats: dict[tuple[tuple[str, Any], ...], Any] = {}
        self._plain: dict[int, Any] = {}
        self._sheets: list[tuple[Sheet, Any]] = []
        self._names: set[str] = set()

    def sheet(self, sheet: Sheet) -> Sheet:
        """Add a sheet; sheets stand in the order they were added."""
        written = self._book.add_worksheet(sheet.name)
        written._prepare_formula = _as_it_is
        self._sheets.append((sheet, written))
        return sheet

    def name(self, name: str, sheet: Sheet, row: int, column: int, last_row: int | None = None) -> None:
        """Name a cell, or a piece of a column."""
        end = "" if last_row is None else ":" + a1(last_row, column, absolute=True)
        if name in self._names:
            raise UnsafeTextError(f"the name {name} is given twice")
        self._names.add(name)
        target = f"='{sheet.name}'!{a1(row, column, absolute=True)}{end}"
        _done(self._book.define_name(name, target), f"name {name}")

    def property(self, name: str, value: str) -> None:
        """A custom property of the file (what made it, for which job)."""
        _done(self._book.set_custom_property(name, mark(value), "text"), f"property {name}")

    def chart(self, options: dict[str, Any]) -> Any:
        """A native chart, to be put on a sheet."""
        return self._book.add_chart(options)

    def done(self) -> bytes:
        """Write everything and return the bytes of the file."""
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            for sheet, target in self._sheets:
                self._flush(sheet, target)
            self._sheets[0][1].activate()
            self._book.close()
        return self._buffer.getvalue()

    def _format(self, style: dict[str, Any]) -> Any:
        if id(style) in self._plain:  # a style as it is declared, met thousands of times
            return self._plain[id(style)]
        key = tuple(sorted(style.items()))
        if key not in self._formats:
            self._formats[key] = self._book.add_format(
                {"font_name": FONT, "font_size": 10, "font_color": INK, **style}
            )
        if any(style is declared for declared in STYLES.values()):
            self._plain[id(style)] = self._formats[key]
        return self._formats[key]

    def _flush(self, sheet: Sheet, target: Any) -> None:
        for column, width in enumerate(sheet.widths):
            hidden = {"hidden": 1} if column in sheet.hidden_columns else {}
            _done(target.set_column(column, column, width, None, hidden), f"{sheet.name} column {column}")
        for row, points in sorted(sheet._heights.items()):
            _done(target.set_row(row, points), f"{sheet.name} row {row}")
        for (row, column), cell in sorted(sheet._cells.items()):
            self._write(target, f"{sheet.name}!{a1(row, column)}", row, column, cell)
        for row, column, check in sheet._checks:
            _done(target.data_validation(row, column, row, column, check), f"{sheet.name} check")
        for row, column, last, check in sheet._column_checks:
            _done(target.data_validation(row, column, last, column, check), f"{sheet.name} check")
        for number, (row, options) in enumerate(sheet.pictures, start=1):
            _done(target.insert_image(row, 0, f"picture-{number}", options), f"{sheet.name} picture")
        for row, column, chart, options in sheet.charts:
            _done(target.insert_chart(row, column, chart, options), f"{sheet.name} chart")
        _page(sheet, target, self.paper, self._format(STYLES["banner"]))

    def _write(self, target: Any, where: str, row: int, column: int, cell: _Cell) -> None:
        style = self._format(cell.style)
        if cell.kind == "text" and cell.content:
            code = target.write_string(row, column, cell.content, style)
        elif cell.kind == "link":
            there = "internal:'" + cell.content.replace("'", "''") + "'!A1"
            code = target.write_url(row, column, there, style, cell.content)
        elif cell.kind == "number":
            code = target.write_number(row, column, cell.content, style)
        elif cell.kind == "formula":
            code = target.write_formula(row, column, cell.content, style, cell.value)
        else:
            code = target.write_blank(row, column, None, style)
        _done(code, where)


def _page(sheet: Sheet, target: Any, paper: int, banner: Any) -> None:
    target.hide_gridlines(2)
    target.set_paper(paper)
    target.set_margins(left=sheet.margin, right=sheet.margin, top=sheet.margin, bottom=max(sheet.margin, 0.6))
    if sheet.true_size:
        target.set_print_scale(100)
    else:
        target.fit_to_pages(1, sheet.pages_tall)
    if sheet.landscape:
        target.set_landscape()
    else:
        target.set_portrait()
    last_column = len(sheet.widths) - 1 if sheet.print_last_column is None else sheet.print_last_column
    last_row = sheet.last_row if sheet.print_last_row is None else sheet.print_last_row
    _done(target.print_area(0, 0, last_row, last_column), f"{sheet.name} print area")
    footer = clean_text(sheet.footer).replace("\n", " ").replace("&", "&&")[:180]
    # pages are counted by the sheet: a number "of" all sheets of the book would say nothing on one of them
    target.set_start_page(1)
    _done(target.set_footer(f'&L&"{FONT},Regular"&8{footer}&R&"{FONT},Regular"&8Page &P'), "footer")
    if NOT_FOR_CUSTOMERS in sheet.footer:
        target.set_tab_color(BENCH_TAB)
        # beside what is printed: on paper the head says it
        _done(target.write_string(0, last_column + 1, BANNER, banner), f"{sheet.name} banner")
        _done(target.set_header(f'&R&"{FONT},Bold"&8BENCH  ·  {NOT_FOR_CUSTOMERS}'), "header")
    elif sheet.for_customers:
        target.set_tab_color(CUSTOMER_TAB)
    if sheet.repeat:
        target.repeat_rows(*sheet.repeat)
    if sheet.freeze:
        target.freeze_panes(*sheet.freeze)
    if sheet.page_breaks:
        target.set_h_pagebreaks(sheet.page_breaks)


def _done(code: object, where: str) -> None:
    """Refuse to go on when the library says that it left something out."""
    if isinstance(code, int) and code < 0:
        raise UnsafeTextError(f"{where} could not be written (code {code})")
