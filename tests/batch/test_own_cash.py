"""A job's own limit on cash, in a batch, holds the whole packs that the job opens, whatever the others share with it.

Drawn batches are held against a search through every combination of sets and every way to give out the pieces in
stock, which counts packs by the words of ``batch.own_cash`` alone. Nobody sends parcels here and no tool is missing:
``tests/batch/test_own_order.py`` has both.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.build import study_batch
from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.own_cash import with_own_cash
from estimator.batch.records import Batch, BoughtPart, JobChoice, JointAnswer, Pack, PackUse
from estimator.batch.solve_exact import choose_jointly
from estimator.batch.verify import JointSolution, breaches_of
from estimator.input.batch.load import load_batch
from estimator.model.problem import Amount, CostPiece, Giver, Problem, Rule, Source
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, allowed, stepped_price
from tests.plan.bench import shop

DRAWN = 150
PAINT, GLUE = "paint", "glue"
Sets = dict[str, Plain]


def job_of(
    name: str, pieces: tuple[CostPiece, ...], worth: dict[str, int], wanted: int, cash: int | None
) -> JobChoice:
    """A job that must reach a worth with its upgrades, and may have a limit on its own cash."""
    rules = [Rule(Source.WISH, "amount", "worth", "worth", least=wanted, of="worth")]
    if cash is not None:
        rules.append(Rule(Source.BUDGET, "money", "cash", most=cash, on="cash", of="money"))
    gives = tuple(Giver(value, (upgrade,)) for upgrade, value in worth.items())
    problem = Problem(
        tuple(worth),
        (),
        (),
        (),
        pieces,
        (),
        (Amount("worth", 0, gives, False),),
        tuple(rules),
        0.0,
        0.0,
        0.0,
    )
    return JobChoice(name, problem, measure_of(problem, stepped_price), STEPPED)


def piece(name: str, triggers: tuple[str, ...] | None, cost: int, cash: int, minutes: int = 100) -> CostPiece:
    return CostPiece(name, triggers, cost, cash, 0, 0, minutes, 0.0, name, 0)


def own_packs(batch: Batch, job: str, chosen: tuple[str, ...]) -> int:
    """Cents of the packs that a job opens by itself: the shelf is that of the first job with a limit that may use it."""
    total = 0
    for pack in batch.packs:
        users = [
            j.id
            for j in batch.jobs
            if limit_of(j) is not None and any(u.job == j.id for u in uses(batch, pack))
        ]
        shelf = pack.stock if users[:1] == [job] else 0
        used = sum(u.millionths for u in uses(batch, pack) if u.job == job and done(u, chosen))
        total += packs_for(used - shelf, pack)
    return total


def uses(batch: Batch, pack: Pack) -> list[PackUse]:
    return [use for use in batch.uses if use.consumable == pack.consumable]


def done(use: PackUse, chosen: tuple[str, ...]) -> bool:
    return use.triggers is None or any(upgrade in use.triggers for upgrade in chosen)


def packs_for(needed: int, pack: Pack) -> int:
    opened = 0
    while opened * pack.holds < needed:
        opened += 1
    return opened * pack.list_cents


def limit_of(job: JobChoice) -> int | None:
    return next((rule.most for rule in job.problem.rules if rule.on == "cash"), None)


def draw(seed: int) -> Batch:
    """Up to three jobs of two or three upgrades, two packs with something in stock, and pieces of one part."""
    chance = random.Random(seed)
    jobs, parts, used = [], [], []
    packs = tuple(
        Pack(
            what,
            chance.choice((400, 900)),
            2_000_000,
            chance.choice((0, 0, 500_000, 3_000_000)),
            chance.random() < 0.3,
        )
        for what in (PAINT, GLUE)
    )
    for number in range(chance.randint(1, 3)):
        name, options = f"job-{number}", tuple(f"u{n}" for n in range(chance.randint(2, 3)))
        pieces = [piece("base", None, 500, 300)]
        for option in options:
            price = chance.choice((0, 700, 700, 1100))
            pieces.append(piece(f"part {option}", (option,), price, price))
            pieces.append(piece(f"work {option}", (option,), chance.choice((100, 250, 900)), 0))
            if price:
                shelf = "knob" if price == 700 else ""
                parts.append(BoughtPart(name, option, f"part {option}", "p-a", price, shelf=shelf))
        for pack in packs:
            used += [
                use for _ in range(chance.randint(0, 3)) for use in drawn_uses(chance, name, pack, options)
            ]
        worth = {option: 1000 * chance.randint(1, 3) for option in options}
        wanted = chance.randint(0, sum(worth.values()) // 1000) * 1000
        jobs.append(job_of(name, tuple(pieces), worth, wanted, 0 if chance.random() < 0.7 else None))
    batch = Batch(tuple(jobs), tuple(parts), tuple(used), packs, pieces={"knob": chance.choice((0, 0, 1, 2))})
    return replace(batch, jobs=tuple(at_a_limit(batch, job, chance) for job in batch.jobs))


def drawn_uses(chance: random.Random, job: str, pack: Pack, options: tuple[str, ...]) -> Iterator[PackUse]:
    """Work that uses some of a pack; where it grows with one of its upgrades it may take less again."""
    who = None if chance.random() < 0.2 else tuple(sorted(chance.sample(options, chance.randint(1, 2))))
    yield PackUse(job, pack.consumable, who, chance.choice((300_000, 1_000_000, 2_500_000)))
    if chance.random() < 0.25:
        yield PackUse(job, pack.consumable, (chance.choice(who or options),), -200_000)


def at_a_limit(batch: Batch, job: JobChoice, chance: random.Random) -> JobChoice:
    """The limit of a job at what some set lays out, or a cent or a piece of stock below."""
    if limit_of(job) is None:
        return job
    free = replace(job.problem, rules=job.problem.rules[:1])
    laid = sorted(it.cash + own_packs(batch, job.id, it.chosen) for it in allowed(free))
    most = max(0, chance.choice(laid[: 1 + len(laid) // 2]) - chance.choice((0, 0, 1, 700)))
    limit = replace(job.problem.rules[1], most=most)
    problem = replace(free, rules=(*free.rules, limit))
    return JobChoice(job.id, problem, measure_of(problem, stepped_price), STEPPED)


def given_out(batch: Batch, sets: Sets) -> list[dict[str, int]]:
    """By job the cents saved by pieces in stock, for every way to give out as many as there is use for."""
    wanted = [p for p in batch.parts if p.shelf and p.upgrade in sets[p.job].chosen]
    number = min(len(wanted), batch.pieces["knob"])
    found = []
    for lucky in itertools.combinations(wanted, number):
        found.append({job: sum(p.list_cents for p in lucky if p.job == job) for job in sets})
    return found


def every(batch: Batch, with_packs: bool = True) -> list[tuple[int, int]]:
    """(cost, cash) of every combination of sets that keeps all limits; ``with_packs``: packs count in them."""
    free = [
        allowed(replace(job.problem, rules=tuple(r for r in job.problem.rules if r.on != "cash")))
        for job in batch.jobs
    ]
    found = []
    for combination in itertools.product(*free):
        sets = {job.id: it for job, it in zip(batch.jobs, combination, strict=True)}
        paid = {
            pack.consumable: packs_for(
                sum(u.millionths for u in uses(batch, pack) if done(u, sets[u.job].chosen)) - pack.stock, pack
            )
            for pack in batch.packs
        }
        opened = {j: own_packs(batch, j, it.chosen) if with_packs else 0 for j, it in sets.items()}
        for saved in given_out(batch, sets):
            limits = [(job.id, most) for job in batch.jobs if (most := limit_of(job)) is not None]
            if any(sets[j].cash - saved[j] + opened[j] > most for j, most in limits):
                continue
            cost = sum(it.cost for it in combination)
            cost += sum(paid[pack.consumable] for pack in batch.packs if pack.in_cost)
            cash = sum(it.cash for it in combination) + sum(paid.values()) - sum(saved.values())
            found.append((cost, cash))
    return found


@pytest.mark.parametrize("seed", range(DRAWN))
def test_drawn_batches_equal_the_search_through_all_sets(seed: int) -> None:
    batch = draw(seed)
    wanted = every(batch)
    found = choose_jointly(with_own_cash(batch), "cost,cash")
    if not wanted:
        assert found.status == "infeasible"
        return
    assert (found.status, (found.objective, found.cash)) == ("optimal", min(wanted))
    apart = choose_by_columns(with_own_cash(batch), "cost")
    assert apart.bound is not None
    assert apart.bound <= min(wanted)[0]
    assert apart.objective is None or apart.objective >= min(wanted)[0]


def test_the_drawn_batches_turn_on_the_packs() -> None:
    """Else the search would say nothing of them: in a good part of the batches another set would win without."""
    other = [
        seed
        for seed in range(DRAWN)
        if min(every(draw(seed)), default=None) != min(every(draw(seed), with_packs=False), default=None)
    ]
    assert len(other) > DRAWN // 5


def two(limits: tuple[int | None, int | None], stock: int = 0, there: int = 0) -> Batch:
    """Two jobs that must do one piece of work; each takes half a tin of paint at 9.00 and a part at 7.00.

    ``there``: pieces of the part in stock.
    """
    pieces = (piece("base", None, 500, 0), piece("part", ("shield",), 700, 700))
    jobs = tuple(
        job_of(name, pieces, {"shield": 1000}, 1000, limit)
        for name, limit in zip(("first", "second"), limits, strict=True)
    )
    used = tuple(PackUse(job.id, PAINT, ("shield",), 1_000_000) for job in jobs)
    parts = tuple(BoughtPart(job.id, "shield", "part", "p-a", 700, shelf="plate") for job in jobs)
    packs = (Pack(PAINT, 900, 2_000_000, stock),)
    return with_own_cash(Batch(jobs, parts, used, packs, pieces={"plate": there}))


def status(batch: Batch) -> str:
    return choose_jointly(batch, "cash").status


def test_by_hand_each_limit_holds_the_tin_that_its_job_opens() -> None:
    # one tin is enough for both, and is bought once; yet each limit holds it: 7.00 + 9.00
    both: JointAnswer = choose_jointly(two((1600, 1600)), "cash")
    assert (both.status, both.cash) == ("optimal", 2 * 700 + 900)
    assert status(two((1599, 1600))) == "infeasible"
    assert status(two((1600, 1599))) == "infeasible"
    assert status(two((1600, None))) == "optimal"


def test_by_hand_the_shelf_is_reckoned_to_the_first_job_with_a_limit() -> None:
    # half a tin on the shelf: the first needs none, the second is held as if there were nothing
    assert status(two((700, 1600), stock=1_000_000)) == "optimal"
    assert status(two((1600, 1599), stock=1_000_000)) == "infeasible"
    # without a limit the first has no claim on it
    assert status(two((None, 700), stock=1_000_000)) == "optimal"
    assert status(two((None, 699), stock=1_000_000)) == "infeasible"


@pytest.mark.parametrize("there", [0, 1])
def test_an_answer_that_breaks_a_limit_by_its_packs_does_not_pass_the_recheck(there: int) -> None:
    """Nor does one whose order by itself lacks a pack, or tells another sum or freight than its own."""
    least = 1600 - 700 * there
    batch = two((least, None), there=there)
    held = choose_jointly(batch, "cash")
    solution = JointSolution(held.chosen, held.measures, held.purchases, held.freight, held.own_orders)
    assert breaches_of(batch, solution) == []
    (told,) = breaches_of(two((least - 1, None), there=there), solution)
    assert told == f"first: {least} cents are laid out of {least - 1}"
    order = held.own_orders["first"]
    wrong = {
        "first by itself: too little paint is bought": replace(
            order, purchases=tuple(p for p in order.purchases if p.kind != "pack")
        ),
        f"first by itself: {least} cents are laid out, not {least - 1}": replace(order, cash=least - 1),
        "first by itself: the freight is not that of its parcels": replace(order, freight={"house": 500}),
    }
    for words, other in wrong.items():
        assert words in breaches_of(batch, replace(solution, own={"first": other}))
    assert breaches_of(batch, replace(solution, own={})) == [
        "first: what it would lay out by itself is not told"
    ]


@pytest.mark.parametrize("there", ["", "300"])
@pytest.mark.parametrize("missing", ["", 'tools_missing = ["t-meter"]\n'])
def test_a_batch_file_of_one_job_holds_its_limit_as_the_job_alone_would(
    tmp_path: Path, there: str, missing: str
) -> None:
    """With its parcels and a tool to be got: the least cash without a limit is the least limit."""

    def batch(cash: int | None) -> Batch:
        limit = "" if cash is None else f'[budget]\nmoney = {cash / 100:.2f}\non = "cash"\n'
        (tmp_path / "j.toml").write_text(
            '[job]\nid = "g"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
            f'[upgrades]\nrequired = ["shield-paint", "ready-cut-nut-premium"]\n{limit}'
        )
        stock = f'[[stock]]\nconsumable = "c-shield-paint"\nquantity = {there}\n' if there else ""
        (tmp_path / "b.toml").write_text(
            f'[batch]\nid = "b"\nstart = 2026-10-05\n{missing}[[job]]\nid = "j"\nfile = "j.toml"\n{stock}'
        )
        return study_batch(shop(), load_batch(tmp_path / "b.toml", shop())).batch

    least = choose_jointly(batch(None), "cash")
    assert any(p.kind == "pack" for p in least.purchases)
    assert (sum(least.freight.values()) > 0) == bool(there)  # free from a sum on
    assert any(p.kind in ("tool", "rent") for p in least.purchases) == bool(missing)
    assert choose_jointly(batch(least.cash), "cash").cash == least.cash
    assert status(batch(least.cash - 1)) == "infeasible"
