"""``new`` at a terminal: the questions, answers as people type them, and a job file that can be read."""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli import ask_new
from estimator.cli.main import run
from estimator.estimate.new_job import default_job, kinds_in_words
from estimator.estimate.said import (
    USUAL,
    alike,
    faults_meant,
    faults_to_say,
    put_right,
    sounds_like,
    wishes_meant,
    wishes_to_say,
)
from estimator.estimate.sale_terms import clean_price
from estimator.input.job.load import load_job
from estimator.model import Job, Shop
from estimator.tables.kept_words import PHRASES
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
        "",
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
    assert {one.attribute: int(one.level) for one in job.requirements if one.level is not None} == {
        "hum": 3,
        "output-jack": 2,
        "tuner-quality": 2,
    }
    assert "output jack: at least 2, firm, tired spring" in told
    assert (str(job.budget.money), job.budget.on, job.wanted_by) == ("1250.50", "price", "2026-11-30")
    assert "hardly heard" in told


def test_of_what_is_to_be_sold_it_is_asked_what_a_sale_turns_on(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "flip.toml"
    answers = ["", "to be sold", "c", "much", "1.250", "410 EUR", "-5", "$410", "120 USD", *[""] * 5]
    assert asked(monkeypatch, answers, file) == 0
    job, told = job_of(shop, file), " ".join(capsys.readouterr().out.split())
    read = {name: job.instrument[name] for name in ("tier", "base_clean", "ask")}
    assert {name: (one.value, one.assumed) for name, one in read.items()} == {
        "tier": ("C", False),
        "base_clean": (410, False),
        "ask": (120, False),
    }
    assert job.kind == "resale"
    for refused in ("much", "1.250", "410 EUR", "-5"):
        assert f"“{refused}”: " in told
    assert run(["sell", str(file)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "120.00 USD is paid for the instrument" in told
    assert "Nothing is counted for buying it" not in told
    assert "middle of their class" not in told


@pytest.mark.parametrize("tier", ["A", "B", "C", "D", "E", ""])
def test_what_is_left_blank_of_a_sale_is_told_and_taken_so(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tier: str
) -> None:
    """What the file shows as assumed is what the answer counts with: the middle of the class, whichever it is."""
    file = tmp_path / "open.toml"
    prompts: list[str] = []
    answers = iter(["", "sale", tier, "", "none", *[""] * 5])

    def typed(prompt: str) -> str:
        prompts.append(prompt)
        return next(answers)

    monkeypatch.setattr(ask_new, "can_ask", lambda: True)
    monkeypatch.setattr("builtins.input", typed)
    assert run(["new", str(file)]) == 0
    assert "class B is assumed" in capsys.readouterr().out
    middle = f"{shop.resale.tiers[tier or 'B'].base_middle.normalize():f}"
    assert any(f"the middle of its price class is assumed, {middle})" in one for one in prompts)
    assert any("nothing is counted for buying it" in one for one in prompts)
    lines = file.read_text(encoding="utf-8").splitlines()
    assert any(line.startswith(f"# base_clean = {middle} ") for line in lines)
    assert any(line.startswith("# ask = 0 ") for line in lines)
    assert any(line.startswith('tier = "') for line in lines) == bool(tier)
    job = job_of(shop, file)
    assert f"{clean_price(shop, job)[0].normalize():f}" == middle
    assert run(["sell", str(file)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Nothing is counted for buying it: write what was paid as ask" in told
    file.write_text(file.read_text(encoding="utf-8").replace("# ask = 0", "ask = 0"), encoding="utf-8")
    assert run(["sell", str(file), "--full"]) == 0
    assert "Nothing is counted" not in capsys.readouterr().out  # it cost nothing, and that was said


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
    assert alike("slip", "slipping")
    assert alike("crackles", "crackly")
    assert not alike("crackles", "crack")
    assert not alike("sounds", "soundness")
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
    assert wishes_to_say(shop).keys() <= spoken


@pytest.mark.parametrize(
    ("words", "first", "not_offered"),
    [
        (
            "buzz on two frets",
            {"the frets rock", "the strings lie so low that they buzz"},
            "the fret ends cut",
        ),
        ("scratchy pot", {"the pots scratch"}, "the switch scratches"),
        ("strings sit too low in the nut", {"the nut is too low on the bass side"}, "the rod nut turns"),
        ("worn nut", {"the nut is too low on the bass side"}, "the rod nut turns without resistance"),
        ("jack is loose", {"the jack is loose"}, "a pot is loose in its shaft"),
        ("tuners have play", {"the tuners have play"}, "the tuners have wide play"),
        ("crackles when I turn the knob", {"a pot is dead", "the pots scratch"}, "an open crack"),
        ("no sound from the bridge pickup", {"the bridge pickup is dead"}, "the bridge posts pull forward"),
        ("truss rod stuck", {"the truss rod is dead"}, "saddle screws are stuck"),
        ("smells of smoke", {"it smells of smoke or mould"}, "it smells strongly of smoke or mould"),
        ("tuner is slipping", {"tuners slip or bind"}, "the tuners have play"),
        ("loose jack, dead bridge pickup", {"the bridge pickup is dead"}, "the middle pickup is dead"),
    ],
)
def test_the_likeliest_faults_are_offered_first(
    shop: Shop, words: str, first: set[str], not_offered: str
) -> None:
    found = [fault.what for fault in faults_meant(shop, default_job(shop, "guitar-solid"), words)]
    assert set(found[: len(first)]) == first, found
    assert not any(what.startswith(not_offered) for what in found), found


def test_every_fault_is_found_by_its_own_words_and_nothing_plainer_is_hidden(shop: Shop) -> None:
    """On every kind of instrument: a fault that is named in its words stands first, whatever else is like it."""
    for kind in shop.intake["kind"].choices:
        job = default_job(shop, kind)
        for fault in faults_to_say(shop, job):
            phrases = PHRASES.split(fault.what)
            found = [other.what for other in faults_meant(shop, job, fault.what)]
            assert fault.what in found, (fault.what, found)
            if len(phrases) == 1:
                assert found[0] == fault.what, (fault.what, found)


def test_beside_a_fault_named_outright_none_of_another_place_is_offered(shop: Shop) -> None:
    """Who takes all that is offered shall not have said that a sound part is bad too."""
    for kind in shop.intake["kind"].choices:
        job = default_job(shop, kind)
        for what in (fault.what for fault in faults_to_say(shop, job)):
            if len(PHRASES.split(what)) > 1:
                continue  # its second half alone may be of any place
            others = {
                what.replace(here, there)
                for here in ("neck", "middle", "bridge", "bass", "treble")
                for there in ("neck", "middle", "bridge", "bass", "treble")
                if here in what and here != there
            }
            assert not others & {other.what for other in faults_meant(shop, job, what)}, what


def test_every_fault_can_be_put_right_by_a_wish(shop: Shop) -> None:
    """What is wished lies above what the fault leaves, for each attribute that it lowers and that can be wished for."""
    for fault in {fault.fault for fault in shop.faults}:
        rows = [row for row in shop.faults if row.fault == fault and row.attribute in wishes_to_say(shop)]
        wanted = put_right(shop, rows[:1])
        assert wanted.keys() == {row.attribute for row in rows}
        assert all(wanted[row.attribute] > min(row.level, Decimal(3)) for row in rows)
        assert all(USUAL <= level <= 4 for level in wanted.values())


def test_what_is_wrong_is_wished_put_right_and_no_word_is_lost(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Who says what is wrong gets it mended, beside what is wished, and the words stand in the file, picked or not."""
    said = "buzz on two frets, scratchy pot"
    mended = tmp_path / "mended.toml"
    assert asked(monkeypatch, ["1", "customer", said, "y", "", "", "", ""], mended) == 0
    job = job_of(shop, mended)
    assert job.what == said
    assert {one.attribute for one in job.requirements} == {"controls", "fret-levelness", "action"}
    (warned,) = [str(issue) for issue in job.issues]
    assert "(action_b)" in warned
    assert "write action_b, " in warned

    left = tmp_path / "left.toml"
    assert asked(monkeypatch, ["1", "customer", said, "", "", "", "", ""], left) == 0
    job = job_of(shop, left)
    assert (job.what, job.requirements, job.issues) == (said, (), ())

    wished = tmp_path / "wished.toml"
    assert asked(monkeypatch, ["1", "customer", said, "1", "less hum", "1", "", "", "", ""], wished) == 0
    assert job_of(shop, wished).what == "less hum"
    both = {one.attribute for one in job_of(shop, wished).requirements}
    assert "hum" in both
    assert both & {"controls", "fret-levelness"}

    left_so = tmp_path / "left-so.toml"
    assert asked(monkeypatch, ["1", "customer", said, "1", "less hum", "1", "", "n", "", ""], left_so) == 0
    assert {one.attribute for one in job_of(shop, left_so).requirements} == {"hum"}

    met = tmp_path / "met.toml"
    answers = ["1", "customer", "the jack is loose", "1", "firm output jack", "1", "3", "", ""]
    assert asked(monkeypatch, answers, met) == 0
    assert {one.attribute: one.level for one in job_of(shop, met).requirements} == {"output-jack": 3}
    assert f"# said to be wrong: {said}\n" in wished.read_text(encoding="utf-8")
    assert "Putting that right means:" in capsys.readouterr().out


def test_every_kind_of_instrument_is_told_in_words(shop: Shop) -> None:
    told = kinds_in_words(shop)
    assert set(told) == {*shop.intake["kind"].choices, *shop.intake["template"].choices} - {"none"}
    assert all(words for words in told.values())
    assert len(set(told.values())) == len(told)


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
        answers = [drawn.choice(kinds), drawn.choice(["own", "commission", "resale"])]
        named = drawn.choice(["1", "y", ""]) if drawn.random() < 0.8 else None
        answers += [""] if named is None else [drawn.choice(faults), named]
        put_right = drawn.choice(["", "1", "n"]) if named else "n"
        answers += ["", *([put_right] if named else []), *(["student"] if put_right == "n" else [])]
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


@pytest.mark.parametrize(
    ("typed", "number"),
    [("a 7-string, fixed bridge", 11), ("five string bass", 15), ("twelve strings", 12), ("12-string", 12)],
)
def test_an_instrument_in_words_is_told_its_number(
    shop: Shop,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    typed: str,
    number: int,
) -> None:
    file = tmp_path / "worded.toml"
    assert asked(monkeypatch, [typed, str(number), "", "", "", "", "", ""], file) == 0
    name, what = list(kinds_in_words(shop).items())[number - 1]
    said = " ".join(capsys.readouterr().out.split())
    assert f"“{typed}” is none of them. Nearest to it: {number} {name} ({what})" in said
    assert f'template = "{name}"' in file.read_text(encoding="utf-8")


def test_what_is_kept_may_be_said_with_what_is_wrong(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "kept.toml"
    answers = [
        "",
        "",
        "the jack is loose, keep the binding",
        "",
        "less hum, keep the arm",
        "y",
        "",
        "",
        "",
        "",
    ]
    assert asked(monkeypatch, answers, file) == 0
    assert job_of(shop, file).keeps == ("binding", "arm")
