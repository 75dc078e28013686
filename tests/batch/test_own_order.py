"""A job's own limit on cash holds its parcels, what its sellers ask and its tools as if the job ordered by itself.

Drawn batches are held against a search through every combination of sets, every way to buy what they share, and
for each job with a limit every way to buy its own by itself.
"""

from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from estimator.batch.choose import ways_out
from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.own_cash import with_own_cash
from estimator.batch.records import Batch, BoughtPart, JobChoice, MissingTool, Pack, PackUse, Seller
from estimator.batch.solve_exact import choose_jointly
from estimator.choose.measure import Measure
from tests.batch.test_own_cash import job_of, limit_of, piece
from tests.choose.strategies import allowed
from tests.slow.batch.test_brute_force import by_itself, every

DRAWN = 80
PAINT = "paint"
HOUSE = Seller("house", 800, 2000, {"*": 1000, "consumables": 1000}, breaks={"p-a": ((2, 900),)})
FAR = Seller("far", 500, None, {"p-a": 700, "p-b": 800, "consumables": 1100})
JIG = MissingTool("jig", 900, (), 500)


def draw(seed: int) -> Batch:
    """One or two jobs of two or three upgrades, with a part, a pack, a tool and up to two sellers for both."""
    chance = random.Random(seed)
    jobs, parts, used, needed = [], [], [], []
    for number in range(chance.randint(1, 2)):
        name, options = f"job-{number}", tuple(f"u{n}" for n in range(chance.randint(2, 3)))
        pieces = [piece("base", None, 500, 300)]
        for option in options:
            price = chance.choice((0, 700, 1100))
            pieces.append(piece(f"work {option}", (option,), chance.choice((100, 250, 900)), 0))
            if price:
                pieces.append(piece(f"part {option}", (option,), price, price))
                kind, shelf = chance.choice((("p-a", "knob"), ("p-b", "")))
                parts.append(BoughtPart(name, option, f"part {option}", kind, price, shelf=shelf))
            if chance.random() < 0.5:
                used.append(PackUse(name, PAINT, (option,), chance.choice((300_000, 2_500_000))))
        if chance.random() < 0.6:
            needed.append((name, (chance.choice(options),)))
        worth = {option: 1000 * chance.randint(1, 3) for option in options}
        wanted = chance.randint(0, sum(worth.values()) // 1000) * 1000
        jobs.append(job_of(name, tuple(pieces), worth, wanted, 0 if chance.random() < 0.8 else None))
    batch = Batch(
        tuple(jobs),
        tuple(parts),
        tuple(used),
        (Pack(PAINT, 700, 2_000_000, chance.choice((0, 500_000, 3_000_000)), chance.random() < 0.3),),
        (replace(JIG, needed_by=tuple(needed), rent=chance.choice((None, 500))),),
        (HOUSE, FAR)[: chance.choice((1, 2, 2))],
        pieces={"knob": chance.choice((0, 0, 1))},
    )
    return at_the_limits(batch, chance)


def at_the_limits(batch: Batch, chance: random.Random) -> Batch:
    """The jobs' limits at what some set would lay out by itself, with nothing from the stock, or a little below."""
    bare = with_own_cash(batch)
    jobs = []
    for job in bare.jobs:
        if job.cash is not None:
            laid = sorted(by_itself(bare, job, it, []) for it in allowed(job.problem))
            most = max(0, chance.choice(laid[: 1 + len(laid) // 2]) - chance.choice((0, 0, 1, 700)))
            job = replace(job, cash=most)
        jobs.append(job)
    return replace(bare, jobs=tuple(jobs))


def best(batch: Batch) -> tuple[int, int] | None:
    return min(((cost, cash) for _, cost, cash, _ in every(batch)), default=None)


@pytest.mark.parametrize("seed", range(DRAWN))
def test_drawn_batches_equal_the_search_through_all_orders(seed: int) -> None:
    batch = draw(seed)
    wanted = best(batch)
    found = choose_jointly(batch, "cost,cash")
    if wanted is None:
        assert found.status == "infeasible"
        return
    assert (found.status, (found.objective, found.cash)) == ("optimal", wanted)
    assert set(found.own_orders) == {job.id for job in batch.jobs if job.cash is not None}
    for job in batch.jobs:
        if job.cash is None:
            continue
        lucky = [(p.job, "knob", p.number) for p in found.purchases if p.kind == "stock" and p.job == job.id]
        (it,) = (it for it in allowed(job.problem) if it.chosen == found.chosen[job.id])
        assert found.own_orders[job.id].cash == by_itself(batch, job, it, lucky) <= job.cash
    apart = choose_by_columns(batch, "cost")
    assert apart.bound is not None
    assert apart.bound <= wanted[0]
    assert apart.objective is None or apart.objective >= wanted[0]


@pytest.mark.parametrize("what", ["freight", "prices", "tools"])
def test_the_drawn_batches_turn_on_it(what: str) -> None:
    """Else the search would say nothing of it: in some of the batches another set would win if the limits left it out."""

    def without(batch: Batch) -> Batch:
        if what == "tools":
            return replace(batch, tools=())
        sellers = tuple(
            replace(s, freight=0)
            if what == "freight"
            else replace(s, sells=dict.fromkeys(s.sells, 1000), breaks={})
            for s in batch.sellers
        )
        return replace(batch, sellers=sellers)

    def kept(batch: Batch, limits: Batch) -> set[tuple[tuple[str, tuple[str, ...]], ...]]:
        """The combinations of sets that keep the limits as the orders of ``limits`` come out."""
        return {
            tuple((job, it.chosen) for job, it in sets.items())
            for sets, *_ in every(replace(limits, cash=None, jobs=batch.jobs))
        }

    other = [
        seed for seed in range(DRAWN) if kept(draw(seed), draw(seed)) != kept(draw(seed), without(draw(seed)))
    ]
    assert len(other) > DRAWN // 10


def two(limits: tuple[int | None, int | None]) -> Batch:
    """Two jobs that must do one piece of work: a part at 7.00, half a tin of paint at 9.00, a jig at 9.00 or rented at 5.00.

    One seller, whose parcel takes 8.00, and nothing from 20.00 on.
    """
    pieces = (piece("base", None, 500, 0), piece("part", ("shield",), 700, 700))
    jobs = tuple(
        job_of(name, pieces, {"shield": 1000}, 1000, limit)
        for name, limit in zip(("first", "second"), limits, strict=True)
    )
    batch = Batch(
        jobs,
        tuple(BoughtPart(job.id, "shield", "part", "p-b", 700) for job in jobs),
        tuple(PackUse(job.id, PAINT, ("shield",), 1_000_000) for job in jobs),
        (Pack(PAINT, 900, 2_000_000),),
        (replace(JIG, needed_by=tuple((job.id, ("shield",)) for job in jobs)),),
        (HOUSE,),
    )
    return with_own_cash(batch)


ALONE = 700 + 900 + 800 + 500
"""Part, tin, parcel, rented jig."""


def test_by_hand_each_limit_holds_the_parcel_and_the_tool_that_its_job_would_take() -> None:
    # together: two parts and one tin, 23.00, so the parcel is free; one jig at 9.00
    both = choose_jointly(two((ALONE, ALONE)), "cash")
    assert (both.status, both.cash) == ("optimal", 2 * 700 + 900 + 900)
    order = both.own_orders["first"]
    assert (order.cash, order.sent, order.got) == (ALONE, 800, 500)
    for limits, status in (
        ((ALONE - 1, ALONE), "infeasible"),
        ((ALONE, ALONE - 1), "infeasible"),
        ((ALONE, None), "optimal"),
    ):
        assert choose_jointly(two(limits), "cash").status == status


def test_what_a_limit_would_have_to_be_is_told() -> None:
    assert ways_out(two((ALONE - 1, ALONE)), "USD") == ("the own limit on cash of first: at least 29.00 USD",)
    assert ways_out(two((ALONE - 1, 0)), "USD") == (
        "the own limits on cash together: of first at least 29.00 USD, of second at least 29.00 USD",
    )


def test_jobs_that_are_left_out_lay_nothing_out() -> None:
    batch = two((ALONE - 1, None))
    jobs = tuple(replace(job, buy_for=300 if job.id == "first" else None) for job in batch.jobs)
    found = choose_jointly(replace(batch, jobs=jobs), "cash")
    assert (found.status, found.left_out, dict(found.own_orders)) == ("optimal", ("first",), {})


def test_without_a_limit_no_order_is_made() -> None:
    batch = two((None, None))
    assert all(isinstance(job, JobChoice) and limit_of(job) is None for job in batch.jobs)
    found = choose_jointly(batch, "cash")
    assert all(isinstance(told, Measure) for told in found.measures.values())
    assert dict(found.own_orders) == {}
