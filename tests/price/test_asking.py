"""What to ask, how to come down, what is said first; and that every single number of the trade is used."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.model import Shop, TradeRule
from estimator.price.donor.offer import make_offer
from estimator.price.resale.asking_price import asking_prices, best_sale, best_whole, price_cuts
from estimator.price.resale.compare import parcel_of, proceeds, resale_plans, ways_to_sell
from estimator.price.resale.part_out import part_out
from estimator.report.text.terminal import money
from estimator.report.words.resale import (
    asking_sentences,
    check_words,
    look_first,
    offer_sentences,
    proceeds_sentences,
    sale_verdict,
)
from tests.price.jobs import SOUND, resale_job
from tests.shops import default_shop

FEW = ("set-up", "clean-controls", "new-jack")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def test_asking_less_sells_sooner_and_leaves_less(shop: Shop) -> None:
    """By hand, sold on a marketplace: 10.19 % of the price goes as fees and returns, the rest stays."""
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale='way = "marketplace"'))
    plan = proceeds(study, ())
    quick, fair, patient = asking_prices(study, plan)
    assert [a.id for a in (quick, fair, patient)] == ["quick", "fair", "patient"]
    assert (fair.price, fair.profit) == (plan.price, plan.profit)
    assert quick.price == round(plan.price * 0.9)
    assert (quick.days, patient.days) == (plan.days * Decimal("0.6"), plan.days * Decimal("1.8"))
    assert fair.profit - quick.profit == pytest.approx((fair.price - quick.price) * 0.8981, abs=1)
    assert patient.profit - fair.profit == pytest.approx((patient.price - fair.price) * 0.8981, abs=1)
    said = asking_sentences((quick, fair, patient), price_cuts(shop, patient.price, quick.price), shop)
    assert len(said) == 4


def test_a_price_comes_down_five_per_cent_every_fortnight(shop: Shop) -> None:
    assert price_cuts(shop, 10_000, 9_000) == ((0, 10_000), (14, 9_500), (28, 9_025), (42, 9_000))
    assert price_cuts(shop, 9_000, 9_000) == ((0, 9_000),)
    assert price_cuts(shop, 9, 7) == ((0, 9), (14, 8), (28, 7))  # a cent at least, or it would never end


@pytest.mark.parametrize(
    ("ask", "first"),
    [
        (1, "Worth it when 1.00 USD"),
        (160, "It does not pay 35.00 USD an hour"),
        (900, "Do not do it when 900.00 USD"),
    ],
)
def test_the_verdict_of_a_sale_comes_first(shop: Shop, ask: int, first: str) -> None:
    plans = resale_plans(study_job(shop, resale_job(shop, ask=ask, open_=FEW, more=SOUND)))
    best = max(plans, key=lambda plan: plan.proceeds.profit)
    assert sale_verdict(best, shop).startswith(first)


@pytest.mark.parametrize("ask", [1, 60, 90, 120, 160, 220, 300, 900])
def test_no_verdict_says_that_all_lose_cash_where_one_does_not(shop: Shop, ask: int) -> None:
    study = study_job(shop, resale_job(shop, ask=ask, open_=FEW, more=SOUND))
    plans = resale_plans(study)
    ways = ways_to_sell(study, best_whole(plans).proceeds.chosen)
    every = (*(plan.proceeds for plan in plans), *ways)
    said = sale_verdict(best_sale(plans, ways), shop, every)
    most = max(one.cash_left for one in every)
    assert said.startswith("Do not do it") == (most < 0)
    if best_sale(plans, ways).proceeds.cash_left < 0:
        assert money(abs(most), shop.terms.currency) in said


def test_what_to_look_at_first_is_told_only_where_it_could_change_the_answer(shop: Shop) -> None:
    for condition in ("needs-repair", "needs-set-up", "clean-working"):
        for ask in (20, 90, 400):
            job = resale_job(shop, ask=ask, open_=FEW, condition=condition)
            offer = make_offer(study_job(shop, job), "photos")
            moves = [move for move in offer.checks if move.moves > 0]
            (said,) = look_first(offer, shop)
            helps = offer.stop > 0 or any(move.after_good > 0 for move in moves)
            assert said.startswith("Look first: " if helps else "No single check")


def test_a_check_says_both_results_and_when_to_walk_away(shop: Shop) -> None:
    offer = make_offer(study_job(shop, resale_job(shop, open_=FEW, condition="needs-set-up")), "photos")
    said = {move.check.id: check_words(move, shop) for move in offer.checks}
    assert "walk away: bridge tearing out" in said["screws"]
    assert "walk away" not in said["tuners"]
    assert "; else, for a set of tuners, " in said["tuners"]
    worst = min(offer.checks, key=lambda move: move.after_bad or 0)
    assert worst.after_bad is not None
    assert ("do not buy" in check_words(worst, shop)) == (worst.after_bad <= 0)
    assert any(said["frets"] in line for line in offer_sentences(offer, shop))


def test_a_wreck_is_refused_in_plain_words_and_sold_by_the_best_way(shop: Shop) -> None:
    job = resale_job(shop, "B", 180, 40, "needs-repair", open_=FEW, resale='way = "marketplace"')
    study = study_job(shop, job)
    said = offer_sentences(make_offer(study, "photos"), shop)
    assert said[0].startswith(
        "Do not buy: at 35.00 USD an hour it is worth nothing to you, not even for free"
    )
    assert "no single check would make it worth buying, however good the result" in said
    plans = resale_plans(study)
    ways = ways_to_sell(study, best_whole(plans).proceeds.chosen)
    best = best_sale(plans, ways)
    assert best.proceeds.profit == max(p.profit for p in (*(plan.proceeds for plan in plans), *ways))
    assert best.proceeds.way_what in best.words
    dealer = proceeds(study, (), "dealer")
    assert asking_prices(study, dealer) == ()


def test_taking_it_apart_is_best_only_where_it_leaves_more_than_every_way(shop: Shop) -> None:
    rules = dict(shop.resale.rules)
    rules["part-out-high"] = replace(rules["part-out-high"], value=Decimal(4))
    own = replace(shop, resale=replace(shop.resale, rules=rules))
    for the_shop, apart in ((shop, False), (own, True)):
        study = study_job(the_shop, resale_job(the_shop, "C", 400, 40, "needs-repair", open_=FEW))
        plans = resale_plans(study)
        ways = ways_to_sell(study, best_whole(plans).proceeds.chosen)
        best = best_sale(plans, ways)
        assert (best.name == "part-out") == apart
        assert best.proceeds.profit == max(p.profit for p in (*(plan.proceeds for plan in plans), *ways))
        assert bool(asking_prices(study, best.proceeds)) != apart
        said = proceeds_sentences(best.proceeds, the_shop)
        assert any("its lots together bring" in line for line in said) == apart
        assert any(f"{best.proceeds.profit / 100:.2f} USD" in line for line in said)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_the_best_plan_is_named_as_it_is_worded(shop: Shop, seed: int) -> None:
    """Whichever plan leaves most, by whichever way: the name is that of the plan whose words are told."""
    chance = random.Random(seed)
    study = study_job(shop, resale_job(shop, "B", 180, 40, "needs-repair", open_=FEW))
    idle = tuple(plan for plan in resale_plans(study) if not plan.proceeds.chosen and plan.proceeds.whole)
    names = {plan.words: plan.name for plan in idle}
    assert {"clean-and-sell", "as-is"} <= set(names.values())
    moved = 0
    for _ in range(200):
        plans = [replace(p, proceeds=replace(p.proceeds, profit=chance.randint(-9000, 0))) for p in idle]
        ways = [replace(w, profit=chance.randint(-9000, 500)) for w in ways_to_sell(study, ())]
        best = best_sale(plans, ways)
        words = next(each for each in names if best.words.startswith(each))
        assert best.name == names[words]
        moved += best.name == "clean-and-sell" and max(plans, key=lambda p: p.proceeds.profit).name == "as-is"
    assert moved


class Read(Mapping[str, TradeRule]):
    """The rules, remembering which were asked for."""

    def __init__(self, rules: Mapping[str, TradeRule]) -> None:
        self.rules, self.asked = rules, set[str]()

    def __getitem__(self, name: str) -> TradeRule:
        self.asked.add(name)
        return self.rules[name]

    def __contains__(self, name: object) -> bool:
        return name in self.rules

    def __iter__(self) -> Iterator[str]:
        return iter(self.rules)

    def __len__(self) -> int:
        return len(self.rules)


def test_every_row_of_trade_rules_is_read_by_something(shop: Shop) -> None:
    rules = Read(shop.resale.rules)
    watched = replace(shop, resale=replace(shop.resale, rules=rules))
    for condition, known in (("needs-repair", "true"), ("project", "false")):
        more = f"sales_known = {known}"
        study = study_job(watched, resale_job(shop, open_=FEW, condition=condition, resale=more))
        offer = make_offer(study)
        prices = asking_prices(study, offer.plan)
        price_cuts(watched, prices[-1].price, prices[0].price)
        part_out(study)
        parcel_of(study)
    assert set(rules) - rules.asked == set()
