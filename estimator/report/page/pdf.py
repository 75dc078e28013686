"""The customer's page as PDF, printed by a browser that is installed; the HTML page stays the truth.

Where there is none, an office program makes it of the customer's sheet: such programs do not set the page as it is.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from estimator.core.errors import refusal
from estimator.core.save import save_bytes, save_text

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "chrome",
    "msedge",
    "microsoft-edge",
)
"""Programs that print a page without a window, in the order in which they are asked; general ones only."""
OFFICES = ("soffice", "libreoffice")
"""Programs that make a PDF of a workbook without a window."""
PROGRAM_FOLDERS = ("ProgramFiles", "ProgramW6432", "ProgramFiles(x86)", "LOCALAPPDATA")
"""Variables of the environment that name the folders of programs on Windows; nowhere else are they set."""
SECONDS = 60
OFFICE_SECONDS = 180


STEP = "write the page with --page, open it in a browser and print it from there"


def browser_there() -> str | None:
    """The first browser found; None if there is none."""
    return _there(BROWSERS, ("*/Application/{}.exe", "*/*/Application/{}.exe"))


def office_there() -> str | None:
    """The first office program found; None if there is none."""
    # the one that ends in .com waits till it is done
    return _there(OFFICES, ("*/program/{}.com", "*/program/{}.exe"))


def _there(names: Sequence[str], places: Sequence[str]) -> str | None:
    """The first of some programs on the path, else where Windows keeps programs that are not on it."""
    for name in names:
        if found := shutil.which(name):
            return found
    folders = [Path(at) for one in PROGRAM_FOLDERS if (at := os.environ.get(one))]
    for name in names:
        for folder in folders:
            for place in places:
                if there := sorted(path for path in folder.glob(place.format(name)) if path.is_file()):
                    return str(there[0])
    return None


def printed_by() -> str:
    """Which program makes the PDF, and of what."""
    if browser := browser_there():
        return f"{Path(browser).name}, from the page"
    return f"{Path(office_there() or '').name}, from the customer's sheet, as no browser is installed"


def pdf_of(html: str, sheet: Callable[[], bytes] | None = None) -> bytes:
    """The page as PDF; of ``sheet``, a workbook of the same, where no browser is found but an office program is.

    InputError where there is neither, or the program found does not print it.
    """
    browser, office = browser_there(), office_there()
    if browser is None and office is not None and sheet is not None:
        return _from_sheet(sheet(), office)
    if browser is None:
        known = (*BROWSERS, *(OFFICES if sheet is not None else ()))
        raise refusal("--pdf", "no program is found that prints to PDF", "", ", ".join(known), STEP)
    with _folder() as folder:
        pdf = Path(folder) / "page.pdf"
        # as a file: with a photo in it the page is too long for a command line
        page = save_text(Path(folder) / "page.html", html).as_uri()
        # as the superuser a browser starts only without its sandbox; the page is our own and holds no script
        alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--no-pdf-header-footer",
            *alone,
            f"--user-data-dir={Path(folder) / 'profile'}",
            f"--print-to-pdf={pdf}",
            page,
        ]
        with suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(command, capture_output=True, timeout=SECONDS, check=False)
        if not pdf.exists() or not pdf.stat().st_size:
            raise refusal("--pdf", "the browser did not print the page", browser, "", STEP)
        return pdf.read_bytes()


def _folder() -> tempfile.TemporaryDirectory[str]:
    """A folder for a while; on Windows the program may hold a file of its profile a moment longer than it runs."""
    return tempfile.TemporaryDirectory(ignore_cleanup_errors=True)


def _from_sheet(workbook: bytes, office: str) -> bytes:
    with _folder() as folder:
        book = save_bytes(Path(folder) / "page.xlsx", workbook)
        # with a profile of its own it starts beside one that is open
        profile = (Path(folder) / "profile").as_uri()
        command = [
            office,
            f"-env:UserInstallation={profile}",
            "--headless",
            "--convert-to",
            "pdf",
            "--outdir",
            folder,
            str(book),
        ]
        with suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(command, capture_output=True, timeout=OFFICE_SECONDS, check=False)
        pdf = Path(folder) / "page.pdf"
        if not pdf.exists() or not pdf.stat().st_size:
            raise refusal("--pdf", "the office program did not print the sheet", office, "", STEP)
        return pdf.read_bytes()
