"""What is told of parcels and of a plan made again is true of the moment and of the direction."""

from __future__ import annotations

from datetime import timedelta

from msgspec.structs import replace

from estimator.batch.arrivals import arrival_of, arrivals_of, bought_as, is_sent, parcels_of
from estimator.plan.replan.changes import changes_of
from estimator.plan.replan.saved_plan import KeptWork
from tests.plan.bench import plan


def test_packs_of_two_sellers_are_expected_each_on_its_own_day() -> None:
    found = plan("batch-three")
    study, answer = found.study, found.answer
    pack = next(p for p in answer.purchases if p.kind == "pack" and is_sent(p))
    own = arrival_of(study, pack)
    other = next(
        replace(pack, seller=s.id)
        for s in study.batch.sellers
        if arrival_of(study, replace(pack, seller=s.id)) != own
    )
    both = replace(answer, purchases=(*answer.purchases, other))
    assert arrivals_of(study, both)[bought_as(pack)] == own
    assert arrivals_of(study, both)[bought_as(other)] == arrival_of(study, other)
    told = parcels_of(study, both, found.calendar)
    words = study.shop.consumables[pack.what].what
    for one in (pack, other):
        days = [day for day, comes in told.items() if (one.seller, words) in comes]
        assert days == [found.calendar.moment(arrival_of(study, one)).date()]


def test_a_later_parcel_is_never_the_cause_of_an_earlier_day() -> None:
    found = plan("batch-three")
    calendar = found.calendar
    words = {bought_as(p): "the parcel comes later" for p in found.answer.purchases if is_sent(p)}
    for days, unexplained in ((7, "there is room for it sooner now"), (-7, "the order of work changed")):
        before = {
            b.operation: KeptWork(
                b.operation,
                b.who,
                calendar.moment(calendar.elapsed_at_start(b.start)) + timedelta(days=days),
                calendar.moment(calendar.elapsed_at_end(b.end)) + timedelta(days=days),
            )
            for b in found.schedule.assignments
        }
        reasons = {change.why for change in changes_of(found, before, words).values()}
        assert unexplained in reasons or days < 0
        assert ("the parcel comes later" in reasons) == (days < 0)
        assert not any("cures or settles" in why for why in reasons) or days < 0
