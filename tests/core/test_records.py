"""The decorator of records holds what the library's own holds: every record of the program is made both ways."""

from __future__ import annotations

import copy
import dataclasses
import importlib
import inspect
import pickle
import pkgutil
import re
from pathlib import Path
from typing import Any, ClassVar

import pytest

import estimator
from estimator.core import records
from estimator.core.errors import Origin
from estimator.core.records import dataclass, field, is_record, remade, replace, values_given


def _all_records() -> list[type]:
    """Every record of every module, as the decorator made it."""
    found: dict[type, None] = {}
    for module in pkgutil.walk_packages(estimator.__path__, "estimator."):
        if module.name.endswith("__main__"):
            continue
        for value in vars(importlib.import_module(module.name)).values():
            if isinstance(value, type) and "__given__" in value.__dict__:
                found[value] = None
    return list(found)


RECORDS = _all_records()


def _by_library(kind: type) -> Any:
    """The same fields in a class that the library decorates."""
    own: dict[str, Any] = {
        "__annotations__": {},
        "__module__": kind.__module__,
        "__qualname__": kind.__qualname__,
    }
    for one in dataclasses.fields(kind):
        own["__annotations__"][one.name] = "object"
        words = {
            "init": one.init,
            "repr": one.repr,
            "hash": one.hash,
            "compare": one.compare,
            "kw_only": one.kw_only,
        }
        own[one.name] = field(default=one.default, default_factory=one.default_factory, **words)
    twin = type(kind.__name__, (), own)
    frozen = kind.__setattr__ is records._no_setting
    return dataclasses.dataclass(frozen=frozen, slots="__slots__" in kind.__dict__)(twin)


def test_there_are_records() -> None:
    assert len(RECORDS) > 400


@pytest.mark.parametrize("kind", RECORDS, ids=lambda kind: f"{kind.__module__}.{kind.__qualname__}")
def test_record_is_what_the_library_makes(kind: type) -> None:
    twin = _by_library(kind)
    ours, theirs = inspect.signature(kind).parameters, inspect.signature(twin).parameters
    assert list(ours) == list(theirs)
    for name, parameter in theirs.items():
        assert ours[name].kind == parameter.kind
        assert (ours[name].default is parameter.empty) == (parameter.default is parameter.empty)
    assert kind.__match_args__ == twin.__match_args__  # type: ignore[attr-defined]
    assert (kind.__hash__ is None) == (twin.__hash__ is None)
    if hasattr(kind, "__post_init__") or issubclass(kind, BaseException):
        return  # of these the values here would be none
    given = {name: f"{name}!" for name, parameter in ours.items() if parameter.default is parameter.empty}
    made, other = kind(**given), twin(**given)
    for one in dataclasses.fields(kind):
        if one.init or one.default_factory is not dataclasses.MISSING:
            assert type(getattr(made, one.name)) is type(getattr(other, one.name))
    assert (made == kind(**given)) == (other == twin(**given))
    assert (made == replace(made)) == (other == dataclasses.replace(other))
    for name in given:
        assert getattr(made, name) == given[name]
        ours_changed, theirs_changed = (
            replace(made, **{name: "other"}),
            dataclasses.replace(other, **{name: "other"}),
        )
        assert getattr(ours_changed, name) == "other"
        assert (ours_changed == made) == (theirs_changed == other)
        assert (f"{name}='other'" in repr(ours_changed)) == (f"{name}='other'" in repr(theirs_changed))
    if kind.__setattr__ is records._no_setting:
        for change in (lambda name: setattr(made, name, 1), lambda name: delattr(made, name)):
            with pytest.raises(dataclasses.FrozenInstanceError):
                change(dataclasses.fields(kind)[0].name)
    if kind.__mro__[1] is object:
        assert hasattr(made, "__dict__") == hasattr(other, "__dict__")


@dataclass(frozen=True, slots=True)
class Point:
    """A record with all that a field may have."""

    across: int
    down: int = 2
    names: list[str] = field(default_factory=list)
    kept: dict[str, int] = field(default_factory=dict, compare=False, repr=False)
    told: int = field(init=False, default=7)


@dataclass(frozen=True, slots=True)
class Mark(Point):
    """One more field, to be named."""

    at: str = field(default="here", kw_only=True)


@dataclass(frozen=True, slots=True, order=True)
class Rank:
    """Compares by its fields."""

    first: int
    then: int


@dataclass(slots=True)
class Count:
    """Changes."""

    n: int = 0

    def __post_init__(self) -> None:
        self.n += 1


def test_values_defaults_and_words() -> None:
    one, two = Point(1), Point(1)
    assert one == two
    assert one.names is not two.names
    assert repr(one) == "Point(across=1, down=2, names=[], told=7)"
    assert Point(1, kept={"a": 1}) == one
    assert Point(1) != Mark(1)
    assert repr(Mark(1, at="there")) == "Mark(across=1, down=2, names=[], told=7, at='there')"
    with pytest.raises(TypeError):
        Mark(1, 2, [], {}, "there")  # type: ignore[misc]
    with pytest.raises(TypeError):
        Point()  # type: ignore[call-arg]
    assert not hasattr(one, "__dict__")
    assert Mark.__slots__ == ("at",)  # type: ignore[attr-defined]


def test_copies() -> None:
    one = Mark(1, names=["a"], at="there")
    assert replace(one, down=5) == Mark(1, 5, ["a"], at="there")
    assert replace(one, at="x").at == "x"
    for unknown in ("sideways", "told"):
        with pytest.raises(TypeError):
            replace(one, **{unknown: 1})
    deep = copy.deepcopy(one)
    assert deep == one
    assert deep.names is not one.names
    assert pickle.loads(pickle.dumps(one)) == one
    assert replace(Count(3)).n == 5  # __post_init__ runs again


def test_order_and_hash() -> None:
    assert sorted([Rank(2, 1), Rank(1, 5), Rank(1, 2)]) == [Rank(1, 2), Rank(1, 5), Rank(2, 1)]
    assert Rank(1, 1) <= Rank(1, 1) < Rank(1, 2) > Rank(0, 9) >= Rank(0, 9)
    with pytest.raises(TypeError):
        assert Rank(1, 1) < (1, 2)  # type: ignore[operator]
    assert {Rank(1, 1): "found"}[Rank(1, 1)] == "found"
    with pytest.raises(TypeError):
        hash(Count())


def test_made_anew_of_its_values() -> None:
    for record in (Rank(1, 2), Origin("rates/tasks.csv", 3, "id")):
        again = remade(type(record), values_given(record))
        assert again == record
        assert type(again) is type(record)
        assert is_record(again)
    for other in (Point(1), Mark(1)):  # one field is not given, one is given by name
        with pytest.raises(TypeError):
            values_given(other)
    with pytest.raises(ValueError):
        remade(Rank, (1,))


class Undecorated(Point):
    """A child that is no record, of one that is made in another guise."""


def test_a_child_that_is_no_record_is_made_as_itself() -> None:
    child = Undecorated(1, 5)
    assert type(child) is Undecorated
    assert (child.across, child.down, child.told) == (1, 5, 7)
    assert type(Point(1)) is Point
    with pytest.raises(dataclasses.FrozenInstanceError):
        child.across = 2  # type: ignore[misc]


def test_what_contains_itself_is_printed() -> None:
    one = Point(1)
    one.names.append(one)  # type: ignore[arg-type]
    assert repr(one) == "Point(across=1, down=2, names=[...], told=7)"


def test_a_class_variable_is_refused() -> None:
    with pytest.raises(TypeError, match="fields only"):

        @dataclass
        class Refused:
            shared: ClassVar[int] = 1
            own: int = 2


def test_no_record_is_made_by_the_library() -> None:
    """One that is would be compiled at every start."""
    for path in sorted(Path(estimator.__file__).parent.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if path.name != "records.py" or path.parent.name != "core":
            found = re.findall(
                r"^\s*(?:from dataclasses import .*\b(?:dataclass|replace)\b|import dataclasses)", text, re.M
            )
            assert not found, path
