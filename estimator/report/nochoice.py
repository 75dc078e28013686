"""Why a wish cannot be met, and the ways out, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.pipeline import Choice

if TYPE_CHECKING:
    from estimator.choose.explain import WayOut
    from estimator.choose.problem import Rule

REFUSED = "refused:"
"""How the id of a rule begins by which the user keeps an upgrade out."""


def show_no_choice(choice: Choice) -> None:
    """Why the wish cannot be met and what would have to give."""
    answer = choice.answer
    print(f"{choice.study.job.id}: {choice.study.job.what or choice.study.job.id}")
    if answer.status != "infeasible":
        print("No answer was found in the time given; run again with a longer --time-limit.")
        return
    several = len(answer.conflicts) > 1
    print("The wish cannot be met (proven)." + (" More than one thing stands in the way:" if several else ""))
    for number, conflict in enumerate(answer.conflicts, start=1):
        print(f"{number}. These cannot hold together:" if several else "These cannot hold together:")
        for words in _rules_in_words(conflict.rules):
            print(f"  - {words}")
        for words in (
            _ways_in_words(answer.mends[number - 1]) if several and number <= len(answer.mends) else ()
        ):
            print(f"  to mend it: {words}")
    if answer.ways_out:
        print("Ways out, each solved again and true:")
        for words in _ways_in_words(answer.ways_out):
            print(f"  - {words}")
    for title, compromise in (
        ("To keep the whole wish, at the least excess", answer.whole_wish),
        ("The best that can be had within the limits", answer.within_limits),
    ):
        if compromise is not None:
            print(f"{title}: " + "; ".join(compromise.words))
            print("  " + (", ".join(compromise.chosen) or "no upgrade at all"))


def _rules_in_words(rules: Sequence[Rule]) -> list[str]:
    """The rules in the user's words, several refused upgrades on one line."""
    refused = [rule.upgrade for rule in rules if rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        return [rule.words for rule in rules]
    told = [rule.words for rule in rules if not rule.id.startswith(REFUSED)]
    return [*told, f"these are refused: {', '.join(refused)}"]


def _ways_in_words(ways: Sequence[WayOut]) -> list[str]:
    """The changes in words, those that only allow a refused upgrade on one line."""
    refused = [way.rule.upgrade for way in ways if way.rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        return [way.words for way in ways]
    told = [way.words for way in ways if not way.rule.id.startswith(REFUSED)]
    return [*told, f"allow any one of these after all: {', '.join(refused)}"]
