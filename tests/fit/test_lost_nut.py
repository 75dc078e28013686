"""A nut that is cracked or gone: nothing is set on it and it is not raised; another one mends it and is offered."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator.choose.faults import faults_found
from estimator.choose.study import Study, make_choice, make_estimate, spec_rows, study_job
from estimator.choose.verify.answer import priced_amiss
from estimator.choose.verify.rows import Rows
from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.estimate.new_job import default_job
from estimator.estimate.said import Said, faults_meant, wishes_meant
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.price.resale.compare import proceeds
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop as the_shop

TEXT = """[job]
id = "nut"
kind = "{kind}"
[instrument]
kind = "{instrument}"
tier = "B"
base_clean = 200
{more}
[wish.require]
nut-function = 2
"""
SET = {"adjust-nut", "set-nut-height", "shim-nut"}
ANOTHER = {"nut-from-blank", "ready-cut-nut", "mechanical-nut", "locking-tremolo"}
ON_THE_OLD_ONE = {"shim-nut", "fill-nut-slot", "set-nut-height", "adjust-nut-slots"}
NUTS = ("plastic", "bone", "roller", "locking")
GAPS = ((0.1, 0.1), (0.5, 0.4), (1.4, 1.1))
NEW_FRETS = "fret_h = 0.8\nfret_wear = 0.1"


def job_of(state: str, nut: str = "plastic", more: str = "", kind: str = "commission") -> Job:
    said = f'nut_state = "{state}"\n' if state else ""
    text = TEXT.format(kind=kind, instrument="guitar-solid", more=f'nut_mat = "{nut}"\n{said}{more}')
    return job_from(parse_toml(text.encode(), "nut.toml"), the_shop())


def study_of(state: str, nut: str = "plastic", more: str = "", kind: str = "commission") -> Study:
    return study_job(the_shop(), job_of(state, nut, more, kind))


@pytest.mark.parametrize("nut", NUTS)
@pytest.mark.parametrize("gaps", GAPS)
@pytest.mark.parametrize("heavier", ["false", "true"])
def test_no_work_is_done_on_the_old_nut_and_on_a_whole_one_it_is(
    nut: str, gaps: tuple[float, float], heavier: str
) -> None:
    """Every upgrade that is offered, with the work that fit forces: new frets, a set-up, heavier strings too."""
    more = f"nut_clear_b = {gaps[0]}\nnut_clear_t = {gaps[1]}\nstring_gauge_change = {heavier}\n{NEW_FRETS}"
    on_it: dict[str, set[str]] = {}
    for state in ("good", "cracked", "missing"):
        verdicts = study_of(state, nut, more).verdicts
        offered = {verdict.upgrade.row.id for verdict in verdicts}
        assert bool(offered & SET) == (state == "good"), state
        assert offered >= (ANOTHER if nut != "locking" else {"mechanical-nut"}) - {"locking-tremolo"}
        on_it[state] = {
            verdict.upgrade.row.id
            for verdict in verdicts
            if verdict.upgrade.row.id not in ANOTHER | {"replacement-neck"}
            and ON_THE_OLD_ONE & {demand.task for demand in verdict.demands}
        }
    assert "set-up" in on_it["good"] or nut in ("roller", "locking")
    assert on_it["good"] & {"refret-hard", "adjust-nut", "set-nut-height"}
    assert (on_it["cracked"], on_it["missing"]) == (set(), set())


@pytest.mark.parametrize("state", ["cracked", "missing"])
@pytest.mark.parametrize("nut", NUTS)
def test_another_nut_mends_it_and_a_set_up_does_not(state: str, nut: str) -> None:
    study = study_of(state, nut)
    rows = Rows(study.shop, study.job, {v.upgrade.id: v for v in study.verdicts})
    [fault] = faults_found(study)
    assert fault.id == f"{state}-nut"
    assert {study.verdict(one).upgrade.row.id for one in fault.mends} & ANOTHER
    for chosen in (("set-up",), *((one,) for one in fault.mends), ("set-up", fault.mends[0])):
        priced = make_estimate(study, tuple(sorted(chosen)))
        assert priced_amiss(rows, priced) == []
        [row] = [row for row in spec_rows(study, chosen) if row.attribute == "nut-function"]
        assert row.now == 0
        assert row.met == (chosen != ("set-up",)), chosen
    choice = make_choice(study)
    assert choice.found
    assert {study.verdict(one).upgrade.row.id for one in choice.answer.chosen} & ANOTHER
    warned = [f.sentence for f in study.verdict("set-up").findings if f.outcome == "warn"]
    assert f"the nut is {state}: nothing is set on it, another one has to be fitted" in warned


def test_a_nut_that_is_not_there_is_not_taken_out() -> None:
    """Its seat is cleaned, which is half of the usual run; a glued one takes half as long again."""
    likely = {}
    for state, stuck in (("good", "false"), ("good", "true"), ("missing", "false"), ("missing", "true")):
        study = study_of(state, more=f"nut_stuck = {stuck}")
        estimate = make_estimate(study, ("nut-from-blank-bone",))
        [line] = [line for line in estimate.lines if line.task == "remove-nut"]
        likely[state, stuck] = line.likely - Decimal(line.setup) / 100
    usual = likely["good", "false"]
    assert likely["missing", "false"] == usual / 2
    assert likely["good", "true"] == usual * Decimal("1.5")
    assert likely["missing", "true"] == likely["missing", "false"]


def test_whole_or_not_looked_at_it_costs_the_same() -> None:
    chosen = make_choice(study_of("")).answer.chosen
    assert chosen == make_choice(study_of("good")).answer.chosen
    of = [make_estimate(study_of(state), chosen).totals for state in ("", "good")]
    assert of[0] == of[1]


def test_a_buyer_pays_less_for_it_until_it_is_mended() -> None:
    sold = {state: study_of(state, kind="resale") for state in ("good", "cracked", "missing")}
    whole = proceeds(sold["good"], ())
    for state in ("cracked", "missing"):
        before = proceeds(sold[state], ())
        assert (before.condition_now, before.price < whole.price) == ("needs-repair", True)
        mended = proceeds(sold[state], ("ready-cut-nut-economy",))
        assert mended.price > before.price


@pytest.mark.parametrize(
    ("words", "state"),
    [
        ("the nut is cracked", "cracked"),
        ("broken nut", "cracked"),
        ("nut chipped, and it hums", "cracked"),
        ("missing nut", "missing"),
        ("he lost the nut", "missing"),
    ],
)
def test_it_is_understood_in_words_and_seen(words: str, state: str) -> None:
    shop = the_shop()
    meant = faults_meant(shop, default_job(shop, "guitar-solid"), words)
    first = next(fault for fault in meant if "nut" in fault.what)
    assert first.fault == f"{state}-nut"
    assert Said(wrong=(first,)).seen() == {"nut_state": f'"{state}"'}
    assert "nut-function" in wishes_meant(shop, words)
    assert "soundness" not in wishes_meant(shop, words)  # that is a crack in the wood


def test_a_word_that_is_none_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "nut.toml"
    file.write_text('[job]\nid = "nut"\n[instrument]\nnut_state = "craked"\n')
    assert run(["fit", str(file)]) == 2
    told = capsys.readouterr().err
    assert "cracked" in told
    assert "row 4" in told
    with pytest.raises(InputError):
        job_of("craked")
