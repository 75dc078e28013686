"""Every key that stands beside a field of a job is read to that field."""

from __future__ import annotations

from decimal import Decimal

from estimator.input.job.keys import SECTIONS
from estimator.input.job.load import job_from
from estimator.model import Budget, Job, Outline
from estimator.model.column import section_of
from estimator.tables.load import load_shop
from estimator.tables.toml.text import parse_toml

WRITTEN: dict[str, dict[str, tuple[str, object]]] = {
    "job": {
        "id": ('"a-job"', "a-job"),
        "kind": ('"resale"', "resale"),
        "what": ('"less hum"', "less hum"),
        "customer": ('"A. Player"', "A. Player"),
        "received": ("2026-01-02", "2026-01-02"),
        "wanted_by": ("2026-02-03", "2026-02-03"),
    },
    "wish": {"profile": ('"student"', "student")},
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
}
"""By section and key: as it is written in the file, and as the field has it."""


def test_every_key_is_read_to_the_field_that_it_stands_beside() -> None:
    lines = [
        f"[{section}]\n" + "\n".join(f"{key} = {raw}" for key, (raw, _) in keys.items())
        for section, keys in WRITTEN.items()
    ]
    text = "\n".join([*lines, "[instrument]", 'kind = "guitar-solid"'])
    job = job_from(parse_toml(text.encode(), "a.toml"), load_shop())
    read: dict[str, dict[str, object]] = {}
    for record, of in ((Job, job), (Budget, job.budget)):
        for section in SECTIONS:
            for field, column in section_of(record, section.name).items():
                assert column in section.columns
                read.setdefault(section.name, {})[column.name] = getattr(of, field)
    assert read == {
        section: {key: value for key, (_, value) in keys.items()} for section, keys in WRITTEN.items()
    }


def test_an_outline_is_of_what_it_says() -> None:
    (field,) = section_of(Outline, "outline")
    text = '[job]\nid = "a"\n[instrument]\nkind = "guitar-solid"\n[[outline]]\nof = "guard"\npoints = [[0, 0], [9, 0], [9, 9]]\n'
    (outline,) = job_from(parse_toml(text.encode(), "a.toml"), load_shop()).outlines.values()
    assert getattr(outline, field) == "guard"
