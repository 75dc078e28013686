"""The further answers of a choice: what stands beside the best set, what keeps it best, what else could be had."""

from __future__ import annotations

from decimal import ROUND_CEILING
from functools import partial

from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import InfeasibleSets
from estimator.choose.questions.all import PostOptimality
from estimator.choose.questions.k_best import Alternative
from estimator.choose.questions.pareto import ParetoPoint
from estimator.choose.questions.sensitivity import FARTHEST, SettingRange
from estimator.choose.questions.why import Range, WhyChosen
from estimator.choose.questions.why_not import LeftOut
from estimator.core.amounts import Cents
from estimator.core.cell_text import plain_number as number
from estimator.core.text import time_text
from estimator.estimate.break_even import OtherWay
from estimator.estimate.tools.grades import GradeChoice
from estimator.report.record import IN_WORDS, MONEY, TIME, UNNAMED, Kind, Record, Teller, in_words, plain_data
from estimator.report.records.wish import IN_ITS_UNIT, in_its_unit
from estimator.report.records.work import SHARE_OF_A_CENT

ENTERS = replace(MONEY, none="not even as a gift")
UNSETTLED = replace(IN_WORDS, none="not settled: a limit keeps a cheaper set out")
SHORTER = replace(TIME, read=partial(time_text, rounding=ROUND_CEILING))
SCORE = Kind("number", number, "{:.3f}".format, right=True)
NEXT_LEAVES_OUT = "sets that hold a set told here and more besides at no more cost"

_next = Teller[Alternative]()
_why = Teller[WhyChosen]()
_left = Teller[LeftOut]()
_range = Teller[Range]()
_setting = Teller[SettingRange]()
_grade = Teller[GradeChoice]()
_way = Teller[OtherWay]()
_point = Teller[ParetoPoint]()
_clash = Teller[InfeasibleSets]()
_depth = Teller[PostOptimality]()


class Clashes(Record[InfeasibleSets]):
    """All conflicts of a wish."""

    complete = _clash.yes("there is no other one", lambda of: of.complete)
    groups = _clash.of(
        Kind("list of lists of text", plain_data),
        "rules that cannot hold together",
        lambda of: [[rule.words for rule in conflict.rules] for conflict in of.sets],
    )


class Next(Record[Alternative]):
    """One of the best sets."""

    rank = _next.whole("its place, from 1", lambda of: of.rank, head="rank")
    upgrades = _next.words("the set", lambda of: of.chosen)
    cost = _next.money("cost to the shop", lambda of: of.measure.cost, head="cost")
    minutes = _next.time("hands-on, on average", lambda of: of.measure.expected, head="hands-on")
    added = _next.words("what it has more than the best", lambda of: of.added)
    dropped = _next.words("what it has less", lambda of: of.dropped)


class Why(Record[WhyChosen]):
    """What an upgrade of the set truly costs."""

    upgrade = _why.text("upgrade", lambda of: of.upgrade, head="upgrade")
    adds = _why.money("what the set costs more with it", lambda of: of.cost, head="adds")
    minutes = _why.time("hands-on that it adds", lambda of: of.minutes, head="hands-on")
    without_costs_more = _why.money("what the cheapest set without it costs more", lambda of: of.saving)
    needed_for = _why.words("what cannot be met without it", lambda of: (one.words for one in of.needed_for))
    would_take = _why.of(
        IN_ITS_UNIT,
        "what doing without takes of that limit",
        lambda of: None if of.least is None else in_its_unit(of.needed_for[0], of.least),
    )


class WhyNot(Record[LeftOut]):
    """What keeps an upgrade out."""

    upgrade = _left.text("upgrade", lambda of: of.upgrade, head="upgrade")
    dearer = _left.money("what the cheapest set with it costs more", lambda of: of.dearer, head="dearer by")
    part_price_to_enter = _left.of(
        ENTERS,
        "below this price of its part it enters",
        lambda of: of.price_to_enter,
        head="enters if its part costs less than",
    )
    minutes_less_to_enter = _left.of(
        SHORTER,
        "or if its work were so much shorter",
        lambda of: of.minutes_to_enter,
        head="or takes less by",
    )
    pushes_out = _left.words("what then goes out", lambda of: of.pushes_out, head="pushes out")
    brings_in = _left.words("what comes in besides", lambda of: of.brings_in, head="brings in too")
    free = _left.yes("it can be added and costs nothing more", lambda of: of.free)


class LimitRange(Record[Range]):
    """Within what of a limit the choice stays the same."""

    limit = _range.text("the limit in words", lambda of: of.rule.words)
    low = _range.of(IN_ITS_UNIT, "from here", lambda of: in_its_unit(of.rule, of.low))
    high = _range.of(
        IN_ITS_UNIT,
        "to here; none: without end",
        lambda of: None if of.high is None else in_its_unit(of.rule, of.high),
    )
    then = _range.words("the set below that", lambda of: of.then)


def _end(of: SettingRange, end: Cents) -> str:
    """One end of a range, as exactly as it is known."""
    return ("" if of.exact else "about ") + in_words(end)


def _up_to(of: SettingRange) -> str | None:
    """The upper end; None: of a part, any price."""
    if of.high is not None:
        return _end(of, of.high)
    return None if of.upgrade else f"{in_words(Cents(FARTHEST * of.now))} at least"


class Setting(Record[SettingRange]):
    """From where to where of a price the set stays the cheapest."""

    what = _setting.column(
        UNNAMED, lambda of: f"price of the part of {of.upgrade}" if of.upgrade else "labour rate, an hour"
    )
    setting = _setting.text(
        "part price or labour rate", lambda of: "part price" if of.upgrade else "labour rate"
    )
    upgrade = _setting.text("whose part; blank: the labour rate", lambda of: of.upgrade)
    now = _setting.money("as it is", lambda of: of.now, head="now")
    low = _setting.money("from here; none: not settled", lambda of: of.low)
    low_end = _setting.column("from", lambda of: None if of.low is None else _end(of, of.low), UNSETTLED)
    high = _setting.money("to here; none: as far as was looked", lambda of: of.high)
    high_end = _setting.column("to", _up_to, replace(IN_WORDS, none="any"))
    then = _setting.words("the set above that", lambda of: of.then)
    below = _setting.words("the set below", lambda of: of.below)
    exact = _setting.yes("true to the cent", lambda of: of.exact)


class ToolGrade(Record[GradeChoice]):
    """The cheapest grade of a tool for this job."""

    tool = _grade.text("tool, an id of tools.csv", lambda of: of.tool)
    charged = _grade.text("the grade that is charged", lambda of: of.charged)
    cheaper = _grade.text("the cheaper grade", lambda of: of.cheapest.grade.name)
    saves = _grade.of(SHARE_OF_A_CENT, "what it saves a job", lambda of: abs(of.payback.saved))
    saves_minutes = _grade.of(Kind("min", float), "time that it saves", lambda of: of.payback.saved_minutes)
    jobs_to_pay_back = _grade.whole("such jobs that pay it back", lambda of: of.payback.whole_jobs)


class OtherWayTold(Record[OtherWay]):
    """Another way to do a task of the set."""

    task = _way.text("task, an id of tasks.csv", lambda of: of.task)
    quantity = _way.number("how much of it the job takes", lambda of: of.quantity)
    unit = _way.text("unit of the quantity", lambda of: of.driver)
    taken = _way.text("the way that is taken", lambda of: of.taken.way.method)
    other = _way.text("the other way", lambda of: of.other.way.method)
    costs_more = _way.money("what it costs more here", lambda of: of.more)
    cheaper_from = _way.number(
        "quantity from which it is cheaper",
        lambda of: round(of.at, 2) if of.at is not None and of.above else None,
    )
    cheaper_up_to = _way.number(
        "quantity up to which it is",
        lambda of: round(of.at, 2) if of.at is not None and not of.above else None,
    )
    why_not = _way.text("why it cannot be taken; blank: it can", lambda of: of.other.way.why_not)
    missing_tools = _way.words("tools that it lacks", lambda of: of.other.way.missing)
    would_save_a_year = _way.money(
        "what it would save over the jobs of the ledger's last year that had the task, each at the amount of this one; "
        "none: no ledger is read, or it is not missing tools alone that keep it from saving",
        lambda of: of.saves_a_year,
    )


class Point(Record[ParetoPoint]):
    """A set that no other beats."""

    upgrades = _point.words("the set", lambda of: of.chosen)
    cost = _point.money("cost to the shop", lambda of: of.cost, head="cost")
    score = _point.of(SCORE, "score of the wishes met", lambda of: of.score / 1000, head="score")
    minutes = _point.time("hands-on", lambda of: of.hours, head="hands-on")
    meets_wish = _point.yes("the whole wish is met", lambda of: of.meets_wish)
    knee = _point.yes("where the next cent buys least", lambda of: of.knee)
    marks = _point.column(
        UNNAMED, lambda of: ", ".join(["meets the wish"] * of.meets_wish + ["knee"] * of.knee)
    )


class Questions(Record[PostOptimality]):
    """What ``choose`` answers besides; what was not asked is left out."""

    about = _depth.words("the set that all this is about", lambda of: of.about)
    late = _depth.yes("time ran out on the way", lambda of: of.late)
    clashes = _depth.where_there(
        _depth.one(Clashes, "all conflicts of a wish that cannot be met", lambda of: of.clashes)
    )
    next_best = _depth.rows_if(
        lambda of: of.next_best,
        Next,
        "the next best sets",
        lambda of: of.next_best.sets if of.next_best else (),
    )
    next_best_leaves_out = _depth.where_there(
        _depth.text("what they leave out", lambda of: NEXT_LEAVES_OUT if of.next_best else None)
    )
    why = _depth.rows_if(lambda of: of.chosen, Why, "what each upgrade truly costs", lambda of: of.chosen)
    why_not = _depth.rows_if(
        lambda of: of.chosen, WhyNot, "what keeps the others out", lambda of: of.left_out
    )
    ranges = _depth.rows_if(
        lambda of: of.chosen, LimitRange, "within which limits the set stays", lambda of: of.ranges
    )
    settings = _depth.rows_if(
        lambda of: of.chosen, Setting, "within which prices the set stays", lambda of: of.settings
    )
    tool_grades = _depth.rows_if(
        lambda of: of.chosen, ToolGrade, "cheaper grades of tools", lambda of: of.tools
    )
    other_ways = _depth.rows_if(
        lambda of: of.chosen, OtherWayTold, "other ways to do the work", lambda of: of.ways
    )
    further_engine_notes = _depth.where_there(
        _depth.of(
            Kind("list of text", plain_data),
            "what engines failed at on the way",
            lambda of: of.engine_notes or None,
        )
    )
    frontier = _depth.rows_if(
        lambda of: of.frontier is not None,
        Point,
        "cost against score",
        lambda of: of.frontier.points if of.frontier else (),
    )
