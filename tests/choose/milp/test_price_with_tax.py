"""The lower bound on what a customer pays holds the tax: no bound above a price, and none far below it."""

from __future__ import annotations

import random
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import make_choice, price_bound, study_job
from estimator.core.money import half_up
from estimator.estimate.commission import price_of
from estimator.input.job.load import job_from
from estimator.model import Money, Shop
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop

D = Decimal
TEXT = b'[job]\nid = "j"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n[upgrades]\nopen = ["set-up"]\n'


def taxed_shop(parts: Decimal, labour: Decimal, per: str) -> Shop:
    shop = the_shop()
    return replace(shop, terms=replace(shop.terms, tax_parts=parts, tax_labour=labour, tax_per=per))


@pytest.mark.parametrize("per", ["invoice", "line"])
@pytest.mark.parametrize("rush", ["no", "yes"])
@pytest.mark.slow
def test_no_price_lies_below_its_bound_and_no_cent_adds_less_than_its_slope(per: str, rush: str) -> None:
    rng = random.Random(f"{per} {rush}")
    job = job_from(parse_toml(TEXT, "j.toml"), the_shop())
    job = replace(job, terms=replace(job.terms, rush=rush == "yes"))
    study = study_job(the_shop(), job)
    for _ in range(12):
        taxes = [
            rng.choice((D(0), D("0.0825"), D("0.19"), D(rng.randrange(1, 250)) / 1000)) for _ in range(2)
        ]
        shop = taxed_shop(*taxes, per)
        made = replace(
            study,
            shop=shop,
            reckoned=replace(study.reckoned, setting=replace(study.reckoned.setting, shop=shop)),
        )
        bound = price_bound(made)
        assert bound.roundings is not None
        for _ in range(40):
            minutes, parts, used = rng.randrange(0, 60_000), rng.randrange(0, 40_000), rng.randrange(0, 9_000)
            work = rng.randrange(-500, 6_000)
            line_tax = half_up(Fraction(parts) * Fraction(taxes[0])) if per == "line" else 0
            money = Money(price_parts=parts, consumables=used, price_work=work, line_tax=line_tax)
            told = price_of(minutes, money, shop.terms, job.terms, least=False).to_pay
            least = bound.constant + bound.per_minute * minutes / 100
            least += bound.per_part * parts + bound.of_work * work
            if minutes:
                assert bound.fee_from is not None
                least += bound.of_work * max(0, used - bound.fee_from)
            assert told >= least, (taxes, minutes, parts, used, work)
            dear, more = rng.randrange(0, 5_000), rng.randrange(0, 5_000)
            again = price_of(
                minutes,
                replace(money, price_parts=parts + dear, price_work=work + more),
                shop.terms,
                job.terms,
                least=False,
            ).to_pay
            added = bound.per_part * dear + bound.of_work * more
            assert again - told >= added - bound.roundings - 1e-6, (taxes, dear, more)


@pytest.mark.slow
def test_why_a_budget_is_too_small_is_settled_as_soon_with_tax_as_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same budget short by as much: 8.25 % of tax asks hardly more questions of the engine."""
    monkeypatch.setattr("estimator.choose.choose.PATIENCE", 600.0)
    text = (Path("example_jobs") / "tight-commission.toml").read_text(encoding="utf-8")
    rounds = []
    for budget, tax in (("485", D(0)), ("525", D("0.0825"))):
        shop = taxed_shop(tax, tax, "invoice")
        raw = text.replace("money = 525 ", f"money = {budget} ").encode()
        answer = make_choice(study_job(shop, job_from(parse_toml(raw, "j.toml"), shop))).answer
        assert answer.status == "infeasible"
        assert answer.explained
        assert answer.not_settled == ()
        rounds.append(answer.rounds)
    assert rounds[1] * 10 <= rounds[0] * 13, rounds
