"""Sums of well-known jobs stay inside the trade's ranges, also in a shop of one's own."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from estimator import load_shop
from estimator.estimate.geometry import Quantity, quantities_of, skin_of_cavities
from estimator.estimate.work_list import known_job_sums, sense_issues
from estimator.model import Reading
from tests.shops import write_shop

RATES = Path(__file__).parents[2] / "rates"


def changed_task(name: str, **changes: str) -> dict[str, str]:
    """A row of the default tasks with some cells changed."""
    with (RATES / "tasks.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["id"] == name)
    return row | changes


def test_a_row_that_breaks_the_sense_of_a_job_is_told_with_the_sum(tmp_path: Path) -> None:
    slow = changed_task("level-frets", run_min_low="6", run_min_likely="11", run_min_high="20")
    shop = load_shop(write_shop(tmp_path / "mine", {"tasks": [slow]}))
    issues = list(sense_issues(shop))
    told = {issue.problem.split("“")[1].split("”")[0] for issue in issues}
    with_levelling = {
        job.what
        for job in shop.known_jobs.values()
        if any(row.task == "level-frets" for row in shop.known_job_work[job.id])
    }
    assert told == with_levelling
    assert len(told) >= 3
    for issue in issues:
        assert issue.severity == "warning"
        assert issue.where.file.endswith("known_jobs.csv")
    refret = next(i for i in issues if "22 nickel-silver" in i.problem)
    sums = known_job_sums(shop, shop.known_jobs["refret-nickel-silver"])
    assert f"mean {sums.mean:.2f} min, likely {sums.likely:.1f} min" in refret.found
    assert refret.accepted == "300 to 480 min"


def test_a_task_that_got_too_quick_is_told_too(tmp_path: Path) -> None:
    quick = changed_task("string-up", run_min_low="0.01", run_min_likely="0.02", run_min_high="0.03")
    quick_final = changed_task("final-check", run_min_low="0.1", run_min_likely="0.2", run_min_high="0.3")
    quick_tune = changed_task("set-intonation", run_min_low="0.1", run_min_likely="0.2", run_min_high="0.3")
    shop = load_shop(write_shop(tmp_path / "mine", {"tasks": [quick, quick_final, quick_tune]}))
    assert any("set-up, hardtail" in issue.problem for issue in sense_issues(shop))


def test_a_price_alone_does_not_break_the_sense(tmp_path: Path) -> None:
    settings = 'charge_per_hour = 60\n\n[basis]\ncharge_per_hour = "demo"\n'
    shop = load_shop(write_shop(tmp_path / "mine", {}, settings))
    assert shop.terms.charge_per_hour == 60
    assert list(sense_issues(shop)) == []


# --- quantities taken from the measurements of an instrument


def measured(**values: str) -> dict[str, Reading]:
    return {name: Reading(Decimal(value), False) for name, value in values.items()}


def named(found: tuple[Quantity, ...]) -> dict[str, Quantity]:
    return {quantity.name: quantity for quantity in found}


def test_fret_wire_comes_from_the_board() -> None:
    board = measured(scale="647.7", fret_n="22", nut_wid="42", board_last_wid="56")
    wire = named(quantities_of(board))["fret wire"]
    assert wire.value == pytest.approx(1248.7, abs=0.05)
    assert wire.assumed == ()
    board["board_last_wid"] = Reading(Decimal(56), True)
    assert named(quantities_of(board))["fret wire"].assumed == ("board_last_wid",)
    del board["nut_wid"]
    assert "fret wire" not in named(quantities_of(board))


def test_skin_and_passes_come_from_the_routs() -> None:
    routs = measured(
        rout_l_bridge="89", rout_w_bridge="22", rout_d_bridge="19", ctl_l="110", ctl_w="45", ctl_d="38"
    )
    found = named(quantities_of(routs))
    by_hand = (2 * 111 * 19 + 89 * 22) / 100 + (2 * 155 * 38 + 110 * 45) / 100
    assert found["skin of the cavities"].value == pytest.approx(by_hand)
    assert skin_of_cavities(routs) == pytest.approx(by_hand)
    assert found["router passes to the deepest rout"].value == 6
    assert quantities_of({}) == ()


def test_body_skin_comes_from_face_outline_and_thickness() -> None:
    body = measured(face_cm2="1050", perim_mm="1350", body_thk="44.5")
    assert named(quantities_of(body))["skin of the body"].value == pytest.approx(2700.75)
