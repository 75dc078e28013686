"""Order points and shelf lives, against the same worked out by hand and by plain floats."""

from __future__ import annotations

import random
import statistics
from datetime import date, timedelta
from pathlib import Path

from estimator.ledger.shelf import StockLot, StockTerms, keeps_of, lots_of, order_point, shelf
from estimator.ledger.stock import Beside, stock_move
from estimator.ledger.store import Row
from tests.ledger.shop import accepted, at, begun
from tests.plan.bench import shop

M = 1_000_000
TODAY = date(2026, 10, 12)


def test_a_worked_order_point() -> None:
    """100 days, one used on every tenth: 0.1 a day, spread 0.3; nine days: 0.9 + 1.645 x 0.3 x 3 = 2.3805."""
    uses = {TODAY - timedelta(days=10 * n): M for n in range(10)}
    assert order_point(uses, TODAY, TODAY - timedelta(days=99), 9) == 2_380_500
    assert order_point(uses, TODAY, TODAY - timedelta(days=99), 0) == 0
    assert order_point({}, TODAY, TODAY, 9) is None


def test_use_of_more_than_a_year_ago_says_nothing() -> None:
    old = {TODAY - timedelta(days=365): 5 * M}
    assert order_point(old, TODAY, date(2020, 1, 1), 9) is None
    assert order_point({TODAY - timedelta(days=364): 5 * M}, TODAY, date(2020, 1, 1), 9) is not None


def test_drawn_uses_agree_with_the_formula_in_floats() -> None:
    draw = random.Random(3)
    for _ in range(200):
        span, lead = draw.randint(28, 500), draw.randint(1, 20)
        uses = {
            TODAY - timedelta(days=draw.randrange(min(span, 365))): draw.randint(1, 5 * M) for _ in range(8)
        }
        days = min(span, 365)
        each = [uses.get(TODAY - timedelta(days=n), 0) for n in range(days)]
        wanted = statistics.fmean(each) * lead + 1.645 * statistics.pstdev(each) * lead**0.5
        found = order_point(uses, TODAY, TODAY - timedelta(days=span - 1), lead)
        assert found is not None
        assert abs(found - wanted) <= 2


def move(day: str, millionths: int, kind: str = "", best_before: str | None = None) -> Row:
    kind = kind or ("bought" if millionths > 0 else "used")
    return {
        "item": "glue",
        "kind": kind,
        "millionths": millionths,
        "best_before": best_before,
        "at": f"{day}T09:00:00Z",
        "ahead_min": 0,
    }


def test_what_goes_off_first_is_used_first() -> None:
    moves = [
        move("2026-01-05", 2 * M, best_before="2027-01-01"),
        move("2026-02-05", 2 * M, best_before="2026-12-01"),
        move("2026-03-05", -3 * M),
    ]
    assert lots_of(moves, M) == [StockLot(date(2026, 1, 5), 2 * M, date(2027, 1, 1), M, None)]


def test_an_open_pack_keeps_from_the_day_it_was_opened() -> None:
    moves = [move("2026-01-05", 20 * M), move("2026-02-01", -3 * M), move("2026-03-01", -9 * M)]
    [lot] = lots_of(moves, 10 * M)
    assert (lot.opened, lot.keeps_till(30)) == (date(2026, 3, 1), date(2026, 3, 31))  # the second pack
    [lot] = lots_of([*moves, move("2026-04-01", -M)], 10 * M)
    assert lot.opened == date(2026, 3, 1)
    [lot] = lots_of(moves[:1], 10 * M)
    assert lot.keeps_till(30) is None


def test_the_list_says_what_to_order_and_what_is_gone_off(tmp_path: Path) -> None:
    keeps = {"glue": StockTerms(9, 10 * M, 90)}
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", "glue", 20 * M, at("2026-01-05 09:00"))
        stock_move(ledger, "bought", "dye", M, at("2026-01-05 09:00"), Beside(best_before=date(2026, 6, 1)))
        stock_move(ledger, "used", "glue", 3 * M, at("2026-05-01 09:00"))
        accepted(ledger, needs={"strings": M})
        rows = {row.item: row for row in shelf(ledger, keeps, StockTerms(9), at("2026-10-12 09:00"))}
        assert rows["glue"].keeps_till == "2026-07-30"
        assert rows["glue"].gone_off == 7 * M  # of the open pack; the other is closed
        assert rows["dye"].gone_off == M
        assert rows["dye"].order_point is None
        assert rows["strings"].to_order == M
        assert rows["glue"].to_order == 0
        stock_move(ledger, "spoiled", "glue", 17 * M, at("2026-10-12 09:00"))
        rows = {row.item: row for row in shelf(ledger, keeps, StockTerms(9), at("2026-10-12 09:00"))}
        assert rows["glue"].to_order == 10 * M
        assert rows["glue"].gone_off == 0
        assert rows["glue"].spoiled == 17 * M


def test_a_count_that_finds_less_is_use(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        stock_move(ledger, "bought", "glue", 20 * M, at("2026-09-05 09:00"))
        stock_move(ledger, "counted", "glue", 10 * M, at("2026-10-05 09:00"))
        [row] = shelf(ledger, {}, StockTerms(9), at("2026-10-12 09:00"))
    assert row.order_point > 0


def test_the_tables_give_lead_times_packs_and_months() -> None:
    keeps, usual = keeps_of(shop())
    strings = keeps["c-strings-guitar"]
    assert (strings.lead_days, strings.pack, strings.open_days) == (6, 10 * M, 1095)
    assert usual.lead_days == 9
