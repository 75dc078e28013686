"""A fresh job file for any upgrade, on an instrument that can have it."""

from __future__ import annotations

import pytest

from estimator.estimate.new_job import default_job, fields_that_matter, job_text
from estimator.fit.candidates import all_upgrades
from estimator.input.job.load import job_from
from estimator.tables.conditions import holds
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import toml_text
from tests.drawn_jobs import the_shop

KINDS = {"guitar": "guitar-solid", "bass": "bass-solid"}


@pytest.mark.slow
@pytest.mark.parametrize("family", KINDS)
def test_every_upgrade_can_be_had_in_mind(family):
    """For each row that suits the family: the file is written, reads back, and offers the upgrade."""
    shop, tried = the_shop(), 0
    for row in shop.upgrades.values():
        if row.instruments not in ("any", family):
            continue
        job = default_job(shop, KINDS[family], wanted=(row.id,))
        assert holds(row.when, job.instrument), row.id
        fields = fields_that_matter(shop, job, (row.id,))
        text = job_text(shop, job, fields, "fresh")
        again = job_from(parse_toml(text.encode(), "fresh.toml"), shop)
        assert row.id in {upgrade.row.id for upgrade in all_upgrades(shop, again)}, row.id
        said = {name for name, reading in again.instrument.items() if not reading.assumed} - {"kind"}
        assert len(said) <= 1, (row.id, said)
        usual = default_job(shop, KINDS[family])
        if holds(row.when, usual.instrument):
            assert said == set(), row.id
        tried += 1
    assert tried > 50


def test_the_upgrades_of_one_file_stand_on_one_instrument():
    shop = the_shop()
    job = default_job(shop, "guitar-solid", wanted=("post-bridge", "new-toggle", "repair-crack"))
    assert str(job.instrument["br_type"].value) == "post-and-tailpiece"
    assert str(job.instrument["sw_type"].value).startswith("toggle")
    assert job.instrument["br_spread"].value == 74  # goes with the bridge
    assert job.instrument["br_spread"].assumed


@pytest.mark.parametrize(
    "word", ["plays \x1b[Dbadly", "two\nlines", 'a "quote" \\ a stroke', "a\ttab", "\x7f"]
)
def test_any_text_that_is_written_reads_back(word):
    """Keys pressed in an answer may leave control characters in it; the file is in order all the same."""
    assert parse_toml(f"what = {toml_text(word)}".encode(), "fresh.toml").values["what"] == word
