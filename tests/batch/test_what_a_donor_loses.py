"""What a donor that is not bought is told to lose: what all jobs bring without it, less what they bring with it."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.batch.build import study_batch
from estimator.batch.choose import choose_batch, with_job_bought
from estimator.batch.records import Batch
from estimator.batch.solve_exact import choose_jointly
from estimator.input.batch.load import load_batch
from estimator.plan.plan import with_named_sets
from tests.plan.bench import EXAMPLES, shop


def joined(folder: Path) -> Batch:
    """A school's guitar, whose parcel is paid for anyhow, and a bargain that may be left."""
    flip = (EXAMPLES / "resale-flip.toml").read_text()
    (folder / "flip.toml").write_text(flip)
    path = folder / "donor.toml"
    path.write_text(
        '[batch]\nid = "donor"\nstart = 2026-10-05\ncash = 260\n'
        '[[job]]\nid = "flip"\nfile = "flip.toml"\noptional = true\n'
        f'[[job]]\nid = "school"\nfile = "{EXAMPLES}/school-guitar.toml"\n'
    )
    return with_named_sets(study_batch(shop(), load_batch(path, shop())))


def asking(batch: Batch, cents: int) -> Batch:
    jobs = tuple(replace(j, buy_for=cents) if j.buy_for is not None else j for j in batch.jobs)
    return replace(batch, jobs=jobs)


@pytest.mark.slow
def test_the_loss_told_is_what_is_left_less_with_it(tmp_path: Path) -> None:
    aim = "profit"
    batch = joined(tmp_path)
    flip = batch.jobs[0]
    assert flip.buy_for is not None
    without = choose_batch(asking(batch, 100_000), aim).objective
    forced = choose_jointly(replace(with_job_bought(batch, flip), cash=None), aim).objective
    assert without is not None
    assert forced is not None
    even = forced - without  # the price at which it makes no difference, by nothing but two whole choices
    draw = random.Random(3)
    told = bought = 0
    for cents in (even - 1, even + 1, *(even + draw.randint(-400, 1200) for _ in range(6))):
        asked = asking(batch, cents)
        answer = choose_batch(asked, aim, currency="USD")
        if cents < even:
            bought += 1
            assert answer.left_out == ()
            continue
        if cents == even:
            continue
        assert answer.left_out == ("flip",)
        held = choose_jointly(with_job_bought(asked, asked.jobs[0]), aim)
        assert held.objective is not None
        assert answer.objective is not None
        found = re.search(
            r"would lose ([0-9.]+) USD at best|with it ([0-9.]+) USD less", answer.why_not["flip"]
        )
        assert found, answer.why_not
        loss = int(Decimal(found[1] or found[2]) * 100)
        assert loss == answer.objective - (held.objective - cents) == cents - even
        told += 1
    assert told >= 3
    assert bought >= 2
