"""Parcels that are late: the last word of each counts, and a plan taken up from the ledger waits for them."""

from __future__ import annotations

import json
import random
from datetime import date, timedelta
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.ledger.for_plan import state_by_ledger
from estimator.ledger.parcels import Parcel, parcel_news, parcel_rows, tell_parcel
from estimator.ledger.store import Ledger
from estimator.plan.replan.plan import plan_again
from estimator.plan.replan.progress import load_state
from estimator.schedule.records import Search
from tests.ledger.shop import at, begun
from tests.ledger.test_for_plan import BATCH, booked
from tests.plan.bench import batch

PART = Parcel("parts-house", job="commission", upgrade="bridge-pickup-stack-slim-stack")
ALL, PAINT = Parcel("finish-store"), Parcel("finish-store", item="c-shield-paint")


@pytest.mark.parametrize(
    ("told", "late"),
    [
        ((PART, "[[late]]\njob = 'commission'\nupgrade = 'bridge-pickup-stack-slim-stack'\n")),
        ((ALL, "[[late]]\nsupplier = 'finish-store'\n")),
        ((PAINT, "[[late]]\nsupplier = 'finish-store'\nconsumable = 'c-shield-paint'\n")),
    ],
)
@pytest.mark.slow
def test_the_ledger_says_what_a_state_file_says(tmp_path: Path, told: Parcel, late: str) -> None:
    study = batch(BATCH)
    with booked(tmp_path) as ledger:
        tell_parcel(ledger, told, date(2026, 10, 15), at("2026-10-05 08:55"))
        mine, issues = state_by_ledger(ledger, study, str(tmp_path / "week.json"), at("2026-10-05 09:00"))
    state = tmp_path / "now.toml"
    state.write_text(
        f"[state]\nplan = 'week.json'\nnow = '2026-10-05 09:00'\nothers = 'not-begun'\n{late}expected = '2026-10-15'\n"
    )
    its = load_state(state)
    assert mine.late == its.late != {}
    assert issues == ()
    search = Search(engine="rule", tries=5)
    by_ledger, by_file = (plan_again(study, one, search=search).plan for one in (mine, its))
    assert by_ledger.schedule.assignments == by_file.schedule.assignments


def test_drawn_news_leave_what_was_heard_last(tmp_path: Path) -> None:
    """Held against a plain reading of all news for each thing: the last that is about it decides."""
    rng = random.Random(7)
    things = [
        Parcel("a"),
        Parcel("a", item="glue"),
        Parcel("a", item="paint"),
        Parcel("b"),
        Parcel("b", item="glue"),
    ]
    with begun(tmp_path) as ledger:
        heard: list[tuple[Parcel, date | None]] = []
        for number in range(120):
            news = (rng.choice(things), rng.choice([None, date(2026, 10, 10) + timedelta(rng.randrange(9))]))
            try:
                tell_parcel(ledger, *news, at("2026-10-05 08:00"))
                heard.append(news)
            except InputError:
                assert news[1] is None, "a day was refused"
            for thing in (Parcel(s, item=i) for s in "ab" for i in ("glue", "paint")):
                mine = [day for one, day in heard if one in (thing, Parcel(thing.seller))]
                late = parcel_news(ledger)
                found = late[thing] if thing in late else late.get(Parcel(thing.seller))
                assert found == (mine[-1] if mine else None), (number, thing)


def test_an_expected_day_that_is_over_is_asked_about(tmp_path: Path) -> None:
    with booked(tmp_path) as ledger:
        tell_parcel(ledger, ALL, date(2026, 10, 6), at("2026-10-05 08:00"))
        with pytest.raises(
            InputError, match=r"expected by noon of 2026-10-06.*nobody said that it came"
        ) as told:
            state_by_ledger(ledger, batch(BATCH), str(tmp_path / "week.json"), at("2026-10-06 12:00"))
        assert "estimator ledger parcel finish-store --came" in str(told.value)
        assert [row.overdue for row in parcel_rows(ledger, at("2026-10-06 12:00"))] == [False]
        assert [row.overdue for row in parcel_rows(ledger, at("2026-10-07 12:00"))] == [True]
        tell_parcel(ledger, ALL, None, at("2026-10-06 12:00"))
        state, _ = state_by_ledger(ledger, batch(BATCH), str(tmp_path / "week.json"), at("2026-10-06 12:00"))
        assert state.late == {}


def test_news_of_another_plans_parcel_change_nothing(tmp_path: Path) -> None:
    with booked(tmp_path) as ledger:
        tell_parcel(ledger, Parcel("far-away"), date(2026, 10, 6), at("2026-10-05 08:00"))
        state, _ = state_by_ledger(ledger, batch(BATCH), str(tmp_path / "week.json"), at("2026-10-08 12:00"))
    assert state.late == {}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["parts-hose", "--came"], "did you mean “parts-house”"),
        (["parts-house"], "--expected DAY or --came"),
        (["parts-house", "--came", "--expected", "2026-10-12"], "--expected DAY or --came"),
        (["parts-house", "--came"], "was not told as late"),
        (["parts-house", "--expected", "2026-10-04"], "this day is over"),
        (["parts-house", "--expected", "soon"], "soon"),
        (
            ["parts-house", "--expected", "2026-10-12", "--item", "c-shield-pant"],
            "did you mean “c-shield-paint”",
        ),
        (["parts-house", "--expected", "2026-10-12", "--job", "blue"], "cannot be told"),
        (["parts-house", "--expected", "2026-10-12", "--job", "blue", "--part", "new-jack"], "blue"),
    ],
)
def test_what_cannot_be_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    file = str(tmp_path / "l.sqlite")
    assert run(["ledger", "parcel", *words, "--ledger", file, "--now", "2026-10-05 09:00"]) == 2
    assert said in capsys.readouterr().err
    if Path(file).exists():
        with Ledger(file) as ledger:
            assert ledger.rows("SELECT * FROM parcel_news") == []


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = ["--ledger", str(tmp_path / "l.sqlite")]

    def said(*words: str) -> str:
        assert run(["ledger", *words, *file]) == 0
        return capsys.readouterr().out

    now = ("--now", "2026-10-05 09:00")
    assert "expected 2026-10-12" in said("parcel", "parts-house", "--expected", "2026-10-12", *now)
    assert "2026-10-12" in said("board", *now)
    rows = json.loads(said("board", "--json", "--now", "2026-10-14 09:00"))["parcels"]
    assert rows == [
        {
            "seller": "parts-house",
            "item": "",
            "job": "",
            "upgrade": "",
            "expected": "2026-10-12",
            "overdue": True,
        }
    ]
    assert "has it come?" in said("parcel", "--now", "2026-10-14 09:00")
    assert "it came" in said("parcel", "parts-house", "--came", "--now", "2026-10-14 09:00")
    assert said("parcel") == "No parcel is late.\n"
