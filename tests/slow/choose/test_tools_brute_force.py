"""Missing tools in the choice of one job against every set done every way, with every way to have its tools."""

from __future__ import annotations

import itertools
import os
import random
from collections.abc import Iterator

import pytest
from msgspec.structs import replace

from estimator.choose.study import Choice, make_estimate, study_job
from estimator.choose.tools import choose_with_tools, make_named
from estimator.core.errors import InputError
from estimator.core.money import cents
from estimator.estimate.build import make_costing
from estimator.model import Job, Shop
from estimator.tables.methods import by_methods
from tests.slow.batch.test_ways_brute_force import Case, case_of, done_every_way, price_of

CASES = int(os.environ.get("ESTIMATOR_CASES", "16"))


def to_have(shop: Shop, needs: frozenset[str]) -> int:
    """The least that some tools take: each bought, or with what is rented once."""
    rents = [row for row in shop.resale.send_out.values() if row.rent_low is not None]
    totals = []
    for rented in itertools.product((False, True), repeat=len(rents)):
        some = [row for row, is_rented in zip(rents, rented, strict=True) if is_rented]
        total = sum(cents((row.rent_low + row.rent_high) / 2) for row in some)  # type: ignore[operator]
        bought = needs - {tool for row in some for tool in row.tools}
        totals.append(total + sum(price_of(shop, tool) for tool in bought))
    return min(totals)


def wrong_in(seed: int) -> tuple[str, Choice] | None:
    """What is wrong with the answer to the job of a seed; None if there is no such job, or no tool is missing."""
    try:
        case = case_of(seed)
        if case is None or not case.file.tools_missing:
            return None
        job = replace(case.file.jobs[0].job, without_tools=case.file.tools_missing)
        study = study_job(case.shop, job, ways_open=True)
    except InputError:  # on the drawn instrument the upgrades are not offered by themselves
        return None
    found = choose_with_tools(study, "cost")
    plain = replace(job, without_tools=())
    wanted = min(
        (cost + to_have(case.shop, needs) for cost, needs in done_every_way(case, plain)), default=None
    )
    if not found.found:
        return ("" if wanted is None else f"{seed}: {found.answer.status}, {wanted} by hand"), found
    told = found.estimate.totals.cost + found.tools.cents
    used = {
        tool
        for line in (*found.estimate.lines, *found.estimate.desk)
        for tool, _ in found.study.shop.task_tools.get(line.task, ())
    }
    lacking = used & set(job.without_tools) - {tool for one in found.tools.got for tool in one.tools}
    if told != wanted or lacking:
        return f"{seed}: {told}, {wanted} by hand; not there: {lacking}", found
    return "", found


@pytest.mark.slow
def test_no_set_done_any_way_with_any_tools_is_cheaper() -> None:
    looked_at, got, wrong = 0, 0, []
    for seed in range(CASES):
        said = wrong_in(seed)
        if said is not None:
            looked_at += 1
            got += bool(said[1].tools.got)
            wrong += [said[0]] if said[0] else []
    assert wrong == []
    assert looked_at > 0.3 * CASES
    assert 0 < got < looked_at


def named_by_hand(case: Case, job: Job, named: tuple[str, ...]) -> Iterator[tuple[int, frozenset[str]]]:
    """What a named set costs done every way, and the missing tools that each needs."""
    base = study_job(case.shop, job)
    for combination in itertools.product(*(case.shop.ways.methods[task] for task in case.tasks)):
        shop = by_methods(case.shop, dict(zip(case.tasks, combination, strict=True)))
        estimate = make_costing(shop, job, base.verdicts).estimate(named)
        done = {line.task for line in (*estimate.lines, *estimate.desk)}
        worn = {tool for task in done for tool, uses in shop.task_tools.get(task, ()) if uses}
        yield estimate.totals.cost, frozenset(worn & set(case.file.tools_missing))


def named_wrong_in(seed: int) -> tuple[str, Choice] | None:
    """What is wrong with a drawn set that is named; None if there is no such job, or no tool is missing."""
    chance = random.Random(seed)
    try:
        case = case_of(seed)
        if case is None or not case.file.tools_missing:
            return None
        job = replace(case.file.jobs[0].job, without_tools=case.file.tools_missing)
        study = study_job(case.shop, job, ways_open=True)
        options = study.problem.options
        named = tuple(sorted(chance.sample(options, chance.randint(0, min(2, len(options))))))
        make_estimate(study, named)
    except InputError:  # not offered by themselves, or not to be done together
        return None
    found = make_named(study, named)
    every = named_by_hand(case, replace(job, without_tools=()), named)
    wanted = min(cost + to_have(case.shop, needs) for cost, needs in every)
    told = found.estimate.totals.cost + found.tools.cents
    wrong = found.estimate.chosen != named or told != wanted
    return (f"{seed}: {named} {told}, {wanted} by hand" if wrong else ""), found


@pytest.mark.slow
def test_no_named_set_is_cheaper_done_any_way_with_any_tools() -> None:
    looked_at, got, wrong = 0, 0, []
    for seed in range(3 * CASES):
        said = named_wrong_in(seed)
        if said is not None:
            looked_at += 1
            got += bool(said[1].tools.got)
            wrong += [said[0]] if said[0] else []
    assert wrong == []
    assert looked_at > 0.5 * CASES
    assert 0 < got < looked_at
