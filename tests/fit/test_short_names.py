"""Upgrades named in short: what is meant is found, what could be two things is never guessed."""

from __future__ import annotations

import random

import pytest

from estimator.core.errors import InputError
from estimator.fit.candidates import offered
from estimator.fit.short_names import is_short_for, meant_by, numbers_of, upgrades_named, words_of
from estimator.input.job.load import load_job
from estimator.model import Job, Shop
from estimator.tables.folders import default_folder
from estimator.tables.load import load_shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


@pytest.fixture(scope="module")
def job(shop: Shop) -> Job:
    return load_job(default_folder("example_jobs") / "school-guitar.toml", shop)  # type: ignore[operator]


def refused(shop: Shop, job: Job, *texts: str) -> str:
    with pytest.raises(InputError) as caught:
        upgrades_named(shop, job, texts, "--with")
    return str(caught.value)


def test_words_are_parted_at_commas() -> None:
    assert list(words_of(["a, b", "c,", " d"])) == ["a", "b", "c", "d"]
    assert list(words_of([","])) == [","]  # nothing named is not passed over in silence


@pytest.mark.parametrize(
    ("short", "name", "meant"),
    [
        ("br-stack", "bridge-pickup-stack", True),
        ("stack-br", "bridge-pickup-stack", False),
        ("pickup", "bridge-pickup-stack", True),
        ("ickup", "bridge-pickup-stack", False),
        ("bridge-pickup-stack-x", "bridge-pickup-stack", False),
    ],
)
def test_a_short_form_is_beginnings_of_words_in_their_order(short: str, name: str, meant: bool) -> None:
    assert is_short_for(short, name) is meant


def test_a_short_form_a_list_and_a_number(shop: Shop, job: Job) -> None:
    number = numbers_of(shop, job)["clean-controls"]
    assert upgrades_named(shop, job, ["clean-con, set-up", str(number)], "--with") == (
        "clean-controls",
        "set-up",
    )


def test_what_could_be_two_names_both(shop: Shop, job: Job) -> None:
    told = refused(shop, job, "shield")
    assert "more than one upgrade" in told
    assert "shield-paint" in told
    assert f"{numbers_of(shop, job)['shield-paint']} shield-paint" in told


def test_near_misses_and_numbers_beyond_are_told_at_once(shop: Shop, job: Job) -> None:
    told = refused(shop, job, "cleen-controls,0,999999", "nothing-like-it")
    assert "did you mean “clean-controls”?" in told
    assert told.count("no upgrade has this number") == 2
    assert "nothing-like-it" in told


def test_groups_stand_for_all_variants(shop: Shop, job: Job) -> None:
    rows = {u.row.id for u in offered(shop, job)}
    row = next(row for row in sorted(rows) if sum(u.row.id == row for u in offered(shop, job)) > 1)
    assert upgrades_named(shop, job, [row], "--only", groups=True) == (row,)
    assert "more than one upgrade" in refused(shop, job, row)


def test_every_id_and_number_means_itself_and_no_short_form_is_guessed(shop: Shop, job: Job) -> None:
    """400 drawn short forms: each gives an id that it is short for, alone of all ids; or it is refused."""
    ids = [u.id for u in offered(shop, job)]
    assert upgrades_named(shop, job, ids, "--with") == tuple(ids)
    assert meant_by("", ids) is None
    assert upgrades_named(shop, job, [str(n) for n in range(1, len(ids) + 1)], "--with") == tuple(ids)
    drawn = random.Random(7)
    found = 0
    for _ in range(400):
        name = drawn.choice(ids)
        words = [w for w in name.split("-") if drawn.random() < 0.7] or [name]
        short = "-".join(word[: drawn.randint(1, len(word))] for word in words)
        if short.isdigit():
            continue
        begun = [one for one in ids if one.startswith(short)]
        could = begun or [one for one in ids if is_short_for(short, one)]
        assert any(is_short_for(short, one) for one in ids)
        found += len(could) == 1
        assert meant_by(short, ids) == (could[0] if len(could) == 1 else None)
    assert 20 < found < 380
