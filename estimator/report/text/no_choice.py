"""Why a wish cannot be met, and the ways out, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.choose.questions.clash_as_assumed import ClashAsAssumed, clash_as_assumed
from estimator.choose.study import Choice
from estimator.core.units import lengths_as_read
from estimator.estimate.ways import upgrades_in
from estimator.model.problem import LIMITS, Source
from estimator.report.text.terminal import hours, money, put
from estimator.report.words.clash import assumed_lines, measuring_ways

if TYPE_CHECKING:
    from estimator.choose.choose import ChoiceResult
    from estimator.choose.infeasible.conflicts import Compromise
    from estimator.choose.infeasible.ways_out import InfeasibleSet, WayOut
    from estimator.choose.measure import Measure
    from estimator.model import Shop
    from estimator.model.problem import Rule

NEAREST = "(fewest wishes missed, then least by shares of what was asked for, then least cost)"
"""The measure by which a set is the nearest, as a reader needs it."""


def show_no_choice(choice: Choice, full: bool = True) -> None:
    """Why the wish cannot be met and what would have to give; ``full``: also the set of every way out."""
    answer, shop = choice.answer, choice.study.shop
    currency, clash = shop.terms.currency, clash_as_assumed(choice)
    surety = choice.study.job.budget.surety
    sure = "" if surety is None else f" at {surety:f} % surety"
    told = _FigureWords(currency, sure, choice.study.priced, full)
    put(f"{choice.study.job.id}: {choice.study.job.what or choice.study.job.id}")
    if answer.status != "infeasible":
        put("No answer was found in the time given; run again with a longer --time-limit.")
        return
    several = len(answer.conflicts) > 1
    put("The wish cannot be met (proven)." + (" More than one thing stands in the way:" if several else ""))
    for number, conflict in enumerate(answer.conflicts, start=1):
        _show_conflict(conflict, number if several else None, shop, clash)
        ways = [way for way in answer.ways_out if way.aside and way.settles[0] == number]
        if ways:
            put(
                "  Any of these settles this one"
                + (" (its set is for the case that the others are set aside):" if full else ":")
            )
        for words in _ways_in_words(ways, told):
            put(f"  {words}")
    enough = [way for way in answer.ways_out if not way.aside]
    measuring = measuring_ways(clash, shop)
    if enough or measuring:
        put("Ways out, each solved again and true:")
    elif answer.explained and answer.conflicts and answer.conflicts[0].rules:
        put("No single change is enough.")
    for words in (*_ways_in_words(enough, told), *(f"- {way}" for way in measuring)):
        put(f"  {words}")
    limited = any(rule.kind in LIMITS for rule in choice.study.problem.rules)
    within = " within the limits" if limited else ""
    for title, compromise in (
        ("Together these changes would do, as few as can be", answer.together),
        (_excess_title(answer.whole_wish), answer.whole_wish),
        (f"The nearest to the wish that can be had{within} {NEAREST}", answer.within_limits),
        (
            f"What is required cannot all be had within the limits; the nearest without it {NEAREST}",
            answer.within_bare,
        ),
    ):
        if compromise is not None and (full or compromise in _nearest(answer)):
            put(f"{title}:")
            for words in compromise.words:
                put(f"  - {words}")
            put(f"  {_set_in_words(compromise.chosen, compromise.measure, told)}")
    _show_end(answer, full)


def _show_conflict(conflict: InfeasibleSet, number: int | None, shop: Shop, clash: ClashAsAssumed) -> None:
    """What cannot hold together, numbered where there are several, and what of it rests on what is assumed."""
    alone = len(conflict.rules) == 1
    head = "This cannot be kept, whatever else gives way:" if alone else "These cannot hold together:"
    put(head if number is None else f"{number}. {head}")
    if not conflict.rules:
        put("  - the rules of the trade by themselves: not even an empty wish can be met")
    for words in rules_in_words(conflict.rules, shop.lengths):
        put(f"  - {words}")
    for words in assumed_lines(clash.within(conflict.rules), shop.lengths):
        put(f"    {words}")
    if not conflict.proven:
        put("  (perhaps not all of these: time ran out before each had been tried)")


def _show_end(answer: ChoiceResult, full: bool) -> None:
    """What was not looked at for want of time, and how the rest is had."""
    if not answer.explained:
        put("Time ran out: more may clash than is told here, and there may be other ways out.")
        if answer.not_settled:
            put(f"  Not looked at to the end: {'; '.join(answer.not_settled)}.")
            put("  A longer --time-limit gives them more.")
    if not full:
        put("--full: the set of every way out with its cost, and the faults found")


def _nearest(answer: ChoiceResult) -> list[Compromise]:
    """The two that are told in short: what is enough, and what can be had as things are."""
    near = answer.within_limits or answer.within_bare
    return [one for one in (answer.together, near) if one is not None]


def _excess_title(of: Compromise | None) -> str:
    """What is least, said so that it can be checked: one limit to the cent, several in shares of each."""
    shares = of is not None and len(of.given_up) > 1
    return "To keep the whole wish, at the least excess" + (" (in shares of the limits)" if shares else "")


class _FigureWords(Struct, frozen=True):
    """How the figures of a set are told: in which money, at which surety, whether a price is of any concern, whether sets are told at all."""

    currency: str
    sure: str
    priced: bool
    sets: bool = True


def _set_in_words(chosen: Sequence[str], measured: Measure, told: _FigureWords) -> str:
    currency = told.currency
    price = f"price {money(measured.price, currency)}, " if told.priced else ""
    figures = (
        f"cost {money(measured.cost, currency)}, cash {money(measured.cash, currency)}, "
        f"{price}{hours(measured.minutes)}{told.sure}"
    )
    return f"with {', '.join(upgrades_in(chosen)) or 'no upgrade at all'}: {figures}"


def rules_in_words(rules: Sequence[Rule], lengths: str) -> list[str]:
    """The rules in the user's words, several refusals on one line; what does not fit with ``lengths`` as people read them."""
    refused = [rule.of for rule in rules if rule.source == Source.REFUSED]
    told = [
        lengths_as_read(rule.words, lengths) if rule.source == Source.UNFIT else rule.words
        for rule in rules
        if rule.source != Source.REFUSED or len(refused) < 2
    ]
    if len(refused) < 2:
        return told
    return [*told, f"these are refused: {', '.join(refused)}"]


def _ways_in_words(ways: Sequence[WayOut], of: _FigureWords) -> list[str]:
    """The changes in words with the set of each; those that only allow a refused upgrade under one head."""
    refused = [way for way in ways if way.rule.source == Source.REFUSED]
    if len(refused) < 2:
        refused = []
    told = []
    for way in ways:
        if way not in refused:
            others = ", ".join(str(n) for n in way.settles[1:]) if way.aside else ""
            told.append(f"- {way.words}" + (f", which settles {others} too" if others else ""))
            if of.sets:
                told.append(f"  {_set_in_words(way.chosen, way.measure, of)}")
    if refused:
        told.append(f"- allow any one of these after all: {', '.join(way.rule.of for way in refused)}")
        told += [f"  {w.rule.of}: {_set_in_words(w.chosen, w.measure, of)}" for w in refused if of.sets]
    return told
