"""The further answers of a choice as plain data for ``--json``. Keys are stable."""

from __future__ import annotations

from estimator.choose.questions.all import PostOptimality
from estimator.choose.questions.why import WhyChosen
from estimator.core.money import money_text
from estimator.model.problem import Rule

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
        data["next_best"] = [
            {
                "rank": a.rank, "upgrades": list(a.chosen), "cost": money_text(a.measure.cost),
                "added": list(a.added), "dropped": list(a.dropped),
            }
            for a in depth.next_best.sets
        ]  # fmt: skip
        data["next_best_leaves_out"] = NEXT_LEAVES_OUT
    if depth.chosen:
        data["why"] = [
            {
                "upgrade": c.upgrade, "adds": money_text(c.cost), "minutes": c.minutes / 100,
                "without_costs_more": None if c.saving is None else money_text(c.saving),
                "needed_for": [rule.words for rule in c.needed_for], "would_take": _would_take(c),
            }
            for c in depth.chosen
        ]  # fmt: skip
        data["why_not"] = [
            {
                "upgrade": x.upgrade, "dearer": None if x.dearer is None else money_text(x.dearer),
                "part_price_to_enter": None if x.price_to_enter is None else money_text(x.price_to_enter),
                "minutes_less_to_enter": None if x.minutes_to_enter is None else x.minutes_to_enter / 100,
                "pushes_out": list(x.pushes_out), "brings_in": list(x.brings_in), "free": x.free,
            }
            for x in depth.left_out
        ]  # fmt: skip
        data["ranges"] = [
            {
                "limit": r.rule.words,
                "low": _figure(r.rule, r.low),
                "high": None if r.high is None else _figure(r.rule, r.high),
                "then": list(r.then),
            }
            for r in depth.ranges
        ]
        data["settings"] = [
            {
                "setting": "part price" if s.upgrade else "labour rate", "upgrade": s.upgrade,
                "now": money_text(s.now), "low": None if s.low is None else money_text(s.low),
                "high": None if s.high is None else money_text(s.high), "then": list(s.then),
                "below": list(s.below), "exact": s.exact,
            }
            for s in depth.settings
        ]  # fmt: skip
        data["tool_grades"] = [
            {
                "tool": t.tool, "charged": t.charged, "cheaper": t.cheapest.grade.name,
                "saves": f"{abs(t.payback.saved):.4f}", "saves_minutes": float(t.payback.saved_minutes),
                "jobs_to_pay_back": t.payback.whole_jobs,
            }
            for t in depth.tools
        ]  # fmt: skip
    if depth.engine_notes:
        data["further_engine_notes"] = list(depth.engine_notes)
    if depth.frontier is not None:
        data["frontier"] = [
            {
                "upgrades": list(p.chosen), "cost": money_text(p.cost), "score": p.score / 1000,
                "minutes": p.hours / 100, "meets_wish": p.meets_wish, "knee": p.knee,
            }
            for p in depth.frontier.points
        ]  # fmt: skip
    return data


def _would_take(chosen: WhyChosen) -> str | float | None:
    """What doing without takes at least of the limit that forbids it."""
    return None if chosen.least is None else _figure(chosen.needed_for[0], chosen.least)


def _figure(rule: Rule, value: int) -> str | float:
    """A figure of a limit: money as text, minutes as a number."""
    return money_text(value) if rule.kind == "money" else value / 100
