"""Every command that writes, at targets that are no plain new file: links, pipes, folders, places of others."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.cli.main import run
from tests.cli.small import SMALL_BATCH, SMALL_JOB

JOB = "plain.toml"
PLAN = ["plan", "batch.toml", "--engine", "rule", "--time-limit", "0.5"]
FILES = {
    # what is written and the arguments that write it; @ stands for the target, + for a second file
    "new": (["new", "@", "--force"], ".toml"),
    "new --sheet": (["new", "+.toml", "--force", "--sheet", "@"], ".xlsx"),
    "choose --svg": (["choose", JOB, "--save-model", "+.lp", "--svg", "@"], ".svg"),
    "choose --save-model": (["choose", JOB, "--save-model", "@"], ".mps"),
    "quote -o": (["quote", JOB, "-o", "@"], ".xlsx"),
    "quote --customer": (["quote", JOB, "-o", "+.xlsx", "--customer", "@", "--force"], ".xlsx"),
    "intake": (["intake", "sheet.xlsx", "-o", "@"], ".toml"),
    "shop-book": (["shop-book", "--write", "@", "--force"], ".xlsx"),
    "plan -o": ([*PLAN, "--save-plan", "+.json", "-o", "@", "--force"], ".xlsx"),
    "plan --gantt": ([*PLAN, "--save-plan", "+.json", "--gantt", "@", "--force"], ".svg"),
    "plan --save-plan": ([*PLAN, "--save-plan", "@", "--state-template", "+.toml", "--force"], ".json"),
    "plan --state-template": ([*PLAN, "--save-plan", "+.json", "--state-template", "@", "--force"], ".toml"),
}
FOLDERS = {
    "draw": [
        "draw",
        "example:tight-commission",
        "--upgrade",
        "hardtail-bridge-standard",
        "--force",
        "--folder",
        "@",
    ],
    "plan --csv": [*PLAN, "--force", "--csv", "@"],
    "shop-book --read": ["shop-book", "--read", "book.xlsx", "--force", "--folder", "@"],
}
Command = Callable[[Path], int]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / "plain.toml").write_text(SMALL_JOB)
    (folder / "batch.toml").write_text(SMALL_BATCH)
    monkeypatch.chdir(folder)
    return folder


def writer(name: str, tmp_path: Path) -> Command:
    """The command as a function of its target; what it reads is made first."""
    arguments = FILES[name][0] if name in FILES else FOLDERS[name]
    if "sheet.xlsx" in arguments:
        assert run(["new", "any.toml", "--sheet", "sheet.xlsx"]) == 0
    if "book.xlsx" in arguments:
        assert run(["shop-book", "--write", "book.xlsx"]) == 0
    second = str(tmp_path / "second")

    def write(target: Path) -> int:
        return run(
            [str(target) if a == "@" else a.replace("+", second) if a[0] == "+" else a for a in arguments]
        )

    return write


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_a_link_stays_a_link_and_a_pipe_a_pipe(tmp_path: Path, name: str) -> None:
    write, ending = writer(name, tmp_path), FILES[name][1]
    real, link = tmp_path / "deep" / f"real{ending}", tmp_path / f"link{ending}"
    real.parent.mkdir()
    real.write_text("old")
    link.symlink_to(real)
    assert write(link) == 0
    assert link.is_symlink()
    assert real.read_bytes() != b"old"
    assert os.listdir(real.parent) == [real.name]
    pipe = tmp_path / f"pipe{ending}"
    os.mkfifo(pipe)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()), daemon=True)
    reader.start()
    assert write(pipe) == 0
    reader.join(10)
    assert pipe.is_fifo()
    assert len(got) == 1
    assert got[0][:5] == real.read_bytes()[:5]


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_what_is_no_place_for_a_file_is_refused_and_nothing_is_left(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    write, ending = writer(name, tmp_path), FILES[name][1]
    round_about, folder, file = tmp_path / f"round{ending}", tmp_path / f"folder{ending}", tmp_path / "file"
    round_about.symlink_to(round_about)
    folder.mkdir()
    file.write_text("x")
    before = sorted(tmp_path.rglob("*"))
    for target, words in (
        (round_about, "leads back to itself"),
        (folder, "a folder, not a file"),
        (file / f"a{ending}", "a file, not a folder"),
        (tmp_path / "none" / f"a{ending}", "no such folder"),
        (Path(f"/sys/a{ending}"), "written to"),  # where nobody may write, be it as root
    ):
        capsys.readouterr()
        assert write(target) == 2, target
        assert words in capsys.readouterr().err, target
        assert sorted(tmp_path.rglob("*")) == before, target


@pytest.mark.slow
@pytest.mark.parametrize("name", FOLDERS)
def test_folders_that_are_links_are_written_into_and_others_refused(tmp_path: Path, name: str) -> None:
    write = writer(name, tmp_path)
    real, link, file = tmp_path / "real", tmp_path / "link", tmp_path / "file"
    real.mkdir()
    link.symlink_to(real)
    assert write(link) == 0
    assert link.is_symlink()
    names = sorted(os.listdir(real))
    assert names
    one = real / names[-1]
    kept = tmp_path / f"kept{one.suffix}"
    kept.write_text("old")
    one.unlink()
    one.symlink_to(kept)
    assert write(link) == 0
    assert one.is_symlink()
    assert kept.read_text() != "old"
    one.unlink()
    one.mkdir()
    first = real / names[0]
    if first != one:
        first.write_text("old")
    assert write(link) == 2
    assert one.is_dir()
    assert first == one or first.read_text() == "old"  # all or none
    file.write_text("x")
    assert write(file) == 2
    assert file.read_text() == "x"
    assert write(Path("/sys/kernel")) == 2
