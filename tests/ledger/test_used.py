"""What a task used: proposed from the accepted quote when it ends; accepted, changed or nothing, once."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.ledger.stock import stock, stock_move
from estimator.ledger.store import Ledger
from estimator.ledger.timers import typed
from estimator.ledger.used import proposed, read_used, tell_used, untold
from tests.ledger.shop import accepted, at, begun

NOW = at("2026-10-12 09:00")
M = 1_000_000
USES = {("string-up", "strings"): M, ("string-up", "lube"): M // 2, ("nut", "blank"): M}


def kept(tmp_path: Path) -> Ledger:
    ledger = begun(tmp_path)
    accepted(ledger, uses=USES, needs={"strings": M, "blank": M})
    stock_move(ledger, "bought", "strings", 3 * M, NOW)
    return ledger


def left(ledger: Ledger, item: str = "strings") -> int:
    return next(row.left for row in stock(ledger) if row.item == item)


def test_only_what_the_stock_has_held_is_proposed(tmp_path: Path) -> None:
    with kept(tmp_path) as ledger:
        assert proposed(ledger, "blue", "string-up") == {"strings": M}
        stock_move(ledger, "bought", "lube", M, NOW)
        assert proposed(ledger, "blue", "string-up") == {"lube": M // 2, "strings": M}
        assert proposed(ledger, "blue", "nut") == proposed(ledger, "blue", "no such task") == {}


def test_as_planned_is_taken_off_once_and_ends_what_the_job_holds(tmp_path: Path) -> None:
    with kept(tmp_path) as ledger:
        [move] = tell_used(ledger, "blue", "string-up", "planned", NOW)
        assert (move.change, left(ledger)) == (-M, 2 * M)
        [row] = [row for row in stock(ledger) if row.item == "strings"]
        assert row.reserved == 0
        with pytest.raises(InputError, match="told already"):
            tell_used(ledger, "blue", "string-up", "planned", NOW)
        assert (left(ledger), proposed(ledger, "blue", "string-up")) == (2 * M, {})


def test_changed_or_nothing(tmp_path: Path) -> None:
    with kept(tmp_path) as ledger:
        tell_used(ledger, "blue", "string-up", {"strings": 2 * M}, NOW)
        assert left(ledger) == M
        assert tell_used(ledger, "blue", "nut", "none", NOW) == []
        assert [row["how"] for row in ledger.rows("SELECT how FROM use_told ORDER BY task")] == [
            "none",
            "changed",
        ]


@pytest.mark.parametrize("said", ["planned", "none", {"strings": M // 2}])
def test_what_a_task_was_told_to_use_ends_what_is_held_for_it(tmp_path: Path, said: object) -> None:
    """Whatever was used, nothing is to be bought any more for a task that is done, be it in stock or never."""
    with begun(tmp_path) as ledger:
        uses = {("string-up", "strings"): M, ("string-up", "pegs"): 6 * M, ("nut", "strings"): M}
        accepted(ledger, uses=uses, needs={"strings": 2 * M, "pegs": 6 * M})
        stock_move(ledger, "bought", "strings", 3 * M, NOW)
        assert {row.item: row.reserved for row in stock(ledger)} == {"strings": 2 * M, "pegs": 6 * M}
        tell_used(ledger, "blue", "string-up", said, NOW)  # type: ignore[arg-type]
        # the other task still holds its own
        assert {row.item: row.reserved for row in stock(ledger) if row.reserved} == {"strings": M}


def test_what_is_not_there_is_refused_and_nothing_of_it_stays(tmp_path: Path) -> None:
    with kept(tmp_path) as ledger:
        with pytest.raises(InputError, match="than there is"):
            tell_used(ledger, "blue", "string-up", {"strings": M, "blank": M}, NOW)
        assert left(ledger) == 3 * M
        assert proposed(ledger, "blue", "string-up") == {"strings": M}
        with pytest.raises(InputError, match="nothing is planned") as refused:
            tell_used(ledger, "blue", "nut", "planned", NOW)
        # what the quote has it use was never in stock: it is named, and how it comes there
        assert "estimator ledger stock bought blank NUMBER --cost SUM" in str(refused.value)


def test_tasks_of_which_nothing_was_said_are_told(tmp_path: Path) -> None:
    with kept(tmp_path) as ledger:
        assert untold(ledger, "blue") == {}
        typed(ledger, "blue", "string-up", 600, NOW)
        assert untold(ledger, "blue") == {"string-up": {"strings": M}}
        tell_used(ledger, "blue", "string-up", "none", NOW)
        assert untold(ledger, "blue") == {}


def test_what_was_taken_off_by_hand_for_the_task_is_not_proposed_again(tmp_path: Path) -> None:
    from estimator.ledger.stock import Beside

    with kept(tmp_path) as ledger:
        stock_move(ledger, "used", "strings", M, NOW, Beside("blue", task="string-up"))
        assert proposed(ledger, "blue", "string-up") == {}


@pytest.mark.parametrize(
    "text", ["", "plannde", "strings", "strings=", "=2", "strings=x", "strings=1,strings=2", "strings=-1"]
)
def test_what_cannot_be_read_is_refused_in_words(text: str) -> None:
    with pytest.raises(InputError):
        read_used(text)


def test_forms_of_what_was_used() -> None:
    assert read_used(" planned ") == "planned"
    assert read_used("none") == "none"
    assert read_used("strings=2, lube=0.5") == {"strings": 2 * M, "lube": M // 2}
