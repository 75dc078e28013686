"""Parts of a job beside the shop's own: what is on offer, how it is called, and that more choice never costs more."""

from __future__ import annotations

import random

import pytest

from estimator.choose.study import make_choice, study_job
from estimator.core.errors import InputError
from estimator.fit.candidates import all_upgrades
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

HEAD = '[job]\nid = "mine"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
TUNERS = '[[part]]\nid = "dear"\nclass = "p-tuner6"\nprice = 400\n'
WISH = "[wish]\nrequire = {{ tuning-stability = {level} }}\n"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def job_of(shop: Shop, text: str) -> Job:
    return job_from(parse_toml(text.encode(), "job.toml"), shop)


def offered(shop: Shop, text: str) -> set[str]:
    return {u.id for u in all_upgrades(shop, job_of(shop, text))}


def best(shop: Shop, text: str) -> int | None:
    """Cents of the cheapest set, proven; None where there is none."""
    choice = make_choice(study_job(shop, job_of(shop, text)), explain=False)
    return choice.estimate.totals.cost if choice.found else None


def test_a_part_of_the_job_stands_beside_the_shops(shop: Shop) -> None:
    assert offered(shop, HEAD + TUNERS) == offered(shop, HEAD) | {"new-tuners-dear"}


def test_only_leaves_the_shops_parts_of_that_class_out(shop: Shop) -> None:
    plain, alone = offered(shop, HEAD), offered(shop, HEAD + TUNERS + "only = true\n")
    theirs = {f"new-tuners-{p.variant}" for p in shop.parts.values() if p.part_class == "p-tuner6"} & plain
    assert len(theirs) >= 3
    assert alone == plain - theirs | {"new-tuners-dear"}


def test_other_parts_of_the_job_stay_beside_the_only_one(shop: Shop) -> None:
    second = TUNERS.replace("dear", "fair")
    tuners = {
        u for u in offered(shop, HEAD + TUNERS + "only = true\n" + second) if u.startswith("new-tuners-")
    }
    assert tuners == {"new-tuners-dear", "new-tuners-fair"}


def test_a_refusal_leaves_the_part_of_the_job_alone(shop: Shop) -> None:
    theirs = [f"new-tuners-{p.variant}" for p in shop.parts.values() if p.part_class == "p-tuner6"]
    text = (
        HEAD + WISH.format(level=3) + TUNERS + f"[upgrades]\nrequired = ['new-tuners']\nrefused = {theirs}\n"
    )
    choice = make_choice(study_job(shop, job_of(shop, text)), explain=False)
    assert "new-tuners-dear" in choice.estimate.chosen


def test_a_variant_that_the_shop_has_goes_by_the_id_of_the_part(shop: Shop) -> None:
    """The effects of the variant are kept; neither part takes the other's place."""
    text = HEAD + '[[part]]\nid = "old-bone"\nclass = "p-nutblank"\nvariant = "bone"\nprice = 400\n'
    added = offered(shop, text) - offered(shop, HEAD)
    assert offered(shop, HEAD) <= offered(shop, text)
    assert added
    assert all(name.endswith("-old-bone") for name in added)
    assert job_of(shop, text).parts["old-bone"].variant == "bone"
    named = text + f"[upgrades]\nrequired = ['{min(added)}']\n"
    assert job_of(shop, named).required == (min(added),)


def test_the_id_of_a_part_of_the_shop_is_that_part_measured(shop: Shop) -> None:
    text = HEAD + '[[part]]\nid = "nutblank-bone"\nclass = "p-nutblank"\nvariant = "bone"\nprice = 9\n'
    assert offered(shop, text) == offered(shop, HEAD)
    prices = {
        u.part.price
        for u in all_upgrades(shop, job_of(shop, text))
        if u.part and u.part.id == "nutblank-bone"
    }
    assert prices == {9}


def test_two_parts_that_would_be_called_alike_are_refused(shop: Shop) -> None:
    text = HEAD + '[[part]]\nid = "bone"\nclass = "p-nutblank"\nvariant = "bone"\nprice = 9\n'
    with pytest.raises(InputError, match="give the part another id"):
        offered(shop, text)


@pytest.mark.slow
def test_a_dear_part_never_raises_the_optimum(shop: Shop) -> None:
    text = HEAD + WISH.format(level=3) + "[upgrades]\nrequired = ['new-tuners']\n"
    plain = best(shop, text)
    assert plain is not None
    assert best(shop, text + TUNERS) == plain
    alone = best(shop, text + TUNERS + "only = true\n")
    assert alone is not None
    assert alone > plain + 30_000


@pytest.mark.slow
def test_more_on_offer_never_costs_more(shop: Shop) -> None:
    """Seeded: parts of any class and price; with ``only`` the choice is narrower, so never cheaper."""
    random_ = random.Random(1204)
    classes = ("p-tuner6", "p-nutcut", "p-nutblank", "p-stack", "p-hum")
    wishes = ("tuning-stability = 2", "nut-function = 3", "hum = 2", "nut-material = 2, hum = 2")
    compared = 0
    for number in range(12):
        text = HEAD + f"[wish]\nrequire = {{ {random_.choice(wishes)} }}\n"
        part_class = random_.choice(classes)
        part = f'[[part]]\nid = "own-{number}"\nclass = "{part_class}"\nvariant = "own-{number}"\n'
        part += f"grade = 'standard'\nprice = {random_.choice((1, 15, 80, 400))}\n"
        plain, beside, alone = (
            best(shop, text),
            best(shop, text + part),
            best(shop, text + part + "only = true\n"),
        )
        if plain is not None:
            assert beside is not None
            assert beside <= plain
        if alone is not None:
            assert beside is not None
            assert beside <= alone
        compared += plain is not None
    assert compared >= 8


@pytest.mark.slow
def test_an_own_part_of_any_class_is_honoured_or_refused(shop: Shop) -> None:
    """Whatever class a part of the job is of, and whatever the instrument: it can be chosen, or the job is refused."""
    honoured, refused = 0, set()
    for kind in ("guitar-solid", "bass-solid"):
        head = f'[job]\nid = "mine"\nkind = "own"\n[instrument]\nkind = "{kind}"\n'
        for name in sorted(shop.part_classes):
            part = f'[[part]]\nid = "brought"\nclass = "{name}"\nprice = 5\n'
            try:
                assert any(u.endswith("-brought") for u in offered(shop, head + part)), (kind, name)
                honoured += 1
            except InputError as error:
                (issue,) = error.issues
                assert issue.next_step
                assert name in issue.found
                refused.add((kind, name))
    assert honoured > 50
    assert {("guitar-solid", "p-strings"), ("guitar-solid", "p-tunerb4"), ("bass-solid", "p-hum")} <= refused


def test_what_a_customer_brings_is_fitted_once(shop: Shop) -> None:
    """Of every class that several upgrades could take: no set holds two that take the one piece."""
    rows: dict[str, set[str]] = {}
    for row in shop.upgrades.values():
        if row.part_class:
            rows.setdefault(row.part_class, set()).add(row.id)
    several = {name for name, ids in rows.items() if len(ids) > 1}
    assert len(several) >= 4
    tried = 0
    for part_class in sorted(several):
        model = next(part for part in shop.parts.values() if part.part_class == part_class)
        kind = "bass-solid" if part_class == "p-basspu" else "guitar-solid"
        held = {}
        for owner in ("customer", "shop"):
            piece = (
                f'[[part]]\nid = "theirs"\nclass = "{part_class}"\nvariant = "{model.variant}"\n'
                f'price = 5\nowner = "{owner}"\nonly = true\n'
            )
            study = study_job(shop, job_of(shop, HEAD.replace("guitar-solid", kind) + piece))
            takers = {
                v.upgrade.id
                for v in study.verdicts
                if v.upgrade.part is not None and v.upgrade.part.owner == owner
                if v.upgrade.part.part_class == part_class
            }
            pairs = {(one, other) for one in takers for other in takers if one < other}
            held[owner] = pairs & set(study.problem.conflicts)
            if owner == "customer":
                assert held[owner] == pairs
        # the shop buys as many as it takes: what it holds apart, it does for reasons of the trade
        assert held["shop"] <= held["customer"]
        tried += len(held["customer"] - held["shop"])
    assert tried >= 10


def test_the_one_pickup_of_a_customer_is_not_chosen_for_two_places(shop: Shop) -> None:
    """One stack of theirs goes in one place; for the other the shop's own is bought, or nothing meets the wish."""
    piece = '[[part]]\nid = "theirs"\nclass = "p-stack"\nowner = "customer"\n'
    wish = '[wish]\nrequire = { hum = 2 }\n[upgrades]\nrequired = ["bridge-pickup-stack", "middle-pickup-stack"]\n'
    choice = make_choice(study_job(shop, job_of(shop, HEAD + wish + piece)), explain=False)
    assert choice.found
    assert sum(part.owner == "customer" for part in choice.estimate.parts) == 1
    alone = make_choice(study_job(shop, job_of(shop, HEAD + wish + piece + "only = true\n")), explain=False)
    assert not alone.found
