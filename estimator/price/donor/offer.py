"""The most to pay for a donor: what it may bring, what may be wrong with it, and the odds of loss.

O_max = (1 - p) x (N - h w) + p x (S - m0 - h0 w): N the money in when all goes right less all money
out, h hands-on, desk and travel hours, w the wanted pay, p the odds that the donor is bad, S what a bad
one still brings once its own fees, freight and packing are paid, m0 the money spent before that is found out (freight to get it here) and h0 the hours that
a bad one takes: finding, fetching and a first look, and selling it, as a good one takes too. N - h w is the profit of the best plan; m0 is in it too.
All exact fractions of cents; money shown is rounded half up.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.sale.build import finding_minutes, sourcing_minutes
from estimator.choose.study import Choice, Study, make_choice, study_job
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import as_accepted, refused_word
from estimator.core.money import amount, centiminutes, cents, half_up
from estimator.estimate.sale_terms import rule, stated_salvage, usual_work
from estimator.estimate.uplift import pay_for, share_left
from estimator.model import DonorCheck, DonorOdds, Shop
from estimator.model.priced import Use
from estimator.model.sale_problem import Sale
from estimator.price.donor.odds import Odds, Risk, simulate
from estimator.price.resale.compare import Proceeds, need_sale, proceeds
from estimator.price.resale.part_out import parted

REPAIR = ("needs-repair",)
WRECKS = ("project", "parts-only")


class CheckMove(Struct, frozen=True):
    """One of the checks before buying: the offer after a good and a bad result, and how far it moves.

    ``walk_odds`` and ``fault_odds`` are shares; ``moves`` is the average distance, in cents, by which
    the offer moves when the check is made. ``after_bad`` is None where a bad result means walking away.
    """

    check: DonorCheck
    walk_odds: Fraction
    fault_odds: Fraction
    after_good: Cents
    after_bad: Cents | None
    moves: Cents


class DonorOffer(Struct, frozen=True):
    """The most to pay and what it rests on. Cents; minutes in hundredths.

    ``most`` is O_max, ``stop`` the lower of it and the rule-of-thumb limit (``limit``, None: none);
    ``salvage`` is S, ``salvage_price`` what it is sold for, ``spent`` m0 and ``lost_minutes`` h0; ``pay_at_ask`` is the pay an hour, by the plan that pays
    best at the asking price, at which O_max equals it (None without an asking price); ``loses_at_ask``: at
    that price no plan earns, and the pay is that of the one that loses least.
    """

    seen: DonorOdds
    plan: Proceeds
    choice: Choice | None
    odds_bad: Fraction
    salvage: Cents
    salvage_price: Cents
    spent: Cents
    lost_minutes: Hundredths
    most: Cents
    limit: Cents | None
    stop: Cents
    ask: Cents
    pay: Cents
    pay_at_ask: Cents | None
    loses_at_ask: bool
    odds: Odds
    checks: tuple[CheckMove, ...]
    papers: bool
    salvage_stated: bool

    @property
    def buy(self) -> bool:
        """Whether the asking price (or any price, where none is asked) may be paid."""
        return self.stop > 0 and (self.ask <= self.stop if self.ask else True)


def seen_as(shop: Shop, name: str) -> DonorOdds:
    """How the donor was seen, by id; InputError with a near miss."""
    known = shop.resale.odds
    name = as_accepted(name, known)
    if name not in known:
        raise refused_word("seen", "no such way to have seen a donor", name, known)
    return known[name]


class Selling(Struct, frozen=True):
    """What selling takes by a way, whatever the instrument brings: hundredths of a minute, and cents.

    ``money``: fixed fees, freight where the seller pays it, and what listing, packing and sending use up.
    """

    minutes: Hundredths
    money: Cents


NOT_SOLD = Selling(Hundredths(0), Cents(0))


class BadOne(Struct, frozen=True):
    """What becomes of a bad donor: the price it is sold for, what of it is left in the hand, what selling takes.

    One that would cost more money to sell than it brings is given away.
    """

    price: Cents
    left: Cents
    selling: Selling


def bad_one(shop: Shop, sale: Sale, selling: Selling, stated: Cents | None = None) -> BadOne:
    """A bad donor by a sale: as the job states it, in the hand; else by the ladder, sold as parts only.

    By the ladder it pays the fees, the freight and the packing of its way as a good one does.
    """
    if stated is not None:
        return BadOne(stated, stated, selling)
    worst = min((grade.factor for grade in shop.resale.ladder.values()), default=Decimal(0))
    price = Cents(half_up(Fraction(sale.base) * Fraction(worst)))
    left = share_left(price, sale.fee_basis_points) - selling.money
    return BadOne(price, left, selling) if left > 0 else BadOne(Cents(0), Cents(0), NOT_SOLD)


def most_to_pay(
    profit: Cents, odds_bad: Fraction, salvage: Cents, lost_minutes: Hundredths, pay: Cents
) -> Fraction:
    """O_max in cents, exact: (1 - p) x profit + p x (salvage - lost time at the wanted pay).

    ``salvage`` is what a bad donor brings less the money spent to get it here; it may be below zero.
    """
    return (1 - odds_bad) * profit + odds_bad * (salvage - Fraction(lost_minutes * pay, 6000))


def money_spent(inbound_cost: Decimal) -> Cents:
    """Money gone before a fault can show, in cents: freight or fuel to get the donor here."""
    return cents(inbound_cost)


def minutes_lost(study: Study, travel_min: Decimal, selling: Selling) -> Hundredths:
    """Time that a bad donor takes, in hundredths: what the rule says, the travel of this one, and selling it.

    The rule holds finding the donor and a first look. It is never less than finding takes, and a donor
    that came by itself costs the look alone, so that time spent in either case counts in both.
    """
    shop = study.shop
    finding = finding_minutes(shop)
    usual = max(centiminutes(rule(shop, "lost-hours") * 60), finding)
    return usual - finding + sourcing_minutes(shop, study.job) + centiminutes(travel_min) + selling.minutes


def selling_of(study: Study) -> Selling:
    """What selling takes by the way of the job: its own time and money, listing, packing, sending.

    That work is the same whatever state the instrument is in.
    """
    shop, job, sale = study.shop, study.job, need_sale(study)
    getting = sourcing_minutes(shop, job) + centiminutes(job.sale.travel_min)
    tasks = {row.task for row in usual_work(shop, job) if row.selling}
    lines = [line for line in study.costing.estimate(()).lines if line.task in tasks]
    work = sum((line.setup + line.minutes + line.rework + line.allowance for line in lines), Hundredths(0))
    used = sum(
        (_used_up(line.consumables) + _used_up(line.tools) + cents(line.rework_material) for line in lines),
        Cents(0),
    )
    fixed = sale.fixed - money_spent(job.sale.inbound_cost)
    return Selling(sale.extra_minutes - getting + work, fixed + used)


def _used_up(uses: Iterable[Use]) -> Cents:
    return cents(sum((use.cost for use in uses), Decimal(0)))


def limit_of(study: Study) -> Cents | None:
    """The rule-of-thumb limit by condition, in cents: a share of the clean price; None for sound ones."""
    sale = need_sale(study)
    condition = sale.standing.condition
    if condition in REPAIR:
        return Cents(half_up(Fraction(sale.base) * Fraction(rule(study.shop, "stop-share-repair"))))
    if condition in WRECKS:
        return Cents(half_up(Fraction(sale.base) * Fraction(rule(study.shop, "stop-share-project"))))
    return None


def best_plan(study: Study) -> tuple[Proceeds, Choice | None]:
    """The set with most profit by the job's way to sell, or taking it apart where that leaves more.

    Where no set keeps the wishes it is cleaned and sold.
    """
    choice = make_choice(study, "profit")
    whole = proceeds(study, choice.answer.chosen if choice.found else ())
    apart = parted(study)
    if apart.profit > whole.profit:
        return apart, None
    return whole, choice if choice.found else None


def make_offer(study: Study, seen: str = "", ask: Cents | None = None) -> DonorOffer:
    """The most to pay for the instrument of a resale job.

    ``seen`` is an id of donor_odds.csv (else the job's, else held); ``ask`` in cents overrides the
    asking price.
    """
    shop = study.shop
    how = seen_as(shop, seen or study.job.sale.seen or "held")
    plan, choice = best_plan(study)
    sale = need_sale(study)
    odds_bad = Fraction(how.odds_pct) / 100
    bad = bad_one(shop, sale, selling_of(study), stated_salvage(study.job))
    lost = minutes_lost(study, study.job.sale.travel_min, bad.selling)
    spent = money_spent(study.job.sale.inbound_cost)
    rest = bad.left - spent
    exact = most_to_pay(plan.profit, odds_bad, rest, lost, sale.pay)
    most, limit = Cents(half_up(exact)), limit_of(study)
    stop = most if limit is None else min(most, limit)
    asked = cents(study.job.asking_price) if ask is None else ask
    risk = Risk(plan, odds_bad, rest, lost, asked or max(Cents(0), stop))
    papers = study.job.instrument.get("papers")
    return DonorOffer(
        seen=how,
        plan=plan,
        choice=choice,
        odds_bad=odds_bad,
        salvage=bad.left,
        salvage_price=bad.price,
        spent=spent,
        lost_minutes=lost,
        most=most,
        limit=limit,
        stop=stop,
        ask=asked,
        pay=sale.pay,
        pay_at_ask=pay_at(study, risk) if asked else None,
        loses_at_ask=bool(asked) and odds_bad < 1 and not earns(risk, sale.pay),
        odds=simulate(study, risk),
        checks=check_moves(study, plan, odds_bad, rest, lost),
        papers=papers is not None and papers.value is True and not papers.assumed,
        salvage_stated=stated_salvage(study.job) is not None,
    )


def offer_at(study: Study, pay: Cents, seen: str = "", ask: Cents | None = None) -> DonorOffer:
    """The offer at another pay an hour (cents), on the plan that is best at that pay."""
    sale = replace(study.job.sale, own_pay_per_hour=amount(pay))
    return make_offer(study_job(study.shop, replace(study.job, sale=sale)), seen, ask)


def pay_at(study: Study, risk: Risk) -> Cents | None:
    """The pay an hour (cents) at which O_max equals the price paid, by the plan that pays best then.

    O_max falls with the pay: for a plan it is even at w + (O_max(w) - price) / hours, the hours being
    (1 - p) h + p h0. Where O_max of the plan of ``risk``, the best at the wanted pay, reaches the price, the
    plan that pays best is the best by the hour of a sale with the donor's money and time put in, or taking it
    apart. Where it does not, no plan earns and that plan is the one that loses least: work that nobody needs
    would only thin its loss out. None if the donor is bad for certain.
    """
    if risk.odds_bad >= 1:
        return None
    sale = need_sale(study)

    def even(profit: Cents, minutes: Hundredths) -> Fraction | None:
        most = most_to_pay(profit, risk.odds_bad, risk.salvage, risk.lost_minutes, sale.pay)
        hours = (1 - risk.odds_bad) * minutes + risk.odds_bad * risk.lost_minutes
        return sale.pay + (most - risk.paid) * 6000 / hours if hours > 0 else None

    if not earns(risk, sale.pay):
        least = even(risk.plan.profit, risk.plan.minutes)
        return None if least is None else Cents(half_up(least))
    chosen = _best_by_the_hour(study, risk)
    from estimator.choose.verify.sale import sold

    ways = (sold(study.problem, chosen, sale), risk.plan, parted(study))
    pays = [even(way.profit, way.minutes) for way in ways]
    return max((Cents(half_up(found)) for found in pays if found is not None), default=None)


def earns(risk: Risk, pay: Cents) -> bool:
    """Whether the best plan leaves anything over the price paid once its cost and all time are paid."""
    return most_to_pay(risk.plan.profit, risk.odds_bad, risk.salvage, risk.lost_minutes, pay) >= risk.paid


def _best_by_the_hour(study: Study, risk: Risk) -> tuple[str, ...]:
    """The set that pays best by the hour when the donor is bought for its price, with the odds that it is bad."""
    sale, odds_bad, lost = need_sale(study), risk.odds_bad, risk.lost_minutes
    good = 1 - odds_bad
    money = (odds_bad * (risk.salvage - Fraction(lost * sale.pay, 6000)) - risk.paid) / good
    more = Hundredths(half_up(odds_bad * lost / good))
    shift = pay_for(sale.extra_minutes + more, sale.pay) - pay_for(sale.extra_minutes, sale.pay)
    moved = replace(
        sale,
        fixed=sale.fixed - Cents(half_up(money)) - shift,
        extra_minutes=sale.extra_minutes + more,
        paid=Cents(0),
    )
    other = replace(study, frame=replace(study.frame, sale=moved))
    choice = make_choice(other, "hourly")
    return choice.answer.chosen if choice.found else ()


def check_moves(
    study: Study, plan: Proceeds, odds_bad: Fraction, salvage: Cents, lost: Hundredths
) -> tuple[CheckMove, ...]:
    """How far each check would move the offer, the farthest first.

    The odds that a check says "walk away" are those of the table, scaled so that together they and
    what no check finds make up the odds of a bad donor as it was seen. After a good result the donor
    is bad less often; after a bad one the usual money and hours come off, or nothing is paid at all.
    A check whose result was measured already moves nothing. ``salvage`` is less the money spent.
    """
    shop, sale = study.shop, need_sale(study)
    unseen = max(
        (Fraction(o.odds_pct) for o in shop.resale.odds.values() if o.id == "photos"), default=Fraction(0)
    )
    least = min((Fraction(o.odds_pct) for o in shop.resale.odds.values()), default=Fraction(0))
    found_by_checks = sum((Fraction(c.walk_pct) for c in shop.resale.checks.values()), Fraction(0))
    left_to_find = max(Fraction(0), odds_bad * 100 - least)
    full = max(Fraction(1), unseen - least)
    now = most_to_pay(plan.profit, odds_bad, salvage, lost, sale.pay)
    moves = []
    for check in shop.resale.checks.values():
        share = min(Fraction(1), left_to_find / full)
        walk = Fraction(check.walk_pct) / 100 * share
        if found_by_checks:
            walk = min(walk, Fraction(check.walk_pct) / found_by_checks * left_to_find / 100)
        fault = Fraction(check.fault_pct) / 100 * (share if left_to_find else Fraction(0))
        if is_made(study, check):
            walk = fault = Fraction(0)
        off = _taken_off(check, sale.base, sale.pay)
        bad_after = max(Fraction(0), odds_bad - walk) / (1 - walk) if walk < 1 else odds_bad
        # what the faults cost on average is in the price of the plan already, so a good result gives it back
        good = most_to_pay(plan.profit, bad_after, salvage, lost, sale.pay) + fault * off * (1 - bad_after)
        bad = now - (1 - fault) * off * (1 - odds_bad) if off else None
        average = walk * abs(now) + (1 - walk - fault) * abs(good - now)
        if bad is not None:
            average += fault * abs(bad - now)
        moves.append(
            CheckMove(
                check,
                walk,
                fault,
                Cents(half_up(good)),
                None if bad is None else Cents(half_up(bad)),
                Cents(half_up(average)),
            )
        )
    return tuple(sorted(moves, key=lambda move: (-move.moves, list(shop.resale.checks).index(move.check.id))))


def is_made(study: Study, check: DonorCheck) -> bool:
    """Whether the job holds a measurement that tells the result of a check already."""
    readings = (study.job.instrument.get(name) for name in check.told_by)
    return any(reading is not None and not reading.assumed for reading in readings)


def _taken_off(check: DonorCheck, base: Cents, pay: Cents) -> Fraction:
    """The middle of what a bad result takes off, in cents."""
    money = Fraction(check.off_low + check.off_high) * 50
    hours = Fraction(check.hours_low + check.hours_high) / 2 * pay
    share = Fraction(check.share_low + check.share_high) / 2 * base
    return money + hours + share
