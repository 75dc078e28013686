"""How long, how much and how sure: the risk as text."""

from __future__ import annotations

from msgspec.structs import replace

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.money import percent
from estimator.core.units import INCH, lengths_as_read, unit_as_read
from estimator.estimate.geometry import Quantity, quantities_of
from estimator.estimate.risk.look_ahead import FitRisk, LookAhead, fit_as_assumed
from estimator.estimate.risk.monte_carlo import Simulation
from estimator.estimate.risk.sensitivity import Share, with_units
from estimator.model import Estimate
from estimator.report.record import table_of
from estimator.report.records.risk import (
    BarTold,
    Driver,
    QuantityTold,
    Within,
    WithinTold,
    fault_odds,
    used_up,
)
from estimator.report.records.work import Used
from estimator.report.text.terminal import plain, put, show_table

MOST = 10


def _as_read(of: Quantity, shown: str) -> Quantity:
    """A quantity in the unit that people read; a length is in mm."""
    unit = unit_as_read(of.unit, shown)
    return of if unit == of.unit else replace(of, value=of.value / float(INCH), unit=unit)


def show(
    study: Study,
    of: LookAhead,
    risks: tuple[FitRisk, ...],
    simulated: Simulation | None,
    top: int | None = None,
) -> None:
    """Print it; ``top``: how many lines the ranked lists have at most."""
    most = top or MOST
    currency, shown = study.shop.terms.currency, study.shop.lengths
    put(f"{study.job.id}: " + (", ".join(of.estimate.chosen) or "base work only"))
    _show_sure(of, currency)
    if simulated is not None:
        show_simulation(simulated, currency)
    show_table(
        "What drives it",
        *table_of(Driver, of.shares[:most], first=("work", _where)),
    )
    for words in at_fault(study, of.estimate):
        put(words)
    _show_assumed(study, of, most)
    _show_wear(of.estimate, currency)
    show_table(
        "Quantities that follow from the measurements",
        *table_of(
            QuantityTold, [_as_read(q, shown) for q in quantities_of(study.job.instrument)], lengths=shown
        ),
    )
    for sentence in (*of.advice, *(risk.sentence for risk in risks[:3])):
        put(lengths_as_read(sentence, shown) + ".")
    if risks:
        put(f"Odds that every part fits as assumed: {percent(fit_as_assumed(risks), 0)}.")


def _where(share: Share) -> str:
    """The task of a line, and where it is done."""
    return ", ".join(words.replace("-", " ") for words in (share.task, share.place) if words)


def _show_assumed(study: Study, of: LookAhead, most: int) -> None:
    """What each assumed value moves, a length as the shop reads it."""
    if not of.assumed:
        return
    shop = study.shop
    show_table(
        "If an assumed value is otherwise (cost of this set)",
        *table_of(
            BarTold,
            [with_units(bar, shop) for bar in of.assumed[:most]],
            shop.terms.currency,
            lengths=shop.lengths,
        ),
    )


def _show_sure(of: LookAhead, currency: str) -> None:
    rows = [
        Within("on average", of.closed.mean, of.estimate.totals.cost),
        *(Within(f"{row.percent} in 100 such jobs stay within", row.minutes, row.cost) for row in of.surety),
    ]
    show_table("How sure", *table_of(WithinTold, rows, currency))


def at_fault(study: Study, estimate: Estimate) -> list[str]:
    """What is wrong with the instrument and makes work of the set go wrong oftener, a sentence for each task."""
    names = {fault.fault: fault.what for fault in study.shop.faults}
    return [
        f"Fault: {names[row.fault]}; {row.task.replace('-', ' ')} goes wrong in {plain(row.more_pct)} of 100 more: "
        f"{row.because}."
        for row in fault_odds(study, estimate)
    ]


def show_simulation(of: Simulation, currency: str) -> None:
    """The points of the jobs that were drawn."""
    rows = [
        Within(
            f"{point.percent:g} in 100 stay within",
            point.value,
            Cents(round(of.cost.at(point.percent))),
        )
        for point in of.minutes.points
    ]
    title = f"Simulated, {of.draws:,} jobs, rework and faults as events"
    show_table(title, *table_of(WithinTold, rows, currency))


def _show_wear(estimate: Estimate, currency: str) -> None:
    consumables = used_up(line.consumables for line in estimate.lines)
    tools = used_up(line.tools for line in estimate.lines)
    for title, uses in (("What it uses up", consumables), ("Which tools it wears", tools)):
        show_table(
            title,
            *table_of(Used, uses[:MOST], currency, first=("what", lambda use: use.what)),
        )
