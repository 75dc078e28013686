"""A wish and its limits under a set: what is reached, what is left, the faults, what to measure first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.faults import FoundFault, held_by
from estimator.choose.infeasible.due import day_of_return
from estimator.choose.limits import LimitHeld, limits_held
from estimator.choose.measure import Measure
from estimator.choose.questions.measure_first import First, measure_first
from estimator.choose.study import SpecRow, Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import plain_number
from estimator.core.money import cents, money_text
from estimator.core.text import plain
from estimator.model import UsedValue
from estimator.model.problem import Rule
from estimator.report.record import FIGURE, HYPHENED, MINUTES, YES, Kind, Record, Teller, plain_data
from estimator.report.words.wish import day_kept, day_not_looked_at

IN_ITS_UNIT = Kind("money, min, level, amount or day, by its kind", plain_data)
SHARE = Kind("share of one", float)


def in_its_unit(rule: Rule, value: int) -> object:
    """A figure of a rule: money and days as text, minutes, levels and amounts as numbers."""
    if rule.kind == "money":
        return money_text(Cents(value))
    if rule.kind == "due":
        return day_of_return(rule, value)
    return MINUTES.data(value) if rule.kind == "minutes" else _of_kind(rule.kind, value)


def _in_units(kind: str, value: int) -> Decimal:
    """A level is held in tenths, an amount in thousandths."""
    return Decimal(value) / (10 if kind == "level" else 1000)


def _of_kind(kind: str, value: int) -> int | float:
    return plain_number(_in_units(kind, value))


class Wished(Struct, frozen=True):
    """A row of the spec, and what holds it down."""

    row: SpecRow
    held: Sequence[str]

    def shown(self, value: int) -> int | float:
        """A level or an amount."""
        return _of_kind(self.row.kind, value)

    def wanted(self) -> object:
        """The level that is wanted, or the ends between which an amount may lie."""
        if self.row.kind == "level":
            return self.shown(self.row.least or 0)
        ends = {"least": self.row.least, "most": self.row.most}
        return {name: self.shown(end) for name, end in ends.items() if end is not None}

    def told(self, value: int) -> str:
        """A level or an amount with its unit."""
        unit = self.row.unit if self.row.kind != "level" else ""
        return f"{plain(_in_units(self.row.kind, value))} {unit}".rstrip()

    def wanted_told(self) -> str:
        """What is wanted, as a table tells it."""
        least, most = ("" if end is None else self.told(end) for end in (self.row.least, self.row.most))
        return f"{least} to {most}" if least and most else f"at most {most}" if most else least


MET = replace(YES, read=lambda met: "yes" if met else "NO")
_wished = Teller[Wished]()


class Spec(Record[Wished]):
    """An attribute that is wished for."""

    attribute = _wished.of(
        HYPHENED, "attribute, an id of attributes.csv", lambda of: of.row.attribute, head="attribute"
    )
    wanted = _wished.of(IN_ITS_UNIT, "level, or least and most", lambda of: of.wanted())
    reached = _wished.number("what the set reaches", lambda of: of.shown(of.row.reached))
    now = _wished.number("as it stands today", lambda of: of.shown(of.row.now))
    stands = _wished.column(
        "now", lambda of: of.told(of.row.now) + (" (assumed)" if of.row.now_assumed else ""), FIGURE
    )
    wish = _wished.column("wanted", Wished.wanted_told, FIGURE)
    comes_to = _wished.column("reached", lambda of: of.told(of.row.reached), FIGURE)
    met = _wished.of(MET, "the wish is met", lambda of: of.row.met, head="met")
    held_by = _wished.words("what holds it down", lambda of: of.held)
    by = _wished.words("the work that raises it", lambda of: of.row.by)
    verified_by = _wished.text("how it is checked", lambda of: of.row.verified_by)
    rests_on_assumed = _wished.words("attributes assumed today on which it rests", lambda of: of.row.rests_on)
    may_fail = _wished.words(
        "how the work that lifts it may fail however it is done", lambda of: of.row.may_fail
    )


def wished(study: Study, chosen: Sequence[str], rows: Iterable[SpecRow]) -> list[Wished]:
    """What is asked for; what nobody asked for is left out."""
    held: Mapping[str, Sequence[str]] = held_by(study, chosen)
    return [Wished(row, held.get(row.attribute, ())) for row in rows if row.asked]


_fault = Teller[FoundFault]()


class Fault(Record[FoundFault]):
    """A fault of the instrument."""

    fault = _fault.text("fault, an id of faults.csv", lambda of: of.id)
    what = _fault.text("in words", lambda of: of.what)
    reading = _fault.text("the reading that shows it", lambda of: of.shown)
    lowers = _fault.of(
        Kind("level by attribute", plain_data), "no higher than this", lambda of: dict(of.lowers)
    )
    least_work = _fault.text("the least work that mends it", lambda of: of.mends[0] if of.mends else None)
    cost = _fault.money("what that costs alone", lambda of: of.cost)
    otherwise = _fault.text("what it wants where nothing on offer mends it", lambda of: of.otherwise)
    not_allowed = _fault.words("what would mend it and is refused", lambda of: of.shut)
    least_work_changes = _fault.words(
        "what the least work changes for good, of changes.csv", lambda of: (name for name, _ in of.changes)
    )
    mended = _fault.yes("the set mends it", lambda of: of.mended)


_limit = Teller[LimitHeld]()


class Limit(Record[LimitHeld]):
    """A limit of the job, what the set comes to at its surety, and what is left of it."""

    rule = _limit.text("id of the rule", lambda of: of.rule.id)
    kind = _limit.text("money, minutes or due", lambda of: of.rule.kind)
    words = _limit.text("the limit in words", lambda of: of.rule.words)
    most = _limit.of(IN_ITS_UNIT, "the most that is allowed", lambda of: in_its_unit(of.rule, of.most))
    comes_to = _limit.of(
        IN_ITS_UNIT,
        "what the set comes to; of a promised day the soonest",
        lambda of: in_its_unit(of.rule, of.comes_to),
    )
    left = _limit.of(
        IN_ITS_UNIT,
        "what is left, below 0 beyond it; of a promised day whole days",
        lambda of: of.left if of.rule.kind == "due" else in_its_unit(of.rule, of.left),
    )


_first = Teller[First]()


class MeasureFirst(Record[First]):
    """A value to measure first, in the order of worth."""

    field = _first.text("value, a field of intake.csv", lambda of: of.field)
    what = _first.text("in words", lambda of: of.what)
    how = _first.text("how it is measured", lambda of: of.how)
    moves = _first.money("by what the cost moves at the most", lambda of: of.moves)
    chance = _first.of(SHARE, "odds that it is otherwise", lambda of: of.chance)
    worth = _first.money("odds times that", lambda of: cents(of.worth / 100))


_value = Teller[UsedValue]()


class Assumed(Record[UsedValue]):
    """A value that nobody measured."""

    field = _value.text("value, a field of intake.csv", lambda of: of.name)
    value = _value.text("what is assumed", lambda of: of.value)
    unit = _value.text("its unit", lambda of: of.unit)


class Held(Struct, frozen=True):
    """A set under the limits of its job; ``measure``: its figures, None where there is no set."""

    study: Study
    chosen: Sequence[str]
    measure: Measure | None

    def limits(self) -> Sequence[LimitHeld]:
        """Each limit of the job; none where there is no set."""
        return () if self.measure is None else limits_held(self.study.problem, self.chosen, self.measure)

    def day(self) -> str | None:
        """What became of a promised day that is no limit; None where there is none such, or no set."""
        if self.measure is None:
            return None
        return day_not_looked_at(self.study) or day_kept(self.study) or None

    def first(self) -> Sequence[First]:
        """What to measure first of the set."""
        return () if self.measure is None else measure_first(self.study, self.chosen)


_held = Teller[Held]()


class LimitsAndMeasures(Record[Held]):
    """The limits of the job under a set, and what to measure first of it."""

    limits = _held.rows(Limit, "each limit of the job", Held.limits)
    promised_day = _held.text(
        "of a promised day that is none of the limits: that no set can miss it, or why it was not looked at",
        Held.day,
    )
    measure_first = _held.rows(MeasureFirst, "what to measure first", Held.first)
