"""Sums of money as people write them: ``$1,250.50``, ``1.250,- EUR``, ``120 dollars`` and the like, read exactly."""

from __future__ import annotations

import re
from decimal import Decimal

from estimator.core.amounts import Cents
from estimator.core.errors import refusal, shown
from estimator.core.money import HUNDRED
from estimator.model.column import Column
from estimator.tables.cells import PLAIN_NUMBER, CellError, Reader, check_range, read_number, reader_of

ACCEPTED = "a price such as 250, 1,250.50 or 1 250,50 EUR"
_DOLLARS = frozenset(["USD", "CAD", "AUD", "NZD", "MXN"])
_OF_SIGN = {
    "$": _DOLLARS,
    "dollar": _DOLLARS,
    "dollars": _DOLLARS,
    "us$": frozenset(["USD"]),
    "c$": frozenset(["CAD"]),
    "ca$": frozenset(["CAD"]),
    "a$": frozenset(["AUD"]),
    "au$": frozenset(["AUD"]),
    "nz$": frozenset(["NZD"]),
    "mx$": frozenset(["MXN"]),
    "r$": frozenset(["BRL"]),
    "€": frozenset(["EUR"]),
    "euro": frozenset(["EUR"]),
    "euros": frozenset(["EUR"]),
    "£": frozenset(["GBP"]),
    "pound": frozenset(["GBP"]),
    "pounds": frozenset(["GBP"]),
    "₹": frozenset(["INR"]),
    "rupees": frozenset(["INR"]),
    "¥": frozenset(["JPY", "CNY"]),
}
"""Signs and words of money, and the currencies that are written so."""
_CODES = frozenset(
    [
        *(code for codes in _OF_SIGN.values() for code in codes),
        "CHF",
        "SEK",
        "NOK",
        "DKK",
        "PLN",
        "CZK",
        "HUF",
        "ZAR",
    ]
)
"""Codes of ISO 4217 that listings are written in; other letters are no currency."""
_SIGN = rf"(?:{'|'.join(word for word in _OF_SIGN if word.isalpha() and len(word) > 3)}|[A-Z]{{3}}|[A-Z]{{0,2}}[$]|[€£¥₹])"
_PRICE = re.compile(
    rf"(?:(?P<before>{_SIGN})\s*)?(?P<number>\d[\d.,' ]*?)\s*(?:,-|,–|\.-|\.–)?\s*(?P<k>k)?\s*(?P<after>{_SIGN})?",
    re.I | re.A,
)
_WORDLESS = re.compile(r"[-+\d.,/\s]*", re.A)
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}\.\d{3}")
_HAGGLED = re.compile(
    r"\A(?:asking|only)\s+|[\s,]+\(?(?:or (?:best|near(?:est)?) offer|o\.?b\.?o\.?|o\.?n\.?o\.?|firm|neg(?:otiable)?\.?)\)?\Z",
    re.I,
)
"""What stands beside a price in a listing and says how far it may be talked down: the price asked is the price asked."""
_WORDS = {"free": Decimal(0), "for free": Decimal(0), "nothing": Decimal(0)}


def read_asked(text: str, currency: str = "") -> Decimal:
    """The sum that a listing asks. CellError where it could be read in two ways or not at all.

    ``currency``: that of the shop; a sum that names another is refused, as nobody changes money here.
    Prices have two decimals or none, so three figures after a single mark are thousands, one or two are decimals.
    """
    if text.strip().lower() in _WORDS:
        return _WORDS[text.strip().lower()]
    match = _PRICE.fullmatch(_HAGGLED.sub("", " ".join(text.split())))
    if match is None:
        raise CellError("no price that can be read", ACCEPTED, "write the one sum that is asked")
    _refuse_other_currency(match, currency)
    value = _number_of(match["number"].strip())
    return value * 1000 if match["k"] else value


def read_sum(text: str, currency: str) -> Decimal:
    """Money that is to be paid or kept to, in the currency of the shop; CellError where it is not one certain sum.

    A bare number is read as everywhere. A currency may stand beside it, and thousands may be parted; ``1.250`` is
    refused, which is 1.25 to one reader and 1250 to the other, and so are letters that are no currency.
    """
    text = " ".join(text.split())
    match = _PRICE.fullmatch(text)
    accepted = f"a sum in {currency} such as 250, 1,250.50 or 250 {currency}" if currency else ACCEPTED
    if match is None or match["k"] or _odd_letters(match, currency):
        if _WORDLESS.fullmatch(text):
            return read_number(text)
        raise CellError("no sum of money that can be read", accepted, "write the one sum that is meant")
    bare = match["number"].strip()
    if _TWO_WAYS.fullmatch(bare):
        both = f"{bare.replace('.', '')} or {Decimal(bare).normalize():f}"
        raise CellError("a sum that could be read in two ways", both, "write the one that is meant")
    _refuse_other_currency(match, currency)
    if PLAIN_NUMBER.match(bare):
        return read_number(bare)
    try:
        return _number_of(bare)
    except CellError as error:
        raise CellError(error.problem, accepted, error.next_step) from None


def money_reader(column: Column, currency: str) -> Reader:
    """The function that reads a filled cell of a shop's own table: money may stand there with its currency.

    ``currency``: that of the shop; blank: any sign is taken, as who laid the table over the shop has checked it.
    """
    plain_reader = reader_of(column)
    if column.kind != "money":
        return plain_reader
    low = Decimal(0) if column.low is None else column.low

    def read(text: str) -> object:
        if PLAIN_NUMBER.match(text):
            return plain_reader(text)
        value = read_sum(text, currency)
        check_range(value, low, column.high, column.kind)
        return value

    return read


def _odd_letters(match: re.Match[str], currency: str) -> bool:
    """Whether three letters stand beside the number that are no currency."""
    beside = [match[name].upper() for name in ("before", "after") if match[name]]
    return any(
        len(word) == 3 and word.isalpha() and word not in {*_CODES, currency.upper()} for word in beside
    )


def whole_cents(text: str, where: str, currency: str) -> Cents:
    """Money that was typed, in cents; InputError where it cannot be read or has parts of a cent."""
    try:
        number = read_sum(text, currency) * HUNDRED
    except CellError as error:
        raise refusal(where, error.problem, shown(text), error.accepted, error.next_step) from None
    if number != number.to_integral_value():
        raise refusal(
            where, "has parts of a cent", shown(text), "at most two places", "type the sum in whole cents"
        )
    return Cents(int(number))


def _refuse_other_currency(match: re.Match[str], currency: str) -> None:
    """CellError where the sign or word of another currency stands before or after the number.

    A sign of several currencies is held against the shop's only where it is known how that one is written.
    """
    for sign in (match[name].lower() for name in ("before", "after") if match[name]):
        of = _OF_SIGN.get(sign) or _CODES & {sign.upper()}
        if currency and of and currency not in of and (len(of) == 1 or currency in _CODES):
            raise CellError(
                "another currency than the shop's", f"a sum in {currency}", f"change it into {currency}"
            )


def _number_of(number: str) -> Decimal:
    """``1,250.50``, ``1 250,5`` or ``1'250``: one or two figures after the last mark are decimals."""
    whole, mark, decimals = _parted(number)
    groups = re.split(r"[.,' ]", whole)
    marks = set(re.sub(r"\d", "", whole))
    grouped = len(groups) == 1 or (len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:]))
    if len(marks) > 1 or mark in marks or not grouped:
        raise CellError("no price that can be read", ACCEPTED, "write it as a plain number")
    return Decimal("".join(groups) + (f".{decimals}" if decimals else ""))


def _parted(number: str) -> tuple[str, str, str]:
    """The whole part, the mark before the decimals, and the decimals: one or two figures after the last mark."""
    match = re.fullmatch(r"(.*\d)([.,])(\d{1,2})", number)
    return (match[1], match[2], match[3]) if match else (number, "", "")
