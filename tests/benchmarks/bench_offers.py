"""Time, memory and growth of ``offer --list`` on generated listings, against one solve for each listing.

Run: python -m tests.benchmarks.bench_offers 1000 10000 (not part of the test run). The raw solver time
of a listing is that of the same programme on its own, taken from a sample of the listings.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from pathlib import Path

from msgspec.structs import replace

from estimator import load_shop, study_job
from estimator.choose.milp.model import Programme
from estimator.choose.sale import rows as sale_rows
from estimator.choose.sale.build import sale_frame
from estimator.core.money import amount
from estimator.input.listings import DonorListing, job_of, read_listings
from estimator.model import Shop
from estimator.price.donor.rank import offer_list

CLASSES = {
    "A": (60, 110, 30),
    "B": (120, 230, 35),
    "C": (260, 520, 20),
    "D": (520, 1150, 10),
    "E": (1150, 2500, 5),
}
CONDITIONS = {
    "clean-working": 10,
    "fair-working": 25,
    "needs-set-up": 30,
    "needs-repair": 20,
    "project": 10,
    "parts-only": 5,
}


def write_listings(path: Path, rows: int) -> None:
    """Listings as they might come in, one in fifty with an error; the same for the same number."""
    chance = random.Random(rows)
    lines = ["id,what,kind,tier,base_clean,condition,ask,seen,travel_min,inbound_cost"]
    for number in range(rows):
        tier = chance.choices(list(CLASSES), [weight for _, _, weight in CLASSES.values()])[0]
        low, high, _ = CLASSES[tier]
        base = chance.randint(low, high)
        condition = chance.choices(list(CONDITIONS), list(CONDITIONS.values()))[0]
        kind = chance.choice(("guitar-solid", "guitar-solid", "bass-solid"))
        ask = str(int(base * chance.uniform(0.2, 0.8)))
        condition = "broken" if number % 100 == 50 else condition
        ask = "12,5" if number % 100 == 70 else ask
        seen, travel, freight = (
            chance.choice(("photos", "held", "job-lot")),
            chance.choice((0, 20, 60)),
            chance.choice((0, 15)),
        )
        lines.append(
            f'l{number},thing {number},{kind},{tier},{base},{condition},"{ask}",{seen},{travel},{freight}'
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def raw_seconds(path: Path, shop: Shop, most: int = 40) -> float:
    """Mean solver time of the unshortened programme of a listing, over a sample of the listings."""
    sample = [entry for entry in read_listings(path, shop) if isinstance(entry, DonorListing)]
    step = max(1, len(sample) // most)
    spent, count = 0.0, 0
    for listing in sample[::step]:
        study = study_job(shop, job_of(listing, shop, str(path)))
        frame = sale_frame(shop, study.job, study.verdicts, study.costing)
        sale = frame.at(listing.base or amount(10_000))
        programme = Programme(replace(study.problem, sale=sale), study.measure)
        programme.ask(sale_rows.profit(programme))
        spent, count = spent + programme.seconds_solve, count + 1
    return spent / max(1, count)


def main(sizes: list[int]) -> None:
    """Print one line for each size."""
    shop = load_shop()
    before: tuple[int, float] | None = None
    for rows in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "listings.csv"
            write_listings(path, rows)
            start = time.perf_counter()
            found = offer_list(path, shop)
            spent = time.perf_counter() - start
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            raw = raw_seconds(path, shop)
        growth = (
            "" if before is None else f"; {rows / before[0]:.0f} x rows took {spent / before[1]:.1f} x time"
        )
        print(
            f"{rows} rows: {spent:.1f} s, {rows / spent:.0f} a second, {memory:.0f} MB, {found.solves} solves "
            f"({found.seconds_solving:.1f} s), {len(found.issues)} rows left out; one solve for each listing would take "
            f"{raw * len(found.offers):.0f} s: ratio {spent / (raw * len(found.offers)):.2f}{growth}"
        )
        before = (rows, spent)


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [200])
