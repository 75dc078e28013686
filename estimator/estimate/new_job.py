"""A fresh job file and measuring sheet for a kind of instrument and the upgrades one has in mind."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from textwrap import wrap

from estimator.core.errors import (
    InputError,
    Issue,
    Origin,
    as_accepted,
    near_miss,
    refused_word,
    shown,
    visible,
)
from estimator.core.text import BASS, instrument_words
from estimator.core.units import lengths_as_read, unit_as_read, unit_example, written_length
from estimator.estimate.said import Said, wished_lines
from estimator.estimate.sale_terms import clean_price, field_text
from estimator.fit.candidates import all_upgrades, names
from estimator.fit.judge import judge
from estimator.fit.triage import QUESTIONS
from estimator.input.job.load import job_from
from estimator.model import IntakeField, Job, Reading, Shop, Upgrade, UpgradeRow
from estimator.model.column import section_of
from estimator.tables.cells import CellError
from estimator.tables.conditions import holds
from estimator.tables.faults import asked_of
from estimator.tables.fretless import fretless_issue, says_fretless
from estimator.tables.intake import TEMPLATE
from estimator.tables.likely import likely_range
from estimator.tables.quantities import read_intake
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import quoted, toml_text

#: columns of the printable sheet, and where its words begin
WIDE, INDENT = 100, 43
#: what a job is called that has no name yet
NAME = "new-job"
#: always worth writing down, whatever is planned
ALWAYS = ("kind", "tier", "body_wood", "corrosion", "weight_g")
#: what is asked of an instrument that is to be sold, and what is assumed where that is left blank
SALE = {
    "tier": ("Price class when new", "class {tier} is assumed"),
    "base_clean": (
        "What such an instrument brings here, clean and working: the middle of three recent sales",
        "the middle of its price class is assumed",
    ),
    "ask": ("What was paid for it, else what is asked", "nothing is counted for buying it"),
}


def default_job(
    shop: Shop,
    kind: str,
    name: str = NAME,
    wanted: Collection[str] = (),
    seen: Mapping[str, str] | None = None,
    whose: str = "own",
) -> Job:
    """A job on an instrument of which nothing is known but its kind, and that it can have what is ``wanted``.

    A wanted upgrade says what it is done on (a post bridge stands on posts): that is then known, and the
    defaults follow it. ``seen``: fields with what was seen, as TOML writes it. ``whose``: the kind of job.
    InputError for an unknown kind.
    """
    kinds = shop.intake["kind"].choices
    templates = (
        [name for name in shop.intake[TEMPLATE].choices if name != "none"] if TEMPLATE in shop.intake else []
    )
    if says_fretless(kind):
        raise InputError(fretless_issue(Origin("--kind"), shown(kind)))
    kind = as_accepted(kind, (*kinds, *templates))
    head = f'[job]\nid = "{name}"\nkind = "{whose}"\n[instrument]'
    if kind in templates:
        return _job_on(shop, f'{head}\ntemplate = "{kind}"', name, seen or {})
    if kind not in kinds:
        raise refused_word("--kind", "no kind of instrument of this name", kind, (*kinds, *templates))
    said, head = dict(seen or {}), f'{head}\nkind = "{kind}"'
    job = _job_on(shop, head, name, said)
    family = job.family
    held: list[str] = []
    for row in _rows_of(shop, wanted):
        if row.instruments not in ("any", family):
            continue
        if not holds(row.when, job.instrument):
            for field, value in (*_words_to_say(shop, said), *_ends_to_say(shop, said, family == BASS)):
                other = _job_on(shop, head, name, {**said, field: value})
                if all(holds(when, other.instrument) for when in (*held, row.when)):
                    job, said = other, {**said, field: value}
                    break
        if holds(row.when, job.instrument):
            held.append(row.when)
    return job


def kinds_in_words(shop: Shop) -> dict[str, str]:
    """Kinds and templates that a new job may begin from, and what each is in words."""
    kinds = {
        kind: f"{instrument_words(kind).lower()}, none of those below" for kind in shop.intake["kind"].choices
    }
    return kinds | (dict(shop.intake[TEMPLATE].in_words) if TEMPLATE in shop.intake else {})


def _job_on(shop: Shop, head: str, name: str, said: Mapping[str, str]) -> Job:
    text = "\n".join([head, *(f"{field} = {value}" for field, value in said.items())])
    return job_from(parse_toml(f"{text}\n".encode(), f"{name}.toml"), shop)


def _rows_of(shop: Shop, wanted: Collection[str]) -> Iterator[UpgradeRow]:
    """The rows of the upgrades named, alone or with the variant of a part."""
    for name in wanted:
        rows = [row for row in shop.upgrades.values() if row.may_mean(name)]
        if rows:
            yield max(rows, key=lambda row: len(row.id))


def _ends_to_say(shop: Shop, said: Collection[str], is_bass: bool) -> Iterator[tuple[str, str]]:
    """Both ends of what is likely of every length that hangs on no other: a nut is low, a neck wide."""

    def of_no_other(name: str) -> Decimal:
        raise CellError(f"hangs on {name}", "numbers alone")

    for spec in shop.intake.values():
        if spec.kind != "length" or spec.id in said:
            continue
        with suppress(CellError):
            yield from ((spec.id, toml_text(end)) for end in likely_range(spec, of_no_other, is_bass) or ())


def _words_to_say(shop: Shop, said: Collection[str]) -> Iterator[tuple[str, str]]:
    """Every word of every field, as TOML writes it, and of what is counted one and none."""
    for spec in shop.intake.values():
        if spec.id == "kind" or spec.id in said:
            continue
        if spec.kind == "yes-no":
            yield from ((spec.id, word) for word in ("true", "false"))
        elif spec.choices:
            yield from ((spec.id, toml_text(word)) for word in spec.choices)
        elif spec.kind in ("count", "number"):
            low, high = spec.accepted_low or Decimal(0), spec.accepted_high
            one = max(low, Decimal(1)) if high is None or high >= 1 else high
            yield from ((spec.id, toml_text(number)) for number in (one, low))


def fields_that_matter(shop: Shop, job: Job, wanted: Collection[str]) -> tuple[IntakeField, ...]:
    """Intake fields that decide fit, time or today's level for the upgrades named (none named: all of them).

    Section by section, in the order of the intake table. InputError names upgrades that are not known.
    """
    upgrades = all_upgrades(shop, job)
    known = {u.id for u in upgrades} | {u.row.id for u in upgrades}
    unknown = [name for name in wanted if name not in known]
    if unknown:
        raise InputError(
            Issue(
                Origin("--for"),
                "no upgrade of this name can be done on this kind of instrument",
                f"“{name}”",
                near_miss(name, known) or "an id of upgrades.csv",
            )
            for name in unknown
        )
    chosen = [u for u in upgrades if not wanted or any(names(u, name) for name in wanted)]
    fields = set(ALWAYS) | {name for name, reading in job.instrument.items() if not reading.assumed}
    if job.kind == "resale":
        fields |= SALE.keys() & shop.intake.keys()
    for upgrade in chosen:
        fields |= _looked_at(shop, job, upgrade)
    if not wanted:
        # where nothing is said of what is planned: all that the checks at a seller's look at
        fields |= {field for check in shop.resale.checks.values() for field in check.told_by}
        fields |= {question.replace("-", "_") for question in QUESTIONS}
        fields |= set(asked_of(shop.faults, job.instrument))
    return by_section(shop, fields)


def fields_of_faults(shop: Shop, job: Job) -> tuple[IntakeField, ...]:
    """Intake fields that show what is wrong: a fault is a fault, whatever work is planned."""
    return by_section(shop, asked_of(shop.faults, job.instrument))


def by_section(shop: Shop, fields: Collection[str]) -> tuple[IntakeField, ...]:
    """The fields of these names, section by section, in the order of the intake table."""
    named = [spec for spec in shop.intake.values() if spec.id in fields]
    sections = list(dict.fromkeys(spec.section for spec in named))
    return tuple(sorted(named, key=lambda spec: sections.index(spec.section)))


def _looked_at(shop: Shop, job: Job, upgrade: Upgrade) -> set[str]:
    from estimator.estimate.assumed import fields_touching

    verdict = judge(shop, job, upgrade)
    looked = {value.name for finding in verdict.findings for value in finding.used}
    for demand in verdict.demands:
        looked |= set(fields_touching(shop.tasks[demand.task], demand))
    effects = shop.upgrade_effects.get(upgrade.row.id, ())
    raised = {e.attribute for e in effects}
    raised |= {e.attribute for d in verdict.demands for e in shop.task_effects.get(d.task, ())}
    looked |= {shop.attributes[name].intake_field for name in raised}
    looked |= {sign.field for sign in shop.attribute_signs if sign.attribute in raised}
    return looked & set(shop.intake)


def job_text(shop: Shop, job: Job, fields: Iterable[IntakeField], name: str, said: Said | None = None) -> str:
    """A commented job file: every field that matters with what it is, how it is measured and the default."""
    lines = [
        "# Fill in what you measured and take the # away; what stays commented out is assumed.",
        *_of_lengths(shop.lengths),
        "",
        "[job]",
        f'id = "{name}"',
        f'kind = "{job.kind}"'.ljust(31) + "# commission | resale | own",
        f"what = {toml_text(said.what)}"
        if said and said.what
        else '# what = "what is wanted, in a few words"',
        *([f"# said to be wrong: {visible(said.words)}"] if said and said.wish and said.words else []),
        *([f"wanted_by = {said.wanted_by}"] if said and said.wanted_by else []),
        *([f"said_wrong = {toml_text(tuple(said.to_measure()))}"] if said and said.to_measure() else []),
        "",
        "[instrument]",
        f'kind = "{job.instrument["kind"].value}"',
    ]
    if TEMPLATE in job.instrument and not job.instrument[TEMPLATE].assumed:
        template = job.instrument[TEMPLATE].value
        lines.append(f'{TEMPLATE} = "{template}"'.ljust(32) + "# whose usual sizes are assumed below")
    section = ""
    for spec in fields:
        if spec.id in ("kind", TEMPLATE):
            continue
        if spec.section != section:
            section = spec.section
            lines += ["", f"# --- {section}"]
        lines.append(_field_line(shop, spec, reading_of(shop, job, spec.id)))
    lines += (
        ["", *wished_lines(said)]
        if said and (said.require or said.profile or said.money or said.keeps)
        else [
            "",
            "[wish]",
            '# profile = "student"         # ' + " | ".join(shop.profiles),
            "# require = { nut-function = 3 }",
            "",
            "[budget]",
            "# money = 150",
            '# on = "cash"                 # cash | cost | price',
        ]
    )
    lines += [
        "",
        "# [[part]]                    # a particular part, beside the shop's own of its class",
        '# id = "mine"',
        '# class = "p-nutcut"          # a class of part_classes.csv',
        "# price = 12",
        "# only = true                 # leave the shop's own parts of this class out of the choice",
        "",
    ]
    return "\n".join(lines)


def _of_lengths(shown: str) -> Iterator[str]:
    """How lengths are written: a bare figure is mm in any shop's job file."""
    if shown == "in":
        yield '# Write a length with its unit: "1 3/4 in", "0.022 in". A bare figure is mm.'
    else:
        yield '# Lengths are mm unless you write a unit: 44.5, "1 3/4 in".'


def reading_of(shop: Shop, job: Job, field: str) -> Reading:
    """What was read or is assumed: of what such an instrument brings, the middle of its price class."""
    reading = job.instrument[field]
    if field == "base_clean" and reading.assumed and field_text(job, "tier") in shop.resale.tiers:
        return Reading(clean_price(shop, job)[0].normalize(), True)
    return reading


def unit_said(shop: Shop, spec: IntakeField) -> str:
    """The unit of a field as it is asked for: the shop's currency, and its unit of lengths."""
    return shop.terms.currency if spec.kind == "money" else unit_as_read(spec.unit, shop.lengths)


def as_typed(shop: Shop, field: str, text: str) -> str:
    """What somebody typed for a field, as TOML writes it; CellError where it cannot be read or cannot be."""
    return toml_text(read_intake(text, shop.intake[field], shop.terms.currency))


def _field_line(shop: Shop, spec: IntakeField, reading: Reading) -> str:
    value, shown = toml_text(reading.value), shop.lengths
    if spec.unit == "mm" and shown != "mm" and isinstance(reading.value, Decimal):
        value = quoted(written_length(reading.value, shown, exactly=not reading.assumed))
    unit = f" {shop.terms.currency if spec.kind == 'money' else spec.unit}".rstrip()
    accepted = ""
    if spec.choices:
        accepted = "; " + " | ".join(spec.choices)
    elif spec.accepted_low is not None and spec.accepted_high is not None:
        accepted = f"; {spec.accepted_low.normalize():f} to {spec.accepted_high.normalize():f}{unit}"
    how = f" ({spec.how})" if spec.how else ""
    mark = "# " if reading.assumed else ""
    told = lengths_as_read(f"{spec.what}{how}{accepted}", shown)
    return f"{mark}{spec.id} = {value}".ljust(31) + f" # {told}"


STAGE_WORDS = {
    "first": "First: what it is",
    "strung": "Strung, at pitch",
    "strings-off": "Strings off",
    "guard-off": "Guard or cover off",
    "neck-off": "Neck off",
}
"""The stages of a measuring sheet in their order: each thing is measured once the one before is done."""
STAR_PCT = Decimal(15)
SHEET_ROWS = (
    ("job:customer", "customer"),
    ("job:phone", "telephone"),
    ("job:make", "make and model as they stand on it"),
    ("job:serial", "serial number"),
    ("job:what", "what is wanted, in a few words"),
    ("job:id", "job number: lower-case words joined by dashes"),
    ("job:kind", "commission, resale or own"),
    ("job:received", "received (year-month-day)"),
    ("job:wanted_by", "wanted by (year-month-day)"),
    ("wish:profile", "kind of wish: gigging-player, student, recording, showpiece or resale-ready"),
    ("budget:money", "most money"),
    ("budget:hours", "most hours at the bench"),
    ("budget:worth", "what it will ever bring"),
)
"""What stands before the measures on a measuring sheet: section and key of the job file, and its words."""


FIGURE = (
    "Figure: where the caliper goes at each letter, seen from the front or from the side, is drawn on the sheet that "
    "new --sheet FILE.xlsx writes; the letters are the same."
)


def by_stage(shop: Shop, fields: Iterable[IntakeField]) -> list[tuple[str, tuple[IntakeField, ...]]]:
    """The fields stage by stage, in their order; stages with nothing to measure are left out."""
    asked = sorted(fields, key=lambda spec: spec.id not in ALWAYS)
    found = (
        (words, tuple(f for f in asked if shop.drawn.stage(f.id, f.section) == stage))
        for stage, words in STAGE_WORDS.items()
    )
    return [(words, held) for words, held in found if held]


def is_starred(spec: IntakeField) -> bool:
    """Whether a wrong value would often make a part not fit: then it moves money."""
    return spec.fit_chance_pct >= STAR_PCT


def judged_attributes(shop: Shop) -> list[str]:
    """Attributes whose level may be judged at the bench."""
    return [name for name, row in shop.attributes.items() if row.kind == "level"]


def known_of(job: Job | None, key: str) -> str:
    """What a job says already of a row that stands before the measures."""
    if job is None:
        return ""
    section, _, name = key.partition(":")
    found, kind = next(
        (getattr(record, field), column.kind)
        for record in (job, job.labels, job.budget)
        for field, column in section_of(type(record), section)
        if column.name == name
    )
    if kind == "hours" and found is not None:
        found /= 60
    return "" if found is None else f"{found.normalize():f}" if isinstance(found, Decimal) else str(found)


def _brackets(written: str, unit: str = "") -> str:
    """A place to write in, with what is known already, and its unit; the words begin at one column behind it."""
    return f"[{written:_<8}] {unit}".rstrip().ljust(19)


def _said_of(job: Job, spec: IntakeField) -> str:
    """What was said of a field, as it may be written into its brackets; blank where nobody said anything."""
    reading = job.instrument.get(spec.id)
    if reading is None or reading.assumed:
        return ""
    value = reading.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f} {spec.unit if spec.kind == 'length' else ''}".strip()
    return " ".join(value) if isinstance(value, tuple) else value


def sheet_text(shop: Shop, job: Job, fields: Iterable[IntakeField]) -> str:
    """A measuring sheet to print or to type into, stage by stage: what stands in the brackets is read back."""
    lines = [
        f"Measuring sheet, {job.instrument['kind'].value}",
        "Write into the brackets; leave blank what was not measured. A unit may stand with it "
        f"({unit_example(shop.lengths)}),",
        "a doubt is marked with ?. A star marks what most often decides whether a part fits.",
        "",
    ]
    for key, label in SHEET_ROWS:
        head, *rest = wrap(label, WIDE - INDENT, break_on_hyphens=False)
        lines += [
            f"  {key:<20} {_brackets(known_of(job, key))} {head}",
            *(" " * INDENT + line for line in rest),
        ]
    figured = False
    for stage, held in by_stage(shop, fields):
        lines += ["", stage]
        for spec in held:
            unit = unit_said(shop, spec) or ("yes / no" if spec.kind == "yes-no" else "")
            how = f"  ({spec.how})" if spec.how else ""
            place = shop.drawn.calipers.get(spec.id)
            figure = f"figure {place.letter}, {place.view}: " if place else ""
            figured |= place is not None
            words = wrap(
                lengths_as_read(f"{figure}{spec.what}{how}", shop.lengths),
                WIDE - INDENT,
                break_on_hyphens=False,
            )
            star = "*" if is_starred(spec) else " "
            lines.append(f"{star} {spec.id:<20} {_brackets(_said_of(job, spec), unit)} {words[0]}")
            choices = wrap(" | ".join(spec.choices), WIDE - INDENT, break_on_hyphens=False)
            lines.extend(" " * INDENT + more for more in (*words[1:], *choices))
    if figured:
        lines += ["", *wrap(FIGURE, WIDE, break_on_hyphens=False)]
    lines += ["", "Judged at the bench: 0 bad to 4 as good as it gets"]
    lines += [f"  level:{name:<22} [________]" for name in judged_attributes(shop)]
    return "\n".join(lines) + "\n"
