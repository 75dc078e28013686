"""Judged again with readings moved, an upgrade gets the verdict that it gets from the beginning, to the letter."""

from __future__ import annotations

import random

import pytest

from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge
from estimator.fit.judged_again import JudgedAgain
from estimator.fit.otherwise import Following, could_be, differ
from tests.drawn_jobs import drawn


@pytest.mark.parametrize("seed", range(6))
def test_the_verdict_is_that_of_all_rules_run_anew(seed: int) -> None:
    chance = random.Random(seed)
    shop, job = drawn(seed)
    upgrades = all_upgrades(shop, job)
    judging, following = JudgedAgain(shop, job), Following(shop, job)
    first = {upgrade.id: judging.first(job, upgrade) for upgrade in upgrades}
    assert all(first[upgrade.id] == judge(shop, job, upgrade) for upgrade in upgrades)
    fields = [n for n, r in job.instrument.items() if r.assumed and could_be(shop.intake[n], job)]
    others, stayed, alike = 0, 0, 0
    for field in chance.sample(fields, min(12, len(fields))):
        moved = {field, *following.followers(field)}
        for value in could_be(shop.intake[field], job):
            changed = following.changed(field, value)
            for upgrade in chance.sample(upgrades, 25):
                again = judging.again(changed, upgrade, moved)
                assert again == judge(shop, changed, upgrade), (field, value, upgrade.id)
                turned = judging.turned(changed, upgrade, moved)
                assert differ(turned, again) is False, (field, value, upgrade.id)
                alike += turned is first[upgrade.id] and again is not turned
                others += again != first[upgrade.id]
                stayed += again is first[upgrade.id]
    assert others > 0, "nothing was judged otherwise"
    assert stayed > 0, "nothing was looked up"
    assert alike > 0, "nothing was said otherwise that asks for the same"
