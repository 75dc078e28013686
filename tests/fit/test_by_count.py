"""Twelve plain instruments: what is assumed of each is that of its kind and count, and what it needs can be had."""

from __future__ import annotations

from functools import cache

import pytest

from estimator.choose.faults import faults_found, held_by
from estimator.choose.study import Study, spec_rows, study_job
from estimator.choose.verify.choice import levels_reached
from estimator.cli.main import run
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.report.words.faults import held_sentences
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

SIZES = ("nut_spread", "nut_wid", "str_spread", "board_last_wid")


@cache
def the_shop() -> Shop:
    return default_shop()


def job_of(instrument: str, wish: str = "") -> Job:
    text = f'[job]\nid = "one"\nkind = "commission"\n[instrument]\n{instrument}\n[wish]\n{wish}\n'
    return job_from(parse_toml(text.encode(), "one.toml"), the_shop())


def templates() -> tuple[str, ...]:
    return tuple(name for name in the_shop().intake["template"].choices if name != "none")


def fitting(study: Study, row: str) -> list[str]:
    return [v.upgrade.id for v in study.verdicts if v.upgrade.row.id == row and v.outcome != "does-not-fit"]


@pytest.mark.parametrize(
    ("kind", "strings", "template"),
    [
        ("bass", 5, "bass-5-soap"),
        ("bass", 6, "bass-6-soap"),
        ("guitar", 7, "guitar-7-bolt"),
        ("guitar", 12, "guitar-12-bolt"),
    ],
)
def test_sizes_follow_the_number_of_strings_with_and_without_a_template(
    kind: str, strings: int, template: str
) -> None:
    bare = job_of(f'kind = "{kind}-solid"\nstring_n = {strings}').instrument
    planned = job_of(f'template = "{template}"').instrument
    for name in SIZES:
        assert bare[name].assumed
        assert bare[name].value == planned[name].value, name
    # what was measured is not touched
    wide = job_of(f'kind = "{kind}-solid"\nstring_n = {strings}\nnut_spread = 39.5').instrument
    assert str(wide["nut_spread"].value) == "39.5"


@pytest.mark.parametrize("strings", [4, 5, 6])
def test_a_bass_of_which_only_the_strings_were_counted_can_have_a_bridge_and_a_nut(strings: int) -> None:
    study = study_job(the_shop(), job_of(f'kind = "bass-solid"\nstring_n = {strings}'))
    for row in ("bass-bridge", "ready-cut-nut", "nut-from-blank", "new-bass-tuners"):
        assert fitting(study, row), row


@pytest.mark.slow
def test_every_template_can_have_a_nut_of_bone_and_pickups_in_its_places() -> None:
    for template in templates():
        study = study_job(the_shop(), job_of(f'template = "{template}"'))
        instrument = study.job.instrument
        if instrument["nut_seat"].value != "locking-shelf":
            assert [name for name in fitting(study, "nut-from-blank") if "bone" in name], template
        for place in ("neck", "middle", "bridge"):
            there = instrument[f"pu_{place}"].value != "none"
            rows = {v.upgrade.row.id for v in study.verdicts}
            assert (f"coil-split-{place}" in rows) == (there and not study.job.is_bass), (template, place)
            if there and study.job.is_bass:
                assert fitting(study, f"{place}-pickup-bass"), (template, place)
        if instrument["access"].value == "rear-cavity" and study.job.is_bass:
            assert not {"new-guard", "hidden-chamber"} & {v.upgrade.row.id for v in study.verdicts}, template


@pytest.mark.parametrize("state", ["scratchy", "dead", "loose"])
def test_good_pots_and_a_good_switch_are_quiet_and_firm_together(state: str) -> None:
    job = job_of(f'template = "guitar-6-set"\npot_state = "scratchy"\nsw_state = "{state}"')
    study = study_job(the_shop(), job)

    def controls(*chosen: str) -> int:
        return levels_reached(study.problem, chosen)["controls"]

    assert controls("new-pots-standard", "new-toggle-standard") == 30
    assert controls("new-pots-standard", "new-toggle-economy") == 20
    assert controls("new-pots-economy", "new-toggle-standard") == 20
    assert controls("new-pots-standard") < 30


def test_a_loose_bridge_is_not_in_tune_until_its_screws_hold() -> None:
    loose = study_job(the_shop(), job_of('kind = "guitar-semi"\nscrews_loose = true'))
    firm = study_job(the_shop(), job_of('kind = "guitar-semi"\nscrews_loose = false'))
    for chosen, there in ((("adjust-nut",), False), (("set-up",), True)):
        for name in ("intonation", "tuning-stability"):
            assert (levels_reached(loose.problem, chosen)[name] > 0) is there, (chosen, name)
            assert levels_reached(firm.problem, chosen)[name] > 0
    assert "set-up" in next(f for f in faults_found(loose) if f.shown.startswith("screws_loose")).mends


def test_what_holds_a_level_is_said_only_where_the_wish_is_short() -> None:
    for wanted, said in ((3, False), (4, True)):
        readings = 'kind = "guitar-solid"\nfret_uneven = 0.04\naction_b = 1.9'
        study = study_job(the_shop(), job_of(readings, f"require = {{ action = {wanted} }}"))
        rows = spec_rows(study, ("set-up",))
        told = held_sentences(rows, held_by(study, ("set-up",)))
        assert bool(told) is said, (wanted, [(r.attribute, r.reached) for r in rows if r.asked])


@pytest.mark.slow
@pytest.mark.parametrize("joint", ["bolt", "set"])
def test_the_neck_is_oiled_when_its_frets_are_done(
    joint: str, tmp_path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "oil.toml"
    text = f'[job]\nid = "oil"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\njoint = "{joint}"\n'
    file.write_text(text + "nut_clear_b = 0.9\n")
    assert run(["estimate", str(file), "--with", "oil-neck", "--with", "level-crown-polish", "--full"]) == 0
    lines = capsys.readouterr().out.splitlines()
    place = {
        task: n
        for n, line in enumerate(lines)
        for task in ("sand neck back", "level frets", "polish frets", "oil coat", "string up")
        if line.strip().startswith(task)
    }
    assert place["level frets"] < place["polish frets"] < place["oil coat"] < place["string up"]
    assert place["sand neck back"] < place["oil coat"]


@pytest.mark.parametrize("template", ["guitar-6-set", "guitar-6-semi", "guitar-6-hardtail", "bass-4-split"])
def test_pots_are_ordered_in_the_value_that_suits_the_pickups(template: str) -> None:
    """A customer is not told that the sound may be off by pots that can be had in every value."""
    study = study_job(the_shop(), job_of(f'template = "{template}"'))
    hum = study.job.instrument["pu_bridge"].value == "humbucker"
    for row in ("new-pots", "new-harness"):
        for verdict in (v for v in study.verdicts if v.upgrade.row.id == row):
            (said,) = [f for f in verdict.findings if f.rule == "R59"]
            assert (said.outcome, said.tells) == (("warn", "") if hum else ("fits", "")), verdict.upgrade.id
            assert ("order the pots in that value" in said.sentence) is hum
    own = job_of(f'template = "{template}"\n[[part]]\nid = "mine"\nclass = "p-pot"\nprice = 4\nvalue_k = 250')
    (mine,) = [
        v for v in study_job(the_shop(), own).verdicts if v.upgrade.part and v.upgrade.part.id == "mine"
    ]
    told = [f.tells for f in mine.findings if f.rule == "R59"]
    assert told == (["pots-off-value"] if hum else [""])
