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
        for words in rules_in_words(conflict.rules):
            print(f"  - {words}")
        if not conflict.proven:
            print("  (perhaps not all of these: time ran out before each had been tried)")
        mends = _ways_in_words(answer.mends[number - 1]) if several and number <= len(answer.mends) else []
        if mends:
            print("  Any of these would settle this one alone:")
        for words in mends:
            print(f"  - {words}")
    if answer.ways_out:
        print("Ways out, each solved again and true:")
        for words in _ways_in_words(answer.ways_out):
            print(f"  - {words}")
    for title, compromise in (
        ("Together these changes would do, as few as can be", answer.together),
        ("To keep the whole wish, at the least excess", answer.whole_wish),
        ("The best that can be had within the limits", answer.within_limits),
    ):
        if compromise is not None:
            print(f"{title}:")
            for words in compromise.words:
                print(f"  - {words}")
            print("  with " + (", ".join(compromise.chosen) or "no upgrade at all"))
    if not answer.explained:
        print("Time ran out: more may clash than is told here, and there may be other ways out.")


def rules_in_words(rules: Sequence[Rule]) -> list[str]:
    """The rules in the user's words, several refusals on one line."""
    refused = [_refused(rule) for rule in rules if rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        return [rule.words for rule in rules]
    told = [rule.words for rule in rules if not rule.id.startswith(REFUSED)]
    return [*told, f"these are refused: {', '.join(refused)}"]


def _refused(rule: Rule) -> str:
    return rule.id.removeprefix(REFUSED)


def _ways_in_words(ways: Sequence[WayOut]) -> list[str]:
    """The changes in words, those that only allow a refused upgrade on one line."""
    refused = [_refused(way.rule) for way in ways if way.rule.id.startswith(REFUSED)]
    if len(refused) < 2:
        return [way.words for way in ways]
    told = [way.words for way in ways if not way.rule.id.startswith(REFUSED)]
    return [*told, f"allow any one of these after all: {', '.join(refused)}"]
