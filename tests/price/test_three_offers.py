"""The three offers against plain search over every set, on generated wishes, weights and budgets."""

from __future__ import annotations

import random
from collections.abc import Iterable
from decimal import Decimal
from itertools import chain, combinations

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import Study, make_choice
from estimator.choose.tools import make_named_or_best
from estimator.choose.verify.choice import levels_reached, recheck, score_reached
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.model.problem import Problem, Rule, Weight
from estimator.price.client.three_offers import CustomerOffer, Offers, three_offers
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import example, the_shop
from tests.price.jobs import SOUND, client_job
from tests.shops import default_shop

WISHES = {
    "nut-function": (3,),
    "controls": (2,),
    "output-jack": (2, 3),
    "action": (2, 3),
    "fret-levelness": (3,),
    "fret-polish": (2, 3),
    "intonation": (2, 3),
}
LIMITS = ("money", "minutes")
PRICED: dict[tuple[str, ...], tuple[int, int]] = {}
"""What each set costs the customer: the drawn jobs differ in their wishes and limits, not in the work."""


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def drawn(seed: int, shop: Shop, limited: bool = True) -> Study:
    """A job with wishes, weights, demands and limits drawn by a seed; or with no limit on money or time."""
    draw = random.Random(seed)
    asked = draw.sample(sorted(WISHES), draw.randint(2, 5))
    require = ", ".join(f"{name} = {draw.choice(WISHES[name])}" for name in asked)
    weighed = draw.sample(sorted(WISHES), draw.randint(0, 4)) if draw.random() < 0.6 else []
    weights = ", ".join(f"{name} = {draw.randint(1, 30)}" for name in weighed)
    required = f'required = ["{draw.choice(("set-up", "new-strings"))}"]' if draw.random() < 0.2 else ""
    refused = f'refused = ["{draw.choice(("new-jack", "clean-controls"))}"]' if draw.random() < 0.1 else ""
    budget = draw.choice(
        (
            "",
            f"money = {draw.randint(110, 600)}",
            f"money = {draw.randint(110, 600)}",
            f"money = {draw.randint(110, 600)}",
            f'money = {draw.randint(60, 400)}\non = "cost"',
            f'money = {draw.randint(5, 60)}\non = "cash"',
            f"hours = {draw.randint(3, 24) / 4}",
            f"money = {draw.randint(150, 600)}\nhours = {draw.randint(4, 24) / 4}",
        )
    )
    budget = budget if limited else ""
    text = f"""
[job]
id = "drawn-{seed}"
kind = "commission"
[instrument]
kind = "guitar-solid"
{SOUND}
[wish]
require = {{ {require} }}
weights = {{ {weights} }}
[upgrades]
open = ["set-up", "adjust-nut", "clean-controls", "new-jack", "level-crown-polish", "new-strings"]
{required}
{refused}
[budget]
surety = 80
{budget}
"""
    return study_job(shop, job_from(parse_toml(text.encode(), "drawn.toml"), shop))


class Search:
    """Every set of a job, priced once; which of them keep what, by plain arithmetic."""

    def __init__(self, study: Study) -> None:
        problem = study.problem
        every = chain.from_iterable(combinations(problem.options, n) for n in range(len(problem.options) + 1))
        bare = replace(problem, rules=())
        self.problem = problem
        for ids in every:
            if not recheck(bare, ids) and ids not in PRICED:
                measured = study.measure(ids)
                PRICED[ids] = (measured.price or 0, measured.cost)
        self.figures = {ids: PRICED[ids] for ids in PRICED if set(ids) <= set(problem.options)}
        self.broken = {ids: self.breaches(ids) for ids in self.figures}
        self.limits = tuple(rule for rule in problem.rules if rule.kind in LIMITS)
        self.wishes = tuple(rule for rule in problem.rules if rule.kind not in LIMITS)

    def price(self, ids: tuple[str, ...]) -> int:
        return self.figures[ids][0]

    def breaches(self, ids: tuple[str, ...]) -> set[str]:
        return {one.rule for one in recheck(self.problem, ids, self.price(ids))}

    def keeping(self, rules: Iterable[Rule]) -> list[tuple[str, ...]]:
        held = {rule.id for rule in rules}
        return [ids for ids in self.figures if not held & self.broken[ids]]

    def least(self, sets: list[tuple[str, ...]]) -> tuple[int, int]:
        """The least price, and of the sets at it the least cost to the shop."""
        return min(self.figures[ids] for ids in sets)

    def scored(self, weights: tuple[Weight, ...], ids: tuple[str, ...]) -> int:
        return score_reached(replace(self.problem, weights=weights), ids)


def alike(problem: Problem) -> tuple[Weight, ...]:
    return tuple(Weight(r.attribute, 1000, r.least) for r in problem.rules if r.kind == "level" and r.least)


def not_worse(search: Search, ids: tuple[str, ...]) -> bool:
    """Whether no wish is farther from being met than it is today."""
    today, then = levels_reached(search.problem, ()), levels_reached(search.problem, ids)
    wished = [(rule.attribute, rule.least) for rule in search.wishes if rule.kind == "level" and rule.least]
    return all(then[name] >= min(least, today[name]) for name, least in wished)


def check_laws(study: Study, made: Offers) -> None:
    """What holds of all offers, whatever the job."""
    offers = made.made
    prices = [offer.quote.to_pay for offer in offers]
    assert prices == sorted(prices)
    assert len({offer.chosen for offer in offers}) == len(offers)
    names = [name for offer in offers for name in (offer.name, *offer.also)]
    assert len(set(names)) == len(names)
    if made.wished.found:
        assert {*names, *(name for name, _ in made.not_made)} >= {"lean", "as-wished"}
    for offer in offers:
        assert offer.quote.to_pay == study.measure(offer.chosen).price
        broken = recheck(study.problem, offer.chosen, offer.quote.to_pay)
        limits = [rule.id for rule in study.problem.rules if rule.kind in LIMITS]
        assert list(offer.over) == [one.words for one in broken if one.rule in limits]
        if offer.is_the("lean") or offer.is_the("within-budget"):
            assert offer.over == ()
        if offer.is_the("as-wished"):
            assert (offer.short, offer.given_up) == ((), ())


def the(made: Offers, name: str) -> CustomerOffer | None:
    return next((offer for offer in made.made if offer.is_the(name)), None)


def check_drawn(study: Study) -> str:
    """Hold the offers of one drawn job against the search; returns which are made."""
    search, made = Search(study), three_offers(study)
    check_laws(study, made)
    met, inside = search.keeping(search.wishes), search.keeping(study.problem.rules)
    wished, within, lean = (the(made, name) for name in ("as-wished", "within-budget", "lean"))
    if not met:
        assert made.made == ()
        assert made.wished.answer.status == "infeasible"
        return "none"
    assert wished is not None
    # of as wished and within budget at one price the one that gives more is made, whatever it costs the shop
    told = 1 if wished is within else 2
    assert search.figures[wished.chosen][:told] == search.least(inside or met)[:told]
    assert bool(wished.over) == (not inside)
    demands = [rule for rule in search.wishes if rule.kind != "level"]
    reach = [ids for ids in search.keeping([*demands, *search.limits]) if not_worse(search, ids)]
    weights = study.problem.weights or alike(study.problem)
    if not search.limits:
        assert within is None
    elif within is not None:
        among = inside or reach
        best = max(search.scored(weights, ids) for ids in among)
        most = [ids for ids in among if search.scored(weights, ids) == best]
        assert search.scored(weights, within.chosen) == best
        assert search.figures[within.chosen] == search.least(most)
        assert within.chosen in among
    else:
        best = max((search.scored(weights, ids) for ids in reach), default=0)
        assert not inside
        assert best <= search.scored(weights, ())
    held = within if search.limits else wished
    asked = {rule.attribute for rule in search.wishes if rule.kind == "level"}
    if held is None:
        assert lean is None
        return "+".join(offer.name for offer in made.made)
    for counted in (tuple(w for w in study.problem.weights if w.attribute in asked), alike(study.problem)):
        today = search.scored(counted, ())
        gain = search.scored(counted, held.chosen) - today
        if gain > 0:
            half = [ids for ids in reach if 2 * (search.scored(counted, ids) - today) >= gain]
            cheaper = search.least(half)[0] < min(o.quote.to_pay for o in (wished, within) if o)
            assert (lean is not None) == cheaper
            if lean is not None:
                assert lean.chosen in half
                assert search.figures[lean.chosen] == search.least(half)
                for ids in half:  # nothing is in it that could be left out
                    assert not (set(ids) < set(lean.chosen))
            break
    else:
        assert lean is None
    return "+".join(offer.name for offer in made.made)


@pytest.mark.slow
def test_offers_of_drawn_jobs_are_what_plain_search_finds(shop: Shop) -> None:
    kinds = {check_drawn(drawn(seed, shop)) for seed in range(20)}
    assert len(kinds) >= 3


@pytest.mark.slow
def test_without_limits_a_lean_offer_is_half_of_the_whole_wish(shop: Shop) -> None:
    kinds = [check_drawn(drawn(seed, shop, limited=False)) for seed in range(100, 112)]
    assert sum("lean" in kind for kind in kinds) >= 3


def test_what_costs_the_customer_least_is_chosen_not_what_costs_the_shop_least(shop: Shop) -> None:
    """Two cheap pickups cost the shop less than an hour of shielding, yet with the mark-up the customer more."""
    text = f"""
[job]
id = "hum"
kind = "commission"
[instrument]
kind = "guitar-solid"
cav_skin_cm2 = 700
{SOUND}
[wish]
require = {{ controls = 3, hum = 2 }}
[upgrades]
open = ["bridge-pickup-stack", "middle-pickup-stack", "neck-pickup-stack", "new-pots", "shield-paint"]
"""
    study = study_job(shop, job_from(parse_toml(text.encode(), "hum.toml"), shop))
    cheap, usual = make_choice(study, "cost"), make_named_or_best(study, ())
    assert cheap.answer.measure is not None
    assert usual.answer.measure is not None
    assert cheap.answer.measure.cost < usual.answer.measure.cost
    assert cheap.estimate.totals.to_pay > usual.estimate.totals.to_pay
    wished = the(three_offers(study), "as-wished")
    assert wished is not None
    assert (wished.chosen, wished.quote.to_pay) == (usual.estimate.chosen, usual.estimate.totals.to_pay)


def test_a_picked_set_stands_among_the_offers(shop: Shop) -> None:
    """It is one of them at once where it is the same set, and never left out."""
    study = study_job(shop, client_job(shop, budget="money = 200"))
    for named in (
        ("set-up",),
        ("adjust-nut", "clean-controls", "new-jack-economy"),
        ("level-crown-polish", "set-up"),
    ):
        made = three_offers(study, named)
        check_laws(study, made)
        picked = the(made, "as-picked")
        assert picked is not None
        assert picked.chosen == tuple(sorted(named))
        assert bool(picked.over) == (picked.quote.to_pay > 20_000)
        assert the(made, "as-wished") is not None
    assert the(three_offers(study), "as-picked") is None
    demanding = job_from(
        parse_toml(
            (
                f'[job]\nid = "d"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n{SOUND}\n'
                '[upgrades]\nopen = ["set-up", "clean-controls"]\nrequired = ["set-up"]\n'
            ).encode(),
            "d.toml",
        ),
        shop,
    )
    without = the(three_offers(study_job(shop, demanding), ("clean-controls",)), "as-picked")
    assert without is not None
    assert [words.split(":")[0] for words in without.given_up] == ["set-up is required"]


def test_a_wish_beyond_every_set_makes_no_offers(shop: Shop) -> None:
    job = client_job(shop, budget="money = 200")
    # no nut that is open to choice reaches level 4
    wishes = tuple(
        replace(w, level=Decimal(4)) if w.attribute == "nut-function" else w for w in job.requirements
    )
    made = three_offers(study_job(shop, replace(job, requirements=wishes)))
    assert (made.made, made.resting()) == ((), None)
    assert [name for name, _ in made.not_made] == ["as-wished"]
    assert made.wished.answer.conflicts


HURRY = """[job]
id = "hurry"
kind = "commission"
received = 2026-10-05
wanted_by = 2026-10-06
[instrument]
kind = "guitar-solid"
[upgrades]
required = ["refinish-spray"]
[budget]
money = 900
"""


@pytest.mark.slow
def test_where_no_offer_can_be_made_the_reasons_are_those_of_the_choice(shop: Shop) -> None:
    """Money is set aside for the offer as wished, but not for telling why there is none."""
    study = study_job(shop, job_from(parse_toml(HURRY.encode(), "hurry.toml"), shop))
    made = three_offers(study)
    assert not made.made
    told = [[rule.words for rule in conflict.rules] for conflict in made.wished.answer.conflicts]
    chosen = make_choice(study, "price,cost").answer.conflicts
    assert told == [[rule.words for rule in conflict.rules] for conflict in chosen]
    assert any("price at most 900.00 USD" in words for words in told)
    assert any(": 1 day after it came in" in text for words in told for text in words)


@pytest.mark.slow
def test_what_is_required_beyond_the_money_is_no_wish_of_which_nothing_can_be_had(shop: Shop) -> None:
    text = HURRY.replace("wanted_by = 2026-10-06\n", "")
    made = three_offers(study_job(shop, job_from(parse_toml(text.encode(), "hurry.toml"), shop)))
    assert [offer.name for offer in made.made] == ["as-wished"]
    assert dict(made.not_made)["within-budget"] == "what is required cannot all be had within the limits"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tight-commission", "school-guitar"])
@pytest.mark.parametrize("money", ["60", "150"])
def test_what_is_beyond_the_limit_costs_what_it_costs_without_one(name: str, money: str) -> None:
    """Where no set keeps the limit the whole wish is still offered at the least: its work done the best ways."""
    shop = the_shop()
    job = example(name)
    free = replace(job, budget=replace(job.budget, money=None, minutes=None))
    held = replace(job, budget=replace(job.budget, money=Decimal(money), minutes=None))
    of = {}
    for told, one in (("free", free), ("held", held)):
        offers = three_offers(study_job(shop, one, ways_open=True))
        of[told] = next(offer for offer in offers.made if offer.is_the("as-wished"))
    assert of["held"].over
    assert not of["free"].over
    assert of["held"].quote.to_pay == of["free"].quote.to_pay
    assert of["held"].quote.earned == of["free"].quote.earned
