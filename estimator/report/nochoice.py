"""Why a wish cannot be met, and the ways out, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.pipeline import Choice
from estimator.report.terminal import hours, money

if TYPE_CHECKING:
    from estimator.choose.conflicts import Compromise
    from estimator.choose.explain import WayOut
    from estimator.choose.measure import Measure
    from estimator.choose.problem import Rule

REFUSED = "refused:"
"""How the id of a rule begins by which the user keeps an upgrade out."""


def show_no_choice(choice: Choice) -> None:
    """Why the wish cannot be met and what would have to give."""
    answer, currency = choice.answer, choice.study.shop.terms.currency
    print(f"{choice.study.job.id}: {choice.study.job.what or choice.study.job.id}")
    if answer.status != "infeasible":
        print("No answer was found in the time given; run again with a longer --time-limit.")
        return
    several = len(answer.conflicts) > 1
    print("The wish cannot be met (proven)." + (" More than one thing stands in the way:" if several else ""))
    for number, conflict in enumerate(answer.conflicts, start=1):
        print(f"{number}. These cannot hold together:" if several else "These cannot hold together:")
        for words in rules_in_words(conflict.rules):
            print(f"  - {words}")
        if not conflict.proven:
            print("  (perhaps not all of these: time ran out before each had been tried)")
        ways = [way for way in answer.ways_out if way.settles == number]
        if ways:
            print(
                "  Any of these would settle this one alone (the set is for the case that the others are settled too):"
                if several
                else "Ways out, each solved again and true:"
            )
        for words in _ways_in_words(ways, currency):
            print(f"  {words}")
    for title, compromise in (
        ("Together these changes would do, as few as can be", answer.together),
        (_excess_title(answer.whole_wish), answer.whole_wish),
        ("The nearest to the wish that can be had within the limits", answer.within_limits),
        ("What is required cannot all be had within the limits; the nearest without it", answer.within_bare),
    ):
        if compromise is not None:
            print(f"{title}:")
            for words in compromise.words:
                print(f"  - {words}")
            print(f"  {_set_in_words(compromise.chosen, compromise.measure, currency)}")
    if not answer.explained:
        print("Time ran out: more may clash than is told here, and there may be other ways out.")


def _excess_title(of: Compromise | None) -> str:
    """What is least, said so that it can be checked: one limit to the cent, several in shares of each."""
    shares = of is not None and len(of.given_up) > 1
    return "To keep the whole wish, at the least excess" + (" (in shares of the limits)" if shares else "")


def _set_in_words(chosen: Sequence[str], measured: Measure, currency: str) -> str:
    figures = (
        f"cost {money(measured.cost, currency)}, cash {money(measured.cash, currency)}, "
        f"price {money(measured.price, currency)}, {hours(measured.minutes)}"
    )
    return f"with {', '.join(chosen) or 'no upgrade at all'}: {figures}"


def rules_in_words(rules: Sequence[Rule]) -> list[str]:
    """The rules in the user's words, several refusals on one line."""
    refused = [_refused(rule) for rule in rules if rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        return [rule.words for rule in rules]
    told = [rule.words for rule in rules if not rule.id.startswith(REFUSED)]
    return [*told, f"these are refused: {', '.join(refused)}"]


def _refused(rule: Rule) -> str:
    return rule.id.removeprefix(REFUSED)


def _ways_in_words(ways: Sequence[WayOut], currency: str) -> list[str]:
    """The changes in words with the set of each; those that only allow a refused upgrade under one head."""
    refused = [way for way in ways if way.rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        refused = []
    told = []
    for way in ways:
        if way not in refused:
            told += [f"- {way.words}", f"  {_set_in_words(way.chosen, way.measure, currency)}"]
    if refused:
        told.append(f"- allow any one of these after all: {', '.join(_refused(way.rule) for way in refused)}")
        told += [f"  {_refused(w.rule)}: {_set_in_words(w.chosen, w.measure, currency)}" for w in refused]
    return told
