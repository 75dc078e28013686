"""A saved plan in which one value stands for another kind of thing: refused by its file, whatever the value."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from estimator.core.errors import InputError
from estimator.plan.replan.saved_plan import kept_text, read_kept
from tests.plan.bench import plan

ODD: tuple[object, ...] = ({}, [], {"a": 1}, ["a"], True, 1.5)
FREE = {"gap"}
"""Where a figure with a point may stand."""


def leaves(told: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The path to every text and number of a JSON value."""
    if isinstance(told, dict):
        for name, one in told.items():
            yield from leaves(one, (*path, name))
    elif isinstance(told, list):
        for number, one in enumerate(told[:2]):
            yield from leaves(one, (*path, number))
    elif isinstance(told, str | int | float) and not isinstance(told, bool):
        yield path


def put_in(told: Any, path: tuple[str | int, ...], value: object) -> str:
    told = json.loads(json.dumps(told))
    of = told
    for step in path[:-1]:
        of = of[step]
    of[path[-1]] = value
    return json.dumps(told)


def test_no_value_of_another_kind_is_taken_for_one() -> None:
    told = json.loads(kept_text(plan("batch-school")))
    told["late"] = [{"kind": "pack", "seller": "a", "what": "b", "there": "2026-10-05T09:00"}]
    told["done"], told["done_by"] = {"a:b": "2026-10-05T09:00"}, {"a:b": "bench"}
    told["running"] = told["planned"] = {"a:b": 5}
    read_kept(json.dumps(told).encode(), "week.json")
    tried = 0
    for path in leaves(told):
        if path[-1] in FREE:
            continue
        for odd in ODD:
            damaged = put_in(told, path, odd).encode()
            with pytest.raises(InputError) as refused:
                read_kept(damaged, "week.json")
            (issue,) = refused.value.issues
            assert issue.where.file == "week.json"
            assert issue.next_step
            tried += 1
    assert tried > 200


def test_no_text_is_taken_for_what_holds_others() -> None:
    """A text where a list or a section belongs would be taken for its letters."""
    told = json.loads(kept_text(plan("batch-school")))
    inner = {path[:-1] for path in leaves(told) if len(path) > 1}
    for path in sorted(inner, key=str):
        for odd in ("ab", 7):
            damaged = put_in(told, path, odd).encode()
            with pytest.raises(InputError):
                read_kept(damaged, "week.json")


def test_a_moment_of_another_zone_is_refused() -> None:
    """Moments are of the shop's own clock; one with a zone cannot be held against them."""
    told = json.loads(kept_text(plan("batch-school")))
    moments = [path for path in leaves(told) if path[-1] in ("begins", "ends") or path[0] == "finished"]
    assert len(moments) > 4
    for path in moments:
        with pytest.raises(InputError, match="zone"):
            read_kept(put_in(told, path, "2026-10-05T09:00+02:00").encode(), "week.json")
