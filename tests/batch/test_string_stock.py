"""Strings in stock serve once, for all jobs of a batch; what is lacking is bought by the set.

What a batch lays out is reckoned from the same batch without any stock, so that no code of the counting
under test is used.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.build import BatchStudy, study_batch, with_named_sets
from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.records import JointAnswer
from estimator.batch.solve_exact import choose_jointly
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.report.words.orders import order_lines
from estimator.schedule.records import Search
from tests.plan.bench import shop

STRINGS = "c-strings-guitar"
A_SET = 700
CHOICES = ("new-strings", "set-up")


def study(folder: Path, wanted: Sequence[str], batch: str = "", own: str = "", more: str = "") -> BatchStudy:
    """A batch of guitars that must each have one upgrade; stock told by the batch, or alike by every job."""
    text = '[batch]\nid = "batch"\nstart = 2026-10-05\n'
    for number, upgrade in enumerate(wanted):
        told = f"[stock]\n{STRINGS} = {own}\n" if own else ""
        (folder / f"j{number}.toml").write_text(
            f'[job]\nid = "g"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[upgrades]\n'
            f'open = ["{upgrade}"]\nrequired = ["{upgrade}"]\n{told}{more if number == 0 else ""}'
        )
        text += f'[[job]]\nid = "j{number}"\nfile = "j{number}.toml"\n'
    if batch:
        text += f'[[stock]]\nconsumable = "{STRINGS}"\nquantity = {batch}\n'
    path = folder / "batch.toml"
    path.write_text(text)
    return study_batch(shop(), load_batch(path, shop()))


def chosen(of: BatchStudy, aim: str = "cash") -> JointAnswer:
    """Bought at the list price, without freight."""
    answer = choose_jointly(replace(with_named_sets(of), sellers=()), aim)
    assert answer.status == "optimal"
    return answer


def sets_bought(answer: JointAnswer) -> int:
    return sum(p.number for p in answer.purchases if p.what == STRINGS)


@pytest.mark.slow
@pytest.mark.parametrize("where", ["batch", "jobs"])
@pytest.mark.parametrize("there", ["0.5", "1", "2.5", "3", "9"])
def test_each_set_serves_once(tmp_path: Path, there: str, where: str) -> None:
    wanted = ("new-strings",) * 3
    it = study(tmp_path, wanted, there if where == "batch" else "", there if where == "jobs" else "")
    assert not it.file.issues
    answer, bare = chosen(it), chosen(study(tmp_path, wanted))
    used = min(3, int(Decimal(there)))
    assert bare.cash - answer.cash == used * A_SET
    if used:
        assert sets_bought(answer) == 3 - used
    assert sum(m.cost for m in answer.measures.values()) == sum(m.cost for m in bare.measures.values())


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_batches_drawn_lay_out_the_least(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    wanted = [chance.choice(CHOICES) for _ in range(chance.randint(1, 4))]
    there = chance.randint(0, 5)
    aim = chance.choice(("cash", "cost,cash"))
    answer, bare = chosen(study(tmp_path, wanted, str(there)), aim), chosen(study(tmp_path, wanted), aim)
    assert bare.cash - answer.cash == min(there, len(wanted)) * A_SET
    assert answer.chosen == bare.chosen


@pytest.mark.parametrize("lost", [False, True])
def test_with_suppliers_the_stock_saves_as_much_and_leaves_the_cost(tmp_path: Path, lost: bool) -> None:
    """Sets are had where they are had without a stock: no parcel is sent for them, and used up they are charged."""
    wanted = ("new-strings", "set-up", "new-strings")
    bare, *others = (
        choose_jointly(replace(with_named_sets(study(tmp_path, wanted, there)), lost=lost), "cost,cash")
        for there in ("", "1", "2", "5")
    )
    assert [bare.cash - it.cash for it in others] == [A_SET, 2 * A_SET, 3 * A_SET]
    assert {it.objective for it in others} == {bare.objective}


@pytest.mark.parametrize("there", ["1", "4"])
@pytest.mark.parametrize("lost", [False, True])
def test_taken_apart_the_batch_comes_to_the_same(tmp_path: Path, there: str, lost: bool) -> None:
    batch = replace(with_named_sets(study(tmp_path, ("new-strings",) * 3, there)), lost=lost)
    whole = choose_jointly(batch, "cost")
    apart = choose_by_columns(batch, "cost")
    assert apart.bound is not None
    assert whole.objective is not None
    assert apart.bound <= whole.objective <= (apart.objective or 0)
    assert apart.objective == whole.objective


def test_a_limit_on_cash_is_kept_with_the_stock_and_not_without(tmp_path: Path) -> None:
    wanted = ("new-strings",) * 2
    least = chosen(study(tmp_path, wanted, "1")).cash
    for there, status in (("1", "optimal"), ("", "infeasible")):
        batch = replace(with_named_sets(study(tmp_path, wanted, there)), sellers=(), cash=least)
        assert choose_jointly(batch, "cost").status == status


def test_a_job_with_a_limit_on_its_own_cash_buys_its_own(tmp_path: Path) -> None:
    """The limit holds whoever takes of the stock; what is there serves the other, and it is said."""
    wanted = ("new-strings",) * 2
    it = study(tmp_path, wanted, "1", more='[budget]\nmoney = 50\non = "cash"\n')
    assert sets_bought(chosen(it)) == 0
    bare = study(tmp_path, wanted, more='[budget]\nmoney = 50\non = "cash"\n')
    assert chosen(bare).cash - chosen(it).cash == A_SET
    (told,) = (str(issue) for issue in it.file.issues)
    assert "j0" in told
    assert STRINGS in told


def test_the_orders_name_sets_not_packs(tmp_path: Path) -> None:
    made = plan_batch(
        study(tmp_path, ("new-strings",) * 3, "1"), "cash", search=Search(engine="rule", tries=5)
    )
    assert isinstance(made, Plan)
    words = " ".join(" ".join(order_lines(made.orders, "USD")).split())
    assert "2 x steel string set of the gauge wanted, 6 strings: 14.00 USD" in words
    lines = [line for basket in made.orders.baskets for line in basket.lines if line.what == STRINGS]
    assert [(line.number, sum(cents for _, cents in line.bears)) for line in lines] == [("2", lines[0].cents)]


@pytest.mark.parametrize(("strings", "singles"), [(6, False), (8, True)])
def test_a_job_that_buys_its_own_is_warned_of_what_its_count_of_strings_uses(
    tmp_path: Path, strings: int, singles: bool
) -> None:
    """By ``task_consumables.csv``: six strings come as a set, eight one by one; neither uses what the other does."""
    (tmp_path / "j.toml").write_text(
        f'[job]\nid = "g"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\nstring_n = {strings}\n'
        '[upgrades]\nopen = ["new-strings"]\n[budget]\nmoney = 100\non = "cash"\n'
    )
    (tmp_path / "batch.toml").write_text(
        '[batch]\nid = "batch"\nstart = 2026-10-05\n[[job]]\nid = "j"\nfile = "j.toml"\n'
        + "".join(
            f'[[stock]]\nconsumable = "{what}"\nquantity = 3\n'
            for what in (STRINGS, "c-string-guitar-single")
        )
    )
    told = {
        what
        for what in (STRINGS, "c-string-guitar-single")
        for issue in load_batch(tmp_path / "batch.toml", shop()).issues
        if f"{what} in stock goes to the other jobs" in str(issue)
    }
    assert told == {"c-string-guitar-single" if singles else STRINGS}
