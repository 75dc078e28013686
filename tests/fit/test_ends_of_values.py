"""Every measured value at its very ends, one at a time: an answer or a complaint in words, never a fault of the program."""

from __future__ import annotations

import pytest

from estimator import study_job
from estimator.choose.faults import faults_found
from estimator.core.errors import InputError
from estimator.input.job.load import job_from
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

JOB = """
job = {{ id = "ends", kind = "commission", what = "all of it" }}
[instrument]
kind = "{}"
{} = {}
[wish]
profile = "gigging-player"
"""


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_the_least_and_the_most_that_is_taken_is_answered(kind: str) -> None:
    shop = default_shop()
    tried = refused = 0
    for field in shop.intake.values():
        for end in {field.hard_low, field.hard_high} - {None}:
            text = JOB.format(kind, field.id, f"{end:f}")
            tried += 1
            try:
                study = study_job(shop, job_from(parse_toml(text.encode(), "ends.toml"), shop))
            except InputError:
                refused += 1
            else:
                assert study.verdicts, (field.id, end)
                faults_found(study)
    assert tried - refused > 200
