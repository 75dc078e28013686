"""How sure a given price is: of a hundred such jobs, how many stay within the hours that it pays for.

The price of a set rises with its quoted hours by the billing unit; the most hours whose price does not go
beyond the given one are what it pays for. The surety is then the closed form's, under a half as well.
"""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct

from estimator.choose.study import Study, make_estimate
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import Origin, refusal
from estimator.estimate.costing import Costing
from estimator.estimate.risk.moments import ClosedForm
from estimator.model import Money, Totals

#: hundredths of a minute beyond which no job is priced
LONGEST = 1 << 34


class GivenPrice(Struct, frozen=True):
    """A price that was named, tax included, against the work. Cents; minutes in hundredths; per cent.

    ``paid_minutes``: hands-on time it pays for, None where it does not even pay for parts and what is due
    without any work (``least``). ``surety`` is of the work that is quoted; ``with_faults`` of all work, hidden
    faults too, which differ where these are quoted again when found. ``asked`` is the shop's own price.
    """

    given: Cents
    least: Cents
    asked: Cents
    paid_minutes: Hundredths | None
    quoted_mean: Hundredths
    surety: float
    with_faults: float
    faults_apart: bool


def given_price(study: Study, chosen: Collection[str], given: Cents) -> GivenPrice:
    """The surety of ``given`` cents to pay for a set of upgrades, in closed form."""
    if study.job.kind != "commission":
        raise refusal(
            Origin(study.job.file, None, "[job] kind"),
            "only client work has a price to the customer",
            f"“{study.job.kind}”",
            'kind = "commission"',
            "see the offer or the profit of a resale instead",
        )
    totals = make_estimate(study, chosen).totals
    minutes = minutes_paid(study.costing, totals.money, given)
    surety = _within(quoted_form(study, totals), minutes)
    # faults only add work; far down the quick side the wider curve alone would say otherwise
    with_faults = min(surety, _within(all_form(study, totals), minutes))
    return GivenPrice(
        given=given,
        least=study.costing.price(Hundredths(0), totals.money).to_pay,
        asked=totals.to_pay,
        paid_minutes=minutes,
        quoted_mean=totals.quoted_mean,
        surety=surety,
        with_faults=with_faults,
        faults_apart=not study.shop.terms.faults_priced,
    )


def minutes_paid(costing: Costing, money: Money, given: Cents) -> Hundredths | None:
    """The most hundredths of a minute whose price is within ``given`` cents; None where none is."""
    if costing.price(Hundredths(0), money).to_pay > given:
        return None
    low, high = Hundredths(0), Hundredths(6000)
    while high < LONGEST and costing.price(high, money).to_pay <= given:
        low, high = high, high * 2
    while high - low > 1:
        middle = Hundredths((low + high) // 2)
        if costing.price(middle, money).to_pay <= given:
            low = middle
        else:
            high = middle
    return low


def quoted_form(study: Study, totals: Totals) -> ClosedForm:
    """Mean, spread and lean of the work that is quoted."""
    return ClosedForm(totals.quoted_mean / 100, totals.quoted_sd, float(study.shop.terms.skew))


def all_form(study: Study, totals: Totals) -> ClosedForm:
    """Mean, spread and lean of all work, hidden faults with it."""
    mean = (totals.attended + totals.reserve_min) / 100
    return ClosedForm(mean, totals.sd, float(study.shop.terms.skew))


def _within(form: ClosedForm, minutes: Hundredths | None) -> float:
    return 0.0 if minutes is None else form.surety(minutes / 100)
