"""What a fit rule sees (a ``Case``) and how it says what it found.

A rule is a small generator function registered under its number: it reads measured values through
the case, which notes every value looked at and whether it was measured, and yields findings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from functools import wraps

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.model import Demand, Finding, IntakeField, Part, PartDimension, Reading, Shop, UsedValue
from estimator.model.fit_rules import FIT_RULES, TOLD
from estimator.model.pickups import pickup_at
from estimator.model.upgrade import dimension_in, of_part

FitRule = Callable[["Case"], Iterator[Finding]]

RULES: dict[str, FitRule] = {}

NOT_KNOWN = "not known"


class MissingError(TypeError):
    """A rule asked for a value that nobody has measured and no table assumes."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"{name} is not known")


def rule(number: str) -> Callable[[FitRule], FitRule]:
    """Register a fit rule under its number.

    A value that is not there ends the rule with a warning that names it: a missing number is
    neither guessed nor passed over.
    """

    def register(function: FitRule) -> FitRule:
        if number not in FIT_RULES:
            raise ValueError(f"{number} is not in FIT_RULES of model/fit_rules.py")
        if number in RULES:
            raise ValueError(f"two rules are numbered {number}")

        @wraps(function)
        def guarded(case: Case) -> Iterator[Finding]:
            case.rule = number
            try:
                yield from function(case)
            except MissingError as gap:
                yield case.warn(f"not judged: {case.what_is(gap.name)} is not known; measure it first")

        RULES[number] = guarded
        return guarded

    return register


class Case(Struct):
    """One upgrade on one instrument: measured values in, findings out.

    ``number``/``word``/``yes`` read intake fields, ``p``/``p_word``/``p_yes`` dimensions of the part;
    ``has`` and ``p_has`` tell whether there is a value at all. Lengths mm, masses g. ``change_g`` is what
    the upgrade adds to the weight; ``rule`` the number of the rule that looks.
    """

    shop: Shop
    instrument: Mapping[str, Reading]
    part: Part | None
    upgrade: str
    slot: str
    place: str
    wanted: Mapping[str, Decimal] = field(default_factory=dict)
    used: dict[str, UsedValue] = field(default_factory=dict)
    change_g: Decimal = Decimal(0)
    rule: str = ""
    _read: set[str] = field(default_factory=set)  # what is noted as used, by its value

    # ---------------------------------------------------------------- intake
    def has(self, name: str) -> bool:
        """Whether there is a reading of this intake field at all."""
        return name in self.instrument

    def number(self, name: str) -> Decimal:
        """An intake field as a number; ``MissingError`` where there is none."""
        value = self._intake(name)
        if not isinstance(value, Decimal):
            raise self._lacks(name)
        return value

    def maybe(self, name: str) -> Decimal | None:
        """An intake field as a number, or None where there is none."""
        return self.number(name) if self.has(name) else None

    def number_or(self, name: str, fallback: Decimal) -> Decimal:
        """An intake field as a number; where there is none, a fallback that is noted as assumed."""
        if self.has(name):
            return self.number(name)
        self.used[name] = UsedValue(name, _plain(fallback), "", True)
        return fallback

    def measured(self, name: str) -> bool:
        """Whether there is a reading of this field and somebody took it."""
        return self.has(name) and not self.instrument[name].assumed

    def word(self, name: str) -> str:
        """An intake field as a word."""
        return str(self._intake(name))

    def word_or(self, name: str, fallback: str) -> str:
        """An intake field as a word; where there is none, a fallback that is noted as assumed."""
        if self.has(name):
            return self.word(name)
        self.used[name] = UsedValue(name, fallback, "", True)
        return fallback

    def yes(self, name: str) -> bool:
        """An intake field as yes or no."""
        return self._intake(name) is True

    def at_place(self, stem: str) -> str:
        """The name of a field that exists once per pickup place (``rout_l`` -> ``rout_l_bridge``)."""
        return f"{stem}_{self.pickup}"

    @property
    def pickup(self) -> str:
        """The place of the pickup that the upgrade is about: neck, middle or bridge."""
        return pickup_at(self.place) or self.place or "bridge"

    def _intake(self, name: str) -> object:
        if name not in self.instrument:
            raise self._lacks(name)
        reading = self.instrument[name]
        if name in self._read:
            return reading.value
        self._read.add(name)
        spec: IntakeField | None = self.shop.intake.get(name)
        self.used[name] = UsedValue(name, _plain(reading.value), spec.unit if spec else "", reading.assumed)
        return reading.value

    # ---------------------------------------------------------------- the part
    def p(self, name: str) -> Decimal:
        """A dimension of the part as a number."""
        value = self._dimension(name)
        if not isinstance(value, Decimal):
            raise self._lacks(of_part(name))
        return value

    def p_maybe(self, name: str) -> Decimal | None:
        """A dimension of the part as a number, or None where there is none."""
        return self.p(name) if self.p_has(name) else None

    def p_word(self, name: str) -> str:
        """A dimension of the part as a word."""
        return str(self._dimension(name))

    def p_yes(self, name: str) -> bool:
        """A dimension of the part as yes or no."""
        return str(self._dimension(name)) == "yes"

    def p_has(self, name: str) -> bool:
        """Whether the part has this dimension at all."""
        return self.part is not None and name in self.part.dims

    def p_typical(self, name: str) -> bool:
        """Whether a dimension of the part is the typical one of its class, not one that was stated."""
        return self.part is not None and name in self.part.typical

    @property
    def part_kind(self) -> str:
        """The class of the part without a leading ``p-``; a blank where there is no part."""
        return self.part.part_class.removeprefix("p-") if self.part else ""

    def is_a(self, *classes: str) -> bool:
        """Whether the part belongs to one of these classes (named without ``p-``)."""
        return self.part_kind in classes

    def _dimension(self, name: str) -> object:
        if self.part is None or name not in self.part.dims:
            raise self._lacks(of_part(name))
        value, called = self.part.dims[name], of_part(name)
        if called in self._read:
            return value
        self._read.add(called)
        spec: PartDimension | None = self.shop.part_dimensions.get(self.part.part_class, {}).get(name)
        self.used[called] = UsedValue(
            called, _plain(value), spec.unit if spec else "", name in self.part.typical
        )
        return value

    # ---------------------------------------------------------------- what is not known
    def _lacks(self, name: str) -> MissingError:
        self._read.discard(name)
        self.used[name] = UsedValue(name, NOT_KNOWN, "", True)
        return MissingError(name)

    def what_is(self, name: str) -> str:
        """A value in words: what the tables say it is, with its name."""
        if size := dimension_in(name):
            spec = self.shop.part_dimensions.get(self.part.part_class, {}).get(size) if self.part else None
            return f"{spec.meaning} of the part ({size})" if spec else f"“{size}” of the part"
        field_ = self.shop.intake.get(name)
        return f"{field_.what} ({name})" if field_ else f"“{name}” of the instrument"

    # ---------------------------------------------------------------- findings
    def fits(self, sentence: str, working: str = "", **more: object) -> Finding:
        """Nothing to do."""
        return self._finding("fits", sentence, working, more)

    def work(self, sentence: str, working: str = "", **more: object) -> Finding:
        """Fits after the work in ``demands``."""
        return self._finding("work", sentence, working, more)

    def warn(self, sentence: str, working: str = "", **more: object) -> Finding:
        """Fits, with something to know."""
        return self._finding("warn", sentence, working, more)

    def no(self, sentence: str, working: str = "", **more: object) -> Finding:
        """Does not fit."""
        return self._finding("no", sentence, working, more)

    def no_or_order(self, dimension: str, sentence: str, working: str = "") -> Finding:
        """Does not fit; but what is not measured and sold in every size is ordered in the one that suits.

        A typical size is no reason to take a part for fitting: what suits may cost something else, or not
        exist. Who has found one names it with its measure.
        """
        if self.part is None or dimension not in self.part.typical:
            return self.no(sentence, working)
        if self.to_order(dimension):
            return self.warn(f"{sentence} (typical size: order one that suits)", working)
        return self.no(f"{sentence} (typical size: name one that suits as a [[part]] of the job)", working)

    def to_order(self, dimension: str) -> bool:
        """Whether a dimension of the part that nobody measured can be ordered as it suits."""
        if self.part is None or dimension not in self.part.typical:
            return False
        spec = self.shop.part_dimensions.get(self.part.part_class, {}).get(dimension)
        return spec is not None and bool(spec.to_order)

    def _finding(self, outcome: str, sentence: str, working: str, more: dict[str, object]) -> Finding:
        if more.get("tells", "") not in {"", *TOLD}:
            raise ValueError(f"{self.rule} tells what is not in TOLD: {more['tells']}")
        used = tuple(self.used.values())
        finding = Finding(self.rule, outcome, sentence, working, used, **more)  # type: ignore[arg-type]
        if not finding.demands:
            return finding
        rests_on = tuple(name for name in self.used if not dimension_in(name))
        demands = tuple(replace(asked, rests_on=rests_on) for asked in finding.demands)
        return replace(finding, demands=demands)


#: the place of work that the upgrade does anyway: ``judge`` puts in the upgrade's own place for the task
USUAL = ""


def demand(task: str, place: str, quantity: Decimal | int, because: str, **more: object) -> Demand:
    """Work that a rule forces."""
    return Demand(task, place, Decimal(quantity), because, **more)  # type: ignore[arg-type]


def neck_wood(case: Case) -> dict[str, str]:
    """The factor level of holes in the peghead or the heel: they go into the wood of the neck."""
    return {"BW": case.word("neck_wood")} if case.has("neck_wood") else {}


def over(value: Decimal) -> Decimal:
    """The positive part, pos(value)+."""
    return max(value, Decimal(0))


def mm(value: Decimal, places: str = "0.01") -> str:
    """A length as it is spoken: at most two places, no trailing noughts."""
    return f"{value.quantize(Decimal(places), ROUND_HALF_UP).normalize():f}"


def cm3(value: Decimal) -> Decimal:
    """A volume to 0.1 cm3, half up: nobody measures a rout finer, and what is said is what is counted."""
    return value.quantize(Decimal("0.1"), ROUND_HALF_UP)


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(value)
