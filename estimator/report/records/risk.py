"""What ``risk``, ``measure`` and ``triage`` answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from functools import partial
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.questions.measure_next import MeasuringAdvice, WorthMeasuring
from estimator.choose.study import Choice, Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import amount, cents, percent
from estimator.core.text import whole
from estimator.estimate.geometry import Quantity, quantities_of
from estimator.estimate.risk.look_ahead import FitRisk, LookAhead, SuretyRow
from estimator.estimate.risk.monte_carlo import Distribution, Simulation
from estimator.estimate.risk.sensitivity import Bar, Share
from estimator.fit.otherwise import Turn
from estimator.fit.triage import Check, Triage
from estimator.model import Estimate, FaultOdds, Job, Use
from estimator.report.record import (
    HYPHENED,
    MONEY,
    STAYS,
    TIME,
    UNNAMED,
    WHOLE,
    Kind,
    Record,
    Teller,
    plain_data,
)
from estimator.report.records.tools import Tools
from estimator.report.records.wish import SHARE
from estimator.report.records.work import Used


def rounded(unit: str, places: int, read: Callable[[Any], str] = str) -> Kind:
    """A number with so many places at the most."""
    return Kind(unit, lambda value: round(value, places), read, right=True)


MIN, PER_CENT = rounded("min", 2, whole), Kind("per cent", float)
ODDS = replace(SHARE, read=partial(percent, places=0), right=True)
OF_WHOLE = rounded("per cent", 3, lambda value: f"{value:.0f}")
OF_THEM = replace(WHOLE, none=STAYS)
_sure = Teller[SuretyRow]()
_share = Teller[Share]()
_odds = Teller[FaultOdds]()
_bar = Teller[Bar]()
_quantity = Teller[Quantity]()
_fit = Teller[FitRisk]()
_estimate = Teller[Estimate]()


class SuretyPoint(Record[SuretyRow]):
    """What so many of 100 such jobs stay within."""

    percent = _sure.whole("of 100 such jobs", lambda of: of.percent)
    minutes = _sure.of(MIN, "stay within this hands-on", lambda of: of.minutes)
    cost = _sure.money("and this cost", lambda of: of.cost)


class Within(Struct, frozen=True):
    """Of which of such jobs, in words, what they take: hands-on minutes and cost."""

    words: str
    minutes: float
    cost: Cents


_within = Teller[Within]()


class WithinTold(Record[Within]):
    """What such jobs take on average, or stay within."""

    words = _within.column(UNNAMED, lambda of: of.words)
    minutes = _within.column("hands-on", lambda of: Hundredths(round(of.minutes * 100)), TIME)
    cost = _within.column("cost", lambda of: of.cost, MONEY)


class Driver(Record[Share]):
    """A line's part in the job."""

    task = _share.text("task, an id of tasks.csv", lambda of: of.task)
    place = _share.text("where on the instrument", lambda of: of.place)
    minutes = _share.of(MIN, "hands-on, on average", lambda of: of.minutes, head="min")
    sd_min = _share.of(rounded("min", 3, whole), "spread", lambda of: of.sd, head="sd")
    mean_pct = _share.of(OF_WHOLE, "of the job's mean", lambda of: of.mean_pct, head="% of the mean")
    variance_pct = _share.of(
        OF_WHOLE, "of the job's variance", lambda of: of.variance_pct, head="% of the variance"
    )


class AtFault(Record[FaultOdds]):
    """Work that goes wrong oftener, as something is wrong with the instrument."""

    task = _odds.text("task, an id of tasks.csv", lambda of: of.task)
    fault = _odds.text("fault, an id of faults.csv", lambda of: of.fault)
    more_pct = _odds.of(PER_CENT, "so much oftener", lambda of: of.more_pct)
    because = _odds.text("why", lambda of: of.because)


class BarTold(Record[Bar]):
    """A bar of the tornado chart."""

    kind = _bar.text("line (at its 10 and 90 % points) or field (an assumed value)", lambda of: of.kind)
    name = _bar.text("of what", lambda of: of.name, head="value")
    low_at = _bar.text("the low end", lambda of: of.low_at)
    high_at = _bar.text("the high end", lambda of: of.high_at)
    low_min = _bar.of(MIN, "the job at the low end", lambda of: of.low_minutes)
    high_min = _bar.of(MIN, "at the high end", lambda of: of.high_minutes)
    low_cost = _bar.money("cost at the low end", lambda of: of.low_cents)
    high_cost = _bar.money("cost at the high end", lambda of: of.high_cents)
    low_end = _bar.column("low end", lambda of: of.low_at)
    low_end_cost = _bar.column("cost", lambda of: of.low_cents, MONEY)
    high_end = _bar.column("high end", lambda of: of.high_at)
    high_end_cost = _bar.column("cost", lambda of: of.high_cents, MONEY)


class Wear(Record[Estimate]):
    """What a job uses up, the dearest first."""

    consumables = _estimate.rows(
        Used, "consumables", lambda of: used_up(line.consumables for line in of.lines)
    )
    tools = _estimate.rows(Used, "wear of tools", lambda of: used_up(line.tools for line in of.lines))


def used_up(uses: Iterable[Sequence[Use]]) -> list[Use]:
    """Consumables or tools of many lines, each added up, the dearest first."""
    found: dict[str, Use] = {}
    for use in (use for each in uses for use in each):
        before = found.get(use.id)
        quantity = use.quantity + (before.quantity if before else Decimal(0))
        cost = use.cost + (before.cost if before else Decimal(0))
        found[use.id] = Use(use.id, use.what, quantity, use.unit, cost)
    return sorted(found.values(), key=lambda use: (-use.cost, use.id))


class QuantityTold(Record[Quantity]):
    """A quantity that follows from the measurements."""

    name = _quantity.text("what", lambda of: of.name, head="quantity")
    value = _quantity.of(
        rounded("number", 1, "{:.0f}".format), "how much", lambda of: of.value, head="amount"
    )
    unit = _quantity.text("its unit", lambda of: of.unit, head="unit")
    how = _quantity.column("how", lambda of: of.formula)
    assumed = _quantity.words("values in it that nobody measured", lambda of: of.assumed)
    assumed_number = _quantity.column("assumed", lambda of: len(of.assumed) or None, OF_THEM)


class FitRiskTold(Record[FitRisk]):
    """A value on which fit rests and that nobody measured."""

    field = _fit.text("value, a field of intake.csv", lambda of: of.field)
    percent = _fit.of(PER_CENT, "odds that it is otherwise", lambda of: of.percent)
    upgrades = _fit.words("upgrades that would fit otherwise", lambda of: of.upgrades)


def _distribution(unit: str, places: int) -> Kind:
    def told(of: Distribution) -> object:
        points = {f"{point.percent:g}": round(point.value, places) for point in of.points}
        return {"mean": round(of.mean, places), "sd": round(of.sd, places), "points": points}

    return Kind(f"mean, sd and points in {unit}", told)


_drawn = Teller[Simulation]()


class Simulated(Record[Simulation]):
    """Jobs that were drawn."""

    draws = _drawn.whole("how many", lambda of: of.draws)
    seed = _drawn.whole("seed of the draws", lambda of: of.seed)
    minutes = _drawn.of(_distribution("min", 2), "hands-on", lambda of: of.minutes)
    cost_cents = _drawn.of(_distribution("cents", 0), "cost", lambda of: of.cost)


class Risk(Struct, frozen=True):
    """How sure a set is."""

    choice: Choice
    ahead: LookAhead
    fit: Sequence[FitRisk]
    simulated: Simulation | None


def fault_odds(study: Study, estimate: Estimate) -> list[FaultOdds]:
    """What goes wrong oftener, of the work of a set."""
    done = {line.task for line in estimate.lines}
    return [row for task, row in study.costing.setting.fault_odds.items() if task in done]


_risk = Teller[Risk]()


class RiskAnswer(Record[Risk]):
    """What ``risk`` answers."""

    job = _risk.text("id of the job", lambda of: of.choice.study.job.id)
    upgrades = _risk.words("the set", lambda of: of.ahead.estimate.chosen)
    mean_min = _risk.of(MIN, "hands-on, on average", lambda of: of.ahead.closed.mean)
    sd_min = _risk.of(MIN, "spread of that", lambda of: of.ahead.closed.sd)
    cost = _risk.money("cost to the shop", lambda of: of.ahead.estimate.totals.cost)
    points = _risk.rows(SuretyPoint, "how sure", lambda of: of.ahead.surety)
    drivers = _risk.rows(Driver, "what drives it", lambda of: of.ahead.shares)
    at_fault = _risk.rows(
        AtFault,
        "work that goes wrong oftener here",
        lambda of: fault_odds(of.choice.study, of.ahead.estimate),
    )
    tornado = _risk.rows(
        BarTold, "what each line and assumed value moves", lambda of: (*of.ahead.lines, *of.ahead.assumed)
    )
    wear = _risk.one(Wear, "what is used up", lambda of: of.ahead.estimate)
    geometry = _risk.rows(
        QuantityTold,
        "quantities that follow from the measurements",
        lambda of: quantities_of(of.choice.study.job.instrument),
    )
    advice = _risk.words("what would make it surer", lambda of: of.ahead.advice)
    fit_risks = _risk.rows(FitRiskTold, "what may fit otherwise", lambda of: of.fit)
    simulation = _risk.where_there(
        _risk.one(Simulated, "jobs drawn, with --simulate", lambda of: of.simulated)
    )
    tools = _risk.joined(Tools, lambda of: of.choice.tools)


_turn = Teller[Turn]()
_worth = Teller[WorthMeasuring]()
_measure = Teller[tuple[Choice, MeasuringAdvice]]()


class Turned(Record[Turn]):
    """A verdict that would be another."""

    upgrade = _turn.text("upgrade", lambda of: of.upgrade)
    before = _turn.text("as assumed", lambda of: of.outcomes[0])
    after = _turn.text("otherwise", lambda of: of.outcomes[1])


class Worth(Record[WorthMeasuring]):
    """A value worth measuring."""

    field = _worth.text("value, a field of intake.csv", lambda of: of.field, head="value")
    assumed = _worth.text("what is assumed", lambda of: of.assumed, head="assumed")
    could_be = _worth.text("what it could be", lambda of: of.could_be, head="could be")
    chance = _worth.of(ODDS, "odds that it is otherwise", lambda of: of.chance, head="odds")
    stake = _worth.money("largest change of the cost", lambda of: of.stake, head="at stake")
    worth = _worth.money("odds times that", lambda of: of.worth, head="worth")
    changes = _worth.text("what would change", lambda of: of.changes, head="what would change")
    how = _worth.text("how it is measured", lambda of: of.how)
    rescues = _worth.yes("a wish that cannot be met could be", lambda of: of.rescues)
    verdicts = _worth.rows(Turned, "verdicts that would be others", lambda of: of.turns)


class MeasureAnswer(Record[tuple[Choice, MeasuringAdvice]]):
    """What ``measure`` answers."""

    job = _measure.text("id of the job", lambda of: of[0].study.job.id)
    status = _measure.text("of the choice", lambda of: of[0].answer.status)
    upgrades = _measure.words("the set", lambda of: of[0].estimate.chosen if of[0].found else ())
    assumed = _measure.whole("how many values are assumed", lambda of: of[1].tried)
    measure = _measure.rows(Worth, "the most worth first", lambda of: of[1].worths)
    taken_for_seen = _measure.words("taken for seen at a glance, not tried", lambda of: of[1].taken_for_seen)
    tools = _measure.joined(Tools, lambda of: of[0].tools)


IN_UNITS = Kind("money", lambda value: f"{value:.2f}", right=True, none=STAYS)


def between(low: Decimal, high: Decimal) -> str:
    """Money in units, one figure or from one to the other."""
    most = f"{amount(cents(high)):,.2f}"
    return most if low == high else f"{low:,.2f} to {most}"


_check = Teller[Check]()
_triage = Teller[tuple[Job, Triage]]()


class CheckTold(Record[Check]):
    """A check on a donor."""

    number = _check.whole("its number", lambda of: of.number, head=UNNAMED)
    check = _check.text("in words", lambda of: of.what, head="check")
    outcome = _check.of(
        HYPHENED, "walk-away, lower, not-checked or fine", lambda of: of.outcome, head="outcome"
    )
    why = _check.text("what was found", lambda of: of.sentence, head="why")
    low = _check.of(IN_UNITS, "lower the offer by this at the least", lambda of: of.low)
    high = _check.of(IN_UNITS, "at the most", lambda of: of.high)
    lower_by = _check.column(
        "lower the offer by", lambda of: between(of.low, of.high) if of.high else None, IN_UNITS
    )
    mends = _check.words("what mends it", lambda of: (mend.id for mend in of.mends))
    mended_with = _check.of(
        Kind("list of numbers", plain_data), "checks whose work mends it too", lambda of: of.mended_with
    )
    asks = _check.words("what it also looks at, of the measuring sheet", lambda of: of.asks)


class TriageAnswer(Record[tuple[Job, Triage]]):
    """What ``triage`` answers."""

    job = _triage.text("id of the job", lambda of: of[0].id)
    outcome = _triage.text("the verdict", lambda of: of[1].outcome)
    lower_by = _triage.of(
        Kind("list of money", lambda of: [f"{one:.2f}" for one in of]),
        "lower the offer by, least and most",
        lambda of: (of[1].low, of[1].high),
    )
    checks = _triage.rows(CheckTold, "the ten checks", lambda of: of[1].checks)
