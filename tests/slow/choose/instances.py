"""Seeded problems of the size of real jobs and beyond: the shape of a bench, numbers at random."""

from __future__ import annotations

import random

from msgspec.structs import replace

from estimator.model import Baskets, Good, Packs, ParcelFreight
from estimator.model.problem import Amount, CostPiece, Giver, Problem, Rule, Scale, Source


def typical(options: int, seed: int, attributes: int = 8, surety: float = 0.0) -> Problem:
    """Slots of about three, shared work, growing runs, joint effects, caps, wear charged by use.

    The wish asks for level 3 of most attributes; there is no budget, so it can usually be met.
    """
    rng = random.Random(seed)
    names = tuple(f"u{i:04d}" for i in range(options))
    slots, start = [], 0
    while start < options:
        size = rng.choice((2, 3, 3, 4))
        slots.append((f"slot {start}", names[start : start + size]))
        start += size
    pieces = [CostPiece("base", None, 1500, 900, 0, 600, 3000, 4.0, "base", 0)]
    for name in names:
        price = rng.randint(300, 9000)
        pieces.append(
            CostPiece(
                f"part {name}", (name,), price, price, price * 3 // 2, 0, 0, 0.0, "", rng.randint(-300, 300)
            )
        )
        minutes = rng.randint(200, 6000)
        pieces.append(
            CostPiece(
                f"fit {name}",
                (name,),
                minutes * 60 // 100 + rng.randint(0, 200),
                rng.randint(0, 200),
                0,
                rng.randint(0, 200),
                minutes,
                minutes / 1000,
                f"fit {name}",
                0,
            )
        )
    pieces.append(CostPiece("strings off", names, 400, 0, 0, 0, 600, 1.0, "strings", 0))
    for k in range(max(2, options // 5)):
        users = tuple(sorted(rng.sample(names, rng.randint(2, min(12, options)))))
        minutes = rng.randint(300, 4000)
        pieces.append(
            CostPiece(
                f"task {k}", users, minutes * 6 // 10, 50, 0, 50, minutes, minutes / 900, f"task {k}", 0
            )
        )
        if k % 3 == 0 and len(users) > 2:
            fewer = tuple(sorted(rng.sample(users, len(users) // 2)))
            more = rng.randint(100, 900)
            pieces.append(
                CostPiece(
                    f"task {k} more", fewer, more * 6 // 10, 20, 0, 20, more, more / 900, f"task {k}", 0
                )
            )
    prerequisites = tuple((names[i], tuple(sorted(rng.sample(names, 3)))) for i in range(0, options, 7))
    conflicts = tuple((min(a, b), max(a, b)) for a, b in (rng.sample(names, 2) for _ in range(options // 10)))
    scales, rules = [], []
    for k in range(attributes):
        givers = rng.sample(names, min(options, max(4, options // 4)))
        third = max(1, len(givers) // 3)
        tos = tuple(Giver(rng.choice((20, 30, 30, 40)), (g,)) for g in givers[:third])
        adds = tuple(
            Giver(10, (g,), (rng.choice(names),) if i % 4 == 3 else (), f"task {i % 5}" if i % 3 == 0 else "")
            for i, g in enumerate(givers[third:])
        )
        caps = (Giver(20, (rng.choice(names),)),)
        limits = ((f"a{k - 1}", 10),) if k % 3 == 2 else ()
        scales.append(Scale(f"a{k}", rng.choice((0, 10, 10)), tos, adds, caps, limits))
        least = 30 if k % 4 else 20
        rules.append(
            Rule(Source.WISH, "level", f"a{k} at least level {least / 10:g}", f"a{k}", least, of=f"a{k}")
        )
    amounts = (Amount("weight", 3_600_000, (), True),)
    rules.append(Rule(Source.WISH, "amount", "weight at most 3.65 kg", "weight", most=3_650_000, of="weight"))
    return Problem(
        names,
        tuple(slots),
        prerequisites,
        conflicts,
        tuple(pieces),
        tuple(scales),
        amounts,
        tuple(rules),
        surety,
        surety,
        0.2,
    )


def ordered(problem: Problem, seed: int, packs: int = 6) -> Problem:
    """A typical problem with ``packs`` consumables that count whole, and three suppliers that send parcels."""
    rng = random.Random(seed)
    names = problem.options
    bought = []
    for k in range(packs):
        users = tuple(sorted(rng.sample(names, max(3, len(names) // 6))))
        more = tuple(sorted(rng.sample(users, len(users) // 2)))
        uses = [(users, rng.randint(3, 12)), (more, rng.randint(2, 10))]
        uses += [((name,), rng.randint(2, 9)) for name in users[:4]]
        price, size = rng.choice((700, 1200, 2400)), rng.choice((10, 20, 50))
        bought.append(Packs(f"c{k}", price, size, rng.choice((0, 0, 5)), tuple(uses), True))
    goods = []
    for name in names:
        price = next(piece.cost for piece in problem.pieces if piece.id == f"part {name}")
        special = (("specialist", price * 95 // 100),) if rng.random() < 0.4 else ()
        goods.append(Good(name, price, (("house", price), *special), (name,)))
    for item in bought:
        offers = (("store", item.cents), ("house", item.cents * 108 // 100))
        goods.append(Good(item.consumable, item.cents, offers, consumable=item.consumable))
    parcels = (
        ParcelFreight("house", 900, 7500),
        ParcelFreight("specialist", 1200, 10000),
        ParcelFreight("store", 750, 5000),
    )
    return replace(problem, packs=tuple(bought), baskets=Baskets(tuple(goods), parcels))


def cover(profits: list[int], weights: list[list[int]], limits: list[int]) -> Problem:
    """A multidimensional knapsack turned round: the cheapest set that still meets every line.

    maximise p.x with R x <= b becomes, with y = 1 - x, minimise p.y with R y >= row sums - b.
    """
    names = tuple(f"i{n:03d}" for n in range(1, len(profits) + 1))
    pieces = tuple(CostPiece(n, (n,), p, p, 0, 0, 0, 0.0, n, 0) for n, p in zip(names, profits, strict=True))
    amounts, rules = [], []
    for k, (row, limit) in enumerate(zip(weights, limits, strict=True)):
        changes = tuple(Giver(w, (n,)) for n, w in zip(names, row, strict=True) if w)
        amounts.append(Amount(f"line {k}", 0, changes, False))
        least = sum(row) - limit
        rules.append(Rule(f"line {k}", "amount", f"line {k} at least {least}", f"line {k}", least))
    return Problem(names, (), (), (), pieces, (), tuple(amounts), tuple(rules), 0.0, 0.0, 0.0)


def hard_cover(items: int, lines: int, seed: int) -> Problem:
    """A large random instance, too hard to prove in a moment, with sets that are easy to find."""
    rng = random.Random(seed)
    weights = [[rng.randint(1, 1000) for _ in range(items)] for _ in range(lines)]
    profits = [sum(column) // lines + rng.randint(0, 500) for column in zip(*weights, strict=True)]
    return cover(profits, weights, [sum(row) // 4 for row in weights])


def market_split(items: int, lines: int, seed: int) -> Problem:
    """Every line to be met exactly by half of its weight: nearly always impossible, very hard to prove."""
    rng = random.Random(seed)
    weights = [[rng.randint(0, 99) for _ in range(items)] for _ in range(lines)]
    problem = cover([1] * items, weights, [sum(row) // 2 for row in weights])
    return replace(problem, rules=tuple(replace(r, most=r.least) for r in problem.rules))
