"""How long, how much and how sure: the risk as text and as data."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import money_text
from estimator.core.units import INCH, lengths_as_read, unit_as_read
from estimator.estimate.geometry import Quantity, quantities_of
from estimator.estimate.risk.look_ahead import FitRisk, LookAhead, fit_as_assumed
from estimator.estimate.risk.monte_carlo import Distribution, Simulation
from estimator.estimate.risk.sensitivity import Bar, ends_in_words
from estimator.model import Estimate, FaultOdds, Use
from estimator.report.text.terminal import hours, money, plain, put, show_table, whole

Data = dict[str, object]
MOST = 10


def used_up(estimate: Estimate) -> tuple[list[Use], list[Use]]:
    """Consumables and tools of a job, each added up over its lines, the dearest first."""
    return (
        _added(use for line in estimate.lines for use in line.consumables),
        _added(use for line in estimate.lines for use in line.tools),
    )


def _added(uses: Iterable[Use]) -> list[Use]:
    found: dict[str, Use] = {}
    for use in uses:
        before = found.get(use.id)
        quantity = use.quantity + (before.quantity if before else Decimal(0))
        cost = use.cost + (before.cost if before else Decimal(0))
        found[use.id] = Use(use.id, use.what, quantity, use.unit, cost)
    return sorted(found.values(), key=lambda use: (-use.cost, use.id))


def _amount(of: Quantity, shown: str) -> tuple[str, str]:
    """A quantity and its unit, a length as the shop reads it."""
    unit = unit_as_read(of.unit, shown)
    return f"{of.value if unit == of.unit else of.value / float(INCH):.0f}", unit


def _minutes(value: float) -> str:
    return hours(Hundredths(round(value * 100)))


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
        ("work", "min", "sd", "% of the mean", "% of the variance"),
        [
            (
                share.task.replace("-", " ") + (f", {share.place.replace('-', ' ')}" if share.place else ""),
                whole(share.minutes),
                whole(share.sd),
                f"{share.mean_pct:.0f}",
                f"{share.variance_pct:.0f}",
            )
            for share in of.shares[:most]
        ],
        right=(1, 2, 3, 4),
    )
    for words in at_fault(study, of.estimate):
        put(words)
    _show_assumed(study, of, most)
    _show_wear(of.estimate, currency)
    show_table(
        "Quantities that follow from the measurements",
        ("quantity", "amount", "unit", "how", "assumed"),
        [
            (
                q.name,
                *_amount(q, shown),
                lengths_as_read(q.formula, shown),
                str(len(q.assumed)) if q.assumed else "",
            )
            for q in quantities_of(study.job.instrument)
        ],
        right=(1, 4),
    )
    for sentence in (*of.advice, *(risk.sentence for risk in risks[:3])):
        put(lengths_as_read(sentence, shown) + ".")
    if risks:
        put(f"Odds that every part fits as assumed: {100 * fit_as_assumed(risks):.0f} %.")


def _show_assumed(study: Study, of: LookAhead, most: int) -> None:
    """What each assumed value moves, a length as the shop reads it."""
    if not of.assumed:
        return
    currency, shown = study.shop.terms.currency, study.shop.lengths
    show_table(
        "If an assumed value is otherwise (cost of this set)",
        ("value", "low end", "cost", "high end", "cost"),
        [
            (
                bar.name,
                lengths_as_read(ends_in_words(bar, study.shop)[0], shown),
                money(bar.low_cents, currency),
                lengths_as_read(ends_in_words(bar, study.shop)[1], shown),
                money(bar.high_cents, currency),
            )
            for bar in of.assumed[:most]
        ],
        right=(2, 4),
    )


def _show_sure(of: LookAhead, currency: str) -> None:
    rows = [
        (f"{row.percent} in 100 such jobs stay within", _minutes(row.minutes), money(row.cost, currency))
        for row in of.surety
    ]
    mean = ("on average", _minutes(of.closed.mean), money(of.estimate.totals.cost, currency))
    show_table("How sure", ("", "hands-on", "cost"), [mean, *rows], right=(1, 2))


def at_fault(study: Study, estimate: Estimate) -> list[str]:
    """What is wrong with the instrument and makes work of the set go wrong oftener, a sentence for each task."""
    names = {fault.fault: fault.what for fault in study.shop.faults}
    return [
        f"Fault: {names[row.fault]}; {row.task.replace('-', ' ')} goes wrong in {plain(row.more_pct)} of 100 more: "
        f"{row.because}."
        for row in _at_fault(study, estimate)
    ]


def _at_fault(study: Study, estimate: Estimate) -> list[FaultOdds]:
    done = {line.task for line in estimate.lines}
    return [row for task, row in study.costing.setting.fault_odds.items() if task in done]


def show_simulation(of: Simulation, currency: str) -> None:
    """The points of the jobs that were drawn."""
    rows = [
        (
            f"{point.percent:g} in 100 stay within",
            _minutes(point.value),
            money(Cents(round(of.cost.at(point.percent))), currency),
        )
        for point in of.minutes.points
    ]
    title = f"Simulated, {of.draws:,} jobs, rework and faults as events"
    show_table(title, ("", "hands-on", "cost"), rows, right=(1, 2))


def _show_wear(estimate: Estimate, currency: str) -> None:
    consumables, tools = used_up(estimate)
    for title, uses in (("What it uses up", consumables), ("Which tools it wears", tools)):
        show_table(
            title,
            ("what", "quantity", "unit", currency),
            [(use.what, plain(use.quantity), use.unit, f"{use.cost:.2f}") for use in uses[:MOST]],
            right=(1, 3),
        )


def as_data(study: Study, of: LookAhead, risks: tuple[FitRisk, ...], simulated: Simulation | None) -> Data:
    """The object that ``risk --json`` prints; minutes as numbers, money as strings."""
    consumables, tools = used_up(of.estimate)
    data: Data = {
        "job": study.job.id,
        "upgrades": list(of.estimate.chosen),
        "mean_min": round(of.closed.mean, 2),
        "sd_min": round(of.closed.sd, 2),
        "cost": money_text(of.estimate.totals.cost),
        "points": [
            {"percent": row.percent, "minutes": round(row.minutes, 2), "cost": money_text(row.cost)}
            for row in of.surety
        ],
        "drivers": [
            {
                "task": share.task,
                "place": share.place,
                "minutes": round(share.minutes, 2),
                "sd_min": round(share.sd, 3),
                "mean_pct": round(share.mean_pct, 3),
                "variance_pct": round(share.variance_pct, 3),
            }
            for share in of.shares
        ],
        "at_fault": [
            {"task": row.task, "fault": row.fault, "more_pct": float(row.more_pct), "because": row.because}
            for row in _at_fault(study, of.estimate)
        ],
        "tornado": [_bar(bar) for bar in (*of.lines, *of.assumed)],
        "wear": {
            "consumables": [_use(use) for use in consumables],
            "tools": [_use(use) for use in tools],
        },
        "geometry": [
            {"name": q.name, "value": round(q.value, 1), "unit": q.unit, "assumed": list(q.assumed)}
            for q in quantities_of(study.job.instrument)
        ],
        "advice": list(of.advice),
        "fit_risks": [
            {"field": risk.field, "percent": float(risk.percent), "upgrades": list(risk.upgrades)}
            for risk in risks
        ],
    }
    if simulated is not None:
        data["simulation"] = {
            "draws": simulated.draws,
            "seed": simulated.seed,
            "minutes": _distribution(simulated.minutes, 2),
            "cost_cents": _distribution(simulated.cost, 0),
        }
    return data


def _bar(bar: Bar) -> Data:
    return {
        "kind": bar.kind,
        "name": bar.name,
        "low_at": bar.low_at,
        "high_at": bar.high_at,
        "low_min": round(bar.low_minutes, 2),
        "high_min": round(bar.high_minutes, 2),
        "low_cost": money_text(bar.low_cents),
        "high_cost": money_text(bar.high_cents),
    }


def _use(use: Use) -> Data:
    return {
        "id": use.id,
        "quantity": float(round(use.quantity, 4)),
        "unit": use.unit,
        "cost": f"{use.cost:.4f}",
    }


def _distribution(of: Distribution, places: int) -> Data:
    points = {f"{point.percent:g}": round(point.value, places) for point in of.points}
    return {"mean": round(of.mean, places), "sd": round(of.sd, places), "points": points}
