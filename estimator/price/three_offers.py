"""Three offers for one customer, each made by the optimiser: lean, as wished, the best within the budget."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from estimator.choose.problem import Problem, Rule, Weight
from estimator.errors import InputError, Issue, Origin
from estimator.pipeline import Choice, Study, make_choice
from estimator.price.quote import Quote, quote_for
from estimator.recheck import levels_reached

STEP = 10
"""A lean offer asks for one level less of everything; levels are tenths."""


@dataclass(frozen=True, slots=True)
class CustomerOffer:
    """One offer: its name, a sentence, the choice, and its quote (None where no set is found).

    ``short`` names the wishes it does not meet: (attribute, level reached, level wished), in tenths.
    """

    name: str
    words: str
    choice: Choice
    quote: Quote | None
    short: tuple[tuple[str, int, int], ...]


def three_offers(
    study: Study, engine: str | None = None, time_limit: float | None = None
) -> tuple[CustomerOffer, ...]:
    """Lean, as wished, and (where money or hours are limited) the best within the limits.

    - *lean*: least price with every level wish lowered by one level, not below what is there today;
    - *as wished*: least price that meets every wish, whatever the limits on money and hours;
    - *best within the budget*: inside the limits every wish and the most beyond, by the weights; where
      the wishes do not all go in, the most of them. Among the sets that reach as much, the least price.

    What is required or refused holds in all three. InputError for jobs that are not for a customer.
    """
    if study.job.kind != "commission":
        raise InputError(
            Issue(Origin(study.job.file, None, "[job] kind"), "offers are made for client work",
                  f"“{study.job.kind}”", 'kind = "commission"')
        )  # fmt: skip
    rules = study.problem.rules
    limits = tuple(rule for rule in rules if rule.kind in ("money", "minutes"))
    wishes = tuple(rule for rule in rules if rule.kind not in ("money", "minutes"))
    today = levels_reached(study.problem, ())
    lowered = tuple(_lower(rule, today) for rule in wishes)
    offers = [
        _offer(study, "lean", "one level less of everything, for the least money", lowered, "price", engine, time_limit),
        _offer(study, "as-wished", "everything that was wished, whatever it takes", wishes, "price", engine, time_limit),
    ]  # fmt: skip
    if limits:
        words = "every wish, and the most beyond it that the limits allow"
        best = _offer(
            study, "within-budget", words, (*wishes, *limits), "score,price", engine, time_limit, True
        )
        if best.quote is None:
            words = "the most of the wish that the limits allow"
            best = _offer(
                study, "within-budget", words, (*wishes, *limits), "score,price", engine, time_limit
            )
        offers.append(best)
    return tuple(offers)


def _lower(rule: Rule, today: dict[str, int]) -> Rule:
    if rule.kind != "level" or rule.least is None:
        return rule
    return replace(rule, least=max(min(rule.least, today.get(rule.attribute, 0)), rule.least - STEP))


def _offer(
    study: Study, name: str, words: str, rules: tuple[Rule, ...], aim: str,
    engine: str | None, time_limit: float | None, hold_wishes: bool = False,
) -> CustomerOffer:  # fmt: skip
    problem = replace(study.problem, rules=rules, weights=wish_weights(study))
    choice = make_choice(
        replace(study, problem=problem),
        aim,
        engine,
        time_limit,
        explain=not hold_wishes,
        hold_wishes=hold_wishes,
    )
    quote = quote_for(study, choice.answer.chosen) if choice.found else None
    return CustomerOffer(name, words, choice, quote, _short(study, choice))


def wish_weights(study: Study) -> tuple[Weight, ...]:
    """How much each wish counts: the job's weights, else those of its profile, else all alike."""
    problem: Problem = study.problem
    if problem.weights:
        return problem.weights
    profile = study.shop.profiles.get(study.job.profile, {})
    weights = []
    for rule in problem.rules:
        if rule.kind != "level" or not rule.least:
            continue
        row = profile.get(rule.attribute)
        own = study.job.weights.get(
            rule.attribute, row.weight if row is not None and row.weight else Decimal(1)
        )
        weights.append(Weight(rule.attribute, int(own * 1000), rule.least))
    return tuple(weights)


def _short(study: Study, choice: Choice) -> tuple[tuple[str, int, int], ...]:
    if not choice.found:
        return ()
    reached = levels_reached(study.problem, choice.answer.chosen)
    return tuple(
        (rule.attribute, reached[rule.attribute], rule.least)
        for rule in study.problem.rules
        if rule.kind == "level" and rule.least is not None and reached[rule.attribute] < rule.least
    )
