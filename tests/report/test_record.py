"""Records tell each figure once: as data, in the reference of keys, as columns of tables."""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import click
import pytest
import typer
from msgspec import Struct
from msgspec.structs import replace

import estimator
from estimator.choose.questions.sensitivity import SettingRange
from estimator.cli.common import job_path
from estimator.cli.main import make_app, run
from estimator.report.record import (
    MONEY,
    ROWS,
    STAYS,
    UNNAMED,
    Record,
    Teller,
    as_data,
    columns,
    keys_of,
    table_of,
)
from estimator.report.records import books
from estimator.report.records.choice import ChooseAnswer, EstimateAnswer
from estimator.report.records.fit import CheckAnswer, FitAnswer
from estimator.report.records.price import (
    ChangeAnswer,
    GivenAnswer,
    MenuAnswer,
    OffersAnswer,
    PriceAnswer,
    RateAnswer,
    SparesAnswer,
)
from estimator.report.records.questions import Setting
from estimator.report.records.quote import QuoteAnswer, RepriceAnswer, WorkedAnswer
from estimator.report.records.reference import ANSWERS, held_in, name_of
from estimator.report.records.risk import MeasureAnswer, RiskAnswer, TriageAnswer, Within, WithinTold
from estimator.report.records.sale import OfferAnswer, SellAnswer
from estimator.report.records.tools import Tools

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


class Thing(Struct, frozen=True):
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
    assert [(one.name, one.kind.unit, one.meaning, one.holds) for one in keys_of(Told)] == [
        ("name", "text", "its name", None),
        ("money", "money", "what it costs", None),
        ("minutes", "min", "hands-on", None),
        ("there", "text", "left out where blank", None),
        ("level", "number", "a level", None),
        ("day", "day", "a day", None),
        ("words", "list", "words", Word),
        ("first", "object", "the first word", Word),
        ("word", "text", "a word", None),
    ]


class Shown(Record[Thing]):
    name = _thing.text("its name", lambda of: of.name, head=UNNAMED)
    gone = _thing.column("gone where all is blank", lambda of: of.cents, MONEY)
    there = _thing.column("there even so", lambda of: of.cents, replace(MONEY, none=STAYS))


def test_a_blank_column_goes_unless_its_kind_says_that_it_stays() -> None:
    day = date(2026, 3, 1)
    blank, priced = Thing("a slot of 25.4 mm", None, day), Thing("jack", -120500, day)
    assert table_of(Shown, [blank]) == (["", "there even so"], [["a slot of 25.4 mm", ""]], [1])
    heads, rows, right = table_of(Shown, [blank, priced], "USD", last=("", lambda of: ""), lengths="in")
    assert heads == ["", "gone where all is blank", "there even so", ""]
    assert rows == [["a slot of 1 in", "", "", ""], ["jack", "-1,205.00 USD", "-1,205.00 USD", ""]]
    assert right == [1, 2]
    assert table_of(Shown, [])[1] == [["nothing", "", ""]]


def test_a_range_of_a_price_says_at_each_end_what_is_known_of_it() -> None:
    settled = SettingRange("nut", 1200, 0, 171700)
    rows = [settled, replace(settled, exact=False), SettingRange("nut", 1200, None, None)]
    hour = SettingRange("", 7253, None, None)
    heads, told, right = table_of(Setting, [*rows, hour, replace(hour, high=9000)], "USD")
    assert (heads, right) == (["", "now", "from", "to"], [1, 2, 3])
    unsettled = "not settled: a limit keeps a cheaper set out"
    assert told == [
        ["price of the part of nut", "12.00 USD", "0.00 USD", "1,717.00 USD"],
        ["price of the part of nut", "12.00 USD", "about 0.00 USD", "about 1,717.00 USD"],
        ["price of the part of nut", "12.00 USD", unsettled, "any"],
        ["labour rate, an hour", "72.53 USD", unsettled, "362.65 USD at least"],
        ["labour rate, an hour", "72.53 USD", unsettled, "90.00 USD"],
    ]


def test_what_jobs_stay_within_is_told_to_the_minute_and_the_cent() -> None:
    heads, told, right = table_of(WithinTold, [Within("on average", 104.496, 123456)], "EUR")
    assert (heads, right) == (["", "hands-on", "cost"], [1, 2])
    assert told == [["on average", "1 h 44 min", "1,234.56 EUR"]]


def tables_by_hand() -> Iterator[str]:
    """The titles of tables on the screen whose columns are not those of a record."""
    for path in sorted(Path(estimator.__file__).parent.rglob("*.py")):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(call, ast.Call) or not called(call).endswith((" show_table", ".table")):
                continue
            match call.args:
                case [_, ast.Starred(value=ast.Call(func=ast.Name("table_of")))]:
                    continue
                case [title, *_]:
                    yield ast.unparse(title)


def called(call: ast.Call) -> str:
    """What is called, after a blank where it is a name alone."""
    return f" {ast.unparse(call.func)}"


def test_every_table_on_the_screen_is_made_of_a_record() -> None:
    # the figures of one record one below the other, and a table that is handed on
    assert list(tables_by_hand()) == ["'Money'", "title"]


def unknown(record: type[Record[Any]], data: object, before: str = "") -> Iterator[str]:
    """Keys in data that the record does not have, as deep as records go."""
    assert isinstance(data, dict)
    figures = {one.name: one for one in keys_of(record)}
    for key, value in data.items():
        if key not in figures:
            yield before + key
        elif (inner := figures[key].holds) is not None and value is not None:
            for one in value if figures[key].kind is ROWS else [value]:
                yield from unknown(inner, one, f"{before}{key}.")


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
    assert list(unknown(record, printed)) == []
    if record is not ChooseAnswer:
        may_be_left_out = {"at_other_pay", "simulation", "job", "assumed_fields"}
        assert {one.name for one in keys_of(record)} - printed.keys() <= may_be_left_out


@pytest.mark.slow
def test_what_is_printed_of_a_workbook_is_in_the_reference(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, ledger = str(tmp_path / "quote.xlsx"), str(tmp_path / "shop.db")
    page = str(tmp_path / "again.xlsx")
    for words, record in (
        (["quote", JOB, "--offers", "-o", book, "--numbered", "--ledger", ledger], QuoteAnswer),
        (["reprice", JOB, book, "--customer", page], RepriceAnswer),
        (["worked", book], WorkedAnswer),
    ):
        assert run([*words, "--json"]) == 0
        printed = json.loads(capsys.readouterr().out)
        assert list(unknown(record, printed)) == []
        # which tools are got is told where one is missing
        assert {one.name for one in keys_of(record)} - printed.keys() <= {one.name for one in keys_of(Tools)}
        assert printed.get("written", [book]) in ([book], [page])


def of_ledger(command: str) -> list[type[Record[Any]]]:
    """What a command of the ledger may answer, as the reference has it."""
    return [record for name, record in ANSWERS.items() if name.startswith(f"`ledger {command}`")]


def test_what_the_ledger_answers_is_in_the_reference(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every answer of a ledger with something in each of its lists: each key of it, and no other, is printed."""
    monkeypatch.chdir(tmp_path)
    answered: set[type[Record[Any]]] = set()

    def said(words: str, *more: str) -> dict[str, Any]:
        assert run(["ledger", *words.split(), "--json", *more]) == 0, capsys.readouterr().err
        printed = json.loads(capsys.readouterr().out)
        # the cost stands alone where the shop quotes itself; of what is used it is told or proposed
        meant = [
            record
            for record in of_ledger(words.split()[0])
            if not list(unknown(record, printed))
            and {one.name for one in keys_of(record)} - printed.keys() <= {"cost", "used", "proposed"}
        ]
        assert len(meant) == 1, (words, printed)
        answered.update(meant)
        return dict(printed)

    name, days = "tight-commission", [("--now", f"2026-10-{day:02d} 09:00") for day in range(1, 29)]
    text = job_path(JOB).read_text(encoding="utf-8")
    Path("own.toml").write_text(text.replace("[job]", '[job]\nserial = "S1"'), encoding="utf-8")
    Path("front.jpg").touch()
    said("book own.toml", *days[4])
    said(f"quote {name} --with set-up", *days[4])
    said(f"accept {name} --promised 2026-10-08", *days[5])
    said(f"pay {name} 50 --kind deposit", *days[5])
    said("stock bought c-strings-guitar 3 --cost 21", *days[5])
    said("parcel parts-house --expected 2026-10-12", *days[6])
    said(f"agree {name} gently", *days[6])
    said(f"photo {name} front.jpg", *days[6])
    spell = said(f"time {name} set-action 25", *days[6])["spell"]
    said(f"correct {spell} 20", *days[6])
    said(f"paper {name} invoice --page {tmp_path / 'invoice.html'}", *days[6])
    said(f"receipt {name} -o {tmp_path / 'receipt.txt'}", *days[6])
    said(f"begin {name} string-up", *days[7])
    said("pause", *days[7])
    for words in ("board", "running", "parcel", "stock", "report"):
        said(words, *days[9])
    said(f"time {name}")
    said(f"report {name}")
    history = said(f"show {name}")
    said("show-customer", "A. Customer")
    said("instrument S1")
    said(f"end {name} string-up --took 20", *days[8])
    untold = said(f"used {name}")
    said(f"used {name} string-up none", *days[8])
    said(f"move {name} ready", *days[9])
    said(f"move {name} told", *days[9])
    stored = said("board", *days[27])
    said(f"move {name} collected --waive-storage", *days[27])
    closed, reports = said("board", *days[27]), said("report")
    said(f"backup {tmp_path / 'copy.sqlite'}")
    said(f"export -o {tmp_path / 'all.xlsx'}", *days[27])
    said("check")
    said(f"pay {name} {closed['owed'][0]['owed']}", *days[27])
    said("erase-customer", "A. Customer")
    every = {record for name, record in ANSWERS.items() if name.startswith("`ledger ")}
    assert every - answered == {books.Card}  # which needs a card that was written on
    assert stored["stored"][0].keys() >= {"stored_days"}
    assert closed["owed"]
    assert untold["untold"]
    assert all(reports[one] for one in ("by_task", "pay_per_hour", "money_owed", "cash_by_month", "warranty"))
    assert all(history[one] for one in ("steps", "quotes", "agreed", "photos", "invoices", "payments"))


def test_every_command_that_prints_data_is_in_the_reference() -> None:
    program = typer.main.get_command(make_app())
    assert isinstance(program, click.Group)
    ledger = program.commands.pop("ledger")
    assert isinstance(ledger, click.Group)
    made = program.commands | {f"ledger {name}": one for name, one in ledger.commands.items()}
    prints_data = {
        name for name, one in made.items() if any("--json" in option.opts for option in one.params)
    }
    named = {name.split("`")[1].partition(" --")[0] for name in ANSWERS if "`" in name}
    assert prints_data == named


@pytest.mark.parametrize("answer", ANSWERS)
def test_every_key_stands_once_and_says_what_it_is(answer: str) -> None:
    for record in (ANSWERS[answer], *held_in(ANSWERS[answer])):
        keys = list(keys_of(record))
        assert len(keys) == len({one.name for one in keys}), record
        assert all(one.kind.unit and one.meaning for one in keys), record
        assert name_of(record), record
