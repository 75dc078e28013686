"""The further answers of a choice as plain data for ``--json``. Keys are stable."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.questions.all import PostOptimality
from estimator.choose.questions.k_best import Alternative
from estimator.choose.questions.pareto import ParetoPoint
from estimator.choose.questions.sensitivity import SettingRange
from estimator.choose.questions.why import Range, WhyChosen
from estimator.choose.questions.why_not import LeftOut
from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.estimate.break_even import OtherWay
from estimator.estimate.tools.grades import GradeChoice
from estimator.model.problem import Rule
from estimator.report.json.choice import number

Data = dict[str, object]

NEXT_LEAVES_OUT = "sets that hold a set told here and more besides at no more cost"


def as_data(depth: PostOptimality) -> Data:
    """Keys added to ``choose --json``; money as strings, minutes as numbers."""
    data: Data = {"about": list(depth.about), "late": depth.late}
    if depth.clashes is not None:
        data["clashes"] = {
            "complete": depth.clashes.complete,
            "groups": [[rule.words for rule in conflict.rules] for conflict in depth.clashes.sets],
        }
    if depth.next_best is not None:
        data["next_best"] = _next_best(depth.next_best.sets)
        data["next_best_leaves_out"] = NEXT_LEAVES_OUT
    if depth.chosen:
        data["why"] = _why(depth.chosen)
        data["why_not"] = _why_not(depth.left_out)
        data["ranges"] = _ranges(depth.ranges)
        data["settings"] = _settings(depth.settings)
        data["tool_grades"] = _tool_grades(depth.tools)
        data["other_ways"] = [_other_way(way) for way in depth.ways]
    if depth.engine_notes:
        data["further_engine_notes"] = list(depth.engine_notes)
    if depth.frontier is not None:
        data["frontier"] = _frontier(depth.frontier.points)
    return data


def _other_way(of: OtherWay) -> Data:
    """Another way to do a task of the set: what it costs more, and from (or up to) which quantity it is cheaper."""
    return {
        "task": of.task,
        "quantity": number(of.quantity),
        "unit": of.driver,
        "taken": of.taken.way.method,
        "other": of.other.way.method,
        "costs_more": money_text(of.more),
        "cheaper_from": number(round(of.at, 2)) if of.at is not None and of.above else None,
        "cheaper_up_to": number(round(of.at, 2)) if of.at is not None and not of.above else None,
        "why_not": of.other.way.why_not,
        "missing_tools": list(of.other.way.missing),
    }


def _next_best(sets: Sequence[Alternative]) -> list[Data]:
    return [
        {
            "rank": a.rank,
            "upgrades": list(a.chosen),
            "cost": money_text(a.measure.cost),
            "added": list(a.added),
            "dropped": list(a.dropped),
        }
        for a in sets
    ]


def _why(chosen: Sequence[WhyChosen]) -> list[Data]:
    return [
        {
            "upgrade": c.upgrade,
            "adds": money_text(c.cost),
            "minutes": c.minutes / 100,
            "without_costs_more": None if c.saving is None else money_text(c.saving),
            "needed_for": [rule.words for rule in c.needed_for],
            "would_take": _would_take(c),
        }
        for c in chosen
    ]


def _why_not(left_out: Sequence[LeftOut]) -> list[Data]:
    return [
        {
            "upgrade": x.upgrade,
            "dearer": None if x.dearer is None else money_text(x.dearer),
            "part_price_to_enter": None if x.price_to_enter is None else money_text(x.price_to_enter),
            "minutes_less_to_enter": None if x.minutes_to_enter is None else x.minutes_to_enter / 100,
            "pushes_out": list(x.pushes_out),
            "brings_in": list(x.brings_in),
            "free": x.free,
        }
        for x in left_out
    ]


def _ranges(ranges: Sequence[Range]) -> list[Data]:
    return [
        {
            "limit": r.rule.words,
            "low": _figure(r.rule, r.low),
            "high": None if r.high is None else _figure(r.rule, r.high),
            "then": list(r.then),
        }
        for r in ranges
    ]


def _settings(settings: Sequence[SettingRange]) -> list[Data]:
    return [
        {
            "setting": "part price" if s.upgrade else "labour rate",
            "upgrade": s.upgrade,
            "now": money_text(s.now),
            "low": None if s.low is None else money_text(s.low),
            "high": None if s.high is None else money_text(s.high),
            "then": list(s.then),
            "below": list(s.below),
            "exact": s.exact,
        }
        for s in settings
    ]


def _tool_grades(tools: Sequence[GradeChoice]) -> list[Data]:
    return [
        {
            "tool": t.tool,
            "charged": t.charged,
            "cheaper": t.cheapest.grade.name,
            "saves": f"{abs(t.payback.saved):.4f}",
            "saves_minutes": float(t.payback.saved_minutes),
            "jobs_to_pay_back": t.payback.whole_jobs,
        }
        for t in tools
    ]


def _frontier(points: Sequence[ParetoPoint]) -> list[Data]:
    return [
        {
            "upgrades": list(p.chosen),
            "cost": money_text(p.cost),
            "score": p.score / 1000,
            "minutes": p.hours / 100,
            "meets_wish": p.meets_wish,
            "knee": p.knee,
        }
        for p in points
    ]


def _would_take(chosen: WhyChosen) -> str | float | None:
    """What doing without takes at least of the limit that forbids it."""
    return None if chosen.least is None else _figure(chosen.needed_for[0], chosen.least)


def _figure(rule: Rule, value: int) -> str | float:
    """A figure of a limit: money as text, minutes as a number."""
    return money_text(Cents(value)) if rule.kind == "money" else value / 100
