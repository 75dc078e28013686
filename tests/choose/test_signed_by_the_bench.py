"""Lines of an answer that a technician must be able to sign: each was once otherwise."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import pytest

from estimator.choose.study import Study, make_choice, make_choice_of, study_job
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

D = Decimal
#: what is only done to a nut that has slots
OF_SLOTS = {"adjust-nut-slots", "fill-nut-slot", "finish-glue-nut", "slot-nut", "shim-nut"}


@cache
def the_shop() -> Shop:
    return default_shop()


def job_of(template: str, more: str = "", wish: str = "") -> Job:
    text = (
        f'[job]\nid = "one"\nkind = "commission"\ncustomer = "A"\n[instrument]\ntemplate = "{template}"\ntier = "C"\n'
        f"{more}\n{wish}"
    )
    return job_from(parse_toml(text.encode(), "one.toml"), the_shop())


def study_of(template: str, more: str = "", wish: str = "") -> Study:
    return study_job(the_shop(), job_of(template, more, wish))


def offered(study: Study) -> set[str]:
    return {verdict.upgrade.id for verdict in study.verdicts}


# ------------------------------------------------------------------ nuts without slots
@pytest.mark.parametrize("nut", ["locking", "roller"])
@pytest.mark.parametrize("more", ["", "nut_clear_b = 1.1", "nut_clear_t = 0.1", "string_gauge_change = true"])
def test_nothing_is_filed_or_glued_on_a_nut_without_slots(nut: str, more: str) -> None:
    study = study_of("guitar-6-two-post", f'nut_mat = "{nut}"\nfret_wear = 0.15\n{more}')
    assert "adjust-nut" not in offered(study)
    for verdict in study.verdicts:
        brings_its_own = verdict.upgrade.slot in ("nut", "neck") and verdict.upgrade.part is not None
        if verdict.outcome != "does-not-fit" and not brings_its_own:
            assert not OF_SLOTS & {demand.task for demand in verdict.demands}, verdict.upgrade.id


@pytest.mark.slow
def test_a_locking_nut_that_stands_high_or_low_is_set_to_its_height() -> None:
    for gap in ("nut_clear_t = 0.9", "nut_clear_b = 0.2"):
        choice = make_choice(study_of("guitar-6-locking", gap, "[wish.require]\nnut-function = 3"))
        row = next(row for row in choice.spec if row.attribute == "nut-function")
        assert (choice.answer.chosen, row.reached, row.by) == (("set-nut-height",), 30, ("set-nut-height",))


def test_a_nut_with_slots_is_filed_as_before() -> None:
    choice = make_choice_of(study_of("guitar-6-hardtail"), ("set-up",))
    assert "adjust-nut-slots" in {line.task for line in choice.estimate.lines}
    assert "set-nut-height" not in offered(choice.study)


def test_new_frets_under_a_locking_nut_take_it_off_by_its_screws() -> None:
    study = study_of("guitar-6-locking")
    tasks = {line.task for line in study.costing.estimate(("refret-nickel-silver-standard",)).lines}
    assert "set-nut-height" in tasks
    assert not tasks & (OF_SLOTS | {"remove-nut"})


def test_a_locking_tremolo_said_alone_has_its_nut() -> None:
    job = job_of("guitar-6-hardtail", 'br_type = "locking-trem"')
    assert (job.instrument["nut_mat"].value, job.instrument["nut_mat"].assumed) == ("locking", True)


# ------------------------------------------------------------------ sounds, controls, counts
def test_no_level_of_the_sounds_tells_a_number_of_them() -> None:
    """A bass of one pickup has no three sounds, and a dearer pickup makes no five of them."""
    voicing = the_shop().attributes["voicing"]
    assert not voicing.unit
    assert not voicing.limits
    assert not {"two", "three", "five", "seven"} & set(" ".join(voicing.words).split())


def test_a_treble_bleed_lifts_no_level() -> None:
    study = study_of("guitar-6-hardtail")
    before = study.costing, make_choice_of(study, ())
    after = make_choice_of(study, ("treble-bleed-standard",))
    lifted = {
        row.attribute
        for row, old in zip(after.spec, before[1].spec, strict=True)
        if row.reached > old.reached
    }
    assert "controls" not in lifted


def test_a_harness_is_ordered_with_the_bushings_that_a_panel_of_wood_wants() -> None:
    study = study_of("guitar-6-set")
    said = [f.sentence for f in study.verdict("new-harness-standard").findings if f.rule == "R61"]
    assert study.verdict("new-harness-standard").outcome != "does-not-fit"
    assert "order one that suits" in said[0]


@pytest.mark.parametrize("template", ["guitar-7-bolt", "guitar-12-bolt"])
def test_what_has_another_count_is_refused_for_its_count_alone(template: str) -> None:
    refused = 0
    for verdict in study_of(template).verdicts:
        rules = [finding.rule for finding in verdict.findings if finding.outcome == "no"]
        if {"R88", "R89"} & set(rules):
            refused += 1
            assert len(verdict.findings) == len(rules) == 1, verdict.upgrade.id
    assert refused


# ------------------------------------------------------------------ promises
def test_what_only_an_assumption_meets_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    from estimator.report.text.choice import _show_met_as_assumed

    wish = "[wish.require]\ntuner-quality = 3\nbridge-mass = 3"
    for more, said in (("", 2), ("tuner_play = 10\nbr_mass = 390", 0)):
        rows = make_choice(study_of("guitar-6-two-post", more, wish)).spec
        _show_met_as_assumed(rows)
        lines = capsys.readouterr().out.splitlines()
        assert len(lines) == said
        assert all("assumed; measure before it is promised" in line for line in lines)


def test_an_action_rests_on_the_travel_of_the_saddles_whether_or_not_it_was_measured_today() -> None:
    for more, right in (("", True), ("saddle_down = 3.0", False)):
        rows = make_choice_of(study_of("guitar-6-hardtail", more), ("set-up",)).spec
        row = next(row for row in rows if row.attribute == "action")
        assert row.reached > row.now
        assert ("saddle-travel" in row.rests_on) is right


def test_what_is_rare_is_measured_after_what_is_usual() -> None:
    """Stuck screws and a dead rod are found on few instruments (see ``donor_checks.csv``)."""
    from estimator.tables.likely import chance_wrong

    intake, checks = the_shop().intake, the_shop().resale.checks
    rod = checks["truss-rod"]
    assert chance_wrong(intake["rod_ok"]) * 100 == rod.walk_pct + rod.fault_pct
    assert chance_wrong(intake["stuck_n"]) < D("0.1") < chance_wrong(intake["fret_h"])


def test_faults_weighed_by_their_check_stand_in_the_table() -> None:
    weighed = {fault.fault for fault in the_shop().faults if fault.weighed}
    assert {"dead-rod", "twisted-neck", "uneven-frets", "tearing-bridge"} <= weighed
    assert not {"stuck-saddles", "dead-switch", "hump"} & weighed
