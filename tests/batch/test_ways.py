"""A heavier way that pays over several instruments though for none alone, by sums worked out here."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.ways import cheaper_ways
from estimator.estimate.labour import run_line, setup_line
from estimator.input.batch.load import load_batch
from estimator.model import Estimate, Shop
from estimator.report.words.ways import batch_way_lines
from estimator.tables.methods import by_methods
from tests.drawn_jobs import the_shop

SCHOOL = Path(__file__).parents[2] / "example_jobs" / "batches" / "batch-school.toml"


def with_set_up(minutes: int) -> Shop:
    """The shop with wheels for polishing that take so long to set up."""
    shop = the_shop()
    ways = dict(shop.ways.methods["polish-frets"])
    ways.pop("buffing-pads")
    ways["wheels"] = replace(ways["wheels"], setup_min=Decimal(minutes))
    methods = {**shop.ways.methods, "polish-frets": MappingProxyType(ways)}
    return replace(shop, ways=replace(shop.ways, methods=MappingProxyType(methods)))


def polished(minutes: int, jobs: int) -> tuple[BatchStudy, dict[str, Estimate]]:
    shop = with_set_up(minutes)
    study = study_batch(shop, load_batch(SCHOOL, shop))
    names = list(study.studies)[:jobs]
    return study, {name: study.studies[name].costing.estimate(("polish-frets",)) for name in names}


def by_hand(study: BatchStudy, method: str, jobs: int) -> int:
    """One set-up, and again its repeated share; every instrument's run."""
    one = next(iter(study.studies.values()))
    shop = by_methods(study.shop, {"polish-frets": method})
    setting = replace(one.costing.setting, shop=shop)
    row = shop.tasks["polish-frets"]
    ranks = one.costing.ranks["polish-frets", ""]
    rank = next(r for r in ranks if any(who == "polish-frets" for who, _ in r.wanted_by))
    run = run_line(row, rank.demand, setting).money.cost
    again = setup_line(row, setting, row.repeat_share).money.cost
    return setup_line(row, setting).money.cost + (jobs - 1) * again + jobs * run


@pytest.mark.slow
@pytest.mark.parametrize("minutes", [5, 25, 90])
def test_set_up_once_for_all_of_them(minutes: int) -> None:
    for jobs in (1, 2, 5):
        study, estimates = polished(minutes, jobs)
        mine = [way for way in cheaper_ways(study, estimates) if way.task == "polish-frets"]
        saves = by_hand(study, "cloth-grades", jobs) - by_hand(study, "wheels", jobs)
        assert [way.saves for way in mine] == ([saves] if saves > 0 else [])
        if mine:
            assert mine[0].alone == (by_hand(study, "wheels", 1) < by_hand(study, "cloth-grades", 1))
            (line,) = batch_way_lines(mine, "USD")
            assert ("though for none of them alone" in line) != mine[0].alone
    # 25 minutes of set-up pay for five guitars and for none alone
    if minutes == 25:
        assert mine
        assert not mine[0].alone
