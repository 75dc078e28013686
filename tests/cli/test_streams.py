"""What a command puts out on screens of other codings, and what it is given in bytes that are no letters."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.cli.streams import PLAIN
from estimator.core.errors import Exit, InputError
from estimator.report.text import terminal
from estimator.report.text.terminal import typed


class Screen(io.TextIOWrapper):
    """A terminal of some coding that refuses what it has no letters for."""

    def __init__(self, coding: str, watched: bool = True) -> None:
        self.kept = io.BytesIO()
        super().__init__(self.kept, encoding=coding, errors="strict")
        self._watched = watched

    def isatty(self) -> bool:
        return self._watched

    @property
    def shown(self) -> bytes:
        self.flush()
        return self.kept.getvalue()


@pytest.mark.parametrize("coding", ["cp437", "cp850", "cp1252", "ascii", "iso8859-1", "utf-8"])
def test_a_screen_of_another_coding_shows_every_line(coding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen(coding)
    monkeypatch.setattr(sys, "stdout", screen)
    monkeypatch.setattr(sys, "stderr", Screen(coding))
    assert run(["triage", "example:school-guitar", "--json"]) == Exit.DONE
    assert run(["fit", "example:school-guitar", "--full", "--top", "2"]) == Exit.DONE
    shown = screen.shown.decode(coding)
    assert "set-up" in shown
    assert "?" * 3 not in shown  # a ruled line is a line still
    assert ("───" if coding in ("cp437", "cp850", "utf-8") else "---") in shown


def test_a_file_gets_utf_8_whatever_the_coding_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    file = Screen("cp1252", watched=False)
    monkeypatch.setattr(sys, "stdout", file)
    assert run(["fit", "example:school-guitar", "--full", "--top", "2"]) == Exit.DONE
    assert "───" in file.shown.decode("utf-8")


def test_what_stands_for_a_letter_is_plain() -> None:
    assert all(plain.isascii() and not letter.isascii() for letter, plain in PLAIN.items())


@pytest.mark.parametrize(
    "line",
    [
        ["check", "b\udce4.toml"],
        ["ledger", "time", "plain", "set-up", "12", "--remark", "b\udce4"],
        ["quote", "example:school-guitar", "-o", "\udce4.xlsx"],
    ],
)
def test_bytes_on_the_command_line_that_are_no_letters_are_refused(
    line: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(line) == Exit.BAD_INPUT
    said = capsys.readouterr().err
    assert "holds bytes that are no letters" in said
    assert "\\udce4" in said
    assert "; next: " in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("errors", ["strict", "surrogateescape"])
def test_typed_bytes_that_are_no_letters_are_refused(errors: str, monkeypatch: pytest.MonkeyPatch) -> None:
    given = io.TextIOWrapper(io.BytesIO(b"b\xe4ss\n"), encoding="utf-8", errors=errors)
    monkeypatch.setattr(sys, "stdin", given)
    with pytest.raises(InputError, match="holds bytes that are no letters") as refused:
        typed("What is it? ")
    assert refused.value.issues[0].next_step


def test_who_closes_the_input_has_had_enough(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Closed(Screen):
        def readline(self, size: int = -1) -> str:  # type: ignore[override]
            return ""

    monkeypatch.setattr(sys, "stdin", Closed("utf-8"))
    assert run(["triage", "example:school-guitar"]) == Exit.BAD_INPUT
    assert capsys.readouterr().err.endswith("stopped\n")


def notes_on(screen: Screen) -> list[str]:
    """The notes on a screen, whatever moves its writing about."""
    lines = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", screen.shown.decode(screen.encoding)).splitlines()
    return [line for line in lines if line.startswith("note: ")]


@pytest.mark.parametrize(
    ("coding", "shown", "lost"),
    [("cp1252", "Zoë ?ukasz ?", 2), ("ascii", "Zoe ?ukasz ?", 3), ("utf-8", "Zoë Łukasz 木", 0)],
)
@pytest.mark.parametrize("patience", [0.0, 60.0])
def test_a_letter_that_a_screen_lacks_is_not_lost_in_silence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, coding: str, shown: str, lost: int, patience: float
) -> None:
    """Whether or not the work takes so long that it is said how far it is."""
    monkeypatch.setattr(terminal, "PATIENCE", patience)
    file = tmp_path / "zoe.toml"
    text = '[job]\nid = "zoe"\nkind = "commission"\nwhat = "Zoë Łukasz 木 – “x”"\n[instrument]\nkind = "guitar-solid"\n'
    file.write_text(text, encoding="utf-8")
    screen, told = Screen(coding), Screen(coding)
    monkeypatch.setattr(sys, "stdout", screen)
    monkeypatch.setattr(sys, "stderr", told)
    assert run(["estimate", str(file), "--with", "set-up"]) == Exit.DONE
    assert shown in screen.shown.decode(coding)
    notes = notes_on(told)
    assert (b"pricing the work" in told.shown) == (patience == 0)
    assert [f"no sign for {lost} letter" in note for note in notes] == [True] * bool(lost)
    # the next command begins anew
    assert run(["menu", "jack"]) == Exit.DONE
    assert notes_on(told) == notes


def test_letters_of_a_shell_that_is_set_to_plain_ones_are_told_apart_from_stray_bytes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    word = "Zoë 木.toml".encode().decode("ascii", errors="surrogateescape")
    assert run(["check", word]) == Exit.BAD_INPUT
    said = capsys.readouterr().err
    assert "holds letters that this shell is set not to have; found “Zoë 木.toml”" in said
    assert "PYTHONUTF8=1" in said
