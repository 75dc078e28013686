"""The short form of an offer for a donor and of a sale: the verdict, the money, what to look at first."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.questions.measure_first import measure_first
from estimator.choose.study import Study
from estimator.core.text import time_text
from estimator.price.donor.offer import DonorOffer
from estimator.price.resale.asking_price import asking_prices, best_sale
from estimator.price.resale.compare import Proceeds, SalePlan
from estimator.report.text.brief import first_lines, more
from estimator.report.text.resale import standing_lines
from estimator.report.text.terminal import money, put
from estimator.report.words import resale as words
from estimator.report.words.cautions import first_caution


def show_offer(study: Study, made: DonorOffer, other: DonorOffer | None) -> None:
    """Whether to buy, for how much at most, how sure, what to do with it, what to look at first."""
    put(*words.verdict_lines(made, study.shop, other))
    put(f"Plan: {words.plan_words(made.plan)}; time {time_text(made.plan.minutes)}.")
    put(*_base_lines(made.plan))
    lost, missed = made.odds.loss * 100, made.odds.below_pay * 100
    put(
        f"Of 100 such deals at {money(made.odds.paid, study.shop.terms.currency)} {lost:.0f} lose money and "
        f"{missed:.0f} miss the wanted pay."
    )
    put(*standing_lines(study, made.plan.chosen))
    put(*words.look_first(made, study.shop))
    put(words.NO_ADVICE)
    more("the sum behind it, every check, how the odds spread")


def show_sale(study: Study, plans: Sequence[SalePlan], ways: Sequence[Proceeds]) -> None:
    """Whether it pays, the best plan, what to ask."""
    shop = study.shop
    currency = shop.terms.currency
    best = best_sale(plans, ways)
    of = best.proceeds
    put(words.sale_verdict(best, shop, (*(plan.proceeds for plan in plans), *ways)))
    put(f"Plan: {words.plan_words(of)}; time {time_text(of.minutes)}.")
    put(*_base_lines(of), *words.not_told(study.job))
    if prices := asking_prices(study, of):
        asked = ", ".join(f"{money(a.price, currency)} {a.what} ({words.days_words(a.days)})" for a in prices)
        put(f"Ask {asked}.")
    put(*standing_lines(study, of.chosen))
    put(*first_lines(study, measure_first(study, of.chosen)))
    put(*first_caution(study.shop, [study.costing.estimate(of.chosen)]))
    more("the plans side by side, how the best comes about, every way to sell, the box")


def _base_lines(of: Proceeds) -> list[str]:
    """That nobody looked what such instruments bring here, where nobody did: all of it rests on that."""
    said = "What such instruments bring is the middle of their class: look for three recent sales first."
    return [said] if of.base_assumed else []
