"""What is found of one part stands for another only where all that was looked at is the same to the letter."""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.fit.judge import Found, judge
from estimator.fit.shared import Apart, Shared
from estimator.fit.verdicts import Verdicts
from estimator.model import Part
from tests.drawn_jobs import NAMES, example, the_shop


def some_part() -> Part:
    shop = the_shop()
    part = next(part for part in shop.parts.values() if part.dims and part.typical)
    return replace(part, dims={"d": Decimal("8.0"), "colour": "black"}, typical=frozenset({"d"}))


def asked(look: object, *parts: Part) -> int:
    """How often it is looked anew at some parts, one after another."""
    shared, times = Shared[int](Apart()), 0

    def work(part: Part) -> int:
        nonlocal times
        look(part)  # type: ignore[operator]
        times += 1
        return times

    for part in parts:
        shared.of("R01", part, work)
    return times


def test_it_is_looked_anew_where_what_was_looked_at_differs_and_not_else():
    part = some_part()
    dearer = replace(part, id="other", grade="premium", price=part.price + 1)
    wider = replace(part, dims={**part.dims, "d": Decimal("8.5")})
    as_text = replace(part, dims={**part.dims, "d": Decimal(8)})
    bare = replace(part, dims={"colour": "black"})
    measured = replace(part, typical=frozenset())
    others = (dearer, wider, as_text, bare, measured)
    looks = {
        "a dimension": (lambda one: one.dims.get("d"), (dearer, measured)),
        "whether there is one": (lambda one: "d" in one.dims, (dearer, measured)),
        "another": (lambda one: one.dims.get("colour"), others),
        "all": (lambda one: dict(one.dims), (dearer, measured)),
        "whether it is typical": (lambda one: "d" in one.typical, (dearer, wider, as_text, bare)),
        "the price": (lambda one: one.price, (wider, as_text, bare, measured)),
        "what is worked out": (lambda one: one.made_for(False), ()),
        "nothing": (lambda one: None, others),
    }
    for name, (look, alike) in looks.items():
        for other in others:
            assert asked(look, part, other) == 2 - (other in alike), (name, other)
    assert asked(lambda one: one.dims.get("d"), part, wider, dearer, wider) == 2


@pytest.mark.parametrize("name", NAMES)
def test_what_parts_of_a_row_share_is_what_each_is_judged_by_itself(name: str) -> None:
    shop, job = the_shop(), example(name)
    apart, rows = Apart(), dict[str, Found]()
    for verdict in Verdicts().of(shop, job):
        shared = rows.setdefault(verdict.upgrade.row.id, Found(apart))
        again = judge(shop, job, verdict.upgrade, shared)
        assert again == verdict
        assert repr(again) == repr(verdict)  # to the letter
