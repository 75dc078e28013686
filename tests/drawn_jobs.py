"""Jobs and shops drawn with a seed: the examples with their readings, terms, parts, stock and limits moved."""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType

from msgspec.structs import replace

from estimator.input.job.load import load_job
from estimator.model import Budget, IntakeField, Job, Reading, Shop
from tests.shops import default_shop as the_shop

EXAMPLES = Path(__file__).parents[1] / "example_jobs"
NAMES = tuple(sorted(path.stem for path in EXAMPLES.glob("*.toml")))


@cache
def example(name: str) -> Job:
    return load_job(str(EXAMPLES / f"{name}.toml"), the_shop())


def drawn(seed: int) -> tuple[Shop, Job]:
    """A shop with terms of its own and a job for it, the same for the same seed."""
    chance = random.Random(seed)
    shop, job = the_shop(), example(chance.choice(NAMES))

    def one_of(*words: str) -> Decimal:
        return Decimal(chance.choice(words))

    terms = replace(
        shop.terms,
        allowance=one_of("0", "0.1", "0.15"),
        allowance_on=chance.choice(("work", "shift")),
        tax_parts=one_of("0", "0.07", "0.0825"),
        tax_labour=one_of("0", "0.05"),
        tax_per=chance.choice(("invoice", "line")),
        shared_cause=one_of("0", "0.2", "1"),
        skill=chance.randint(1, 5),
        hidden_fault_share=one_of("0", "0.05", "0.13"),
    )
    own, sale = job.terms, job.sale
    if chance.random() < 0.3:
        own = replace(own, batch=chance.choice((2, 3)))
    if chance.random() < 0.3:
        own = replace(own, charge_per_hour=one_of("61.5", "90"))
    if chance.random() < 0.3:
        sale = replace(sale, own_pay_per_hour=one_of("20", "33.3"))
    if chance.random() < 0.3:
        own = replace(own, rush=True)
    return replace(shop, terms=terms), replace(
        job,
        kind=job.kind if job.kind == "resale" else chance.choice(("commission", "own")),
        instrument=_moved(job.instrument, shop.intake, chance),
        terms=own,
        sale=sale,
        parts={
            k: replace(p, owner=chance.choice(("shop", "shop", "customer"))) for k, p in job.parts.items()
        },
        stock={name: Decimal(chance.randint(1, 3)) for name in chance.sample(sorted(shop.consumables), 6)},
        requirements=tuple(wish for wish in job.requirements if chance.random() < 0.7),
        budget=_budget(chance),
        required=job.required if chance.random() < 0.5 else (),
        refused=job.refused if chance.random() < 0.5 else (),
    )


def _moved(
    readings: Mapping[str, Reading], intake: Mapping[str, IntakeField], chance: random.Random
) -> Mapping[str, Reading]:
    fields = dict(readings)
    for name, spec in intake.items():
        if name in ("kind", "tier") or name not in fields or chance.random() < 0.7:
            continue
        value = fields[name].value
        if isinstance(value, bool):
            value = chance.random() < 0.5
        elif isinstance(value, Decimal) and spec.accepted_low is not None and spec.accepted_high is not None:
            counted = value == value.to_integral_value()
            value = (value * chance.randint(85, 115) / 100).quantize(Decimal(1 if counted else "0.01"))
            value = max(spec.accepted_low, min(spec.accepted_high, value))
        elif isinstance(value, str) and spec.choices:
            value = chance.choice(spec.choices)
        fields[name] = replace(fields[name], value=value, assumed=chance.random() < 0.4)
    return MappingProxyType(fields)


def _budget(chance: random.Random) -> Budget:
    limit = Budget()
    if chance.random() < 0.7:
        money, on = Decimal(chance.randint(100, 900)), chance.choice(("cost", "cash", "price"))
        limit = Budget(money=money, on=on, surety=chance.choice((None, Decimal(80), Decimal(95))))
    if chance.random() < 0.4:
        limit = replace(limit, minutes=Decimal(chance.randint(120, 700)))
    return limit
