"""A customer's own words for what is to be kept: what they mean, in `new` and in a job file."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from estimator.estimate.new_job import default_job
from estimator.estimate.said import faults_meant, wishes_meant
from estimator.input.job.load import job_from, load_job
from estimator.tables.kept_words import keeps_meant, kept_unknown, without_keeping
from estimator.tables.toml.text import parse_toml
from tests.cli.test_new_asks import asked
from tests.drawn_jobs import the_shop

SAID = (
    ("the bass strings stay too high with the saddles all the way down", ""),
    ("the bridge stays high", ""),
    ("less hum, keep the arm", "arm"),
    ("keeps the arm", "arm"),
    ("the tremolo stays", "arm"),
    ("stays original", "original"),
    ("less hum, keep it original and keep the arm", "original arm"),
    ("keep the arm and the neck", "arm neck"),
    ("do not touch the finish", "finish"),
    ("don't replace the pickups, better tuning", "pickups"),
    ("leave the frets, lower strings", "frets"),
    ("without changing its look", "look"),
    ("keep the neck pickup", "pickups"),
    ("the original finish is kept", "finish"),
    ("quieter but the knobs and wiring remain untouched", "controls"),
    # wishes, whatever verb they are said with
    ("stays in tune", ""),
    ("stays in tune with the tremolo", ""),
    ("keeps its tuning when the arm is used", ""),
    ("the sound keeps cutting out", ""),
    ("better pickups and less hum", ""),
    ("new frets, keep in budget", ""),
    ("it does not buzz", ""),
    ("the frets must not be touched", "frets"),
    ("a nut cut too low", ""),
    ("they dont stay: the tuners", ""),
    ("the frets stay without being changed", "frets"),
    # what does not stay is complained of
    ("the tuners do not stay put", ""),
    ("the arm won't stay up", ""),
    ("the pickups can\u2019t stay", ""),
    ("the neck does not remain straight", ""),
    ("do not leave the frets like this", ""),
    ("the finish can no longer be kept", ""),
    ("the binding need not stay", ""),
    ("the tuners do not stay put, keep the frets", "frets"),
    ("less hum and the neck is too thick", ""),
    ("", ""),
)


@pytest.mark.parametrize(("said", "kept"), SAID)
def test_what_the_words_want_kept(said: str, kept: str) -> None:
    assert keeps_meant(the_shop().lasting.keeps, said) == tuple(kept.split())


def test_what_is_to_be_kept_is_no_wish_for_it() -> None:
    shop = the_shop()
    assert wishes_meant(shop, "less hum, keep it original") == wishes_meant(shop, "less hum")
    assert "originality" in wishes_meant(shop, "more original")


@pytest.mark.parametrize(
    "no", ["do not", "don't", "don\u2019t", "will not", "won't", "never", "cannot", "no longer"]
)
@pytest.mark.parametrize("stay", ["stay put", "keep it up", "remain where they are", "stay"])
def test_of_any_word_what_does_not_stay_is_complained_of_and_not_kept(no: str, stay: str) -> None:
    shop = the_shop()
    for row in shop.lasting.keeps.values():
        for word in (row.id, *row.words):
            said = f"the {word} {no} {stay}"
            assert keeps_meant(shop.lasting.keeps, said) == (), said
            assert without_keeping(shop.lasting.keeps, said) == said


def test_drawn_words_are_found_wherever_they_stand() -> None:
    """Any word of the table, in any of the ways of saying it, among wishes before and after it."""
    shop, draw = the_shop(), random.Random(5)
    ways = (
        "keep the {}",
        "keeps its {}",
        "the {} stays as it is",
        "leave the {}",
        "do not change the {}",
        "{} kept",
    )
    wishes = ("less hum", "better tuning", "lower strings", "stays in tune", "it crackles")
    names = [(row.id, word) for row in shop.lasting.keeps.values() for word in (row.id, *row.words)]
    for _ in range(500):
        name, word = draw.choice(names)
        phrases = draw.sample(wishes, draw.randint(0, 3))
        phrases.insert(draw.randint(0, len(phrases)), draw.choice(ways).format(word))
        said = draw.choice((", ", " and ", " but ")).join(phrases)
        assert keeps_meant(shop.lasting.keeps, said) == (name,), said
        left = without_keeping(shop.lasting.keeps, said)
        assert [p.strip() for p in left.split(",") if p.strip()] == [p for p in phrases if p in wishes], said


def test_new_writes_what_is_to_be_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "arm.toml"
    answers = ["guitar-so", "customer", "", "less hum, keep the arm and the finish", "y", "1", "3", "", ""]
    assert asked(monkeypatch, answers, file) == 0
    assert "the arm is kept" in capsys.readouterr().out
    job = load_job(file, the_shop())
    assert job.issues == ()
    assert job.keeps == ("arm", "finish")
    assert {wish.attribute for wish in job.requirements} == {"hum"}


@pytest.mark.parametrize(
    ("keys", "asked_for"),
    [
        ("", 'keeps = ["arm", "finish"]'),
        ('[upgrades]\nkeeps = ["arm"]\n', 'keeps = ["arm", "finish"]'),
        ('[upgrades]\nkeeps = ["arm", "finish"]\n', ""),
    ],
)
def test_a_job_whose_words_keep_what_its_keys_do_not_is_asked_about(keys: str, asked_for: str) -> None:
    text = '[job]\nid = "j"\nkind = "own"\nwhat = "less hum, keep the arm and the finish"\n[instrument]\n'
    job = job_from(parse_toml(f'{text}kind = "guitar-solid"\n{keys}'.encode(), "j.toml"), the_shop())
    told = [issue for issue in job.issues if issue.where.column.endswith("what")]
    assert [issue.severity for issue in told] == (["warning"] if asked_for else [])
    assert all(asked_for in issue.next_step for issue in told)


@pytest.mark.parametrize(
    ("said", "strange"),
    [
        ("less hum; keep the stickers", ["stickers"]),
        ("do not touch the pearl inlays, new frets", ["pearl inlays"]),
        ("leave the old solder as it is", ["old solder"]),
        ("keep the arm", []),
        ("keep the cost down", []),
        ("does not keep its tuning", []),
        ("keep it cheap", []),
    ],
)
def test_what_no_table_can_keep_is_told_and_never_passed_over(said: str, strange: list[str]) -> None:
    assert list(kept_unknown(the_shop().lasting.keeps, said)) == strange
    text = f'[job]\nid = "j"\nkind = "own"\nwhat = "{said}"\n[instrument]\nkind = "guitar-solid"\n'
    issues = job_from(parse_toml(text.encode(), "j.toml"), the_shop()).issues
    told = [issue.problem for issue in issues if "nothing holds to it" in issue.problem]
    assert told == [told[0]] if strange else told == []
    assert all(f"nothing holds to it: {', '.join(strange)}" in words for words in told)


def test_what_is_to_be_kept_is_no_fault_of_it() -> None:
    """A binding that is to be kept says nothing of tuners that bind; nor does any other word of the table of a fault."""
    shop = the_shop()
    job = default_job(shop, "guitar-solid")
    for row in shop.lasting.keeps.values():
        for word in (row.id, *row.words):
            assert faults_meant(shop, job, f"keep the {word}") == []
