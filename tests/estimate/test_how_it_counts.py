"""What the guide says of how it counts, sentence by sentence, counted once more in fractions."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import cache
from itertools import combinations
from math import ceil, floor, sqrt
from pathlib import Path

import pytest
from msgspec import Struct
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import Study
from estimator.estimate.costing import Rank
from estimator.input.job.load import load_job
from estimator.model import Estimate, Shop, Task
from tests.shops import default_shop

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "example_jobs").glob("*.toml"))
PER_UNIT = ("hole", "chip", "screw", "fastener")


def said(words: str) -> None:
    """The sentence stands in the guide; what follows in the test holds it against the code."""
    text = " ".join((ROOT / "example_jobs/guides/how-it-counts.md").read_text(encoding="utf-8").split())
    assert words in text


def half_up(value: Fraction) -> int:
    return floor(value + Fraction(1, 2))


class Counted(Struct, frozen=True):
    """A set chosen at random in a shop whose terms were changed at random."""

    study: Study
    chosen: frozenset[str]
    told: Estimate

    @property
    def shop(self) -> Shop:
        return self.study.costing.shop

    def standard(self, normal: Fraction) -> Fraction:
        """The allowance on top."""
        share = Fraction(self.shop.terms.allowance)
        return normal / (1 - share) if self.shop.terms.allowance_on == "shift" else normal * (1 + share)

    def ranks(self) -> Iterator[tuple[Task, Rank]]:
        """At each place the largest demand that the set makes, but for what it makes needless."""
        for (task, _), ranks in self.study.costing.ranks.items():
            held = [r for r in ranks if r.triggers is None or not self.chosen.isdisjoint(r.triggers)]
            if held and not held[-1].needless:
                assert held[-1].line.minutes == max(rank.line.minutes for rank in held)
                yield self.shop.tasks[task], held[-1]

    def minutes_of(self, task: Task, rank: Rank) -> tuple[Fraction, Fraction]:
        """Minutes of the run, and of a set-up done again, from the tables and the demand."""
        low, likely, high = map(Fraction, (task.run_min_low, task.run_min_likely, task.run_min_high))
        mean = (
            (low + 4 * likely + high) / 6
            if task.reading == "pert"
            else (3 * low + 4 * likely + 3 * high) / 10
        )
        demand = rank.demand
        factors = Fraction(rank.line.factor) / Fraction(demand.share) if demand.share else Fraction(0)
        run = Fraction(demand.quantity) * mean * Fraction(demand.share) * factors + Fraction(demand.extra_min)
        return self.standard(run), self.standard(Fraction(task.setup_min) * Fraction(demand.setup_share))


@cache
def counted() -> tuple[Counted, ...]:
    rng = random.Random(20_261_128)
    default, found = default_shop(), []
    for number in range(20):
        terms = default.terms
        if number:
            terms = replace(
                terms,
                allowance=Decimal(rng.randint(0, 20)) / 100,
                allowance_on=rng.choice(("work", "shift")),
                shared_cause=Decimal(rng.randint(0, 10)) / 10,
                labour_reserve=Decimal(rng.randint(0, 6)) / 100,
                hidden_fault_share=Decimal(rng.randint(0, 9)) / 100,
                hidden_faults_quoted=("when-found", "in-price")[number % 2],
                large_quote_hours=Decimal((8, 0, 20)[number % 3]),
                billing_unit_min=rng.choice((Decimal(15), Decimal(6), Decimal(30))),
                wage_per_hour=Decimal(rng.randint(2000, 6000)) / 100,
            )
        shop = replace(default, terms=terms)
        study = study_job(shop, load_job(EXAMPLES[number % len(EXAMPLES)], shop))
        options = study.problem.options
        chosen = frozenset(
            options if number < 5 else rng.sample(options, min(len(options), rng.randint(1, 12)))
        )
        found.append(Counted(study, chosen, study.costing.estimate(chosen)))
    return tuple(found)


@pytest.mark.slow
def test_a_task_takes_set_up_run_factors_and_what_a_rule_adds() -> None:
    said(
        "set-up + quantity x run time x share asked for x difficulty factors x skill + the minutes that a fit rule"
    )
    said("the shop's `allowance` comes on top of all of it")
    said("the mean of a 10/50/90 reading is 0.3 low + 0.4 likely + 0.3 high".capitalize())
    extra = 0
    for it in counted():
        for task, rank in it.ranks():
            run, again = it.minutes_of(task, rank)
            assert abs(Fraction(rank.line.minutes, 100) - run - again) <= Fraction(1, 200), task.id
            extra += rank.demand.extra_min > 0
        for task_id, (line, _) in it.study.costing.setups.items():
            exact = it.standard(Fraction(it.shop.tasks[task_id].setup_min))
            assert abs(Fraction(line.setup, 100) - exact) <= Fraction(1, 200)
    assert extra > 0


@pytest.mark.slow
def test_once_for_the_largest_demand_and_set_up_once_but_for_coats() -> None:
    said("The same task at the same place is done once, for the largest demand; a task is set up once a job,")
    said("and again, for its `repeat_share`, for every coat of finish after the first at a place")
    coats = 0
    for it in counted():
        lines = [*it.told.lines, *it.told.desk]
        assert len({(line.task, line.place) for line in lines}) == len(lines)
        best = {(task.id, rank.line.place): rank.line.minutes for task, rank in it.ranks()}
        assert {(line.task, line.place): line.minutes for line in lines} == best
        for task in {line.task for line in lines}:
            own = [line for line in lines if line.task == task]
            assert sum(line.setup for line in own) == it.study.costing.setups[task][0].setup
            row = it.shop.tasks[task]
            for line in own:
                further = row.driver == "coat" and line.place.split("-")[-1] not in ("", "coat", "01")
                again = row.repeat_share if further else Decimal(0)
                due = it.standard(Fraction(row.setup_min) * Fraction(again))
                # a share of the shift divides, which a decimal holds to 28 digits
                assert abs(Fraction(line.again) - due) < Fraction(1, 10**20)
                coats += again > 0
    assert coats > 10


@pytest.mark.slow
def test_any_two_times_are_correlated_and_what_strikes_comes_on_top() -> None:
    said("any two of which are correlated by `shared_cause`")
    for it in counted():
        sds = [rank.line.sd for task, rank in it.ranks() if task.id not in it.study.costing.desk_tasks]
        pairs = sum(2 * float(it.shop.terms.shared_cause) * a * b for a, b in combinations(sds, 2))
        struck = 0.0
        for line in it.told.lines:  # n chances at odds p, each with its m minutes or none
            odds, chances = float(line.rework_odds), line.rework_trials
            if 0 < odds < 1 and chances:
                each = line.rework / 100 / (chances * odds)
                struck += chances * odds * (1 - odds) * each * each
        hidden = sum(line.allowance for line in it.told.lines) / 100
        # there in one job of two, then of exponential size with twice the mean: 2 (2 A)^2 / 2 - A^2
        struck += 3 * hidden * hidden
        assert it.told.totals.sd == pytest.approx(sqrt(sum(sd * sd for sd in sds) + pairs + struck), rel=1e-9)


def rework_of(it: Counted, task: Task, rank: Rank, run: Fraction) -> tuple[Fraction, Fraction]:
    """Expected minutes and material of rework, by the code of the task."""
    line, terms = rank.line, it.shop.terms
    odds, share = Fraction(line.rework_odds), Fraction(task.rework_share)
    count = Fraction(rank.demand.quantity) if task.driver in PER_UNIT else Fraction(1)
    wear = sum(Fraction(u.cost) for u in line.consumables if it.shop.consumables[u.id].billed_as == "wear")
    if task.rework_kind in ("q", "r", "s"):
        spoiled = {"q": Fraction(0), "r": odds * share * wear, "s": odds * count * Fraction(rank.part_price)}
        good = odds * count * Fraction(terms.rework_spoil_min) if task.rework_kind == "s" else Fraction(0)
        return odds * share * run + good, spoiled[task.rework_kind]
    if task.rework_kind == "d":
        return odds * count * share * Fraction(terms.rework_damage_min), Fraction(0)
    if task.rework_kind == "x":
        return odds * share * Fraction(terms.rework_serious_min), odds * share * Fraction(
            terms.rework_serious_cost
        )
    return odds * Fraction(terms.rework_client_min), Fraction(0)


@pytest.mark.slow
def test_every_figure_is_rounded_once_and_every_cost_is_a_sum_of_them() -> None:
    said(
        "rounded half up once: the labour, the overhead, the reserve (time and material apart), the consumables and"
    )
    said(
        "the labour, overhead and reserve of each set-up, each part and each pack. Every cost is a sum of such figures"
    )
    said("Expected rework and hidden faults stand in the reserve.")
    pieces = 0
    for it in counted():
        costing, setting = it.study.costing, it.study.costing.setting
        wage, overhead = Fraction(setting.wage) / 60 * 100, Fraction(setting.overhead) / 60 * 100
        hidden = Fraction(setting.hidden_faults)
        sums = dict.fromkeys(("labour", "overhead", "reserve", "consumables", "tools", "parts"), 0)

        def add(
            minutes: Fraction,
            held: Fraction,
            sums: dict[str, int] = sums,
            wage: Fraction = wage,
            overhead: Fraction = overhead,
        ) -> None:
            sums["labour"] += half_up(minutes * wage)
            sums["overhead"] += half_up(minutes * overhead)
            sums["reserve"] += half_up(held * (wage + overhead))

        billed = [(task, rank) for task, rank in it.ranks() if task.id not in costing.desk_tasks]
        for task, rank in billed:
            run, again = it.minutes_of(task, rank)
            time, material = rework_of(it, task, rank, run)
            add(run + again, time + hidden * (run + again))
            sums["reserve"] += half_up(material * 100)
            for use_kind, key in (("wear", "consumables"), ("part", "parts")):
                used = [u for u in rank.line.consumables if it.shop.consumables[u.id].billed_as == use_kind]
                sums[key] += half_up(sum((Fraction(u.cost) for u in used), Fraction(0)) * 100)
            sums["tools"] += half_up(sum((Fraction(u.cost) for u in rank.line.tools), Fraction(0)) * 100)
            pieces += 1
        for task_id in {task.id for task, _ in billed}:
            minutes = it.standard(Fraction(it.shop.tasks[task_id].setup_min))
            add(minutes, hidden * minutes)
        sums["parts"] += sum(part.cost for part in it.told.parts)
        money = it.told.totals.money
        assert {key: getattr(money, key) for key in sums} == sums
        assert it.told.totals.cost == sum(sums.values())
    assert pieces > 300


@pytest.mark.slow
def test_shares_of_packs_in_the_cost_and_whole_packs_in_the_cash() -> None:
    said("Consumables are charged by the share used of a pack, strings by the share used of a set")
    said(
        "cash counts whole packs of what is not kept on the shelf, as many as must be bought beyond the stock"
    )
    bought = 0
    for it in counted():
        used: dict[str, Fraction] = {}
        cash = sum(part.cost for part in it.told.parts if part.owner != "customer")
        for task, rank in it.ranks():
            if task.id in it.study.costing.desk_tasks:
                continue
            for use in rank.line.consumables:
                row = it.shop.consumables[use.id]
                exact = Fraction(use.quantity) * Fraction(row.price) / Fraction(row.units_per_pack)
                assert abs(Fraction(use.cost) - exact) < Fraction(1, 10**9)
                if row.billed_as == "part":
                    cash += half_up(Fraction(use.cost) * 100)
                elif not row.on_shelf:
                    thousandths = half_up(Fraction(use.quantity) * 1000)
                    used[use.id] = used.get(use.id, Fraction(0)) + Fraction(thousandths, 1000)
        stock = it.study.job.stock
        for name, quantity in used.items():
            row = it.shop.consumables[name]
            packs = max(
                0, ceil((quantity - Fraction(stock.get(name, Decimal(0)))) / Fraction(row.units_per_pack))
            )
            cash += packs * half_up(Fraction(row.price) * 100)
            bought += packs
        assert it.told.totals.money.cash == cash
    assert bought > 20


@pytest.mark.slow
def test_hours_of_the_price_and_what_is_held_for_the_warranty() -> None:
    said(
        "A price of fewer than `large_quote_hours` mean hours (hands-on, with the reserve) is held at the mean and bears no consumables fee"
    )
    said("the hours are rounded up to `billing_unit_min`")
    said('A price holds the hidden faults only with `hidden_faults_quoted = "in-price"`')
    said(
        "`labour_reserve` of `shop.toml`, on fret and finish work what `warranty.csv` asks beyond it, on the mean time"
    )
    held = small = 0
    for it in counted():
        totals, terms, setting = it.told.totals, it.shop.terms, it.study.costing.setting
        unit = Fraction(terms.billing_unit_min) * 100
        assert totals.billed_min == ceil(Fraction(totals.surety_min) / unit) * unit
        assert default_shop().terms.billing_unit_min == 5
        # the mean that a price holds, and the size from which it is held at more
        faults = 0 if terms.hidden_faults_quoted == "in-price" else sum(x.allowance for x in it.told.lines)
        mean = totals.attended + totals.reserve_min - faults
        sized = it.study.job.budget.surety is None and mean < terms.large_quote_hours * 6000
        limit = 0 if it.study.job.budget.surety is not None else int(terms.large_quote_hours * 6000)
        assert (totals.surety_min == mean) if sized else (totals.surety_min >= mean)
        assert sized or not limit or totals.surety_min <= 2 * mean - limit
        small += sized
        wanted = 0
        setups = set()
        for task, rank in it.ranks():
            beyond = Fraction(it.shop.resale.warranty.get(task.id, Decimal(0))) - Fraction(
                terms.labour_reserve
            )
            if beyond <= 0:
                continue
            run, again = it.minutes_of(task, rank)
            time, _ = rework_of(it, task, rank, run)
            priced = terms.hidden_faults_quoted == "in-price"
            hidden = Fraction(setting.hidden_faults) * (run + again) * priced
            charge = Fraction(setting.charge) / 60 * 100
            wanted += half_up((run + again + time + hidden) * beyond * charge)
            if task.id not in setups:
                minutes = it.standard(Fraction(task.setup_min))
                wanted += half_up(minutes * (1 + Fraction(setting.hidden_faults) * priced) * beyond * charge)
                setups.add(task.id)
        assert sum(line.warranty for line in it.told.lines) == wanted
        held += wanted > 0
    assert held > 5
    assert 0 < small < len(counted())
