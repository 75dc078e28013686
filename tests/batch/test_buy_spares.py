"""Spares are bought with what they come with: each drawn order against every way to share it among the sellers."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.arrivals import parcels_of
from estimator.batch.build import study_batch
from estimator.batch.buy_spares import ShortCash, buy_together
from estimator.batch.records import Batch, BoughtPart, JointAnswer, Pack, PackUse, Purchase, Seller
from estimator.batch.verify import JointSolution, freight_of, purchase_breaches
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.replan.plan import plan_again
from estimator.plan.replan.progress import load_state
from estimator.plan.replan.saved_plan import kept_text
from estimator.report.record import as_data
from estimator.report.records.plan import PlanTold
from estimator.report.words.orders import order_lines
from estimator.schedule.records import Search
from tests.plan.bench import EXAMPLES, shop

DRAWN = 120
CLASSES = ("p-pot", "p-nutcut", "p-jack")


class Wanted(Struct, frozen=True):
    """Something to buy from one seller: what sellers list it as, what its breaks go by, its list price, pieces."""

    kind: str
    breaks: str
    cents: int
    pieces: Fraction


def answer(purchases: Sequence[Purchase], jobs: Sequence[str] = ("j",)) -> JointAnswer:
    chosen = {job: tuple(p.upgrade for p in purchases if p.job == job and p.upgrade) for job in jobs}
    return JointAnswer("optimal", ("cost",), chosen, {}, tuple(purchases), {}, 0, 0, 0.0, 0, 0, 1, 0.0)


def bill(sellers: Sequence[Seller], things: Sequence[Wanted], at: Sequence[str]) -> int:
    """What leaves the till, in fractions of the tables' own figures: no code of the package has a hand in it."""
    total = 0
    for seller in sellers:
        mine = [thing for thing, name in zip(things, at, strict=True) if name == seller.id]
        goods = 0
        for thing in mine:
            number = sum((one.pieces for one in mine if one.breaks == thing.breaks), Fraction(0))
            less = [share for begin, share in seller.breaks.get(thing.breaks, ()) if number >= begin]
            goods += (thing.cents * seller.sells[thing.kind] * [1000, *less][-1] + 500_000) // 1_000_000
        if mine and (seller.free_from is None or goods < seller.free_from):
            goods += seller.freight
        total += goods
    return total + sum(thing.cents for thing, name in zip(things, at, strict=True) if not name)


def least(sellers: Sequence[Seller], things: Sequence[Wanted]) -> int:
    """The least of all ways: like things are shared out by number, all others one by one."""
    alike = {thing: things.count(thing) for thing in things}
    ways = [
        list(
            itertools.combinations_with_replacement(
                [s.id for s in sellers if thing.kind in s.sells] or [""], number
            )
        )
        for thing, number in alike.items()
    ]
    assert math.prod(len(one) for one in ways) <= 20_000
    order = [thing for thing, number in alike.items() for _ in range(number)]
    return min(bill(sellers, order, [*itertools.chain(*way)]) for way in itertools.product(*ways))


def draw(chance: random.Random) -> tuple[Batch, JointAnswer, dict[str, int], list[Wanted]]:
    sellers = []
    for name in ("one", "two", "three")[: chance.choice((2, 2, 3))]:
        sells = {c: chance.choice((900, 950, 1000, 1000, 1080)) for c in CLASSES if chance.random() < 0.8}
        if chance.random() < 0.8:
            sells["consumables"] = chance.choice((950, 1000, 1080))
        breaks = {
            c: tuple((n, s) for n, s in ((2, 950), (chance.choice((3, 4)), 880)) if chance.random() < 0.7)
            for c in (*CLASSES, "c-paint")
            if chance.random() < 0.5
        }
        free = chance.choice((None, 1000, 1500, 2000, 2500, 3000))
        sellers.append(Seller(name, chance.choice((0, 300, 750, 1200)), free, sells, 2, breaks))
    parts, bought = [], []
    for number in range(chance.randint(1, 3)):
        pieces = chance.choice((1, 1, 2, 3))
        part = BoughtPart(
            "j",
            f"u{number}",
            f"x{number}",
            chance.choice(CLASSES),
            pieces * chance.choice((250, 333, 500, 1000)),
            str(pieces),
        )
        parts.append(part)
        first = next((s for s in sellers if part.part_class in s.sells), None)
        bought.append(Purchase("part", part.part, first.id if first else "", 1, 0, "j", part.upgrade))
    packs, uses = (), ()
    if chance.random() < 0.7:
        packs = (Pack("c-paint", chance.choice((500, 700, 1000)), 10, chance.choice((0, 3))),)
        uses = (PackUse("j", "c-paint", None, chance.randint(1, 25)),)
    wanted = {
        c: chance.randint(1, 2) for c in sorted({part.part_class for part in parts}) if chance.random() < 0.8
    }
    things = [Wanted(p.part_class, p.part_class, p.list_cents, Fraction(p.quantity)) for p in parts]
    for part_class, number in wanted.items():
        like = next(p for p in parts if p.part_class == part_class)
        one = math.ceil(Fraction(like.list_cents) / Fraction(like.quantity))
        things += [Wanted(part_class, part_class, one, Fraction(1))] * number
    for pack, use in zip(packs, uses, strict=True):
        number = max(0, math.ceil(Fraction(use.millionths - pack.stock, pack.holds)))
        things += [Wanted("consumables", "c-paint", pack.list_cents, Fraction(1))] * number
    # thresholds that some of the things reach exactly
    for place, seller in enumerate(sellers):
        filling = [one for one in things if one.kind in seller.sells and chance.random() < 0.6]
        if filling and chance.random() < 0.6:
            exactly = sum(one.cents * seller.sells[one.kind] // 1000 for one in filling)
            sellers[place] = replace(seller, free_from=exactly)
    batch = Batch((), tuple(parts), uses, packs, (), tuple(sellers))
    return batch, answer(bought), wanted, things


def paid(batch: Batch, found: tuple[tuple[Purchase, ...], tuple[Purchase, ...]]) -> int:
    both = (*found[0], *found[1])
    return sum(p.cents for p in both) + sum(freight_of(batch, both).values())


@pytest.mark.slow
def test_parts_packs_and_spares_together_cost_the_least_there_is() -> None:
    chance = random.Random(1)
    better = exact = 0
    for _ in range(DRAWN):
        batch, chosen, wanted, things = draw(chance)
        found = buy_together(batch, chosen, wanted)
        assert found is not None
        assert paid(batch, found) == least(batch.sellers, things)
        assert {c: sum(p.number for p in found[1] if p.what == c) for c in wanted} == wanted
        held = JointSolution(chosen.chosen, {}, (*found[0], *found[1]), {})
        assert purchase_breaches(batch, held) == []
        apart = buy_together(batch, chosen, {})
        assert apart is not None
        both = (*found[0], *found[1])
        better += any(p.seller != q.seller for p, q in zip(found[0], apart[0], strict=False))
        for s in batch.sellers:
            exact += sum(p.cents for p in both if p.seller == s.id) == s.free_from
    # else nothing is shown: orders that are bought elsewhere because of their spares, or are just at the threshold
    assert better >= 5
    assert exact >= 10


def test_an_order_of_exactly_the_threshold_goes_free() -> None:
    """Three pots at 5.00 and a spare come to 20.00, from which on the parcel of 9.00 is free."""
    part = BoughtPart("j", "pots", "pot", "p-pot", 1500, "3")
    for free, freight in ((2000, 0), (2001, 900)):
        batch = Batch((), (part,), sellers=(Seller("house", 900, free, {"p-pot": 1000}),))
        found = buy_together(
            batch, answer([Purchase("part", "pot", "house", 1, 1500, "j", "pots")]), {"p-pot": 1}
        )
        assert found is not None
        assert freight_of(batch, (*found[0], *found[1])) == {"house": freight}
        assert paid(batch, found) == 2000 + freight


def test_a_pack_leaves_the_dearer_seller_when_spares_reach_its_free_freight() -> None:
    """A pot of 18.00 and paint of 2.16 are just free at 20.00; with a spare pot the paint may come from elsewhere."""
    house = Seller("house", 900, 2000, {"p-pot": 1000, "consumables": 1080})
    paints = Seller("paints", 0, None, {"consumables": 1000})
    batch = Batch(
        (),
        (BoughtPart("j", "pot", "pot", "p-pot", 1800),),
        (PackUse("j", "c-paint", None, 5),),
        (Pack("c-paint", 200, 10),),
        sellers=(house, paints),
    )
    known = answer(
        [Purchase("part", "pot", "house", 1, 1800, "j", "pot"), Purchase("pack", "c-paint", "house", 1, 216)]
    )
    without, with_one = (buy_together(batch, known, wanted) for wanted in ({}, {"p-pot": 1}))
    assert without is not None
    assert with_one is not None
    assert [p.seller for p in without[0]] == ["house", "house"]
    assert [p.seller for p in with_one[0]] == ["house", "paints"]
    assert (paid(batch, without), paid(batch, with_one)) == (2016, 3800)


def spare_words(path: Path, upgrade: str, more: str = "") -> tuple[Plan, str]:
    path.write_text(
        f'[batch]\nid = "s"\nstart = 2026-10-05\nspares = true\n{more}\n'
        f'[[job]]\nid = "one"\nfile = "{EXAMPLES}/tight-commission.toml"\nupgrades = ["{upgrade}"]\n'
    )
    found = plan_batch(study_batch(shop(), load_batch(path, shop())), search=Search(engine="rule", tries=0))
    assert isinstance(found, Plan)
    return found, " ".join("\n".join(order_lines(found.orders, "USD")).split())


@pytest.mark.slow
def test_spares_that_are_asked_for_and_not_ordered_are_told_why(tmp_path: Path) -> None:
    """One ready-cut nut is good 95 times in 100 (the shop's tables), a guard blank 92 times for an expert, 65 else."""
    path = tmp_path / "spares.toml"
    plan, words = spare_words(path, "ready-cut-nut-slippery-nut", '[[person]]\nid = "bench"\nskill = 4')
    assert plan.orders.no_spares.startswith("no spares are worth their money: ready-cut nut: 1 for 1 good")
    assert "no spares are worth their money: ready-cut nut: 1 for 1 good are enough at 90 % surety" in words
    assert as_data(PlanTold(plan))["no_spares"] == plan.orders.no_spares
    plan, words = spare_words(path, "set-up")
    assert "no spares are worth their money: nothing that is chosen takes a part of a kind that may" in words
    novice = '[[person]]\nid = "bench"\nskill = 3'
    plan, words = spare_words(path, "ready-cut-nut-slippery-nut", novice)
    assert "no spares" not in words
    assert [p.what for p in plan.answer.spares] == ["p-nutcut"]
    parcels = parcels_of(plan.study, plan.answer, plan.calendar)
    assert ("parts-house", "1 spare (ready-cut nut)") in [one for comes in parcels.values() for one in comes]
    (tmp_path / "week.json").write_text(kept_text(plan))
    late = '[[late]]\nsupplier = "parts-house"\nexpected = "2026-10-20"\n'
    (tmp_path / "state.toml").write_text(
        f'[state]\nplan = "week.json"\nnow = "2026-10-05 09:30"\nothers = "not-begun"\n{late}'
    )
    after = plan_again(
        plan.study, load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=0)
    ).plan
    assert (after.answer.spares, after.orders.extra, after.cash) == (
        plan.answer.spares,
        plan.orders.extra,
        plan.cash,
    )
    moved = parcels_of(after.study, after.answer, after.calendar, after.late)
    assert {day for day, comes in moved.items() for one in comes if one[0] == "parts-house"} == {
        date(2026, 10, 20)
    }
    assert as_data(PlanTold(plan))["no_spares"] is None
    most = f"{(plan.cash - 1) // 100}.{(plan.cash - 1) % 100:02d}"
    poor, words = spare_words(path, "ready-cut-nut-slippery-nut", f"cash = {most}\n{novice}")
    more = f"{plan.orders.extra // 100}.{plan.orders.extra % 100:02d} USD"
    assert f"no spares are ordered: they would take {more} more, and the cash of the batch leaves" in words
    assert poor.answer.spares == ()


def test_of_equal_orders_the_seller_named_first_sells() -> None:
    part = BoughtPart("j", "pot", "pot", "p-pot", 500)
    names = ("late", "early")
    for order in (names, names[::-1]):
        batch = Batch((), (part,), sellers=tuple(Seller(name, 0, None, {"p-pot": 1000}) for name in order))
        found = buy_together(
            batch, answer([Purchase("part", "pot", "late", 1, 500, "j", "pot")]), {"p-pot": 2}
        )
        assert found is not None
        assert {p.seller for p in (*found[0], *found[1])} == {order[0]}


def odds_of(chance: random.Random, wanted: dict[str, int]) -> dict[str, tuple[int, ...]]:
    return {
        c: tuple(sorted((chance.randint(1, 900_000) for _ in range(n)), reverse=True))
        for c, n in wanted.items()
    }


@pytest.mark.slow
def test_under_short_cash_those_spares_are_bought_that_are_likeliest_to_be_needed() -> None:
    """Every number of spares of every class, each bought by every way to share it out: the greatest odds for the cash."""
    chance = random.Random(7)
    partly = none = 0
    for _ in range(DRAWN):
        batch, chosen, wanted, things = draw(chance)
        if not wanted:
            continue
        needed = odds_of(chance, wanted)
        spare = {c: [t for t in things if t.kind == c][-1] for c in wanted}
        bare = things.copy()
        for c, n in wanted.items():
            for _ in range(n):
                bare.remove(spare[c])
        bills = {}
        for numbers in itertools.product(*(range(n + 1) for n in wanted.values())):
            extra = [spare[c] for c, n in zip(wanted, numbers, strict=True) for _ in range(n)]
            bills[numbers] = least(batch.sellers, [*bare, *extra])
        full, nothing = bills[tuple(wanted.values())], bills[tuple(0 for _ in wanted)]
        room = chance.randint(nothing, max(nothing, full - 1))
        odds = {
            numbers: sum(sum(needed[c][:n]) for c, n in zip(wanted, numbers, strict=True))
            for numbers in bills
        }
        best = max(odds[numbers] for numbers, bill_ in bills.items() if bill_ <= room)
        cheapest = min(bill_ for numbers, bill_ in bills.items() if bill_ <= room and odds[numbers] == best)
        found = buy_together(batch, chosen, wanted, ShortCash(room, needed))
        assert found is not None
        mine = tuple(sum(p.number for p in found[1] if p.what == c) for c in wanted)
        assert odds[mine] == best
        assert paid(batch, found) == cheapest <= room
        held = JointSolution(chosen.chosen, {}, (*found[0], *found[1]), {})
        assert purchase_breaches(batch, held) == []
        partly += 0 < sum(mine) < sum(wanted.values())
        none += sum(mine) == 0
    assert partly >= 10
    assert none >= 10


def test_the_order_says_how_many_spares_the_cash_reaches_for(tmp_path: Path) -> None:
    path = tmp_path / "two.toml"

    def made(cash: str) -> tuple[Plan, str]:
        path.write_text(
            f'[batch]\nid = "s"\nstart = 2026-10-05\nspares = true\n{cash}\n[[person]]\nid = "bench"\nskill = 3\n'
            f'[[job]]\nid = "one"\nfile = "{EXAMPLES}/tight-commission.toml"\n'
            'upgrades = ["nut-from-blank-bone", "guard-from-blank-standard"]\n'
        )
        found = plan_batch(
            study_batch(shop(), load_batch(path, shop())), search=Search(engine="rule", tries=0)
        )
        assert isinstance(found, Plan)
        return found, " ".join("\n".join(order_lines(found.orders, "USD")).split())

    rich, words = made("")
    assert "of 90 % surety" not in words
    number = sum(p.number for p in rich.answer.spares)
    assert number >= 2
    most = rich.cash - 1
    poor, words = made(f"cash = {most // 100}.{most % 100:02d}")
    bought = sum(p.number for p in poor.answer.spares)
    assert 0 < bought < number
    assert poor.cash <= most
    assert f"{bought} of {number} spares are ordered, those likeliest to be needed; for all of them" in words
