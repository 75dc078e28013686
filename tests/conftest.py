"""Slow tests are marked and left out by default; the last lines of a run say so."""

from __future__ import annotations

import pytest


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if getattr(config, "workerinput", None) is None and config.option.markexpr == "not slow":
        terminalreporter.write_line("left out: the slow tests; run them too with: python -m pytest -m ''")
