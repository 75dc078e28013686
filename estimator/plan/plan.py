"""A whole plan: what is chosen, ordered and when it is done; and what it gains over one job at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import partial

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.batch.arrivals import BoughtKey, arrivals_of, minute_of
from estimator.batch.build import BatchStudy, narrowed, with_named_sets
from estimator.batch.buy_spares import with_spares
from estimator.batch.choose import choose_batch
from estimator.batch.kept import opened
from estimator.batch.orders import Orders, make_orders, need_by_of
from estimator.batch.own_cash import only
from estimator.batch.records import Batch, JointAnswer, Purchase
from estimator.batch.solve_exact import choose_jointly
from estimator.batch.supplies import FROM_THE_START, SoFar, demands_of, supplies_of
from estimator.batch.transfers import with_moves
from estimator.batch.ways import ways_taken, with_shared_set_ups
from estimator.choose.solvers.backends import INFEASIBLE
from estimator.core.amounts import Cents, Elapsed, Minutes
from estimator.model import Estimate, Shop
from estimator.model.planning import Person
from estimator.schedule.build import PlannedJob, left_together, operations_of, stretch_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.rack import RACK, with_rack
from estimator.schedule.records import (
    USUAL_SEARCH,
    Assignment,
    DayChange,
    Due,
    Link,
    Operation,
    Schedule,
    SchedulingProblem,
    Search,
)
from estimator.schedule.resources import away_of, calendar_of, change_overs_of, resources_of
from estimator.schedule.serial_sgs import done_by_job
from estimator.schedule.solve import left_shift, schedule_work
from estimator.schedule.supplies import with_supplies

PAID_BY_TIME = ("cost", "hours", "profit", "hourly")
"""Aims of a choice that hands-on minutes stand against: a plan gives none away then."""
PROMISE_DAYS = 2
"""Days on top of the finish of the 80 % plan before a date is promised (from memory)."""


class Plan(Struct, frozen=True):
    """A plan for a batch. ``schedule`` is at expected minutes; ``safe`` the same order at 80 % surety.

    ``promised`` by job: the finish of ``safe`` and two days; all jobs at 80 % at once, so on the safe side.
    ``late``: purchases that come at another minute than promised. A plan made again from today's state
    holds what is left to do from ``now`` on: ``done`` operations, when they ended and till when they cure
    (``already``) and settle (``settled``), which of them ``held`` up an operation, what ``changed``, who did what is
    done (``done_by``), the minutes left of what is ``running``, and those first ``planned`` for what is done or runs.
    """

    study: BatchStudy
    answer: JointAnswer
    estimates: Mapping[str, Estimate]
    work: SchedulingProblem
    calendar: Calendar
    schedule: Schedule
    safe: tuple[Assignment, ...]
    orders: Orders
    late: Mapping[BoughtKey, Elapsed] = field(default_factory=dict)
    now: datetime | None = None
    done: tuple[Operation, ...] = ()
    already: Mapping[str, tuple[datetime, datetime]] = field(default_factory=dict)
    settled: Mapping[str, datetime] = field(default_factory=dict)
    held: Mapping[str, str] = field(default_factory=dict)
    changed: Mapping[str, DayChange] = field(default_factory=dict)
    done_by: Mapping[str, str] = field(default_factory=dict)
    running: Mapping[str, Minutes] = field(default_factory=dict)
    planned: Mapping[str, Minutes] = field(default_factory=dict)

    @property
    def shop(self) -> Shop:
        """The shop the plan is for."""
        return self.study.shop

    @property
    def cash(self) -> Cents:
        """All that is laid out, spares with it, in cents."""
        return self.answer.cash + self.orders.extra

    def finished(self, assignments: Sequence[Assignment] | None = None) -> dict[str, datetime]:
        """When each job is done, cures included."""
        done = done_by_job(self.work, self.schedule.assignments if assignments is None else assignments)
        return {
            job: self.calendar.moment(self.calendar.elapsed_at_end(minute)) for job, minute in done.items()
        }

    @property
    def promised(self) -> dict[str, date]:
        """The day to promise for each job: two days after the safe finish, on a day the shop is open."""
        return {
            job: promise_day(self.calendar, when.date()) for job, when in self.finished(self.safe).items()
        }


def promise_day(calendar: Calendar, finished: date) -> date:
    """The day to promise for work that is finished on one: some days later, on a day the shop is open."""
    return calendar.open_day(finished + timedelta(days=PROMISE_DAYS))


def plan_batch(
    study: BatchStudy,
    choice_aims: str | None = None,
    search: Search = USUAL_SEARCH,
) -> Plan | JointAnswer:
    """Choose for all jobs together, order, and schedule; the bare answer if no set keeps every limit.

    A bench's worth is chosen in one exact programme; very many jobs are chosen apart and mixed, with a
    proven gap.
    """
    study, answer = choose_sets(study, choice_aims)
    if not answer.chosen:
        return answer
    return plan_chosen(study, with_spares(study, answer), search)


def choose_sets(study: BatchStudy, choice_aims: str | None = None) -> tuple[BatchStudy, JointAnswer]:
    """The sets for all jobs with the ways their work is done, and the batch as it is then done; nothing is scheduled."""
    currency, where = study.shop.terms.currency, study.file.file
    files = {name: one.job.file for name, one in study.studies.items()}
    # a donor that is left may as well be bought to be changed; of the others only what cannot be done otherwise
    study = narrowed(opened(study, [entry.id for entry in study.file.jobs if entry.optional]), choice_aims)
    choose = partial(choose_batch, aims=choice_aims, currency=currency, where=where, files=files)
    answer = choose(with_named_sets(study))
    if answer.status == INFEASIBLE:
        freed = opened(study, [entry.id for entry in study.file.jobs if entry.upgrades is None])
        if freed.changed != study.changed:
            study = freed
            answer = choose(with_named_sets(study))
    if not answer.chosen:
        return study, answer
    return with_shared_set_ups(study, *ways_taken(study, answer))


def plan_chosen(
    study: BatchStudy,
    answer: JointAnswer,
    search: Search = USUAL_SEARCH,
    people: Sequence[Person] | None = None,
    stations: Mapping[str, int] | None = None,
    start_from: Sequence[Assignment] = (),
) -> Plan:
    """Schedule and order what was chosen; ``people`` and ``stations`` replace those of the batch."""
    file, shop = study.file, study.shop
    calendar = calendar_of(shop, file.start, file.days_off)
    work, estimates = work_of(study, answer, calendar, people, stations)
    found = schedule_work(work, calendar, searched(study, answer, search), start_from)
    begins = {b.operation: calendar.elapsed_at_start(b.start) for b in found.assignments}
    stretched, _ = work_of(study, answer, calendar, people, stations, safe=True, so_far=SoFar(planned=begins))
    safe = tuple(sorted(left_shift(stretched, calendar, found.assignments), key=lambda b: (b.start, b.end)))
    starts = {
        b.operation: calendar.moment(calendar.elapsed_at_start(b.start)).date() for b in found.assignments
    }
    orders = make_orders(study, answer, need_by_of(study, answer, starts, work.operations))
    return Plan(study, answer, estimates, work, calendar, found, safe, orders)


def searched(study: BatchStudy, answer: JointAnswer, search: Search) -> Search:
    """The search of a plan: it gives minutes for days by the shop's setting, but none against the aim of the choice."""
    against = bool(answer.aims) and answer.aims[0] in PAID_BY_TIME
    return replace(search, day_sooner=0 if against else study.shop.terms.day_sooner_min)


def work_of(
    study: BatchStudy,
    answer: JointAnswer,
    calendar: Calendar,
    people: Sequence[Person] | None = None,
    stations: Mapping[str, int] | None = None,
    safe: bool = False,
    so_far: SoFar = FROM_THE_START,
) -> tuple[SchedulingProblem, dict[str, Estimate]]:
    """Everything to be scheduled, at expected minutes or (``safe``) at 80 % surety."""
    file, shop = study.file, study.shop
    hands = tuple(people or file.people)
    resources = resources_of(shop, hands, {**file.stations, **(stations or {})}, file.file)
    operations: list[Operation] = []
    estimates: dict[str, Estimate] = {}
    dues = []
    arrives = arrivals_of(study, answer, so_far.late)
    tools, donors = (
        {what: minute for (kind, _, what), minute in arrives.items() if kind in wanted}
        for wanted in (("tool", "rent"), ("donor",))
    )
    for entry in file.jobs:
        if entry.id not in answer.chosen:
            continue
        one = study.studies[entry.id]
        estimate = estimates[entry.id] = one.costing.estimate(answer.chosen[entry.id])
        stretch = stretch_of(estimate) if safe else 1.0
        parts_there = {
            what: m for (kind, job, what), m in arrives.items() if (kind, job) == ("part", entry.id)
        }
        job = PlannedJob(
            entry.id,
            one.costing,
            estimate,
            parts_there,
            stretch,
            tools,
            donors.get(entry.id, Elapsed(0)),
            {v.upgrade.id: v.upgrade.part.part_class for v in one.verdicts if v.upgrade.part},
            study.hands_of(entry.id, answer.chosen[entry.id], hands),
        )
        mine, parts = operations_of(job, hands, file.pace)
        operations += mine
        resources.update(parts)
        at = None
        if entry.due is not None:
            at = minute_of(calendar, datetime.combine(entry.due, time(23, 59)))
        dues.append(Due(entry.id, at, entry.weight))
    places = resources.pop(RACK, 0)
    linked = with_moves(study, answer, operations)
    work = SchedulingProblem(
        linked, resources, tuple(dues), change_overs_of(shop), away=away_of(hands, calendar)
    )
    supplies, demands = supplies_of(study, answer, so_far.late), demands_of(study, estimates)
    work = with_supplies(with_rack(work, places), calendar, supplies, demands, so_far.planned)
    return replace(work, operations=tuple(left_together(work.operations, shop))), estimates


def one_after_another(work: SchedulingProblem) -> SchedulingProblem:
    """The same work with each job begun only when the one before is done: how a bench without a plan runs."""
    jobs = list(dict.fromkeys(o.job for o in work.operations))
    ends: dict[str, list[str]] = {}
    for job in jobs:
        needed = {link.before for o in work.operations if o.job == job for link in o.after}
        ends[job] = [o.id for o in work.operations if o.job == job and o.id not in needed]
    before = dict(zip(jobs[1:], jobs, strict=False))
    operations = tuple(
        replace(o, after=(*o.after, *(Link(name) for name in ends[before[o.job]])))
        if o.job in before and not o.after
        else o
        for o in work.operations
    )
    return replace(work, operations=operations)


class PlanningGain(Struct, frozen=True):
    """A plan against the same jobs planned, ordered and done one by one: cents, attended minutes, days."""

    joint: tuple[Cents, Minutes, float]
    single: tuple[Cents, Minutes, float]
    rule_makespan: Minutes
    makespan: Minutes

    @property
    def ratios(self) -> tuple[float, float, float]:
        """Joint over single, for money laid out, attended minutes and days."""
        money, minutes, days = (a / b if b else 1.0 for a, b in zip(self.joint, self.single, strict=True))
        return money, minutes, days


def measure_gain(plan: Plan, choice_aims: str = "") -> PlanningGain:
    """Measure a plan against one job at a time.

    One by one: each job chosen alone with its own budget, ordered alone (parcels and whole packs of its
    own; what is left of a pack goes on the shelf for the next job), all orders placed on the first day,
    and each job begun when the one before is done, by the best priority rule.
    """
    study = plan.study
    batch = with_named_sets(study)
    choice_aims = choice_aims or ",".join(plan.answer.aims)
    stock = {pack.consumable: pack.stock for pack in batch.packs}
    pieces = dict(batch.pieces)
    cash = Cents(0)
    chosen: dict[str, tuple[str, ...]] = {}
    purchases: list[Purchase] = []
    for job in batch.jobs:
        alone = replace(
            only(batch, job),
            packs=tuple(replace(p, stock=stock[p.consumable]) for p in batch.packs),
            pieces=pieces,
        )
        answer = choose_jointly(alone, choice_aims)
        cash += answer.cash
        chosen.update(answer.chosen)
        purchases += answer.purchases
        _restock(alone, answer, stock)
        pieces = {name: number - _taken(alone, answer, name) for name, number in pieces.items()}
    single = replace(plan.answer, chosen=chosen, purchases=tuple(purchases))
    work, _ = work_of(study, single, plan.calendar)
    slow = schedule_work(one_after_another(work), plan.calendar, Search(("makespan",), "rule", tries=0))
    figures = plan.schedule.figures
    return PlanningGain(
        (plan.answer.cash, figures.minutes, _days(plan.calendar, figures.makespan)),
        (cash, slow.figures.minutes, _days(plan.calendar, slow.figures.makespan)),
        plan.schedule.rule.makespan,
        figures.makespan,
    )


def _restock(batch: Batch, answer: JointAnswer, stock: dict[str, int]) -> None:
    holds = {pack.consumable: pack.holds for pack in batch.packs}
    for purchase in answer.purchases:
        if purchase.kind == "pack":
            stock[purchase.what] += purchase.number * holds[purchase.what]
    for use in batch.uses:
        if answer.does(use.job, use.triggers):
            stock[use.consumable] = max(0, stock[use.consumable] - use.millionths)


def _taken(batch: Batch, answer: JointAnswer, shelf: str) -> int:
    return sum(answer.from_stock(part) for part in batch.parts if part.shelf == shelf)


def _days(calendar: Calendar, minute: Minutes) -> float:
    return (calendar.elapsed_at_end(minute) - calendar.opens[0]) / 1440
