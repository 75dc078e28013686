"""README and guides show what really comes out: every excerpt, story, program and table is held against a fresh run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.input.reference import reference
from tests.guides import (
    ELISION,
    EXAMPLE,
    FENCE,
    GUIDES,
    PROGRAM,
    README,
    STORY,
    TABLE,
    files_of,
    printed,
    read,
    shows,
    steps_of,
    table,
)

ROOT = Path(__file__).parent.parent
#: stories that solve and plan for seconds
LONGEST_PARAGRAPH = 1200
LONG = frozenset({"batch-week", "first-week", "commission", "donor"})


def blocks(pattern: re.Pattern[str]) -> list[object]:
    """Every block of a kind with its guide; those of the long guides are slow."""
    return [
        pytest.param(
            guide,
            found,
            id=f"{guide.stem}-{number}",
            marks=[pytest.mark.slow] if guide.stem in LONG or pattern is PROGRAM else [],
        )
        for guide in GUIDES
        for number, found in enumerate(pattern.findall(read(guide)))
    ]


def test_the_readme_has_an_example() -> None:
    examples = EXAMPLE.findall(read(README))
    assert examples
    assert all(len(shown.splitlines()) > 10 for _, shown in examples)


@pytest.mark.parametrize(("guide", "example"), blocks(EXAMPLE))
def test_excerpts_are_what_the_command_prints(guide: Path, example: tuple[str, str]) -> None:
    arguments, shown = example
    status, lines = printed(arguments)
    assert status in (0, 1)
    for piece in shown.split(ELISION):
        chunk = piece.strip("\n").splitlines()
        assert any(lines[i : i + len(chunk)] == chunk for i in range(len(lines))), "\n".join(chunk)


@pytest.mark.parametrize(("guide", "told"), blocks(STORY))
def test_a_story_goes_as_it_is_told(
    guide: Path, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its commands, one after the other beside the files of its guide, print what stands below each.

    Bring them up to date with: python -m tests.guides
    """
    monkeypatch.chdir(tmp_path)
    files_of(read(guide), tmp_path)
    steps = steps_of(told)
    assert steps
    for command, shown in steps:
        status, fresh = printed(command)
        assert status in (0, 1)
        lines = [line for line in fresh if line]
        assert shows(shown, lines), (command, lines)


@pytest.mark.parametrize(("guide", "program"), blocks(PROGRAM))
def test_a_program_runs(
    guide: Path,
    program: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    files_of(read(guide), tmp_path)
    exec(compile(program, str(guide), "exec"), {})
    assert capsys.readouterr().out


@pytest.mark.parametrize(("guide", "block"), blocks(TABLE))
def test_tables_are_made_of_the_tables(guide: Path, block: tuple[str, str]) -> None:
    """Bring them up to date with: python -m tests.guides"""
    name, text = block
    assert text == table(name)


def test_stories_are_told_and_what_is_left_out_is_held_all_the_same() -> None:
    assert sum(len(STORY.findall(read(guide))) for guide in GUIDES) > 7
    fresh = ["a", "b", "c", "d"]
    assert shows(fresh, fresh)
    assert shows(["a", ELISION, "c", "d"], fresh)
    assert not shows(["a", "c", "d"], fresh)
    assert not shows(["c", ELISION, "a"], fresh)
    assert not shows([ELISION, "x"], fresh)


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.stem)
def test_no_block_goes_unheld(guide: Path) -> None:
    """Every block says what it is, so that a test runs it; but for shell commands of the README, run in a fresh copy."""
    bare = [
        (above, language)
        for above, language in FENCE.findall(read(guide))
        if not re.fullmatch(r"<!-- (example: .*|story|run|file: \S+) -->", above)
    ]
    assert [one for one in bare if not (guide == README and one[1] == "sh")] == []


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.stem)
def test_links_and_pictures_are_there(guide: Path) -> None:
    text = read(guide)
    gone = [to for to in re.findall(r"\]\(([^)\s#]+)(?:#[^)]*)?\)", text) if not (guide.parent / to).exists()]
    assert gone == []
    assert guide == README or f"example_jobs/guides/{guide.name}" in read(README)


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.stem)
def test_no_paragraph_is_a_wall(guide: Path) -> None:
    """What is longer than this is not read at a bench."""
    prose = re.sub(r"```.*?```", "", read(guide), flags=re.S)
    walls = [
        p[:60] for p in prose.split("\n\n") if not p.startswith(("|", "<!--")) and len(p) > LONGEST_PARAGRAPH
    ]
    assert walls == []


@pytest.mark.parametrize(
    "picture", sorted((ROOT / "example_jobs/pictures").iterdir()), ids=lambda path: path.stem
)
def test_pictures_are_small_and_shown(picture: Path) -> None:
    """Made anew with: python -m tests.pictures"""
    data = picture.read_bytes()
    assert data.startswith(b"\x89PNG")
    assert len(data) < 80_000
    assert any(picture.name in read(guide) for guide in GUIDES)


def test_every_command_is_in_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    helped = capsys.readouterr().out
    commands = re.findall(r"^  ([a-z]+)  ", helped.split("Take in:")[1], re.M)
    text = README.read_text(encoding="utf-8")
    assert "choose" in commands
    assert [c for c in commands if f"`estimator {c}" not in text] == []


def test_the_table_reference_is_current() -> None:
    """Regenerate with: python -m estimator.input.reference > rates/README.md"""
    assert (ROOT / "rates" / "README.md").read_text(encoding="utf-8") == reference()


def test_what_the_guide_names_is_there() -> None:
    """Every file, folder, table and name of code in DEVELOPERS.md exists: nobody is sent to a place that is gone."""
    named = set(re.findall(r"`([^`\n]+)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")))
    homes = [ROOT, ROOT / "estimator", ROOT / "estimator/choose", ROOT / "rates", ROOT / "tests/benchmarks"]
    files = (*(ROOT / "estimator").rglob("*.py"), *(ROOT / "tests").rglob("*.py"))
    parts = {path.name for path in files} | {path.name for path in (ROOT / "estimator").rglob("*/")}
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "estimator").rglob("*.py"))
    words = set(re.findall(r"\w+", code))
    tables = {path.stem for path in (ROOT / "rates").iterdir()}
    gone = []
    for name in named:
        if re.fullmatch(r"[\w./]+(/|\.py|\.csv)", name):
            there = (
                any((home / name).exists() for home in homes)
                or name.rstrip("/") in parts
                or any(ROOT.glob(f"estimator/*/{name}"))
            )
        elif re.fullmatch(r"_?[A-Za-z]+(_[A-Za-z]+)*", name):
            there = name in words or name in tables or name in parts or f"{name}.py" in parts
        else:
            continue
        if not there:
            gone.append(name)
    assert len(named) > 100
    assert gone == []
