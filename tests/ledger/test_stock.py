"""Bought, used, counted, spoiled: what is left, and what is promised."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.learn.prices import purchases
from estimator.ledger import jobs
from estimator.ledger.reports import cash_by_month
from estimator.ledger.shelf import StockTerms, shelf
from estimator.ledger.stock import Beside, free_stock, read_quantity, stock, stock_move
from tests.ledger.shop import accepted, at, begun

NOW = at("2026-10-06 09:00")
M = 1_000_000


def test_what_is_left_after_each_kind(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        assert (
            stock_move(ledger, "bought", "strings", 6 * M, NOW, Beside(cents=3000, currency="USD")).left
            == 6 * M
        )
        assert stock_move(ledger, "used", "strings", 1 * M, NOW).left == 5 * M
        assert stock_move(ledger, "spoiled", "strings", M // 2, NOW).left == 4_500_000
        counted = stock_move(ledger, "counted", "strings", 3 * M, NOW)
        assert (counted.change, counted.left) == (-1_500_000, 3 * M)
        before = ledger.tables()
        for kind, item, many, cents in (
            ("used", "strings", 4 * M, 0),
            ("spoiled", "wire", 1, 0),
            ("used", "strings", 0, 0),
            ("lost", "strings", M, 0),
            ("used", "strings", M, 100),
            ("bought", " ", M, 0),
        ):
            with pytest.raises(InputError, match="next: "):
                stock_move(ledger, kind, item, many, NOW, Beside(cents=cents))
        assert ledger.tables() == before


def test_what_is_sent_back_is_so_much_less_bought_for_so_much_less_money(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", "jack", 3 * M, NOW, Beside(cents=1500, currency="USD"))
        sent = stock_move(
            ledger, "Returned", "jack", M, NOW, Beside(cents=450, currency="USD", remark="dead")
        )
        assert (sent.kind, sent.change, sent.left) == ("returned", -M, 2 * M)
        (month,) = cash_by_month(ledger)
        assert (month.stock, month.left) == (1050, -1050)
        assert [row["cents"] for row in purchases(ledger, "USD")["jack"]] == [1500]
        (row,) = shelf(ledger, {}, StockTerms(7), NOW)
        assert (row.left, row.order_point) == (2 * M, None)
        before = ledger.tables()
        with pytest.raises(InputError, match="more of jack would be returned than there is"):
            stock_move(ledger, "returned", "jack", 3 * M, NOW)
        assert ledger.tables() == before


def test_accepted_jobs_hold_what_they_need_until_they_have_used_it(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", "strings", 3 * M, NOW)
        accepted(ledger, "blue", needs={"strings": 2 * M, "stack": M})
        assert free_stock(ledger, frozenset()) == {"strings": Decimal(1)}
        assert free_stock(ledger, frozenset({"blue"})) == {"strings": Decimal(3)}
        short = {row.item: row.short for row in stock(ledger)}
        assert short == {"strings": 0, "stack": M}
        stock_move(ledger, "used", "strings", M, NOW, Beside(job="blue"))
        assert free_stock(ledger, frozenset()) == {"strings": Decimal(1)}
        jobs.move(ledger, "blue", "declined", NOW)
        assert free_stock(ledger, frozenset()) == {"strings": Decimal(2)}


def test_drawn_moves_add_up_exactly(tmp_path: Path) -> None:
    draw, left = random.Random(3), {"a": Decimal(0), "b": Decimal(0)}
    refused = 0
    with begun(tmp_path) as ledger:
        for _ in range(300):
            item, kind = draw.choice("ab"), draw.choice(("bought", "used", "counted", "spoiled"))
            many = Decimal(draw.randrange(1, 3_000_000)) / Decimal(10 ** draw.randrange(7))
            after = {"bought": left[item] + many, "counted": many}.get(kind, left[item] - many)
            try:
                stock_move(ledger, kind, item, read_quantity(many), NOW)
                assert after >= 0
                left[item] = after
            except InputError:
                assert after < 0 or many > 10**6
                refused += 1
            found = {row.item: Decimal(row.left) / M for row in stock(ledger)}
            assert all(found.get(name, 0) == many for name, many in left.items())
    assert refused > 10


def test_finer_than_millionths_is_refused() -> None:
    assert read_quantity(Decimal("0.000001")) == 1
    for wrong in ("0.0000001", "-1", "1000001"):
        with pytest.raises(InputError):
            read_quantity(Decimal(wrong))
