"""How long, how much and how sure one upgrade set is: closed form, simulation, what drives it.

Takes a costing (all work of a job priced) and the ids chosen; everything is worked out from the same
work lines that the estimate shows. Desk work that a client job is not billed for stays outside, as it
does in the totals.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.estimate.costing import Costing
from estimator.estimate.risk.anew import Anew
from estimator.estimate.risk.moments import ClosedForm, closed_form
from estimator.estimate.risk.monte_carlo import DRAWS, SEED, Simulation, simulate_work
from estimator.estimate.risk.sensitivity import (
    Bar,
    Share,
    advice,
    field_bars,
    line_bars,
    shares,
)
from estimator.fit.otherwise import Otherwise, Value
from estimator.model import Estimate, Money

#: per cent points shown of hours and cost
SHOWN = (50, 80, 95)


class SuretyRow(Struct, frozen=True):
    """Minutes and cost (cents) that ``percent`` of such jobs stay within, by the closed form."""

    percent: int
    minutes: float
    cost: Cents


class LookAhead(Struct, frozen=True):
    """Everything about how sure an estimate is; ``assumed`` are the bars of assumed intake values."""

    estimate: Estimate
    closed: ClosedForm
    surety: tuple[SuretyRow, ...]
    shares: tuple[Share, ...]
    lines: tuple[Bar, ...]
    assumed: tuple[Bar, ...]
    advice: tuple[str, ...]


def rate_of(costing: Costing) -> float:
    """What an hour at the bench costs, wage and overhead, in money."""
    return float(costing.setting.wage + costing.setting.overhead)


def fixed_cents(money: Money) -> Cents:
    """Cost that does not depend on time: parts and wear."""
    return money.parts + money.consumables + money.tools


def simulate_set(
    costing: Costing, chosen: Collection[str], *, draws: int = DRAWS, seed: int = SEED, events: bool = True
) -> Simulation:
    """Monte Carlo of an upgrade set: distributions of hands-on minutes and of cost in cents."""
    estimate = costing.estimate(chosen)
    return simulate_work(
        estimate.lines,
        costing.shop,
        rate_of(costing),
        fixed_cents(estimate.totals.money),
        draws=draws,
        seed=seed,
        events=events,
    )


def surety_rows(
    costing: Costing, estimate: Estimate, percents: Collection[int] = SHOWN
) -> tuple[SuretyRow, ...]:
    """Points of minutes and cost: cost moves with the minutes at the hourly cost, from its mean."""
    closed = closed_form(estimate.lines, costing.shop)
    cents_per_minute = rate_of(costing) * 100.0 / 60.0
    return tuple(
        SuretyRow(
            percent,
            closed.at(percent),
            Cents(round(estimate.totals.cost + (closed.at(percent) - closed.mean) * cents_per_minute)),
        )
        for percent in percents
    )


def look_ahead(
    costing: Costing, chosen: Collection[str], *, fields: bool = True, otherwise: Otherwise | None = None
) -> LookAhead:
    """The risk of an upgrade set. ``fields`` False leaves out pricing the job anew for assumed values.

    ``otherwise``: the assumed values of the job and the verdicts on this set, where they are known already.
    """
    estimate = costing.estimate(chosen)
    bars = assumed_bars(costing, chosen, otherwise) if fields else ()
    surety = costing.quote_surety
    return LookAhead(
        estimate=estimate,
        closed=closed_form(estimate.lines, costing.shop),
        surety=surety_rows(costing, estimate),
        shares=shares(estimate.lines, costing.shop),
        lines=line_bars(estimate.lines, rate_of(costing), estimate.totals.cost),
        assumed=bars,
        advice=advice(estimate.lines, costing.shop, bars, surety),
    )


def assumed_bars(
    costing: Costing, chosen: Collection[str], otherwise: Otherwise | None = None
) -> tuple[Bar, ...]:
    """Tornado bars of the assumed intake values that the work of this set, or its fit, rests on."""
    ids = frozenset(chosen)
    shop = costing.shop
    otherwise = otherwise or Otherwise(shop, costing.job, ids)
    resting = fields_behind(costing, ids)
    fields = [
        name
        for name in otherwise.assumed
        if name != "kind"  # another kind of instrument is another job
        and (not {name, *otherwise.followers(name)}.isdisjoint(resting) or otherwise.rows_reading(name))
    ]

    anew = Anew(shop, costing.job, ids, costing.setting.lines, otherwise)

    def reprice(name: str, value: Value) -> tuple[float, Cents] | None:
        return anew.priced(otherwise.changed(name, value))

    return field_bars(costing.job, shop, fields, reprice, otherwise.values)


def fields_behind(costing: Costing, chosen: Collection[str]) -> frozenset[str]:
    """The intake fields that the time of a set's work rests on, and those of faults that make it go wrong."""
    from estimator.estimate.assumed import fields_touching

    ids = frozenset(chosen)
    fields: set[str] = set()
    shown_by: dict[str, set[str]] = {}
    for fault in costing.shop.faults:
        shown_by.setdefault(fault.fault, set()).add(fault.field)
    at_fault: dict[str, set[str]] = {}
    for row in costing.shop.fault_odds:
        at_fault.setdefault(row.task, set()).update(shown_by.get(row.fault, ()))
    for ranks in costing.ranks.values():
        for rank in ranks:
            if rank.triggers is None or not rank.triggers.isdisjoint(ids):
                fields |= set(fields_touching(costing.shop.tasks[rank.demand.task], rank.demand))
                fields |= at_fault.get(rank.demand.task, set())
    return frozenset(fields)


class FitRisk(Struct, frozen=True):
    """An unmeasured value that fit rests on: odds (per cent) that it is otherwise, and for which upgrades."""

    field: str
    percent: Decimal
    upgrades: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What to do about it."""
        return (
            f"to be surer, measure {self.field}: in {self.percent.normalize():f} % of instruments it is so far "
            f"from what was assumed that {', '.join(self.upgrades)} fits otherwise"
        )


def fit_risks(otherwise: Otherwise, chosen: Collection[str]) -> tuple[FitRisk, ...]:
    """Assumed values of which another likely one makes a chosen upgrade fit otherwise, the riskiest first."""
    risks = []
    for field in otherwise.assumed:
        percent = otherwise.shop.intake[field].fit_chance_pct
        if not percent or not otherwise.rows_reading(field):
            continue
        upgrades = {
            turn.upgrade
            for value in otherwise.values(field)
            for turn in otherwise.turns(field, value)
            if turn.fits_otherwise and turn.upgrade in chosen
        }
        if upgrades:
            risks.append(FitRisk(field, percent, tuple(sorted(upgrades))))
    return tuple(sorted(risks, key=lambda risk: (-risk.percent, risk.field)))


def fit_as_assumed(risks: Iterable[FitRisk]) -> float:
    """Chance that everything fits as assumed: the product of (1 - odds), taken as independent."""
    chance = 1.0
    for risk in risks:
        chance *= 1.0 - float(risk.percent) / 100.0
    return chance
