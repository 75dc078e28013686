"""Donor triage: ten checks, a case for each outcome (limits and amounts: memory)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from estimator.fit.triage import QUESTIONS, Triage, triage
from estimator.model import Reading
from tests.fit.cases import Value, plain

D = Decimal
GOOD: dict[str, Value] = {
    "twist": 0, "relief": 0.25, "rod_ok": "works", "fret_h": 1.1, "fret_wear": 0.03, "fret_uneven": 0.05,
    "crack_at": "none", "tier": "B", "saddle_down": 2, "saddle_up": 3, "tuner_play": 10, "pu_neck": "single",
    "pu_middle": "none", "pu_bridge": "single", "dc_ohm_neck": 6, "dc_ohm_bridge": 6, "strap_hole_ok": True,
    "smell_mould": False, "papers": True,
}  # fmt: skip


def looked(
    change: dict[str, Value] | None = None, assumed: tuple[str, ...] = (), resale: str = "200", **seen: bool
) -> Triage:
    readings = {n: Reading(plain(v), n in assumed) for n, v in (GOOD | (change or {})).items()}
    answers = {name.replace("_", "-"): answer for name, answer in seen.items()}
    return triage(readings, resale=D(resale), pay_per_hour=D(40), neck_price=D(180), seen=answers)


def test_a_good_one_is_fine_on_all_ten() -> None:
    found = looked()
    assert [check.number for check in found.checks] == list(range(1, 11))
    assert {check.outcome for check in found.checks} == {"fine"}
    assert (found.outcome, found.low, found.high) == ("fine", 0, 0)


@pytest.mark.parametrize(
    ("number", "change", "seen", "outcome", "low", "high"),
    [
        (1, {"twist": 0.5}, {}, "fine", 0, 0),
        (1, {"twist": 0.6}, {}, "walk-away", 0, 0),
        (1, {"twist": -0.6}, {}, "walk-away", 0, 0),
        (1, {"relief": 0.7}, {}, "lower", 20, 40),
        (2, {"rod_ok": "dead", "relief": 0.5}, {}, "walk-away", 0, 0),
        (2, {"relief": 0.5}, {"rod_spins": True}, "walk-away", 0, 0),
        (2, {"rod_ok": "dead", "relief": 0.4}, {}, "lower", 180, 180),
        (3, {"fret_h": 0.75, "fret_wear": 0.06}, {}, "walk-away", 0, 0),
        (3, {"fret_h": 0.8, "fret_wear": 0.09}, {}, "lower", 260, 260),
        (3, {"fret_wear": 0.06}, {}, "lower", 108, 108),
        (3, {"fret_uneven": 0.09}, {}, "lower", 108, 108),
        (4, {"crack_at": "peghead"}, {}, "walk-away", 0, 0),
        (4, {"crack_at": "peghead", "tier": "C"}, {}, "lower", 60, 150),
        (4, {"crack_at": "pocket"}, {}, "lower", 60, 150),
        (5, {}, {"posts_pulling": True}, "walk-away", 0, 0),
        (5, {"saddle_down": 0.4}, {}, "lower", 15, 15),
        (6, {}, {"tuners_bad": True}, "lower", 30, 60),
        (6, {"tuner_play": 46}, {}, "lower", 30, 60),
        (7, {"dc_ohm_bridge": 0}, {}, "lower", 25, 50),
        (7, {"dc_ohm_bridge": 0, "dc_ohm_neck": 0.4}, {}, "lower", 50, 100),
        (8, {}, {"bridge_tearing": True}, "walk-away", 0, 0),
        (8, {"strap_hole_ok": False}, {}, "lower", 10, 30),
        (8, {}, {"screws_loose": True}, "lower", 10, 30),
        (9, {"smell_mould": True}, {}, "lower", 10, 30),
        (9, {"smell_mould": True}, {"smell_strong": True}, "walk-away", 0, 0),
        (10, {"papers": False}, {}, "walk-away", 0, 0),
        (10, {}, {"no_name": True}, "walk-away", 0, 0),
    ],
)  # fmt: skip
def test_each_check(
    number: int, change: dict[str, Value], seen: dict[str, bool], outcome: str, low: int, high: int
) -> None:
    """Hours at 40 an hour: level 2.7 h = 108, refret 6.5 h = 260; smell 5 to 15 % of 200."""
    found = looked(change, **seen)
    check = found.checks[number - 1]
    assert (check.outcome, check.low, check.high) == (outcome, low, high)
    assert found.outcome == outcome


def test_worn_frets_on_a_dear_instrument_are_a_refret_not_a_reason_to_walk() -> None:
    assert looked({"fret_h": 0.75, "fret_wear": 0.06}, resale="250").checks[2].outcome == "lower"


def test_the_sum_adds_both_ends() -> None:
    found = looked({"relief": 0.7, "dc_ohm_bridge": 0, "strap_hole_ok": False})
    assert (found.low, found.high) == (55, 120)


@pytest.mark.parametrize(
    ("number", "assumed"),
    [(1, "twist"), (2, "rod_ok"), (3, "fret_h"), (4, "crack_at"), (5, "saddle_up"), (6, "tuner_play"),
     (7, "dc_ohm_neck"), (8, "strap_hole_ok"), (9, "smell_mould"), (10, "papers")],
)  # fmt: skip
def test_what_nobody_looked_at_is_never_fine(number: int, assumed: str) -> None:
    found = looked(assumed=(assumed,))
    assert found.checks[number - 1].outcome == "not-checked"
    assert found.outcome == "not-checked"


def test_nothing_known_is_ten_open_checks() -> None:
    found = triage({}, resale=D(200), pay_per_hour=D(40), neck_price=D(180))
    assert [check.outcome for check in found.checks] == ["not-checked"] * 10


def test_every_question_is_used() -> None:
    for name in QUESTIONS:
        key = name.replace("-", "_")
        change: dict[str, Value] = {"relief": 0.5} if name == "rod-spins" else {}
        assert looked(change, **{key: True}).outcome in ("walk-away", "lower"), name
