"""Drawings in a workbook: native charts whose points stand in two columns of their sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from estimator.workbook.write.cells import Book, Sheet

Pair = tuple[float, float]
HIDDEN: dict[str, Any] = {"visible": False, "major_gridlines": {"visible": False}}
"""Of an axis that is not drawn."""


def bare(chart: Any, wide: int, high: int, legend: dict[str, Any] | None = None) -> None:
    """A chart of so many pixels without title and frame, and without a legend where none is given."""
    chart.set_legend(legend or {"none": True})
    chart.set_title({"none": True})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": wide, "height": high})


@dataclass
class PointChart:
    """A drawing of lines; its points stand in ``columns`` from ``row`` on, rounded to so many ``places``."""

    book: Book
    sheet: Sheet
    columns: tuple[int, int]
    row: int
    places: int = 2
    chart: Any = field(init=False)

    def __post_init__(self) -> None:
        self.chart = self.book.chart({"type": "scatter", "subtype": "straight"})

    def add(self, name: str, lines: Sequence[Sequence[Pair]], **look: Any) -> None:
        """Lines of one kind as a series; a blank row parts one from the next."""
        (across, along), first = self.columns, self.row
        for number, line in enumerate(lines):
            self.row += bool(number)
            for x, y in line:
                self.sheet.number(self.row, across, Decimal(f"{x:.{self.places}f}"))
                self.sheet.number(self.row, along, Decimal(f"{y:.{self.places}f}"))
                self.row += 1
        last = self.row - 1
        self.chart.add_series(
            {
                "name": name,
                "categories": [self.sheet.name, first, across, last, across],
                "values": [self.sheet.name, first, along, last, along],
                "marker": {"type": "none"},
                **look,
            }
        )
        self.row += 1

    def label(self, name: str, words: Sequence[tuple[Pair, str]], side: str, font: dict[str, Any]) -> None:
        """Words at points of their own, on one ``side`` of them."""
        custom = [{"value": each, "font": font} for _, each in words]
        shown = {"value": True, "custom": custom, "position": side, "font": font}
        self.add(name, [[at for at, _ in words]], line={"none": True}, data_labels=shown)
