"""Infeasible jobs from end to end: every way out is made in the job and does; one unit less does not."""

from __future__ import annotations

import os
import random
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.choose.choose import ChoiceResult
from estimator.choose.infeasible.due import day_of_return
from estimator.choose.study import make_choice, study_job
from estimator.choose.verify.choice import day_done
from estimator.cli.common import load_both
from estimator.core.text import money as money_words
from estimator.input.job.load import job_from
from estimator.model import Job, Requirement
from estimator.model.planning import Person
from estimator.model.problem import Rule, Source
from estimator.report.text.no_choice import show_no_choice
from estimator.schedule.build import PlannedJob, operations_of
from estimator.schedule.heuristics import best_dispatch
from estimator.schedule.records import SchedulingProblem
from estimator.schedule.resources import calendar_of, resources_of
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

JOBS = int(os.environ.get("ESTIMATOR_JOBS", "6"))
PLANS = int(os.environ.get("ESTIMATOR_PLANS", "25"))
NAMES = ("tight-commission", "school-guitar", "resale-flip", "short-scale-bass", "impossible-wish")
NO_LIMIT = Decimal(10_000_000)


def answer_of(shop, job: Job, explain: bool = False) -> ChoiceResult:
    return make_choice(study_job(shop, job), "cost", explain=explain).answer


def changed(job: Job, rule: Rule, kind: str, to: int | None) -> Job:
    """The job with one change made in it, as a bench worker would write it."""
    if rule.id == "budget:money":
        return replace(job, budget=replace(job.budget, money=None if to is None else Decimal(to) / 100))
    if rule.id == "budget:hours":
        return replace(job, budget=replace(job.budget, minutes=None if to is None else Decimal(to) / 100))
    if rule.source == Source.WORTH:
        return replace(job, budget=replace(job.budget, worth=NO_LIMIT if to is None else Decimal(to) / 100))
    if rule.source == Source.DUE:
        return replace(job, wanted_by="" if to is None else day_of_return(rule, to))
    if rule.kind in ("required", "refused"):
        entry = rule.of
        return replace(job, **{rule.kind: tuple(e for e in getattr(job, rule.kind) if e != entry)})
    kept = []
    for asked in job.requirements:
        if asked.attribute == rule.attribute:
            if to is None:
                continue
            if rule.kind == "level":
                asked = replace(asked, level=Decimal(to) / 10, least=None)
            else:
                asked = replace(asked, **{"most" if kind == "raise" else "least": Decimal(to) / 1000})
        kept.append(asked)
    return replace(job, requirements=tuple(kept))


def a_job(seed: int):
    """A small job with more wished for than it can bear, more often than not."""
    chance = random.Random(seed)
    shop, job = load_both(f"example:{chance.choice(NAMES)}", None)
    study = study_job(shop, job)
    fitting = [v.upgrade.id for v in study.verdicts if v.outcome != "does-not-fit"]
    levels = [a.id for a in shop.attributes.values() if a.kind == "level"]
    picked = chance.sample(fitting, min(len(fitting), chance.randint(8, 30)))
    asked = [
        Requirement(name, None, None, Decimal(chance.randint(2, 4)), "asked")
        for name in chance.sample(levels, 2)
    ]
    if chance.random() < 0.3:
        asked.append(Requirement("weight", None, Decimal(chance.randint(3000, 4200)), None, "asked"))
    budget = replace(
        job.budget,
        money=None if chance.random() < 0.3 else Decimal(chance.randint(2000, 30000)) / 100,
        on=chance.choice(("cash", "cost", "price")),
        minutes=None if chance.random() < 0.5 else Decimal(chance.randint(60, 600)),
        surety=chance.choice((None, Decimal(80))),
        worth=None if chance.random() < 0.6 else Decimal(chance.randint(5000, 40000)) / 100,
    )
    came = date(2026, 10, chance.randint(1, 28))
    wanted = "" if chance.random() < 0.4 else (came + timedelta(days=chance.randint(0, 9))).isoformat()
    made = replace(
        job,
        received=came.isoformat(),
        wanted_by=wanted,
        requirements=tuple(asked),
        budget=budget,
        profile="",
        open=tuple(dict.fromkeys((*picked, *fitting[:4]))),
        required=tuple(chance.sample(picked, chance.choice((0, 0, 1)))),
        refused=tuple(chance.sample(fitting, chance.choice((0, 0, 1)))),
    )
    return shop, made


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(JOBS))
def test_each_way_out_is_made_in_the_job_and_does(seed: int) -> None:
    shop, job = a_job(seed)
    if set(job.required) & set(job.refused):
        job = replace(job, refused=())
    answer = answer_of(shop, job, explain=True)
    if answer.status != "infeasible":
        return
    assert answer.explained
    for way in answer.ways_out:
        eased = job
        for rule in way.aside:
            eased = changed(eased, rule, "drop", None)
        done = answer_of(shop, changed(eased, way.rule, way.kind, way.to))
        assert done.status == "optimal", way.words
        assert done.measure is not None
        assert done.measure.cost == way.measure.cost, way.words
        if way.kind != "drop":
            assert way.to is not None
            nearer = way.to + (1 if way.kind == "lower" else -1)
            if way.rule.kind == "level" and nearer > 40:
                continue
            short = changed(eased, way.rule, way.kind, nearer)
            assert answer_of(shop, short).status == "infeasible", f"{way.words}: {nearer} does too"
    for compromise in (answer.together, answer.whole_wish, answer.within_limits, answer.within_bare):
        if compromise is None:
            continue
        eased = job
        for change in compromise.changes:
            eased = changed(eased, change.rule, change.kind, change.to)
        done = answer_of(shop, eased)
        assert done.status == "optimal", compromise.words
        assert done.measure is not None
        assert done.measure.cost <= compromise.measure.cost
    if answer.within_limits is not None:
        assert {c.rule.kind for c in answer.within_limits.changes} <= {"level", "amount"}


NEEDED = ("stack", "clean-controls", "ready-cut-nut", "set-up", "shield-paint", "truss-rod", "locking")


def commission(**other):
    """The commission with little else open than what meets its wish."""
    shop, job = load_both("example:tight-commission", None)
    names = [verdict.upgrade.id for verdict in study_job(shop, job).verdicts]
    some = tuple(name for name in names if any(part in name for part in NEEDED))
    return shop, replace(job, open=some, **other)


@pytest.mark.slow
def test_a_day_that_work_and_cures_cannot_meet_is_named_and_the_first_day_that_they_can() -> None:
    shop, job = commission(received="2026-10-10", wanted_by="2026-10-10")  # a day on which the shop is shut
    answer = answer_of(shop, job, explain=True)
    assert answer.status == "infeasible"
    assert Source.DUE in {rule.id for conflict in answer.conflicts for rule in conflict.rules}
    way = next(way for way in answer.ways_out if way.rule.source == Source.DUE)
    assert way.to is not None
    first = day_of_return(way.rule, way.to)
    assert way.words.startswith(f"promise it for {first} at the earliest (now: back by 2026-10-10")
    assert answer_of(shop, replace(job, wanted_by=first)).status == "optimal"
    before = (date.fromisoformat(first) - timedelta(days=1)).isoformat()
    assert answer_of(shop, replace(job, wanted_by=before)).status == "infeasible"


@pytest.mark.slow
def test_a_day_is_named_also_where_its_wishes_clash_with_money_too() -> None:
    """Both conflicts are told; no single change is enough, and the fewest that are, are told."""
    shop, job = commission(received="2026-10-10", wanted_by="2026-10-10")  # a day on which the shop is shut
    job = replace(job, budget=replace(job.budget, money=Decimal(300)))
    answer = answer_of(shop, job, explain=True)
    named = [{rule.id for rule in conflict.rules} for conflict in answer.conflicts]
    assert any("budget:money" in ids for ids in named)
    assert any(Source.DUE in ids for ids in named)
    assert all(way.aside for way in answer.ways_out)
    assert answer.together is not None
    assert len(answer.together.changes) == 2
    eased = job
    for change in answer.together.changes:
        eased = changed(eased, change.rule, change.kind, change.to)
    assert answer_of(shop, eased).status == "optimal"


@pytest.mark.slow
def test_a_finish_that_cures_too_long_is_refused_by_the_day() -> None:
    shop, job = commission(wanted_by="2026-10-12")
    job = replace(job, budget=replace(job.budget, money=None), open=())
    clock = study_job(shop, job).problem.clock
    assert clock is not None
    slow, days = max(clock.least, key=lambda item: item[1])
    assert days > 7
    answer = answer_of(shop, replace(job, required=(slow,)), explain=True)
    assert answer.status == "infeasible"
    assert {f"required:{slow}", Source.DUE} <= {rule.id for c in answer.conflicts for rule in c.rules}


@pytest.mark.slow
def test_a_cost_beyond_what_it_will_ever_bring_is_named() -> None:
    shop, job = commission()
    cost = answer_of(shop, job).measure.held("cost")
    worth = Decimal(cost - 1) / 100
    poor = replace(job, budget=replace(job.budget, worth=worth))
    answer = answer_of(shop, poor, explain=True)
    assert answer.status == "infeasible"
    way = next(way for way in answer.ways_out if way.rule.source == Source.WORTH)
    assert way.to == cost
    assert "what it will ever bring" in way.words
    assert (
        answer_of(shop, replace(job, budget=replace(job.budget, worth=Decimal(cost) / 100))).status
        == "optimal"
    )


@pytest.mark.slow
def test_a_resale_wish_is_held_against_the_most_that_its_sale_can_bring() -> None:
    shop, job = load_both("example:resale-flip", None)
    study = study_job(shop, job)
    rule = next(rule for rule in study.problem.rules if rule.source == Source.WORTH)
    sale = study.problem.sale
    assert sale is not None
    brings = sum(part.value for part in sale.removed)
    fee = (Decimal(sale.ceiling) * sale.fee_basis_points / 10_000).quantize(Decimal(1), "ROUND_HALF_DOWN")
    assert rule.most == sale.ceiling - fee - sale.fixed + brings
    free = replace(job.budget, money=None, minutes=None)

    def wish_for(attributes: tuple[str, ...], worth: Decimal | None) -> ChoiceResult:
        wishes = tuple(Requirement(name, None, None, Decimal(4), "asked") for name in attributes)
        asked = replace(job, requirements=wishes, budget=replace(free, worth=worth))
        return answer_of(shop, asked, explain=True)

    modest = ("fret-levelness", "fret-material")
    everything = (*modest, "cosmetics", "nut-material", "tuner-quality")
    for attributes, status in ((modest, "optimal"), (everything, "infeasible")):
        unsold = wish_for(attributes, NO_LIMIT)
        assert (unsold.measure.held("cost") <= rule.most) == (status == "optimal")
        answer = wish_for(attributes, None)
        assert answer.status == status
        named = {found.id for conflict in answer.conflicts for found in conflict.rules}
        assert (Source.WORTH in named) == (status == "infeasible")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(PLANS))
def test_no_plan_is_done_before_the_day_that_the_choice_holds_to_be_the_first(seed: int) -> None:
    """Against the plan's own operations, cures and calendar, all parts there, at the fastest pace."""
    chance = random.Random(seed)
    shop, job = load_both(f"example:{chance.choice(NAMES)}", None)
    came = date(2026, 10, chance.randint(1, 28))
    job = replace(job, received=came.isoformat(), wanted_by=came.isoformat())
    study = study_job(shop, job)
    assert study.problem.clock is not None
    slowest = [u for u, _ in sorted(study.problem.clock.least, key=lambda item: -item[1])[:12]]
    several = chance.sample(study.problem.options, chance.randint(1, 12))
    chosen = {*several, *chance.sample(slowest, chance.randint(0, 1))}
    people = (Person("one", 5),)
    planned = PlannedJob("j", study.costing, study.costing.estimate(sorted(chosen)), {})
    operations, parts = operations_of(planned, people, "fast")
    calendar = calendar_of(shop, came)
    work = SchedulingProblem(tuple(operations), {**resources_of(shop, people), **parts})
    _, assignments = best_dispatch(work, calendar, ("makespan",))
    last = max(assignment.end for assignment in assignments)
    done = calendar.moment(calendar.elapsed_at_end(last))
    assert isinstance(done, datetime)
    assert done >= datetime.combine(came, time())
    assert day_done(study.problem, chosen) <= (done.date() - came).days


HAIR = """[job]
id = "hair"
kind = "commission"
[instrument]
kind = "guitar-solid"
jack_state = "dead"
pot_state = "scratchy"
[wish.require]
output-jack = 3
controls = 3
intonation = 2
[budget]
money = 218.06
on = "cost"
surety = 95
"""


@pytest.mark.slow
def test_the_least_excess_is_told_to_the_cent_that_the_way_out_asks_for(capsys):
    """A cent short by a hair of rounding is short: the excess, the way out and the limit tell one figure."""
    shop = default_shop()
    for money in ("218.06", "205", "211"):
        choice = make_choice(
            study_job(shop, job_from(parse_toml(HAIR.replace("218.06", money).encode(), "hair"), shop))
        )
        excess = choice.answer.whole_wish
        (raised,) = [way for way in choice.answer.ways_out if way.rule.id == "budget:money"]
        assert excess is not None
        assert [rule.id for rule in excess.given_up] == ["budget:money"]
        to, limit = (
            money_words(cents, shop.terms.currency) for cents in (raised.to, int(Decimal(money) * 100))
        )
        assert excess.words == (f"{raised.rule.words}: comes to {to} of {limit}",)
        show_no_choice(choice)
        told = capsys.readouterr().out
        sets = [line for line in told.splitlines() if line.lstrip().startswith("with ")]
        assert sets
        assert all(line.endswith(" min at 95 % surety") for line in sets)
    text = HAIR.replace("218.06", "218.07")
    assert make_choice(
        study_job(shop, job_from(parse_toml(text.encode(), "hair"), shop)), explain=False
    ).found


@pytest.mark.slow
def test_a_worth_says_at_what_surety_it_is_held():
    shop = default_shop()
    text = HAIR.replace('money = 218.06\non = "cost"', "worth = 200")
    choice = make_choice(study_job(shop, job_from(parse_toml(text.encode(), "hair"), shop)))
    assert not choice.found
    (rule,) = [rule for rule in choice.study.problem.rules if rule.source == Source.WORTH]
    assert rule.words == "cost at most 200.00 USD at 95 % surety, what it will ever bring"
    (kept,) = [way for way in choice.answer.ways_out if way.rule.source == Source.WORTH]
    assert kept.to == kept.measure.held("cost") > kept.measure.cost


HEAVY = """[job]
id = "heavy"
kind = "commission"
[instrument]
kind = "guitar-solid"
weight_g = "9 1/2 lb"
[wish.require]
intonation = 2
fret-levelness = 3
[wish.limits]
weight = { most = "3200 g" }
[budget]
hours = 1.1
"""


@pytest.mark.slow
def test_a_way_out_taken_as_it_reads_solves():
    """Grams and minutes are told whole, rounded to the side on which the set still keeps them."""
    shop = default_shop()

    def answer(text: str, explain: bool = True) -> ChoiceResult:
        study = study_job(shop, job_from(parse_toml(text.encode(), "heavy"), shop))
        return make_choice(study, explain=explain).answer

    for limit, kind, write in (
        (
            "hours = 1.1\n",
            "amount",
            lambda words: (words.removeprefix("allow up to ").split(" g ")[0] + " g", "3200 g"),
        ),
        (
            '[wish.limits]\nweight = { most = "3200 g" }\n',
            "minutes",
            lambda words: ('"' + words.removeprefix("allow ").split(" (")[0] + '"', "1.1"),
        ),
    ):
        text = HEAVY.replace(limit, "")
        ways = [way for way in answer(text).ways_out if way.rule.kind == kind]
        assert ways
        for number, way in enumerate(ways):
            now, was = write(way.words)
            mended = text.replace(was, now)
            assert mended != text
            solved = answer(mended, explain=False)  # only whether there is a set, and by what it changes
            assert solved.measure is not None, way.words
            assert [rule.id for rule in solved.changed] == [rule.id for rule in way.changed], way.words
            if kind == "amount":  # a gram less is not enough: the rounding gives nothing away
                # but by changing for good more of what nobody asked to be changed: the way told before
                tighter = answer(text.replace(was, f"{int(now[:-2]) - 1} g"), explain=False)
                assert (tighter.measure is None) is (number == 0)
                assert number == 0 or tighter.changed
