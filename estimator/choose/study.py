"""The way data takes for one job: shop and job -> fit -> priced work -> choice. One call per stage."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.choose.build import build_frame, with_limits_of, with_work_of
from estimator.choose.causes import by_work_alone, causes
from estimator.choose.infeasible.due import due_of, worth_of
from estimator.choose.kept import is_kept, only_by, without
from estimator.choose.least_ways import LeastWays
from estimator.choose.milp.earning import aims_in, check_aim, problem_for, usual_aim
from estimator.choose.sale.build import sale_of
from estimator.choose.verify.answer import ANY, hold, hold_infeasible, hold_optimal, hold_ways, search_for
from estimator.choose.verify.choice import amounts_reached, clashes, levels_reached
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.rows import Rows
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import InputError, Issue, Origin, RefutedError
from estimator.core.expressions import parse_expression
from estimator.core.money import cents
from estimator.estimate.baseline import level_now, tenths
from estimator.estimate.build import done_otherwise, make_costing, make_setting, reckoned_with
from estimator.estimate.costing import Costing, surety_minutes
from estimator.estimate.labour import Lines, Setting
from estimator.estimate.packs import SHARE, WHOLE
from estimator.estimate.sale_terms import as_found
from estimator.estimate.tools.to_get import NO_TOOLS, ToolsGot
from estimator.estimate.ways import methods_in, upgrades_in, way_id
from estimator.fit.candidates import names, not_offered, offered
from estimator.fit.judge import judge_all
from estimator.fit.mass import BY_VOLUME
from estimator.fit.otherwise import DOES_NOT_FIT
from estimator.fit.verdicts import Nearby, Verdicts
from estimator.fit.ways import OfferedWay, named_ways, open_methods, ways_of
from estimator.model import (
    WOOD_DENSITY,
    Budget,
    Estimate,
    Job,
    Money,
    PartLine,
    Shop,
    Totals,
    UsedValue,
    Verdict,
)
from estimator.model.problem import Clock, Problem, Rule, Source
from estimator.tables.conditions import holds
from estimator.tables.methods import by_methods, done_by, other_ways

if TYPE_CHECKING:
    from estimator.choose.choose import ChoiceResult
    from estimator.choose.measure import Measure

#: status of a set that the user named: nothing was optimised
NAMED = "named"


class Study(Struct, frozen=True, dict=True):
    """A job looked at from all sides, before anything is decided; ``alone``: as ``study_job`` was told.

    ``shop``: with every task done the way that is reckoned with, at which ``reckoned`` prices it. ``ways``: by task
    all there are, offered or not; ``methods``: those left open that are yet to be priced, the first reckoned with.
    ``frame``: the choice without its priced work, which is that of ``costing`` (``problem``).
    """

    shop: Shop
    job: Job
    verdicts: tuple[Verdict, ...]
    reckoned: Costing
    frame: Problem
    alone: bool = True
    ways: Mapping[str, tuple[OfferedWay, ...]] = field(default_factory=dict)
    methods: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def costing(self) -> Costing:
        """The work priced with all ways to do it that are open and may be best for something."""
        return self.work_of(self.verdicts) if self.methods else self.reckoned

    @property
    def in_more_ways(self) -> bool:
        """Whether some work may be done in more ways than one."""
        return bool(self.methods or self.reckoned.ways)

    @cached_property
    def least(self) -> LeastWays:
        """What the work takes at least, whichever way it is done."""
        return LeastWays(self.reckoned, self.methods)

    def work_of(self, verdicts: tuple[Verdict, ...]) -> Costing:
        """The work of some verdicts alone, priced with all ways to do it that are open."""
        setting = self.reckoned.setting
        return make_costing(self.shop, self.job, verdicts, ways=self.methods, setting=setting)

    def priced_as(self, costing: Costing) -> Study:
        """The study of the same job with its work priced as given."""
        return replace(self, reckoned=costing, methods={})

    @cached_property
    def problem(self) -> Problem:
        """The choice as plain whole numbers, with all ways to do its work that are open."""
        return with_work_of(self.frame, self.costing)

    @property
    def buying(self) -> str:
        """Whether packs count in cost by the share used, or whole."""
        return WHOLE if self.reckoned.setting.whole_packs else SHARE

    @property
    def priced(self) -> bool:
        """Whether a price is of any concern: a customer pays one, or the job itself names a limit on it."""
        return self.job.for_customer or any(rule.on == "price" for rule in self.frame.rules)

    def verdict(self, upgrade: str) -> Verdict:
        """The verdict on one upgrade id."""
        return self._by_id[upgrade]

    @cached_property
    def _by_id(self) -> dict[str, Verdict]:
        return {verdict.upgrade.id: verdict for verdict in self.verdicts}

    def measure(self, chosen: tuple[str, ...]) -> Measure:
        """The exact figures of an upgrade set that the limits are held against."""
        return self.measure_of(self.costing.estimate(chosen).totals)

    def measure_of(self, totals: Totals) -> Measure:
        """The same of an estimate that is there."""
        from estimator.choose.measure import Measure, spread_cents

        minutes = surety_minutes(totals.expected, totals.sd, self.frame.z_minutes)
        return Measure(
            cost=totals.cost,
            cash=totals.money.cash,
            price=totals.to_pay,
            minutes=minutes,
            price_minutes=totals.surety_min,
            price_parts=totals.money.price_parts,
            consumables=totals.money.consumables,
            expected=totals.expected,
            price_work=totals.money.price_work,
            line_tax=totals.money.line_tax,
            cost_spread=spread_cents(minutes - totals.expected, self.frame.hour_cents),
            price_mean=totals.quoted_mean,
        )


class Known(Struct, frozen=True):
    """What is worked out already of instruments like this one, to be looked up and added to.

    Of one shop, whichever way its tasks are done, and of jobs with one wish: verdicts, and runs of work as priced.
    """

    judged: Verdicts | Nearby = field(default_factory=Verdicts)
    lines: Lines = field(default_factory=Lines)


class _Ways(Struct, frozen=True):
    """By task the methods that are left open, the first reckoned with; and all ways there are, offered or not."""

    methods: Mapping[str, Sequence[str]]
    ways: Mapping[str, tuple[OfferedWay, ...]] = field(default_factory=dict)


class SpecRow(Struct, frozen=True):
    """One attribute of the spec: now, wanted, reached; levels in tenths, amounts in thousandths.

    Of a level that is lifted ``by`` is the work that does it, ``rests_on`` the attributes whose level today is
    assumed and on which it rests: then it is expected, and promised only once it was measured (``verified_by``).
    ``may_fail``: how the work that lifts it may fail however it is done, in words.
    """

    attribute: str
    what: str
    kind: str
    unit: str
    now: int
    now_assumed: bool
    least: int | None
    most: int | None
    reached: int
    verified_by: str
    by: tuple[str, ...] = ()
    rests_on: tuple[str, ...] = ()
    may_fail: tuple[str, ...] = ()

    @property
    def expected(self) -> bool:
        """Whether what is reached is expected, not promised: it rests on what nobody looked at, or may fail."""
        return bool(self.rests_on or self.may_fail)

    @property
    def met_as_assumed(self) -> bool:
        """Whether the wish is met by today's standing alone, which nobody looked at."""
        return self.asked and self.met and self.now_assumed and self.reached == self.now

    @property
    def asked(self) -> bool:
        """Whether the wish asks for it."""
        return self.least is not None or self.most is not None

    @property
    def met(self) -> bool:
        """Whether what is reached is what was wanted."""
        low = self.least is None or self.reached >= self.least
        return low and (self.most is None or self.reached <= self.most)


class Choice(Struct, frozen=True):
    """The answer of the optimiser with its estimate and the spec it reaches.

    ``study``: with the work done the ways that were chosen; ``opened``: before they were. ``tools``: what is got
    for it of the tools that are not there (``choose.tools``).
    """

    study: Study
    answer: ChoiceResult
    estimate: Estimate
    spec: tuple[SpecRow, ...]
    opened: Study | None = None
    tools: ToolsGot = NO_TOOLS

    @property
    def open_study(self) -> Study:
        """The study with all ways to do the work still open, to ask further questions of."""
        return self.opened or self.study

    @property
    def found(self) -> bool:
        """Whether there is a set to show."""
        return self.answer.status in ("optimal", "feasible", NAMED)

    @property
    def only_by(self) -> str:
        """What is said first where nothing but a change for good meets the wish; else blank."""
        return only_by(self.study.shop, self.answer.changed, self.estimate.chosen) if self.found else ""


def study_job(
    shop: Shop,
    job: Job,
    buying: str = "share",
    crew: tuple[int, ...] = (),
    alone: bool = True,
    ways_open: bool = False,
    known: Known | None = None,
) -> Study:
    """Judge every upgrade open to choice and price its work; InputError if the job names unknown ones.

    ``buying``: packs bought for the job count in cost by ``share`` of use, or ``whole``.
    ``crew``: the skills of those who do the work, if not the job's or the shop's own.
    ``alone``: the day it is wanted back and the most that its sale can bring are held as limits. Not so
    in a batch, which has days and hands of its own, nor for listings, whose price is yet to be found.
    ``ways_open``: which way a task is done is left to the choice where the job does not name it; else it is
    done as the shop has it, or the first way that the instrument and the tools that are there allow.
    ``known``: of instruments like this one.
    """
    resale = job.kind == "resale" and bool(shop.resale.tiers)
    job = as_found(shop, job) if resale else job
    ways = _ways_for(shop, job, alone, ways_open)
    verdicts = _verdicts(shop, job, known)
    # the same job is priced once more when its ways are chosen: most of its work is done as it was
    lines = Lines() if known is None else known.lines
    setting = replace(make_setting(shop, job, buying, crew), lines=lines)
    return _priced(shop, job, verdicts, setting, alone, ways)


def study_of_open(study: Study, job: Job, known: Known) -> Study:
    """The study of a job that differs from that of another in readings, without what can be in no set of it.

    That is what is refused or does not fit; of a sale, whose rooms are told of all upgrades, nothing is left out.
    """
    crew = study.reckoned.setting.crew
    if job.kind == "resale":
        return study_job(
            study.shop, job, study.buying, crew, study.alone, ways_open=study.in_more_ways, known=known
        )
    verdicts = _verdicts(study.shop, job, known)
    setting = replace(make_setting(study.shop, job, study.buying, crew), lines=known.lines)
    ways = _ways_for(study.shop, job, study.alone, study.in_more_ways)
    mine = _may_be_chosen(job, verdicts)
    return _priced(study.shop, job, mine, setting, study.alone, ways, verdicts)


def _ways_for(shop: Shop, job: Job, alone: bool, ways_open: bool) -> _Ways:
    """The ways of a job, and those that are open as ``study_job`` is told; InputError if it names unknown ones."""
    ways = ways_of(shop, job)
    named_ways(shop, ways, job.methods, Origin(job.file))
    methods = open_methods(ways, job.methods)
    if not ways_open:
        methods = {task: _as_it_stands(shop, task, of) for task, of in methods.items()}
    elif alone and job.wanted_by:
        methods = {task: _cured_alike(shop, task, of) for task, of in methods.items()}
    return _Ways(methods, ways)


def _may_be_chosen(job: Job, verdicts: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    """The verdicts on what fits and is not refused."""
    return tuple(
        verdict
        for verdict in verdicts
        if verdict.outcome != DOES_NOT_FIT and not any(names(verdict.upgrade, one) for one in job.refused)
    )


def study_of_set(study: Study, job: Job, chosen: Collection[str], known: Known) -> Study:
    """Of a job that differs from that of a study in readings: one set alone, with the limits of the whole job.

    Only its own work is priced, for nothing else bears on what it comes to. Where its day could pass by what it does
    itself, that is reckoned with all verdicts, as the whole study does: what another upgrade may make needless is not
    waited for.
    """
    methods = {
        task: _as_it_stands(study.shop, task, of)
        for task, of in open_methods(ways_of(study.shop, job), job.methods).items()
    }
    mine = known.judged.of(study.shop, job, chosen)
    setting = make_setting(study.shop, job, study.buying, study.reckoned.setting.crew)
    setting = replace(setting, lines=known.lines)
    alone = _priced(study.shop, job, mine, setting, False, _Ways(methods))
    if due_of(alone.shop, job, mine, alone.costing) is None:
        return alone
    verdicts = _verdicts(study.shop, job, known)
    due = due_of(alone.shop, job, verdicts, alone.costing)
    if due is None:
        return alone
    return replace(alone, frame=replace(alone.frame, rules=(*alone.frame.rules, due[0]), clock=due[1]))


def _verdicts(shop: Shop, job: Job, known: Known | None) -> tuple[Verdict, ...]:
    if known is None:
        return judge_all(shop, job, offered(shop, job))
    verdicts = {verdict.upgrade.id: verdict for verdict in known.judged.of(shop, job)}
    open_to_choice = offered(shop, job, tuple(verdict.upgrade for verdict in verdicts.values()))
    return tuple(verdicts[upgrade.id] for upgrade in open_to_choice)


def _as_it_stands(shop: Shop, task: str, methods: tuple[str, ...]) -> tuple[str, ...]:
    """The one method that a shop has a task done by, if it may be, else the first that may."""
    stands = shop.tasks[task].method
    return (stands,) if stands in methods else methods[:1]


def _cured_alike(shop: Shop, task: str, methods: Sequence[str]) -> tuple[str, ...]:
    """The methods after which as long has to be waited as after the first: the day it is wanted back is reckoned so."""
    waits = {method: done_by(shop.tasks[task], shop.ways.methods[task][method]) for method in methods}
    first = waits[methods[0]].wait_fast_min
    return tuple(method for method in methods if waits[method].wait_fast_min == first)


def done_ways(study: Study, methods: Mapping[str, str]) -> Study:
    """The study of the same job with its work done the ways named, by task, and no other way open."""
    return worked_by(study, methods) if study.in_more_ways else study


def worked_by(study: Study, methods: Mapping[str, str]) -> Study:
    """The same, whether other ways were open or not."""
    shop = by_methods(study.shop, methods)
    costing = done_otherwise(study.reckoned, shop)
    if costing is None:
        costing = make_costing(shop, study.job, study.verdicts, setting=_setting_of(study, shop, study.job))
    # nothing but the priced work hangs on the ways
    return Study(costing.shop, study.job, study.verdicts, costing, study.frame, study.alone, study.ways)


def sold_by(study: Study, way: str) -> Study:
    """The study of the same instrument sold by another way: only the work and the money of the sale differ."""
    job = replace(study.job, sale=replace(study.job.sale, way=way))
    return _priced(study.shop, job, study.verdicts, _setting_of(study, study.shop, job), study.alone)


def _setting_of(study: Study, shop: Shop, job: Job) -> Setting:
    """The setting of a study for its job with other ways taken, with the runs that are priced already."""
    old = study.reckoned.setting
    return replace(make_setting(shop, job, study.buying, old.crew), lines=old.lines)


def within_limits(study: Study, budget: Budget) -> Study:
    """The study of the same job under other limits on money and hands-on time: nothing is priced anew.

    ``budget`` may differ from the job's own in these two alone.
    """
    own = study.job.budget
    if replace(own, money=budget.money, minutes=budget.minutes, origin=budget.origin) != budget:
        raise ValueError(
            "only the money and the hands-on time of a budget can be changed without a new study"
        )
    job = replace(study.job, budget=budget)
    return replace(study, job=job, frame=with_limits_of(study.frame, study.shop, job))


def _priced(
    shop: Shop,
    job: Job,
    verdicts: tuple[Verdict, ...],
    setting: Setting,
    alone: bool,
    ways: _Ways | None = None,
    lifting: tuple[Verdict, ...] | None = None,
) -> Study:
    ways = ways or _Ways({})
    methods = ways.methods
    # in a batch the ways of all jobs are weighed together: there they are priced at once
    later = {task: tuple(of) for task, of in methods.items() if alone and len(of) > 1}
    now = {task: of[:1] if task in later else of for task, of in methods.items()}
    costing = make_costing(shop, job, verdicts, ways=now, setting=setting)
    shop = costing.shop
    frame = build_frame(shop, job, verdicts, costing)
    if job.kind == "resale" and shop.resale.tiers:
        frame = replace(frame, sale=sale_of(shop, job, verdicts, costing))
    worth = worth_of(job, frame.sale if alone else None, shop.terms.currency)
    if worth is not None:
        frame = replace(frame, rules=(*frame.rules, worth))
    later = {task: of for task, of in later.items() if task in costing.setups}
    study = Study(shop, job, verdicts, costing, frame, alone, ways.ways, later)
    due = (
        _due_of(study, verdicts if lifting is None else lifting)
        if alone and job.received and job.wanted_by
        else None
    )
    if due is not None:
        study = replace(study, frame=replace(frame, rules=(*frame.rules, due[0]), clock=due[1]))
    return study


def _due_of(study: Study, lifting: tuple[Verdict, ...]) -> tuple[Rule, Clock] | None:
    """What a promised day leaves room for, whichever way the work is done.

    ``lifting``: all verdicts on the job, by what they may make needless.
    """
    if study.methods:
        # what the work takes at the most is sooner known than what it takes each way, and mostly enough to know
        most = study.least.most_minutes
        if due_of(study.shop, study.job, study.verdicts, study.reckoned, most, lifting) is None:
            return None
    return due_of(study.shop, study.job, study.verdicts, study.costing, lifting=lifting)


def make_estimate(study: Study, chosen: Collection[str]) -> Estimate:
    """The priced work of a set of upgrades; InputError names ids that are not offered on this job."""
    known = [v.upgrade.id for v in study.verdicts]
    issues = [
        not_offered(study.shop, study.job, Origin(study.job.file), name, known)
        for name in chosen
        if name not in known
    ]
    issues = issues or [
        Issue(
            Origin(study.job.file),
            "these upgrades cannot be done together",
            words,
            next_step="take one of them out, or add what is needed",
        )
        for words in clashes(study.frame, chosen)
    ]
    issues = issues or [
        Issue(
            Origin(study.job.file),
            f"{rule.of} cannot be done",
            rule.words,
            next_step="estimator fit --show-working gives the numbers",
        )
        for rule in study.frame.rules
        if rule.source == Source.UNFIT and rule.of in chosen
    ]
    if issues:
        raise InputError(issues)
    return study.costing.estimate(chosen)


def spec_rows(study: Study, chosen: Collection[str]) -> tuple[SpecRow, ...]:
    """Every attribute with what it is now, what is wanted, and what the set reaches."""
    ids = tuple(sorted(chosen))
    levels = levels_reached(study.problem, ids)
    amounts = amounts_reached(study.problem, ids)
    standing = levels_reached(study.problem, ())
    wanted = {rule.attribute: rule for rule in study.frame.rules if rule.attribute}
    guessed = [a.id for a in study.shop.attributes.values() if level_now(study.shop, a, study.job)[1]]
    lifted = causes(study.problem, ids, guessed)
    for name, cause in lifted.items():
        more = _unread(study, name, levels[name], ids, guessed)
        rests_on = tuple(dict.fromkeys((*cause.rests_on, *more)))
        lifted = {**lifted, name: replace(cause, rests_on=rests_on)}
    rows = []
    for attribute in study.shop.attributes.values():
        rule = wanted.get(attribute.id)
        level_kind = attribute.kind == "level"
        reached = levels.get(attribute.id, 0) if level_kind else amounts.get(attribute.id, 0)
        if level_kind:
            level, assumed = level_now(study.shop, attribute, study.job)
            now = int(standing[attribute.id])
            # what a fault found holds down is no guess
            assumed = assumed and now == tenths(level)
        else:
            reading = study.job.instrument.get(attribute.intake_field)
            assumed = reading is None or reading.assumed
            now = next(a.base for a in study.frame.amounts if a.attribute == attribute.id)
        rows.append(
            SpecRow(
                attribute.id,
                attribute.what,
                attribute.kind,
                attribute.unit,
                now,
                assumed,
                rule.least if rule else None,
                rule.most if rule else None,
                reached,
                attribute.verified_by,
                *(lifted[attribute.id].by, lifted[attribute.id].rests_on)
                if attribute.id in lifted
                else ((), ()),
                _may_fail(study, attribute.id, lifted[attribute.id].by) if attribute.id in lifted else (),
            )
        )
    return tuple(rows)


def _may_fail(study: Study, attribute: str, by: Collection[str]) -> tuple[str, ...]:
    """How the work that lifts an attribute may fail however it is done, in the words of ``promise_rests.csv``."""
    rows = (row for row in study.shop.promise_rests if row.task and row.attribute == attribute)
    return tuple(row.because for row in rows if row.task in by and holds(row.when, study.job.instrument))


def _unread(
    study: Study, attribute: str, level: int, chosen: Collection[str], guessed: Collection[str]
) -> list[str]:
    """What of ``promise_rests.csv`` a level of an attribute rests on that nobody looked at, by its name."""
    instrument, found = study.job.instrument, []
    for row in study.shop.promise_rests:
        if row.task or row.attribute != attribute or not holds(row.when, instrument):
            continue
        if row.field:
            reading = instrument.get(row.field)
            unread = reading is None or reading.assumed
        else:
            unread = row.other in guessed and by_work_alone(study.problem, row.other, chosen) < level
        if unread:
            found.append(row.name)
    return found


def make_choice(
    study: Study,
    aim: str | None = None,
    engine: str | None = None,
    time_limit: float | None = None,
    explain: bool = True,
    hold_wishes: bool = False,
) -> Choice:
    """The best upgrade set for ``aim`` (left out: ``usual_aim``), estimated again and rechecked in plain arithmetic.

    ``hold_wishes``: whether the wishes are demanded even where the aim is to score them.
    EngineError if the engine's answer does not stand up to the recheck (see ``choose.choose``); RefutedError
    if its lines, its price or its spec are not what the rows of the tables come to, or if a plain search
    finds a better set than the one called optimal.
    """
    aim = usual_aim(study.frame.billed) if aim is None else aim
    answer, costing = _answered(study, aim, engine, time_limit, explain, hold_wishes)
    if answer.changed:
        study = replace(study, frame=without(study.frame, answer.changed))
    members = answer.chosen
    opened, study = study, done_ways(study, _asked_for(costing, members))
    answer = replace(answer, chosen=upgrades_in(members), ways=_ways_told(opened, study, members))
    _same_figures(study, answer)
    estimate = study.costing.estimate(answer.chosen)
    choice = Choice(study, answer, estimate, spec_rows(study, answer.chosen), opened)
    spec = _compared(choice)
    first = aims_in(aim)[0]
    if study.frame.least_score is None:  # the search knows of no score to be reached
        _unrefuted(choice, spec, first, hold_wishes or first != "score")
    return choice


def answer_of(
    study: Study,
    aim: str,
    engine: str | None = None,
    time_limit: float | None = None,
    explain: bool = True,
    hold_wishes: bool = False,
) -> ChoiceResult:
    """What the programme says to ``make_choice``, the ways of the work among the members of the set.

    It is rechecked in plain arithmetic, but held against nothing of the tables: for questions beside the answer.
    """
    return _answered(study, aim, engine, time_limit, explain, hold_wishes)[0]


def _answered(
    study: Study,
    aim: str,
    engine: str | None,
    time_limit: float | None,
    explain: bool,
    hold_wishes: bool,
) -> tuple[ChoiceResult, Costing]:
    """The answer, and the costing whose ways are among the members of its set."""
    from estimator.choose.ways_on_demand import WithWays

    check_aim(aim)
    posed = WithWays(
        study.frame if hold_wishes else problem_for(study.frame, aim, study.job.file),
        study.least,
        lambda view: study.work_of(tuple(v for v in study.verdicts if view is None or v.upgrade.id in view)),
        lambda costing: study.priced_as(costing).measure,
        price_bound(study),
    )
    return posed.choose(aim, engine, time_limit, explain)


def _taken(costing: Costing, members: Collection[str]) -> dict[str, str]:
    """By task the way that it is done in a set of a costing, where there is more than one."""
    tasks = costing.shop.tasks
    reckoned = {task: tasks[task].method for task in costing.in_more_ways}
    return reckoned | methods_in(costing.with_ways(members))


def _asked_for(costing: Costing, members: Collection[str]) -> dict[str, str]:
    """The same of the tasks that the set asks for: how the rest would be done hangs on what else was looked at."""
    taken = _taken(costing, members)
    return {task: taken[task] for task in costing.estimate(members).tasks if task in taken}


def _ways_told(opened: Study, done: Study, members: Collection[str]) -> tuple[str, ...]:
    """The ways of a set that differ from those that were reckoned with, by their names."""
    if opened is done:
        return ()
    tasks = dict.fromkeys(line.task for line in done.reckoned.estimate(upgrades_in(members)).lines)
    before, after = opened.shop.tasks, done.shop.tasks
    return tuple(way_id(t, after[t].method) for t in tasks if after[t].method != before[t].method)


def _same_figures(study: Study, answer: ChoiceResult) -> None:
    """RefutedError where a set measures otherwise with its ways taken for good than it did among others."""
    told = answer.measure
    if told is None:
        return
    again = study.measure(answer.chosen)
    for name in ("cost", "cash", "price_parts", "consumables", "expected", "price_work", "line_tax"):
        if getattr(told, name) != getattr(again, name):
            raise RefutedError(
                f"the set {', '.join(answer.chosen) or 'of no upgrade'} comes to another {name} when its work is "
                f"done the ways chosen: {getattr(again, name)}, not {getattr(told, name)}; nothing of it can be "
                "relied on. next: run “estimator check”; if it finds nothing, this is a fault in the program itself"
            )


def given_up_for(study: Study) -> tuple[Rule, ...]:
    """What stays as it is unless nothing else meets the wish, and here nothing else does: as little as can be."""
    from estimator.choose.infeasible.giving_way import fewest_kept
    from estimator.choose.milp.linear import Linear
    from estimator.choose.milp.model import Programme
    from estimator.choose.solvers.backends import INFEASIBLE

    if not any(is_kept(rule) for rule in study.frame.rules):
        return ()
    programme = Programme(study.problem, study.measure, price_bound(study))
    return fewest_kept(programme) if programme.ask(Linear()).status == INFEASIBLE else ()


def _compared(choice: Choice) -> Spec:
    """Hold the lines and the spec of a choice against the rows of the tables; see ``choose.verify.answer``."""
    study, setting = choice.study, choice.study.costing.setting
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    # the twin reads the ways from their rows itself
    methods = other_ways(study.shop)
    plain = by_methods(study.shop, {task: study.shop.ways.usual(task) for task in methods})
    rows = Rows(plain, study.job, verdicts, setting.crew, setting.whole_packs, methods)
    spec = Spec(rows)
    if choice.found:
        hold(rows, spec, choice.estimate, {row.attribute: row.reached for row in choice.spec})
    return spec


def _unrefuted(choice: Choice, spec: Spec, aim: str, wishes: bool) -> None:
    """Let a plain search try to refute that a choice is optimal, or that there is none."""
    answer, problem = choice.answer, choice.study.problem
    if answer.status == "infeasible":
        search = search_for(spec.rows, spec, problem, ANY, wishes)
        if search is not None:
            hold_infeasible(search)
    elif answer.status == "optimal" and answer.objective is not None:
        search = search_for(spec.rows, spec, problem, aim, wishes)
        if search is not None:
            told = -answer.objective if aim == "score" else answer.objective
            hold_optimal(search, answer.chosen, told)
            if choice.open_study.in_more_ways:
                hold_ways(search, answer.chosen, told, choice.study.ways)


def settled(study: Study, chosen: Collection[str]) -> Study:
    """The study with the work of a set done the ways that cost the shop least, and no other way open."""
    if not study.in_more_ways:
        return study
    costing = study.costing
    return done_ways(study, _taken(costing, chosen) | costing.cheapest_ways(chosen))


def best_ways(study: Study, aim: str | None = None) -> Study:
    """The study with its work done the ways of the best set for an aim, and no other way open."""
    return settled_beside(make_choice(study, aim, explain=False)) if study.in_more_ways else study


def settled_beside(choice: Choice) -> Study:
    """The study of a choice, with what its set does not ask for done the ways reckoned with among those that are open."""
    opened = choice.open_study
    if not opened.methods:
        return choice.study
    tasks = choice.study.shop.tasks
    mine = {task: tasks[task].method for task in choice.estimate.tasks if task in opened.methods}
    beside = {task: of for task, of in opened.methods.items() if task not in mine}
    methods = _taken(opened.reckoned, ()) | reckoned_with(opened.reckoned, opened.verdicts, beside) | mine
    if all(tasks[task].method == method for task, method in methods.items()):
        return choice.study
    return done_ways(opened, methods)


def make_choice_of(study: Study, named: Collection[str]) -> Choice:
    """A set that the user named, in the form of a choice; nothing is optimised but the ways its work is done."""
    from estimator.choose.choose import ChoiceResult

    make_estimate(study, named)
    opened, study = study, settled(study, named)
    estimate = make_estimate(study, named)
    answer = ChoiceResult(
        status=NAMED,
        aim="none",
        engine="none",
        chosen=estimate.chosen,
        measure=study.measure(estimate.chosen),
        objective=None,
        bound=None,
        gap=None,
        proven=False,
        unique=None,
        rounds=0,
        seconds_build=0.0,
        seconds_solve=0.0,
        ways=_ways_told(opened, study, estimate.chosen),
    )
    choice = Choice(study, answer, estimate, spec_rows(study, estimate.chosen), opened)
    _compared(choice)
    return choice


def all_parts(study: Study, estimate: Estimate) -> tuple[PartLine, ...]:
    """The parts of a set, with what its work uses up and sells like a part (strings)."""
    lines = list(estimate.parts)
    for line in estimate.lines:
        sold = [use for use in line.consumables if study.shop.consumables[use.id].billed_as == "part"]
        for use in sold[:1]:
            what = ", ".join(each.what for each in sold)
            cost, price = line.money.parts, line.money.price_parts
            lines.append(PartLine(use.id, "", what, "", use.quantity, cost, cost, price, price, "shop"))
    return tuple(lines)


def assumed_values(study: Study, chosen: Collection[str]) -> tuple[UsedValue, ...]:
    """The values that the fit of a set rests on and that nobody measured, in order of name."""
    found: dict[str, UsedValue] = {}
    weighed = {rule.attribute for rule in study.frame.rules} & {"weight", "bridge-mass"}
    for verdict in study.verdicts:
        if verdict.upgrade.id not in chosen:
            continue
        for finding in verdict.findings:
            for value in finding.assumed:
                found.setdefault(value.name, value)
        if weighed:
            for name in parse_expression(verdict.upgrade.row.removes_g).names:
                _note_assumed(study, "body_wood" if name == WOOD_DENSITY else name, found)
            if any(study.shop.tasks[demand.task].driver == BY_VOLUME for demand in verdict.demands):
                _note_assumed(study, "body_wood", found)
    return tuple(found[name] for name in sorted(found))


def _note_assumed(study: Study, name: str, found: dict[str, UsedValue]) -> None:
    reading = study.job.instrument.get(name)
    if reading is not None and reading.assumed:
        found.setdefault(name, UsedValue(name, str(reading.value), study.shop.intake[name].unit, True))


def price_bound(study: Study):  # type: ignore[no-untyped-def]
    """A linear lower bound on what the customer pays, for the programme; see ``estimate.commission``."""
    from estimator.choose.measure import PriceBound

    terms = study.shop.terms
    rate, rush = study.job.terms.charge(terms), study.job.terms.rush_factor(terms)
    # the tax is in what is paid: a bound without it lies so low that every set near the limit has to be measured
    by_line = terms.tax_per == "line"
    taxed = 1 + terms.tax_labour
    per_minute = float(rate * (1 + terms.labour_reserve) / 60 * 100 * rush * taxed)
    of_parts = rush + (rush - 1) * terms.tax_labour + (0 if by_line else terms.tax_parts)
    taxes = bool(terms.tax_labour or (terms.tax_parts and not by_line))
    roundings = int(rush != 1) + int(taxes) * (2 if by_line else 1)

    def price(minutes: Hundredths, parts: Cents, consumables: Cents, work: Cents, line_tax: Cents) -> Cents:
        money = Money(price_parts=parts, consumables=consumables, price_work=work, line_tax=line_tax)
        return study.reckoned.price(minutes, money, least=False).to_pay

    least = cents(terms.minimum_charge * rush)
    # a few cents are taken off for the roundings on the way
    return PriceBound(
        *(least, Cents(-5), per_minute, float(of_parts), price, by_line, float(rush * taxed), roundings),
        fee_from=cents(terms.fee_most),
    )
