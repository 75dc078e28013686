"""The customer's page as PDF, printed by a browser that is installed; the HTML page stays the truth."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

from estimator.core.errors import InputError, Issue, Origin
from estimator.core.save import save_text

BROWSERS = (
    "chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge",
)  # fmt: skip
"""Programs that print a page without a window, in the order in which they are asked; general ones only."""
SECONDS = 60


def browser_there() -> str | None:
    """The first browser found on the path; None if there is none."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def pdf_of(html: str) -> bytes:
    """The page as PDF. InputError where no browser is found, or the one found does not print it."""
    browser = browser_there()
    step = "write the page with --page, open it in a browser and print it from there"
    if browser is None:
        raise InputError(
            Issue(Origin("--pdf"), "no browser is found that prints to PDF", "", ", ".join(BROWSERS), step)
        )
    with tempfile.TemporaryDirectory() as folder:
        pdf = Path(folder) / "page.pdf"
        # as a file: with a photo in it the page is too long for a command line
        page = save_text(Path(folder) / "page.html", html).as_uri()
        # as the superuser a browser starts only without its sandbox; the page is our own and holds no script
        alone = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        command = [
            browser, "--headless", "--disable-gpu", "--no-pdf-header-footer", *alone,
            f"--user-data-dir={Path(folder) / 'profile'}", f"--print-to-pdf={pdf}", page,
        ]  # fmt: skip
        with suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(command, capture_output=True, timeout=SECONDS, check=False)
        if not pdf.exists() or not pdf.stat().st_size:
            raise InputError(Issue(Origin("--pdf"), "the browser did not print the page", browser, "", step))
        return pdf.read_bytes()
