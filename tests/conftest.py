"""Slow tests are marked and left out by default; the last lines of a run say so."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest
from hypothesis import settings

# how long an example takes depends on what else the machine does: time is measured in the benchmarks
settings.register_profile("without-clock", deadline=None)
settings.load_profile("without-clock")

# as where a command starts (``estimator/__main__.py``): looking for garbage among all that is kept took 7 per cent
gc.set_threshold(50_000, 20, 20)


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if getattr(config, "workerinput", None) is None and config.option.markexpr == "not slow":
        terminalreporter.write_line("left out: the slow tests; run them too with: python -m pytest -m ''")


@pytest.fixture(autouse=True)
def _one_line_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """Texts are held against what they say, on a screen where nothing needs a second line; widths have their own tests."""
    monkeypatch.setenv("COLUMNS", "10000")


@pytest.fixture(scope="session", autouse=True)
def _copies_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What is kept of shops (``tables/kept.py``) stays out of the tester's home."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
            patch.setenv(name, str(tmp_path_factory.mktemp("copies")))
        yield
