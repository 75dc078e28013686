"""Every key that stands beside a field of a job is read to that field."""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec import Struct

from estimator.core.errors import InputError
from estimator.input.job.keys import SECTIONS
from estimator.input.job.load import job_from
from estimator.model import JobTerms, Labels, SaleTerms
from estimator.model.column import section_of
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

WRITTEN: dict[str, dict[str, tuple[str, object]]] = {
    "job": {
        "id": ('"a-job"', "a-job"),
        "kind": ('"resale"', "resale"),
        "what": ('"less hum"', "less hum"),
        "customer": ('"A. Player"', "A. Player"),
        "received": ("2026-01-02", "2026-01-02"),
        "wanted_by": ("2026-02-03", "2026-02-03"),
        "said_wrong": ('["smell"]', ("smell",)),
        "number": ('"2026-014"', "2026-014"),
        "make": ('"no name"', "no name"),
        "serial": ('"0451"', "0451"),
        "colour": ('"red"', "red"),
        "phone": ('"555 01"', "555 01"),
        "email": ('"a@b.example"', "a@b.example"),
        "photo": ('"front.jpg"', "front.jpg"),
        "photo_2": ('"back.jpg"', "back.jpg"),
        "photo_3": ('"head.png"', "head.png"),
    },
    "instrument": {"levels": ("{ hum = 1 }", {"hum": Decimal(1)})},
    "wish": {
        "profile": ('"student"', "student"),
        "require": ("{ fret-levelness = 4 }", ("fret-levelness", None, Decimal(4))),
        "limits": ('{ weight = { most = "3.6 kg" } }', ("weight", Decimal(3600), None)),
        "weights": ("{ hum = 77 }", ("hum", Decimal(77))),
    },
    "budget": {
        "money": ("500", Decimal(500)),
        "on": ('"cost"', "cost"),
        "worth": ("600.5", Decimal("600.5")),
        "hours": ("5", Decimal(300)),
        "surety": ("80", Decimal(80)),
    },
    "upgrades": {
        "open": ('["set-up", "clean-controls"]', ("set-up", "clean-controls")),
        "required": ('["set-up"]', ("set-up",)),
        "refused": ('["polish-frets"]', ("polish-frets",)),
        "may_change": ('["look"]', ("look",)),
        "keeps": ('["feel"]', ("feel",)),
    },
    "methods": {"without_tools": ('["t-press"]', ("t-press",))},
    "terms": {
        "skill": ("4", 4),
        "charge_per_hour": ("61.5", Decimal("61.5")),
        "rush": ("true", True),
        "batch": ("3", 3),
        "bench_fee_paid": ("true", True),
        "stored_days": ("40", 40),
    },
    "resale": {
        "condition": ('"needs-repair"', "needs-repair"),
        "seen": ('"photos"', "photos"),
        "way": ('"marketplace"', "marketplace"),
        "box": ('"carton-guitar"', "carton-guitar"),
        "travel_min": ("30", Decimal(30)),
        "inbound_cost": ("12.5", Decimal("12.5")),
        "sourced": ("false", False),
        "sales_known": ("false", False),
        "salvage": ("25", Decimal(25)),
        "own_pay_per_hour": ("33.3", Decimal("33.3")),
    },
    "outline": {"of": ('"headstock"', "headstock")},
    "part": {
        "id": ('"mine"', "mine"),
        "class": ('"p-nutblank"', "p-nutblank"),
        "variant": ('"odd"', "odd"),
        "grade": ('"premium"', "premium"),
        "what": ('"a blank of mine"', "a blank of mine"),
        "price": ("3.25", Decimal("3.25")),
        "levels": ('{ NM = "brass" }', {"NM": "brass"}),
        "owner": ('"customer"', "customer"),
        "only": ("true", True),
    },
}
"""By section and key: as it is written in the file, and as the field has it."""


def field_as_said(record: Struct, field: str, key: str) -> object:
    """The value of a field; of those that hold more than the key says, what the key put there."""
    value = getattr(record, field)
    if field == "requirements":
        return next(
            (it.attribute, it.most, it.level) for it in value if (it.level is None) == (key == "limits")
        )
    if field == "weights":
        return next(pair for pair in value.items() if pair[1] == 77)
    return {name: it.value for name, it in value.items()} if field == "found_levels" else value


def test_every_key_is_read_to_the_field_that_it_stands_beside() -> None:
    heads = {section.name: "[[{}]]" if section.repeated else "[{}]" for section in SECTIONS}
    more = {
        "instrument": 'kind = "guitar-solid"\n',
        "outline": "points = [[0, 0], [9, 0], [9, 9]]\n",
    }
    text = "\n".join(
        f"{heads[name].format(name)}\n{more.get(name, '')}"
        + "\n".join(f"{key} = {raw}" for key, (raw, _) in keys.items())
        for name, keys in WRITTEN.items()
    )
    job = job_from(parse_toml(text.encode(), "a.toml"), default_shop())
    records = (job, job.labels, job.budget, job.terms, job.sale, *job.parts.values(), *job.outlines.values())
    assert {type(record) for record in records} == {record for it in SECTIONS for record in it.records}
    read: dict[str, dict[str, object]] = {}
    for record in records:
        for section in SECTIONS:
            for field, column in section_of(type(record), section.name):
                assert column in section.columns
                read.setdefault(section.name, {})[column.name] = field_as_said(record, field, column.name)
    assert read == {
        section: {key: value for key, (_, value) in keys.items()} for section, keys in WRITTEN.items()
    }


def test_what_is_left_out_is_what_the_reference_says() -> None:
    """A default that is declared stands in the record where nobody wrote the key."""
    text = '[job]\nid = "a"\n[instrument]\nkind = "guitar-solid"\n'
    job = job_from(parse_toml(text.encode(), "a.toml"), default_shop())
    assert (job.terms, job.sale, job.labels) == (JobTerms(), SaleTerms(), Labels())
    for record in (job.terms, job.sale, job.labels):
        for section in SECTIONS:
            for field, column in section_of(type(record), section.name):
                assert getattr(record, field) == column.default


def test_any_key_in_another_section_with_a_letter_wrong_is_sent_home() -> None:
    """Whatever is written where it does not belong, the message says what is meant or where it belongs."""
    shop = default_shop()
    keys = {column.name for section in SECTIONS for column in section.columns} | {
        *shop.intake,
        *shop.attributes,
    }
    tried = 0
    for key in sorted(keys):
        if len(key) < 5 or not key.isascii():
            continue
        for slip in (key[:-1], f"{key}s"):
            if slip in keys:
                continue
            text = (
                f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[terms]\n{slip} = 1\n'
            )
            with pytest.raises(InputError) as refused:
                job_from(parse_toml(text.encode(), "j.toml"), shop)
            [issue] = [each for each in refused.value.issues if each.where.column.endswith(slip)]
            assert issue.next_step, slip
            tried += 1
    assert tried > 200
