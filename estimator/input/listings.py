"""Listings in a CSV file to jobs: one row an instrument for sale; rows in error are told and left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from msgspec import Struct

from estimator.core.errors import (
    InputError,
    Issue,
    Origin,
    as_accepted,
    refusal,
    shown,
    squeezed,
    unknown_word,
    warning,
)
from estimator.core.given import bytes_given
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.cells import CellError, check_range, read_number, read_with_unit
from estimator.tables.csv_rows import BrokenError, decode, delimiter_of, records_of
from estimator.tables.fretless import KEY as FRETLESS
from estimator.tables.fretless import fretless_issue, fretless_said, says_fretless
from estimator.tables.sums import read_asked, read_sum
from estimator.tables.toml.text import TomlFile

#: columns besides intake fields (``tier``, ``base_clean``, ``fret_h`` ...) and attributes (levels 0 to 4)
OWN = {
    "id": "name of the listing (left out: its row)",
    "what": "the instrument in a few words",
    "ask": "asking price, as the listing writes it: $1,250 or 1.250,- EUR",
    "condition": "condition of condition_ladder.csv",
    "seen": "how it was seen, of donor_odds.csv",
    "travel_min": "minutes of travel to fetch it",
    "inbound_cost": "freight or fuel to get it here",
    FRETLESS: "whether the neck has no frets: such a row is told and left out",
}
REQUIRED = ("ask", "tier")
#: what people call these columns in lists of their own
ALSO = {
    "price": "ask",
    "asking": "ask",
    "asking price": "ask",
    "price asked": "ask",
    "title": "what",
    "name": "what",
    "item": "what",
    "listing": "what",
    "instrument": "what",
    "description": "what",
    "class": "tier",
    "price class": "tier",
}
NOBODY_KNOWS = frozenset(["?", "??", "n/a", "na", "unknown", "not known", "not seen"])
"""What people write into a list where they have not looked."""
MONEY = ("ask", "travel_min", "inbound_cost", "base_clean")
#: what does not change which work is best: its rows share one study
APART = frozenset({"id", "what", "ask", "seen", "travel_min", "inbound_cost", "base_clean"})
MOST = Decimal(1_000_000)
SLIP = 0.8
"""So alike, of 1, is a column to a known one that it is taken for a slip of the finger (memory)."""


class DonorListing(Struct, frozen=True):
    """One row that could be read: money in the shop's currency, minutes as such."""

    row: int
    id: str
    what: str
    ask: Decimal
    base: Decimal | None
    seen: str
    travel_min: Decimal
    inbound_cost: Decimal
    cells: Mapping[str, str]

    @property
    def kind(self) -> tuple[tuple[str, str], ...]:
        """What it shares with others that the same work is best for."""
        return tuple(sorted((k, v) for k, v in self.cells.items() if v and k not in APART))


def read_listings(path: str | Path, shop: Shop) -> Iterator[DonorListing | Issue]:
    """Every row of the file, as a listing or as the complaint about it. InputError for the file as a whole.

    Columns that tell nothing of the tables (a link, notes) come first, as a warning; one that is spelled nearly
    as a known one is an error.
    """
    name = str(path)
    data = bytes_given(path, "a file of listings (.csv)")
    text = decode(data, name)
    if isinstance(text, Issue):
        raise InputError(text)
    rows = records_of(text, delimiter_of(text, {*OWN, *ALSO}), comments=False)
    seen_ids: dict[str, int] = {}
    try:
        first, cells = next(rows, (1, []))
        header, unread = _header(cells, shop, name, first)
        yield from unread
        for number, cells in rows:
            yield _row(header, cells, Origin(name, number), shop, seen_ids)
    except BrokenError as error:
        raise InputError(error.in_words(name)) from None


def _header(cells: list[str], shop: Shop, name: str, row: int) -> tuple[list[str], list[Issue]]:
    """The columns by their names, blank where one is not read, and the warning that names those."""
    header = [cell.strip() for cell in cells]
    known = (*OWN, *shop.intake, *shop.attributes)
    also = {squeezed(words): column for words, column in ALSO.items()}
    header = [also.get(squeezed(cell), as_accepted(cell, known)) for cell in header]
    issues = [
        Issue(
            Origin(name, row),
            "unknown column",
            shown(column),
            ", ".join(OWN) + ", any field of intake.csv, any attribute",
            f"did you mean “{meant}”?",
        )
        for column in header
        if column and column not in known and (meant := _slip_of(column, known))
    ]
    others = [column for column in header if column and column not in known and not _slip_of(column, known)]
    header = ["" if column in others else column for column in header]
    issues += [
        Issue(Origin(name, row, column), "the same column twice", shown(column), "each column once")
        for column in sorted({c for c in header if c and header.count(c) > 1})
    ]
    issues += [
        Issue(
            Origin(name, row, column),
            "a column is missing",
            accepted=OWN.get(column) or f"a word of resale_tiers.csv: {', '.join(shop.resale.tiers)}",
            next_step=f"add a column {column}",
        )
        for column in REQUIRED
        if column not in header
    ]
    if issues:
        raise InputError(issues)
    accepted = f"{', '.join(OWN)}, any field of intake.csv, any attribute"
    unread = [
        warning(
            Origin(name, row),
            "columns that are not read" if len(others) > 1 else "a column that is not read",
            shown(", ".join(others)),
            accepted,
            "rename what the ranking is to know",
        )
    ]
    return header, unread if others else []


def _slip_of(column: str, known: Iterable[str]) -> str:
    """The known column that a name is a slip of the finger for; blank where it is a column of its own."""
    names = {squeezed(name): name for name in known}
    near = get_close_matches(squeezed(column), sorted(names), n=1, cutoff=SLIP)
    return names[near[0]] if near else ""


def _row(
    header: list[str], cells: list[str], where: Origin, shop: Shop, seen_ids: dict[str, int]
) -> DonorListing | Issue:
    if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
        return Issue(
            where,
            "a cell outside the named columns",
            shown(cells[len(header)]),
            f"{len(header)} cells",
            "put a text that holds commas into double quotes",
        )
    values = {column: _said(cell) for column, cell in zip(header, cells, strict=False) if column}
    for column in REQUIRED:
        if not values.get(column):
            return Issue(
                where.at(column),
                "blank where a value is required",
                accepted=OWN.get(column, column),
                next_step="fill it in",
            )
    numbers: dict[str, Decimal] = {}
    for column in MONEY:
        if not values.get(column):
            continue
        try:
            numbers[column] = _number(column, values[column], shop.terms.currency)
            check_range(numbers[column], Decimal(0), MOST, "money")
        except CellError as error:
            return Issue(
                where.at(column), error.problem, shown(values[column]), error.accepted, error.next_step
            )
    name = values.get("id") or f"row-{where.row}"
    if name in seen_ids:
        return Issue(
            where.at("id"),
            "the same listing twice",
            f"“{name}” in rows {seen_ids[name]} and {where.row}",
            "each id once",
            "rename or delete one",
        )
    if odd := _odd_word(values, where, shop) or _fretless(values, where):
        return odd
    seen_ids[name] = where.row or 0
    return DonorListing(
        row=where.row or 0,
        id=name,
        what=values.get("what", ""),
        ask=numbers["ask"],
        base=numbers.get("base_clean"),
        seen=values.get("seen", "") or "photos",
        travel_min=numbers.get("travel_min", Decimal(0)),
        inbound_cost=numbers.get("inbound_cost", Decimal(0)),
        cells=values,
    )


def _said(cell: str) -> str:
    """What a cell says; blank where it says that nobody looked."""
    return "" if cell.strip().lower() in NOBODY_KNOWS else cell.strip()


def _fretless(values: Mapping[str, str], where: Origin) -> Issue | None:
    """The complaint about an instrument without frets, by its column or in words."""
    if values.get("what") and says_fretless(values["what"]):
        return fretless_issue(where.at("what"), shown(values["what"]))
    said = values.get(FRETLESS, "")
    return fretless_said(said, where.at(FRETLESS)) if said else None


def _odd_word(values: dict[str, str], where: Origin, shop: Shop) -> Issue | None:
    """The complaint about a word that no table has; those that one has are put as it spells them."""
    words = {"condition": shop.resale.ladder, "seen": shop.resale.odds, "tier": shop.resale.tiers}
    for column, accepted in words.items():
        if values.get(column):
            values[column] = as_accepted(values[column], accepted)
        if values.get(column) and values[column] not in accepted:
            return unknown_word(
                where.at(column), "a word that is not accepted here", values[column], accepted
            )
    return None


def _number(column: str, text: str, currency: str) -> Decimal:
    """A sum of money, as a listing or a table writes it, or the minutes of the way there."""
    if column == "ask":
        return read_asked(text, currency)
    return read_with_unit(text, "min") if column == "travel_min" else read_sum(text, currency)


def job_of(listing: DonorListing, shop: Shop, file: str) -> Job:
    """The job of a listing, without its own money; InputError carries the complaints of its row."""
    instrument: dict[str, Any] = {}
    levels: dict[str, Any] = {}
    for column, cell in listing.cells.items():
        if not cell or column in APART or column in OWN:
            continue
        if column in shop.intake:
            instrument[column] = cell
        else:
            try:
                levels[column] = read_number(cell)
            except CellError as error:
                raise refusal(
                    Origin(file, listing.row, column), error.problem, shown(cell), error.accepted
                ) from None
    instrument["own"] = instrument.get("own", "shop")
    if levels:
        instrument["levels"] = {name: float(level) for name, level in levels.items()}
    values: dict[str, Any] = {"job": {"id": "listing", "kind": "resale"}, "instrument": instrument}
    if listing.cells.get("condition"):
        values["resale"] = {"condition": listing.cells["condition"]}
    try:
        return job_from(TomlFile(file, values), shop)
    except InputError as error:
        raise InputError(
            Issue(
                Origin(file, listing.row, issue.where.column.split("] ")[-1]),
                issue.problem,
                issue.found,
                issue.accepted,
                issue.next_step,
            )
            for issue in error.issues
        ) from None
