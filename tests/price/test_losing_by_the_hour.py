"""By the hour where no set earns: a loss is not made less by sharing it out over more hours."""

from __future__ import annotations

import itertools
import json
import random
from fractions import Fraction
from pathlib import Path

import pytest

from estimator import study_job
from estimator.choose.study import Study, make_choice
from estimator.choose.verify.choice import recheck
from estimator.cli.main import run
from estimator.model import Job, Shop
from estimator.price.donor.offer import make_offer, most_to_pay
from estimator.price.resale.compare import proceeds, resale_plans
from estimator.price.resale.part_out import parted
from tests.price.jobs import SOUND, resale_job
from tests.price.test_ways_of_selling import left_by_the_lines
from tests.shops import default_shop

NEEDLESS = ("heel-ferrules", "mend-wiring", "satin-neck", "polish-frets")
OPEN = (*NEEDLESS, "clean-controls", "new-jack-economy", "set-up", "polish-body", "new-knobs-standard")
SOUND_PICKUPS = 'jack_state = "good"\ndc_ohm_neck = 6\ndc_ohm_middle = 6\ndc_ohm_bridge = 6'
SAID = "no set earns"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def losing_job(shop: Shop) -> Job:
    return resale_job(shop, "C", 113, 239, more=SOUND_PICKUPS, open_=NEEDLESS)


def test_needless_work_does_not_thin_a_loss_out(shop: Shop) -> None:
    """Some 200 is lost with nothing done; every piece of work costs more than a buyer pays for it."""
    study = study_job(shop, losing_job(shop))
    choice = make_choice(study, "hourly")
    assert choice.answer.chosen == make_choice(study, "profit").answer.chosen == ()
    assert (choice.answer.none_earns, choice.answer.proven) == (True, True)
    assert choice.answer.objective == proceeds(study, ()).earned
    plans = {plan.name: plan for plan in resale_plans(study)}
    assert plans["hourly"].proceeds.chosen == ()
    assert plans["hourly"].words.startswith(SAID)


def test_a_set_that_earns_is_told_as_before(shop: Shop) -> None:
    study = study_job(shop, resale_job(shop, "C", 500, 20, more=SOUND, open_=OPEN[4:7]))
    choice = make_choice(study, "hourly")
    assert not choice.answer.none_earns
    assert "pays best by the hour" in {p.name: p for p in resale_plans(study)}["hourly"].words


@pytest.mark.slow
def test_text_and_json_say_that_none_earns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = ", ".join(f'"{name}"' for name in NEEDLESS)
    for ask, told in ((239, True), (0, False)):
        file = tmp_path / f"ask-{ask}.toml"
        file.write_text(
            f'[job]\nid = "flip"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\ntier = "C"\n'
            f"base_clean = {113 if told else 900}\nask = {ask}\n{SOUND_PICKUPS}\n[upgrades]\nopen = [{names}]\n"
        )
        assert run(["choose", str(file), "--aim", "hourly", "--full"]) == 0
        assert (SAID in capsys.readouterr().out.lower()) == told
        assert run(["choose", str(file), "--aim", "hourly", "--json"]) == 0
        words = json.loads(capsys.readouterr().out)["no_set_earns"]
        assert (words is not None and words.startswith(SAID)) == told
        assert run(["sell", str(file), "--json"]) == 0
        plans = {plan["plan"]: plan["words"] for plan in json.loads(capsys.readouterr().out)["plans"]}
        assert plans["hourly"].startswith(SAID) == told


@pytest.mark.slow
def test_the_best_by_the_hour_against_every_set(shop: Shop) -> None:
    """Small jobs, most of them at a loss: exact in whole cents against all sets that may be."""
    rng = random.Random(113)
    lost = earned = 0
    for number in range(14):
        job = resale_job(
            shop,
            rng.choice("BCD"),
            rng.randint(60, 500),
            rng.randint(0, 330),
            more=rng.choice((SOUND, SOUND_PICKUPS)),
            open_=tuple(rng.sample(OPEN, 3)),
            resale=f'way = "{rng.choice(tuple(shop.resale.ways))}"',
        )
        study = study_job(shop, job)
        gains = {chosen: gain_of(study, chosen) for chosen in sets_of(study)}
        answer = make_choice(study, "hourly").answer
        assert answer.proven, number
        gain, minutes = gains[answer.chosen]
        losing = all(money < 0 for money, _ in gains.values())
        assert answer.none_earns == losing, number
        if losing:
            lost += 1
            assert gain == max(money for money, _ in gains.values()), number
        else:
            earned += 1
            assert Fraction(gain, minutes) == max(Fraction(*of) for of in gains.values()), number
        assert study.problem.sale is not None
        exact = study.problem.sale.pay + Fraction(6000 * gain, minutes)
        assert answer.objective is not None
        assert abs(answer.objective - exact) <= Fraction(1, 2), number
    assert lost >= 5
    assert earned >= 2


@pytest.mark.slow
def test_the_pay_at_the_asking_price_does_not_thin_a_loss_out(shop: Shop) -> None:
    """The pay told for an asking price is that of a plan that may be had, by the rule for every set."""
    rng = random.Random(239)
    lost = earned = 0
    for number in range(8):
        ask = (5, 900)[number % 2]
        job = resale_job(
            shop,
            rng.choice("BCD"),
            rng.randint(100, 700),
            ask,
            more=SOUND_PICKUPS,
            open_=tuple(rng.sample(OPEN, 3)),
            condition="needs-set-up",
        )
        study = study_job(shop, job)
        offer = make_offer(study)
        odds, rest = offer.odds_bad, offer.salvage - offer.spent
        plans = [
            (p.profit, p.minutes) for p in (parted(study), *(proceeds(study, s) for s in sets_of(study)))
        ]
        left = {
            (
                most_to_pay(profit, odds, rest, offer.lost_minutes, offer.pay) - ask * 100,
                (1 - odds) * minutes + odds * offer.lost_minutes,
            )
            for profit, minutes in plans
        }
        losing = all(money < 0 for money, _ in left)
        assert offer.loses_at_ask == losing, number
        best = max(left) if losing else max(left, key=lambda of: Fraction(of[0], 1) / of[1])
        assert offer.pay_at_ask is not None
        # lines are rounded to the cent, so that another plan may be as good to a cent
        assert abs(offer.pay_at_ask - offer.pay - best[0] * 6000 / best[1]) <= 1, number
        lost, earned = lost + losing, earned + (not losing)
    assert lost >= 3
    assert earned >= 2


@pytest.mark.slow
def test_an_offer_says_that_no_set_earns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = ", ".join(f'"{name}"' for name in NEEDLESS)
    for ask, told in ((239, True), (1, False)):
        file = tmp_path / f"ask-{ask}.toml"
        file.write_text(
            f'[job]\nid = "flip"\nkind = "resale"\n[instrument]\nkind = "guitar-solid"\ntier = "C"\n'
            f"base_clean = 400\nask = {ask}\n{SOUND_PICKUPS}\n[upgrades]\nopen = [{names}]\n"
        )
        status = run(["offer", str(file), "--full"])
        assert status in (0, 1)
        assert (SAID in " ".join(capsys.readouterr().out.split())) == told
        assert run(["offer", str(file), "--json"]) == status
        words = json.loads(capsys.readouterr().out)["no_set_earns"]
        assert (words is not None and words.startswith(SAID)) == told


def sets_of(study: Study) -> list[tuple[str, ...]]:
    options = study.problem.options
    sizes = range(len(options) + 1)
    every = itertools.chain.from_iterable(itertools.combinations(options, n) for n in sizes)
    return [chosen for chosen in every if not recheck(study.problem, chosen, 0)]


def gain_of(study: Study, chosen: tuple[str, ...]) -> tuple[int, int]:
    """Cents left over the price paid, and hundredths of a minute: from the sale and the lines of work."""
    p = proceeds(study, chosen)
    return left_by_the_lines(study, p) - p.paid, p.minutes
