"""Many listings at once: the most to pay for each, ranked by what is left at the asking price."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

from msgspec import Struct

from estimator.choose.sale.build import sourcing_minutes
from estimator.choose.study import Known, Study, study_job
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import InputError, Issue
from estimator.core.money import centiminutes, cents, half_up
from estimator.estimate.sale_terms import rule
from estimator.estimate.uplift import pay_for
from estimator.input.listings import DonorListing, job_of, read_listings
from estimator.model import Shop
from estimator.price.donor.offer import (
    REPAIR,
    WRECKS,
    Selling,
    bad_one,
    minutes_lost,
    money_spent,
    most_to_pay,
    seen_as,
    selling_of,
)
from estimator.price.donor.price_grid import Best, Curve
from estimator.price.resale.part_out import parting

Progress = Callable[[int, int], None]
LEFT, PER_HOUR = "left", "per-hour"


class ListingOffer(Struct, frozen=True):
    """One listing with its most to pay. Cents; minutes in hundredths; ``left`` = stop - ask.

    ``parted``: whether taking it apart leaves most (``price`` is then that of its lots).
    ``condition`` is that as it stands, ``within`` the cents by which the profit may miss the very best.
    ``earned`` is the pay an hour to expect at the asking price, the odds of a bad donor counted.
    """

    row: int
    id: str
    what: str
    ask: Cents
    base: Cents
    base_assumed: bool
    tier: str
    condition: str
    seen: str
    most: Cents
    stop: Cents
    left: Cents
    price: Cents
    profit: Cents
    minutes: Hundredths
    earned: Cents | None
    chosen: tuple[str, ...]
    within: Cents
    parted: bool = False

    @property
    def buy(self) -> bool:
        """Whether the asking price may be paid."""
        return self.stop > 0 and self.left >= 0

    @property
    def verdict(self) -> str:
        """What to do: buy it, offer less, or leave it even for nothing."""
        return "buy" if self.buy else "offer less" if self.stop > 0 else "do not buy"


class OfferList(Struct, frozen=True):
    """Listings, the best first; ``issues``: the rows left out, with reasons, and columns not read. Times in seconds."""

    offers: tuple[ListingOffer, ...]
    issues: tuple[Issue, ...]
    rows: int
    kinds: int
    solves: int
    seconds: float
    seconds_solving: float
    by: str = LEFT

    @property
    def left_out(self) -> int:
        """How many rows are in error."""
        return len({issue.where.row for issue in self.issues if issue.severity == "error"})

    @property
    def to_buy(self) -> int:
        """How many may be bought at their asking price."""
        return sum(offer.buy for offer in self.offers)


RANKS: Mapping[str, Callable[[ListingOffer], int]] = MappingProxyType(
    {
        LEFT: lambda offer: offer.left,
        PER_HOUR: lambda offer: NOTHING_EARNED if offer.earned is None else offer.earned,
    }
)
"""What listings may be ranked by: what is left at the asking price, or the pay an hour to expect at it."""
NOTHING_EARNED = -(10**12)
NO_PRICE = "none"
"""In place of a price where every price would lose money."""


def offer_list(
    path: str | Path,
    shop: Shop,
    progress: Progress | None = None,
    by: str = LEFT,
) -> OfferList:
    """The most to pay for every listing of a CSV file, ranked ``by`` one of ``RANKS``, of equals the earlier row.

    Rows in error are in ``issues`` and in no offer; ``progress`` is called with (done, all) rows.
    InputError where the file as a whole cannot be read.
    """
    start = time.perf_counter()
    issues: list[Issue] = []
    kinds: dict[tuple[tuple[str, str], ...], list[DonorListing]] = {}
    rows = 0
    for entry in read_listings(path, shop):
        rows += not isinstance(entry, Issue) or entry.severity == "error"
        if isinstance(entry, Issue):
            issues.append(entry)
        else:
            kinds.setdefault(entry.kind, []).append(entry)
    done = sum(issue.severity == "error" for issue in issues)
    offers: list[ListingOffer] = []
    solves, solving, known = 0, 0.0, Known()
    for listings in kinds.values():
        try:
            study = study_job(shop, job_of(listings[0], shop, str(path)), alone=False, known=known)
        except InputError:
            issues.extend(_complaints(listings, shop, str(path)))
            done += len(listings)
        else:
            curve = Curve(study)
            offers.extend(_offers(study, curve, listings))
            solves += curve.solves
            solving += curve.seconds
            done += len(listings)
        if progress is not None:
            progress(done, rows)
    issues.sort(key=lambda issue: issue.where.row or 0)
    offers.sort(key=lambda offer: (-RANKS[by](offer), offer.row))
    seconds = time.perf_counter() - start
    return OfferList(tuple(offers), tuple(issues), rows, len(kinds), solves, seconds, solving, by)


def _complaints(listings: list[DonorListing], shop: Shop, file: str) -> list[Issue]:
    """The complaints of rows whose kind cannot be made into a job, each with its own row."""
    found: list[Issue] = []
    for listing in listings:
        try:
            study_job(shop, job_of(listing, shop, file), alone=False)
        except InputError as error:
            found.extend(error.issues)
    return found


def _offers(study: Study, curve: Curve, listings: list[DonorListing]) -> list[ListingOffer]:
    middle = curve.frame.tier.base_middle
    bases = {listing.row: cents(middle if listing.base is None else listing.base) for listing in listings}
    best, selling = curve.best(bases.values()), selling_of(study)
    return [
        _offer(study, curve, listing, bases[listing.row], best[bases[listing.row]], selling)
        for listing in listings
    ]


def _offer(
    study: Study, curve: Curve, listing: DonorListing, base: Cents, best: Best, selling: Selling
) -> ListingOffer:
    shop, sale = study.shop, curve.sale(base)
    how = seen_as(shop, listing.seen)
    odds_bad = Fraction(how.odds_pct) / 100
    travel = centiminutes(listing.travel_min)
    more = pay_for(sale.extra_minutes + travel, sale.pay) - pay_for(sale.extra_minutes, sale.pay)
    profit, minutes, price = best.sold.profit, best.sold.minutes, best.sold.price
    apart = parting(shop, sale)
    apart_minutes = apart.minutes + sourcing_minutes(shop, study.job)
    parted = apart.middle - pay_for(apart_minutes + travel, sale.pay) > profit - more
    if parted:
        price, minutes = apart.middle, apart_minutes
        profit, more = price, pay_for(apart_minutes + travel, sale.pay)
    profit -= more + money_spent(listing.inbound_cost)
    minutes += travel
    bad = bad_one(shop, sale, selling)
    lost = minutes_lost(study, listing.travel_min, bad.selling)
    spent = money_spent(listing.inbound_cost)
    exact = most_to_pay(profit, odds_bad, bad.left - spent, lost, sale.pay)
    most = stop = Cents(half_up(exact))
    hours = (1 - odds_bad) * minutes + odds_bad * lost
    condition = sale.standing.condition
    for names, limit in ((REPAIR, "stop-share-repair"), (WRECKS, "stop-share-project")):
        if condition in names:
            stop = min(stop, Cents(half_up(Fraction(base) * Fraction(rule(shop, limit)))))
    ask = cents(listing.ask)
    return ListingOffer(
        row=listing.row,
        id=listing.id,
        what=listing.what,
        ask=ask,
        base=base,
        base_assumed=listing.base is None,
        tier=curve.frame.tier.id,
        condition=condition,
        seen=how.id,
        most=most,
        stop=stop,
        left=stop - ask,
        price=price,
        profit=profit,
        minutes=minutes,
        earned=Cents(half_up(sale.pay + (exact - ask) * 6000 / hours)) if hours > 0 else None,
        chosen=() if parted else best.chosen,
        within=best.within,
        parted=parted,
    )
