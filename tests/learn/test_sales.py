"""Days to sell from own sales: the closed form, what is still offered, what is too early; the command."""

from __future__ import annotations

import random
from datetime import date, timedelta
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.learn.accept import accept, take_back
from estimator.learn.sales import WEIGHT, factor, offers, sales
from estimator.ledger import jobs
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from tests.ledger.shop import at, begun, booking
from tests.shops import default_shop

FIRST = date(2026, 1, 5)
TO_SALE = ("at-work", "ready")


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


def offer(ledger: Ledger, number: int, days: int | None, way: str = "local", paid: int = 36000) -> None:
    """An instrument of class B (18 days), listed and sold after so many days; None: not sold."""
    name = f"own-{number}"
    jobs.book(ledger, booking(name, kind="resale", customer=""), at(f"{FIRST} 09:00"))
    for state in TO_SALE:
        jobs.move(ledger, name, state, at(f"{FIRST} 10:00"))
    jobs.move(ledger, name, "listed", at(f"{FIRST} 12:00"), listing=jobs.Listing(way, "B", 40000))
    if days is not None:
        jobs.move(ledger, name, "sold", at(f"{FIRST + timedelta(days=days)} 12:00"))
        jobs.pay(ledger, name, "sale", paid, at(f"{FIRST + timedelta(days=days)} 12:00"))


def test_days_by_hand_with_what_is_still_offered(tmp_path: Path, default: Shop) -> None:
    assert default.resale.tiers["B"].days == 18
    now = at(f"{FIRST + timedelta(days=54)} 12:00")
    with begun(tmp_path) as ledger:
        for number in range(4):
            offer(ledger, number, 36)
        (early,) = sales(ledger, default, now)
        assert early.early
        offer(ledger, 4, 36)
        offer(ledger, 5, None)
        (one,) = sales(ledger, default, now)
        # (10 + 5 x 36 / 18 + 54 / 18) / (10 + 5)
        assert float(one.after) == pytest.approx(23 / 15, abs=0.005)
        assert one.proposed
        assert one.number == 5
        assert one.words == (
            "5 sold, 1 was not yet; the middle one took 36 days and brought 0.90 of what was expected"
        )


def test_what_was_taken_back_to_the_bench_counts_till_then(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        offer(ledger, 0, None)
        jobs.move(ledger, "own-0", "at-work", at(f"{FIRST + timedelta(days=6)} 12:00"))
        (row,) = offers(ledger, at(f"{FIRST + timedelta(days=60)} 12:00"))
        assert (row["days"], row["sold"]) == (6, False)
        offer(ledger, 1, 0)
        assert [row["days"] for row in offers(ledger, at(f"{FIRST} 18:00"))][1] == 0.5


@pytest.mark.slow
def test_taken_over_not_learned_twice_and_back(tmp_path: Path, default: Shop) -> None:
    now = at(f"{FIRST + timedelta(days=54)} 12:00")
    with begun(tmp_path) as ledger:
        for number in range(10):
            offer(ledger, number, 36, "marketplace")
        found = sales(ledger, default, now)
        assert [one.before for one in found] == [default.resale.ways["marketplace"].days_factor]
        # 0.8 x (10 + 10 x 36 / 14.4) / 20
        assert [float(one.after) for one in found] == [1.4]
        accept(ledger, tmp_path, (), now, values=found)
        shop = load_shop(tmp_path)
        assert float(shop.resale.ways["marketplace"].days_factor) == 1.4
        again = sales(ledger, shop, now)
        assert [(float(one.prior), float(one.after), one.proposed) for one in again] == [(0.8, 1.4, False)]
        take_back(ledger, tmp_path, now)
        back = load_shop(tmp_path).resale.ways["marketplace"]
        assert back.days_factor == default.resale.ways["marketplace"].days_factor


def test_known_ways_are_recovered_with_a_window_that_cuts_off() -> None:
    """300 drawn shops, of which the slow offers are still open: no lean, and less error than the handbook has."""
    draw = random.Random(11)
    learned = handbook = lean = naive = 0.0
    for _ in range(300):
        truth = 1 / draw.gammavariate(WEIGHT + 1, 1 / WEIGHT)
        taken = [draw.expovariate(1 / truth) for _ in range(40)]
        seen, sold = [min(days, 1.5) for days in taken], [days for days in taken if days <= 1.5]
        mine = factor(seen, len(sold))
        learned += (mine - truth) ** 2
        handbook += (1 - truth) ** 2
        lean += (mine - truth) / 300
        naive += ((WEIGHT + sum(sold)) / (WEIGHT + len(sold)) - truth) / 300
    assert learned < handbook / 2
    assert abs(lean) < 0.03
    assert naive < -0.2  # what leaving out the unsold would do


@pytest.mark.slow
def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with begun(tmp_path) as ledger:
        for name, file in (("own", "example:resale-flip"), ("other", "")):
            of = booking(name, kind="resale", customer="")
            jobs.book(
                ledger,
                jobs.Booking(of.id, of.kind, of.what, of.instrument, "USD", file=file),
                at(f"{FIRST} 09:00"),
            )
            for state in TO_SALE:
                jobs.move(ledger, name, state, at(f"{FIRST} 10:00"))
    where = ["--ledger", str(tmp_path / "ledger.sqlite"), "--now", f"{FIRST} 12:00"]
    listed = ["ledger", "move", "own", "listed", *where]
    for wrong, said in (
        (["--way", "locl"], "local"),
        (["--tier", "B"], "add --way"),
        (["--way", "local", "--expected", "0"], "is no price"),
        (["--way", "local", "--tier", "Q"], "price class is not known"),
    ):
        assert run([*listed, *wrong]) == 2
        assert said in capsys.readouterr().err
    assert run(["ledger", "move", "other", "listed", "--way", "local", *where]) == 2
    assert "add --tier" in capsys.readouterr().err
    assert run([*listed, "--way", "local", "--expected", "410"]) == 0
    with Ledger(tmp_path / "ledger.sqlite") as ledger:
        row = ledger.row("SELECT way, tier, expected_cents FROM listing")
        assert row == {"way": "local", "tier": "C", "expected_cents": 41000}
    assert run(["ledger", "move", "other", "listed", *where]) == 0
    assert "--way" in capsys.readouterr().out
