"""Two pays side by side in an offer, and what a bad donor still brings as the job states it."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from estimator import study_job
from estimator.cli.main import run
from estimator.model import Shop
from estimator.price.donor.offer import make_offer, offer_at
from estimator.price.resale.compare import resale_plans
from estimator.price.resale.part_out import part_out, parted
from estimator.report.words.resale import offer_sentences, part_out_sentence
from tests.price.jobs import SOUND, resale_job, selling
from tests.shops import default_shop

FEW = ("set-up", "clean-controls", "new-jack-economy", "polish-body", "adjust-nut")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


@pytest.mark.slow
def test_a_second_pay_is_the_same_as_a_job_that_wants_it(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    for pay in (0, 1_200, 3_500, 6_000):
        beside = offer_at(study, pay)
        wanted = f"own_pay_per_hour = {pay / 100:.2f}"
        alone = make_offer(study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale=wanted)))
        assert (beside.pay, beside.most, beside.stop, beside.plan.chosen) == (
            pay,
            alone.most,
            alone.stop,
            alone.plan.chosen,
        )


@pytest.mark.slow
def test_the_most_to_pay_falls_as_the_pay_rises(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    most = [offer_at(study, pay).most for pay in (0, 1_000, 2_000, 3_500, 5_000, 9_000)]
    assert most == sorted(most, reverse=True)
    assert most[0] > most[-1]


def test_both_pays_are_told(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    made, other = make_offer(study), offer_at(study, 1_500)
    lines = offer_sentences(made, shop, other)
    first, second = (
        next(line for line in lines if f"at {pay} USD an hour:" in line) for pay in ("35.00", "15.00")
    )
    assert f"{made.stop / 100:.2f}" in first
    assert f"{other.stop / 100:.2f}" in second
    assert not any("at 15.00" in line for line in offer_sentences(made, shop))


@pytest.mark.parametrize("stated", [0, 30, 150])
def test_a_stated_salvage_stands_in_the_formula(shop: Shop, stated: int) -> None:
    """(1 - 0.14) x profit + 0.14 x (stated - (1.5 h and the time of its sale) x 35.00); no fee comes off, the ladder is not asked."""
    key = f"salvage = {stated}"
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale=key))
    offer = make_offer(study, "held")
    odds = Fraction(14, 100)
    exact = (1 - odds) * offer.plan.profit + odds * (
        stated * 100 - Fraction((9_000 + selling(study)) * 3_500, 6_000)
    )
    assert (offer.salvage, offer.salvage_stated) == (stated * 100, True)
    assert abs(offer.most - exact) <= Fraction(1, 2)
    assert any(
        f"still brings {stated}.00 USD (as the job states)" in line for line in offer_sentences(offer, shop)
    )


def test_without_it_the_ladder_stands_and_nothing_is_called_stated(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND))
    offer = make_offer(study, "held")
    assert (offer.salvage, offer.salvage_stated) == (6_391, False)
    assert not any("as the job states" in line for line in offer_sentences(offer, shop))
    assert "as the job states" not in part_out_sentence(part_out(study), shop)


def test_taken_apart_it_brings_what_is_stated(shop: Shop) -> None:
    """Profit = stated - minutes at 35.00 an hour, by hand; the plan stands beside those that sell it whole."""
    study = study_job(shop, resale_job(shop, open_=FEW, more=SOUND, resale="salvage = 500"))
    out = part_out(study)
    assert (out.low, out.high, out.middle, out.lots, out.stated) == (50_000, 50_000, 50_000, (), True)
    assert abs(out.profit - (50_000 - Fraction(out.minutes * 3_500, 6_000))) <= Fraction(1, 2)
    assert "brings 500.00 USD (as the job states)" in part_out_sentence(out, shop)
    assert parted(study).price == 50_000
    best = max(resale_plans(study), key=lambda plan: plan.proceeds.profit)
    assert not best.proceeds.whole  # 500.00 in parts beats a guitar of 320.00


@pytest.mark.slow
def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "donor.toml"
    path.write_text(
        '[job]\nid = "donor"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\ntier = "C"\n'
        f"base_clean = 320\nask = 120\n{SOUND}\n[resale]\nsalvage = 75\n"
        f"[upgrades]\nopen = {json.dumps(FEW)}\n"
    )
    assert run(["offer", str(path), "--pay", "15", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["salvage"], told["salvage_stated"]) == ("75.00", True)
    assert (told["pay_per_hour"], told["at_other_pay"]["pay_per_hour"]) == ("35.00", "15.00")
    assert float(told["at_other_pay"]["stop"]) > float(told["stop"])
    assert run(["offer", str(path), "--pay", "15", "--full"]) == 0
    printed = capsys.readouterr().out
    assert "at 35.00 USD an hour: " in printed
    assert "at 15.00 USD an hour: " in printed
    assert run(["sell", str(path), "--full"]) == 0
    assert "brings 75.00 USD (as the job states)" in capsys.readouterr().out
    assert run(["offer", str(path), "--pay", "-1"]) == 2
    path.write_text(path.read_text().replace("salvage = 75", "salvage = -75"))
    assert run(["offer", str(path)]) == 2
    assert "salvage" in capsys.readouterr().err
