"""A plan for several instruments, as text, as data, as a drawing and as a calendar file."""

from __future__ import annotations

import json

from estimator.estimate.money import money_text
from estimator.plan import words
from estimator.plan.calendarfile import calendar_bytes
from estimator.plan.daylist import day_list
from estimator.plan.gantt import gantt_svg
from estimator.plan.joint_records import JointAnswer
from estimator.plan.planning import Plan, measure_gain
from estimator.plan.whatif import what_if
from estimator.report.saving import save_bytes, save_text

Data = dict[str, object]


def show(plan: Plan, gain: bool, changes: bool) -> None:
    """The plan in words, orders included, and what was asked for besides."""
    currency = plan.shop.terms.currency
    print(words.plan_words(plan))
    if gain:
        print("\n".join(words.gain_lines(measure_gain(plan), currency)))
    if changes:
        print("\n".join(words.what_if_lines(what_if(plan))))


def show_none(answer: JointAnswer, as_json: bool) -> None:
    """Why there is no plan."""
    if as_json:
        print(json.dumps({"status": answer.status}, indent=2))
    else:
        print(words.no_plan_words(answer))


def as_data(plan: Plan) -> Data:
    """The object that ``plan --json`` prints; money as strings, times as local dates and times."""
    answer = plan.answer
    finished = plan.finished()
    return {
        "status": answer.status,
        "gap": answer.gap,
        "cash": money_text(answer.cash),
        "not_bought": dict(answer.why_not),
        "jobs": [
            {
                "job": job,
                "upgrades": list(chosen),
                "cost": money_text(answer.measures[job].cost),
                "finished": finished[job].isoformat(timespec="minutes") if job in finished else None,
                "promised": plan.promised[job].isoformat() if job in plan.promised else None,
                "orders": money_text(plan.orders.by_job.get(job, 0)),
            }
            for job, chosen in answer.chosen.items()
        ],
        "orders": money_text(plan.orders.total),
        "days": [
            {
                "who": line.who,
                "begins": line.begins.isoformat(timespec="minutes"),
                "ends": line.ends.isoformat(timespec="minutes"),
                "words": line.words,
                "operations": list(line.operations),
            }
            for line in day_list(plan.work, plan.calendar, plan.schedule.bookings)
        ],
    }


def write_files(plan: Plan, gantt: str | None, ics: str | None, force: bool, quiet: bool) -> None:
    """The drawing and the calendar file, where asked for."""
    written = []
    if gantt:
        picture = gantt_svg(plan.work, plan.calendar, plan.schedule.bookings, plan.study.file.what)
        written.append(save_text(gantt, picture, force=force, extensions=(".svg",)))
    if ics:
        lines = day_list(plan.work, plan.calendar, plan.schedule.bookings)
        name = plan.study.file.what or plan.study.file.id
        data = calendar_bytes(lines, plan.promised, plan.study.file.start, name)
        written.append(save_bytes(ics, data, force=force, extensions=(".ics",)))
    if not quiet:
        for path in written:
            print(f"wrote {path}")
