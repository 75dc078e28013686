"""What a job's own limit on cash is held against in a batch is told, on the screen and as data."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

from estimator.batch.build import study_batch
from estimator.core.text import money
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.report.record import as_data
from estimator.report.records.plan import PlanTold
from estimator.report.words.plan import plan_words
from estimator.report.words.plan_brief import plan_in_short
from estimator.schedule.records import Search
from tests.plan.bench import plan, shop

LIMIT = '[budget]\nmoney = 250\non = "cash"\n'


def planned(folder: Path, limits: tuple[str, str]) -> Plan:
    """Two guitars that get a ready-cut nut, and a rule for the action to be got."""
    text = '[batch]\nid = "b"\nstart = 2026-10-05\ntools_missing = ["t-action-rule"]\n'
    for name, limit in zip(("a", "b"), limits, strict=True):
        (folder / f"{name}.toml").write_text(
            f'[job]\nid = "{name}"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
            f'[upgrades]\nrequired = ["ready-cut-nut-premium"]\n{limit}'
        )
        text += f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\n'
    (folder / "batch.toml").write_text(text)
    study = study_batch(shop(), load_batch(folder / "batch.toml", shop()))
    found = plan_batch(study, "cash", search=Search(engine="rule", tries=5))
    assert isinstance(found, Plan)
    return found


def test_it_is_told_of_the_jobs_with_such_a_limit_and_of_no_others(tmp_path: Path) -> None:
    for limits in (("", ""), (LIMIT, ""), (LIMIT, LIMIT)):
        found = planned(tmp_path, limits)
        data = as_data(PlanTold(found))["jobs"]
        assert isinstance(data, list)
        texts = [" ".join("\n".join(plan_in_short(found)).split()), " ".join(plan_words(found).split())]
        for job, limit, told in zip(("a", "b"), limits, data, strict=True):
            order = found.answer.own_orders.get(job)
            assert (order is not None) == bool(limit)
            said = f"{job}: ordered by itself it would lay out"
            if order is None:
                assert told["own_order"] is None
                assert not any(said in words for words in texts)
                continue
            goods = sum(p.cents for p in order.purchases)
            assert order.sent == sum(order.freight.values()) > 0
            assert order.got > 0
            assert goods + order.sent <= order.cash <= 25_000
            assert told["own_order"] == {
                name: f"{cents / 100:.2f}"
                for name, cents in (("cash", order.cash), ("freight", order.sent), ("tools", order.got))
            }
            said += (
                f" {money(order.cash, 'USD')} (in it {money(order.sent, 'USD')} of freight and "
                f"{money(order.got, 'USD')} of tools) of its own limit of 250.00 USD; of the orders of this plan it "
                f"bears {money(found.orders.by_job[job], 'USD')}"
            )
            assert all(said in words for words in texts)


def test_what_is_laid_out_is_the_sum_of_what_stands_below_it(tmp_path: Path) -> None:
    """Who adds the orders up comes out at the sum above them: what the shelf gives stands beside them."""
    for found in (planned(tmp_path, ("", "")), plan("batch-three")):
        told = " ".join("\n".join(plan_in_short(found)).split())
        words = re.search(r"To lay out: ([\d.,]+) USD orders: (.*? USD|nothing) (?=\w{3} \d)", told)
        assert words is not None
        sums = [Decimal(one.replace(",", "")) for one in re.findall(r"[\d,]+\.\d\d", words[2])]
        assert sum(sums) == Decimal(words[1].replace(",", "")) == Decimal(found.cash) / 100
    assert found.cash > found.orders.total
