"""What is assumed follows what was said."""

from __future__ import annotations

from decimal import Decimal

import pytest

from estimator.fit.judge import judge_job
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.tables.quantities import read_intake
from estimator.tables.toml_text import parse_toml
from tests.drawn_jobs import the_shop
from tests.tables.tinyshop import shop_issues, tiny_rows


def job_with(*lines: str, kind: str = "guitar-solid") -> Job:
    text = "\n".join(['[job]\nid = "j"\nkind = "own"\n[instrument]', f'kind = "{kind}"', *lines])
    return job_from(parse_toml(f"{text}\n".encode(), "j.toml"), the_shop())


def test_every_row_holds_where_its_word_was_said_and_nothing_else():
    shop = the_shop()
    rows = shop.plausible.together
    assert len(rows) > 10
    for row in rows:
        for family in ("guitar", "bass"):
            job = job_with(f'{row.field} = "{row.word}"', kind=f"{family}-solid")
            if row.instruments not in ("any", family):
                continue
            for name, text in row.pairs.items():
                reading = job.instrument[name]
                assert reading.assumed, (row, name)  # said of one field, it is not measured of the other
                assert reading.value == read_intake(text, shop.intake[name]), (row, name)
                given = job_with(
                    f'{row.field} = "{row.word}"',
                    f"{name} = {_another(name, reading.value)}",
                    kind=f"{family}-solid",
                )
                assert given.instrument[name].value != reading.value, (row, name)
                assert not given.instrument[name].assumed


def _another(name: str, value: object) -> str:
    spec = the_shop().intake[name]
    if isinstance(value, bool):
        return "false" if value else "true"
    if isinstance(value, Decimal):
        return f"{value + 1}"
    return f'"{next(word for word in spec.choices if word != value)}"'


def test_pickups_are_counted_as_they_were_said():
    assert job_with().instrument["pickup_n"].value == 3
    assert job_with('pu_middle = "none"').instrument["pickup_n"].value == 2
    assert job_with('pu_neck = "humbucker"', 'pu_bridge = "humbucker"').instrument["pickup_n"].value == 2
    assert job_with('pu_bridge = "bass-single"', kind="bass-solid").instrument["pickup_n"].value == 2
    assert job_with('pu_middle = "none"', "pickup_n = 3").instrument["pickup_n"].value == 3


@pytest.mark.parametrize("place", ["neck", "bridge"])
def test_a_humbucker_for_a_humbucker_needs_no_routing_and_no_other_guard(place):
    for said, routed in (('"humbucker"', False), ('"single"', True)):
        job = job_with(f"pu_{place} = {said}")
        (verdict,) = judge_job(the_shop(), job, (f"{place}-pickup-humbucker-standard",), "")
        tasks = {demand.task for demand in verdict.demands}
        assert ("route-cavity" in tasks) is routed
        assert ("open-guard-slot" in tasks) is routed


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ({"word": "mahogany"}, "a word that is not accepted there"),
        ({"assumes": "strings=7"}, "no intake field has this name"),
        ({"assumes": "string_n=many"}, "string_n"),
        ({"assumes": "string_n=99"}, "outside the accepted range"),
    ],
)
def test_a_row_that_cannot_be_read_is_told(row, problem):
    rows = tiny_rows()
    good = {"field": "body_wood", "word": "alder", "assumes": "string_n=7"}
    rows["goes_together"] = [good]
    assert not shop_issues(rows)
    rows["goes_together"] = [good | row]
    assert any(problem in str(issue) for issue in shop_issues(rows))


@pytest.mark.parametrize("place", ["neck", "middle", "bridge"])
@pytest.mark.parametrize(
    "kind", ["single", "humbucker", "soapbar", "bass-split", "bass-single", "bass-humbucker"]
)
def test_a_pickup_of_the_kind_that_is_fitted_needs_no_wood_cut(place, kind):
    """What is fitted today proves its rout, on a guitar of six strings and a bass of four."""
    sorts = {"single": ("p-single", "p-stack"), "humbucker": ("p-hum",), "soapbar": ("p-soap",)}
    family = "bass" if kind.startswith("bass") else "guitar"
    job = job_with(f'pu_{place} = "{kind}"', f"dc_ohm_{place} = 0", kind=f"{family}-solid")
    found = 0
    for verdict in judge_job(the_shop(), job):
        part = verdict.upgrade.part
        if part is None or verdict.upgrade.row.slot != f"pickup-{place}":
            continue
        if part.part_class not in sorts.get(kind, ("p-basspu",)):
            continue
        dims = part.made_for(family == "bass").dims
        if dims["string_n"] != (4 if family == "bass" else 6) or dims.get("sort", kind) != kind:
            continue
        found += 1
        cut = [d for f in verdict.findings for d in f.demands if d.task == "route-cavity"]
        assert cut == [], (verdict.upgrade.id, cut)
    assert found
