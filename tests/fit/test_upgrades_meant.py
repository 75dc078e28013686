"""Looked up by words, the upgrades are those that all of them hold under these words."""

from __future__ import annotations

import random

import pytest

from estimator.fit.candidates import all_upgrades, names, upgrades_meant
from tests.drawn_jobs import drawn


@pytest.mark.parametrize("seed", range(4))
def test_no_upgrade_that_a_word_names_is_passed_over(seed: int) -> None:
    chance = random.Random(seed)
    shop, job = drawn(seed)
    offered = all_upgrades(shop, job)
    words = [*(upgrade.id for upgrade in offered), *shop.upgrades, "nothing-of-this-name"]
    for _ in range(10):
        asked = chance.sample(words, 5)
        meant = upgrades_meant(shop, job, asked)
        assert len(meant) < len(offered)
        for word in asked:
            assert [u for u in meant if names(u, word)] == [u for u in offered if names(u, word)], word
