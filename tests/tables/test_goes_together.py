"""What is assumed follows what was said."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from itertools import product

import pytest

from estimator.fit.candidates import offered
from estimator.fit.judge import judge_all, judge_job
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.tables.quantities import read_intake
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop
from tests.tables.tinyshop import shop_issues, tiny_rows

PLACES = ("neck", "middle", "bridge")


def job_with(*lines: str, kind: str = "guitar-solid") -> Job:
    text = "\n".join(['[job]\nid = "j"\nkind = "own"\n[instrument]', f'kind = "{kind}"', *lines])
    return job_from(parse_toml(f"{text}\n".encode(), "j.toml"), the_shop())


def test_every_row_holds_where_its_word_was_said_and_nothing_else():
    shop = the_shop()
    rows = shop.plausible.together
    assert len(rows) > 10
    for row in rows:
        said = [f'{field} = "{word}"' for field, word in row.conditions.items() if field != "kind"]
        for family in ("guitar", "bass"):
            if row.instruments not in ("any", family):
                continue
            kind = row.conditions.get("kind", f"{family}-solid")
            job = job_with(*said, kind=kind)
            for name, text in row.assumes.items():
                reading = job.instrument[name]
                assert reading.assumed, (row, name)  # said of one field, it is not measured of the other
                assert reading.value == read_intake(text, shop.intake[name]), (row, name)
                given = job_with(*said, f"{name} = {_another(name, reading.value)}", kind=kind)
                assert given.instrument[name].value != reading.value, (row, name)
                assert not given.instrument[name].assumed


def test_a_row_of_two_words_holds_only_where_both_do_and_stands_before_a_row_of_one():
    narrow = [row for row in the_shop().plausible.together if row.beside]
    assert narrow
    for row in narrow:
        said = dict(row.conditions)
        kind = said.pop("kind", "bass-solid" if row.instruments == "bass" else "guitar-solid")
        both = job_with(*_lines(said), kind=kind).instrument
        assert row.beside
        for field, word in row.beside.items():
            spec = the_shop().intake[field]
            others = spec.choices or (str(int(word) + 1),)
            one_only = [
                job_with(*_lines({**said, field: other}), kind=kind).instrument
                for other in others
                if other != word
            ]
            assert any(one[name].value != both[name].value for one in one_only for name in row.assumes), row


def _lines(said: Mapping[str, str]) -> list[str]:
    return [f'{field} = "{word}"' for field, word in said.items()]


def test_no_tremolo_is_assumed_where_there_is_no_room_for_one_or_none_is_made():
    """Nor the springs, claw and mass of one; who says that there is one is believed, and so is a template."""
    for kind, strings in product(("guitar-solid", "guitar-semi"), (6, 7, 8, 12)):
        found = job_with(f"string_n = {strings}", kind=kind).instrument
        plain = strings == 6 and kind == "guitar-solid"
        assert ("trem" in str(found["br_type"].value)) == plain, (kind, strings)
        assert (found["spring_mass"].value == 0) == (not plain), (kind, strings)
        assert (
            found["br_screw_n"].value
            == {"six-screw-trem": 6, "hardtail": 5, "post-and-tailpiece": 2}[str(found["br_type"].value)]
        )
    said = job_with("string_n = 7", 'br_type = "locking-trem"').instrument
    assert said["nut_seat"].value == "locking-shelf"
    assert said["spring_mass"].value > 0
    planned = job_with("string_n = 7", 'template = "guitar-6-locking"').instrument
    assert planned["br_type"].value == "locking-trem"


def test_what_is_assumed_by_a_row_brings_what_goes_with_it():
    """A humbucker at the neck: no middle pickup, and so nothing that weighs there."""
    found = job_with('pu_neck = "humbucker"').instrument
    assert found["pu_middle"].value == "none"
    assert found["pu_mass_middle"].value == 0


def test_a_count_said_is_enough_beside_the_usual_word_of_the_other_field():
    """Of a bass of five strings nobody need say that its pickup is split to have the rout of five."""
    five = job_with("string_n = 5", kind="bass-solid").instrument
    assert five["pu_middle"].value == "bass-split"
    assert five["rout_l_middle"].value == Decimal(129)
    assert job_with("string_n = 4", kind="bass-solid").instrument["rout_l_middle"].value == Decimal(110)


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
        ({"beside": "strings=7"}, "no intake field has this name"),
        ({"beside": "string_n=99"}, "outside the accepted range"),
        ({"beside": "string_n"}, "string_n"),
    ],
)
def test_a_row_that_cannot_be_read_is_told(row, problem):
    rows = tiny_rows()
    good = {"field": "body_wood", "word": "alder", "assumes": "string_n=7"}
    rows["goes_together"] = [good]
    assert not shop_issues(rows)
    rows["goes_together"] = [good | row]
    assert any(problem in str(issue) for issue in shop_issues(rows))


SORTS = {"single": ("p-single", "p-stack"), "humbucker": ("p-hum",), "soapbar": ("p-soap",)}
"""The classes of part of a kind of pickup; those of a bass have one class, and a sort."""
COUNTS = {"guitar": (6, 7, 12), "bass": (4, 5, 6)}
MADE_FOR_NONE = {("soapbar", 7), ("soapbar", 12)}
"""Kinds of pickup that the parts table has for no such count."""


def cut_for(job: Job, place: str) -> dict[str, list[str]]:
    """By the pickups of the kind and count of the one at this place: the wood and guard work that they want."""
    word, count = job.instrument[f"pu_{place}"].value, job.instrument["string_n"].value
    found: dict[str, list[str]] = {}
    slot = f"pickup-{place}"
    there = [u for u in offered(the_shop(), job) if u.row.slot == slot and u.part is not None]
    for verdict in judge_all(the_shop(), job, there):
        part = verdict.upgrade.part
        assert part is not None
        dims = part.made_for(job.is_bass).dims
        of_kind = part.part_class in SORTS.get(str(word), ("p-basspu",)) and dims.get("sort", word) == word
        if of_kind and dims["string_n"] == count:
            demands = [d.task for f in verdict.findings for d in f.demands]
            found[verdict.upgrade.id] = [t for t in demands if t in ("route-cavity", "open-guard-slot")]
    return found


@pytest.mark.slow
@pytest.mark.parametrize("family", ["guitar", "bass"])
def test_a_pickup_of_the_kind_that_is_fitted_needs_no_wood_cut(family):
    """What is fitted today proves its rout: of each kind, with each count of strings, at each place."""
    kinds = ("bass-split", "bass-single", "bass-humbucker") if family == "bass" else tuple(SORTS)
    seen = 0
    for kind, count, place in product(kinds, COUNTS[family], PLACES):
        # under a guard a pickup wants the widest gap round it
        said = (f'pu_{place} = "{kind}"', f"dc_ohm_{place} = 0", 'access = "guard-mounted"')
        found = cut_for(job_with(*said, f"string_n = {count}", kind=f"{family}-solid"), place)
        assert bool(found) is ((kind, count) not in MADE_FOR_NONE), (kind, count, place)
        assert not any(found.values()), (kind, count, place, found)
        seen += len(found)
    assert seen > 30


@pytest.mark.slow
def test_a_pickup_of_the_kind_that_a_template_names_needs_no_wood_cut():
    templates = dict.fromkeys(row for spec in the_shop().intake.values() for row, _ in spec.by_template)
    seen = 0
    for template in templates:
        kind = dict(the_shop().intake["kind"].by_template)[template]
        job = job_with(f'template = "{template}"', kind=kind)
        for place in PLACES:
            if job.instrument[f"pu_{place}"].value != "none":
                found = cut_for(job, place)
                assert found, (template, place)
                assert not any(found.values()), (template, place, found)
                seen += 1
    assert seen >= 2 * len(templates) - 2
