"""Many different instruments for the benchmarks of joint choice: our own shop's tables, jobs drawn with a seed.

Each is one of the example jobs with its measurements moved by up to a tenth, some wishes dropped, no
budget of its own, and some forty upgrades open: those that the example's own best set needs, and
others at random. An instrument whose wish cannot be met that way is drawn again.
"""

from __future__ import annotations

import random
from datetime import date
from decimal import Decimal
from functools import cache
from types import MappingProxyType

from msgspec.structs import replace

from estimator.choose.milp.model import Programme
from estimator.choose.study import Study, make_choice, study_job
from estimator.input.batch.load import BatchFile, BatchJob, load_batch
from estimator.input.job.load import load_job
from estimator.model import Budget, Job, Shop
from tests.plan.bench import EXAMPLES, shop

BASES = ("school-guitar", "short-scale-bass", "tight-commission")
MEASURED = (
    "fret_h",
    "fret_wear",
    "fret_uneven",
    "relief",
    "action_b",
    "action_t",
    "nut_clear_b",
    "nut_clear_t",
)
OPEN = 40
"""Upgrades open to choice on each instrument."""


@cache
def base(name: str) -> tuple[Job, tuple[str, ...], tuple[str, ...]]:
    """An example job without its budget, its best set, and everything that is offered on it."""
    job = replace(load_job(EXAMPLES / f"{name}.toml", shop()), budget=Budget(), required=())
    study = study_job(shop(), job)
    return job, make_choice(study, explain=False).answer.chosen, study.problem.options


def drawn(number: int, seed: int) -> Job:
    """One instrument, the same for the same number and seed."""
    chance = random.Random(seed * 1_000_003 + number)
    while True:
        job, needed, options = base(BASES[number % len(BASES)])
        fields = dict(job.instrument)
        for name in MEASURED:
            reading = fields[name]
            assert isinstance(reading.value, Decimal)
            moved = (reading.value * chance.randint(90, 110) / 100).quantize(Decimal("0.01"))
            fields[name] = replace(reading, value=moved)
        wishes = tuple(r for r in job.requirements if chance.random() < 0.8)
        others = [o for o in options if o not in needed]
        open_ones = (*needed, *chance.sample(others, OPEN - len(needed)))
        made = replace(
            job,
            id=f"job-{number:04d}",
            instrument=MappingProxyType(fields),
            requirements=wishes,
            open=tuple(sorted(open_ones)),
            refused=(),
        )
        study = study_job(shop(), made)
        if possible(study):
            return made


def possible(study: Study) -> bool:
    """Whether any set meets the wish."""
    programme = Programme(study.problem, study.measure)
    return programme.ask(programme.columns.total("cost")).chosen is not None


def different(the_shop: Shop, number: int, seed: int = 7) -> BatchFile:
    """A batch of so many different instruments."""
    jobs = [drawn(n, seed) for n in range(number)]
    entries = tuple(BatchJob(job.id, job, date(2026, 12, 18), 1, None) for job in jobs)
    file = load_batch(EXAMPLES / "batches" / "batch-three.toml", the_shop)
    return replace(file, id=f"of-{number}", jobs=entries)


def resold(the_shop: Shop, number: int, seed: int = 7) -> BatchFile:
    """A batch of so many donors that may be left out: the example's bargain at different prices and states."""
    chance = random.Random(seed)
    plain = replace(load_job(EXAMPLES / "resale-flip.toml", the_shop), budget=Budget())
    entries = []
    for n in range(number):
        fields = dict(plain.instrument)
        for name, low, high in (("ask", 10, 110), ("base_clean", 260, 380), ("chip_n", 0, 5)):
            fields[name] = replace(fields[name], value=Decimal(chance.randint(low, high)), assumed=False)
        job = replace(plain, id=f"donor-{n:04d}", instrument=MappingProxyType(fields))
        entries.append(BatchJob(job.id, job, None, 1, None, optional=True))
    file = load_batch(EXAMPLES / "batches" / "batch-three.toml", the_shop)
    return replace(file, id=f"donors-{number}", jobs=tuple(entries))
