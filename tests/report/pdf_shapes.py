"""The lines of a printed page in millimetres, as the PDF itself holds them."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from msgspec import Struct

SVG = "{http://www.w3.org/2000/svg}"


class Line(Struct, frozen=True):
    """A stroke on paper (or a filled dash, of width 0): the box that it takes and its ink in per cent."""

    left: float
    top: float
    right: float
    bottom: float
    wide: float
    ink: tuple[int, int, int]

    @property
    def across(self) -> float:
        return self.right - self.left

    @property
    def along(self) -> float:
        return self.bottom - self.top

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2


def pages_of(pdf: Path) -> int:
    said = subprocess.run(["pdfinfo", str(pdf)], check=True, capture_output=True, text=True).stdout
    return int(re.search(r"Pages:\s+(\d+)", said)[1])  # type: ignore[index]


def text_of(pdf: Path, page: int) -> str:
    command = ["pdftotext", "-f", str(page), "-l", str(page), str(pdf), "-"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def lines_of(pdf: Path, page: int) -> list[Line]:
    """All strokes of a page; skips where the tools are missing, but fails on the build server."""
    if shutil.which("pdftocairo") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("pdftocairo is missing on the build server: install poppler-utils")
        pytest.skip("pdftocairo is not installed here: install poppler-utils to measure printed pages")
    picture = pdf.with_suffix(f".{page}.svg")
    command = ["pdftocairo", "-svg", "-f", str(page), "-l", str(page), str(pdf), str(picture)]
    subprocess.run(command, check=True, capture_output=True)
    found = []
    for path in ET.parse(picture).getroot().iter(f"{SVG}path"):
        style = dict(part.split(":") for part in path.get("style", "").split(";") if ":" in part)
        numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", path.get("d", ""))]
        ink_words = style.get("stroke", "none") if "stroke-width" in style else style.get("fill", "none")
        if ink_words == "none" or not numbers:
            continue
        matrix = re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", path.get("transform", "matrix(1,0,0,1,0,0)"))
        a, b, c, d, e, f = map(float, matrix)
        pairs = list(zip(numbers[::2], numbers[1::2], strict=True))
        xs = [(a * x + c * y + e) * 25.4 / 72 for x, y in pairs]
        ys = [(b * x + d * y + f) * 25.4 / 72 for x, y in pairs]
        ink = tuple(round(float(n)) for n in re.findall(r"([\d.]+)%", ink_words))
        wide = float(style.get("stroke-width", 0)) * abs(a) * 25.4 / 72
        found.append(Line(min(xs), min(ys), max(xs), max(ys), wide, ink))  # type: ignore[arg-type]
    return found
