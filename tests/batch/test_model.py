"""Joint choice against a plain search over every combination of sets, sellers and packs."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.records import Batch, BoughtPart, JobChoice, MissingTool, Pack, PackUse, Seller
from estimator.batch.solve_exact import choose_jointly
from estimator.batch.verify import freight_of
from estimator.choose.choose import choose
from estimator.model.problem import CostPiece, Income, Problem, Rule
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, allowed, best, larger, problems, stepped_price


@st.composite
def batches(draw, most_jobs: int = 2, most_options: int = 3) -> Batch:  # type: ignore[no-untyped-def]
    """Two small jobs with parts from two sellers, one shared pack, one missing tool."""
    jobs, parts, uses, needed = [], [], [], []
    for number in range(draw(st.integers(1, most_jobs))):
        job = f"job {number}"
        problem = draw(problems(most_options))
        jobs.append(JobChoice(job, problem, measure_of(problem, stepped_price), STEPPED))
        for piece in problem.pieces:
            if piece.id.startswith("part ") and piece.cash and piece.triggers:
                kind = draw(st.sampled_from(("p-a", "p-b", "p-c")))
                parts.append(BoughtPart(job, piece.triggers[0], piece.id, kind, piece.cash))
        for option in problem.options:
            if draw(st.booleans()):
                millionths = draw(st.sampled_from((300_000, 1_000_000, 2_500_000)))
                uses.append(PackUse(job, "paint", (option,), millionths))
        needed.append((job, (draw(st.sampled_from(problem.options)),)))
    sellers = (
        Seller("near", 800, draw(st.sampled_from((None, 2000, 4000))), {"*": 1000, "consumables": 1000}),
        Seller("far", 500, 3000, {"p-a": 900, "p-b": 950, "consumables": 1100}),
    )[: draw(st.integers(0, 2))]
    packs = (
        Pack("paint", 700, 2_000_000, draw(st.sampled_from((0, 500_000, 3_000_000))), draw(st.booleans())),
    )
    tools = (MissingTool("jig", draw(st.sampled_from((0, 900))), tuple(needed)),)
    return Batch(tuple(jobs), tuple(parts), tuple(uses), packs, tools, sellers, lost=draw(st.booleans()))


def outlay(batch: Batch, sets: dict[str, Plain]) -> list[tuple[int, int]]:
    """(what the shared things add to cost, to cash) for every way to buy what the sets need."""
    wanted = [p for p in batch.parts if p.upgrade in sets[p.job].chosen]
    used = [u for u in batch.uses if u.triggers is None or set(u.triggers) & set(sets[u.job].chosen)]
    need = sum(u.millionths for u in used)
    pack = batch.packs[0]
    tool = sum(
        t.cents
        for t in batch.tools
        if any(trig is None or set(trig) & set(sets[job].chosen) for job, trig in t.needed_by)
    )
    worth = sum((2 * u.millionths * pack.list_cents + pack.holds) // (2 * pack.holds) for u in used)
    houses = list(batch.sellers)
    found = []
    for sources in itertools.product(*(_offers(houses, p.part_class, p.list_cents) for p in wanted)):
        for counts in itertools.product(range(7), repeat=max(1, len(houses))):
            over = sum(counts) * pack.holds + pack.stock - need
            if over < 0 or (not batch.lost and sum(counts) and over > pack.holds - 1):
                continue
            baskets = dict.fromkeys([h.id for h in houses], 0)
            sent = set()
            paid = dearer = 0
            for part, (who, price) in zip(wanted, sources, strict=True):
                paid += price
                dearer += price - part.list_cents
                if who:
                    baskets[who] += price
                    sent.add(who)
            spent = 0
            for number, (who, price) in zip(
                counts, _offers(houses, "consumables", pack.list_cents), strict=True
            ):
                spent += number * price
                if who and number:
                    baskets[who] += number * price
                    sent.add(who)
            freight = sum(
                h.freight
                for h in houses
                if h.id in sent and not (h.free_from is not None and baskets[h.id] >= h.free_from)
            )
            listed = sum(p.list_cents for p in wanted)
            cheapest = cheapest_pack(houses, pack)
            counted = spent if pack.in_cost else spent - (worth if batch.lost else sum(counts) * cheapest)
            more = dearer + tool + freight + counted
            found.append((more, paid - listed + spent + tool + freight))
    return found


def cheapest_pack(houses: list[Seller], pack: Pack) -> int:
    return min(price for _, price in _offers(houses, "consumables", pack.list_cents))


def _offers(houses: list[Seller], what: str, cents: int) -> list[tuple[str, int]]:
    there = [(h.id, p) for h in houses if (p := h.price(what, cents)) is not None]
    return there or [("", cents)]


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(batches(), st.sampled_from(("cost,cash", "cash")))
def test_joint_choice_equals_the_plain_search(batch: Batch, aims: str) -> None:
    free = [allowed(job.problem) for job in batch.jobs]
    totals = []
    for combination in itertools.product(*free):
        sets = {job.id: it for job, it in zip(batch.jobs, combination, strict=True)}
        cost, cash = sum(i.cost for i in combination), sum(i.cash for i in combination)
        for more, laid in outlay(batch, sets):
            totals.append((cost + more, cash + laid) if aims != "cash" else (cash + laid,))
    found = choose_jointly(batch, aims, engine="highs")
    if not totals:
        assert found.status == "infeasible"
        return
    assert found.status == "optimal"
    assert found.gap == 0
    assert found.objective == min(totals)[0]
    assert found.cash == (min(totals)[-1])


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(problems(5))
def test_a_batch_of_one_is_the_single_choice(problem) -> None:  # type: ignore[no-untyped-def]
    alone = choose(
        problem, measure_of(problem, stepped_price), STEPPED, aim="cost", engine="highs", explain=False
    )
    job = JobChoice("only", problem, measure_of(problem, stepped_price), STEPPED)
    found = choose_jointly(Batch((job,)), "cost", engine="highs")
    assert (found.status, found.objective) == (alone.status, alone.objective)


@pytest.mark.parametrize("engine", ["highs", "cpsat"])
@pytest.mark.parametrize("seed", range(0, 8, 2))
def test_limits_on_cost_at_the_surety_hold_in_a_batch(engine: str, seed: int) -> None:
    """Each job's limit is walked down from what its set needs; one of the jobs may be left out."""
    free = [larger(seed, 7), larger(seed + 1, 7)]
    free[1] = replace(free[1], incomes=(Income("sold", None, 400_000),))
    sets = [allowed(problem) for problem in free]
    most = [max(it.sure_cost for it in every) for every in sets]
    for _ in range(5):
        held = [
            replace(problem, rules=(*problem.rules, Rule("money", "money", "cost", most=m, on="cost")))
            for problem, m in zip(free, most, strict=True)
        ]
        jobs = tuple(
            JobChoice(name, problem, measure_of(problem, stepped_price), STEPPED, buy_for=price)
            for name, problem, price in zip(("kept", "donor"), held, (None, 1000), strict=True)
        )
        found = choose_jointly(Batch(jobs), "profit", engine=engine)
        wanted = [
            best([it for it in every if it.sure_cost <= m], "cost")
            for every, m in zip(sets, most, strict=True)
        ]
        if wanted[0] is None:
            assert found.status == "infeasible"
            return
        assert found.status == "optimal"
        assert found.chosen["kept"] == wanted[0].chosen
        assert ("donor" in found.chosen) == (wanted[1] is not None)
        if wanted[1] is not None:
            assert found.chosen["donor"] == wanted[1].chosen
        most = [0 if it is None else it.sure_cost - 1 for it in wanted]


@pytest.mark.parametrize("engine", ["highs", "cpsat"])
@pytest.mark.parametrize(("free_from", "freight"), [(None, 800), (3999, 0), (4000, 0), (4001, 800)])
def test_an_order_of_exactly_the_sum_goes_free(engine: str, free_from: int | None, freight: int) -> None:
    """Two jobs buy for 30.00 and 10.00 in one parcel: freight is due below the sum and not from it on."""
    jobs, parts = [], []
    for name, cents in (("one", 3000), ("two", 1000)):
        problem = Problem(
            ("it",),
            (),
            (),
            (),
            (CostPiece("part it", ("it",), cents, cents, 0, 0, 0, 0.0, "", 0),),
            (),
            (),
            (Rule("it", "required", "it", upgrades=("it",)),),
            0.0,
            0.0,
            0.0,
        )
        jobs.append(JobChoice(name, problem, measure_of(problem)))
        parts.append(BoughtPart(name, "it", "part it", "p-a", cents))
    batch = Batch(tuple(jobs), tuple(parts), sellers=(Seller("near", 800, free_from, {"*": 1000}),))
    found = choose_jointly(batch, "cost,cash", engine=engine)
    assert (found.objective, found.cash) == (4000 + freight, 4000 + freight)
    assert freight_of(batch, found.purchases) == {"near": freight}


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(batches(), st.integers(0, 3000))
def test_shared_limits_hold_and_less_money_never_costs_less(batch: Batch, less: int) -> None:
    free = choose_jointly(batch, "cost,cash", engine="highs")
    if free.status != "optimal":
        return
    tight = choose_jointly(
        replace(batch, cash=max(0, free.cash - less), minutes=free.minutes), "cost", engine="highs"
    )
    if tight.status == "optimal":
        assert free.objective is not None
        assert tight.objective is not None
        assert tight.objective >= free.objective
        assert tight.cash <= free.cash - less or less == 0
        assert tight.minutes <= free.minutes
    else:
        assert tight.status == "infeasible"
        assert less > 0


@pytest.mark.slow
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(batches(), st.sampled_from(("cost", "cash")), st.integers(0, 4000))
def test_jobs_apart_never_beat_the_optimum_and_their_bound_holds(batch: Batch, aim: str, less: int) -> None:
    whole = choose_jointly(batch, aim, engine="highs")
    apart = choose_by_columns(batch, aim)
    if whole.status == "infeasible":
        assert apart.status == "infeasible"
        return
    assert whole.objective is not None
    assert apart.objective is not None
    assert apart.bound is not None
    assert apart.bound <= whole.objective <= apart.objective
    if apart.status == "optimal":
        assert apart.objective == whole.objective
    tight = replace(batch, cash=max(0, whole.cash - less), minutes=whole.minutes)
    whole, apart = choose_jointly(tight, aim, engine="highs"), choose_by_columns(tight, aim)
    if apart.objective is not None:
        assert whole.objective is not None
        assert apart.bound is not None
        assert apart.bound <= whole.objective <= apart.objective
        assert tight.cash is not None
        assert apart.cash <= tight.cash
        assert apart.minutes <= (tight.minutes or 0)
    elif whole.objective is not None and apart.bound is not None:
        assert apart.status == "no-answer"
        assert apart.bound <= whole.objective
