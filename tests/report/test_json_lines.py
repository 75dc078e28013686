"""A reader of ``--json`` can do every work line again from the figures of the line."""

from __future__ import annotations

import random
from decimal import Decimal
from math import prod
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import Study
from estimator.input.job.load import job_from, load_job
from estimator.model import Estimate
from estimator.report.record import as_data
from estimator.report.records.work import Work, lines_of
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

EXAMPLES = Path(__file__).parents[2] / "example_jobs"
HALF = Decimal("0.0051")


def told(study: Study, estimate: Estimate) -> list[dict[str, object]]:
    return [as_data(Work(line)) for line in lines_of(study, estimate)]


def redone(line: dict[str, object]) -> Decimal:
    """The minutes of a line from its other figures."""
    keys = ("quantity", "each_min", "extra_min", "again_min", "setup_min")
    quantity, each, extra, again, setup = (Decimal(str(line[key])) for key in keys)
    factors: list[dict[str, object]] = line["factors"]  # type: ignore[assignment]
    factor = prod((Decimal(str(named["times"])) for named in factors), start=Decimal(1))
    return setup + quantity * factor * each + extra + again


def cost_wrong(line: dict[str, object]) -> bool:
    """Whether its cost is not that of its headings, each use rounded with its kind."""
    headings = ("labour", "overhead", "reserve")  # parts are strings and the like, among the uses
    used = sum(
        (
            round(sum((Decimal(str(use["cost"])) for use in line[kind]), Decimal(0)), 2)  # type: ignore[attr-defined]
            for kind in ("consumables", "tools")
        ),
        Decimal(0),
    )
    whole = sum((Decimal(str(line[heading])) for heading in headings), used)
    return abs(whole - Decimal(str(line["cost"]))) > Decimal("0.02")


def wrong_lines(lines: list[dict[str, object]]) -> list[tuple[object, ...]]:
    return [
        (line["task"], line["place"], line["minutes"], redone(line))
        for line in lines
        if abs(Decimal(str(line["minutes"])) - redone(line)) > HALF or cost_wrong(line)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda file: file.stem)
def test_every_line_of_every_upgrade_of_the_examples(file: Path) -> None:
    shop = default_shop()
    study = study_job(shop, load_job(file, shop))
    lines = told(study, study.costing.estimate(study.problem.options))
    assert len(lines) > 30
    assert wrong_lines(lines) == []


@pytest.mark.slow
def test_lines_with_what_a_finding_adds_and_coats_set_up_again() -> None:
    rng = random.Random(20_261_128)
    default, seen = default_shop(), {"extra_min": 0, "again_min": 0}
    for _ in range(12):
        terms = replace(
            default.terms,
            allowance=Decimal(rng.randint(0, 25)) / 100,
            allowance_on=rng.choice(("work", "shift")),
        )
        tasks = {
            name: replace(task, reading=rng.choice(("10-50-90", "pert")))
            for name, task in default.tasks.items()
        }
        shop = replace(default, terms=terms, tasks=tasks)
        text = f"""
[job]
id = "one"
kind = "own"
[instrument]
kind = "guitar-solid"
nut_seat_w = {rng.choice((2.6, 3.0, 3.3, 4.1))}
nut_seat = "{rng.choice(("flat", "curved"))}"
[upgrades]
open = ["ready-cut-nut", "nut-from-blank", "refinish-spray", "set-up"]
[terms]
skill = {rng.randint(1, 5)}
"""
        study = study_job(shop, job_from(parse_toml(text.encode(), "one.toml"), shop))
        for option in study.problem.options:
            lines = told(study, study.costing.estimate((option,)))
            assert wrong_lines(lines) == []
            for key in seen:
                seen[key] += sum(line[key] != 0 for line in lines)
    assert min(seen.values()) > 20, seen
