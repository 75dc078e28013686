"""A plan as plain data for ``plan --json``: stable keys, money as strings, times as local dates and times, minutes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from estimator.batch.build import methods_of
from estimator.batch.orders import OrderLine
from estimator.batch.records import BatchWay
from estimator.choose.kept import change_of
from estimator.choose.milp.earning import NONE_EARNS
from estimator.core.money import money_text
from estimator.plan.plan import Plan, PlanningGain
from estimator.plan.reasons import critical_chain
from estimator.plan.replan.plan import PlannedAgain
from estimator.plan.week import Curing, Day, week_of
from estimator.plan.what_if import WhatIf
from estimator.report.words.plan import NOT_IN_OWN_CASH, by_kind, own_cash_jobs
from estimator.schedule.records import Figures

Data = dict[str, object]


def as_data(plan: Plan) -> Data:
    """The object of a plan."""
    answer, orders = plan.answer, plan.orders
    return {
        "status": answer.status,
        "gap": answer.gap,
        "no_set_earns": NONE_EARNS if answer.none_earns else None,
        "cash": money_text(plan.cash),
        "not_bought": dict(answer.why_not),
        "jobs": [_job(plan, job) for job in answer.chosen],
        "shared_set_ups": [_shared(way) for way in plan.study.shared],
        "orders": money_text(orders.total),
        "baskets": [
            {
                "supplier": basket.seller,
                "total": money_text(basket.total),
                "freight": money_text(basket.freight),
                "lines": [_order_line(line) for line in basket.lines],
            }
            for basket in orders.baskets
        ],
        "moved_parts": [
            {
                "from_job": purchase.seller,
                "to_job": purchase.job,
                "upgrade": purchase.upgrade,
                "what": purchase.what,
            }
            for purchase in answer.purchases
            if purchase.kind == "moved"
        ],
        "from_stock": [
            {
                "part": purchase.what,
                "number": purchase.number,
                "job": purchase.job,
                "upgrade": purchase.upgrade,
            }
            for purchase in answer.purchases
            if purchase.kind == "stock"
        ],
        "no_spares": orders.no_spares or None,
        "schedule": {
            "status": plan.schedule.status,
            "found_by": plan.schedule.method,
            "aims": list(plan.schedule.objectives),
            **_figures(plan.schedule.figures),
            "bounds": dict(plan.schedule.bounds),
            "rule_alone": _figures(plan.schedule.rule),
            "hours_by_kind": dict(by_kind(plan)),
            "critical": critical_chain(plan.work, plan.calendar, plan.schedule.assignments),
        },
        "days": [entry for day in week_of(plan) for entry in _entries(day)],
        "week": [_day(day) for day in week_of(plan)],
    }


def _order_line(line: OrderLine) -> Data:
    return {
        "kind": line.kind,
        "id": line.what,
        "what": line.words,
        "number": line.number,
        "money": money_text(line.cents),
        "needed_by": line.need_by.isoformat() if line.need_by else None,
        "borne_by": {job: money_text(cents) for job, cents in line.bears},
    }


def _job(plan: Plan, job: str) -> Data:
    answer, finished, promised = plan.answer, plan.finished(), plan.promised
    return {
        "job": job,
        "upgrades": list(answer.chosen[job]),
        "methods": methods_of(plan.study, plan.estimates[job], job),
        "only_by_changing": [change_of(rule) for rule in plan.study.changed.get(job, ())],
        "cost": money_text(answer.measures[job].cost),
        "own_cash_limit_leaves_out": list(NOT_IN_OWN_CASH) if job in own_cash_jobs(plan) else [],
        "finished": _iso(finished[job]) if job in finished else None,
        "promised": promised[job].isoformat() if job in promised else None,
        "orders": money_text(plan.orders.by_job.get(job, 0)),
    }


def _shared(way: BatchWay) -> Data:
    return {
        "task": way.task,
        "jobs": list(way.jobs),
        "instead_of": way.now.method,
        "method": way.other.method,
        "saves": money_text(way.saves),
        "pays_alone": way.alone,
    }


def _iso(when: datetime) -> str:
    return when.isoformat(timespec="minutes")


def _figures(figures: Figures) -> Data:
    return {
        "lateness_min": figures.tardiness,
        "makespan_min": figures.makespan,
        "hands_on_min": figures.minutes,
        "idle_evenings": figures.idle_evenings,
    }


def _curing(curing: Sequence[Curing]) -> list[Data]:
    return [{"operation": c.operation, "until": _iso(c.until), "meanwhile": c.hint} for c in curing]


def _entries(day: Day) -> list[Data]:
    return [
        {
            "who": entry.who,
            "begins": _iso(entry.begins),
            "ends": _iso(entry.ends),
            "words": entry.words,
            "operations": list(entry.operations),
            "curing": _curing(entry.curing),
            "changed": list(entry.changed),
        }
        for entry in day.entries
        if entry.kind == "work"
    ]


def _day(day: Day) -> Data:
    return {
        "day": day.day.isoformat(),
        "hands_on_min": day.minutes,
        "errands": list(day.errands),
        "quiet": day.quiet or None,
        "overnight": _curing(day.overnight),
    }


def gain_data(gain: PlanningGain) -> Data:
    """What planning together brings, against one by one and against the priority rule."""
    money, minutes, days = gain.ratios
    return {
        "together": {
            "money": money_text(gain.joint[0]),
            "hands_on_min": gain.joint[1],
            "days": gain.joint[2],
        },
        "one_by_one": {
            "money": money_text(gain.single[0]),
            "hands_on_min": gain.single[1],
            "days": gain.single[2],
        },
        "ratios": {"money": round(money, 4), "hands_on": round(minutes, 4), "days": round(days, 4)},
        "makespan_min": gain.makespan,
        "rule_alone_makespan_min": gain.rule_makespan,
    }


def what_if_data(cases: Sequence[WhatIf]) -> list[Data]:
    """What each change would come to."""
    return [
        {
            "change": case.words,
            **_figures(case.figures),
            "saved_min": case.saved,
            "less_late_min": case.less_late,
            "relieved_min": case.relieved,
        }
        for case in cases
    ]


def again_data(again: PlannedAgain) -> Data:
    """What a plan made again started from, and what changed."""
    return {
        "now": _iso(again.plan.now) if again.plan.now else None,
        "done": [o.id for o in again.plan.done],
        "taken_as_done": list(again.as_planned),
        "running": dict(again.running),
        "order_kept": again.result.kept_order,
        "lateness_if_kept_min": again.result.tardiness_if_kept,
        "moved": list(again.result.moved),
        "changed": [
            {
                "operation": name,
                "was": _iso(change.was) if change.was else None,
                "now": _iso(change.now),
                "why": change.why,
            }
            for name, change in again.plan.changed.items()
        ],
        "promised_before": {job: when.isoformat() for job, when in again.kept.promised.items()},
        "not_written_down": list(again.implied),
        "recorded": [
            {
                "job": one.job,
                "done": one.done,
                "planned_s": one.planned_s,
                "taken_s": one.taken_s,
                "told_customer": one.told.isoformat() if one.told else None,
            }
            for one in again.recorded
        ],
    }
