"""The most to pay for a donor: formula, pay at the asking price, checks, odds, and many listings at once."""

from __future__ import annotations

import math
import random
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import make_choice
from estimator.core.errors import InputError
from estimator.core.text import time_text
from estimator.input.listings import DonorListing, read_listings
from estimator.model import Shop
from estimator.price.donor.offer import make_offer, most_to_pay
from estimator.price.donor.price_grid import ROUNDING, Curve
from estimator.price.donor.rank import offer_list
from estimator.price.resale.compare import proceeds
from estimator.price.resale.part_out import part_out
from estimator.report.words.money import list_sentences
from estimator.report.words.resale import offer_sentences
from tests.price.jobs import SELLING, SOUND, resale_job, selling, selling_money
from tests.shops import default_shop

FEW = ("set-up", "clean-controls", "new-jack-economy", "polish-body", "new-knobs-standard", "adjust-nut")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def test_the_formula_by_hand() -> None:
    """(1 - 0.14) x 100.00 + 0.14 x (40.00 - 1.5 h x 35.00) = 86.00 - 1.75 = 84.25 (worked by hand)."""
    assert most_to_pay(10_000, Fraction(14, 100), 4_000, 9_000, 3_500) == 8_425
    assert most_to_pay(10_000, Fraction(0), 4_000, 9_000, 3_500) == 10_000
    assert most_to_pay(10_000, Fraction(1), 4_000, 9_000, 3_500) == -1_250


def test_offer_is_the_formula_on_the_best_plan(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    offer = make_offer(study, "held")
    odds = Fraction(14, 100)
    # 320 x 0.20, sold here without a fee; the photographs use up 0.03 of cloth and 0.06 of the lamps
    assert (offer.salvage_price, offer.salvage) == (6_400, 6_391)
    lost = 9_000 + selling(study)
    assert lost > 9_000 + 100 * 60  # listing and talking to buyers takes more than an hour
    exact = (1 - odds) * offer.plan.profit + odds * (6_391 - Fraction(lost * 3_500, 6_000))
    assert abs(offer.most - exact) <= Fraction(1, 2)
    seen = [make_offer(study, name).most for name in ("checked", "held", "photos", "job-lot")]
    assert seen == sorted(seen, reverse=True)


@pytest.mark.slow
@pytest.mark.parametrize("ask", [20, 90, 200])
def test_at_the_pay_told_the_most_to_pay_is_the_asking_price(shop: Shop, ask: int) -> None:
    study = study_job(shop, resale_job(shop, ask=ask, open_=FEW, more=SOUND))
    offer = make_offer(study)
    assert offer.pay_at_ask is not None
    assert offer.loses_at_ask == (offer.most < ask * 100)
    assert (offer.pay_at_ask >= offer.pay) == (offer.most >= ask * 100)
    if offer.loses_at_ask:
        # the pay is that of the plan which loses least, by hand: what is short of the asking price, an hour
        short = Fraction(86, 100) * offer.plan.profit - ask * 100
        short += Fraction(14, 100) * (offer.salvage - Fraction(offer.lost_minutes * offer.pay, 6000))
        hours = Fraction(86, 100) * offer.plan.minutes + Fraction(14, 100) * offer.lost_minutes
        assert abs(offer.pay_at_ask - offer.pay - short * 6000 / hours) <= Fraction(1, 2)
        return
    pay = f"own_pay_per_hour = {offer.pay_at_ask / 100:.2f}"
    again = make_offer(study_job(shop, resale_job(shop, ask=ask, open_=FEW, more=SOUND, resale=pay)))
    # the pay is told to the cent an hour and every line is rounded to the cent
    assert abs(again.most - ask * 100) <= 40


def test_rule_of_thumb_stops_an_offer_on_a_wreck(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, "E", 2000, 100, "project", open_=("set-up",)))
    offer = make_offer(study)
    assert offer.limit == 60_000
    assert offer.stop == min(offer.most, 60_000)


def test_do_not_buy_is_said_first(shop: Shop) -> None:
    cheap = make_offer(study_job(shop, resale_job(shop, "A", 70, 10, "needs-repair", open_=FEW)))
    assert cheap.stop <= 0
    assert not cheap.buy
    assert offer_sentences(cheap, shop)[0].startswith("Do not buy: at 35.00 USD an hour it is worth nothing")
    dear = make_offer(study_job(shop, resale_job(shop, ask=300, open_=FEW, more=SOUND)))
    assert offer_sentences(dear, shop)[0].startswith("Do not buy at 300.00 USD: the most to pay is")
    assert any("would pay" in line for line in offer_sentences(dear, shop))
    fair = make_offer(study_job(shop, resale_job(shop, ask=20, open_=FEW, more=SOUND)))
    assert fair.buy
    assert offer_sentences(fair, shop)[0].startswith("Buy: 20.00 USD is asked")


def test_odds_are_seeded_and_move_with_the_price_paid(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    low, again, high = (make_offer(study, ask=ask).odds for ask in (2_000, 2_000, 25_000))
    assert low == again
    assert low is not None
    assert high is not None
    assert low.loss < high.loss
    assert low.below_pay < high.below_pay
    assert low.surplus[0] < low.surplus[1] < low.surplus[2]
    sure = make_offer(study, "checked", ask=2_000).odds
    assert sure is not None
    assert abs(sure.loss - 0.0) <= 0.02  # a bad one still brings more than 20.00


def test_checks_are_ranked_by_how_far_they_move_the_offer(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    offer = make_offer(study, "photos")
    assert len(offer.checks) == 10
    moves = [move.moves for move in offer.checks]
    assert moves == sorted(moves, reverse=True)
    made = {move.check.id for move in offer.checks if move.moves == 0}
    assert {"frets", "plug-in", "neck-line", "papers"} <= made  # measured in the job
    blind = make_offer(study_job(shop, resale_job(shop, open_=FEW, condition="needs-set-up")), "photos")
    assert blind.checks[0].check.id == "frets"
    for move in offer.checks:
        assert move.after_good >= offer.most
        assert move.after_bad is None or move.after_bad <= offer.most
    checked = make_offer(study, "checked")
    assert all(move.moves == 0 for move in checked.checks)


LISTINGS = """id,what,kind,tier,base_clean,condition,ask,seen,travel_min,inbound_cost,jack_state,fret-levelness
a,one,guitar-solid,C,320,needs-set-up,60,held,20,0,dead,
b,two,guitar-solid,C,480,needs-set-up,120,photos,0,15,dead,
c,three,guitar-solid,C,505,needs-set-up,120,,0,,dead,
d,bad word,guitar-solid,C,300,broken,60,held,0,0,,
e,two sums,guitar-solid,C,300,project,60 or 65,held,0,0,,
f,no price,guitar-solid,C,300,project,,held,0,0,,
a,twice,guitar-solid,C,300,project,50,held,0,0,,
g,bass,bass-solid,B,200,fair-working,20,held,0,0,,2
h,impossible,bass-solid,B,200,fair-working,20,held,0,0,,7
i,no base,bass-solid,B,,fair-working,20,job-lot,0,0,,2
"""


@pytest.fixture
def listings(tmp_path: Path) -> Path:
    path = tmp_path / "listings.csv"
    path.write_text(LISTINGS, encoding="utf-8")
    return path


SHORT = 'id,what,ask,tier\n#12,"one, old",120,B\ntwo,another,90,C\n'


@pytest.mark.parametrize(
    "text",
    [
        SHORT,
        SHORT.replace("\n", "\r"),
        SHORT.replace("\n", "\r\n\r\n"),
        "sep=,\n" + SHORT,
        'id;what;ask;tier\n#12;"one, old";120;B\ntwo;another;90;C\n',
        "\ufeffID\tTitle\tPrice\ttier\n#12\tone, old\t120\tB\ntwo\tanother\t90\tC\n".replace("ID", "id"),
    ],
)
def test_a_list_is_read_as_spreadsheets_write_it(text: str, shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "listings.csv"
    path.write_bytes(text.encode())
    read = list(read_listings(path, shop))
    assert [one.id for one in read if isinstance(one, DonorListing)] == ["#12", "two"]
    assert [one.what for one in read if isinstance(one, DonorListing)] == ["one, old", "another"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SHORT + '"three,a guitar,80,B\n', "row 4: a quote is opened and never closed"),
        (SHORT + '"three" it says,a guitar,80,B\n', "row 4: a stray quote in a cell"),
        (SHORT + "x" * 140_000 + ",a guitar,80,B\n", "row 4: a cell of more than 100,000 characters"),
    ],
)
def test_a_broken_list_is_told_with_its_row(text: str, said: str, shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "listings.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=said) as refused:
        list(read_listings(path, shop))
    assert refused.value.issues[0].next_step


@pytest.mark.parametrize(
    ("written", "minutes"), [("45", 45), ("1 h", 60), ("1 h 20 min", 80), ("0.5 h", 30), ("15 min", 15)]
)
def test_the_way_there_is_read_with_its_unit(written: str, minutes: int, shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "listings.csv"
    path.write_text(f"id,ask,tier,travel_min\none,40,B,{written}\n")
    [one] = read_listings(path, shop)
    assert isinstance(one, DonorListing), one
    assert one.travel_min == minutes


def test_every_row_is_ranked_or_told_of(shop: Shop, listings: Path) -> None:
    calls: list[tuple[int, int]] = []
    found = offer_list(listings, shop, lambda done, rows: calls.append((done, rows)))
    assert found.rows == 10
    assert sorted(offer.id for offer in found.offers) == ["a", "b", "c", "g", "i"]
    assert [issue.where.row for issue in found.issues] == [5, 6, 7, 8, 10]
    assert {offer.row for offer in found.offers} | {i.where.row for i in found.issues} == set(range(2, 12))
    assert [offer.left for offer in found.offers] == sorted((o.left for o in found.offers), reverse=True)
    assert calls[-1] == (10, 10)
    assert calls == sorted(calls)
    assert [o.base_assumed for o in found.offers if o.id == "i"] == [True]
    assert "5 of 10 listings" in list_sentences(found)[0]
    assert "5 rows were left out" in list_sentences(found)[-1]


@pytest.mark.slow
def test_a_list_says_the_same_as_one_offer_at_a_time(shop: Shop, listings: Path) -> None:
    for offer in offer_list(listings, shop).offers:
        if offer.id not in "agi":
            continue
        kind = "bass-solid" if offer.id in "gi" else "guitar-solid"
        more = "[instrument.levels]\nfret-levelness = 2" if offer.id in "gi" else 'jack_state = "dead"'
        travel = "travel_min = 20" if offer.id == "a" else ""
        condition = "fair-working" if offer.id in "gi" else "needs-set-up"
        base = None if offer.id == "i" else offer.base / 100
        job = resale_job(
            shop, offer.tier, base, offer.ask / 100, condition, kind=kind, more=more, resale=travel
        )
        alone = make_offer(study_job(shop, job), offer.seen)
        assert abs(alone.most - offer.most) <= offer.within + 1
        assert alone.plan.price == offer.price
        assert alone.stop - alone.ask == pytest.approx(offer.left, abs=offer.within + 1)
        assert offer.ask == alone.ask


@pytest.mark.slow
@pytest.mark.parametrize(
    ("tier", "low", "high"), [("B", 118, 240), ("C", 470, 560), ("E", 1150, 1400), ("E", 1500, 2600)]
)
def test_prices_between_solves_are_as_good_as_solved(shop: Shop, tier: str, low: int, high: int) -> None:
    """Every proven price in between against a solve of its own, also across the kinks of the uplifts."""
    names = (*FEW, "new-tuners-premium", "level-crown-polish", "padded-bag-standard", "shield-paint")
    study = study_job(shop, resale_job(shop, tier, low, condition="needs-set-up", open_=names))
    curve = Curve(study)
    bases = [100 * base for base in range(low, high, max(1, (high - low) // 12))]
    answers = curve.best(bases)
    assert curve.solves < len(bases)
    for base in bases:
        alone = study_job(shop, resale_job(shop, tier, base / 100, condition="needs-set-up", open_=names))
        best = make_choice(alone, "profit").answer.objective
        assert best is not None
        assert answers[base].sold.profit <= best <= answers[base].sold.profit + answers[base].within
        assert answers[base].within <= ROUNDING


def test_a_file_that_is_no_list_is_refused(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "wrong.csv"
    path.write_text("id,asks,tier\na,3,B\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        offer_list(path, shop)
    told = str(error.value)
    assert "unknown column" in told
    assert "did you mean “ask”?" in told
    with pytest.raises(InputError, match="there is no such file"):
        offer_list(tmp_path / "missing.csv", shop)


def test_an_unknown_way_to_have_seen_it_is_named(shop: Shop) -> None:
    with pytest.raises(InputError, match="did you mean “photos”"):
        make_offer(study_job(shop, resale_job(shop, open_=FEW)), "photo")


def dear_lots(shop: Shop) -> Shop:
    """A shop where parts sell so well that taking an instrument apart is best."""
    rules = dict(shop.resale.rules)
    for name, value in (("part-out-low", "2.4"), ("part-out-high", "3.2")):
        rules[name] = replace(rules[name], value=Decimal(value))
    return replace(shop, resale=replace(shop.resale, rules=rules))


def test_the_most_to_pay_rests_on_taking_it_apart_where_that_leaves_more(shop: Shop) -> None:
    """By hand: 400 x 0.55 x 2.4 = 528.00 and x 3.2 = 704.00, the middle 616.00; 5 h and 40 min to take apart and sell."""
    own, resale = dear_lots(shop), "travel_min = 30\ninbound_cost = 15"
    job = resale_job(own, "C", 400, 120, "needs-repair", open_=FEW, resale=resale)
    study = study_job(own, job)
    plan = make_offer(study).plan
    task = own.tasks["source-donor"]
    found = task.setup_min + (task.run_min_low * 3 + task.run_min_likely * 4 + task.run_min_high * 3) / 10
    minutes = 300 + 40 + 30 + found
    assert (plan.price, plan.whole, plan.chosen) == (61_600, False, ())
    assert plan.minutes == pytest.approx(float(minutes) * 100, abs=0.51)
    assert plan.profit == pytest.approx(61_600 - 1_500 - float(minutes) * 3_500 / 60, abs=0.51)
    offer = make_offer(study)
    # a bad one costs the 15.00 and the 30 min of fetching it too, besides the 1.5 h and selling it
    lost = 12_000 + selling(study)
    assert (offer.spent, offer.lost_minutes) == (1_500, lost)
    exact = most_to_pay(plan.profit, Fraction(14, 100), offer.salvage - 1_500, lost, 3_500)
    assert abs(offer.most - exact) <= Fraction(1, 2)
    assert offer.choice is None
    assert offer.odds is not None
    assert offer.odds.surplus[0] < offer.odds.surplus[1] < offer.odds.surplus[2]
    assert any(line.startswith("the plan: taken apart") for line in offer_sentences(offer, own))
    # at the pay that is told for the asking price, the most to pay is that price
    pay = f"{resale}\nown_pay_per_hour = {(offer.pay_at_ask or 0) / 100:.2f}"
    again = make_offer(study_job(own, resale_job(own, "C", 400, 120, "needs-repair", open_=FEW, resale=pay)))
    assert abs(again.most - 12_000) <= 10
    # what is dead or missing is not sold: a wreck brings no more in lots than its own price allows
    wreck = study_job(own, resale_job(own, "C", 400, 120, "parts-only", open_=FEW))
    assert part_out(wreck).low == 19_200  # 400 x 0.20 x 2.4


@pytest.mark.slow
def test_a_list_takes_apart_what_one_offer_would(shop: Shop, tmp_path: Path) -> None:
    own, path = dear_lots(shop), tmp_path / "listings.csv"
    path.write_text(
        "id,what,kind,tier,base_clean,condition,ask,seen,travel_min,inbound_cost\n"
        "a,one,guitar-solid,C,400,needs-repair,120,held,30,15\nb,two,guitar-solid,C,70,as-new,20,held,0,0\n",
        encoding="utf-8",
    )
    found = {offer.id: offer for offer in offer_list(path, own).offers}
    job = resale_job(own, "C", 400, 120, "needs-repair", resale="travel_min = 30\ninbound_cost = 15")
    alone = make_offer(study_job(own, job), "held")
    listed = found["a"]
    assert listed.parted
    assert (listed.price, listed.chosen) == (61_600, ())
    assert abs(listed.most - alone.most) <= 1
    assert (listed.profit, listed.minutes) == (pytest.approx(alone.plan.profit, abs=1), alone.plan.minutes)
    assert not any(offer.parted for offer in offer_list(path, shop).offers)


# --------------------------------------------------- money and time spent before the fault shows


@pytest.mark.slow
@pytest.mark.parametrize("seen", ["checked", "held", "photos", "job-lot"])
def test_freight_and_travel_come_off_the_most_to_pay_in_full(shop: Shop, seen: str) -> None:
    """Freight of 100.00 and 90 min of travel at 35.00 are gone whether the donor is good or bad: 152.50."""
    near = make_offer(study_job(shop, resale_job(shop, open_=FEW, more=SOUND)), seen)
    far_job = resale_job(shop, open_=FEW, more=SOUND, resale="travel_min = 90\ninbound_cost = 100")
    far = make_offer(study_job(shop, far_job), seen)
    assert near.most - far.most == pytest.approx(10_000 + 5_250, abs=1)
    lost = 18_000 + selling(study_job(shop, far_job))
    assert (far.spent, far.lost_minutes) == (10_000, lost)
    assert any(f"100.00 USD and {time_text(lost, exact=True)}" in line for line in offer_sentences(far, shop))


def test_a_donor_that_came_by_itself_costs_no_finding_in_either_case(shop: Shop) -> None:
    """Finding takes 0.3 x 25 + 0.4 x 50 + 0.3 x 130 = 66.5 min, 38.79 at 35.00; the 1.5 h hold it."""
    studies = [
        study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale=text))
        for text in ("", 'sourced = "no"')
    ]
    found, came = (make_offer(study) for study in studies)
    sold = selling(studies[0])
    assert (found.lost_minutes, came.lost_minutes) == (9_000 + sold, 9_000 - 6_650 + sold)
    assert came.most - found.most == pytest.approx(3_879, abs=1)


@pytest.mark.parametrize("way", ["local", "marketplace", "auction", "consignment", "dealer"])
def test_a_bad_donor_takes_no_less_to_sell_than_a_good_one_that_is_sold_as_it_is(
    shop: Shop, way: str
) -> None:
    """Sold as it stands, a good donor takes the time of its sale; a bad one brings no more, and takes it too."""
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale=f'way = "{way}"'))
    offer = make_offer(study)
    sold = selling(study)
    assert offer.lost_minutes == 9_000 + sold
    # of the good one that is only cleaned and sold what is left over is the look at the bench and the cleaning
    rest = sum(
        line.setup + line.minutes + line.rework + line.allowance
        for line in study.costing.estimate(()).lines
        if line.task in ("bench-inspection", "clean-body", "log-job")
    )
    assert proceeds(study, ()).minutes == pytest.approx(rest + sold + 6_650, abs=2)


def sent_by_the_seller(shop: Shop) -> Shop:
    """The shop with a way of which the seller pays the freight, and more besides."""
    way = replace(
        shop.resale.ways["marketplace"], id="sent", freight_by="seller", other_cost=Decimal("3.20"), drops=()
    )
    ways = MappingProxyType({**shop.resale.ways, "sent": way})
    return replace(shop, resale=replace(shop.resale, ways=ways))


@pytest.mark.parametrize("way", ["local", "marketplace", "auction", "consignment", "dealer", "sent"])
@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_a_bad_donor_pays_its_own_fees_freight_and_packing(shop: Shop, way: str, kind: str) -> None:
    """As one that is known to be for parts only and is sold as it is: what that leaves is what a bad one leaves."""
    own = sent_by_the_seller(shop)
    resale = f'way = "{way}"\ninbound_cost = 12'
    bad = make_offer(study_job(own, resale_job(own, base=900, kind=kind, resale=resale)))
    study = study_job(own, resale_job(own, base=900, condition="parts-only", kind=kind, resale=resale))
    known = proceeds(study, ())
    assert bad.salvage_price == known.price == 18_000
    # the look at the bench, the cleaning and the log of the known one are no part of its sale
    rest = [line for line in study.costing.estimate(()).lines if line.task not in SELLING]
    used = sum(line.money.consumables + line.money.tools for line in rest)
    assert bad.salvage == pytest.approx(known.cash_left + known.paid + 1_200 + used, abs=len(rest) + 6)
    assert bad.salvage_price - bad.salvage - selling_money(study) == pytest.approx(known.fees_by_share, abs=1)
    told = " ".join(offer_sentences(bad, own))
    assert f"still brings {bad.salvage / 100:.2f} USD (180.00 USD less" in told


def test_a_bad_donor_that_costs_more_to_send_than_it_brings_is_given_away(shop: Shop) -> None:
    """A bass of 150.00 brings 30.00 for parts; 100.00 of freight is never paid for that, nor the time of selling it."""
    own = sent_by_the_seller(shop)
    study = study_job(own, resale_job(own, base=150, kind="bass-solid", resale='way = "sent"'))
    offer = make_offer(study)
    assert (offer.salvage_price, offer.salvage, offer.lost_minutes) == (0, 0, 9_000)
    told = " ".join(offer_sentences(offer, own))
    assert (
        "a bad one is given away, for selling it would take all that it brings, and costs 1 h 30 min" in told
    )
    assert "of getting it here and finding out" in told


def test_freight_makes_a_bad_donor_a_loss(shop: Shop) -> None:
    """Salvage 64.00, asked 5.00, freight 80.00: a bad one loses 21.00 in cash, which the odds must count."""
    job = resale_job(shop, ask=5, open_=FEW, more=SOUND, resale="inbound_cost = 80")
    odds = make_offer(study_job(shop, job), "job-lot").odds
    assert odds is not None
    assert odds.loss >= 0.33


def own_lognormal(rng: random.Random, mean: float, sd: float) -> float:
    wide = math.log(1 + (sd / mean) ** 2)
    return math.exp(math.log(mean) - wide / 2 + math.sqrt(wide) * rng.gauss(0, 1))


@pytest.mark.slow
def test_generated_donors_against_a_simulation_of_our_own(shop: Shop) -> None:
    """200 donors: the most to pay is the mean of what good and bad ones leave, the odds of loss are theirs."""
    rng = random.Random(20_261_128)
    draws, wrong = 1_000, []
    hit = 0
    for number in range(200):
        base = rng.randrange(150, 900)
        freight, travel = rng.choice((0, 0, 1, 1)) * rng.randrange(1, 120), rng.choice((0, 15, 45, 120))
        ask = rng.randrange(1, max(2, base // 3))
        seen = rng.choice(tuple(shop.resale.odds))
        way = rng.choice(tuple(shop.resale.ways))
        resale = f'travel_min = {travel}\ninbound_cost = {freight}\nway = "{way}"'
        job = resale_job(
            shop, "C", base, ask, rng.choice(("", "needs-repair")), open_=FEW[:2], more=SOUND, resale=resale
        )
        study = study_job(shop, job)
        offer = make_offer(study, seen)
        plan, odds = offer.plan, offer.odds
        fee = float(shop.resale.ways[way].fee_share + shop.resale.ways[way].returns_share)
        bad_left = base * 0.20 * (1 - fee) - selling_money(study) / 100
        # what would cost more to send than it brings is given away
        bad_cash = max(0.0, bad_left) - freight
        bad_hours = 1.5 + travel / 60 + (selling(study) / 6_000 if bad_left > 0 else 0)
        chance = float(shop.resale.odds[seen].odds_pct) / 100
        losses, left = 0, 0.0
        for _ in range(draws):
            if rng.random() < chance:
                losses += bad_cash - ask < 0
                left += bad_cash - bad_hours * 35
            else:
                price = own_lognormal(rng, plan.price / 100, plan.spread / 100)
                taken = (plan.fixed + plan.money_out - plan.brought) / 100
                if plan.whole:
                    taken += price * fee + float(shop.resale.ways[way].fee_fixed)
                losses += price - taken - ask < 0
                left += plan.profit / 100
        gap = abs(plan.profit / 100 - (bad_cash - bad_hours * 35))
        error = 5 * gap * math.sqrt(chance * (1 - chance) / draws) + 0.02
        exact = (1 - chance) * plan.profit / 100 + chance * (bad_cash - bad_hours * 35)
        if abs(left / draws - offer.most / 100) > error or abs(exact - offer.most / 100) > 0.02:
            wrong.append((number, "most", offer.most, exact, left / draws))
        share = losses / draws
        if abs(share - odds.loss) > 5 * math.sqrt(0.25 * (1 / draws + 1 / odds.draws)):
            wrong.append((number, "loss", odds.loss, share))
        hit += bad_cash - ask < 0 <= bad_cash + freight - ask
    assert wrong == []
    assert hit >= 20  # donors that lose money by the freight alone are among them


@pytest.mark.slow
def test_a_list_takes_freight_and_travel_off_in_full(shop: Shop, tmp_path: Path) -> None:
    """100 listings, each once at the door and once fetched: the difference is the freight and the travel paid."""
    rng, lines, costs = random.Random(7), [], {}
    for number in range(100):
        base, seen = rng.randrange(100, 900), rng.choice(tuple(shop.resale.odds))
        freight, travel = rng.randrange(0, 120), rng.randrange(0, 240)
        costs[number] = 100 * freight + travel * 3_500 / 60
        for name, money, minutes in (("near", 0, 0), ("far", freight, travel)):
            lines.append(
                f"{name}{number},guitar-solid,C,{base},needs-set-up,{base // 4},{seen},{minutes},{money}"
            )
    path = tmp_path / "listings.csv"
    head = "id,kind,tier,base_clean,condition,ask,seen,travel_min,inbound_cost\n"
    path.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    found = {offer.id: offer for offer in offer_list(path, shop).offers}
    assert len(found) == 200
    for number, cost in costs.items():
        near, far = found[f"near{number}"], found[f"far{number}"]
        assert near.most - far.most == pytest.approx(cost, abs=2), number
