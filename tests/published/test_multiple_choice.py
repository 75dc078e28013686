"""A multiple-choice knapsack put as a shop and a job: one option per group, labour at 40 an hour.

Constructed for this test, not published; the optima were found by listing all 216 combinations (and are
listed again below). Minimise parts + 40 x hours subject to a least score and a limit of hours.
"""

from __future__ import annotations

from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest

from estimator import load_job, load_shop, make_choice, study_job
from tests.shops import Row, amount_attribute, joined, priced_item, write_job, write_shop

# group | option | parts | hours | score
OPTIONS = """
frets | level | 18 | 1.5 | 3
frets | nickel | 46 | 4.0 | 6
frets | stainless | 72 | 6.0 | 8
nut | slots | 4 | 0.5 | 1
nut | bone | 14 | 1.25 | 3
wiring | clean | 3 | 0.5 | 1
wiring | rewire | 32 | 2.0 | 4
lining | paint | 12 | 0.75 | 2
lining | foil | 9 | 1.25 | 2
tuners | replace | 38 | 0.75 | 3
"""
LINES = [tuple(cell.strip() for cell in line.split("|")) for line in OPTIONS.strip().splitlines()]
SETTINGS = """
own_pay_per_hour = 40
hidden_fault_share = 0
[basis]
everything = "demo"
"""


def task_row(name: str, hours: Decimal) -> Row:
    minutes = hours * 60
    return {
        "id": f"do-{name}",
        "group": "body",
        "what": f"do {name}",
        "driver": "instrument",
        "setup_min": 0,
        "repeat_share": 0,
        "run_min_low": minutes,
        "run_min_likely": minutes,
        "run_min_high": minutes,
    }


def shop_folder(folder: Path) -> Path:
    groups = [{"attributes": [amount_attribute("points")]}]
    for group, option, parts, hours, score in LINES:
        item = priced_item(f"{group}-{option}", parts, {"points": score})
        item["upgrades"] = [{**item["upgrades"][0], "slot": f"one-{group}"}]
        item["tasks"] = [task_row(f"{group}-{option}", Decimal(hours))]
        item["upgrade_work"] = [
            {"upgrade": f"{group}-{option}", "task": f"do-{group}-{option}", "quantity": 1, "share": 1}
        ]
        groups.append(item)
    groups.append(
        {
            "base_work": [
                {"job_kind": "own", "task": t, "quantity": 0} for t in ("bench-inspection", "log-job")
            ]
        }
    )
    return write_shop(folder, joined(groups), SETTINGS)


def listed(score: int, hours: Decimal | None) -> Decimal | None:
    """The least cost over all combinations, by listing them."""
    groups: dict[str, list[tuple[Decimal, Decimal, int]]] = {}
    for group, _, parts, time, points in LINES:
        groups.setdefault(group, [(Decimal(0), Decimal(0), 0)]).append(
            (Decimal(parts), Decimal(time), int(points))
        )
    costs = [
        sum(p for p, _, _ in combination) + 40 * sum(t for _, t, _ in combination)
        for combination in product(*groups.values())
        if sum(s for _, _, s in combination) >= score
        and (hours is None or sum(t for _, t, _ in combination) <= hours)
    ]
    return min(costs, default=None)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("score", "hours", "cost"),
    [(8, None, 174), (8, 3, 174), (12, 6, 275), (15, 8, 364), (20, None, 598), (18, 8, None)],
)
def test_the_cheapest_combination(score: int, hours: int | None, cost: int | None, tmp_path: Path) -> None:
    assert listed(score, None if hours is None else Decimal(hours)) == cost
    names = [f"{group}-{option}" for group, option, *_ in LINES]
    budget = f"[budget]\nhours = {hours}\n" if hours else ""
    job = write_job(
        tmp_path / "job.toml",
        f'[job]\nid = "pick"\nkind = "own"\n[upgrades]\nopen = {names!r}\n'.replace("'", '"')
        + f"[wish.limits]\npoints = {{ least = {score} }}\n{budget}",
    )
    shop = load_shop(shop_folder(tmp_path / "shop"))

    choice = make_choice(study_job(shop, load_job(job, shop)))

    if cost is None:
        assert choice.answer.status == "infeasible"
        assert choice.answer.conflict is not None
        assert {rule.id for rule in choice.answer.conflict.rules} == {"wish:points", "budget:hours"}
    else:
        assert choice.answer.status == "optimal"
        assert choice.estimate.totals.cost == cost * 100
