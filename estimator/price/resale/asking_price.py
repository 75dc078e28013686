"""What to ask for an instrument that is sold: quicker for less, or more with patience and price cuts."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.money import half_up
from estimator.estimate.sale_terms import rule
from estimator.estimate.uplift import share_left
from estimator.model import Shop
from estimator.price.resale.compare import Proceeds, SalePlan, need_sale, with_way

AT_ONCE = 3
"""Days below which a sale is one to a dealer, who names the price."""


class Asking(Struct, frozen=True):
    """A price to ask, the days it takes to sell at it, and the profit it leaves; cents."""

    id: str
    what: str
    price: Cents
    days: Decimal
    profit: Cents


def best_whole(plans: Sequence[SalePlan]) -> SalePlan:
    """The plan that leaves most of those that sell the instrument in one piece."""
    return max((plan for plan in plans if plan.proceeds.whole), key=lambda plan: plan.proceeds.profit)


def best_sale(plans: Sequence[SalePlan], ways: Sequence[Proceeds]) -> SalePlan:
    """The plan that leaves most, sold by the way that leaves most.

    ``ways`` are those of ``best_whole``; taking it apart is best where it leaves more than any of them.
    """
    best = max(plans, key=lambda plan: plan.proceeds.profit)
    if not best.proceeds.whole:
        if max((of.profit for of in ways), default=best.proceeds.profit) <= best.proceeds.profit:
            return best
        best = best_whole(plans)
    sold = max((best.proceeds, *ways), key=lambda proceeds: proceeds.profit)
    if sold.way == best.proceeds.way:
        return best
    # no work and another way: the plan of cleaning, by its name as by its words
    plan = best if sold.chosen else plans[0]
    return replace(plan, words=f"{plan.words}; {sold.way_what}", proceeds=sold)


def asking_prices(study: Study, of: Proceeds) -> tuple[Asking, ...]:
    """The sale at the fair price, below it to sell quickly, and above it with patience.

    Days and prices are shares of the fair ones; all else of the sale stays as it is. A dealer who takes it
    at once is asked nothing, and lots have each a price of their own: there are no prices then.
    """
    if of.days < AT_ONCE or not of.whole:
        return ()
    sale, shop = need_sale(with_way(study, of.way)), study.shop
    found = [Asking("fair", "the fair price", of.price, of.days, of.profit)]
    for name, what in (("quick", "to sell quickly"), ("patient", "to wait for its buyer")):
        price = Cents(half_up(of.price * Fraction(rule(shop, f"{name}-price"))))
        more = share_left(price, sale.fee_basis_points) - (of.price - of.fees_by_share)
        days = of.days * rule(shop, f"{name}-days")
        found.append(Asking(name, what, price, days, of.profit + more))
    return tuple(sorted(found, key=lambda asking: asking.price))


def price_cuts(shop: Shop, first: Cents, last: Cents) -> tuple[tuple[int, Cents], ...]:
    """(day, price) of a price that is cut by a fixed share every so many days, down to ``last`` cents."""
    share, every = Fraction(1 - rule(shop, "cut-share")), int(rule(shop, "cut-days"))
    steps = [(0, first)]
    while steps[-1][1] > last and share < 1:
        day, price = steps[-1]
        steps.append((day + every, max(last, Cents(min(price - 1, half_up(price * share))))))
    return tuple(steps)
