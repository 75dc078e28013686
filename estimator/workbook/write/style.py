"""How a workbook looks: the palette, the styles by name, paper, currencies and character widths.

Inputs are told apart by three things together (blue text, pale ground, underline), so that they
stand out in greyscale and for colour-blind readers too.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

INK = "#1A1A1A"
SOFT = "#595959"
HAIR = "#DADADA"
INPUT_INK = "#0B3D91"
INPUT_GROUND = "#F3F6FB"
INPUT_LINE = "#8FA6CF"
#: areas of charts, in this order; neighbours differ in lightness too
CHART = ("#0072B2", "#E69F00", "#009E73", "#56B4E9", "#767676", "#D55E00")

FONT = "Arial"
NOT_FOR_CUSTOMERS = "not for the customer"
"""What the foot of a sheet says that stays in the shop; its tab and its head then show it too."""
BANNER = "BENCH: for the bench, not for the customer"
"""Stands on the screen beside the first row of such a sheet, outside of what is printed."""
BENCH_TAB, CUSTOMER_TAB = "#C0504D", "#4F8F5B"
#: paper name -> number of the paper in the file format
PAPERS = {"A4": 9, "Letter": 1}

#: currency code -> sign shown before totals; other currencies are named in words
CURRENCY_SIGNS: Mapping[str, str] = {
    "USD": "$",
    "EUR": "€",
    "GBP": "£",
    "CAD": "CA$",
    "AUD": "A$",
    "NZD": "NZ$",
    "CHF": "CHF ",
    "SEK": "SEK ",
    "NOK": "NOK ",
    "DKK": "DKK ",
    "PLN": "PLN ",
    "CZK": "CZK ",
    "HUF": "HUF ",
    "INR": "₹",
    "MXN": "MX$",
    "BRL": "R$",
    "ZAR": "R ",
}

MONEY = '#,##0.00;-#,##0.00;"–"'
MINUTES = '#,##0.00;-#,##0.00;"–"'
HOURS = '0.00;-0.00;"–"'
QUANTITY = "General"
PERCENT = "0.0#%"
FACTOR = "0.00##"
DATE = "d mmm yyyy"
PLAIN_TEXT = "@"


def _text(align: str = "left", **more: object) -> dict[str, object]:
    return {"num_format": PLAIN_TEXT, "align": align, "valign": "vcenter", **more}


def _figure(num_format: str, **more: object) -> dict[str, object]:
    return {"num_format": num_format, "align": "right", "valign": "vcenter", **more}


_SOFT: dict[str, Any] = {"font_size": 9, "font_color": SOFT}
_HEAD: dict[str, Any] = {**_SOFT, "valign": "bottom", "text_wrap": True}
STYLES: dict[str, dict[str, object]] = {
    "text": _text(),
    "wrap": _text(text_wrap=True),
    "top": _text(valign="top", text_wrap=True),
    "right": _text("right"),
    "soft": _text(**_SOFT),
    "small": _text(font_size=9),
    "soft-wrap": _text(**_SOFT, text_wrap=True),
    "soft-right": _text("right", **_SOFT),
    "head": _text(**_HEAD),
    "head-right": _text("right", **_HEAD),
    "section": _text(font_size=13, bold=True),
    "title": _text(font_size=18, bold=True),
    "title-right": _text("right", font_size=18),
    "bold": _text(bold=True),
    "bold-wrap": _text(bold=True, text_wrap=True),
    "bold-right": _text("right", bold=True),
    "total-label": _text("right", font_size=14, bold=True),
    "money": _figure(MONEY),
    "money-bold": _figure(MONEY, bold=True),
    "minutes": _figure(MINUTES),
    "minutes-bold": _figure(MINUTES, bold=True),
    "hours": _figure(HOURS),
    "quantity": _figure(QUANTITY),
    "percent": _figure(PERCENT),
    "soft-percent": _figure(PERCENT, **_SOFT),
    "factor": _figure(FACTOR),
    "number": _figure("General"),
    "whole": _figure("0"),
    "count": _text(num_format="0", **_SOFT),
    "date": _figure(DATE),
    "banner": _text(bold=True, font_color="#FFFFFF", bg_color="#9C2F2B"),
    "blank": {},
}

#: laid over a style to mark a cell that the reader may change
INPUT: dict[str, object] = {
    "font_color": INPUT_INK,
    "bg_color": INPUT_GROUND,
    "bottom": 1,
    "bottom_color": INPUT_LINE,
    "locked": False,
}

RULES: dict[str, dict[str, object]] = {
    "hair": {"bottom": 1, "bottom_color": HAIR},
    "ink": {"bottom": 1, "bottom_color": INK},
    "heavy": {"bottom": 2, "bottom_color": INK},
}

_WIDTHS = (
    "278,278,355,556,556,889,667,191,333,333,389,584,278,333,278,278,556,556,556,556,556,556,556,556,556,556,"
    "278,278,584,584,584,556,1015,667,667,722,722,667,611,778,722,278,500,667,556,833,722,778,667,778,722,667,"
    "611,722,667,944,667,667,611,278,278,278,469,556,333,556,556,500,556,556,278,556,556,222,222,500,222,833,"
    "556,556,556,556,333,500,278,556,500,722,500,500,500,334,260,334,584"
)
#: widths of code points 32 to 126 in thousandths of the type size (measured on the usual sans-serif)
CHARACTER_WIDTHS: tuple[int, ...] = tuple(int(width) for width in _WIDTHS.split(","))


def money_format(currency: str) -> str:
    """The number format of a grand total: the sign of a known currency, quoted; else no sign."""
    sign = CURRENCY_SIGNS.get(currency.strip().upper(), "")
    return f'"{sign}"#,##0.00' if sign else "#,##0.00"


def money_in_words(currency: str) -> str:
    """The number format of an amount with its currency after it, as it stands in texts; quoted, if it is a plain word."""
    return f'#,##0.00" {currency}"' if currency.isascii() and currency.isalpha() else "#,##0.00"


def sign_known(currency: str) -> bool:
    """Whether totals can carry a sign; if not, the currency is named in words beside them."""
    return currency.strip().upper() in CURRENCY_SIGNS


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text in pixels at 96 dots per inch, a little on the wide side."""
    total = 0
    for character in text:
        code = ord(character)
        if 32 <= code <= 126:
            total += CHARACTER_WIDTHS[code - 32]
        else:
            total += 1000 if code >= 0x1100 else 600
    return total * size * 96 / 72 / 1000 * (1.12 if bold else 1.04)


def lines_needed(text: str, size: float, column_characters: float, bold: bool = False) -> int:
    """How many lines a text takes in a column so many characters wide, broken at blanks."""
    room = 7 * column_characters - 3
    lines = 0
    for paragraph in text.split("\n"):
        lines += 1
        used = 0.0
        blank = text_width(" ", size, bold)
        for word in paragraph.split(" "):
            width = text_width(word, size, bold)
            if used and used + blank + width > room:
                lines += 1
                used = 0.0
            if width > room:
                lines += int(width // room)
                width = width % room
            used = used + blank + width if used else width
    return lines


def row_height(lines: int, size: float) -> float:
    """Points for a row of so many lines of text of this size."""
    return lines * size * 1.25 + 5


def wrapped_lines(text: str, characters: float, size: float = 10) -> list[str]:
    """A long text in lines that may run over the empty cells to their right (no cell is merged)."""
    room = 7 * characters - 10
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if line and text_width(longer, size) > room:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    return lines
