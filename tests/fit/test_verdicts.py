"""Verdicts that are remembered are those that are judged anew, whatever was asked before."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.estimate.new_job import default_job
from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all
from estimator.fit.otherwise import could_be
from estimator.fit.verdicts import Verdicts
from estimator.input.job.load import load_job
from estimator.model import Job, Shop, Verdict
from estimator.tables.folders import default_folder
from tests.fit.measured import measured_as
from tests.shops import default_shop

SHOP = default_shop()
JOBS = Path(str(default_folder("example_jobs")))


def anew(shop: Shop, job: Job) -> tuple[Verdict, ...]:
    return judge_all(shop, job, all_upgrades(shop, job))


def job(name: str) -> Job:
    return load_job(JOBS / f"{name}.toml", SHOP)


@pytest.mark.parametrize("seed", range(4))
def test_instruments_of_all_kinds_one_after_another(seed: int) -> None:
    """Kinds, values, wishes and parts change from one to the next, and now and then one comes again."""
    chance, judged = random.Random(seed), Verdicts()
    examples = [job(name) for name in ("tight-commission", "short-scale-bass", "school-guitar")]
    came: list[Job] = [default_job(SHOP, kind, "x") for kind in ("guitar-solid", "bass-solid")]
    for _ in range(8):
        of, wish = chance.choice(came), chance.choice(examples)
        for name in chance.sample(sorted(of.instrument), 3):
            values = could_be(SHOP.intake[name], of) if name in SHOP.intake else ()
            of = measured_as(SHOP, of, name, chance.choice(values)) if values else of
        of = replace(of, requirements=chance.choice((of.requirements, wish.requirements)))
        part = chance.choice(tuple(SHOP.parts.values()))
        own = replace(part, price=part.price + 1, only=chance.random() < 0.5)
        of = replace(of, parts=chance.choice((of.parts, wish.parts, MappingProxyType({part.id: own}))))
        came.append(of)
        assert judged.of(SHOP, of) == anew(SHOP, of)
    for of in came:
        assert judged.of(SHOP, of) == anew(SHOP, of)


def test_a_changed_table_is_never_answered_from_memory() -> None:
    """Another shop, even one that differs in a single part, is judged by its own tables."""
    judged, of = Verdicts(), job("tight-commission")
    before = judged.of(SHOP, of)
    verdict = next(v for v in before if v.upgrade.part is not None)
    part = verdict.upgrade.part
    assert part is not None
    parts = {**SHOP.parts, part.id: replace(part, price=part.price + Decimal(1))}
    shop = replace(SHOP, parts=MappingProxyType(parts))
    after = judged.of(shop, of)
    assert after == anew(shop, of)
    assert after != before
    assert judged.of(SHOP, of) == before


def test_what_changes_nothing_is_not_judged_again() -> None:
    judged, of = Verdicts(), job("tight-commission")
    before = judged.of(SHOP, of)
    again = judged.of(SHOP, replace(of, id="another", budget=replace(of.budget, minutes=Decimal(1))))
    assert all(one is other for one, other in zip(before, again, strict=True))


def test_two_upgrades_of_one_name_are_told_apart_when_remembered() -> None:
    """Each row is remembered by itself; that two go by one name is found all the same."""
    row = SHOP.upgrades["set-up"]
    rows = {**SHOP.upgrades, "set-up-twin": replace(row, origin=row.origin)}
    shop = replace(SHOP, upgrades=MappingProxyType(rows))
    for _ in range(2):
        with pytest.raises(InputError, match="two upgrades would both be called set-up"):
            Verdicts().of(shop, job("tight-commission"))
