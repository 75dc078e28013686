"""What never ends is not read for ever."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.cli.main import run

ENDLESS = Path("/dev/zero")


@pytest.mark.skipif(not ENDLESS.exists(), reason="there is no such device here")
@pytest.mark.parametrize(
    "command",
    [
        ["check", "FILE"],
        ["choose", "FILE"],
        ["plan", "FILE"],
        ["offer", "--list", "FILE"],
        ["quote", "example:tight-commission", "--plan", "FILE", "-o", "quote.xlsx"],
    ],
    ids=" ".join,
)
def test_a_device_without_an_end_is_refused(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([str(ENDLESS) if word == "FILE" else word for word in command]) == 2
    said = capsys.readouterr()
    assert not said.out
    assert str(ENDLESS) in said.err
    assert not list(tmp_path.iterdir())
