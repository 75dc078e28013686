"""A clash that rests on an assumed value says so, and what is told to help is chosen anew and true."""

from __future__ import annotations

import json
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.as_assumed import values_of
from estimator.choose.questions.clash_as_assumed import clash_as_assumed
from estimator.choose.study import Choice, Study, make_choice, study_job
from estimator.cli.main import run
from estimator.fit.judge import judge
from estimator.fit.otherwise import Following, could_be
from estimator.model import Budget, Job, Verdict
from estimator.report.words.clash import FOR_CUSTOMER
from tests.choose.test_as_assumed import low_frets
from tests.server.desks import app_of, desk_in, get
from tests.shops import default_shop as the_shop


def refused_by_guess(study: Study) -> list[Verdict]:
    """What does not fit, where all that is against it rests on values that nobody took."""
    found = []
    for verdict in study.verdicts:
        against = [one for one in verdict.findings if one.outcome == "no"]
        if against and all(one.assumed for one in against):
            found.append(verdict)
    return found


def demanded(job: Job) -> Iterator[tuple[Job, str]]:
    """The job with something required that only assumed values refuse; nothing else is asked."""
    free = replace(
        job, requirements=(), budget=Budget(), required=(), refused=(), keeps=(), wanted_by="", kind="own"
    )
    refused = refused_by_guess(study_job(the_shop(), free))
    by_size = [one for one in refused if any(v.dimension for f in one.findings for v in f.assumed)]
    for verdict in (*(one for one in refused if one not in by_size), *by_size[:1]):
        yield replace(free, required=(verdict.upgrade.id,)), verdict.upgrade.id


def fits_with_another(job: Job, upgrade: str) -> bool:
    """Whether an end of what is likely of some value that is against an upgrade lets it be done, judged anew."""
    [verdict] = [one for one in study_job(the_shop(), job).verdicts if one.upgrade.id == upgrade]
    following = Following(the_shop(), job)
    names = {value.name for one in verdict.findings if one.outcome == "no" for value in one.assumed}
    return any(
        judge(the_shop(), following.changed(name, value), verdict.upgrade).outcome != "does-not-fit"
        for name in names & the_shop().intake.keys()
        for value in could_be(the_shop().intake[name], job)
    )


def choice_of(job: Job) -> Choice:
    return make_choice(study_job(the_shop(), job))


@pytest.mark.slow
def test_a_clash_with_what_only_assumed_values_refuse_names_them_and_what_helps() -> None:
    told, silent, sizes = 0, 0, 0
    for seed in range(12):
        for job, upgrade in demanded(low_frets(seed)):
            choice = choice_of(job)
            assert not choice.found
            clash = clash_as_assumed(choice)
            mine = [one for one in clash.refused if one.upgrade == upgrade]
            if not mine:
                assert not fits_with_another(job, upgrade), (seed, upgrade)
                silent += 1
                continue
            [one] = mine
            sizes += any(guess.value is None for guess in one.guesses)
            for rescue in clash.rescues:
                then = choice_of(Following(the_shop(), job).all_changed(values_of(rescue.guesses)))
                assert then.found
                assert then.estimate.chosen == rescue.chosen
                told += 1
    assert told >= 5, (told, silent, sizes)
    assert silent >= 1, (told, silent, sizes)
    assert sizes >= 1, (told, silent, sizes)


LOW = """
[job]
id = "low"
kind = "commission"
[instrument]
kind = "guitar-solid"
fret_wear = {wear}
fret_uneven = 0.3
{seen}
[wish.require]
fret-levelness = 3
[upgrades]
open = ["level-crown-polish", "spot-level-frets"]
"""


@pytest.mark.parametrize(
    ("wear", "seen", "told"),
    [
        ("0.3", "", True),
        ("0.3", "fret_h = 1", False),  # measured, and too low
        ("0.7", "", False),  # no likely height is enough
    ],
)
def test_every_answer_without_a_set_says_what_of_its_clash_is_assumed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wear: str, seen: str, told: bool
) -> None:
    file = tmp_path / "low.toml"
    file.write_text(LOW.format(wear=wear, seen=seen))
    ways = "measure fret_h (depth gauge, or short rule with feelers): assumed 0.039 in, could be 0.041 in"
    words = "nly as assumed, not measured: level-crown-polish (fret_h 0.039 in; it would fit with fret_h 0.041 in)"
    book = str(tmp_path / "q.xlsx")
    commands = (["choose"], ["choose", "--full"], ["choose", "--why"], ["quote", "-o", book], ["price"])
    for command, *more in commands:
        assert run([command, str(file), *more]) == 1
        screen = " ".join(capsys.readouterr().out.split())
        assert (words in screen) == (ways in screen) == told, (command, more)
        if command != "quote" and more != ["--full"]:
            assert run([command, str(file), *more, "--json"]) == 1
            rows = json.loads(capsys.readouterr().out)["refused_as_assumed"]
            assert [row["wish_met_with"] for row in rows] == [["level-crown-polish"]] * told
    app = app_of(desk_in(tmp_path, the_shop()))
    page = unescape(get(app, "/job/low?wait=1").text)
    assert (words in page) == (ways.capitalize().split(":")[0] in page) == told
    assert FOR_CUSTOMER not in page
    customer = unescape(get(app, "/job/low?wait=1&looking=1").text)
    assert (FOR_CUSTOMER in customer) == told
    assert words not in customer
    assert "easure fret_h" not in customer
