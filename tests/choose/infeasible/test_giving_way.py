"""What stays as it is gives way in the ways out as it does in the choice: held against changed jobs."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.choose.choose import ChoiceResult
from estimator.choose.study import make_choice, study_job
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop

TREMOLO = 'br_type = "six-screw-trem"\nposts_pulling = true'
TWISTED = "twist = 0.9"


def job_of(instrument: str, require: str, rest: str) -> Job:
    text = (
        f'[job]\nid = "way"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n{instrument}\n'
        f"[wish]\nrequire = {{ {require} }}\n{rest}\n"
    )
    return job_from(parse_toml(text.encode(), "way.toml"), the_shop())


def answer_of(job: Job, explain: bool = True) -> ChoiceResult:
    return make_choice(study_job(the_shop(), job), explain=explain).answer


def with_limit(job: Job, limit: str, to: int) -> Job:
    """The job with money in cents, or time in hundredths of a minute."""
    if limit == "money":
        return replace(job, budget=replace(job.budget, money=Decimal(to) / 100))
    if limit == "worth":
        return replace(job, budget=replace(job.budget, worth=Decimal(to) / 100))
    return replace(job, budget=replace(job.budget, minutes=Decimal(to) / 100))


ORDER = ("feel", "look", "sound", "function", "originality", "wood")


def grave(answer: ChoiceResult) -> tuple[int, list[int]]:
    """How much an answer changes: by number, then by what stands later in the table."""
    ranks = [ORDER.index(rule.of) for rule in answer.changed]
    return len(ranks), sorted(ranks, reverse=True)


def held(job: Job, limit: str) -> int:
    """What the ways out say of a limit: each solves as it is told, a hair less does not or changes more."""
    answer = answer_of(job)
    assert answer.status == "infeasible"
    assert answer.explained
    kinds = {"money": "money", "worth": "money", "hours": "minutes"}
    ways = [way for way in answer.ways_out if way.rule.kind == kinds[limit]]
    for way in ways:
        assert way.to is not None
        raised = answer_of(with_limit(job, limit, way.to), explain=False)
        assert raised.status == "optimal", way.words
        assert [r.id for r in raised.changed] == [r.id for r in way.changed], way.words
        assert ("only by changing" in way.words) is bool(way.changed)
        short = answer_of(with_limit(job, limit, way.to - 1), explain=False)
        assert short.status == "infeasible" or grave(short) > grave(raised), way.words
    # what any single limit raised without end would do is told
    endless = answer_of(with_limit(job, limit, 100_000_000), explain=False).status == "optimal"
    assert endless is bool(ways)
    if endless:
        assert answer.whole_wish is not None
        assert ways[0].to == answer.whole_wish.changes[0].to
        short = with_limit(job, limit, (ways[0].to or 0) - 1)
        assert answer_of(short, explain=False).status == "infeasible"
        # the last way changes no more than the job without the limit must
        assert answer_of(with_limit(job, limit, 100_000_000), explain=False).changed == ways[-1].changed
    return len(ways)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("instrument", "require", "limit", "amount"),
    [
        (TREMOLO, "bridge-stability = 3", "money", 30000),
        (TWISTED, "action = 2", "money", 30000),
        (TWISTED, "action = 2", "hours", 12000),
        (TWISTED, "action = 2", "worth", 20000),
    ],
)
def test_a_limit_that_would_do_by_changing_what_stays_is_told(instrument, require, limit, amount):
    job = with_limit(job_of(instrument, require, ""), limit, amount)
    assert held(job, limit) >= 1


@pytest.mark.slow
def test_what_the_customer_keeps_is_among_the_conflicts_beside_a_price_that_is_too_low():
    job = job_of(TWISTED, "action = 2", '[upgrades]\nkeeps = ["neck"]\n[budget]\nmoney = 300')
    answer = answer_of(job)
    named = {rule.id for conflict in answer.conflicts for rule in conflict.rules}
    assert "keeps:neck" in named
    for way in answer.ways_out:
        if not way.aside:  # the money alone is no way out
            assert way.rule.kind == "level", way.words


@pytest.mark.slow
def test_the_nearest_says_what_it_changes():
    job = job_of(TWISTED, "action = 2, cosmetics = 4", "[budget]\nmoney = 400")
    answer = answer_of(job)
    near = answer.within_limits
    assert near is not None
    assert near.changed
    assert near.words[-1].startswith("only by changing ")
    assert not {rule.id for rule in near.given_up} & {rule.id for rule in near.changed}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_each_way_out_of_a_drawn_job_solves(seed):
    chance = random.Random(seed)
    instrument, wish = chance.choice(((TREMOLO, "bridge-stability = 3"), (TWISTED, "action = 2")))
    more = chance.choice(("", ", nut-function = 3", ", strap-security = 2", ", tuner-quality = 3"))
    job = job_of(instrument, wish + more, "")
    held(with_limit(job, "money", chance.randint(4000, 30000)), "money")


@pytest.mark.slow
def test_where_time_ends_the_reasons_the_answer_still_comes_and_says_what_is_open(monkeypatch, capsys):
    from estimator.report.text.no_choice import show_no_choice

    job = job_of(TWISTED, "action = 2", "[budget]\nmoney = 300")
    whole = answer_of(job)
    assert whole.explained
    assert whole.not_settled == ()
    monkeypatch.setattr("estimator.choose.choose.PATIENCE", 0.0)
    choice = make_choice(study_job(the_shop(), job))
    assert choice.answer.status == "infeasible"
    assert not choice.answer.explained
    assert "what clashes" in choice.answer.not_settled
    show_no_choice(choice)
    told = capsys.readouterr().out
    assert "Not looked at to the end: what clashes" in told
