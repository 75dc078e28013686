"""Checks of intake fields and dimensions of parts: ranges, words, defaults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from estimator.core.errors import Issue, Origin, shown, unknown_word
from estimator.model import IntakeField
from estimator.model.plausible import pairs_in
from estimator.tables.cells import CellError, plain
from estimator.tables.checks.context import Tables
from estimator.tables.intake import Defaults, default_text
from estimator.tables.likely import likely_range, likely_text, likely_words
from estimator.tables.quantities import outside_accepted, read_intake
from estimator.tables.records import by_id, plain_record


def ranges_in_order(tables: Tables) -> Iterator[Issue]:
    """hard_low <= accepted_low <= accepted_high <= hard_high."""
    names = ("hard_low", "accepted_low", "accepted_high", "hard_high")
    for row in tables["intake"]:
        numbers = [row.values[name] for name in names if row.values[name] is not None]
        if numbers != sorted(numbers):
            yield Issue(
                row.origin.at("accepted_low"),
                "limits out of order",
                ", ".join(map(plain, numbers)),
                " <= ".join(names),
                "look whether two of them are swapped",
            )


def choices_listed(tables: Tables) -> Iterator[Issue]:
    """Fields and dimensions of kind choice list their words."""
    for table in ("intake", "part_dimensions"):
        for row in tables[table]:
            if row.values["kind"] == "choice" and not row.values["choices"]:
                yield Issue(
                    row.origin.at("choices"),
                    "a choice without words",
                    "",
                    "the accepted words parted by blanks",
                    "list them",
                )


def defaults_readable(tables: Tables) -> Iterator[Issue]:
    """Every default can be worked out, by its kind, for guitar and bass, and lies in the accepted range."""
    specs = by_id(tables["intake"], plain_record(IntakeField))
    for is_bass, column in ((False, "default_guitar"), (True, "default_bass")):
        defaults = Defaults(specs, {}, is_bass)
        for spec in specs.values():
            if is_bass and not spec.default_bass and spec.default_guitar.replace(".", "").isdigit():
                continue
            where = spec.origin.at(
                column if default_text(spec, is_bass) != spec.default_guitar else "default_guitar"
            )
            found = shown(default_text(spec, is_bass))
            try:
                value = defaults.value(spec.id)
            except CellError as error:
                yield Issue(
                    where,
                    f"a default that cannot be used: {error.problem}",
                    found,
                    error.accepted,
                    error.next_step,
                )
                continue
            if isinstance(value, Decimal) and (accepted := outside_accepted(value, spec)):
                yield Issue(
                    where,
                    "a default outside the accepted range",
                    f"{found}, that is {plain(value)}",
                    accepted,
                    "change the default or the range",
                )


def templates_readable(tables: Tables) -> Iterator[Issue]:
    """What a template says of a field can be read as a value of it, and lies in the accepted range."""
    specs = by_id(tables["intake"], plain_record(IntakeField))
    for row in tables["templates"]:
        spec, text = specs.get(row.values["field"]), row.values["value"]
        if spec is None or (spec.kind == "choice" and not spec.choices):
            continue
        yield from _usual(row.origin.at("value"), text, spec)


def together_readable(tables: Tables) -> Iterator[Issue]:
    """What goes together names fields that there are, a word that is accepted and values that can be read."""
    specs = by_id(tables["intake"], plain_record(IntakeField))
    for row in tables["goes_together"]:
        said = (("word", row.values["field"], row.values["word"]),)
        beside = (("beside", *pair) for pair in pairs_in(row.values["beside"]))
        for column, name, word in (*said, *beside):
            yield from _word_accepted(row.origin.at(column), name, word, specs)
        for name, text in pairs_in(row.values["assumes"]):
            if name not in specs:
                yield unknown_word(row.origin.at("assumes"), "no intake field has this name", name, specs, "")
                continue
            yield from _usual(row.origin.at("assumes"), text, specs[name])


def _word_accepted(where: Origin, name: str, word: str, specs: Mapping[str, IntakeField]) -> Iterator[Issue]:
    """What is wrong with a condition: no such field, or a word that it never holds."""
    field = specs.get(name)
    if field is None:
        if where.column == "beside":  # that of the column field is said by the check of its names
            yield unknown_word(where, "no intake field has this name", name, specs, "")
    elif field.kind == "count":
        yield from _usual(where, word, field)
    elif word not in field.choices:
        accepted = ", ".join(field.choices) or "a field that holds a word or a count"
        yield Issue(where, "a word that is not accepted there", shown(word), accepted)


def _usual(where: Origin, text: str, spec: IntakeField) -> Iterator[Issue]:
    """What is wrong with a usual value of a field: it cannot be read, or lies outside the accepted range."""
    try:
        value = read_intake(text, spec)
    except CellError as error:
        yield Issue(where, f"{spec.id}: {error.problem}", shown(text), error.accepted, error.next_step)
        return
    if isinstance(value, Decimal) and (accepted := outside_accepted(value, spec)):
        yield Issue(
            where,
            f"{spec.id}: a usual size outside the accepted range",
            shown(text),
            accepted,
            "change the size or the range",
        )


def likely_readable(tables: Tables) -> Iterator[Issue]:
    """What a field may turn out to be can be worked out, and the value assumed is among it."""
    specs = by_id(tables["intake"], plain_record(IntakeField))
    for is_bass, column in ((False, "likely_guitar"), (True, "likely_bass")):
        defaults = Defaults(specs, {}, is_bass)

        def number(name: str, defaults: Defaults = defaults) -> Decimal:
            value = defaults.value(name) if name in specs else None
            if not isinstance(value, Decimal):
                raise CellError(f"{name} holds no number", "intake fields that are numbers")
            return value

        for spec in specs.values():
            text = likely_text(spec, is_bass)
            if not text or (is_bass and not spec.likely_bass and not spec.default_bass):
                continue
            where = spec.origin.at(column if is_bass and spec.likely_bass else "likely_guitar")
            try:
                ends = likely_range(spec, number, is_bass)
                values = likely_words(spec, is_bass)
            except CellError as error:
                yield Issue(where, error.problem, shown(text), error.accepted, error.next_step)
                continue
            try:
                assumed = defaults.value(spec.id)
            except CellError:
                continue  # said of the default itself
            inside = ends[0] <= assumed <= ends[1] if ends and isinstance(assumed, Decimal) else True
            if values and assumed not in values and isinstance(assumed, Decimal):
                inside = False
            if not inside:
                yield Issue(
                    where,
                    "the value assumed is not among what is likely",
                    f"{shown(text)}, assumed is {plain(assumed) if isinstance(assumed, Decimal) else assumed}",
                    "likely values that hold the default",
                    "change the default or the likely values",
                )
