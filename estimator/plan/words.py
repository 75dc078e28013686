"""Plans in words: for the screen, for paper on the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from estimator.plan.daylist import DayLine, day_list, evenings, short
from estimator.plan.joint_records import JointAnswer
from estimator.plan.operations import Booking, Operation
from estimator.plan.papers import order_lines
from estimator.plan.planning import PROMISE_DAYS, Gain, Plan
from estimator.plan.replan import Replanned
from estimator.plan.saying import day, hours, moment, money
from estimator.plan.whatif import WhatIf


def plan_words(plan: Plan) -> str:
    """The whole plan: what is chosen, promised and proven, then the days, then the orders."""
    return "\n".join([*choice_lines(plan), "", *promise_lines(plan), "", *proof_lines(plan), "",
                      *day_lines(plan), "", *order_lines(plan.orders, plan.shop.terms.currency)]) + "\n"  # fmt: skip


def choice_lines(plan: Plan) -> list[str]:
    """What was chosen for each job, and how good it is proven to be."""
    answer, currency = plan.answer, plan.shop.terms.currency
    out = [f"Plan “{plan.study.file.id}” from {day(plan.study.file.start)}, waits: {plan.study.file.pace}"]
    for job, chosen in answer.chosen.items():
        minutes = plan.estimates[job].totals.expected / 100
        out.append(f"  {job}: {', '.join(chosen) or 'no upgrade'} ({hours(minutes)} hands-on on average)")
    out += [f"  {job}: not bought: {why}" for job, why in answer.why_not.items()]
    shelf = answer.cash - plan.orders.total
    out.append(
        f"  laid out in all: {money(answer.cash, currency)}: {money(plan.orders.total, currency)} of orders, "
        f"{money(shelf, currency)} of strings and the like from the shelf"
    )
    out.append(f"  {proven_choice(answer)}")
    return out


def proven_choice(answer: JointAnswer) -> str:
    """How good the joint choice is proven to be."""
    if answer.status == "optimal":
        return "proven: no other choice for all jobs together is better"
    if answer.gap is not None:
        return f"stopped before the proof: at most {answer.gap:.2%} from the best"
    return "stopped before a proof"


def no_plan_words(answer: JointAnswer) -> str:
    """Why there is no plan."""
    if answer.why_not and not answer.chosen:
        reasons = "\n".join(f"  {job}: {why}" for job, why in answer.why_not.items())
        return f"Nothing is worth doing: no instrument of the batch is bought.\n{reasons}\n"
    if answer.status == "infeasible":
        return (
            "No choice keeps every limit of every job and of the batch. Look at each job alone first "
            "(choose says which of its wishes clash), then raise cash or hours of the batch.\n"
        )
    return "The time was up before any choice was found. Give it more time.\n"


def promise_lines(plan: Plan) -> list[str]:
    """When each job is done, what to promise, what is late."""
    done, promised = plan.finished(), plan.promised
    out = ["Done and promised"]
    dues = {entry.id: entry.due for entry in plan.study.file.jobs}
    for job, when in done.items():
        due = dues[job]
        late = "" if due is None else f"; wanted by {day(due)}"
        if due is not None and when.date() > due:
            late += ": LATE"
        elif due is not None and promised[job] > due:
            late += ": cannot be promised surely"
        out.append(f"  {job}: done {moment(when)}; promise {day(promised[job])}{late}")
    out.append(
        f"  (promise: finish with all hands-on times at 80 % surety, {PROMISE_DAYS} days more, next open day)"
    )
    return out


def proof_lines(plan: Plan) -> list[str]:
    """How good the schedule is proven to be, and where the hours go."""
    found, calendar = plan.schedule, plan.calendar
    figures = found.figures
    out = [
        f"The schedule: {'proven best' if found.status == 'optimal' else 'not proven best'}, found by {found.method}",
        f"  weighted lateness {hours(figures.lateness)} of working time (proven: not below {hours(found.bounds.get('lateness', 0))})",
        f"  all done after {hours(figures.makespan)} of open time, {moment(calendar.moment(calendar.elapsed_at_end(figures.makespan)))}",
    ]
    if "makespan" in found.bounds:
        out.append(
            f"  proven: not before {hours(found.bounds['makespan'])} (gap {found.gap('makespan'):.1%})"
        )
    out.append(
        f"  hands-on {hours(figures.minutes)} with set-ups and change-overs; most instruments open at once: {most_open(plan)}"
    )
    if figures.idle_evenings:
        out.append(f"  evenings with nothing curing: {figures.idle_evenings}")
    by_kind: dict[str, int] = {}
    known = plan.work.by_id()
    for booking in found.bookings:
        kind = known[booking.operation].kind or "other"
        by_kind[kind] = by_kind.get(kind, 0) + booking.end - booking.start
    spent = ", ".join(f"{kind} {hours(m)}" for kind, m in sorted(by_kind.items(), key=lambda item: -item[1]))
    out.append(f"  where the hours go: {spent}")
    chain = " > ".join(f"{name.partition(':')[0]}: {short(name)}" for name in critical_chain(plan)[-8:])
    out.append(f"  what decides the end: {chain}")
    return out


def most_open(plan: Plan) -> int:
    """The most jobs that are begun and not done at one time."""
    spans: dict[str, tuple[int, int]] = {}
    jobs = {o.id: o.job for o in plan.work.operations}
    for booking in plan.schedule.bookings:
        job = jobs[booking.operation]
        low, high = spans.get(job, (booking.start, booking.free))
        spans[job] = (min(low, booking.start), max(high, booking.free))
    return max((sum(a <= low < b for a, b in spans.values()) for low, _ in spans.values()), default=0)


def critical_chain(plan: Plan) -> list[str]:
    """Operations from first to last, each of which keeps the next from starting earlier; the last ends last."""
    bookings = {b.operation: b for b in plan.schedule.bookings}
    if not bookings:
        return []
    known = plan.work.by_id()
    now: Booking | None = max(bookings.values(), key=lambda b: (b.free, b.operation))
    chain: list[str] = []
    while now is not None and now.operation not in chain:
        chain.append(now.operation)
        now = _held_by(plan, now, bookings, known[now.operation])
    return chain[::-1]


def _held_by(
    plan: Plan, booking: Booking, bookings: Mapping[str, Booking], operation: Operation
) -> Booking | None:
    for link in operation.after:
        before = bookings[link.before]
        ready = before.free if link.lag is None else plan.calendar.after_wait(before.end, link.lag)
        if ready == booking.start:
            return before
    if plan.calendar.working_at(operation.earliest) == booking.start:
        return None
    hands = [b for b in bookings.values() if b.who and b.who == booking.who and b.end == booking.start]
    return hands[0] if hands else None


def day_lines(plan: Plan) -> list[str]:
    """The list of the day for each person, with what cures meanwhile and overnight."""
    lines = day_list(plan.work, plan.calendar, plan.schedule.bookings)
    nights = evenings(plan.work, plan.calendar, plan.schedule.bookings)
    people = {line.who for line in lines}
    out: list[str] = []
    today: date | None = None
    for line in lines:
        if line.day != today:
            if today is not None:
                out += _night(nights.get(today, ()))
            today = line.day
            out.append(day(today))
        who = f"{line.who}: " if len(people) > 1 else ""
        out.append(f"  {line.begins:%H:%M}-{line.ends:%H:%M}  {who}{line.words}")
        if line.curing:
            out.append(f"               meanwhile curing: {_curing(line)}")
    return out


def _curing(line: DayLine) -> str:
    """What cures by itself: the same task on several instruments told once, with the last end."""
    tasks: dict[str, tuple[list[str], datetime]] = {}
    for name, until in line.curing:
        jobs, last = tasks.get(short(name), ([], until))
        tasks[short(name)] = ([*jobs, name.partition(":")[0]], max(last, until))
    return "; ".join(
        f"{task} of {', '.join(jobs)} till {_until(last, line.begins)}"
        for task, (jobs, last) in tasks.items()
    )


def _until(until: datetime, now: datetime) -> str:
    return (
        f"{until:%H:%M}" if until.date() == now.date() else f"{until:%a} {until.day} {until:%b} {until:%H:%M}"
    )


def named(operation: str) -> str:
    """An operation with its job."""
    return f"{short(operation)} of {operation.partition(':')[0]}"


def _night(names: tuple[str, ...]) -> list[str]:
    if not names:
        return ["  overnight: nothing cures or settles"]
    return [f"  overnight: {', '.join(named(n) for n in names)}"]


def gain_lines(gain: Gain, currency: str) -> list[str]:
    """What planning together brings."""
    money_ratio, minute_ratio, day_ratio = gain.ratios
    (cash, minutes, days), (cash1, minutes1, days1) = gain.joint, gain.single
    return [
        "Planned together against one by one",
        f"  money laid out: {money(cash, currency)} against {money(cash1, currency)} ({money_ratio:.2f})",
        f"  hands-on: {hours(minutes)} against {hours(minutes1)} ({minute_ratio:.2f})",
        f"  days from first to last: {days:.1f} against {days1:.1f} ({day_ratio:.2f})",
        f"  against the best priority rule alone: {hours(gain.makespan)} of open time against {hours(gain.rule_makespan)}",
    ]


def what_if_lines(cases: Sequence[WhatIf]) -> list[str]:
    """What more hands or stations would bring."""
    out = ["What more would bring (solved again)"]
    for case in cases:
        brings = []
        if case.less_late:
            brings.append(f"{hours(case.less_late)} less weighted lateness")
        if case.saved:
            brings.append(
                f"all done {hours(case.saved)} of open time {'earlier' if case.saved > 0 else 'later'}"
            )
        out.append(f"  {case.words}: {', '.join(brings) or 'nothing'}")
    return out


def replan_lines(again: Replanned) -> list[str]:
    """What became of a plan after today's state."""
    if again.kept_order:
        out = ["The order of work stands as it was."]
    else:
        late, kept = again.schedule.figures.lateness, again.lateness_if_kept
        out = [f"The order of work is changed: late by {hours(late)} (weighted) instead of {hours(kept)}."]
    if again.moved:
        names = ", ".join(f"{n.partition(':')[0]}: {short(n)}" for n in again.moved[:8])
        out.append(
            f"  {len(again.moved)} operations move to another day: {names}"
            + (", ..." if len(again.moved) > 8 else "")
        )
    else:
        out.append("  nothing moves to another day")
    return out
