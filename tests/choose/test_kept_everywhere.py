"""What stays as it is unless asked for stays so in offers, in sales and in plans; and is told where it must go."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator.batch.build import study_batch
from estimator.choose.study import make_choice
from estimator.cli.main import run
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.price.client.three_offers import three_offers
from estimator.report.words.plan import plan_words
from estimator.schedule.records import Search
from tests.choose.test_kept_unless_asked import study_of, unasked
from tests.drawn_jobs import the_shop

NUT = """
[job]
id = "{name}"
kind = "{kind}"
[instrument]
kind = "guitar-solid"
hum_grade = 1
base_clean = 400
[wish.require]
{wish}
"""
NEEDS_WOOD = "nut-material = 4"
"""No nut but a mechanical one is of this level, and its shelf is milled into the neck."""


@pytest.mark.slow
def test_offers_keep_what_was_not_asked_for():
    for wish in ("hum = 3", "hum = 2\naction = 3"):
        text = NUT.format(name="offered", kind="commission", wish=wish) + "[budget]\nmoney = 500\n"
        study = study_of(text)
        offers = three_offers(study)
        assert len(offers.made) >= 2
        for offer in offers.made:
            assert offer.only_by == ""
            assert not [one for one in offer.chosen if unasked(study, one)], offer


@pytest.mark.slow
def test_an_offer_says_what_it_changes():
    study = study_of(NUT.format(name="offered", kind="commission", wish=NEEDS_WOOD))
    wished = next(offer for offer in three_offers(study).made if offer.is_the("as-wished"))
    assert wished.only_by.startswith("Only by changing its wood (mechanical-nut-")
    assert wished.given_up == ()


@pytest.mark.slow
@pytest.mark.parametrize("aim", ["profit", "hourly"])
def test_an_instrument_of_the_shops_own_stays_what_it_is(aim):
    text = NUT.format(name="sold", kind="resale", wish="hum = 2")
    study = study_of(text)
    choice = make_choice(study, aim, explain=False)
    assert choice.found
    assert choice.answer.changed == ()
    assert not [one for one in choice.estimate.chosen if unasked(study, one)]


def batch_of(folder: Path, wishes: dict[str, str]) -> Path:
    path = folder / "week.toml"
    lines = ['[batch]\nid = "week"\nstart = 2026-10-05', '[[person]]\nid = "me"']
    for name, wish in wishes.items():
        (folder / f"{name}.toml").write_text(NUT.format(name=name, kind="own", wish=wish))
        lines.append(f'[[job]]\nid = "{name}"\nfile = "{name}.toml"')
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.mark.slow
def test_a_plan_changes_only_the_job_that_cannot_be_done_otherwise(tmp_path):
    path = batch_of(tmp_path, {"quiet": "hum = 2", "nut": NEEDS_WOOD})
    found = plan_batch(
        study_batch(the_shop(), load_batch(path, the_shop())), search=Search(engine="rule", tries=2)
    )
    assert isinstance(found, Plan)
    assert {job: [rule.id for rule in rules] for job, rules in found.study.changed.items()} == {
        "nut": ["kept:wood"]
    }
    assert "nut: Only by changing its wood (mechanical-nut-" in plan_words(found)
    for job, chosen in found.answer.chosen.items():
        study = found.study.studies[job]
        allowed = {"wood"} if job == "nut" else set()
        assert all(unasked(study, one) <= allowed for one in chosen)


@pytest.mark.slow
def test_choose_says_first_what_it_changes_and_why_lists_what_was_held_out(tmp_path, capsys):
    path = tmp_path / "nut.toml"
    path.write_text(NUT.format(name="nut", kind="own", wish=NEEDS_WOOD))
    assert run(["choose", str(path), "--why", "--full"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("Only by changing its wood (mechanical-nut-")
    held = [line for line in lines if line.startswith("Would change the sound it is known by for good")]
    assert held
    assert 'may_change = ["sound"]' in held[0]


@pytest.mark.slow
def test_a_way_out_of_a_limit_says_what_it_changes():
    """As the choice itself: what is kept unless asked gives way where nothing else meets the wish, and it is said."""
    text = NUT.format(name="nut", kind="own", wish=NEEDS_WOOD) + '[budget]\nmoney = 1\non = "cost"\n'
    choice = make_choice(study_of(text))
    assert choice.answer.status == "infeasible"
    (told,) = [way for way in choice.answer.ways_out if way.rule.id == "budget:money"]
    assert told.words.endswith(", and only by changing its wood")
    raised = make_choice(study_of(text.replace("money = 1", f"money = {Decimal(told.to) / 100}")))
    assert raised.found
    assert raised.answer.measure.cost == told.to > 100
    assert [rule.id for rule in raised.answer.changed] == ["kept:wood"]
