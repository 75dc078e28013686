"""``new`` at a terminal: the questions, answers as people type them, and a job file that can be read."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from estimator.cli import ask_new
from estimator.cli.main import run
from estimator.estimate.said import alike, sounds_like, wishes_meant, wishes_to_say
from estimator.input.job.load import load_job
from estimator.model import Job, Shop
from estimator.tables.load import load_shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


def asked(monkeypatch: pytest.MonkeyPatch, answers: Sequence[str], file: Path) -> int:
    """The status of ``new FILE`` where somebody types these answers at a terminal and then closes the input."""
    left = iter(answers)

    def typed(prompt: str) -> str:
        try:
            return next(left)
        except StopIteration:
            raise EOFError from None

    monkeypatch.setattr(ask_new, "can_ask", lambda: True)
    monkeypatch.setattr("builtins.input", typed)
    status = run(["new", str(file)])
    assert next(left, None) is None or status
    return status


def job_of(shop: Shop, file: Path) -> Job:
    job = load_job(file, shop)
    assert [issue for issue in job.issues if issue.where.column != "[job] said_wrong"] == []
    return job


def test_a_job_is_taken_in_by_questions(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "first.toml"
    answers = [
        "bass-so",
        "customer",
        "the jack is loose, tuners have play",
        "Y",
        "less hum",
        "1",
        "3",
        "$1,250.50",
        "",
        "11/30/2026",
    ]
    assert asked(monkeypatch, answers, file) == 0
    job = job_of(shop, file)
    told = capsys.readouterr().out
    assert job.kind == "commission"
    assert job.instrument["kind"].value == "bass-solid"
    assert (job.instrument["jack_state"].value, job.instrument["jack_state"].assumed) == ("loose", False)
    assert job.instrument["tuner_play"].assumed  # nobody's word stands for a measurement
    warned = [str(issue) for issue in job.issues]
    assert len(warned) == 1
    assert "the tuners have play" in warned[0] or "tuner" in warned[0]
    assert "write tuner_play under [instrument]" in warned[0]
    assert job.what == "less hum"
    assert {one.attribute: int(one.level) for one in job.requirements if one.level is not None} == {"hum": 3}
    assert (str(job.budget.money), job.budget.on, job.wanted_by) == ("1250.50", "price", "2026-11-30")
    assert "hardly heard" in told


def test_all_may_be_left_open(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "open.toml"
    assert asked(monkeypatch, [""] * 7, file) == 0
    job = job_of(shop, file)
    assert (job.kind, job.instrument["kind"].value, job.requirements) == ("own", "guitar-solid", ())


def test_what_cannot_be_read_is_asked_again(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "again.toml"
    answers = [
        "bass",
        "gitar-solid",
        "99",
        "1",
        "",
        "zzz",
        "",
        "",
        "",
        "much",
        "-5",
        "0",
        "150",
        "cost",
        "2026-02-30",
        "03/04/2026",
    ]
    assert asked(monkeypatch, answers, file) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "“bass” could be bass-solid, bass-semi" in told
    assert "did you mean “guitar-solid”?" in told
    assert "“much”: no sum of money that can be read; a sum in USD" in told
    assert "“0” leaves no money" in told
    job = job_of(shop, file)
    assert (str(job.budget.money), job.budget.on, job.wanted_by) == ("150", "cost", "2026-03-04")


def test_who_stops_answering_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stopped.toml"
    assert asked(monkeypatch, ["1", "own"], file) == 2
    assert not file.exists()
    assert "stopped" in capsys.readouterr().err


def test_nothing_is_asked_where_a_file_is_in_the_way_or_an_option_tells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ask_new, "can_ask", lambda: True)
    monkeypatch.setattr("builtins.input", lambda prompt: pytest.fail("asked"))
    file = tmp_path / "told.toml"
    assert run(["new", str(file), "--kind", "bass-solid"]) == 0
    assert run(["new", str(file)]) == 2


def test_nothing_is_asked_through_a_pipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("builtins.input", lambda prompt: pytest.fail("asked"))
    file = tmp_path / "piped.toml"
    assert run(["new", str(file)]) == 0
    assert 'kind = "guitar-solid"' in file.read_text(encoding="utf-8")


def test_words_are_alike_but_for_their_endings() -> None:
    assert alike("pots", "pot")
    assert alike("scratchy", "scratch")
    assert not alike("pot", "pots-and-pans")
    assert not alike("neck", "necklace-maker")
    assert sounds_like(
        "scratchy pots and a dead jack", {"a": "the pots scratch", "b": "the jack cuts out"}
    ) == ["a", "b"]
    assert sounds_like("", {"a": "the pots scratch"}) == []


@pytest.mark.parametrize(
    ("wish", "meant"),
    [
        (
            "plays well and sounds clean",
            ["action", "fret-levelness", "nut-function", "hum", "controls", "output-jack"],
        ),
        ("plays like butter", ["action", "fret-levelness", "nut-function"]),
        ("Stays in tune with the tremolo", ["tuning-stability", "nut-function", "tuner-quality"]),
        ("frets are sharp, hard to play", ["fret-ends", "action", "nut-function", "fret-levelness"]),
        ("it hums", ["hum", "shield-continuity"]),
        ("good intonation", ["intonation"]),
        ("make it nice", []),
    ],
)
def test_a_wish_in_everyday_words_means_what_a_player_means(shop: Shop, wish: str, meant: list[str]) -> None:
    assert wishes_meant(shop, wish) == meant


def test_every_row_of_everyday_words_is_understood_and_every_level_has_words(shop: Shop) -> None:
    for row in shop.wish_words:
        named = [name for name in row.attributes if name in wishes_to_say(shop)]
        assert set(named) <= set(wishes_meant(shop, f"I would like it: {row.words}")), row.words
    spoken = {name for row in shop.wish_words for name in row.attributes}
    assert wishes_to_say(shop).keys() - spoken == {"nut-material"}


@pytest.mark.slow
def test_whatever_is_answered_makes_a_file_that_can_be_read(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """40 drawn conversations: the file is read without a complaint, or (contrary faults) none is written."""
    drawn = random.Random(25)
    faults = list(dict.fromkeys(fault.what for fault in shop.faults))
    written = 0
    for number in range(40):
        file = tmp_path / f"drawn-{number}.toml"
        kinds = [*shop.intake["kind"].choices, *(n for n in shop.intake["template"].choices if n != "none")]
        answers = [drawn.choice(kinds), drawn.choice(["own", "commission", "resale"]), "", "", "student"]
        if drawn.random() < 0.8:
            answers[2:3] = [drawn.choice(faults), drawn.choice(["1", "y", ""])]
        money = drawn.choice(["", "250", "$90", "1,000 USD"])
        answers += [
            money,
            *([drawn.choice(["", "cash", "price"])] if money else []),
            drawn.choice(["", "12/24/2026"]),
        ]
        monkeypatch.setattr(ask_new, "can_ask", lambda: True)
        left = iter([*answers, *[""] * 20])
        monkeypatch.setattr("builtins.input", lambda prompt, left=left: next(left))
        status = run(["new", str(file)])
        assert (status == 0) is file.exists()
        if status == 0:
            load_job(file, shop)
            written += 1
    assert written > 30
