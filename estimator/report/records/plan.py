"""What ``plan`` answers."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.batch.build import methods_of
from estimator.batch.orders import Basket, OrderLine
from estimator.batch.records import BatchWay, JointAnswer, OwnOrder, Purchase
from estimator.choose.kept import change_of
from estimator.choose.milp.earning import NONE_EARNS
from estimator.core.amounts import Cents, Minutes
from estimator.plan.plan import Plan, PlanningGain
from estimator.plan.reasons import critical_chain
from estimator.plan.replan.plan import PlannedAgain
from estimator.plan.replan.progress import RecordedJob
from estimator.plan.week import Curing, Day, WeekEntry, week_of
from estimator.plan.what_if import WhatIf
from estimator.report.record import MONEY, Kind, Record, Teller, plain_data
from estimator.report.words.plan import by_kind
from estimator.schedule.records import DayChange, Figures

SHARE = Kind("share of one", plain_data)
BY_NAME = Kind("object by name", plain_data)
MONEY_BY_JOB = Kind("money by job", lambda of: {job: MONEY.data(cents) for job, cents in of})


class JobOfPlan(Struct, frozen=True):
    """One job of a plan, by its id."""

    plan: Plan
    job: str


_job = Teller[JobOfPlan]()
_own = Teller[OwnOrder]()
_line = Teller[OrderLine]()
_basket = Teller[Basket]()
_purchase = Teller[Purchase]()
_shared = Teller[BatchWay]()
_figures = Teller[Figures]()
_curing = Teller[Curing]()
_entry = Teller[WeekEntry]()
_day = Teller[Day]()
_plan = Teller[Plan]()


class OwnOrderTold(Record[OwnOrder]):
    """What a job would lay out by itself."""

    cash = _own.money("in all", lambda of: of.cash)
    freight = _own.money("freight of its parcels", lambda of: of.sent)
    tools = _own.money("tools that it would get, bought or rented", lambda of: of.got)


class PlannedJob(Record[JobOfPlan]):
    """A job of a plan."""

    job = _job.text("id of the job in the batch", lambda of: of.job)
    upgrades = _job.words("the set", lambda of: of.plan.answer.chosen[of.job])
    methods = _job.of(
        Kind("way by task", plain_data),
        "tasks done another way than the usual",
        lambda of: methods_of(of.plan.study, of.plan.estimates[of.job], of.job),
    )
    only_by_changing = _job.words(
        "what changes for good, of changes.csv",
        lambda of: map(change_of, of.plan.study.changed.get(of.job, ())),
    )
    cost = _job.money("cost to the shop", lambda of: of.plan.answer.measures[of.job].cost)
    own_order = _job.one(
        OwnOrderTold,
        "what it would lay out if it ordered by itself: its own limit on cash is held against that (without such a "
        "limit, and in a plan taken up again, null)",
        lambda of: of.plan.answer.own_orders.get(of.job),
    )
    finished = _job.day("when it is done", lambda of: of.plan.finished().get(of.job))
    promised = _job.day("what can be promised", lambda of: of.plan.promised.get(of.job))
    orders = _job.money("what it bears of the orders", lambda of: of.plan.orders.by_job.get(of.job, Cents(0)))


class OrderLineTold(Record[OrderLine]):
    """Something to order."""

    kind = _line.text("part, pack or spare", lambda of: of.kind)
    id = _line.text("part or consumable", lambda of: of.what)
    what = _line.text("in words", lambda of: of.words)
    number = _line.text("how many", lambda of: of.number)
    money = _line.money("what they cost", lambda of: of.cents)
    needed_by = _line.day("when it must be there", lambda of: of.need_by)
    borne_by = _line.of(MONEY_BY_JOB, "who bears how much of it", lambda of: of.bears)


class BasketTold(Record[Basket]):
    """The order at one supplier."""

    supplier = _basket.text("supplier, an id of suppliers.csv", lambda of: of.seller)
    total = _basket.money("goods and freight", lambda of: of.total)
    freight = _basket.money("freight", lambda of: of.freight)
    lines = _basket.rows(OrderLineTold, "what is ordered", lambda of: of.lines)


class Moved(Record[Purchase]):
    """A part that comes off one instrument and serves another."""

    from_job = _purchase.text("off which job", lambda of: of.off_job)
    to_job = _purchase.text("onto which", lambda of: of.job)
    upgrade = _purchase.text("for which upgrade", lambda of: of.upgrade)
    what = _purchase.text("the part", lambda of: of.what)


class OffTheShelf(Record[Purchase]):
    """A part in stock."""

    part = _purchase.text("the part", lambda of: of.what)
    number = _purchase.whole("how many", lambda of: of.number)
    job = _purchase.text("for which job", lambda of: of.job)
    upgrade = _purchase.text("for which upgrade", lambda of: of.upgrade)


class Shared(Record[BatchWay]):
    """A set-up that jobs share."""

    task = _shared.text("task, an id of tasks.csv", lambda of: of.task)
    jobs = _shared.words("the jobs", lambda of: of.jobs)
    instead_of = _shared.text("the way each would take alone", lambda of: of.now.method)
    method = _shared.text("the way they share", lambda of: of.other.method)
    saves = _shared.money("what that saves", lambda of: of.saves)
    pays_alone = _shared.yes("it would pay some of the jobs alone, too", lambda of: of.alone)


class FiguresTold(Record[Figures]):
    """What a schedule comes to."""

    lateness_min = _figures.whole_minutes("late in all", lambda of: of.tardiness)
    makespan_min = _figures.whole_minutes("open time from begin to end", lambda of: of.makespan)
    hands_on_min = _figures.whole_minutes("hands-on", lambda of: of.minutes)
    idle_evenings = _figures.of(
        Kind("number", plain_data), "nights in which nothing cures", lambda of: of.idle_evenings
    )


class CuringTold(Record[Curing]):
    """Work that cures by itself."""

    operation = _curing.text("operation", lambda of: of.operation)
    until = _curing.day("until when", lambda of: of.until)
    meanwhile = _curing.text("what to keep off it", lambda of: of.hint)


class EntryTold(Record[WeekEntry]):
    """A stretch of one person's work."""

    who = _entry.text("person", lambda of: of.who)
    begins = _entry.day("begins", lambda of: of.begins)
    ends = _entry.day("ends", lambda of: of.ends)
    words = _entry.text("what is done", lambda of: of.words)
    operations = _entry.words("operations", lambda of: of.operations)
    curing = _entry.rows(CuringTold, "what cures meanwhile", lambda of: of.curing)
    changed = _entry.words("what became of it since the plan before", lambda of: of.changed)


class DayTold(Record[Day]):
    """An open day."""

    day = _day.day("the day", lambda of: of.day)
    hands_on_min = _day.whole_minutes("hands-on of all people", lambda of: of.minutes)
    errands = _day.words("errands", lambda of: of.errands)
    quiet = _day.text("why nothing is done; none where something is", lambda of: of.quiet or None)
    overnight = _day.rows(CuringTold, "what cures until the next", lambda of: of.overnight)


class ScheduleTold(Record[Plan]):
    """The schedule."""

    status = _plan.text("optimal or feasible", lambda of: of.schedule.status)
    found_by = _plan.text("what found it", lambda of: of.schedule.method)
    aims = _plan.words("what was made best, one after the other", lambda of: of.schedule.objectives)
    figures = _plan.joined(FiguresTold, lambda of: of.schedule.figures)
    bounds = _plan.of(BY_NAME, "what no schedule can beat", lambda of: of.schedule.bounds)
    rule_alone = _plan.one(FiguresTold, "what the priority rule alone comes to", lambda of: of.schedule.rule)
    hours_by_kind = _plan.of(
        Kind("min by kind of work", plain_data), "where the hands-on goes", lambda of: dict(by_kind(of))
    )
    critical = _plan.of(
        Kind("list of text", plain_data),
        "the chain of operations that makes it so long",
        lambda of: critical_chain(of.work, of.calendar, of.schedule.assignments),
    )


class PlanTold(Record[Plan]):
    """A plan."""

    status = _plan.text("of the choice: optimal or feasible", lambda of: of.answer.status)
    gap = _plan.of(SHARE, "between objective and bound; 0: proven", lambda of: of.answer.gap)
    no_set_earns = _plan.text(
        "said where none earns", lambda of: NONE_EARNS if of.answer.none_earns else None
    )
    cash = _plan.money("to lay out", lambda of: of.cash)
    not_bought = _plan.of(
        Kind("text by job", plain_data), "donors that are left, and why", lambda of: of.answer.why_not
    )
    jobs = _plan.rows(PlannedJob, "the jobs", lambda of: (JobOfPlan(of, job) for job in of.answer.chosen))
    shared_set_ups = _plan.rows(Shared, "set-ups that jobs share", lambda of: of.study.shared)
    orders = _plan.money("all orders", lambda of: of.orders.total)
    baskets = _plan.rows(BasketTold, "the order at each supplier", lambda of: of.orders.baskets)
    moved_parts = _plan.rows(
        Moved,
        "parts that come off one instrument for another",
        lambda of: (one for one in of.answer.purchases if one.kind == "moved"),
    )
    from_stock = _plan.rows(
        OffTheShelf,
        "parts out of the stock",
        lambda of: (one for one in of.answer.purchases if one.kind == "stock"),
    )
    no_spares = _plan.text("why no spares are ordered, if asked for", lambda of: of.orders.no_spares or None)
    schedule = _plan.one(ScheduleTold, "the schedule", lambda of: of)
    days = _plan.rows(
        EntryTold,
        "the work in order of time",
        lambda of: (one for day in week_of(of) for one in day.entries if one.kind == "work"),
    )
    week = _plan.rows(DayTold, "the open days", week_of)


_gain = Teller[PlanningGain]()
_compared = Teller[tuple[Cents, Minutes, float]]()
_case = Teller[WhatIf]()


class Compared(Record[tuple[Cents, Minutes, float]]):
    """One side of the comparison."""

    money = _compared.money("money laid out", lambda of: of[0])
    hands_on_min = _compared.whole_minutes("hands-on", lambda of: of[1])
    days = _compared.of(Kind("number", plain_data), "days", lambda of: of[2])


class Gain(Record[PlanningGain]):
    """What planning together brings."""

    together = _gain.one(Compared, "planned together", lambda of: of.joint)
    one_by_one = _gain.one(Compared, "one job at a time", lambda of: of.single)
    ratios = _gain.of(
        BY_NAME,
        "the one over the other: money, hands_on, days",
        lambda of: dict(
            zip(("money", "hands_on", "days"), (round(one, 4) for one in of.ratios), strict=True)
        ),
    )
    makespan_min = _gain.whole_minutes("open time of the plan", lambda of: of.makespan)
    rule_alone_makespan_min = _gain.whole_minutes("of the priority rule alone", lambda of: of.rule_makespan)


class WhatIfTold(Record[WhatIf]):
    """A change, and what the plan would come to."""

    change = _case.text("the change", lambda of: of.words)
    figures = _case.joined(FiguresTold, lambda of: of.figures)
    saved_min = _case.whole_minutes("open time that it saves", lambda of: of.saved)
    less_late_min = _case.whole_minutes("so much less late", lambda of: of.less_late)
    relieved_min = _case.whole_minutes("what people not there now would do", lambda of: of.relieved)


_changed = Teller[tuple[str, DayChange]]()
_recorded = Teller[RecordedJob]()
_again = Teller[PlannedAgain]()


class Changed(Record[tuple[str, DayChange]]):
    """What became of an operation."""

    operation = _changed.text("operation", lambda of: of[0])
    was = _changed.day("when it was to begin; none: it is new", lambda of: of[1].was)
    now = _changed.day("when it begins now", lambda of: of[1].now)
    why = _changed.text("why", lambda of: of[1].why)


class Recorded(Record[RecordedJob]):
    """What the ledger holds of a job."""

    job = _recorded.text("id of the job", lambda of: of.job)
    done = _recorded.of(Kind("number", plain_data), "operations done", lambda of: of.done)
    planned_s = _recorded.of(Kind("s", plain_data), "planned for them", lambda of: of.planned_s)
    taken_s = _recorded.of(Kind("s", plain_data), "taken", lambda of: of.taken_s)
    told_customer = _recorded.day("the day the customer was told", lambda of: of.told)


class Again(Record[PlannedAgain]):
    """What a plan made again started from, and what changed."""

    now = _again.day("the moment", lambda of: of.plan.now)
    done = _again.words("operations done", lambda of: (one.id for one in of.plan.done))
    taken_as_done = _again.words("of them taken as done", lambda of: of.as_planned)
    running = _again.of(
        Kind("min by operation", plain_data), "minutes left of what runs", lambda of: of.running
    )
    order_kept = _again.of(
        Kind("true or false", plain_data), "the old order is kept", lambda of: of.result.kept_order
    )
    lateness_if_kept_min = _again.whole_minutes(
        "late in all in the old order", lambda of: of.result.tardiness_if_kept
    )
    moved = _again.words("operations that moved", lambda of: of.result.moved)
    changed = _again.rows(Changed, "what changed and why", lambda of: of.plan.changed.items())
    promised_before = _again.of(
        Kind("day by job", plain_data), "promised before", lambda of: of.kept.promised
    )
    not_written_down = _again.words("work that later work shows done", lambda of: of.implied)
    recorded = _again.rows(Recorded, "what the ledger holds", lambda of: of.recorded)


class Planned(Struct, frozen=True):
    """A plan, or one made again, and what was asked besides."""

    made: Plan | PlannedAgain
    gain: PlanningGain | None = None
    cases: Sequence[WhatIf] | None = None

    @property
    def plan(self) -> Plan:
        """The plan itself."""
        return self.made.plan if isinstance(self.made, PlannedAgain) else self.made


_planned = Teller[Planned]()


class PlanAnswer(Record[Planned]):
    """What ``plan`` answers."""

    plan = _planned.joined(PlanTold, lambda of: of.plan)
    again = _planned.where_there(
        _planned.one(
            Again,
            "with --state or --progress: from where it started, and what changed",
            lambda of: of.made if isinstance(of.made, PlannedAgain) else None,
        )
    )
    gain = _planned.where_there(_planned.one(Gain, "with --gain", lambda of: of.gain))
    what_if = _planned.rows_if(
        lambda of: of.cases is not None, WhatIfTold, "with --what-if", lambda of: of.cases or ()
    )


_none = Teller[JointAnswer]()


class NoPlanAnswer(Record[JointAnswer]):
    """What ``plan`` answers where there is none."""

    status = _none.text("infeasible or no-answer", lambda of: of.status)
    no_set_earns = _none.text("said where none earns", lambda of: NONE_EARNS if of.none_earns else None)
    not_bought = _none.of(
        Kind("text by job", plain_data), "donors that are left, and why", lambda of: of.why_not
    )
    ways_out = _none.words("what would let it be met", lambda of: of.ways_out)
    unmet = _none.words("jobs that cannot keep their own limits", lambda of: of.unmet)
