"""Donors, quantity breaks, moved parts, profit and pay an hour over several jobs, against a plain search.

The search goes through every combination of sets (and of jobs left out), every source of every part
and every number of packs, by the words of ``batch.records`` alone.
"""

from __future__ import annotations

import itertools
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.own_cash import with_own_cash
from estimator.batch.records import (
    Batch,
    BoughtPart,
    JobChoice,
    JointAnswer,
    MissingTool,
    MovedPart,
    Pack,
    PackUse,
    Seller,
)
from estimator.batch.solve_exact import choose_jointly
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, allowed, problems, stepped_price
from tests.slow.choose.test_sale_brute_force import money_of, resale_problems

slow = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
Sets = dict[str, Plain]


@st.composite
def batches(draw, sold: bool = False) -> Batch:  # type: ignore[no-untyped-def]
    """Up to two small jobs, some to be sold and some of those not bought yet, that share everything."""
    jobs, parts, uses, needed = [], [], [], []
    for number in range(draw(st.integers(1, 2))):
        name = draw(st.sampled_from((f"job {number}", ("near", "far")[number])))  # or as a supplier is called
        for_sale = sold or draw(st.booleans())
        problem = replace(draw(resale_problems(3) if for_sale else problems(3)), packs=())
        price = draw(st.sampled_from((None, 0, 1_500, 9_000))) if for_sale else None
        jobs.append(JobChoice(name, problem, measure_of(problem, stepped_price), STEPPED, buy_for=price))
        for piece in problem.pieces:
            if piece.id.startswith("part ") and piece.cash and piece.triggers:
                kind = draw(st.sampled_from(("p-a", "p-b")))
                many = draw(st.sampled_from(("1", "2", "0.5")))
                parts.append(BoughtPart(name, piece.triggers[0], piece.id, kind, piece.cash, many))
        for option in problem.options:
            if draw(st.booleans()):
                uses.append(PackUse(name, "paint", (option,), draw(st.sampled_from((300_000, 2_500_000)))))
        if draw(st.booleans()):
            uses.append(PackUse(name, "paint", None, 400_000))
        needed.append((name, draw(st.sampled_from((None, (draw(st.sampled_from(problem.options)),))))))
    steps = st.sampled_from(((), ((2, 800),), ((2, 900), (3, 500))))
    sellers = (
        Seller(
            "near",
            800,
            draw(st.sampled_from((None, 2000, 4000))),
            {"*": 1000, "consumables": 1000},
            breaks={"p-a": draw(steps), "paint": draw(steps)},
        ),
        Seller("far", 500, 3000, {"p-a": 900, "p-b": 950, "consumables": 1100}, breaks={"p-b": draw(steps)}),
    )[: draw(st.integers(0, 2))]
    moved = []
    for number in range(draw(st.integers(0, 2)) if len(jobs) > 1 and parts else 0):
        to = draw(st.sampled_from(parts))
        other = next(job for job in jobs if job.id != to.job)
        off = draw(st.sampled_from(other.problem.options))
        key = draw(st.sampled_from(("old bridge", f"old part {number}")))
        if all((m.id, m.to_job, m.upgrade) != (key, to.job, to.upgrade) for m in moved):
            forgone = draw(st.sampled_from((0, 700)))
            known = next((m for m in moved if m.id == key), None)
            if known is None:
                moved.append(MovedPart(key, other.id, (off,), to.job, to.upgrade, forgone))
            elif known.from_job == other.id:
                moved.append(replace(known, to_job=to.job, upgrade=to.upgrade))
    packs = (
        Pack("paint", 700, 2_000_000, draw(st.sampled_from((0, 500_000, 3_000_000))), draw(st.booleans())),
    )
    tools = (
        MissingTool(
            "jig", draw(st.sampled_from((0, 900))), tuple(needed), draw(st.sampled_from((None, 500)))
        ),
    )
    return Batch(
        tuple(jobs), tuple(parts), tuple(uses), packs, tools, sellers, tuple(moved), lost=draw(st.booleans())
    )


@st.composite
def stocked(draw) -> Batch:  # type: ignore[no-untyped-def]
    """A batch with some parts in stock, and jobs with a limit on their own cash."""
    batch = draw(batches())
    parts = tuple(replace(p, shelf=draw(st.sampled_from(("a", "a", "b", "")))) for p in batch.parts)
    pieces = {shelf: draw(st.integers(0, 3)) for shelf in ("a", "b")}
    jobs = []
    for job in batch.jobs:
        limits = [rule.most for rule in job.problem.rules if (rule.kind, rule.on) == ("money", "cash")]
        rules = tuple(rule for rule in job.problem.rules if (rule.kind, rule.on) != ("money", "cash"))
        free = replace(job, problem=replace(job.problem, rules=rules))
        near = [by_itself(batch, free, it, []) for it in allowed(free.problem)[-1:]]
        cash = draw(st.sampled_from((None, *limits, *(most - less for most in near for less in (0, 1, 300)))))
        jobs.append(replace(free, cash=cash))
    return with_own_cash(replace(batch, jobs=tuple(jobs), parts=parts, pieces=pieces))


def does(sets: Sets, job: str, triggers: tuple[str, ...] | None) -> bool:
    return job in sets and (triggers is None or bool(set(triggers) & set(sets[job].chosen)))


def tool_costs(tool: MissingTool, users: set[str]) -> int:
    """Nothing, once its price, or a rent for every job: the least."""
    bought = tool.cents if users else 0
    return bought if tool.rent is None else min(bought, tool.rent * len(users))


def price_of(house: Seller, what: str, broken: str, cents: int, thousandths: int) -> int | None:
    """Half up, once, of list price x the seller's share x the share of the quantity reached."""
    share = house.sells.get(what, house.sells.get("*") if what != "consumables" else None)
    if share is None:
        return None
    less = 1000
    for begin, at in house.breaks.get(broken, ()):
        less = at if thousandths >= begin * 1000 else less
    exact = Fraction(cents * share * less, 1_000_000)
    return int(exact + Fraction(1, 2))


def cheapest_pack(houses: list[Seller], pack: Pack) -> int:
    """What a pack costs where it is cheapest, at the best break there is."""
    found = [
        cents
        for h in houses
        for many in (0, 10**9)
        if (cents := price_of(h, "consumables", "paint", pack.list_cents, many)) is not None
    ]
    return min(found, default=pack.list_cents)


def ways(batch: Batch, sets: Sets) -> list[tuple[int, int, int]]:
    """(added to cost, added to cash, forgone) for every way to come by what the sets need."""
    wanted = [p for p in batch.parts if does(sets, p.job, (p.upgrade,))]
    used = [u for u in batch.uses if does(sets, u.job, u.triggers)]
    need, pack = sum(u.millionths for u in used), batch.packs[0]
    fixed = sum(tool_costs(t, {job for job, who in t.needed_by if does(sets, job, who)}) for t in batch.tools)
    fixed += sum(job.buy_for or 0 for job in batch.jobs if job.id in sets)
    worth = sum(int(Fraction(u.millionths * pack.list_cents, pack.holds) + Fraction(1, 2)) for u in used)
    listed = sum(p.list_cents for p in wanted)
    houses = list(batch.sellers)

    def sellers_of(what: str) -> list[Seller | None]:
        return [h for h in houses if price_of(h, what, "", 100, 0) is not None] or [None]

    found = []
    sources: list[list[tuple[int, Any]]] = []
    for p in wanted:
        moves = [m for m in batch.moved if (m.to_job, m.upgrade) == (p.job, p.upgrade)]
        free = [m for m in moves if does(sets, m.from_job, m.off)]
        there = min(batch.pieces.get(p.shelf, 0), int(float(p.quantity))) if p.shelf else 0
        whole = there == Fraction(p.quantity)
        bought = [(k, s) for k in range(there + (not whole)) for s in sellers_of(p.part_class)]
        all_there = [(there, "stock")] if whole else []
        sources.append([*bought, *all_there, *((0, m) for m in free)])
    paint = sellers_of("consumables")
    for way in itertools.product(*sources):
        if any(
            sum(k for p, (k, _) in zip(wanted, way, strict=True) if p.shelf == shelf) > number
            for shelf, number in batch.pieces.items()
        ):
            continue
        # what is in stock is used first
        if any(
            sum(k for p, (k, _) in zip(wanted, way, strict=True) if p.shelf == shelf) < number
            and any(
                p.shelf == shelf and not isinstance(s, MovedPart) and Fraction(p.quantity) - k >= 1
                for p, (k, s) in zip(wanted, way, strict=True)
            )
            for shelf, number in batch.pieces.items()
        ):
            continue
        used_up = [listed_part(p, k) for p, (k, _) in zip(wanted, way, strict=True)]
        lucky = [(p.job, p.shelf, k) for p, (k, _) in zip(wanted, way, strict=True) if k]
        if any(
            job.cash is not None and job.id in sets and by_itself(batch, job, sets[job.id], lucky) > job.cash
            for job in batch.jobs
        ):
            continue
        stock = sum(
            min(
                [
                    cents,
                    *(
                        price
                        for h in houses
                        for many in (0, 10**9)
                        if (price := price_of(h, p.part_class, p.part_class, cents, many)) is not None
                    ),
                ]
            )
            for p, cents in zip(wanted, used_up, strict=True)
        )
        source = [s for _, s in way]
        taken = [s.id for s in source if isinstance(s, MovedPart)]
        if len(taken) > len(set(taken)):
            continue
        forgone = sum(s.forgone for s in source if isinstance(s, MovedPart))
        for counts in itertools.product(range(8), repeat=len(paint)):
            over = sum(counts) * pack.holds + pack.stock - need
            if over < 0 or (not batch.lost and sum(counts) and over > pack.holds - 1):
                continue
            baskets: dict[str, int] = {}
            paid = 0
            for p, (_, s), gone in zip(wanted, way, used_up, strict=True):
                if isinstance(s, Seller):
                    many = sum(
                        int(Fraction(q.quantity) * 1000) - 1000 * n
                        for q, (n, other) in zip(wanted, way, strict=True)
                        if other is s and q.part_class == p.part_class
                    )
                    cents = price_of(s, p.part_class, p.part_class, p.list_cents - gone, many) or 0
                    baskets[s.id] = baskets.get(s.id, 0) + cents
                    paid += cents
                elif s is None:
                    paid += p.list_cents - gone
            spent = 0
            for number, s in zip(counts, paint, strict=True):
                cents = pack.list_cents
                if s is not None and number:
                    cents = price_of(s, "consumables", "paint", pack.list_cents, number * 1000) or 0
                    baskets[s.id] = baskets.get(s.id, 0) + number * cents
                spent += number * cents
            freight = sum(
                h.freight
                for h in houses
                if h.id in baskets and not (h.free_from is not None and baskets[h.id] >= h.free_from)
            )
            cheapest = cheapest_pack(houses, pack)
            counted = spent if pack.in_cost else spent - (worth if batch.lost else sum(counts) * cheapest)
            both = fixed + freight + paid - listed
            found.append((both + counted + stock, both + spent, forgone))
    return found


def by_itself(batch: Batch, job: JobChoice, it: Plain, lucky: list[tuple[str, str, int]]) -> int:
    """The least cash of a job's set if nothing were shared: its own parcels, packs and tools, and part of the shelf.

    ``lucky``: job, shelf and number of the pieces that come from the stock.
    """
    pieces: dict[str, int] = {}
    for name, shelf, number in lucky:
        if name == job.id:
            pieces[shelf] = pieces.get(shelf, 0) + number
    alone = replace(
        batch,
        jobs=(replace(job, cash=None, buy_for=None),),
        parts=tuple(p for p in batch.parts if p.job == job.id),
        uses=tuple(u for u in batch.uses if u.job == job.id),
        packs=tuple(replace(pack, stock=job.shelf.get(pack.consumable, 0)) for pack in batch.packs),
        tools=tuple(
            replace(t, needed_by=tuple(n for n in t.needed_by if n[0] == job.id)) for t in batch.tools
        ),
        moved=(),
        pieces=pieces,
    )
    return it.cash + min(laid for _, laid, _ in ways(alone, {job.id: it}))


def listed_part(part: BoughtPart, pieces: int) -> int:
    """The list price of so many pieces of a part, a fraction of a cent left out."""
    return int(pieces * Fraction(part.list_cents) / Fraction(part.quantity))


def every(batch: Batch) -> list[tuple[Sets, int, int, int]]:
    """Every combination of sets with every way to buy: (sets, cost, cash, money left)."""
    each = []
    for job in batch.jobs:
        sets: list[Plain | None] = list(allowed(job.problem))
        each.append(sets if job.buy_for is None else [None, *sets])
    out = []
    for combination in itertools.product(*each):
        sets = {job.id: it for job, it in zip(batch.jobs, combination, strict=True) if it is not None}
        cost, cash = sum(it.cost for it in sets.values()), sum(it.cash for it in sets.values())
        left = 0
        for job in batch.jobs:
            if job.id in sets:
                it = sets[job.id]
                left += -it.cost if job.problem.sale is None else money_of(job.problem, it)[0]
        out += [
            (sets, cost + more, cash + laid, left - more - less) for more, laid, less in ways(batch, sets)
        ]
    return out


def hourly(batch: Batch, sets: Sets, left: int) -> Fraction | None:
    """Cents an hour: money left, instruments paid for, and the wanted pay that the costs hold."""
    money, time = Fraction(left), 0
    for job in batch.jobs:
        if job.id in sets:
            sale = job.problem.sale
            assert sale is not None
            minutes = money_of(job.problem, sets[job.id])[1]
            money += Fraction(sale.pay * minutes, 6000) - (sale.paid if job.buy_for is None else 0)
            time += minutes
    return money * 6000 / time if time else None


@pytest.mark.slow
@slow
@given(batches(), st.sampled_from(("cost", "cash", "profit")), st.booleans())
def test_all_that_is_shared_equals_the_plain_search(batch: Batch, aim: str, tight: bool) -> None:
    found = every(batch)
    if not found:
        assert choose_jointly(batch, aim, engine="highs").status == "infeasible"
        return
    if tight:  # between the least and the most that could be laid out
        laid = sorted(cash for _, _, cash, _ in found)
        batch = replace(batch, cash=max(0, laid[len(laid) // 3]))
        found = [it for it in found if it[2] <= (batch.cash or 0)]
    answer = choose_jointly(batch, aim, engine="highs")
    if not found:
        assert answer.status == "infeasible"
        return
    if aim == "profit":
        best = max(left for *_, left in found)
    else:
        best = min(it[1 if aim == "cost" else 2] for it in found)
    assert answer.status == "optimal"
    assert answer.gap == 0
    assert answer.objective == best
    event(f"left out: {len(answer.left_out)}")
    event(f"moved: {sum(p.kind == 'moved' for p in answer.purchases)}")
    held_by(batch, aim, answer)
    # whatever the aim, no other way to buy what these sets need takes less out of the till
    if aim != "profit":
        same = [
            cash
            for sets, _, cash, _ in found
            if {j: it.chosen for j, it in sets.items()} == dict(answer.chosen)
        ]
        least = min(same)
        assert answer.cash == least


@pytest.mark.slow
@slow
@given(stocked(), st.sampled_from(("cost", "cash", "profit")), st.booleans())
def test_one_stock_of_parts_equals_the_plain_search(batch: Batch, aim: str, tight: bool) -> None:
    found = every(batch)
    if tight and found:
        laid = sorted(cash for _, _, cash, _ in found)
        batch = replace(batch, cash=max(0, laid[len(laid) // 4]))
        found = [it for it in found if it[2] <= (batch.cash or 0)]
    answer = choose_jointly(batch, aim)
    if not found:
        assert answer.status == "infeasible"
        return
    best = (
        max(it[3] for it in found) if aim == "profit" else min(it[1 if aim == "cost" else 2] for it in found)
    )
    assert (answer.status, answer.objective) == ("optimal", best)
    if aim != "profit":
        same = [it for it in found if {j: s.chosen for j, s in it[0].items()} == dict(answer.chosen)]
        assert answer.cash == min(it[2] for it in same)
    parts = {(p.job, p.upgrade): p for p in batch.parts}
    taken = dict.fromkeys(batch.pieces, 0)
    for p in answer.purchases:
        if p.kind == "stock":
            taken[parts[p.job, p.upgrade].shelf] += p.number
    assert all(number <= batch.pieces[shelf] for shelf, number in taken.items())
    event(
        f"from stock: {sum(taken.values())}, all of it: {any(n and n == batch.pieces[s] for s, n in taken.items())}"
    )
    held_by(batch, aim, answer)


def test_nothing_is_bought_that_no_aim_asks_for() -> None:
    problem = sample(0)
    job = JobChoice("j", problem, measure_of(problem, stepped_price), STEPPED)
    batch = Batch(
        (job,),
        (BoughtPart("j", "knob", "knob", "p-knob", 700),),
        (PackUse("j", "paint", None, 100),),
        (Pack("paint", 700, 2_000_000),),
        (MissingTool("jig", 900, (("j", ("knob",)),)),),
        (
            Seller("dear", 0, None, {"*": 1000, "consumables": 1200}),
            Seller("fair", 0, None, {"*": 900, "consumables": 1000}),
        ),
        lost=True,
    )
    bare = choose_jointly(batch, "hours", engine="highs")
    assert [(p.kind, p.seller, p.number) for p in bare.purchases] == [("pack", "fair", 1)]
    must = replace(job, problem=replace(problem, rules=(required(),)))
    made = choose_jointly(replace(batch, jobs=(must,)), "hours", engine="highs")
    assert sorted((p.kind, p.seller, p.cents) for p in made.purchases) == [
        ("pack", "fair", 700),
        ("part", "fair", 630),
        ("tool", "", 900),
    ]


def held_by(batch: Batch, aim: str, answer: JointAnswer) -> None:
    """The same batch taken apart: never better than the optimum, and the bound holds."""
    apart = choose_by_columns(batch, aim)
    assert answer.objective is not None
    assert apart.bound is not None
    turned = -1 if aim == "profit" else 1
    assert turned * apart.bound <= turned * answer.objective
    if apart.objective is not None:
        assert turned * answer.objective <= turned * apart.objective
        assert batch.cash is None or apart.cash <= batch.cash
    else:
        assert apart.status == "no-answer"


@pytest.mark.slow
@slow
@given(batches(sold=True), st.sampled_from((0, 3_000, 12_000)))
def test_pay_an_hour_equals_the_plain_search(batch: Batch, dearer: int) -> None:
    batch = replace(batch, jobs=tuple(bought_for_more(job, dearer) for job in batch.jobs))
    found = every(batch)
    timed = [it for it in found if hourly(batch, it[0], it[3]) is not None]
    answer = choose_jointly(batch, "hourly", engine="highs")
    if not found:
        assert answer.status == "infeasible"
        return
    assert answer.status == "optimal"
    assert answer.objective is not None
    gains = [gain(batch, sets, left) for sets, *_, left in found]
    losing = all(gain(batch, sets, left) < 0 for sets, *_, left in timed)
    assert answer.none_earns == losing
    event("none earns" if losing else "some earn")
    if not losing:
        rates = [rate for sets, *_, left in timed if (rate := hourly(batch, sets, left)) is not None]
        assert abs(answer.objective - max(rates)) <= Fraction(1, 2)
        return
    # no more is lost than need be, and the pay told is that of these sets bought one of the best ways
    mine = [it for it in found if {j: s.chosen for j, s in it[0].items()} == dict(answer.chosen)]
    told = [it for it in mine if gain(batch, it[0], it[3]) == max(gains)]
    assert told
    exact = hourly(batch, told[0][0], told[0][3])
    assert abs(answer.objective - (exact or 0)) <= Fraction(1, 2)
    event(f"left out: {len(answer.left_out)} of {len(batch.jobs)}")


def bought_for_more(job: JobChoice, more: int) -> JobChoice:
    """A job whose instrument costs so much more, be it there or to be bought."""
    sale = job.problem.sale
    assert sale is not None
    if job.buy_for is not None:
        return replace(job, buy_for=job.buy_for + more)
    return replace(job, problem=replace(job.problem, sale=replace(sale, paid=sale.paid + more)))


def gain(batch: Batch, sets: Sets, left: int) -> int:
    """Money left less what was paid for the instruments that are there, in cents."""
    there = [job.problem.sale for job in batch.jobs if job.id in sets and job.buy_for is None]
    return left - sum(sale.paid for sale in there if sale is not None)


def test_a_donor_that_does_not_pay_is_left_where_it_is() -> None:
    problem = next(
        p
        for seed in range(1000)
        if (p := sample(seed)).sale is not None and allowed(p) and money_of(p, best_of(p))[0] > 1000
    )
    worth = money_of(problem, best_of(problem))[0]
    job = JobChoice("donor", problem, measure_of(problem, stepped_price), STEPPED, buy_for=worth - 1)
    taken = choose_jointly(Batch((job,)), "profit", engine="highs")
    assert (taken.left_out, taken.objective) == ((), 1)
    assert [(p.kind, p.what, p.cents) for p in taken.purchases] == [("donor", "donor", worth - 1)]
    left = choose_jointly(Batch((replace(job, buy_for=worth + 1),)), "profit", engine="highs")
    assert (left.left_out, left.objective, left.purchases, left.cash) == (("donor",), 0, (), 0)
    poor = choose_jointly(Batch((job,), cash=worth - 2), "profit", engine="highs")
    assert (poor.left_out, poor.objective) == (("donor",), 0)


def best_of(problem):  # type: ignore[no-untyped-def]
    return max(allowed(problem), key=lambda it: money_of(problem, it)[0])


def sample(seed: int):  # type: ignore[no-untyped-def]
    """A resale problem of a fixed kind: one option that may or may not lift its price."""
    from decimal import Decimal

    from estimator.model.problem import CostPiece, Problem
    from estimator.model.sale_problem import Sale, Standing, Uplift

    pieces = (
        CostPiece("base", None, 500, 300, 0, 0, 900, 1.0, "base", 0),
        CostPiece("part knob", ("knob",), 700, 700, 700, 0, 0, 0.0, "", 0),
    )
    lift = Uplift("u", "g", "knob", 900 + seed, (("knob",),))
    sale = Sale(
        "local",
        9000,
        12000,
        Standing("as it is", 5000),
        (),
        (lift,),
        (),
        (),
        Decimal("0.7"),
        0,
        0,
        900,
        3000,
    )
    return Problem(("knob",), (), (), (), pieces, (), (), (), 0.0, 0.0, 0.0, sale)


@pytest.mark.parametrize(("number", "paid"), [(9, 9 * 300), (10, 10 * 270)])
def test_a_quantity_break_by_hand(number: int, paid: int) -> None:
    # pots at 3.00; from ten on all of them cost 0.90 of it
    problem = replace(sample(0), sale=None)
    jobs = tuple(
        JobChoice(f"j{n}", replace(problem, rules=()), measure_of(problem, stepped_price), STEPPED)
        for n in range(number)
    )
    must = tuple(replace(j, problem=replace(j.problem, rules=(required(),))) for j in jobs)
    parts = tuple(BoughtPart(j.id, "knob", "pot", "p-pot", 700) for j in must)
    seller = Seller("house", 0, None, {"*": 1000}, breaks={"p-pot": ((10, 900),)})
    parts = tuple(replace(p, list_cents=300) for p in parts)
    answer = choose_jointly(Batch(must, parts, sellers=(seller,)), "cost", engine="highs")
    assert sum(p.cents for p in answer.purchases) == paid


def test_a_job_called_like_a_supplier_sends_no_parcel() -> None:
    problem = replace(sample(0), sale=None, rules=(required(),))
    jobs = tuple(
        JobChoice(name, problem, measure_of(problem, stepped_price), STEPPED) for name in ("house", "b")
    )
    part = BoughtPart("b", "knob", "pot", "p-pot", 700)
    move = MovedPart("old knob", "house", ("knob",), "b", "knob")
    batch = Batch(jobs, (part,), sellers=(Seller("house", 800, None, {"*": 1000}),), moved=(move,))
    answer = choose_jointly(batch, "cost", engine="highs")
    assert [(p.kind, p.seller, p.off_job) for p in answer.purchases] == [("moved", "", "house")]
    assert (answer.freight, answer.cash) == ({}, 2 * 300 + 700)


def required():  # type: ignore[no-untyped-def]
    from estimator.model.problem import Rule, Source

    return Rule(Source.REQUIRED, "required", "knob is required", upgrades=("knob",), of="knob")


@pytest.mark.parametrize(("cents", "classes"), [(899, ["tool"]), (900, ["tool"]), (901, ["rent", "rent"])])
def test_at_the_same_price_a_tool_is_bought_not_rented(cents: int, classes: list[str]) -> None:
    problem = sample(0)
    must = replace(problem, rules=(required(),))
    jobs = tuple(JobChoice(name, must, measure_of(must, stepped_price), STEPPED) for name in ("a", "b"))
    tool = MissingTool("jig", cents, (("a", ("knob",)), ("b", ("knob",))), 450)
    made = choose_jointly(Batch(jobs, (), (), (), (tool,), ()), engine="highs")
    assert [p.kind for p in made.purchases] == classes
    assert made.cash - sum(job.measure(made.chosen[job.id]).cash for job in jobs) == min(cents, 900)
