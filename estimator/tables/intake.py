"""What is assumed of an instrument until it is measured: the defaults of the intake fields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from estimator.core.expressions import Expression, ExpressionError
from estimator.model import GoesTogether, IntakeField
from estimator.tables.cells import CellError, parsed
from estimator.tables.quantities import NUMBER_KINDS, Value, read_intake

KIND = "kind"
"""The intake field that tells a guitar from a bass, whose usual sizes differ."""
TEMPLATE = "template"
"""The intake field that names the kind whose usual sizes stand in for what nobody measured."""
COUNTED = {"pickup_n": ("pu_neck", "pu_middle", "pu_bridge")}
"""Fields that count others which are not ``none``; where none of these was said they have their own default."""
PART_OF = {
    "refinish_cm2": "skin_cm2",
    "touch_cm2": "skin_cm2",
    "shield_cm2": "cav_skin_cm2",
    "foil_cm2": "guard_cm2",
}
"""Areas that are a part of another one: what is worked on, beside all there is of it."""
NONE = "none"


def default_text(spec: IntakeField, is_bass: bool, template: str = "") -> str:
    """The default of a field as it stands in the tables: of the template, else of the family.

    A blank bass default means as on a guitar.
    """
    of_kind = dict(spec.by_template).get(template)
    if of_kind is not None:
        return of_kind
    return spec.default_bass if is_bass and spec.default_bass else spec.default_guitar


def kind_said(specs: Mapping[str, IntakeField], given: Mapping[str, Value]) -> str:
    """The kind of instrument: as said, else that of its template."""
    if KIND in given or KIND not in specs:
        return str(given.get(KIND, ""))
    return default_text(specs[KIND], False, str(given.get(TEMPLATE, "")))


def movers(
    specs: Mapping[str, IntakeField], together: Iterable[GoesTogether]
) -> Mapping[str, frozenset[str]]:
    """Which answers move which defaults: for each field those that may be assumed otherwise once it is known.

    What hangs on the answer by way of another default is among them.
    """
    direct: dict[str, set[str]] = {}
    for mover, moved in _looked_at(specs, tuple(together)):
        direct.setdefault(mover, set()).add(moved)
    return {name: frozenset(_beyond(name, direct) - {name}) for name in direct}


def _looked_at(
    specs: Mapping[str, IntakeField], together: tuple[GoesTogether, ...]
) -> Iterator[tuple[str, str]]:
    """Pairs of a field and one whose default looks at it."""
    for spec in specs.values():
        of_templates = [text for _, text in spec.by_template]
        for text in (spec.default_guitar, spec.default_bass, *of_templates):
            total = _as_sum(text, specs)
            yield from ((name, spec.id) for name in (total.names if total else ()))
        yield KIND, spec.id
        yield TEMPLATE, spec.id
    for row in together:
        yield from ((said, assumed) for said in row.conditions for assumed in row.assumes)
    for total_of, fields in COUNTED.items():
        yield from ((field, total_of) for field in fields)


def _beyond(name: str, direct: Mapping[str, set[str]]) -> set[str]:
    """All that is reached from a field, step by step."""
    found: set[str] = set()
    pending = [name]
    while pending:
        fresh = direct.get(pending.pop(), set()) - found
        found |= fresh
        pending.extend(fresh)
    return found


def _as_sum(text: str, specs: Mapping[str, IntakeField]) -> Expression | None:
    """A default that is a small sum over other fields; None where it is a value, as most are."""
    if not any(character.isalpha() for character in text) or "," in text:
        return None
    try:
        expression = parsed(text)
    except ExpressionError:
        return None
    return expression if all(name in specs for name in expression.names) else None


class Defaults:
    """Works out defaults, some of which are sums over other fields (``2 * face_cm2``).

    ``given`` holds the values known already; what goes with a word among them (``together``) is assumed in
    place of the usual default; of several rows the one with the most conditions holds, of these the first.
    What a row assumes is as good as said for the rows after it: twelve strings, so no tremolo, so no springs.
    ``value`` raises CellError where a default cannot be worked out; KeyError never reaches the caller.
    """

    def __init__(
        self,
        specs: Mapping[str, IntakeField],
        given: Mapping[str, Value],
        is_bass: bool,
        together: Iterable[GoesTogether] = (),
    ) -> None:
        self._specs, self._is_bass = specs, is_bass
        self._known: dict[str, Value] = dict(given)
        self._template = str(given.get(TEMPLATE, ""))
        family = "bass" if is_bass else "guitar"
        # the narrowest first: a word beside a count says more than either of them alone
        rows = sorted(
            (row for row in together if row.instruments in ("any", family)), key=lambda row: -len(row.beside)
        )
        self._alone = {
            field: text
            for row in reversed(rows)
            if not row.beside and self._known.get(row.field) == row.word
            for field, text in row.assumes.items()
        }
        self._together: dict[str, str] = {}
        self._of_kind: dict[str, str] = {}
        for row in rows:
            held = [self._word(name) == word for name, word in row.conditions.items()]
            if not all(held):
                continue
            if any(name in given or name in self._together for name in row.conditions):
                self._together = {**row.assumes, **self._together}
            elif any(self._of_template(name) is not None for name in row.conditions):
                # what goes with the words of a template stands behind what the template says itself
                self._of_kind = {**row.assumes, **self._of_kind}
        self._counted = {
            total: fields for total, fields in COUNTED.items() if any(field in given for field in fields)
        }
        self._under_way: list[str] = []

    def _of_template(self, name: str) -> str | None:
        """What the template says of a field, if anything."""
        return dict(self._specs[name].by_template).get(self._template) if name in self._specs else None

    def _word(self, name: str) -> str:
        """What is known of a field as a word: said, gone with what was said, of the template, else usual."""
        if name in self._known:
            return str(self._known[name])
        if name in self._together:
            return self._together[name]
        if name in self._alone and self._of_template(name) is None:
            return self._alone[name]
        return default_text(self._specs[name], self._is_bass, self._template) if name in self._specs else ""

    def value(self, name: str) -> Value:
        """The given value of a field, or its default."""
        if name in self._known:
            return self._known[name]
        if name in self._under_way:
            circle = " -> ".join([*self._under_way[self._under_way.index(name) :], name])
            raise CellError(f"defaults go round in a circle: {circle}", "a default that does not need itself")
        self._under_way.append(name)
        try:
            self._known[name] = self._work_out(self._specs[name])
        finally:
            self._under_way.pop()
        return self._known[name]

    def _work_out(self, spec: IntakeField) -> Value:
        if spec.id in self._counted:
            return Decimal(sum(self.value(field) != NONE for field in self._counted[spec.id]))
        text = self._together.get(spec.id, "")
        if not text and self._template not in dict(spec.by_template):
            text = self._of_kind.get(spec.id, "")
        text = text or default_text(spec, self._is_bass, self._template)
        if spec.kind not in NUMBER_KINDS:
            if not text and spec.kind == "list":
                return ()
            return read_intake(text, spec) if text or spec.kind != "text" else ""
        total = _as_sum(text, self._specs)
        return read_intake(total.value(self._number) if total else text, spec)

    def _number(self, name: str) -> Decimal:
        value = self.value(name)
        if not isinstance(value, Decimal):
            raise CellError(f"{name} holds no number", "intake fields that are numbers")
        return value
