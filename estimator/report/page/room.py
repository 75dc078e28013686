"""How tall the customer's page stands on paper, and how close it has to be set to keep to one sheet.

No browser is asked: lines are counted from the lengths of the texts, a little on the tall side, so that a
page which is said to fit does. The figures are those of the template's print rules.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping

from msgspec import Struct

from estimator.report.page.outline import HIGH, WIDE
from estimator.report.page.record import CustomerPage, Done

LOGO = 13
"""Height of a logo."""
MANY = 9
"""Pieces of work from which on they stand in two columns on paper."""
PAPERS: Mapping[str, tuple[float, float]] = {"A4": (210, 297), "Letter": (215.9, 279.4)}
POINT = 25.4 / 72
SIDES = 28.0
WIDE_LETTER = 0.49
"""Width of a character in the usual sans-serif, as a share of the type size; bold ones are a tenth wider."""
SLACK = 5.0


class PageSetting(Struct, frozen=True):
    """How close a page is set, in points and millimetres: ``name`` is the class in the template."""

    name: str
    margins: float
    type: float
    leading: float
    small: float
    words: float
    pad: float
    aside: tuple[float, float]
    headline: tuple[float, float]
    head: tuple[float, float]
    section: tuple[float, float]
    boxes: tuple[float, float, float]
    consent: float
    row_gap: float
    photos: float

    def line(self, size: float) -> float:
        """Millimetres of one line of this size."""
        return size * self.leading * POINT

    def text(self, words: str, width: float, size: float, bold: bool = False) -> float:
        """Millimetres that a text takes in a column."""
        letter = size * POINT * WIDE_LETTER * (1.1 if bold else 1)
        return self.line(size) * max(1, len(textwrap.wrap(words, max(4, int(width / letter)))))


SETTINGS = (
    PageSetting(
        "", 20, 9.2, 1.36, 8, 8.6, 2.2, (52, 6), (18, 5.5), (15, 3.1), (11, 6.3), (13.5, 7, 4.4), 7, 0.6, 43
    ),
    PageSetting(
        "tight",
        16,
        8.5,
        1.27,
        7.5,
        7.8,
        1.4,
        (48, 5),
        (15, 3),
        (13, 2.1),
        (10, 3.8),
        (12, 4.4, 2.4),
        4.5,
        0.3,
        36,
    ),
    PageSetting(
        "dense",
        14,
        8,
        1.2,
        7.5,
        7.8,
        0.9,
        (42, 5),
        (15, 3),
        (13, 2.1),
        (10, 3.2),
        (12, 4.4, 2.4),
        4.5,
        0.3,
        30,
    ),
)
"""From the roomiest to the closest."""


def setting_for(page: CustomerPage, paper: str) -> str:
    """The roomiest setting in which the page keeps to one sheet; the roomiest of all where none does."""
    high = PAPERS[paper][1]
    return next((it.name for it in SETTINGS if height_of(page, paper, it) <= high), SETTINGS[0].name)


def height_of(page: CustomerPage, paper: str, it: PageSetting) -> float:
    """Millimetres from the upper to the lower edge of a sheet on which the page would just stand."""
    wide = PAPERS[paper][0] - SIDES
    beside = max(it.aside[0] * HIGH / WIDE, _beside_drawing(page, it, wide - sum(it.aside)))
    strip = it.photos if len(page.photos) > 1 else 0.0
    parts = (
        it.margins,
        _top(page, it, wide),
        strip,
        beside,
        _notes(page, it, wide),
        _agree(page, it, wide),
        SLACK,
    )
    return sum(parts)


def _top(page: CustomerPage, it: PageSetting, wide: float) -> float:
    """Shop, number, headline and the four boxes."""
    shop = it.head[0] * 1.2 * POINT + len(page.shop_lines) * it.line(it.small)
    number = 12 * 1.2 * POINT + 2 * it.line(it.small)
    size, space = it.headline
    letters = max(4, int(wide / (size * POINT * WIDE_LETTER * 1.1)))
    headline = space + len(textwrap.wrap(page.headline, letters)) * size * 1.15 * POINT
    about = it.text(page.about, wide, it.small)
    value, margin, pad = it.boxes
    box = wide / 4 - 6
    words = [page.price_words, page.ready_words, page.to_start_words]
    boxes = margin + pad + it.line(it.small) + value * 1.25 * POINT
    return (
        max(shop, number, LOGO if page.logo else 0)
        + it.head[1]
        + headline
        + about
        + boxes
        + max(it.text(w, box, it.small) for w in words)
    )


def _section(it: PageSetting, first: bool = False) -> float:
    size, space = it.section
    return size * 1.2 * POINT + (space - 3 if first else space)


def _beside_drawing(page: CustomerPage, it: PageSetting, wide: float) -> float:
    """What changes and what is done, beside the drawing."""
    found = 0.0
    if page.changes:
        found += _section(it, first=True) + it.line(it.small) + it.pad
        for row in page.changes:
            today = row.today + (" (our guess)" if row.guess else "")
            rest = wide * 0.48 - 15
            columns = ((row.name, 0.25 * wide), (today, 0.27 * wide))
            tall = max(it.text(words, width - 2, it.type) for words, width in columns)
            found += it.pad + max(tall, it.text(row.afterwards, rest - 2, it.type, bold=True))
    several = len(page.done) >= MANY
    each = (wide - 4) / 2 if several else wide
    rows = [_work(work, it, each) for work in page.done]
    return (
        found + _section(it) + (sum(rows) / 2 + max(rows, default=0) / 2 if several else sum(rows)) + it.pad
    )


def _work(work: Done, it: PageSetting, wide: float) -> float:
    details = sum(it.text(words, wide - 12, it.words) for words in work.details)
    said = f"{work.words} (only with: {work.only})" if work.only else work.words
    return it.text(said, wide - 9, it.type) + details + it.pad + 0.4


def _notes(page: CustomerPage, it: PageSetting, wide: float) -> float:
    return (2 if page.notes else 0) + _listed(page.notes, it, wide - 5, it.words)


def _listed(texts: Iterable[str], it: PageSetting, wide: float, size: float) -> float:
    return sum(it.text(words, wide, size) for words in texts)


def _agree(page: CustomerPage, it: PageSetting, wide: float) -> float:
    """Offers, consent, the shop's word and the place to sign."""
    found = _section(it) + it.line(it.small) + it.pad
    for offer in page.offers:
        words = f"{offer.name} ({offer.numbers}{f'; ready {offer.ready}' if offer.ready else ''}): {'; '.join(offer.stays)}"
        found += it.text(words, wide - 90, it.type) + it.pad
    if page.lasting:
        half = _listed(page.lasting, it, (wide - 20) / 2, it.type)
        most = max(it.text(words, (wide - 20) / 2, it.type) for words in page.lasting)
        found += it.consent + 2 * it.line(it.type) + half / 2 + most
    found += _section(it)
    found += sum(it.text(words, wide - 27, it.words) + it.row_gap for _, words in page.terms)
    return found + 8 + it.line(it.small)
