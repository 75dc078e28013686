"""Results as plain data for ``--json``. Keys are stable; money is a string with two decimals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import TYPE_CHECKING

from estimator.choose.faults import FoundFault, faults_found, held_by
from estimator.choose.infeasible.due import day_of_return
from estimator.choose.kept import change_of
from estimator.choose.limits import limits_held
from estimator.choose.milp.earning import NONE_EARNS
from estimator.choose.questions.measure_first import First, measure_first
from estimator.choose.study import Choice, SpecRow, Study, assumed_values
from estimator.core.amounts import Cents
from estimator.core.errors import Issue
from estimator.core.money import cents, money_text
from estimator.estimate.ways import upgrades_in
from estimator.model import Estimate, Finding, Job, Shop, Totals, UsedValue, Verdict
from estimator.price.client.under_cost import under_cost
from estimator.report.words import part_lines
from estimator.report.words.faults import faults_data
from estimator.report.words.tools import tools_data

if TYPE_CHECKING:
    from estimator.choose.infeasible.conflicts import Compromise
    from estimator.choose.infeasible.ways_out import InfeasibleSet, RuleChange, WayOut
    from estimator.choose.measure import Measure
    from estimator.model.problem import Rule

Data = dict[str, object]


def number(value: Decimal | int | float) -> int | float:
    """A JSON number: whole where it is whole."""
    return int(value) if value == int(value) else float(value)


def minutes(hundredths: int) -> int | float:
    """Hundredths of a minute as minutes."""
    return number(Decimal(hundredths) / 100)


def totals(of: Totals, for_customer: bool = True) -> Data:
    """Money as strings, minutes as numbers; no price where there is no customer."""
    money = of.money
    return {
        "cost": money_text(of.cost),
        "price": money_text(of.price) if for_customer else None,
        "tax": money_text(of.tax) if for_customer else None,
        "to_pay": money_text(of.to_pay) if for_customer else None,
        "cash": money_text(money.cash),
        "parts": money_text(money.parts),
        "consumables": money_text(money.consumables),
        "tools": money_text(money.tools),
        "labour": money_text(money.labour),
        "overhead": money_text(money.overhead),
        "reserve": money_text(money.reserve),
        "freight": money_text(money.freight),
        "attended_min": minutes(of.attended),
        "reserve_min": minutes(of.reserve_min),
        "expected_min": minutes(of.expected),
        "sd_min": round(of.sd, 4),
        "p80_min": minutes(of.p80),
        "surety": number(of.surety),
        "quoted_at_mean": of.at_mean,
        "surety_min": minutes(of.surety_min),
        "billed_min": minutes(of.billed_min),
        "unattended_min": minutes(of.unattended),
        "desk_min": minutes(of.desk),
    }


def work(estimate: Estimate) -> list[Data]:
    """Work lines in their order: set-up (on a task's first line) + quantity x factor x each + extra + again."""
    return [
        {
            "task": line.task,
            "place": line.place,
            **({"method": line.method, "way": line.way} if line.method else {}),
            "quantity": number(line.quantity),
            "minutes": minutes(line.minutes + line.setup),
            "setup_min": minutes(line.setup),
            "each_min": number(line.each),
            "factor": number(line.factor),
            "extra_min": number(line.extra),
            "again_min": number(line.again),
            "sd_min": round(line.sd, 4),
            "rework_min": minutes(line.rework),
            "unattended_min": minutes(line.wait),
            "cost": money_text(line.money.cost),
            "labour": money_text(line.money.labour),
            "consumables": [_use(use) for use in line.consumables],
            "tools": [_use(use) for use in line.tools],
            "because": "; ".join(line.because),
        }
        for line in estimate.lines
    ]


def _use(use: object) -> Data:
    from estimator.model import Use

    assert isinstance(use, Use)
    quantity = float(round(use.quantity, 4))
    return {"id": use.id, "quantity": quantity, "unit": use.unit, "cost": f"{use.cost:.4f}"}


def spec(rows: Iterable[SpecRow], held: Mapping[str, tuple[str, ...]] = MappingProxyType({})) -> list[Data]:
    """What was wanted and what is reached, and what holds it down; what nobody asked for is left out."""
    return [
        {
            "attribute": row.attribute,
            "wanted": _wanted(row),
            "reached": _shown(row, row.reached),
            "now": _shown(row, row.now),
            "met": row.met,
            "held_by": list(held.get(row.attribute, ())),
            "by": list(row.by),
            "verified_by": row.verified_by,
            "rests_on_assumed": list(row.rests_on),
        }
        for row in rows
        if row.asked
    ]


def _shown(row: SpecRow, value: int) -> int | float:
    return number(Decimal(value) / (10 if row.kind == "level" else 1000))


def _wanted(row: SpecRow) -> object:
    if row.kind == "level":
        return _shown(row, row.least or 0)
    wanted: Data = {}
    if row.least is not None:
        wanted["least"] = _shown(row, row.least)
    if row.most is not None:
        wanted["most"] = _shown(row, row.most)
    return wanted


def _assumed(values: Iterable[UsedValue]) -> list[Data]:
    return [{"field": v.name, "value": v.value, "unit": v.unit} for v in values]


def estimate(study: Study, priced: Estimate) -> Data:
    """The object that ``estimate --json`` prints."""
    from estimator.choose.study import spec_rows

    return {
        "job": study.job.id,
        "upgrades": list(priced.chosen),
        "totals": totals(priced.totals, study.job.for_customer),
        "price_under_cost": _under_cost(study.job, priced.totals),
        **limits_and_measures(study, priced.chosen, study.measure_of(priced.totals)),
        "work": work(priced),
        "parts": part_lines.as_data(study, priced),
        "spec": spec(spec_rows(study, priced.chosen), held_by(study, priced.chosen)),
        "faults": faults_data(faults_found(study, priced.chosen)),
        "assumed": _assumed(assumed_values(study, priced.chosen)),
        "mass_change_g": number(priced.mass_change_g),
    }


def _under_cost(job: Job, of: Totals) -> str | None:
    return money_text(under_cost(job, of)) if job.for_customer else None


def choice(of: Choice) -> Data:
    """The object that ``choose --json`` prints."""
    answer, study = of.answer, of.study
    found = of.found
    return {
        "job": study.job.id,
        "status": answer.status,
        "aim": answer.aim,
        "engine": answer.engine,
        "engine_notes": list(answer.engine_notes),
        "gap": answer.gap,
        "objective": _aimed_at(answer.aim, answer.objective),
        "bound": _aimed_at(answer.aim, answer.bound),
        "proven": answer.proven,
        "only_by_changing": [change_of(rule) for rule in answer.changed],
        "no_set_earns": NONE_EARNS if answer.none_earns else None,
        "upgrades": list(of.estimate.chosen) if found else [],
        "totals": totals(of.estimate.totals, study.job.for_customer) if found else None,
        "price_under_cost": _under_cost(study.job, of.estimate.totals) if found else None,
        **limits_and_measures(study, of.estimate.chosen, answer.measure if found else None),
        "work": work(of.estimate) if found else [],
        "parts": part_lines.as_data(study, of.estimate) if found else [],
        "spec": spec(of.spec, held_by(study, of.estimate.chosen)),
        "faults": faults_data(faults_found(study, of.estimate.chosen)),
        "conflict": conflict(of),
        "ways_out": ways_out(of),
        "conflicts": [_rules(found) for found in answer.conflicts],
        "whole_wish": _compromise(answer.whole_wish, study.priced),
        "within_limits": _compromise(answer.within_limits, study.priced),
        "within_limits_bare": _compromise(answer.within_bare, study.priced),
        "together": _compromise(answer.together, study.priced),
        "explained": answer.explained,
        "not_settled": list(answer.not_settled),
        **tools_data(of.tools),
        "assumed": _assumed(assumed_values(study, of.estimate.chosen)),
    }


def limits_and_measures(study: Study, chosen: Sequence[str], measure: Measure | None) -> Data:
    """The limits of the job under a set, and what to measure first of it: no set, nothing of either."""
    if measure is None:
        return {"limits": [], "measure_first": []}
    return {"limits": limits(study, chosen, measure), "measure_first": _first(measure_first(study, chosen))}


def limits(study: Study, chosen: Sequence[str], measure: Measure) -> list[Data]:
    """Each limit of the job, what the set comes to at its surety, and how much is left (below 0: beyond it).

    Money as text, minutes as numbers; of the promised day ``comes_to`` is the soonest day, ``left`` whole days.
    """
    return [
        {
            "rule": held.rule.id,
            "kind": held.rule.kind,
            "words": held.rule.words,
            "most": _way_value(held.rule, held.most),
            "comes_to": _way_value(held.rule, held.comes_to),
            "left": held.left if held.rule.kind == "due" else _way_value(held.rule, held.left),
        }
        for held in limits_held(study.problem, chosen, measure)
    ]


def _first(found: Iterable[First]) -> list[Data]:
    """What to measure first, in the order of worth: the chance that it is otherwise x what the cost moves by then."""
    return [
        {
            "field": one.field,
            "what": one.what,
            "how": one.how,
            "moves": money_text(one.moves),
            "chance": float(one.chance),
            "worth": money_text(cents(one.worth / 100)),
        }
        for one in found
    ]


def _aimed_at(aim: str, value: int | None) -> object:
    """A figure of the first aim: minutes and scores as numbers, money as text."""
    first = aim.split(",")[0].strip()
    if value is None or first not in ("hours", "score"):
        return None if value is None else money_text(Cents(value))
    return number(Decimal(value) / (100 if first == "hours" else 1000))


def conflict(of: Choice) -> list[Data]:
    """The requirements and limits that cannot hold together, in the user's words."""
    found = of.answer.conflict
    return _rules(found) if found else []


def _rules(of: InfeasibleSet) -> list[Data]:
    return [{"rule": rule.id, "words": rule.words} for rule in of.rules]


def ways_out(of: Choice) -> list[Data]:
    """What would settle each conflict, each way solved again and true: the record that the text tells too."""
    return [_way(way, of.study.priced) for way in of.answer.ways_out]


def _way(way: WayOut, priced: bool) -> Data:
    return {
        **_change(way),
        "settles": list(way.settles),
        "set_aside": [rule.id for rule in way.aside],
        "only_by_changing": [change_of(rule) for rule in way.changed],
        **_set(way.chosen, way.measure, priced),
    }


def _change(change: RuleChange) -> Data:
    return {
        "rule": change.rule.id,
        "kind": change.kind,
        "to": None if change.to is None else _way_value(change.rule, change.to),
        "words": change.words,
    }


def _set(chosen: tuple[str, ...], measured: Measure, priced: bool) -> Data:
    return {
        "upgrades": list(upgrades_in(chosen)),
        "cost": money_text(measured.cost),
        "price": money_text(measured.price) if priced else None,
        "cash": money_text(measured.cash),
        "minutes": minutes(measured.minutes),
    }


def _compromise(of: Compromise | None, priced: bool) -> Data | None:
    if of is None:
        return None
    return {
        "give_up": [rule.words for rule in of.given_up],
        "words": list(of.words),
        "changes": [_change(change) for change in of.changes],
        "only_by_changing": [change_of(rule) for rule in of.changed],
        **_set(of.chosen, of.measure, priced),
    }


def _way_value(rule: Rule, value: int) -> object:
    """Money and days as text, minutes, levels and amounts as numbers."""
    if rule.kind == "money":
        return money_text(Cents(value))
    if rule.kind == "due":
        return day_of_return(rule, value)
    return number(Decimal(value) / {"minutes": 100, "level": 10}.get(rule.kind, 1000))


def finding(of: Finding) -> Data:
    """One finding of a fit rule."""
    return {
        "rule": of.rule,
        "outcome": of.outcome,
        "sentence": of.sentence,
        "working": of.working,
        "values": [
            {"field": v.name, "value": v.value, "unit": v.unit, "assumed": v.assumed} for v in of.used
        ],
        "assumed": [v.name for v in of.assumed],
        "work": [
            {"task": d.task, "place": d.place, "quantity": number(d.quantity), "because": d.because}
            for d in of.demands
        ],
    }


def fit(job: Job, verdicts: Iterable[Verdict], faults: Iterable[FoundFault] = ()) -> Data:
    """The object that ``fit --json`` prints."""
    from estimator.report.words.fit import one_line

    return {
        "job": job.id,
        "faults": faults_data(faults),
        "verdicts": [
            {
                "upgrade": v.upgrade.id,
                "what": v.upgrade.what,
                "slot": v.upgrade.slot,
                "verdict": v.outcome,
                "words": one_line(v),
                "findings": [finding(f) for f in v.findings],
            }
            for v in verdicts
        ],
    }


def check(shop: Shop, job: Job | None, doubts: Iterable[Issue] = ()) -> Data:
    """The object that ``check --json`` prints; ``doubts`` are warnings beyond those of reading."""
    warnings = [issue.as_dict() for issue in (*shop.issues, *(job.issues if job else ()), *doubts)]
    counted = ("tasks", "consumables", "tools", "parts", "upgrades", "attributes", "intake")
    data: Data = {
        "status": "ok",
        "warnings": warnings,
        "shop": {name: len(getattr(shop, name)) for name in counted},
    }
    if job is not None:
        data["job"] = job.id
        data["assumed_fields"] = sorted(k for k, r in job.instrument.items() if r.assumed)
    return data
