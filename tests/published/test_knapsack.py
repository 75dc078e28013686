"""Published optima, put as shops and jobs and solved through the public functions.

Petersen, "Computational experience with variants of the Balas algorithm applied to the selection of
R&D projects", Management Science 13(9), 1967, 736-750; data as in the OR-Library file mknap1
(Beasley 1990). Taken as a cover: with y = 1 - x, the cheapest set of things to have such that every
amount reaches (sum of the row) - (limit); the optimum is then (sum of the profits) - (published optimum).
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator import load_job, load_shop, make_choice, study_job
from tests.shops import amount_attribute, joined, priced_item, write_job, write_shop

MKNAP1_1 = (
    "3800",
    "100 600 1200 2400 500 2000",
    """8 12 13 64 22 41 <= 80
       8 12 13 75 22 41 <= 96
       3 6 4 18 6 4 <= 20
       5 10 8 32 6 12 <= 36
       5 13 8 42 6 20 <= 44
       5 13 8 48 6 20 <= 48
       0 0 0 0 8 0 <= 10
       3 0 4 0 8 0 <= 18
       3 2 4 0 8 4 <= 22
       3 2 4 8 8 4 <= 24""",
    {2, 3, 6},
)
MKNAP1_2 = (
    "8706.1",
    "600.1 310.5 1800 3850 18.6 198.7 882 4200 402.5 327",
    """20 5 100 200 2 4 60 150 80 40 <= 450
       20 7 130 280 2 8 110 210 100 40 <= 540
       60 3 50 100 4 2 20 40 6 12 <= 200
       60 8 70 200 4 6 40 70 16 20 <= 360
       60 13 70 250 4 10 60 90 20 24 <= 440
       60 13 70 280 4 10 70 105 22 28 <= 480
       5 2 20 100 2 5 10 60 0 0 <= 200
       45 14 80 180 6 10 40 100 20 0 <= 360
       55 14 80 200 6 10 50 140 30 40 <= 440
       65 14 80 220 6 10 50 180 30 50 <= 480""",
    {2, 4, 5, 8, 10},
)
MKNAP1_3 = (
    "4015",
    "100 220 90 400 300 400 205 120 160 580 400 140 100 1300 650",
    """8 24 13 80 70 80 45 15 28 90 130 32 20 120 40 <= 550
       8 44 13 100 100 90 75 25 28 120 130 32 40 160 40 <= 700
       3 6 4 20 20 30 8 3 12 14 40 6 3 20 5 <= 130
       5 9 6 40 30 40 16 5 18 24 60 16 11 30 25 <= 240
       5 11 7 50 40 40 19 7 18 29 70 21 17 30 25 <= 280
       5 11 7 55 40 40 21 9 18 29 70 21 17 35 25 <= 310
       0 0 1 10 4 10 0 6 0 6 32 3 0 70 10 <= 110
       3 4 5 20 14 20 6 12 10 18 42 9 12 100 20 <= 205
       3 6 9 30 29 20 12 12 10 30 42 18 18 110 20 <= 260
       3 8 9 35 29 20 16 15 10 30 42 20 18 120 20 <= 275""",
    {1, 2, 4, 6, 7, 9, 10, 14, 15},
)


@pytest.mark.slow
@pytest.mark.parametrize("instance", [MKNAP1_1, MKNAP1_2, MKNAP1_3], ids=["mknap1-1", "mknap1-2", "mknap1-3"])
def test_the_cheapest_cover_is_the_published_one(
    instance: tuple[str, str, str, set[int]], tmp_path: Path
) -> None:
    optimum, profit_text, rows_text, packed = instance
    profits = [Decimal(p) for p in profit_text.split()]
    rows = [
        ([Decimal(n) for n in line.split("<=")[0].split()], Decimal(line.split("<=")[1]))
        for line in rows_text.splitlines()
    ]
    names = [f"thing-{n:02d}" for n in range(1, len(profits) + 1)]
    amounts = [f"amount-{n:02d}" for n in range(1, len(rows) + 1)]
    shop_dir = write_shop(
        tmp_path / "shop",
        joined(
            [
                {"attributes": [amount_attribute(a) for a in amounts]},
                *(
                    priced_item(name, profit, {a: row[i] for a, (row, _) in zip(amounts, rows, strict=True)})
                    for i, (name, profit) in enumerate(zip(names, profits, strict=True))
                ),
            ]
        ),
    )
    limits = "\n".join(
        f"{a} = {{ least = {sum(row) - limit} }}"
        for a, (row, limit) in zip(amounts, rows, strict=True)
        if sum(row) > limit
    )
    job_file = write_job(
        tmp_path / "job.toml",
        f'[job]\nid = "cover"\nkind = "own"\n[upgrades]\nopen = {names!r}\n[wish.limits]\n{limits}\n'.replace(
            "'", '"'
        ),
    )
    shop = load_shop(shop_dir)
    study = study_job(shop, load_job(job_file, shop))

    choice = make_choice(study)

    assert choice.answer.status == "optimal"
    nothing = study.costing.estimate(()).totals.cost
    assert choice.estimate.totals.cost - nothing == (sum(profits) - Decimal(optimum)) * 100
    left_out = {f"thing-{n:02d}-only" for n in packed}
    assert set(choice.estimate.chosen) == {f"{n}-only" for n in names} - left_out
