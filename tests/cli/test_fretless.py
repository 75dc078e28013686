"""A neck without frets, however it is said and wherever: refused or warned of in words, never taken for fretted unsaid."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.cli import ask_new
from estimator.cli.main import run
from estimator.input.job.load import load_job
from estimator.tables.fretless import says_fretless
from tests.server.desks import app_of, desk_in, get, post
from tests.shops import default_shop as the_shop

PROBLEM = "a neck without frets is not reckoned here"
WAY_OUT = "name that work alone under open of [upgrades]"


def file_of(folder: Path, instrument: str, what: str = "less hum", more: str = "") -> str:
    file = folder / "one.toml"
    head = f'[job]\nid = "one"\nkind = "commission"\nwhat = "{what}"\n[instrument]\n{instrument}\n'
    file.write_text(f"{head}[wish.require]\nhum = 2\n{more}", encoding="utf-8")
    return str(file)


@pytest.mark.parametrize(
    "instrument",
    [
        'kind = "bass-solid"\nfret_n = 0',
        'kind = "bass-fretless"',
        'kind = "Fretless bass"',
        'template = "bass-4-fretless"',
        'kind = "bass-solid"\nfretless = true',
        'kind = "bass-solid"\nfretless = "yes"',
        'kind = "bass-solid"\nfret_n = "fretless"',
    ],
)
@pytest.mark.parametrize("command", ["check", "fit", "choose", "measure"])
def test_where_it_is_said_as_a_fact_it_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], instrument: str, command: str
) -> None:
    assert run([command, file_of(tmp_path, instrument)]) == 2
    told = capsys.readouterr().err
    assert PROBLEM in told
    assert WAY_OUT in told
    assert f"row {instrument.count(chr(10)) + 6}," in told
    assert "did you mean" not in told


def test_a_fretted_neck_is_what_it_was(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = []
    for said in ("", "fretless = false\n", 'fretless = "no"\n'):
        assert run(["choose", file_of(tmp_path, f'kind = "bass-solid"\n{said}fret_n = 20')]) == 0
        out = capsys.readouterr()
        assert PROBLEM not in out.out + out.err
        found.append(out.out)
    assert found[0] == found[1] == found[2]
    assert run(["choose", file_of(tmp_path, 'kind = "bass-solid"\nfretless = "perhaps"')]) == 2
    assert "neither yes nor no" in capsys.readouterr().err


@pytest.mark.parametrize(
    "what", ["fretless bass, less hum", "a Fret-less neck", "defret it", "bass without frets"]
)
def test_where_it_is_said_in_words_it_is_warned_of(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    file = file_of(tmp_path, 'kind = "bass-solid"', what)
    assert run(["choose", file]) == 0
    assert PROBLEM in capsys.readouterr().err
    assert run(["check", file, "--strict"]) == 2


@pytest.mark.parametrize(
    ("text", "so"),
    [
        ("new frets", False),
        ("no frets are loose", False),
        ("fret less often", False),
        ("a fret less bass", True),
        ("frets lessen", False),
        ("unfretted", True),
        ("less fret noise", False),
    ],
)
def test_words_of_frets_are_not_words_of_none(text: str, so: bool) -> None:
    assert says_fretless(text) == so


def test_what_the_message_names_can_be_done(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Work in which frets have no part, named alone, as of a fretted neck."""
    more = '[upgrades]\nopen = ["shield-paint", "clean-controls"]\n'
    file = file_of(tmp_path, 'kind = "bass-solid"\nhum_grade = 0', "fretless bass, less hum", more)
    assert run(["choose", file]) == 0
    assert "shield-paint" in capsys.readouterr().out


def test_listings_without_frets_are_told_and_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "listings.csv"
    file.write_text(
        "id,what,ask,tier,fretless,fret_n\na,fretless bass,100,B,,\nb,bass,100,B,yes,\nc,bass,100,B,no,20\n"
        "d,bass,100,B,,0\ne,bass,100,B,,\nf,bass,100,B,perhaps,\n"
    )
    assert run(["offer", "--list", str(file), "--full"]) == 0
    out = capsys.readouterr()
    for row in (2, 3, 5):
        line = next(line for line in out.err.splitlines() if f"row {row}," in line)
        assert PROBLEM in line
    assert "2 of 6 listings looked at" in " ".join(out.out.split())


def test_new_says_it_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "new.toml"
    assert run(["new", str(file), "--kind", "fretless bass"]) == 2
    assert PROBLEM in capsys.readouterr().err
    answers = iter(["fretless bass", "bass-solid", "", "", "fretless, and it hums", "", "", "", "", "", ""])
    monkeypatch.setattr(ask_new, "can_ask", lambda: True)
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    run(["new", str(file)])
    told = " ".join(capsys.readouterr().out.split())
    assert told.count(PROBLEM) == 2
    assert any(PROBLEM in issue.problem for issue in load_job(file, the_shop()).issues)


def test_the_page_and_the_measuring_sheet_say_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    app = app_of(desk_in(tmp_path, the_shop()))
    fields = {"name": "one", "kind": "commission", "instrument": "bass-solid", "what": "fretless, less hum"}
    assert post(app, "/new", fields).status == 303
    for path in ("/job/one", "/job/one/intake"):
        assert PROBLEM in get(app, path).text
    assert post(app, "/job/one/intake", {"version": "", "m.fret_n": "0"}).status == 422
    assert post(app, "/looking", {"on": "1", "back": "/"}).status == 303
    assert PROBLEM not in get(app, "/job/one").text  # what is warned of is not for who looks on
    job, sheet = tmp_path / "blank.toml", tmp_path / "sheet.txt"
    assert run(["new", str(job), "--kind", "bass-solid", "--sheet", str(sheet)]) == 0
    text = sheet.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if " fret_n " in line)
    sheet.write_text(text.replace(line, line.replace("[________]", "[0       ]")), encoding="utf-8")
    assert run(["intake", str(sheet), "-o", str(tmp_path / "in.toml")]) == 2
    assert PROBLEM in capsys.readouterr().err
    assert not (tmp_path / "in.toml").exists()
