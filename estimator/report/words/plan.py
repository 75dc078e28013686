"""Plans in words: for the screen, for paper on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from estimator.batch.records import JointAnswer
from estimator.batch.ways import cheaper_ways
from estimator.choose.faults import faults_found
from estimator.choose.kept import only_by
from estimator.choose.milp.earning import NONE_EARNS
from estimator.core.amounts import Cents, Minutes
from estimator.core.money import cents
from estimator.core.text import day, hours, moment, money, time_text, wrapped
from estimator.model.operation import operation_name
from estimator.plan.day_list import short
from estimator.plan.plan import PROMISE_DAYS, Plan, PlanningGain
from estimator.plan.reasons import critical_chain, reason_of
from estimator.plan.week import Day, WeekEntry, curing_words, week_of, what_is_awaited
from estimator.plan.what_if import WhatIf
from estimator.report.words.faults import fault_sentences
from estimator.report.words.orders import order_lines
from estimator.report.words.ways import batch_way_lines, shared_way_lines, taken_way_lines
from estimator.schedule.records import Schedule

CHAIN = 5
"""So many stretches of the deciding chain are told, the last ones."""


def plan_words(plan: Plan) -> str:
    """The whole plan: what is chosen, promised and proven, then the days, then the orders."""
    return (
        "\n".join(
            [
                *choice_lines(plan),
                "",
                *promise_lines(plan),
                "",
                *proof_lines(plan),
                "",
                *day_lines(plan),
                "",
                *order_lines(plan.orders, plan.shop.terms.currency),
            ]
        )
        + "\n"
    )


def choice_lines(plan: Plan) -> list[str]:
    """What was chosen for each job, and how good it is proven to be."""
    answer, currency = plan.answer, plan.shop.terms.currency
    out = [f"Plan “{plan.study.file.id}” from {day(plan.study.file.start)}, waits: {plan.study.file.pace}"]
    for job, chosen in answer.chosen.items():
        if told := only_by(plan.shop, plan.study.changed.get(job, ()), chosen):
            out += wrapped(f"{job}: {told}")
        time = time_text(plan.estimates[job].totals.expected)
        out += wrapped(f"{job}: {', '.join(chosen) or 'no upgrade'} ({time} hands-on on average)")
        study = plan.study.studies[job]
        found = [fault for fault in faults_found(study, chosen) if not fault.mended]
        for line in fault_sentences(found, currency, set_named=True, lengths=study.shop.lengths):
            out += wrapped(line)
    out += [f"  {job}: not bought" for job in answer.left_out]
    if len(set(plan.study.file.crew)) > 1:
        out += wrapped(
            "(these hours and the cost: as the least skilled who may do each task would take; the week below has "
            "everybody at their own pace)"
        )
    shelf = plan.cash - plan.orders.total
    out.append(
        f"  laid out in all: {money(plan.cash, currency)}: {money(plan.orders.total, currency)} of orders, "
        f"{money(shelf, currency)} of strings and the like from the shelf"
    )
    for line in own_cash_lines(plan):
        out += wrapped(line)
    out.append(f"  {proven_choice(answer)}")
    if answer.none_earns:
        out += wrapped(NONE_EARNS)
    for line in [
        *taken_way_lines(plan.study, plan.estimates),
        *shared_way_lines(plan.study.shared, currency),
        *batch_way_lines(() if plan.study.ways_open else cheaper_ways(plan.study, plan.estimates), currency),
    ]:
        out += wrapped(line)
    return out


def own_cash_lines(plan: Plan) -> list[str]:
    """What the jobs with a limit on their own cash would lay out by themselves, and what they bear of the orders."""
    currency = plan.shop.terms.currency
    out = []
    for job, order in plan.answer.own_orders.items():
        limit = plan.study.studies[job].job.budget.money
        assert limit is not None
        holds = [
            f"{money(paid, currency)} of {what}"
            for paid, what in ((order.sent, "freight"), (order.got, "tools"))
            if paid
        ]
        told = f" (in it {' and '.join(holds)})" if holds else ""
        out.append(
            f"{job}: ordered by itself it would lay out {money(order.cash, currency)}{told} of its own limit of "
            f"{money(cents(limit), currency)}; of the orders of this plan it bears "
            f"{money(plan.orders.by_job.get(job, Cents(0)), currency)}"
        )
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
        if answer.ways_out:
            ways = "".join(f"  {words}\n" for words in answer.ways_out)
            return f"No choice keeps every limit. One of these would do:\n{ways}"
        if answer.unmet:
            return (
                "No choice keeps every limit: with the people, tools and stock of this batch, and even with "
                f"nothing shared, these cannot keep their own: {', '.join(answer.unmet)}. The skill of a [[person]] "
                "takes the place of “skill” in the job file: look at each with that skill (choose says which of "
                "its wishes clash), or name somebody more skilled.\n"
            )
        return (
            "No choice keeps every limit of every job and of the batch. Look at each job alone first "
            "(choose says which of its wishes clash), then raise cash or hours of the batch.\n"
        )
    return "The time was up before any choice was found. Give it more time.\n"


def promise_lines(plan: Plan) -> list[str]:
    """When each job is done, what to promise, what is late."""
    done, promised = plan.finished(), plan.promised
    out = ["Done and promised"]
    for entry in (one for one in plan.study.file.jobs if one.id in plan.estimates):
        job, due = entry.id, entry.due
        if job not in done:
            out.append(f"  {job}: nothing is left to do")
            continue
        when = done[job]
        late = "" if due is None else f"; wanted by {day(due)}"
        if due is not None and when.date() > due:
            late += ": LATE"
        elif due is not None and promised[job] > due:
            late += ": cannot be promised surely"
        out += wrapped(f"{job}: done {moment(when)}; promise {day(promised[job])}{late}")
    for job, why in plan.answer.why_not.items():
        out += wrapped(f"{job}: not bought: {why}")
    out.append(
        f"  (promise: finish with all hands-on times at 80 % surety, {PROMISE_DAYS} days more, next open day)"
    )
    return out


def proof_lines(plan: Plan) -> list[str]:
    """How good the schedule is proven to be, aim by aim, and where the hours go."""
    found, figures = plan.schedule, plan.schedule.figures
    out = wrapped(f"The schedule, found by {found.method}", "")
    for aim in found.objectives:
        out += wrapped(f"{proof_words(plan, aim)} ({bound_words(found, aim)})")
    if "minutes" not in found.objectives:
        out.append(f"  {proof_words(plan, 'minutes')}")
    out.append(f"  most instruments open at once: {most_open(plan)}")
    if figures.idle_evenings:
        out.append(f"  evenings with nothing curing: {figures.idle_evenings}")
    spent = ", ".join(f"{what} {hours(minutes)}" for what, minutes in by_kind(plan))
    out += wrapped(f"where the hours go: {spent}")
    out += wrapped(f"what decides the end: {chain_words(plan)}")
    return out


def proof_words(plan: Plan, aim: str) -> str:
    """What the schedule comes to by an aim."""
    figures, calendar = plan.schedule.figures, plan.calendar
    done = moment(calendar.moment(calendar.elapsed_at_end(figures.makespan)))
    return {
        "tardiness": f"weighted lateness {hours(figures.tardiness)} of working time",
        "makespan": f"all done after {hours(figures.makespan)} of open time, {done}",
        "minutes": f"hands-on {hours(figures.minutes)} with set-ups and change-overs",
        "max_tardiness": f"the latest job is {hours(figures.max_tardiness)} late",
        "completion": f"weighted times to completion {hours(figures.completion)}",
    }[aim]


def by_kind(plan: Plan) -> list[tuple[str, Minutes]]:
    """Attended minutes by kind of work, the most first."""
    spent: dict[str, Minutes] = {}
    known = plan.work.by_id()
    for assignment in plan.schedule.assignments:
        kind = plan.shop.planning.kinds.get(known[assignment.operation].kind)
        what = kind.what if kind else "other work"
        spent[what] = spent.get(what, Minutes(0)) + Minutes(assignment.end - assignment.start)
    return sorted(spent.items(), key=lambda item: -item[1])


def bound_words(found: Schedule, aim: str) -> str:
    """What is proven of one aim."""
    bound = found.bounds[aim]
    if found.figures.of(aim) <= bound:
        return "proven best"
    return f"proven: not below {hours(Minutes(bound))}, gap {found.gap(aim):.1%}"


def chain_words(plan: Plan) -> str:
    """The chain that decides the end, as one text."""
    start, stretches = chain_stretches(plan)
    return "; ".join((*((start,) if start else ()), *stretches)) or "nothing"


def chain_stretches(plan: Plan) -> tuple[str, list[str]]:
    """What the chain that decides the end waits for at its start, and its last stretches by instrument and day."""
    assignments = {b.operation: b for b in plan.schedule.assignments}
    chain = critical_chain(plan.work, plan.calendar, plan.schedule.assignments)
    told: list[tuple[str, list[str]]] = []
    for name in chain:
        begins = plan.calendar.moment(plan.calendar.elapsed_at_start(assignments[name].start))
        where = f"{operation_name(name).job} on {begins:%a} {begins.day} {begins:%b}"
        if not told or told[-1][0] != where:
            told.append((where, []))
        told[-1][1].append(short(name))
    start = ""
    if chain and reason_of(plan.work, plan.calendar, assignments, assignments[chain[0]]).kind == "there":
        start = what_is_awaited(plan, chain[0])
    return start, [f"{where}: {', '.join(tasks)}" for where, tasks in told[-CHAIN:]]


def most_open(plan: Plan) -> int:
    """The most jobs that are begun and not done at one time."""
    spans: dict[str, tuple[int, int]] = {}
    jobs = {o.id: o.job for o in plan.work.operations}
    for assignment in plan.schedule.assignments:
        job = jobs[assignment.operation]
        low, high = spans.get(job, (assignment.start, assignment.free))
        spans[job] = (min(low, assignment.start), max(high, assignment.free))
    return max((sum(a <= low < b for a, b in spans.values()) for low, _ in spans.values()), default=0)


def day_lines(plan: Plan) -> list[str]:
    """The list of the day for each person, with what cures meanwhile and overnight."""
    days = week_of(plan)
    people = {entry.who for one in days for entry in one.entries}
    out: list[str] = []
    quiet: list[Day] = []
    for one in days:
        if one.quiet and not one.errands:
            quiet.append(one)
            continue
        out += _quiet_lines(quiet)
        quiet = []
        if one.quiet:
            out += [*_quiet_lines([one]), *_errand_lines(one)]
            continue
        out += work_day_lines(one, len(people) > 1)
        if one.following is not None:
            away = one.following - one.day > timedelta(days=1)
            words = curing_words(one.overnight, one.day, hints=False) or "nothing cures or settles"
            out += wrapped(
                f"overnight: {words}" if not away else f"overnight and till {day(one.following)}: {words}"
            )
    return out


def work_day_lines(one: Day, several: bool) -> list[str]:
    """One day: errands, then who does what from when to when; ``several``: there is more than one person."""
    out = [f"{day(one.day)} ({hours(one.minutes)} hands-on)", *_errand_lines(one)]
    before = ""
    for entry in one.entries:
        out += _entry_lines(entry, several)
        curing = curing_words(entry.curing, one.day)
        if entry.kind == "work" and curing and curing != before:
            out += wrapped(f"meanwhile curing: {curing}", " " * 15)
        if entry.kind == "work":
            before = curing
    return out


def _errand_lines(one: Day) -> list[str]:
    return [line for words in one.errands for line in wrapped(f"- {words}", "  ")]


def _entry_lines(entry: WeekEntry, several: bool) -> list[str]:
    who = f"{entry.who}: " if several else ""
    words = f"free; {entry.words}" if entry.kind == "free" else entry.words
    out = wrapped(f"  {entry.begins:%H:%M}-{entry.ends:%H:%M}  {who}{words}", "", " " * 15)
    for changed in entry.changed:
        out += wrapped(f"changed: {changed}", " " * 15)
    return out


def _quiet_lines(quiet: Sequence[Day]) -> list[str]:
    if not quiet:
        return []
    till = f" till {day(quiet[-1].day)}" if len(quiet) > 1 else ""
    return wrapped(f"{day(quiet[0].day)}{till}: nothing to do at the bench; {quiet[0].quiet}", "")


def gain_lines(gain: PlanningGain, currency: str) -> list[str]:
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
                f"all done {hours(abs(case.saved))} of open time {'earlier' if case.saved > 0 else 'later'}"
            )
        if case.relieved:
            brings.append(f"{hours(case.relieved)} of hands-on work taken over")
        out += wrapped(f"{case.words}: {', '.join(brings) or 'nothing'}")
    return out
