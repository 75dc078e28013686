"""Records tell each figure once: as data, in the reference of keys, as columns of tables."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from estimator.cli.main import run
from estimator.report.record import ONE, ROWS, Record, Teller, as_data, columns, figures_of, keys_of
from estimator.report.records.choice import ChooseAnswer, EstimateAnswer
from estimator.report.records.fit import CheckAnswer, FitAnswer
from estimator.report.records.price import (
    ChangeAnswer,
    GivenAnswer,
    InvestAnswer,
    MenuAnswer,
    OffersAnswer,
    PriceAnswer,
    RateAnswer,
    SparesAnswer,
)
from estimator.report.records.risk import MeasureAnswer, RiskAnswer, TriageAnswer
from estimator.report.records.sale import ListAnswer, OfferAnswer, SellAnswer

JOB, DONOR = "example:tight-commission", "example:resale-flip"
QUICK: tuple[tuple[str, type[Record[Any]]], ...] = (
    (f"check {JOB}", CheckAnswer),
    (f"fit {JOB}", FitAnswer),
    (f"estimate {JOB} --with set-up", EstimateAnswer),
    (f"price {JOB} --with set-up", PriceAnswer),
    (f"price {JOB} --with set-up --given 250", GivenAnswer),
    (f"change {JOB} --quoted set-up --now polish-frets", ChangeAnswer),
    (f"triage {DONOR}", TriageAnswer),
    ("rate", RateAnswer),
    ("spares --good 6 --failure 0.08", SparesAnswer),
    ("menu set-up", MenuAnswer),
)
SLOW: tuple[tuple[str, type[Record[Any]]], ...] = (
    (f"choose {JOB}", ChooseAnswer),
    (f"choose {JOB} --why --next 2 --frontier", ChooseAnswer),
    ("choose example:impossible-wish", ChooseAnswer),
    (f"price {JOB} --offers", OffersAnswer),
    (f"risk {JOB} --with set-up --simulate --draws 200", RiskAnswer),
    (f"measure {JOB}", MeasureAnswer),
    (f"sell {DONOR}", SellAnswer),
    (f"offer {DONOR} --pay 20", OfferAnswer),
)
RECORDS = sorted(
    {record for _, record in (*QUICK, *SLOW)} | {InvestAnswer, ListAnswer}, key=lambda each: each.__name__
)


@dataclass(frozen=True)
class Thing:
    name: str
    cents: int | None
    when: date
    inner: tuple[str, ...] = ()


_inner = Teller[str]()
_thing = Teller[Thing]()


class Word(Record[str]):
    word = _inner.text("a word", lambda of: of)


class Told(Record[Thing]):
    name = _thing.text("its name", lambda of: of.name, head="thing")
    money = _thing.money("what it costs", lambda of: of.cents, head="{currency}")
    minutes = _thing.minutes("hands-on", lambda of: 1250)
    there = _thing.where_there(_thing.text("left out where blank", lambda of: of.name or None))
    level = _thing.number("a level", lambda of: Decimal("2.0"))
    day = _thing.day("a day", lambda of: of.when)
    words = _thing.rows(Word, "words", lambda of: of.inner)
    first = _thing.one(Word, "the first word", lambda of: of.inner[0] if of.inner else None)
    joined = _thing.joined(Word, lambda of: of.inner[0] if of.inner else None)


def test_a_record_as_data() -> None:
    thing = Thing("jack", -1205, date(2026, 3, 1), ("a", "b"))
    assert as_data(Told(thing)) == {
        "name": "jack",
        "money": "-12.05",
        "minutes": 12.5,
        "there": "jack",
        "level": 2,
        "day": "2026-03-01",
        "words": [{"word": "a"}, {"word": "b"}],
        "first": {"word": "a"},
        "word": "a",
    }
    bare = as_data(Told(Thing("", None, datetime(2026, 3, 1, 9, 5))))
    assert bare["money"] is bare["first"] is None
    assert bare["day"] == "2026-03-01T09:05"
    assert bare["words"] == []
    assert bare.keys().isdisjoint({"there", "word", "joined"})


def test_a_figure_read_from_a_record_is_its_value() -> None:
    told = Told(Thing("jack", 1205, date(2026, 3, 1), ("a",)))
    assert (told.money, told.minutes, told.words[0].of) == (1205, 1250, "a")
    assert [(one.name, one.head) for one in columns(Told)] == [("name", "thing"), ("money", "{currency}")]


def test_the_keys_of_a_record() -> None:
    assert list(keys_of(Told)) == [
        ("name", "text", "its name"),
        ("money", "money", "what it costs"),
        ("minutes", "min", "hands-on"),
        ("there", "text", "left out where blank"),
        ("level", "number", "a level"),
        ("day", "day", "a day"),
        ("words", "list", "words"),
        ("words[].word", "text", "a word"),
        ("first", "object", "the first word"),
        ("first.word", "text", "a word"),
        ("word", "text", "a word"),
    ]


def walked(record: type[Record[Any]], data: object, before: str = "") -> Iterator[str]:
    """The keys in data, as the reference names them: as deep as records go."""
    assert isinstance(data, dict)
    yield from (f"{before}{key}" for key in data)
    figures = {one.name: one for kind in flattened(record) for one in figures_of(kind)}
    for key, value in data.items():
        figure = figures.get(key)
        if figure is None or figure.holds is None or value is None:
            continue
        many = figure.kind is ROWS
        for one in value if many else [value]:
            yield from walked(figure.holds, one, f"{before}{key}{'[]' if many else ''}.")


def flattened(record: type[Record[Any]]) -> Iterator[type[Record[Any]]]:
    """The record and those whose figures are told as if they were its own."""
    yield record
    for figure in figures_of(record):
        if figure.kind is ONE and figure.holds is not None and not figure.meaning:
            yield from flattened(figure.holds)


@pytest.mark.parametrize(
    ("command", "record"),
    [*QUICK, *(pytest.param(*each, marks=pytest.mark.slow) for each in SLOW)],
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_what_a_command_prints_is_in_the_reference(
    command: str, record: type[Record[Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    """No key is printed that the reference does not have, and it has none at the top that is not printed."""
    assert run([*command.split(), "--json"]) in (0, 1)
    printed = json.loads(capsys.readouterr().out)
    known = [key for key, _, _ in keys_of(record)]
    assert set(walked(record, printed)) <= set(known)
    top = {key for key in known if "." not in key}
    if "--why" not in command and record is not ChooseAnswer:
        may_be_left_out = {"at_other_pay", "simulation", "job", "assumed_fields"}
        assert top - set(printed) <= may_be_left_out


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_every_key_stands_once_and_says_what_it_is(record: type[Record[Any]]) -> None:
    keys = list(keys_of(record))
    assert len(keys) == len({key for key, _, _ in keys})
    assert all(unit and meaning for _, unit, meaning in keys)
