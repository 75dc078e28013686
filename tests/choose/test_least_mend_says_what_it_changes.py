"""The least that mends a fault says with it what it changes of the instrument for good."""

from __future__ import annotations

import random

import pytest

from estimator.choose.faults import faults_found
from estimator.choose.study import study_job
from estimator.fit.lasting import changes_of
from estimator.report.record import as_data
from estimator.report.records.wish import Fault
from estimator.report.words.faults import fault_sentences
from tests.choose.test_faults import KINDS, cases, job_of, put, the_shop, values_of


def test_oiling_a_sticky_neck_is_told_as_another_feel() -> None:
    study = study_job(the_shop(), put(job_of("guitar"), "neck_finish_sound", "sticky"))
    found = faults_found(study)
    (words,) = fault_sentences(found, "USD")
    assert words.endswith("; it changes how it feels in the hand for good.")
    assert as_data(Fault(found[0]))["least_work_changes"] == ["feel"]


def test_a_mend_that_changes_nothing_says_nothing() -> None:
    (words,) = fault_sentences(
        faults_found(study_job(the_shop(), put(job_of("guitar"), "rod_ok", "stiff"))), "USD"
    )
    assert "for good" not in words


@pytest.mark.slow
def test_over_faults_and_kinds() -> None:
    shop, rng, told, said = the_shop(), random.Random(7), 0, 0
    for name, kind, field in cases():
        if kind not in KINDS or rng.random() < 0.8:
            continue
        row = next(f for f in shop.faults if f.fault == name)
        study = study_job(shop, put(job_of(kind), field, next(iter(values_of(row, rng)))))
        for fault, words in zip(
            faults_found(study), fault_sentences(faults_found(study), "USD"), strict=True
        ):
            if fault.cost is None:
                continue
            changes = changes_of(shop, study.job, study.verdict(fault.mends[0]))
            said += bool(changes)
            told += 1
            assert [name for name, _ in fault.changes] == [c for c in shop.lasting.changes if c in changes]
            assert all(shop.lasting.changes[c].what in words for c in changes)
            assert ("for good" in words) == bool(changes)
    assert told >= 15
    assert said >= 1
