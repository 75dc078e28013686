"""Taking an instrument in: what was measured as it was typed, what is assumed, what to measure first; a new job."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from contextlib import suppress
from decimal import Decimal
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.choose.questions.measure_next import look_into
from estimator.core.errors import refusal, shown
from estimator.core.text import sentence_case
from estimator.core.units import lengths_as_read
from estimator.estimate.new_job import (
    NAME,
    SALE,
    as_typed,
    by_stage,
    default_job,
    fields_that_matter,
    job_text,
    kinds_in_words,
    reading_of,
    unit_said,
)
from estimator.input.job.edit import Path, edited
from estimator.input.job.load import job_from
from estimator.model import JOB_KINDS, IntakeField, Job, Shop
from estimator.report.svg.caliper import figure, lit, view_box
from estimator.report.text.terminal import money
from estimator.server.desk import Asked, Desk
from estimator.tables.cells import CellError, id_from
from estimator.tables.quantities import read_intake
from estimator.tables.sums import read_sum
from estimator.tables.toml.text import parse_toml

if TYPE_CHECKING:
    from markupsafe import Markup

LONGEST = 120
_BARE = re.compile(r"-?[0-9][0-9 .,/-]*|-?[.,][0-9]+")
"""Figures without a unit: 1.75, 1 3/4, -0.004."""
_IN_WORDS = re.compile(r"[A-Za-z0-9]+(?:[ _-]+[A-Za-z0-9]+)*")
_NUMBER = re.compile(r"[0-9]{1,7}(?:[.,][0-9]{1,4})?")


class Measured(Struct, frozen=True):
    """A field of the intake: what it is and how it is taken, what was typed, or what is assumed."""

    field: str
    what: str
    how: str
    unit: str
    typed: str
    assumed: str
    choices: tuple[tuple[str, str], ...]
    section: str
    letter: str
    where: Markup


class Stage(Struct, frozen=True):
    """A stage of the intake, as on a measuring sheet: its fields by section, and how many are still assumed."""

    name: str
    sections: tuple[tuple[str, tuple[Measured, ...]], ...]
    asked: int
    missing: int

    @property
    def fields(self) -> tuple[Measured, ...]:
        """All its fields."""
        return tuple(one for _, held in self.sections for one in held)

    def holds(self, names: Container[str]) -> bool:
        """Whether one of these fields is of this stage."""
        return any(one.field in names for one in self.fields)


class Intake(Struct, frozen=True):
    """The intake of an instrument: its stages, the figure of where one measures, and the box it is drawn in."""

    stages: tuple[Stage, ...]
    figure: Markup
    box: str


def intake_of(desk: Desk, asked: Asked) -> Intake:
    """The fields that matter for this instrument, in the stages and with the letters of the measuring sheet."""
    from markupsafe import Markup

    shop, given = desk.shop, asked.toml.values.get("instrument", {})
    fields = fields_that_matter(shop, asked.job, ())
    if asked.hides and not asked.job.for_customer:
        # what the shop paid and hopes for is not for who looks on; what is not in the form is left as it is
        fields = tuple(spec for spec in fields if spec.kind != "money")
    stages = []
    for name, held in by_stage(shop, fields):
        by_section: dict[str, list[Measured]] = {}
        for spec in held:
            by_section.setdefault(spec.section, []).append(_measured(shop, spec, asked.job, given))
        missing = sum(1 for found in by_section.values() for one in found if not one.typed)
        sections = tuple((sentence_case(section), tuple(found)) for section, found in by_section.items())
        stages.append(Stage(name, sections, len(held), missing))
    places = [shop.drawn.calipers[spec.id] for spec in fields if spec.id in shop.drawn.calipers]
    return Intake(tuple(stages), Markup(figure(places)), view_box())


def _measured(shop: Shop, spec: IntakeField, job: Job, given: Mapping[str, object]) -> Measured:
    from markupsafe import Markup

    place = shop.drawn.calipers.get(spec.id)
    typed = given.get(spec.id)
    unit = unit_said(shop, spec) if spec.kind == "money" else spec.unit
    reading = reading_of(shop, job, spec.id)
    words = (
        {"yes": "yes", "no": "no"}
        if spec.kind == "yes-no"
        else dict.fromkeys(spec.choices)
        if spec.kind == "choice"
        else {}
    )

    def read(text: str) -> str:
        return lengths_as_read(text, shop.lengths)

    return Measured(
        spec.id,
        read(sentence_case(spec.what)),
        read(spec.how),
        unit_said(shop, spec),
        _shown(shop, spec, typed),
        read(f"{_as_typed(reading.value)} {unit}".strip()),
        tuple((word, word.replace("-", " ")) for word in words),
        spec.section,
        place.letter if place else "",
        Markup(lit(spec, place)),
    )


def _as_typed(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return " ".join(map(str, value)) or "none"
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)


def _shown(shop: Shop, spec: IntakeField, value: object) -> str:
    """What stands in the job file for a field, as the form shows it: a bare length is mm there, and is read in
    the unit of the shop.
    """
    if spec.kind == "length" and isinstance(value, Decimal | int) and not isinstance(value, bool):
        in_mm = f"{_as_typed(value)} mm"
        return lengths_as_read(in_mm, shop.lengths) if shop.lengths != "mm" else _as_typed(value)
    return _as_typed(value)


def typed_value(desk: Desk, asked: Asked, field: str) -> str:
    """What stands in the job file for a field, as the form shows it; blank where it is assumed."""
    return _shown(desk.shop, desk.shop.intake[field], asked.toml.values.get("instrument", {}).get(field))


def shown_once_written(shop: Shop, field: str, text: str) -> str:
    """What the form will show of a text that is typed into a field."""
    return _shown(shop, shop.intake[field], _value(shop, shop.intake[field], text.strip()[:LONGEST]))


def measured_changes(desk: Desk, asked: Asked, fields: Mapping[str, str]) -> dict[Path, object]:
    """What was typed into the fields of the intake, as changes of the job file; blank is assumed again."""
    given = asked.toml.values.get("instrument", {})
    changes: dict[Path, object] = {}
    for name, text in fields.items():
        field = name.removeprefix("m.")
        if name == field or field not in desk.shop.intake:
            continue
        text, spec = text.strip()[:LONGEST], desk.shop.intake[field]
        if text != _shown(desk.shop, spec, given.get(field)):
            written = _value(desk.shop, spec, text) if text else None
            _refuse_mm(spec, text, written)
            changes["instrument", field] = written
    return changes


def _value(shop: Shop, spec: IntakeField, text: str) -> object:
    """What is written into the job file; a bare length has the unit of the shop, in which it was asked for."""
    if spec.kind == "yes-no":
        return {"yes": True, "no": False}.get(text, text)
    if spec.kind == "list":
        return text.replace(",", " ").split()
    if spec.kind == "length" and shop.lengths != "mm" and _BARE.fullmatch(text):
        return f"{text.replace(',', '.')} {shop.lengths}"
    if spec.kind == "money":
        try:
            return whole_or_decimal(read_sum(text, shop.terms.currency))
        except CellError:  # said with its row when the changed file is read
            return text
    if spec.kind in ("choice", "text") or not _NUMBER.fullmatch(text):
        return text
    return whole_or_decimal(Decimal(text.replace(",", ".")))


def whole_or_decimal(number: Decimal) -> int | Decimal:
    """A number as a job file is to show it: whole where it is whole."""
    return int(number) if number == number.to_integral_value() else number


def _refuse_mm(spec: IntakeField, text: str, written: object) -> None:
    """InputError for a bare figure that can be in mm alone, where lengths are asked for in inches."""
    if not isinstance(written, str) or written == text or not written.endswith(" in"):
        return
    in_mm = f"{written.removesuffix(' in')} mm"
    try:
        read_intake(written, spec)
    except CellError as error:
        with suppress(CellError):
            read_intake(in_mm, spec)
            step = f"write “{in_mm}” if mm are meant, else measure again in inches"
            accepted = lengths_as_read(error.accepted, "in")
            raise refusal(spec.id, error.problem, f"“{written}”", accepted, step) from None


class First(Struct, frozen=True):
    """A measurement worth taking first."""

    field: str
    what: str
    how: str
    assumed: str
    could_be: str
    worth: str
    changes: str


def measure_first(desk: Desk, asked: Asked, most: int = 6) -> tuple[First, ...]:
    """The measurements worth most now, as ``estimator measure`` ranks them."""
    choice = desk.answers.choice(asked.values, asked.job, asked.entries.aim)
    currency, lengths = desk.shop.terms.currency, desk.shop.lengths

    def read(words: str) -> str:
        return lengths_as_read(words, lengths)

    return tuple(
        First(
            w.field,
            read(sentence_case(w.what)),
            read(w.how),
            read(w.assumed),
            read(w.could_be),
            money(w.worth, currency) if w.worth else "",
            read(w.changes),
        )
        for w in look_into(choice).worths[:most]
    )


def kinds_of_instrument(shop: Shop) -> tuple[tuple[str, str], ...]:
    """Kinds and templates that a new job may begin from, in words."""
    kinds = shop.intake["kind"].choices

    def named(name: str, words: str) -> str:
        return sentence_case(words if name in kinds else f"{name.partition('-')[0]}, {words}")

    return tuple((name, named(name, words)) for name, words in kinds_in_words(shop).items())


class OfASale(Struct, frozen=True):
    """What is asked of an instrument that is to be sold, and what is assumed where that is left blank."""

    field: str
    what: str
    blank: str
    choices: tuple[tuple[str, str], ...]


def asked_of_a_sale(shop: Shop) -> tuple[OfASale, ...]:
    """What the answers on a sale turn on."""
    tier = shop.intake["tier"].default_guitar
    found = []
    for field, (what, blank) in SALE.items():
        words = f"{what}, {shop.terms.currency}" if shop.intake[field].kind == "money" else what
        classes = tuple((row.id, f"{row.id}, {row.what}") for row in shop.resale.tiers.values())
        choices = classes if field == "tier" else ()
        found.append(OfASale(field, words, f"blank: {blank.format(tier=tier)}", choices))
    return tuple(found)


def _of_a_sale(shop: Shop, field: str, text: str) -> str:
    """What was typed for a field on which a sale turns, as TOML writes it; blank is assumed."""
    typed = " ".join(text.split())[:LONGEST]
    try:
        return as_typed(shop, field, typed) if typed else ""
    except CellError as error:
        what = shop.intake[field].what
        raise refusal(what, error.problem, shown(typed), error.accepted, error.next_step) from None


def new_job_text(shop: Shop, fields: Mapping[str, str]) -> tuple[str, str]:
    """Name and text of a new job file from what was typed; a name in words is joined by dashes."""
    typed_name, kind = fields.get("name", "").strip(), fields.get("kind", "own")
    name = id_from(typed_name) if _IN_WORDS.fullmatch(typed_name) else typed_name
    if kind not in JOB_KINDS:
        raise refusal("kind", "no kind of job", shown(kind), ", ".join(JOB_KINDS), "choose one")
    seen = {field: text for field in SALE if (text := _of_a_sale(shop, field, fields.get(f"m.{field}", "")))}
    instrument = default_job(shop, fields.get("instrument", ""), name or NAME, seen=seen, whose=kind)
    text = job_text(shop, instrument, fields_that_matter(shop, instrument, ()), NAME)
    changes: dict[Path, object] = {("job", "id"): name}
    for key in ("what", "customer"):
        typed = " ".join(fields.get(key, "").split())[:LONGEST]
        if typed:
            changes["job", key] = typed
    told = edited(text, changes, f"{name}.toml")
    job_from(parse_toml(told.encode(), f"{name}.toml"), shop)
    return name, told
