"""What a newcomer types: jobs of a batch without names, days in words, a job of the menu where a file belongs."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from estimator.cli.main import run
from estimator.core.errors import as_accepted, squeezed
from estimator.fit.candidates import offered
from estimator.fit.short_names import upgrades_named
from estimator.input.batch.load import load_batch
from estimator.input.job.keys import SECTIONS
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.tables.cells import CellError
from estimator.tables.load import load_shop
from estimator.tables.quantities import read_intake
from estimator.tables.sums import read_asked
from estimator.tables.toml.text import TomlFile
from tests.cli.spelled import odd_spellings

EXAMPLES = Path(__file__).parent.parent.parent / "example_jobs"
HEAD = '[batch]\nid = "two"\nstart = 2026-10-05\n'


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


def test_jobs_of_a_batch_are_named_by_their_files(shop: Shop, tmp_path: Path) -> None:
    school, bass = (f"{EXAMPLES}/{name}.toml" for name in ("school-guitar", "short-scale-bass"))
    jobs = "".join(f'[[job]]\nfile = "{file}"\n' for file in (school, bass, school))
    path = tmp_path / "two.toml"
    path.write_text(f'{HEAD}{jobs}[[job]]\nid = "school-guitar-2"\nfile = "{school}"\n', encoding="utf-8")
    named = [entry.id for entry in load_batch(path, shop).jobs]
    assert named == ["school-guitar", "short-scale-bass", "school-guitar-3", "school-guitar-2"]


def test_a_job_of_the_menu_is_no_file_and_the_way_on_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["price", "set-up"]) == 2
    told = capsys.readouterr().err
    assert "there is no such job file" in told
    assert "estimator menu" in told
    assert "estimator new" in told


@pytest.mark.parametrize(
    ("typed", "day"), [("friday", "2026-10-09"), ("10/12/2026", "2026-10-12"), ("2026-10-20", "2026-10-20")]
)
def test_a_day_is_promised_in_words_or_by_the_countrys_order(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], typed: str, day: str
) -> None:
    """5 October 2026 was a Monday; the default shop writes the month first."""
    beside = ["--ledger", str(tmp_path / "l.sqlite"), "--now", "2026-10-05 09:15"]
    assert run(["ledger", "book", "example:tight-commission", *beside]) == 0
    assert run(["ledger", "quote", "tight-commission", *beside]) == 0
    assert run(["ledger", "accept", "tight-commission", "--promised", typed, *beside]) == 0
    assert f"promised for {day}" in capsys.readouterr().out


def test_new_takes_several_upgrades_and_their_short_forms(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole, short = tmp_path / "whole.toml", tmp_path / "short.toml"
    assert (
        run(["new", str(whole), "--kind", "bass-solid", "--for", "ready-cut-nut", "--for", "shield-paint"])
        == 0
    )
    assert run(["new", str(short), "--kind", "bass-solid", "--for", "ready-cut, shield-p"]) == 0
    same = short.read_text(encoding="utf-8").replace('id = "short"', 'id = "whole"')
    assert same == whole.read_text(encoding="utf-8")
    assert run(["new", str(tmp_path / "none.toml"), "--for", "no-such-thing"]) == 2
    assert "no upgrade of this name" in capsys.readouterr().err


def test_a_word_is_the_accepted_one_whatever_its_capitals_blanks_and_hyphens() -> None:
    assert as_accepted("Set Up", ["set-up", "new-jack"]) == "set-up"
    assert as_accepted("setup", ["set-up", "setup"]) == "setup"
    assert as_accepted("SETUP", ["set-up", "setup"]) == "SETUP"  # could be either: nothing is guessed
    assert as_accepted("-", ["", "_"]) == "-"


def test_every_word_of_a_measured_field_is_taken_as_it_is_spelled(shop: Shop) -> None:
    drawn = random.Random(4)
    tried = 0
    for spec in shop.intake.values():
        for word in spec.choices if spec.kind == "choice" else ():
            for odd in odd_spellings(word, drawn):
                if as_accepted(odd, spec.choices) != odd or odd in spec.choices:
                    assert read_intake(odd, spec) == word
                    tried += 1
    assert tried > 300


def test_no_two_words_of_one_list_are_told_apart_by_a_hyphen_alone(shop: Shop) -> None:
    lists = [spec.choices for spec in shop.intake.values()]
    lists += [tuple(shop.upgrades), tuple(shop.menu.jobs), tuple(shop.resale.ladder), tuple(shop.profiles)]
    for words in lists:
        assert len({squeezed(word) for word in words}) == len(words)


@pytest.mark.parametrize(
    ("section", "key", "words"),
    [
        *(
            (section.name, column.name, column.choices)
            for section in SECTIONS
            for column in section.columns
            if column.kind == "choice" and column.choices and section.name not in ("part", "outline")
        ),
        ("wish", "profile", ("gigging-player", "resale-ready")),
        ("resale", "condition", ("needs-set-up", "clean-working")),
        ("resale", "seen", ("photos",)),
        ("upgrades", "keeps", ("finish",)),
        ("upgrades", "refused", ("set-up", "new-jack")),
    ],
)
def test_every_word_of_a_job_file_is_taken_as_it_is_spelled(
    shop: Shop, section: str, key: str, words: tuple[str, ...]
) -> None:
    drawn = random.Random(5)
    for word in words:
        for odd in odd_spellings(word, drawn):
            jobs = []
            for spelled in (word, odd):
                value: Any = [spelled] if section == "upgrades" else spelled
                values: dict[str, dict[str, Any]] = {
                    "job": {"id": "one"},
                    "instrument": {"kind": "guitar-solid"},
                }
                values[section] = values.get(section, {}) | {key: value}
                jobs.append(job_from(TomlFile("one.toml", values), shop))
            assert jobs[0] == jobs[1], odd


def test_upgrades_are_named_as_they_are_said(shop: Shop) -> None:
    job = job_from(TomlFile("one.toml", {"job": {"id": "one"}, "instrument": {"kind": "guitar-solid"}}), shop)
    drawn = random.Random(6)
    for upgrade in offered(shop, job):
        for odd in odd_spellings(upgrade.id, drawn):
            assert upgrades_named(shop, job, [odd], "--with") == (upgrade.id,), odd


def test_a_whole_name_stands_for_its_own_variants_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["estimate", "example:school-guitar", "--with", "New Jack"]) == 2
    told = capsys.readouterr().err
    assert "new-jack-economy" in told
    assert "new-jack-plate" not in told


def test_jobs_of_the_menu_are_found_however_they_are_spelled(capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for word in ("set-up", "setup", "Set Up"):
        assert run(["menu", word]) == 0
        told.append(capsys.readouterr().out)
    assert told[0] == told[1] == told[2]
    assert "set-up-hardtail" in told[0]


LIST = (
    "id,ask,tier,condition,pu_bridge,smell_mould\nx,100,B,needs-set-up,humbucker,yes\ny,900,A,parts-only,,\n"
)
PASTED = (
    "Nr;Price;TIER;Condition;Pu Bridge;Smell Mould;Link\nx;$100.00;b;Needs set up;Humbucker;Yes;a\n"
    "y;900 USD;A;Parts Only;;;b\n"
).replace("Nr", "ID")


BY_HAND = (
    "Listing;Asking Price;Price Class;Condition;Pu bridge;Smell mould;Base clean;Where\n"
    "x;$100 OBO;b;needs, set up;?;n/a;$260;near\ny;900 or best offer;A;Parts / only;unknown;?;;far\n"
)
BY_HAND_PLAIN = "what,ask,tier,condition,pu_bridge,smell_mould,base_clean\nx,100,B,needs-set-up,,,260\ny,900,A,parts-only,,,\n"


def test_a_list_kept_by_hand_is_ranked_as_the_same_list_in_the_words_of_the_tables(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Headings as people name them, what a seller writes behind a price, and a question mark where nobody looked."""
    told = []
    for name, text in (("plain", BY_HAND_PLAIN), ("by-hand", BY_HAND)):
        file = tmp_path / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        assert run(["offer", "--list", str(file)]) == 0
        told.append(capsys.readouterr())
    assert told[0].out == told[1].out
    assert "2 of 2 listings looked at" in told[0].out
    assert "a column that is not read; found “Where”" in told[1].err


@pytest.mark.parametrize("text", ["100-130", "100 or 120", "offer", "100 firmly", "obo", "neg."])
def test_a_price_that_is_no_one_sum_is_asked_for(text: str) -> None:
    with pytest.raises(CellError):
        read_asked(text, "USD")


@pytest.mark.parametrize(
    "text", ["95 obo", "95 O.B.O.", "$95, or best offer", "95 USD (firm)", "asking $95", "95 ono", "Only 95"]
)
def test_what_a_seller_adds_leaves_the_price_he_asks(text: str) -> None:
    assert read_asked(text, "USD") == 95


def test_a_list_from_a_spreadsheet_is_ranked_as_the_same_list_written_for_the_tool(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = []
    for name, text in (("plain", LIST), ("pasted", PASTED)):
        file = tmp_path / f"{name}.csv"
        file.write_text(text, encoding="utf-8")
        assert run(["offer", "--list", str(file)]) == 0
        told.append(capsys.readouterr())
    assert told[0].out == told[1].out
    assert told[0].err == ""
    assert "a column that is not read; found “Link”" in told[1].err
    assert "0 rows" not in told[1].out
    assert "left out" not in told[1].out
    assert "none: at the wanted pay it loses money even for free" in told[0].out
    row = next(line for line in told[0].out.splitlines() if " y " in line)
    assert " none " in row
    assert "-" not in row.split("do not buy")[0].replace("do-not", "")


@pytest.mark.parametrize(
    ("wish", "why"),
    [("", "no wish is stated"), ("[wish]\nrequire = { hum = 1 }\n", "already meets the wish")],
)
@pytest.mark.parametrize("options", [[], ["--offers"], ["--json"]])
def test_nothing_is_quoted_and_no_file_written_where_there_is_no_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wish: str, why: str, options: list[str]
) -> None:
    file = tmp_path / "idle.toml"
    file.write_text(
        f'[job]\nid = "idle"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\nhum_grade = 3\n{wish}',
        encoding="utf-8",
    )
    files = [tmp_path / "q.xlsx", tmp_path / "q.html"]
    assert run(["quote", str(file), "-o", str(files[0]), "--page", str(files[1]), *options]) == 2
    told = capsys.readouterr().err
    assert "there is no work to quote" in told
    assert why in told
    assert not any(file.exists() for file in files)
    assert run(["quote", str(file), "-o", str(files[0]), "--page", str(files[1]), "--with", "Set up"]) == 0
    assert all(file.exists() for file in files)


def test_every_word_of_the_ledger_is_taken_as_it_is_spelled(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn = random.Random(7)
    told = []
    for spell in (lambda word: word, lambda word: drawn.choice([*odd_spellings(word, drawn)])):
        beside = ["--ledger", str(tmp_path / f"{len(told)}.sqlite"), "--now", "2026-10-05 09:15"]
        for words in (
            ["book", "example:resale-flip"],
            ["quote", "resale-flip", "--with", spell("set-up")],
            ["accept", "resale-flip"],
            ["pay", "resale-flip", "70", "--kind", spell("purchase")],
            ["stock", spell("bought"), "jack-standard", "3", "--cost", "12"],
            ["stock", spell("returned"), "jack-standard", "1", "--cost", "4"],
            ["stock", spell("spoiled"), "jack-standard", "1"],
            ["stock", spell("counted"), "jack-standard", "1"],
            ["move", "resale-flip", spell("at-work")],
            ["move", "resale-flip", spell("ready")],
            ["move", "resale-flip", spell("listed"), "--way", spell("local"), "--expected", "280"],
            ["pay", "resale-flip", "260", "--kind", spell("sale")],
            ["move", "resale-flip", spell("sold")],
            ["paper", "resale-flip", spell("receipt"), "--page", str(tmp_path / f"{len(told)}.html")],
        ):
            assert run(["ledger", *words, *beside]) == 0, words
        assert run(["ledger", "show", "resale-flip", *beside]) == 0
        told.append(capsys.readouterr().out.replace("1.sqlite", "0.sqlite").replace("1.html", "0.html"))
    assert told[0] == told[1]
