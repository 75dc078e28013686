"""A plan in short: what is promised, what it costs, what the next day holds, what to order."""

from __future__ import annotations

from estimator.choose.faults import faults_found
from estimator.choose.kept import only_by
from estimator.choose.milp.earning import NONE_EARNS
from estimator.core.text import day, money, time_text, wrapped
from estimator.plan.plan import Plan
from estimator.plan.replan.plan import PlannedAgain
from estimator.plan.week import week_of
from estimator.report.words.cautions import first_caution
from estimator.report.words.faults import fault_sentences
from estimator.report.words.plan import own_cash_lines, promise_lines, proven_choice, work_day_lines
from estimator.report.words.replan import change_lines, head_lines, moved_promises

MORE = "--full: every day, how good week and choice are proven to be, the orders line by line"


def plan_in_short(plan: Plan) -> list[str]:
    """The plan as it is taken in at a glance."""
    out = [f"Plan “{plan.study.file.id}” from {day(plan.study.file.start)}"]
    for job, chosen in plan.answer.chosen.items():
        if told := only_by(plan.shop, plan.study.changed.get(job, ()), chosen):
            out += wrapped(f"{job}: {told}")
        time = time_text(plan.estimates[job].totals.expected)
        out += wrapped(f"{job}: {', '.join(chosen) or 'no upgrade'} ({time} hands-on on average)")
        left = [fault for fault in faults_found(plan.study.studies[job], chosen) if not fault.mended]
        for line in fault_sentences(
            left, plan.shop.terms.currency, set_named=True, lengths=plan.shop.lengths
        ):
            out += wrapped(line)
    out += [f"  {job}: not bought" for job in plan.answer.left_out]
    for line in own_cash_lines(plan):
        out += wrapped(line)
    out += wrapped(proven_choice(plan.answer))
    if plan.answer.none_earns:
        out += wrapped(NONE_EARNS)
    return [*out, *promise_lines(plan), *_money_lines(plan), *_next_lines(plan), *_caution_lines(plan), MORE]


def again_in_short(again: PlannedAgain) -> list[str]:
    """The same of a plan taken up again: what changed first."""
    plan = again.plan
    out = [*head_lines(again), *change_lines(again)]
    if plan.schedule.assignments:
        out += [*promise_lines(plan), *moved_promises(again), *_next_lines(plan), *_caution_lines(plan)]
    return [*out, MORE]


def _money_lines(plan: Plan) -> list[str]:
    currency = plan.shop.terms.currency
    baskets = ", ".join(f"{b.seller} {money(b.total, currency)}" for b in plan.orders.baskets)
    shelf = plan.cash - plan.orders.total
    from_shelf = f"; strings and the like from the shelf {money(shelf, currency)}" if shelf else ""
    return [
        f"To lay out: {money(plan.cash, currency)}",
        *wrapped(f"orders: {baskets or 'nothing'}{from_shelf}"),
    ]


def _next_lines(plan: Plan) -> list[str]:
    """The first day on which somebody works."""
    days = [one for one in week_of(plan) if not one.quiet]
    several = len({entry.who for one in days for entry in one.entries}) > 1
    return work_day_lines(days[0], several) if days else []


def _caution_lines(plan: Plan) -> list[str]:
    return [
        line for words in first_caution(plan.shop, plan.estimates.values()) for line in wrapped(words, "")
    ]
