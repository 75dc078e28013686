"""Programs that print are found on the path, and where Windows keeps them otherwise."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.report.page import pdf
from estimator.report.page.pdf import PROGRAM_FOLDERS, browser_there, office_there, printed_by

Put = Callable[[str, str], Path]


@pytest.fixture
def put(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Put:
    """Puts a program into one of the folders of a machine that has nothing on its path."""
    monkeypatch.setenv("PATH", str(tmp_path / "nothing"))
    for one in PROGRAM_FOLDERS:
        monkeypatch.setenv(one, str(tmp_path / one))

    def program(variable: str, at: str) -> Path:
        path = tmp_path / variable / at
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
        path.chmod(0o755)
        return path

    return program


@pytest.mark.parametrize("variable", PROGRAM_FOLDERS)
@pytest.mark.parametrize(
    "at", ["Some Maker/Browser/Application/chrome.exe", "Browser/Application/msedge.exe"]
)
def test_a_browser_is_found_among_the_programs(variable: str, at: str, put: Put) -> None:
    assert browser_there() is None
    program = put(variable, at)
    assert browser_there() == str(program)
    assert printed_by() == f"{program.name}, from the page"


@pytest.mark.parametrize("variable", PROGRAM_FOLDERS)
def test_an_office_program_is_found_among_the_programs(variable: str, put: Put) -> None:
    assert office_there() is None
    program = put(variable, "Some Office 7/program/soffice.exe")
    assert office_there() == str(program)
    waits = put(variable, "Some Office 7/program/soffice.com")
    assert office_there() == str(waits)
    assert printed_by() == "soffice.com, from the customer's sheet, as no browser is installed"


def test_what_is_on_the_path_goes_first(put: Put, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put("ProgramFiles", "Browser/Application/chrome.exe")
    on_path = put("nothing", "chromium")
    assert browser_there() == str(on_path)


def test_a_folder_of_that_name_and_a_variable_that_is_blank_are_no_program(
    put: Put, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "ProgramFiles" / "Browser" / "Application" / "chrome.exe").mkdir(parents=True)
    monkeypatch.setenv("LOCALAPPDATA", "")
    monkeypatch.setenv("ProgramW6432", str(tmp_path / "none"))
    assert browser_there() is None


def test_a_profile_that_is_still_held_does_not_spoil_the_page(
    put: Put, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The program has printed, but a file of its profile cannot be taken away yet."""
    put("ProgramFiles", "Browser/Application/chrome.exe")
    kept: list[str] = []

    def prints(command: list[str], **_: object) -> None:
        to = next(word for word in command if word.startswith("--print-to-pdf="))
        Path(to.partition("=")[2]).write_bytes(b"%PDF page")
        kept.append(command[0])

    def held(*_: object, **__: object) -> None:
        raise PermissionError(13, "is used by another process")

    monkeypatch.setattr(pdf.tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(pdf.subprocess, "run", prints)
    monkeypatch.setattr(pdf.tempfile._os, "unlink", held)  # type: ignore[attr-defined]
    assert pdf.pdf_of("<p>page</p>") == b"%PDF page"
    assert kept == [browser_there()]
