"""Triage on the screen: the verdict first, in one line, then what weighs most; all of it with --full."""

from __future__ import annotations

import random
import re
from decimal import Decimal

import pytest

from estimator.fit.triage import FINE, LOWER, OPEN, WALK, Check, Triage
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.report.text import triage
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


@pytest.fixture(scope="module")
def job(shop: Shop) -> Job:
    text = b'[job]\nid = "donor"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\n'
    return job_from(parse_toml(text, "donor.toml"), shop)


def drawn(draw: random.Random) -> Triage:
    """Ten checks of any outcome, those that lower the offer with a range."""
    outcomes = draw.choice(((WALK, LOWER, OPEN, FINE), (LOWER, OPEN, FINE), (OPEN, FINE), (FINE,)))
    checks = []
    for number in range(1, 11):
        outcome = draw.choice(outcomes)
        low = Decimal(draw.randint(1, 200_000)) / 100 if outcome == LOWER else Decimal(0)
        high = low + draw.choice((0, Decimal(draw.randint(0, 5000)) / 100)) if low else low
        checks.append(Check(number, f"look {number}", outcome, f"because {number}", low, high))
    return Triage(tuple(checks))


def test_the_verdict_is_the_first_line_and_what_weighs_most_follows(
    shop: Shop, job: Job, capsys: pytest.CaptureFixture[str]
) -> None:
    """200 drawn donors: the line's verdict, sum and checks are those of the checks themselves."""
    draw, verdicts = random.Random(9), set()
    for _ in range(200):
        found = drawn(draw)
        triage.show(shop, job, found, full=False)
        first, *others = capsys.readouterr().out.splitlines()
        assert first.startswith(f"donor: {triage.WORDS[found.outcome]}")
        verdicts.add(found.outcome)
        by_outcome = {o: [c.number for c in found.checks if c.outcome == o] for o in (WALK, LOWER, OPEN)}
        if found.outcome in (WALK, LOWER):
            named = re.search(r"\(checks? ([\d, ]+)\)", first)
            assert named is not None
            assert [int(n) for n in named[1].split(", ")] == by_outcome[found.outcome]
        sums = re.findall(r"[\d,]+\.\d\d", first)
        ends = [found.low, found.high][: 1 if found.low == found.high else 2]
        assert [Decimal(s.replace(",", "")) for s in sums] == (ends if found.outcome == LOWER else [])
        assert ("not looked at" in first) == bool(by_outcome[OPEN])
        told = [int(line.split(".")[0]) for line in others if re.match(r"  \d+\. ", line)]
        heavy = sorted(
            (c for c in found.checks if c.outcome in (WALK, LOWER)),
            key=lambda c: (c.outcome == LOWER, -c.high, c.number),
        )
        assert told == [c.number for c in heavy[:3]]
        assert others[-1].startswith("--full")
    assert verdicts == {WALK, LOWER, OPEN, FINE}


def test_all_ten_stand_in_the_long_form(shop: Shop, job: Job, capsys: pytest.CaptureFixture[str]) -> None:
    found = drawn(random.Random(3))
    triage.show(shop, job, found)
    told = capsys.readouterr().out
    assert told.startswith(f"donor: {triage.WORDS[found.outcome]}")
    assert re.findall(r"^ +(\d+)  +look", told, re.M) == [str(n) for n in range(1, 11)]
