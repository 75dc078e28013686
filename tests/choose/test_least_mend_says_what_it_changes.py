"""The least that mends a fault says with it what it changes of the instrument for good."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from estimator.choose.faults import faults_found
from estimator.choose.study import Study, study_job
from estimator.fit.lasting import changes_of
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.report.record import as_data
from estimator.report.records.wish import Fault
from estimator.report.words.faults import fault_sentences
from estimator.tables.toml.text import parse_toml
from tests.choose.test_faults import KINDS, cases, job_of, put, the_shop, values_of


def part_alone(shop: Shop, fault: str, study: Study, upgrade: str) -> bool:
    """Whether an upgrade buys a part that no row of the fault names."""
    mine = study.verdict(upgrade).upgrade
    rows = [row for row in shop.faults if row.fault == fault]
    return mine.part is not None and all(mine.row.id not in row.mended_by for row in rows)


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


def test_like_mends_like_before_what_changes_the_sound() -> None:
    """A soap-bar as good as open wants a soap-bar, whatever a single coil costs."""
    text = '[job]\nid = "one"\nkind = "own"\n[instrument]\nkind = "guitar-semi"\npu_bridge = "soapbar"\n'
    job = job_from(parse_toml(f"{text}dc_ohm_bridge = 0\n".encode(), "one.toml"), the_shop())
    (fault,) = faults_found(study_job(the_shop(), job))
    assert fault.mends[0].startswith("bridge-pickup-soapbar")
    assert fault.changes == ()


def test_no_part_is_bought_for_the_work_that_comes_with_it() -> None:
    """Treble strings that lie too high want a set-up, even where new saddles would bring the same work for less."""
    for kind in KINDS:
        job = put(put(job_of(kind), "action_b", Decimal(4)), "action_t", Decimal("3.5"))
        job = put(put(job, "saddle_down", Decimal(5)), "fret_loose_n", Decimal(2))
        found = {fault.id: fault for fault in faults_found(study_job(the_shop(), job))}
        high = next(fault for name, fault in found.items() if name.startswith("high-action-treble"))
        assert high.mends[0] == "set-up"


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
            first, *others = [
                (upgrade, part_alone(shop, fault.id, study, upgrade)) for upgrade in fault.mends
            ]
            if changes:
                assert all(changes_of(shop, study.job, study.verdict(one)) for one, _ in others)
            elif first[1]:
                plain = [a for one, a in others if not changes_of(shop, study.job, study.verdict(one))]
                assert all(plain)
    assert told >= 15
    assert said >= 1
