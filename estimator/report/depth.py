"""The further answers of a choice, as text, as data, and the frontier as a drawing."""

from __future__ import annotations

from estimator.choose.depth import Depth
from estimator.choose.frontier import Point
from estimator.choose.why import Chosen, LeftOut
from estimator.estimate.money import money_text
from estimator.pipeline import Choice, Study
from estimator.report.terminal import hours, money, show_table

Data = dict[str, object]
#: refused upgrades told in text, the nearest first; --json has them all
NEAREST = 12


def show(choice: Choice, depth: Depth) -> None:
    """Print what was asked for."""
    currency = choice.study.shop.terms.currency
    if depth.chosen:
        _show_why(depth, currency)
    if depth.left_out:
        _show_left_out(depth.left_out, currency)
    if depth.ranges:
        for told in depth.ranges:
            on = told.rule.on or "time"
            low = money(told.low, currency) if told.rule.kind == "money" else hours(told.low)
            if told.high is None:
                print(f"This set stays the best for any limit of {on} from {low} up.")
            else:
                high = money(told.high, currency) if told.rule.kind == "money" else hours(told.high)
                print(
                    f"This set stays the best for a limit of {on} from {low} to {high}; above: {', '.join(told.then)}."
                )
    if depth.next_best is not None:
        _show_next(depth, currency)
    if depth.frontier is not None:
        _show_frontier(choice.study, depth, currency)


def _show_why(depth: Depth, currency: str) -> None:
    show_table(
        "What each upgrade truly costs (forced work in, shared work only where nothing else brings it)",
        ("upgrade", "adds", "hands-on", "without it"),
        [(c.upgrade, money(c.cost, currency), hours(c.minutes), _without(c, currency)) for c in depth.chosen],
        right=(1, 2),
    )


def _without(chosen: Chosen, currency: str) -> str:
    if chosen.saving is not None:
        if chosen.saving == 0:
            return "another set costs the same"
        return f"the cheapest other set costs {money(chosen.saving, currency)} more"
    if chosen.needed_for:
        return "cannot be met: " + "; ".join(rule.words for rule in chosen.needed_for)
    return "not proven in the time given"


def _show_left_out(left_out: tuple[LeftOut, ...], currency: str) -> None:
    near = sorted((x for x in left_out if x.dearer is not None), key=lambda x: (x.dearer or 0, x.upgrade))
    show_table(
        f"Left out, the nearest {min(NEAREST, len(near))} of {len(near)} that could be had",
        ("upgrade", "dearer by", "enters if its part costs at most", "or takes less", "pushes out"),
        [
            (
                x.upgrade, money(x.dearer or 0, currency),
                "not even as a gift" if x.price_to_enter is None else money(x.price_to_enter, currency),
                "" if x.minutes_to_enter is None else hours(x.minutes_to_enter),
                ", ".join(x.pushes_out),
            )
            for x in near[:NEAREST]
        ],
        right=(1, 2, 3),
    )  # fmt: skip


def _show_next(depth: Depth, currency: str) -> None:
    assert depth.next_best is not None
    show_table(
        "Next best sets" + ("" if depth.next_best.complete else " (as far as time allowed)"),
        ("rank", "cost", "hands-on", "against the best set"),
        [
            (
                str(a.rank),
                money(a.measure.cost, currency),
                hours(a.measure.expected),
                _difference(a.added, a.dropped),
            )
            for a in depth.next_best.sets
        ],
        right=(0, 1, 2),
    )


def _difference(added: tuple[str, ...], dropped: tuple[str, ...]) -> str:
    parts = []
    if dropped:
        parts.append("without " + ", ".join(dropped))
    if added:
        parts.append("with " + ", ".join(added))
    return "; ".join(parts) or "the best set"


def _show_frontier(study: Study, depth: Depth, currency: str) -> None:
    assert depth.frontier is not None
    before: Point | None = None
    rows = []
    for point in depth.frontier.points:
        marks = [
            word for word, holds in (("meets the wish", point.meets_wish), ("knee", point.knee)) if holds
        ]
        more = sorted(set(point.chosen) - set(before.chosen)) if before else list(point.chosen)
        less = sorted(set(before.chosen) - set(point.chosen)) if before else []
        rows.append(
            (
                money(point.cost, currency), f"{point.score / 1000:.1f}", hours(point.hours), ", ".join(marks),
                "; ".join(x for x in (f"+ {', '.join(more)}" if more else "", f"- {', '.join(less)}" if less else "") if x),
            )
        )  # fmt: skip
        before = point
    show_table(
        "What a little more money buys: no other set is both cheaper and better"
        + ("" if depth.frontier.complete else " (as far as time allowed)"),
        ("cost", "score", "hands-on", "", "against the row above"),
        rows,
        right=(0, 1, 2),
    )


def as_data(depth: Depth) -> Data:
    """Keys added to ``choose --json``; money as strings, minutes as numbers."""
    data: Data = {}
    if depth.next_best is not None:
        data["next_best"] = [
            {
                "rank": a.rank, "upgrades": list(a.chosen), "cost": money_text(a.measure.cost),
                "added": list(a.added), "dropped": list(a.dropped),
            }
            for a in depth.next_best.sets
        ]  # fmt: skip
    if depth.chosen:
        data["why"] = [
            {
                "upgrade": c.upgrade, "adds": money_text(c.cost), "minutes": c.minutes / 100,
                "without_costs_more": None if c.saving is None else money_text(c.saving),
                "needed_for": [rule.words for rule in c.needed_for],
            }
            for c in depth.chosen
        ]  # fmt: skip
        data["why_not"] = [
            {
                "upgrade": x.upgrade, "dearer": None if x.dearer is None else money_text(x.dearer),
                "part_price_to_enter": None if x.price_to_enter is None else money_text(x.price_to_enter),
                "minutes_less_to_enter": None if x.minutes_to_enter is None else x.minutes_to_enter / 100,
                "pushes_out": list(x.pushes_out), "brings_in": list(x.brings_in),
            }
            for x in depth.left_out
        ]  # fmt: skip
        data["ranges"] = [
            {"limit": r.rule.words, "low": r.low, "high": r.high, "then": list(r.then)} for r in depth.ranges
        ]
    if depth.frontier is not None:
        data["frontier"] = [
            {
                "upgrades": list(p.chosen), "cost": money_text(p.cost), "score": p.score / 1000,
                "minutes": p.hours / 100, "meets_wish": p.meets_wish, "knee": p.knee,
            }
            for p in depth.frontier.points
        ]  # fmt: skip
    return data
