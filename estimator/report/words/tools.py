"""Tools that are not there, in words: what is got for a set, and what would pay if it were."""

from __future__ import annotations

from estimator.choose.study import NAMED, Choice, Study
from estimator.core.text import money
from estimator.estimate.tools.to_get import ToolsGot

OUT = "Take out of without_tools what you have got."


def got_lines(tools: ToolsGot, currency: str) -> list[str]:
    """One line for each tool that is got."""
    return [
        f"To get, not in these sums: {one.what}, {f'rented for a {one.rented}' if one.rented else 'bought'}, "
        f"{money(one.cents, currency)}."
        for one in tools.got
    ]


def nothing_got_lines(study: Study) -> list[str]:
    """That no tool is got for a sale, where some are not there: only a choice weighs that."""
    names = ", ".join(study.shop.tools[tool].what for tool in study.job.without_tools)
    told = (
        f"No tool is got for it that is not there ({names}): choose --aim profit weighs what one would bring."
    )
    return [told] if names else []


def tool_lines(choice: Choice) -> list[str]:
    """What is got of the tools that are not there, and what those would save that are worked around."""
    tools, currency = choice.tools, choice.study.shop.terms.currency
    lines = got_lines(tools, currency)
    if tools.got and not choice.found:
        lines.append("Told as if that were got, and paid out of the limit.")
    elif tools.got and tools.around is not None:
        with_it = choice.estimate.totals.cost + tools.cents
        best = "these upgrades" if choice.answer.status == NAMED else "the best set"
        lines.append(
            f"Worked around, {best} would cost {money(tools.around, currency)}; with what is got it is "
            f"{money(with_it, currency)} in all. {OUT}"
        )
    elif tools.got:
        asked = "cannot these upgrades be done" if choice.answer.status == NAMED else "nothing keeps the wish"
        lines.append(f"Without that {asked}. {OUT}" if tools.needed else OUT)
    for one, saves in tools.more:
        how = f"rented for a {one.rented} at" if one.rented else "bought at"
        pays = f"{how} {money(one.cents, currency)} it pays from {-(-one.cents // saves)} such jobs on"
        if one.inexpensive is not None:
            less = money(one.inexpensive, currency)
            pays += (
                f"; {less} in the inexpensive grade, which wears faster: estimator invest compares the grades"
            )
        if one.rented:
            pays = f"{how} {money(one.cents, currency)} it does not pay for this job alone"
        lines.append(
            f"Worked around: {one.what}. With it there this job would cost {money(saves, currency)} less; {pays}."
        )
    return lines
