"""The offers for one customer, each made by the optimiser: lean, as wished, the best within the budget.

The only place that says what they are; ``price``, ``quote`` and the workbook show what is made here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import misses
from estimator.choose.kept import is_kept, without
from estimator.choose.milp.earning import usual_aim
from estimator.choose.solvers.backends import INFEASIBLE
from estimator.choose.study import (
    Choice,
    Study,
    make_choice,
    make_choice_of,
    spec_rows,
    within_limits,
)
from estimator.choose.tools import beside_limits, settled_with_tools, used_of
from estimator.choose.verify.choice import Breach, amounts_reached, levels_reached, score_reached
from estimator.core.amounts import Tenths
from estimator.core.errors import Origin, refusal
from estimator.estimate.tools.to_get import NO_TOOLS, ToolsGot
from estimator.model.problem import SPENT, Problem, Rule, Weight
from estimator.price.client.quote import Quote, quote_for

PICKED, WISHED, WITHIN, LEAN = "as-picked", "as-wished", "within-budget", "lean"
LATE = "no answer was found in the time given"
WISHES = ("level", "amount")
LEAST = usual_aim(billed=True)
"""Of sets at the same price, which rises by the quarter hour, the one that costs the shop least."""


class CustomerOffer(Struct, frozen=True):
    """One offer: its name, a sentence, the choice, its quote, and ``also``, the offers it is at once.

    ``short`` names the wishes it does not meet: (attribute, level reached, level wished), in tenths;
    ``given_up`` the limits on amounts, and what is required or refused, that it does not keep,
    ``over`` the limits on money and time, in words. ``only_by``: what it changes for good without a wish
    for it, as nothing else would do.
    """

    name: str
    words: str
    choice: Choice
    quote: Quote
    short: tuple[tuple[str, int, int], ...]
    given_up: tuple[str, ...]
    over: tuple[str, ...]
    also: tuple[str, ...] = ()
    only_by: str = ""

    @property
    def chosen(self) -> tuple[str, ...]:
        """The upgrades of this offer."""
        return self.quote.chosen

    @property
    def apart(self) -> bool:
        """Whether it leaves something out of what the job asks: of the wish or of the limits."""
        return bool(self.short or self.given_up or self.over)

    def is_the(self, name: str) -> bool:
        """Whether this is the offer of a name."""
        return name == self.name or name in self.also


class Offers(Struct, frozen=True):
    """The offers that can be made, the cheapest first, and why there are no others.

    ``wished`` is the choice for the whole wish, found or not; ``not_made`` tells offer and reason. ``tools``: what
    is got of the tools that are not there, for all of them.
    """

    made: tuple[CustomerOffer, ...]
    wished: Choice
    not_made: tuple[tuple[str, str], ...]
    tools: ToolsGot = NO_TOOLS

    def resting(self) -> CustomerOffer | None:
        """What a quote rests on: the wish where it keeps the limits, else the limits, else the wish."""
        wished, within = (next((o for o in self.made if o.is_the(name)), None) for name in (WISHED, WITHIN))
        return wished if wished is not None and not wished.over else within or wished


def three_offers(study: Study, named: Collection[str] = ()) -> Offers:
    """The offers for a job, in order of what the customer pays; never two of the same set.

    - *as wished*: the least price that meets every wish: inside the limits on money and time if it can be,
      else whatever they are, and then it says what it exceeds;
    - *within budget* (where there are such limits): inside them every wish and the most beyond, by the
      weights of the job; where the wishes do not all go in, the most of them. Of the sets that reach as
      much the one with the least price;
    - *lean*: inside the limits the least price that brings at least half of what the best offer inside
      them brings of the wish over today. Only what was wished for counts, up to what was wished; no wish
      gets worse. As the price is least, nothing is in it that serves no wish. It is made where it is
      cheaper than the others;
    - *as picked*: the upgrades that were ``named``, if any.

    What is required or refused holds in all but the last. Of as wished and within budget at one price the
    one that gives more is made. A wish that nothing can meet, whatever the limits, is no ground for offers:
    then there are none besides as picked. InputError for jobs that are not for a customer.
    """
    if study.job.kind != "commission":
        raise refusal(
            Origin(study.job.file, None, "[job] kind"),
            "offers are made for client work",
            f"“{study.job.kind}”",
            'kind = "commission"',
        )
    # all of them are worked the same ways with the same tools, so that what one costs more than another is what it
    # gives more
    first = _ways_of_all(study, named)
    if first is not None:
        study = first.study
    maker = _Maker(study, NO_TOOLS if first is None else first.tools)
    wished, offered = maker.as_wished(), _Offered(maker)
    if named:
        picked = maker.offer(PICKED, "the upgrades that were named", make_choice_of(study, named))
        offered.made.append(picked)
    if wished.answer.status == INFEASIBLE:
        offered.not_made.append((WISHED, "the wish cannot be met, whatever the limits"))
        if maker.limits:
            # told is why the job as it stands has no answer, its limits among the reasons
            wished = maker.choose(maker.problem.rules, LEAST, explain=True)
        return offered.beside(wished)
    offered.add_wished(wished)
    offered.add_lean(offered.add_within_budget() if maker.limits else wished if wished.found else None)
    return offered.beside(wished)


def _ways_of_all(study: Study, named: Collection[str]) -> Choice | None:
    """The choice whose ways and tools all offers share; where none keeps the limits, that of the wish beside them.

    Of a job without an answer no set says how its work is best done, and the usual ways may cost more than the
    wish has to.
    """
    first = settled_with_tools(study, named)
    if first is None or first.found:
        return first
    budget = study.job.budget
    freed = within_limits(study, replace(budget, money=None, minutes=None))
    spent = tuple(rule for rule in freed.frame.rules if rule.kind in SPENT)
    rules = tuple(rule for rule in freed.frame.rules if rule not in spent)
    whole = settled_with_tools(replace(freed, frame=replace(freed.frame, rules=rules)), named)
    if whole is None or not whole.found:
        return first
    whole = beside_limits(whole, budget)
    frame = whole.study.frame
    return replace(whole, study=replace(whole.study, frame=replace(frame, rules=(*frame.rules, *spent))))


class _Offered:
    """The offers made so far for one customer, and why others are not."""

    def __init__(self, maker: _Maker) -> None:
        self.maker = maker
        self.made: list[CustomerOffer] = []
        self.not_made: list[tuple[str, str]] = []

    def join(self, offer: CustomerOffer) -> None:
        """Add an offer; one of the same set takes its name besides its own."""
        for at, other in enumerate(self.made):
            if other.chosen == offer.chosen:
                self.made[at] = replace(other, also=(*other.also, offer.name, *offer.also))
                return
        self.made.append(offer)

    def add_wished(self, wished: Choice) -> None:
        """The offer of everything that was wished."""
        if wished.found:
            words = "everything that was wished, for the least money"
            self.join(self.maker.offer(WISHED, words, wished))
        else:
            self.not_made.append((WISHED, LATE))

    def add_within_budget(self) -> Choice | None:
        """The offer inside the limits; it takes the place of the wish where that costs as much."""
        maker, within = self.maker, self.maker.within_budget()
        if within is None:
            demanded = any(rule.kind == "required" for rule in maker.wishes)
            why = "what is required cannot all be had" if demanded else "nothing of the wish can be had"
            self.not_made.append((WITHIN, LATE if maker.late else f"{why} within the limits"))
            return None
        pay = within.quote.to_pay
        twin = next((o for o in self.made if o.name == WISHED and o.quote.to_pay == pay), None)
        if twin is not None and twin.chosen != within.chosen:
            self.made.remove(twin)
            within = replace(within, also=(WISHED, *twin.also))
        self.join(within)
        return within.choice

    def add_lean(self, measured_by: Choice | None) -> None:
        """The lean offer, where it is cheaper than the others."""
        others = [o.quote.to_pay for o in self.made if o.is_the(WISHED) or o.is_the(WITHIN)]
        lean = self.maker.lean(measured_by)
        if lean is not None and lean.quote.to_pay < min(others):
            self.join(lean)
        else:
            why = "no cheaper set brings half of what can be had of the wish within the limits"
            self.not_made.append((LEAN, LATE if self.maker.late else why))

    def beside(self, wished: Choice) -> Offers:
        """All of it beside the choice for the whole wish, the cheapest offer first."""
        made = sorted(self.made, key=lambda o: (o.quote.to_pay, o.chosen))
        return Offers(tuple(made), wished, tuple(self.not_made), self.maker.tools)


class _Maker:
    """Makes the offers of one study."""

    def __init__(self, study: Study, tools: ToolsGot) -> None:
        self.study, self.late = study, False
        self.tools = tools
        problem = replace(study.problem, weights=wish_weights(study))
        self.problem = problem
        self.limits = tuple(rule for rule in problem.rules if rule.kind in SPENT)
        self.wishes = tuple(rule for rule in problem.rules if rule.kind not in SPENT)
        levels, amounts = levels_reached(problem, ()), amounts_reached(problem, ())
        self.no_worse = tuple(_no_worse(self.wishes, levels, amounts))

    def choose(
        self,
        rules: tuple[Rule, ...],
        aim: str,
        explain: bool = False,
        least_score: int | None = None,
        weights: tuple[Weight, ...] | None = None,
    ) -> Choice:
        """The best set under some rules only, scored by some weights only, that reaches a least score."""
        weights = self.problem.weights if weights is None else weights
        problem = replace(self.problem, rules=rules, weights=weights, least_score=least_score)
        ours = replace(self.study, frame=problem)
        choice = make_choice(ours, aim, explain=explain, hold_wishes=True)
        self.late |= not choice.found and choice.answer.status != INFEASIBLE
        return choice

    def offer(self, name: str, words: str, choice: Choice) -> CustomerOffer:
        """What a found set is to the customer, held against all that the job asks."""
        study = self.study
        problem, chosen = without(study.problem, choice.answer.changed), choice.estimate.chosen
        # the set is one thing, what was asked of it to find it another: the offer is told by the whole job
        tools = used_of(self.tools, choice.estimate)
        choice = replace(choice, study=study, spec=spec_rows(study, chosen), tools=tools)
        reached = levels_reached(problem, chosen)
        told = misses(problem, chosen, study.measure(chosen))
        # a set that was named by hand may change what it likes
        kept = {rule.id for rule in problem.rules if is_kept(rule)}
        missed = [one for one in told if one.rule not in kept]
        return CustomerOffer(
            name,
            words,
            choice,
            quote_for(study, chosen),
            tuple(
                (rule.attribute, reached[rule.attribute], rule.least)
                for rule in problem.rules
                if rule.kind == "level" and rule.least is not None and reached[rule.attribute] < rule.least
            ),
            tuple(_missed(problem.rules, missed, ("amount", "required", "refused"))),
            tuple(_missed(problem.rules, missed, SPENT)),
            only_by=choice.only_by,
        )

    def as_wished(self) -> Choice:
        """The least price that meets every wish, beyond the limits only where nothing inside them does."""
        if self.limits:
            choice = self.choose((*self.wishes, *self.limits), LEAST)
            if choice.answer.status != INFEASIBLE:
                return choice
        # with limits, what is told of a wish out of reach is why the whole job has no answer
        return self.choose(self.wishes, LEAST, explain=not self.limits)

    def within_budget(self) -> CustomerOffer | None:
        """The best inside the limits; None where no set keeps them, or only one that does nothing."""
        aim = f"score,{LEAST}"
        choice = self.choose((*self.wishes, *self.limits), aim)
        if choice.found:
            return self.offer(WITHIN, "every wish, and the most beyond it that the limits allow", choice)
        demands = tuple(rule for rule in self.wishes if rule.kind not in WISHES)
        for rules in (self.no_worse, demands):
            choice = self.choose((*rules, *self.limits), aim)
            if choice.found:
                words = "the most of the wish that the limits allow, each part by its weight"
                return self.offer(WITHIN, words, choice) if choice.estimate.chosen else None
        return None

    def lean(self, measured_by: Choice | None) -> CustomerOffer | None:
        """The least price for half of what a choice brings; None where nothing counts or no set does."""
        if measured_by is None:
            return None
        for weights in lean_weights(self.problem):
            problem = replace(self.problem, weights=weights)
            today = score_reached(problem, ())
            gain = score_reached(problem, measured_by.estimate.chosen) - today
            if gain > 0:
                least = today + (gain + 1) // 2
                rules = (*self.no_worse, *self.limits)
                choice = self.choose(rules, LEAST, least_score=least, weights=weights)
                words = "at least half of the wish that can be had, for the least money"
                return self.offer(LEAN, words, choice) if choice.found else None
        return None


def _no_worse(
    wishes: Iterable[Rule], levels: Mapping[str, Tenths], amounts: Mapping[str, int]
) -> Iterable[Rule]:
    """What is required and refused, and that no wish ends farther off than it is today."""
    for rule in wishes:
        if rule.kind == "level" and rule.least is not None:
            yield replace(rule, least=min(rule.least, levels[rule.attribute]))
        elif rule.kind == "amount":
            now = amounts[rule.attribute]
            least = None if rule.least is None else min(rule.least, now)
            yield replace(rule, least=least, most=None if rule.most is None else max(rule.most, now))
        else:
            yield rule


def _missed(rules: Iterable[Rule], breaches: Sequence[Breach], kinds: Collection[str]) -> Iterable[str]:
    """What a set breaks of some kinds of rules, in words."""
    for rule in rules:
        if rule.kind in kinds:
            yield from (one.words for one in breaches if one.rule == rule.id)


def wish_weights(study: Study) -> tuple[Weight, ...]:
    """How much each attribute counts within the budget: by the job's weights, else every wish alike.

    Nothing counts that the profile asks for and the customer does not mind (``"any"``), unless the job
    gives it a weight of its own.
    """
    problem, profile = study.problem, study.shop.profiles.get(study.job.profile, {})
    asked = {requirement.attribute for requirement in study.job.requirements}
    weights = tuple(
        item
        for item in problem.weights
        if item.attribute in asked
        or (row := profile.get(item.attribute)) is None
        or row.minimum is None
        or row.weight != study.job.weights.get(item.attribute)
    )
    return weights or _alike(problem)


def lean_weights(problem: Problem) -> Iterable[tuple[Weight, ...]]:
    """How much each wish counts in a lean offer, the first that tells sets apart.

    The wishes by their weights; else all alike, where those that are left to meet have no weight; the
    other weights of the job only where it demands nothing.
    """
    asked = {rule.attribute for rule in problem.rules if rule.kind in WISHES}
    yield tuple(item for item in problem.weights if item.attribute in asked)
    yield _alike(problem)
    if not asked:
        yield problem.weights


def _alike(problem: Problem) -> tuple[Weight, ...]:
    return tuple(
        Weight(rule.attribute, 1000, Tenths(rule.least))
        for rule in problem.rules
        if rule.kind == "level" and rule.least
    )
