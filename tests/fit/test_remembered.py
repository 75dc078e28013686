"""An answer is kept with what it looked at: a changed reading is never answered from memory."""

from __future__ import annotations

import random
from collections.abc import Mapping
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.estimate.new_job import default_job
from estimator.fit.otherwise import Otherwise, could_be
from estimator.fit.remembered import MOST, Remembered
from estimator.model import Reading
from estimator.tables.intake import movers
from tests.fit.measured import measured_as
from tests.shops import default_shop

SHOP = default_shop()
A, B = Reading(Decimal(8), True), Reading(Decimal(9), True)


class Asked:
    """Work that counts how often it is done: it looks at a, and at b only where a is 8."""

    def __init__(self) -> None:
        self.times = 0

    def __call__(self, instrument: Mapping[str, Reading]) -> str:
        self.times += 1
        told = f"{instrument['a'].value}"
        if instrument["a"].value == 8:
            told += f" {'b' in instrument}"
        return told


def test_only_what_was_looked_at_is_asked_again() -> None:
    kept, work = Remembered[str](), Asked()
    assert kept.of("one", {"a": A}, work) == "8 False"
    assert kept.of("one", {"a": A, "c": B}, work) == "8 False"
    assert work.times == 1
    assert kept.of("one", {"a": A, "b": B}, work) == "8 True"
    assert kept.of("one", {"a": B}, work) == "9"
    assert work.times == 3
    assert kept.of("one", {"a": B, "b": A}, work) == "9"
    assert work.times == 3


@pytest.mark.parametrize(
    "changed",
    [replace(A, value=Decimal("8.0")), replace(A, assumed=False), replace(A, value="8"), Reading(True, True)],
    ids=["another text", "measured", "a word", "yes"],
)
def test_a_reading_that_differs_in_anything_is_another(changed: Reading) -> None:
    kept, work = Remembered[str](), Asked()
    kept.of("one", {"a": A}, work)
    kept.of("one", {"a": changed}, work)
    assert work.times == 2


def test_another_key_is_another_question() -> None:
    kept, work = Remembered[str](), Asked()
    kept.of("one", {"a": A}, work)
    kept.of("two", {"a": A}, work)
    assert work.times == 2


def test_the_oldest_answer_makes_room() -> None:
    kept, work = Remembered[str](), Asked()
    readings = [Reading(Decimal(n), True) for n in range(10, 11 + MOST)]
    for reading in (*readings, readings[-1], readings[1]):
        assert kept.of("one", {"a": reading}, work) == str(reading.value)
    assert work.times == len(readings)
    kept.of("one", {"a": readings[0]}, work)
    assert work.times == len(readings) + 1


def test_who_goes_through_an_instrument_has_looked_at_all_of_it() -> None:
    kept, times = Remembered[int](), []

    def number(instrument: Mapping[str, Reading]) -> int:
        times.append(1)
        return len(instrument)

    assert kept.of("n", {"a": A}, number) == 1
    assert kept.of("n", {"a": B}, number) == 1
    assert len(times) == 2
    listed = Remembered[list[str]]()
    assert listed.of("n", {"a": A}, lambda i: [str(r.value) for r in i.values()]) == ["8"]
    assert listed.of("n", {"a": B}, lambda i: [str(r.value) for r in i.values()]) == ["9"]


@pytest.mark.parametrize("kind", ["guitar-solid", "guitar-semi", "bass-solid"])
def test_no_default_follows_from_a_field_that_bears_on_none(kind: str) -> None:
    """Every field moved to other values: what is left out because nothing can follow from it moves nothing."""
    chance = random.Random(kind)
    fresh = default_job(SHOP, kind, "fresh")
    # some are measured, so that other conditions hold than on a fresh instrument
    for name in chance.sample(sorted(fresh.instrument), 25):
        values = could_be(SHOP.intake[name], fresh) if name in SHOP.intake and name != "kind" else ()
        if values:
            fresh = measured_as(SHOP, fresh, name, chance.choice(values))
    otherwise = Otherwise(SHOP, fresh, ("set-up",))
    bearing = movers(SHOP.intake, SHOP.plausible.together)
    assert {"face_cm2", "string_n", "pu_neck", "br_type"} <= bearing.keys()
    assert len(bearing) < len(SHOP.intake) / 2
    for name in fresh.instrument:
        values = could_be(SHOP.intake[name], fresh) if name in SHOP.intake and name != "kind" else ()
        for value in values:
            assert otherwise.changed(name, value) == measured_as(SHOP, fresh, name, value)


def test_a_default_that_a_table_adds_is_followed() -> None:
    """A shop's own default may be made of any field: it bears on it then."""
    spec = replace(SHOP.intake["pot_value"], default_guitar="corrosion_depth + 1")
    specs = {"corrosion_depth": spec, "pot_value": spec}
    assert movers(specs, ()).get("corrosion_depth") == {"pot_value"}
    assert "pot_value" not in movers(specs, ())
