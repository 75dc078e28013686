"""A nut that is too low is offered a shim of its own, one that is high or right is not; the customer reads of it."""

from __future__ import annotations

from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest

from estimator.choose.study import make_estimate, spec_rows, study_job
from estimator.choose.verify.answer import priced_amiss
from estimator.choose.verify.rows import Rows
from estimator.cli.main import run
from estimator.fit.judge import judge
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.tables.conditions import LOW_GAP
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop as the_shop

TEXT = """[job]
id = "nut"
kind = "commission"
[instrument]
kind = "guitar-solid"
nut_mat = "{nut}"
nut_clear_b = {bass}
nut_clear_t = {treble}
[wish.require]
nut-function = 3
"""
GAPS = {"bass": ("0.1", "0.30", "0.31", "0.5", "1.1"), "treble": ("0.1", "0.20", "0.21", "0.4", "0.9")}
NUTS = ("plastic", "bone", "hollow-plastic", "roller", "locking")


def job_of(nut: str, bass: str, treble: str) -> Job:
    return job_from(
        parse_toml(TEXT.format(nut=nut, bass=bass, treble=treble).encode(), "nut.toml"), the_shop()
    )


@pytest.mark.parametrize("nut", NUTS)
def test_a_shim_is_offered_where_and_only_where_a_nut_with_slots_is_low(nut: str) -> None:
    """Whatever the slots' rule fills as too low is what the shim is offered for."""
    offered = 0
    for bass, treble in product(GAPS["bass"], GAPS["treble"]):
        job = job_of(nut, bass, treble)
        verdicts = {verdict.upgrade.id: verdict for verdict in study_job(the_shop(), job).verdicts}
        low = Decimal(bass) <= LOW_GAP["nut_clear_b"] or Decimal(treble) <= LOW_GAP["nut_clear_t"]
        slotted = nut not in ("roller", "locking")
        assert ("shim-nut" in verdicts) == (low and slotted), (bass, treble)
        if slotted:
            filled = any(demand.task == "fill-nut-slot" for demand in verdicts["adjust-nut"].demands)
            assert filled == low
        if "shim-nut" in verdicts:
            offered += 1
            assert judge(the_shop(), job, verdicts["shim-nut"].upgrade).outcome == "fits"
            tasks = {demand.task for demand in verdicts["shim-nut"].demands}
            assert {"remove-nut", "shim-nut", "finish-glue-nut", "adjust-nut-slots"} <= tasks
            assert "fill-nut-slot" not in tasks
    assert bool(offered) == (nut not in ("roller", "locking"))


@pytest.mark.parametrize(("bass", "treble"), [("0.1", "0.1"), ("0.1", "0.4"), ("0.5", "0.1")])
def test_a_shim_mends_the_low_nut_and_no_slot_is_filled_beside_it(bass: str, treble: str) -> None:
    study = study_job(the_shop(), job_of("bone", bass, treble))
    for beside in ((), ("set-up",)):
        chosen = tuple(sorted(("shim-nut", *beside)))
        priced = make_estimate(study, chosen)
        assert (
            priced_amiss(Rows(study.shop, study.job, {v.upgrade.id: v for v in study.verdicts}), priced) == []
        )
        tasks = [line.task for line in priced.lines]
        assert "shim-nut" in tasks
        assert "fill-nut-slot" not in tasks
        [row] = [row for row in spec_rows(study, chosen) if row.attribute == "nut-function"]
        assert (row.now, row.reached >= 30) == (0, True)
        assert row.met


def test_the_screen_names_it_and_the_customer_reads_of_a_nut_that_is_raised(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "nut.toml"
    more = '[upgrades]\nrequired = ["shim-nut"]\n'
    file.write_text(TEXT.format(nut="bone", bass="0.1", treble="0.1") + more)
    page = tmp_path / "nut.html"
    assert run(["quote", str(file), "-o", str(tmp_path / "nut.xlsx"), "--page", str(page)]) == 0
    capsys.readouterr()
    assert "Nut raised on a shim to its right height" in page.read_text()
    assert "higher frets" not in page.read_text()
    file.write_text(TEXT.format(nut="bone", bass="0.9", treble="0.8") + more)
    assert run(["fit", str(file)]) == 2
    err = capsys.readouterr().err
    assert "shim-nut" in err
    assert "low nut" in err
