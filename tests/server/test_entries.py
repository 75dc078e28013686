"""What is typed on the page becomes the job that the same job file would be."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from estimator.core.errors import InputError
from estimator.input.job.edit import edited
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.server.entries import Entries, changes_of, job_with, read_entries
from estimator.server.view import hours_entry
from estimator.tables.toml.text import TomlFile, parse_toml
from tests.server.desks import EXAMPLES
from tests.shops import default_shop

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.toml"))


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def toml_of(name: str) -> TomlFile:
    return parse_toml((EXAMPLES / f"{name}.toml").read_bytes(), f"{name}.toml")


@pytest.mark.parametrize("name", NAMES)
def test_without_entries_the_job_is_that_of_the_file(shop: Shop, name: str) -> None:
    job, values = job_with(toml_of(name), shop, Entries())
    assert job == job_from(toml_of(name), shop)
    assert values.values == toml_of(name).values


def test_entries_are_read_and_told_alike(shop: Shop) -> None:
    told = "aim=most&money=249%2C50&hours=&back=2026-10-30&wish.hum=3&do.set-up=must&looking=1&show=frontier"
    pairs = [tuple(pair.split("=")) for pair in told.replace("%2C", ",").split("&")]
    entries = read_entries([(a, b) for a, b in pairs])
    assert entries.query() == told
    job, _ = job_with(toml_of("tight-commission"), shop, entries)
    assert job.budget.money == Decimal("249.50")
    assert job.budget.minutes is None
    assert job.wanted_by == "2026-10-30"
    assert {r.attribute: r.level for r in job.requirements}["hum"] == 3
    assert "set-up" in job.required
    assert (
        read_entries([("aim", "x"), ("show", "y"), ("wish.hum", "9"), ("do.x", "z"), ("other", "1")])
        == Entries()
    )


@pytest.mark.parametrize(
    "text", ["abc", "-1", "1e9", "nan", "inf", "0", "=1+1", "<script>", "1.234", "١٢", "10 00", "0,00"]
)
def test_an_amount_that_cannot_be_is_said(shop: Shop, text: str) -> None:
    for entries in (Entries(money=text), Entries(hours=text)):
        with pytest.raises(InputError, match="; accepted: "):
            job_with(toml_of("tight-commission"), shop, entries)
    with pytest.raises(InputError, match="no day"):
        job_with(toml_of("tight-commission"), shop, Entries(wanted_by=text))


def test_a_demand_and_its_opposite_change_places(shop: Shop) -> None:
    job, _ = job_with(
        toml_of("tight-commission"), shop, Entries(work={"bridge-pickup-stack": "not", "set-up": "must"})
    )
    assert "bridge-pickup-stack" not in job.required
    assert "bridge-pickup-stack" in job.refused
    assert job.required == ("set-up",)
    with pytest.raises(InputError, match="unknown upgrade"):
        job_with(toml_of("tight-commission"), shop, Entries(work={"no-such-work": "must"}))


def drawn(draw: random.Random, shop: Shop) -> Entries:
    wish = {
        a: draw.choice(["any", "1", "2", "3", "4"])
        for a in draw.sample(sorted(shop.attributes), 4)
        if shop.attributes[a].kind == "level"
    }
    work = {u: draw.choice(["may", "must", "not"]) for u in draw.sample(sorted(shop.upgrades), 3)}
    return Entries(
        money=draw.choice([None, "", "180", "249.50"]),
        hours=draw.choice([None, "", "3", "2,5"]),
        wanted_by=draw.choice([None, "", "2026-12-01"]),
        wish=wish,
        work=work,
    )


@pytest.mark.parametrize("name", NAMES)
def test_what_is_written_into_the_file_is_the_job_on_the_page(shop: Shop, name: str) -> None:
    """Line by line edited, read again: the same job; every remark and every other line stands as it stood."""
    draw = random.Random(name)
    written = 0
    for _ in range(12):
        entries, toml = drawn(draw, shop), toml_of(name)
        text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
        try:
            job, _ = job_with(toml, shop, entries)
        except InputError:
            continue
        told = edited(text, changes_of(toml, shop, entries), f"{name}.toml")
        again = job_from(parse_toml(told.encode(), f"{name}.toml"), shop)
        assert (again.requirements == job.requirements) or [
            (r.attribute, r.least, r.most, r.level) for r in again.requirements
        ] == [(r.attribute, r.least, r.most, r.level) for r in job.requirements]
        assert (again.required, again.refused, again.wanted_by) == (job.required, job.refused, job.wanted_by)
        assert (again.budget.money, again.budget.minutes) == (job.budget.money, job.budget.minutes)
        assert again.instrument.keys() == job.instrument.keys()
        remarks = [line for line in text.splitlines() if line.startswith("#")]
        assert [line for line in told.splitlines() if line.startswith("#")] == remarks
        written += 1
    assert written >= 4


def test_hours_that_a_way_out_types_in_are_never_below_what_it_needs() -> None:
    draw = random.Random(9)
    for least in [0, 1, 59, 60, 61, 6000, 6001, *(draw.randrange(1, 300_000) for _ in range(300))]:
        typed = Decimal(hours_entry(least)) * 6000
        assert least <= typed < least + 60
