"""What is assumed of an instrument until it is measured: the defaults of the intake fields."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal

from estimator.core.expressions import ExpressionError
from estimator.model import GoesTogether, IntakeField
from estimator.tables.cells import CellError, parsed
from estimator.tables.quantities import NUMBER_KINDS, Value, read_intake

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
_WORD = re.compile(r"\w+")


def default_text(spec: IntakeField, is_bass: bool, template: str = "") -> str:
    """The default of a field as it stands in the tables: of the template, else of the family.

    A blank bass default means as on a guitar.
    """
    of_kind = dict(spec.by_template).get(template)
    if of_kind is not None:
        return of_kind
    return spec.default_bass if is_bass and spec.default_bass else spec.default_guitar


def bearing_on_defaults(
    specs: Mapping[str, IntakeField], together: Iterable[GoesTogether] = ()
) -> frozenset[str]:
    """The fields of which the default of another may be made; rather too many than one too few.

    They stand in a default or in the condition of what goes together, are counted, or name the template.
    """
    rows = tuple(together)
    texts = [text for row in rows for text in row.pairs.values()]
    for spec in specs.values():
        texts += (spec.default_guitar, spec.default_bass, *(text for _, text in spec.by_template))
    words = {word for text in texts for word in _WORD.findall(text)}
    words.update(name for row in rows for name in row.conditions)
    words.update(field for fields in COUNTED.values() for field in fields)
    return frozenset(words & specs.keys()) | {TEMPLATE}


class Defaults:
    """Works out defaults, some of which are sums over other fields (``2 * face_cm2``).

    ``given`` holds the values known already; what goes with a word among them (``together``) is assumed in
    place of the usual default; of several rows the one with the most conditions holds, of these the first.
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
        self._together: dict[str, str] = {}
        self._of_kind: dict[str, str] = {}
        for row in rows:
            held = [self._word(name) == word for name, word in row.conditions.items()]
            if not all(held):
                continue
            if any(name in given for name in row.conditions):
                self._together = {**row.pairs, **self._together}
            elif any(self._of_template(name) is not None for name in row.conditions):
                # what goes with the words of a template stands behind what the template says itself
                self._of_kind = {**row.pairs, **self._of_kind}
        self._counted = {
            total: fields for total, fields in COUNTED.items() if any(field in given for field in fields)
        }
        self._under_way: list[str] = []

    def _of_template(self, name: str) -> str | None:
        """What the template says of a field, if anything."""
        return dict(self._specs[name].by_template).get(self._template) if name in self._specs else None

    def _word(self, name: str) -> str:
        """What is known of a field as a word: said, of the template, else its usual default."""
        if name in self._known:
            return str(self._known[name])
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
        if not any(character.isalpha() for character in text) or "," in text:
            return read_intake(text, spec)
        try:
            expression = parsed(text)
        except ExpressionError:
            return read_intake(text, spec)
        strangers = [name for name in expression.names if name not in self._specs]
        if strangers:
            return read_intake(text, spec)
        return read_intake(expression.value(self._number), spec)

    def _number(self, name: str) -> Decimal:
        value = self.value(name)
        if not isinstance(value, Decimal):
            raise CellError(f"{name} holds no number", "intake fields that are numbers")
        return value
