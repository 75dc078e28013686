"""The pandas tables of an estimate add up to its totals."""

from __future__ import annotations

from decimal import Decimal

import pytest

from estimator import load_job, load_shop, make_estimate, study_job, to_frames
from estimator.cli.common import job_path


@pytest.mark.slow
def test_frames_add_up_to_the_totals() -> None:
    shop = load_shop()
    study = study_job(shop, load_job(job_path("example:tight-commission"), shop))
    priced = make_estimate(study, ["set-up", "shield-paint", "ready-cut-nut-slippery-nut"])

    frames = to_frames(study, priced)

    assert len(frames["work"]) == len(priced.lines)
    own_parts = sum((p.cost for p in priced.parts), 0)
    assert sum(frames["work"]["cost"]) + Decimal(own_parts) / 100 == Decimal(priced.totals.cost) / 100
    assert round(frames["work"][["setup_min", "run_min"]].to_numpy().sum() * 100) == priced.totals.attended
    assert sum(frames["parts"]["cost"]) == Decimal(priced.totals.money.parts) / 100
    assert set(frames["wear"]["kind"]) == {"consumable", "tool"}
