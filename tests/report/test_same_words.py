"""What the screen says of a wish and of a promised day, the page at the bench and the data say in the same words."""

from __future__ import annotations

import json
from html import unescape
from itertools import product
from pathlib import Path

import pytest

from estimator.choose.study import study_job
from estimator.cli.main import run
from estimator.input.job.load import load_job
from estimator.report.words.wish import day_kept, day_not_looked_at
from tests.drawn_jobs import the_shop
from tests.server.desks import app_of, desk_in, get

HEAD = '[job]\nid = "idle"\nkind = "commission"\n{days}[instrument]\nkind = "guitar-solid"\n{seen}{wish}'


def written(folder: Path, days: str = "", seen: str = "", wish: str = "") -> Path:
    file = folder / "idle.toml"
    file.write_text(HEAD.format(days=days, seen=seen, wish=wish), encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("seen", "wish", "words"),
    [
        ("hum_grade = 3\n", "hum = 1", "the instrument already meets the wish"),
        ("hum_grade = 3\n", "hum = 1, nut-function = 1", "as far as is assumed (not looked at: nut function"),
        ("", "hum = 1, nut-function = 1", "not looked at: nut function, hum"),
    ],
)
def test_a_wish_that_is_met_already_rests_on_the_same_on_page_and_screen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], seen: str, wish: str, words: str
) -> None:
    file = written(tmp_path, seen=seen, wish=f"[wish]\nrequire = {{ {wish} }}\n")
    assert run(["choose", str(file)]) == 0
    screen = " ".join(capsys.readouterr().out.split())
    app = app_of(desk_in(tmp_path, the_shop()))
    for looking in ("", "&looking=1"):
        page = " ".join(unescape(get(app, f"/job/idle?wait=1{looking}").text).split())
        nothing = page.partition("<p>Nothing: ")[2].partition("</p>")[0]
        said = screen.partition("nothing: ")[2].partition(" Money:")[0]
        assert words.rstrip(")") in nothing
        assert words.rstrip(")") in said
        # the page has its own way to look, and a customer none: no command is named there
        assert "estimator" not in nothing
        assert nothing.rstrip(").").partition(";")[0] == said.rstrip(").").partition(";")[0]
        met = screen.partition("Wish (")[2].partition(". ")[0]
        assert f"Wish ({met}." in page


@pytest.mark.parametrize(
    ("days", "kept", "told"),
    [
        ("received = 2026-10-05\nwanted_by = 2027-02-26\n", True, "keep it whatever is chosen"),
        ("wanted_by = 2027-02-26\n", False, "not looked at, for nothing tells the day it came in"),
        ("received = 2026-10-05\nwanted_by = 2026-10-06\n", None, ""),
        ("received = 2026-10-05\n", None, ""),
    ],
)
def test_a_promised_day_is_a_limit_or_it_is_said_what_became_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], days: str, kept: bool | None, told: str
) -> None:
    file = written(tmp_path, days, "hum_grade = 3\n", "[wish]\nrequire = { hum = 1 }\n")
    study = study_job(the_shop(), load_job(file, the_shop()))
    held = [rule for rule in study.problem.rules if rule.kind == "due"]
    assert bool(held) == (kept is None and "wanted_by" in days)
    assert bool(day_kept(study)) == (kept is True)
    assert bool(day_not_looked_at(study)) == (kept is False)
    page = unescape(get(app_of(desk_in(tmp_path, the_shop())), "/job/idle?wait=1").text)
    assert (f"2027-02-26: {told}" in page or "2027-02-26: looked at" in page) == bool(told)
    for command in ("choose", "estimate"):
        named = ["--with", "set-up"] if command == "estimate" else []
        for full in ([], ["--full"]):
            assert run([command, str(file), *named, *full]) == 0
            screen = " ".join(capsys.readouterr().out.split())
            assert (told in screen and bool(told)) == (kept is False or (kept is True and bool(full)))
        assert run([command, str(file), *named, "--json"]) == 0
        said = json.loads(capsys.readouterr().out)["promised_day"]
        assert told in said if told else said is None


@pytest.mark.parametrize("measured", [True, False])
@pytest.mark.parametrize(("bass", "treble"), [*product(("low", "right", "high"), repeat=2)])
def test_work_at_the_nut_is_named_by_what_was_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], bass: str, treble: str, measured: bool
) -> None:
    """No low nut is said to be cut down, no high one to be raised, and what nobody measured neither."""
    gaps = {"low": ("0.1", "0.1"), "right": ("0.45", "0.35"), "high": ("0.9", "0.75")}
    seen = f"nut_clear_b = {gaps[bass][0]}\nnut_clear_t = {gaps[treble][1]}\n" if measured else ""
    for nut, upgrade in (("plastic", "adjust-nut"), ("roller", "set-nut-height")):
        file = written(tmp_path, seen=f'nut_mat = "{nut}"\n{seen}')
        assert run(["fit", str(file), "--only", upgrade, "--json"]) == 0
        [found] = json.loads(capsys.readouterr().out)["verdicts"]
        what = found["what"]
        if not measured:
            assert what == the_shop().upgrades[upgrade].what
            continue
        low, high = "low" in (bass, treble), "high" in (bass, treble)
        neutral = what == the_shop().upgrades[upgrade].what
        assert neutral == (not low and not high)
        if not neutral:
            assert ("raise" in what or "shim" in what) == low
            assert ("down" in what or "lower" in what) == high


@pytest.mark.parametrize(
    ("seen", "told"),
    [
        ("fret_uneven = 0.2\nfret_wear = 0.35\n", True),
        ("fret_uneven = 0.2\nfret_wear = 0.35\nfret_h = 0.9\n", False),
        ("fret_uneven = 0.2\nfret_wear = 0.35\nfret_h = 1.2\n", False),
    ],
)
def test_what_only_an_assumed_value_refuses_is_said_beside_the_dearer_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], seen: str, told: bool
) -> None:
    """New frets for want of a measured height: with it measured, either way, nothing is left to say."""
    file = written(tmp_path, seen=seen, wish="[wish]\nrequire = { fret-levelness = 3 }\n")
    words = "Does not fit only as assumed: level-crown-polish (fret_h)"
    for full in ([], ["--full"]):
        assert run(["choose", str(file), *full]) == 0
        assert (words in " ".join(capsys.readouterr().out.split())) == told
    assert run(["choose", str(file), "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["refused_as_assumed"]
    named = [(row["upgrade"], row["assumed"], row["together"]) for row in rows]
    assert (("level-crown-polish", ["fret_h"], False) in named) == told
    app = app_of(desk_in(tmp_path, the_shop()))
    assert (words in unescape(get(app, "/job/idle?wait=1").text)) == told
    assert words not in unescape(get(app, "/job/idle?wait=1&looking=1").text)
