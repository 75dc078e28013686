"""One stock for all jobs of a batch, parts too: what is there is used once, and the orders say for whom.

What a batch lays out with a stock is reckoned here from the same batch without any, so that no code of
the counting under test is used.
"""

from __future__ import annotations

import random
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.records import MILLIONTHS, JointAnswer
from estimator.batch.solve_exact import choose_jointly
from estimator.core.errors import InputError
from estimator.core.money import cents
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, measure_gain, plan_batch, with_named_sets
from estimator.report.csv.plan import orders_csv
from estimator.report.record import as_data
from estimator.report.records.plan import PlanTold
from estimator.report.words.orders import order_lines
from estimator.schedule.records import Search
from tests.plan.bench import shop

PLACES = ("neck", "middle", "bridge")
PART = "single-standard"
GUITAR = (
    '[job]\nid = "g"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\npu_neck = "single"\n'
    'pu_middle = "single"\npu_bridge = "single"\n'
)


def guitar(folder: Path, name: str, places: tuple[str, ...], more: str = "") -> str:
    """A guitar that must have new pickups at some places; its entry in a batch file."""
    must = ", ".join(f'"{place}-pickup-{PART}"' for place in places)
    (folder / f"{name}.toml").write_text(f"{GUITAR}[upgrades]\nrequired = [{must}]\n{more}")
    return f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\n'


def study(folder: Path, jobs: str, more: str = "") -> BatchStudy:
    path = folder / "batch.toml"
    path.write_text(f'[batch]\nid = "batch"\nstart = 2026-10-05\n{jobs}{more}')
    return study_batch(shop(), load_batch(path, shop()))


def chosen(of: BatchStudy, aim: str = "cash") -> JointAnswer:
    answer = choose_jointly(with_named_sets(of), aim)
    assert answer.status == "optimal"
    return answer


def pickups(answer: JointAnswer, kind: str) -> dict[str, int]:
    """Pieces that come from the stock, or are bought, by job."""
    found: Counter[str] = Counter()
    for p in answer.purchases:
        if p.kind == kind and p.what == PART:
            found[p.job] += p.number
    return dict(found)


def in_stock(number: int) -> str:
    return f'[[stock]]\npart = "{PART}"\nquantity = {number}\n'


@pytest.mark.slow
@pytest.mark.parametrize(
    ("there", "aim"), [*((n, "cash") for n in range(8)), *((n, "cost,cash") for n in range(1, 6))]
)
def test_each_piece_of_the_batch_serves_once(tmp_path: Path, there: int, aim: str) -> None:
    """Also where buying one more would save the freight: what is in stock is used first."""
    jobs = guitar(tmp_path, "one", PLACES) + guitar(tmp_path, "two", PLACES[:2])
    answer = chosen(study(tmp_path, jobs, in_stock(there)), aim)
    used = min(there, 5)
    # the first job of the batch comes first, where it is all one
    assert pickups(answer, "stock") == {
        j: n for j, n in (("one", min(3, used)), ("two", max(0, used - 3))) if n
    }
    assert pickups(answer, "part") == {
        j: n for j, n in (("one", 3 - min(3, used)), ("two", 2 - max(0, used - 3))) if n
    }


@pytest.mark.slow
@pytest.mark.parametrize("where", ["job", "batch"])
def test_jobs_that_name_the_stock_do_not_multiply_it(tmp_path: Path, where: str) -> None:
    own = f"[stock]\n{PART} = 1\n" if where == "job" else ""
    jobs = "".join(guitar(tmp_path, name, PLACES[:1], own) for name in ("a", "b", "c"))
    answer = chosen(study(tmp_path, jobs, in_stock(1) if where == "batch" else ""))
    assert pickups(answer, "stock") == {"a": 1}
    assert pickups(answer, "part") == {"b": 1, "c": 1}
    none = chosen(study(tmp_path, "".join(guitar(tmp_path, n, PLACES[:1]) for n in ("a", "b", "c"))))
    assert none.cash > answer.cash
    assert none.purchases != answer.purchases
    assert pickups(none, "part") == {"a": 1, "b": 1, "c": 1}


@pytest.mark.slow
def test_packs_that_jobs_name_are_there_once(tmp_path: Path) -> None:
    what = "c-pickup-hardware"

    def two(units: str) -> BatchStudy:
        own = f"[stock]\n{what} = {units}\n"
        return study(tmp_path, "".join(guitar(tmp_path, name, PLACES[:1], own) for name in ("a", "b")))

    def packs(units: Decimal) -> int:
        return sum(p.number for p in chosen(two(f"{units:f}")).purchases if p.what == what)

    bare = two("0")
    used = sum(
        u.millionths for u in bare.batch.uses if u.consumable == what and chosen(bare).does(u.job, u.triggers)
    )
    need = Decimal(used) / MILLIONTHS
    assert [packs(Decimal(0)), packs(need / 2), packs(need)] == [1, 1, 0]


@pytest.mark.slow
def test_the_batch_goes_before_its_jobs_and_says_so(tmp_path: Path) -> None:
    jobs = guitar(tmp_path, "a", PLACES, f"[stock]\n{PART} = 3\n") + guitar(
        tmp_path, "b", PLACES, f"[stock]\n{PART} = 2\n"
    )
    unlike = study(tmp_path, jobs)
    assert pickups(chosen(unlike), "stock") == {"a": 3}
    told = [str(issue) for issue in unlike.file.issues if issue.severity == "warning"]
    assert any(f"{PART} is not told alike: 3 is taken" in words and "a 3, b 2" in words for words in told)
    named = study(tmp_path, jobs, in_stock(1))
    assert pickups(chosen(named), "stock") == {"a": 1}
    assert any("a 3, b 2, the batch 1" in str(issue) for issue in named.file.issues)


@pytest.mark.slow
def test_a_limit_on_a_jobs_own_cash_decides_who_gets_the_piece(tmp_path: Path) -> None:
    free = guitar(tmp_path, "free", PLACES[:1])
    # what it would lay out by itself: its own parcels and the whole packs that it opens
    alone, bought = (
        study(tmp_path, guitar(tmp_path, "held", PLACES[:1]), there) for there in (in_stock(1), "")
    )
    own = chosen(alone).cash
    assert chosen(bought).cash > own

    def held(cash: int) -> str:
        budget = f'[budget]\nmoney = {cash / 100:.2f}\non = "cash"\n'
        return free + guitar(tmp_path, "held", PLACES[:1], budget)

    answer = chosen(study(tmp_path, held(own), in_stock(1)))
    assert pickups(answer, "stock") == {"held": 1}
    for cash, there in ((own, 0), (own - 1, 1)):
        none = choose_jointly(with_named_sets(study(tmp_path, held(cash), in_stock(there))), "cash")
        assert none.status == "infeasible"


@pytest.mark.slow
def test_a_part_of_a_job_is_one_thing_or_told_apart(tmp_path: Path) -> None:
    def own(price: int, more: str = "") -> str:
        return (
            f'[[part]]\nid = "wound"\nclass = "p-single"\nvariant = "wound"\ngrade = "standard"\nprice = {price}\n'
            f"only = true\n{more}"
        )

    def jobs(first: int, second: int, more: str = "") -> str:
        out = ""
        for name, price in (("a", first), ("b", second)):
            (tmp_path / f"{name}.toml").write_text(
                f'{GUITAR}[upgrades]\nrequired = ["neck-pickup-single-wound"]\n{own(price)}{more}'
            )
            out += f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\n'
        return out

    def taken(of: BatchStudy) -> list[tuple[str, int]]:
        return [(p.job, p.number) for p in chosen(of).purchases if p.kind == "stock"]

    named = '[[stock]]\npart = "wound"\nquantity = 1\n'
    assert taken(study(tmp_path, jobs(70, 70), named)) == [("a", 1)]
    assert taken(study(tmp_path, jobs(70, 70, "[stock]\nwound = 1\n"))) == [("a", 1)]
    assert taken(study(tmp_path, jobs(70, 80, "[stock]\nwound = 1\n"))) == [("a", 1), ("b", 1)]
    with pytest.raises(InputError, match="several things have this id"):
        study(tmp_path, jobs(70, 80), named)


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ('part = "single-standrad"\nquantity = 1', "unknown part"),
        ("quantity = 1", "what is in stock cannot be told"),
        (
            f'part = "{PART}"\nconsumable = "c-strings-guitar"\nquantity = 1',
            "what is in stock cannot be told",
        ),
        (f'part = "{PART}"\nquantity = 1.5', "whole number of pieces"),
        (f'part = "{PART}"\nquantity = -1', "quantity"),
        (f'part = "{PART}"\nquantity = 1\nbought = 2026-01-01', "does not go off"),
    ],
)
def test_a_stock_that_makes_no_sense_is_refused(tmp_path: Path, entry: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        study(tmp_path, guitar(tmp_path, "one", PLACES[:1]), f"[[stock]]\n{entry}\n")


@pytest.mark.slow
def test_every_list_says_who_gets_the_piece(tmp_path: Path) -> None:
    jobs = guitar(tmp_path, "one", PLACES[:2]) + guitar(tmp_path, "two", PLACES[:1])
    made = plan_batch(study(tmp_path, jobs, in_stock(1)), "cash", search=Search(engine="rule", tries=5))
    assert isinstance(made, Plan)
    (line,) = made.orders.had
    who = next(p for p in made.answer.purchases if p.kind == "stock")
    assert who.job == "one"
    assert line.words.startswith("from stock, 1 x ")
    assert f"({PART}) for one, {who.upgrade}: nothing to buy" in line.words
    assert line.words in " ".join(" ".join(order_lines(made.orders, "USD")).split())
    assert line.words in orders_csv(made)
    ordered = [one for basket in made.orders.baskets for one in basket.lines if one.what == PART]
    assert sum(int(one.number) for one in ordered) == 2
    told = as_data(PlanTold(made))
    assert told["from_stock"] == [{"part": PART, "number": 1, "job": "one", "upgrade": who.upgrade}]
    assert made.orders.total == made.answer.cash - sum(
        made.answer.measures[j.id].cash
        - sum(
            p.list_cents
            for p in made.study.batch.parts
            if made.answer.does(p.job, (p.upgrade,)) and p.job == j.id
        )
        for j in made.study.batch.jobs
    )
    # one by one the piece is there once as well
    assert measure_gain(made, "cash").single[0] >= made.answer.cash


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_batches_drawn_at_random_lay_out_the_least(tmp_path: Path, seed: int) -> None:
    """Without suppliers each piece costs its list price: from the batch without stock every piece is taken off."""
    chance = random.Random(seed)
    wanted = {
        f"job-{n}": tuple(chance.sample(PLACES, chance.randint(1, 3))) for n in range(chance.randint(1, 3))
    }
    there = chance.randint(0, 6)
    told = chance.choice(("batch", "jobs"))
    own = f"[stock]\n{PART} = {there}\n" if told == "jobs" else ""
    jobs = "".join(guitar(tmp_path, name, places, own) for name, places in wanted.items())
    one = study(tmp_path, jobs, in_stock(there) if told == "batch" else "")
    bare = study(tmp_path, "".join(guitar(tmp_path, name, places) for name, places in wanted.items()))
    answers = []
    for of in (one, bare):
        batch = replace(with_named_sets(of), sellers=())
        answers.append(choose_jointly(batch, "cash,cost"))
    with_stock, without = answers
    number = min(there, sum(map(len, wanted.values())))
    assert sum(pickups(with_stock, "stock").values()) == number
    assert without.cash - with_stock.cash == number * cents(shop().parts[PART].price)
    assert with_stock.chosen == without.chosen
