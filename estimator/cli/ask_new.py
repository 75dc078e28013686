"""What ``new`` asks at a terminal: the kind of instrument, what is wrong, what is wished and the limit."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from functools import partial
from types import MappingProxyType
from typing import TypeVar

import typer

from estimator.core.days import DayError, day_as_written
from estimator.core.errors import as_accepted, near_miss, squeezed
from estimator.estimate.new_job import SALE, as_typed, default_job, kinds_in_words
from estimator.estimate.said import (
    USUAL,
    Said,
    counts_in_words,
    faults_meant,
    put_right,
    sounds_like,
    to_keep,
    wishes_meant,
    wishes_to_say,
)
from estimator.estimate.sale_terms import field_text
from estimator.model import JOB_KINDS, Fault, Job, Shop
from estimator.report.text.terminal import put, typed
from estimator.tables.cells import CellError
from estimator.tables.fretless import PROBLEM, STEP, says_fretless
from estimator.tables.sums import read_sum
from estimator.tables.toml.write import toml_text

YES = {"y", "yes", "all"}
Found = TypeVar("Found")
WHOSE = {
    "customer": "commission",
    "customer's": "commission",
    "client": "commission",
    "sale": "resale",
    "sell": "resale",
    "to be sold": "resale",
    "mine": "own",
    "my own": "own",
    "your own": "own",
}
NO_OTHER_WORDS: Mapping[str, str] = MappingProxyType({})
NO = {"", "n", "no", "none", "-"}


def can_ask() -> bool:
    """Whether somebody sits there to answer: both ends are a terminal."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def ask_new(shop: Shop) -> tuple[str, Said]:
    """Kind of instrument (or its template), and what was said of it."""
    put("A few questions; a blank answer leaves it open. Numbers, words and their beginnings will do.")
    kind = _one_of("Which kind of instrument", kinds_in_words(shop), "guitar-solid")
    whose = _one_of(
        "Whose is it: a customer's, to be sold, your own", dict.fromkeys(JOB_KINDS, ""), "own", WHOSE
    )
    job = default_job(shop, kind, whose=whose)
    sale = _of_a_sale(shop, job) if whose == "resale" else {}
    words, wrong = _wrong(shop, job)
    wish = _answer("What should get better, in the customer's words")
    put(*_no_frets(words, wish))
    keeps = _kept(shop, f"{words}, {wish}")
    wished = _required(shop, wish) if wish else {}
    require = wished | _put_right(shop, wrong, wished)
    profile = (
        "" if require else _one_of("Or all that such a player wants", dict.fromkeys(shop.profiles, ""), "")
    )
    money = _money(shop.terms.currency)
    held = {"commission": "price"}.get(whose, "cash")
    on = (
        _one_of(
            "Held against: cash paid out, cost to the shop, price to the customer",
            dict.fromkeys(("cash", "cost", "price"), ""),
            held,
        )
        if money
        else held
    )
    return kind, Said(whose, wish, _day(shop), wrong, require, profile, money, on, keeps, words, sale)


def _no_frets(*texts: str) -> list[str]:
    """What is said where somebody's words speak of a neck without frets; the file would be of a fretted one."""
    return [f"“{text}”: {PROBLEM}; {STEP}." for text in texts if says_fretless(text)][:1]


def _answer(question: str) -> str:
    """One line as typed; who closes the input has had enough."""
    try:
        return " ".join(typed(f"{question}: ").split())
    except EOFError:
        raise typer.Abort from None


def _asked(question: str, read: Callable[[str], Found | None]) -> Found:
    """The first answer that can be read; what is wrong with the others is said by who reads them."""
    while True:
        found = read(_answer(question))
        if found is not None:
            return found


def _one_of(
    question: str, told: Mapping[str, str], usual: str, also: Mapping[str, str] = NO_OTHER_WORDS
) -> str:
    """One name, by its number, its beginning, itself or what people call it (``also``); blank is the usual one.

    ``told``: the names, and what each is where the name does not say it.
    """
    names = list(told)

    def read(text: str) -> str | None:
        if not text:
            return usual
        if text.isdecimal() and 1 <= int(text) <= len(names):
            return names[int(text) - 1]
        if says_fretless(text):
            put(*_no_frets(text))
            return None
        word = as_accepted(also.get(text.lower(), text.lower()), names)
        begun = [name for name in names if name == word] or [
            name for name in names if squeezed(name).startswith(squeezed(word))
        ]
        if len(begun) == 1:
            return begun[0]
        put(f"“{text}” could be {', '.join(begun)}." if begun else f"“{text}” is none of them. {hint(text)}")
        return None

    def hint(text: str) -> str:
        if near := near_miss(text, names):
            return near
        like = sounds_like(counts_in_words(text), {name: f"{name} {told[name]}" for name in names})
        if like:
            nearest = "; ".join(
                f"{names.index(name) + 1} {name}{told[name] and f' ({told[name]})'}" for name in like
            )
            return f"Nearest to it: {nearest}. Type the number."
        return f"1 to {len(names)}, or a name."

    put(
        f"{question}?",
        *(f"  {number} {name}{told[name] and f': {told[name]}'}" for number, name in enumerate(names, 1)),
    )
    return _asked(f"  number or name ({usual or 'blank: none'})", read)


def _picked(names: Sequence[object], blank_is_all: bool = False) -> tuple[int, ...]:
    """Which of a list that was shown: numbers with blanks or commas between, y for all, n or blank for none."""

    def read(text: str) -> tuple[int, ...] | None:
        if text.lower() in YES or (blank_is_all and not text):
            return tuple(range(len(names)))
        if text.lower() in NO:
            return ()
        parts = re.split(r"[,\s]+", text.strip(", "))
        if all(part.isdecimal() and 1 <= int(part) <= len(names) for part in parts):
            return tuple(dict.fromkeys(int(part) - 1 for part in parts))
        put(f"“{text}” cannot be read: numbers from 1 to {len(names)}, y for all, {left}.")
        return None

    left = "n for none" if blank_is_all else "blank for none"
    offer = "numbers; blank: all; n: none" if blank_is_all else "numbers, y for all, blank: none"
    return _asked(f"  which of these ({offer})", read)


def _wrong(shop: Shop, job: Job) -> tuple[str, tuple[Fault, ...]]:
    """What is wrong in somebody's words, and the faults that they stand for."""
    said = words = _answer("What is wrong with it, in words")
    while said:
        alike = faults_meant(shop, job, said)
        if alike:
            put("That sounds like:", *(f"  {number} {fault.what}" for number, fault in enumerate(alike, 1)))
            return words, tuple(alike[number] for number in _picked(alike))
        put("None of the faults of the tables sounds like that.")
        said = _answer("In other words (blank: leave it out)")
    return words, ()


def _put_right(shop: Shop, wrong: Sequence[Fault], wished: Mapping[str, int]) -> dict[str, int]:
    """What faults that were named call for beyond what is wished; all of it where it is not doubted."""
    wanted = {name: level for name, level in put_right(shop, wrong).items() if level > wished.get(name, 0)}
    if not wanted:
        return {}
    put("Putting that right means:")
    put(
        *(
            f"  {number} {name.replace('-', ' ')}: at least {level}, {shop.attributes[name].words[level]}"
            for number, (name, level) in enumerate(wanted.items(), 1)
        )
    )
    names = list(wanted)
    return {names[number]: wanted[names[number]] for number in _picked(names, blank_is_all=True)}


def _required(shop: Shop, wish: str) -> dict[str, int]:
    """The attributes that are wished for and the level of each, with what the levels mean."""
    names = wishes_to_say(shop)
    alike = wishes_meant(shop, wish)
    put(
        "That could be:" if alike else "None of the attributes sounds like that; they are:",
        *(f"  {number} {_words(shop, name)}" for number, name in enumerate(alike or names, 1)),
    )
    shown = alike or list(names)
    found = {shown[number]: _level(shop, shown[number]) for number in _picked(shown)}
    return {name: level for name, level in found.items() if level}


def _kept(shop: Shop, wish: str) -> tuple[str, ...]:
    """What stays as it is whatever is done, as the customer says."""
    meant = to_keep(shop, wish)
    if not meant:
        return ()
    put("That is to be kept, whatever else is done:")
    put(*(f"  {number} {what}" for number, what in enumerate(meant.values(), 1)))
    return tuple(list(meant)[number] for number in _picked([*meant]))


def _words(shop: Shop, name: str) -> str:
    return f"{name.replace('-', ' ')}: {shop.attributes[name].what}"


def _level(shop: Shop, name: str) -> int:
    words: Mapping[int, str] = dict(enumerate(shop.attributes[name].words))

    def read(text: str) -> int | None:
        if not text:
            return USUAL
        if re.fullmatch(r"[0-4]", text):
            return int(text)
        put(f"“{text}” is no level: 0 to 4.")
        return None

    put(f"{name.replace('-', ' ')}:", *(f"  {level} {word}" for level, word in words.items()))
    return _asked(f"  at least ({USUAL}; 0 leaves it out)", read)


def _of_a_sale(shop: Shop, job: Job) -> dict[str, str]:
    """The fields on which a sale turns, as TOML writes them; of what is left blank it is told what is assumed."""
    tier = field_text(job, "tier")
    currency = shop.terms.currency
    found: dict[str, str] = {}
    for field, (question, blank) in SALE.items():
        left = blank.format(tier=tier)
        if field == "tier":
            tiers = {row.id: row.what for row in shop.resale.tiers.values()}
            answer = _one_of(f"{question} (blank: {left})", tiers, "")
            found |= {field: toml_text(answer)} if answer else {}
            tier = answer or tier
            continue
        if field == "base_clean" and tier in shop.resale.tiers:
            left = f"{left}, {shop.resale.tiers[tier].base_middle.normalize():f}"
        answer = _asked(f"{question}, in {currency} (blank: {left})", partial(_sum_of, shop, field))
        found |= {field: answer} if answer else {}
    return found


def _sum_of(shop: Shop, field: str, text: str) -> str | None:
    """A sum as TOML writes it, blank for none; None where it cannot be read, which is said."""
    if text.lower() in NO:
        return ""
    try:
        return as_typed(shop, field, text)
    except CellError as error:
        put(f"“{text}”: {error.problem}; {error.accepted}.")
        return None


def _money(currency: str) -> str:
    def read(text: str) -> str | None:
        if text.lower() in NO:
            return ""
        try:
            found = read_sum(text, currency)
        except CellError as error:
            put(f"“{text}”: {error.problem}; {error.accepted}.")
            return None
        if found < Decimal("0.01"):
            put(f"“{text}” leaves no money: a sum above 0, such as 150 or 1,250.50.")
            return None
        return f"{found:f}"

    return _asked(f"Most money, in {currency} (blank: no limit)", read)


def _day(shop: Shop) -> str:
    def read(text: str) -> str | None:
        if text.lower() in NO:
            return ""
        try:
            return day_as_written(text, shop.dates).isoformat()
        except DayError as error:
            put(f"“{text}” is no day that can be read: {error}.")
            return None

    return _asked("Wanted by (blank: no day)", read)
