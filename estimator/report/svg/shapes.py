"""A few shapes of a plain drawing in SVG: black lines, hatching, dimension lines, labels.

Coordinates are millimetres on the paper; nothing is told apart by colour alone.
"""

from __future__ import annotations

import html
import textwrap
from collections.abc import Sequence
from decimal import Decimal

from msgspec import Struct, field

INK, NEW, PALE = "#000000", "#0b4f9c", "#777777"
FONT = 3.2


def escape(text: str) -> str:
    """Text as it stands between the tags of a drawing."""
    return html.escape(text, quote=False)


def mm(value: float | Decimal) -> str:
    """A coordinate: at most two places, no trailing noughts."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".")


class Stroke(Struct, frozen=True):
    """How a line is drawn: its ink, its width in mm, its dashes and gaps in mm (none: unbroken)."""

    ink: str = INK
    wide: float = 0.3
    dash: str = ""

    @property
    def attributes(self) -> str:
        """The same as attributes of a shape."""
        dashes = f' stroke-dasharray="{self.dash}"' if self.dash else ""
        return f'stroke="{self.ink}" stroke-width="{mm(self.wide)}"{dashes}'


class Lettering(Struct, frozen=True):
    """How words are drawn; ``clear`` wipes what was drawn under them before."""

    size: float = FONT
    ink: str = INK
    bold: bool = False
    clear: bool = False


THIN, FIRM = Stroke(), Stroke(wide=0.4)
PLAIN, BOLD = Lettering(), Lettering(bold=True)


class Drawing(Struct):
    """A drawing that grows shape by shape; ``width`` and ``height`` in mm on paper."""

    title: str
    width: float
    height: float
    shapes: list[str] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, stroke: Stroke = THIN) -> None:
        """A straight line."""
        self.shapes.append(
            f'<line x1="{mm(x1)}" y1="{mm(y1)}" x2="{mm(x2)}" y2="{mm(y2)}" {stroke.attributes}/>'
        )

    def circle(
        self, x: float, y: float, r: float, stroke: Stroke = THIN, fill: str = "none", mark: str = ""
    ) -> None:
        """A circle; ``mark`` says in the file what it stands for (it is not seen)."""
        says = f' data-mark="{escape(mark)}"' if mark else ""
        self.shapes.append(
            f'<circle cx="{mm(x)}" cy="{mm(y)}" r="{mm(r)}" fill="{fill}" {stroke.attributes}{says}/>'
        )

    def box(
        self, x: float, y: float, wide: float, high: float, stroke: Stroke = FIRM, fill: str = "none"
    ) -> None:
        """A rectangle by its upper left corner."""
        self.shapes.append(
            f'<rect x="{mm(x)}" y="{mm(y)}" width="{mm(wide)}" height="{mm(high)}" fill="{fill}" '
            f"{stroke.attributes}/>"
        )

    def polygon(self, corners: Sequence[tuple[float, float]], ink: str = INK, dash: str = "") -> None:
        """A closed shape by its corners."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        points = " ".join(f"{mm(x)},{mm(y)}" for x, y in corners)
        self.shapes.append(
            f'<polygon points="{points}" fill="none" stroke="{ink}" stroke-width="0.4"{dashed}/>'
        )

    def hatch(self, x: float, y: float, wide: float, high: float, ink: str = NEW) -> None:
        """Slanting lines over a rectangle, cut at its edges: wood to be taken out."""
        step, start = 2.0, -high
        while start < wide:
            x1, x2 = max(start, 0.0), min(start + high, wide)
            if x2 > x1:
                self.line(x + x1, y + high - (x1 - start), x + x2, y + high - (x2 - start), Stroke(ink, 0.2))
            start += step

    def text(
        self, x: float, y: float, words: str, anchor: str = "middle", lettering: Lettering = PLAIN
    ) -> None:
        """A line of text; ``anchor``: whether x, y is its ``start``, ``middle`` or ``end``."""
        size = lettering.size
        if lettering.clear:
            wide = 0.56 * size * len(words) + 1
            self.shapes.append(
                f'<rect x="{mm(x - wide / 2)}" y="{mm(y - 0.85 * size)}" width="{mm(wide)}" '
                f'height="{mm(1.15 * size)}" fill="#ffffff"/>'
            )
        weight = ' font-weight="bold"' if lettering.bold else ""
        self.shapes.append(
            f'<text x="{mm(x)}" y="{mm(y)}" font-size="{mm(size)}" text-anchor="{anchor}" '
            f'fill="{lettering.ink}"{weight}>{escape(words)}</text>'
        )

    def across(
        self, x1: float, x2: float, y: float, words: str, ink: str = INK, below: bool = False, at: float = 0.5
    ) -> None:
        """A dimension line across, ticks at its ends, words over (or under) it at a share of its length."""
        self.line(x1, y, x2, y, Stroke(ink, 0.2))
        for x in (x1, x2):
            self.line(x - 0.8, y + 0.8, x + 0.8, y - 0.8, Stroke(ink))
        self.text(x1 + (x2 - x1) * at, y + 3.6 if below else y - 1.2, words, lettering=Lettering(ink=ink))

    def upright(self, x: float, y1: float, y2: float, words: str, ink: str = INK) -> None:
        """A dimension line up and down, its words to the right."""
        self.line(x, y1, x, y2, Stroke(ink, 0.2))
        for y in (y1, y2):
            self.line(x - 0.8, y + 0.8, x + 0.8, y - 0.8, Stroke(ink))
        self.text(x + 1.6, (y1 + y2) / 2 + 1.1, words, "start", Lettering(ink=ink))

    def bar(self, x: float, y: float, scale: float, long: int = 10) -> None:
        """A bar of 10 mm (or ``long``) in true size, to check a print by."""
        self.line(x, y, x + long * scale, y, Stroke(wide=0.8))
        for end in (x, x + long * scale):
            self.line(end, y - 1.2, end, y + 1.2, FIRM)
        drawn = f"{scale:g} : 1" if scale >= 1 else f"1 : {1 / scale:g}"
        self.text(x + long * scale + 2, y + 1.1, f"{long} mm, drawn {drawn}", "start")

    def lines(self, x: float, y: float, words: str, wide: float, lettering: Lettering = PLAIN) -> float:
        """Words broken at blanks into lines so wide; where the next line would stand."""
        room = max(int(wide / (0.54 * lettering.size)), 1)
        for line in textwrap.wrap(words, room, break_long_words=False, break_on_hyphens=False):
            self.text(x, y, line, "start", lettering)
            y += 1.35 * lettering.size
        return y

    def svg(self) -> str:
        """The finished drawing, in mm, on white."""
        body = "\n".join(self.shapes)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'width="{mm(self.width)}mm" height="{mm(self.height)}mm" '
            f'viewBox="0 0 {mm(self.width)} {mm(self.height)}" font-family="sans-serif">\n'
            f"<title>{escape(self.title)}</title>\n"
            f'<rect width="{mm(self.width)}" height="{mm(self.height)}" fill="#ffffff"/>\n'
            f"{body}\n</svg>\n"
        )
