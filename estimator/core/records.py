"""The decorator of records: what ``dataclasses.dataclass`` makes, without writing and compiling code for it.

The library writes five to seven methods for each class and compiles them when the class is made. There are
hundreds of records, and a command that starts makes more of them than it has instances of many: that took longer
than reading all tables. Here the methods that compare, hash, print and guard are the same few functions for every
record, and the one that makes an instance is written when the first instance is made. To the type checker,
``dataclasses.fields`` and whoever asks for a signature a record is a dataclass like any other.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, field, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

FEW = 3
"""Fields from which it pays to be of another kind while they are set."""
__all__ = ["dataclass", "field", "fields", "is_record", "remade", "replace", "values_given"]

if TYPE_CHECKING:
    from dataclasses import dataclass, replace
else:

    def dataclass(cls=None, /, *, frozen=False, slots=False, order=False, kw_only=False):
        """The class as a record; the words mean what they mean in the library (``order``: compares by its fields)."""

        def make(kind: type) -> type:
            return _record(kind, frozen, slots, order, kw_only)

        return make if cls is None else make(cls)

    def replace(record, /, **changes):
        """A copy of a record with other values in some of its fields; made anew, so ``__post_init__`` runs.

        TypeError where it has no such field, or one that is not given when it is made.
        """
        kind = record.__class__
        given = kind.__given__
        values = list(given.values(record))
        for name in [name for name in changes if name in given.places]:
            values[given.places[name]] = changes.pop(name)
        for name in given.named:
            if name not in changes:
                changes[name] = getattr(record, name)
        return kind(*values, **changes)


def is_record(value: Any) -> bool:
    """Whether something is a record, or a kind of them."""
    return hasattr(value, "__given__")


def values_given(record: Any) -> tuple[Any, ...]:
    """The values that make the same record again, in the order in which they are given.

    TypeError where one is to be given by name, or is not given.
    """
    given: _Given = record.__given__
    if given.named or len(given.places) < len(record.__dataclass_fields__):
        raise TypeError(f"{type(record).__qualname__} is not made by its values in order")
    return given.values(record)


def remade(kind: type, values: tuple[Any, ...]) -> Any:
    """The record that had these values: ``values_given`` backwards, without asking ``__init__`` or writing one."""
    record: Any = object.__new__(kind)
    for name, value in zip(kind.__given__.places, values, strict=True):  # type: ignore[attr-defined]
        object.__setattr__(record, name, value)
    return record


class _Given:
    """What a record is made of: by field its place among those given in order, their values, those given by name."""

    __slots__ = ("named", "places", "values")

    def __init__(self, of: tuple[dataclasses.Field[Any], ...]) -> None:
        names = [one.name for one in of if one.init and not one.kw_only]
        self.places = {name: place for place, name in enumerate(names)}
        self.values = _values(names)
        self.named = tuple(one.name for one in of if one.init and one.kw_only)


def _record(kind: type, frozen: bool, slots: bool, order: bool, kw_only: bool) -> Any:
    # what is left to the library here costs it no compiling: the order of the fields, those of a parent, defaults
    # that may not be
    made: Any = dataclasses.dataclass(init=False, repr=False, eq=False, kw_only=kw_only)(kind)
    of = fields(made)
    if len(of) != len(made.__dataclass_fields__):
        raise TypeError(f"{kind.__qualname__}: a record has fields only, no ClassVar and no InitVar")
    if slots:
        made = _with_slots(made, [one.name for one in of])
    own = made.__dict__
    made.__given__ = _Given(of)
    if "__init__" not in own:
        made.__init__ = _Maker(made, of, frozen)
    if "__repr__" not in own:
        made.__repr__ = _printed(tuple(one.name for one in of if one.repr))
    compared = _values([one.name for one in of if one.compare])
    if "__eq__" not in own:
        made.__eq__ = _equal(compared)
    if own.get("__hash__") is None:
        hashed = _values([one.name for one in of if (one.compare if one.hash is None else one.hash)])
        made.__hash__ = _hashed(hashed) if frozen else None
    for sign in ("__lt__", "__le__", "__gt__", "__ge__") if order else ():
        setattr(made, sign, _ordered(sign, compared))
    if frozen:
        made.__setattr__, made.__delattr__ = _no_setting, _no_deleting
        if slots:
            made.__getstate__, made.__setstate__ = _state, _set_state
    return made


def _with_slots(kind: type, names: list[str]) -> Any:
    """The class anew with a slot for each field that no parent has one for: slots cannot be added to a class."""
    inherited = {name for parent in kind.__mro__[1:-1] for name in parent.__dict__.get("__slots__", ())}
    body = dict(kind.__dict__)
    for name in names:
        body.pop(name, None)  # a default; it stands in the maker
    body.pop("__dict__", None)
    body.pop("__weakref__", None)
    body["__slots__"] = tuple(name for name in names if name not in inherited)
    made = type(kind)(kind.__name__, kind.__bases__, body)
    made.__qualname__ = kind.__qualname__
    return made


class _Maker:
    """Stands for ``__init__`` until it is first asked for, and then puts the written one into its place."""

    def __init__(self, kind: Any, of: tuple[dataclasses.Field[Any], ...], frozen: bool) -> None:
        self.kind, self.of, self.frozen = kind, of, frozen

    def __get__(self, record: object, owner: type | None = None) -> Any:
        if self.kind.__dict__.get("__init__") is self:
            self.kind.__init__ = _written(self.kind, self.of, self.frozen)
        return self.kind.__dict__["__init__"].__get__(record, owner)


def _written(kind: type, of: tuple[dataclasses.Field[Any], ...], frozen: bool) -> Callable[..., None]:
    """``__init__``: a parameter for each field that is given, in their order, those by name alone at the end."""
    known: dict[str, Any] = {"_unset": MISSING, "_kind": kind}
    plain: list[str] = ["self"]
    named: list[str] = []
    values: dict[str, str] = {}
    for one in of:
        name = value = one.name
        optional = one.default_factory is not MISSING or one.default is not MISSING
        if one.default_factory is not MISSING:
            known[f"_made_{name}"] = one.default_factory
            value = f"_made_{name}() if {name} is _unset else {name}" if one.init else f"_made_{name}()"
        elif one.default is not MISSING:
            known[f"_default_{name}"] = one.default
            value = name if one.init else f"_default_{name}"
        if one.init:
            unset = "_unset" if one.default_factory is not MISSING else f"_default_{name}"
            (named if one.kw_only else plain).append(f"{name}={unset}" if optional else name)
        if one.init or optional:
            values[name] = value
    body = _frozen_body(kind, values, known) if frozen else [f"self.{n} = {v}" for n, v in values.items()]
    if hasattr(kind, "__post_init__"):
        body.append("self.__post_init__()")
    words = ", ".join([*plain, *(["*", *named] if named else [])])
    lines = "".join(f"\n  {line}" for line in body or ["pass"])
    text = f"def write({', '.join(known)}):\n def __init__({words}):{lines}\n return __init__"
    made: dict[str, Any] = {}
    exec(text, sys.modules[kind.__module__].__dict__, made)
    write: Callable[..., None] = made["write"](**known)
    write.__qualname__ = f"{kind.__qualname__}.__init__"
    write.__annotations__ = {one.name: one.type for one in of if one.init} | {"return": None}
    return write


def _frozen_body(kind: type, values: dict[str, str], known: dict[str, Any]) -> list[str]:
    """The lines that set the fields of a record that guards them.

    A record with slots is of a kind without the guard while it is made: then each field is set at a seventh of
    what ``object.__setattr__`` takes, which stands in a fifth of all the time of a command.
    """
    known["_set"] = object.__setattr__
    guarded = [f"_set(self, {name!r}, {value})" for name, value in values.items()]
    if "__slots__" not in kind.__dict__ or len(values) < FEW:
        return guarded
    known["_open"] = type(kind.__name__, (kind,), {"__slots__": (), "__setattr__": object.__setattr__})
    return [
        "if self.__class__ is _kind:",
        " _set(self, '__class__', _open)",
        *(f" self.{name} = {value}" for name, value in values.items()),
        " self.__class__ = _kind",
        "else:",  # of a child that is no record
        *(f" {line}" for line in guarded),
    ]


def _values(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
    """A record's values in some of its fields."""
    if len(names) > 1:
        return attrgetter(*names)
    if names:
        only = attrgetter(names[0])
        return lambda record: (only(record),)
    return lambda record: ()


def _equal(compared: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], Any]:
    def equal(self: Any, other: object) -> Any:
        if other.__class__ is self.__class__:
            return compared(self) == compared(other)
        return NotImplemented

    return equal


def _ordered(sign: str, compared: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], Any]:
    compare = getattr(tuple, sign)

    def ordered(self: Any, other: object) -> Any:
        if other.__class__ is self.__class__:
            return compare(compared(self), compared(other))
        return NotImplemented

    return ordered


def _hashed(compared: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], int]:
    return lambda record: hash(compared(record))


def _printed(names: tuple[str, ...]) -> Callable[[Any], str]:
    @recursive_repr()
    def printed(self: Any) -> str:
        values = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{self.__class__.__qualname__}({values})"

    return printed


def _no_setting(self: Any, name: str, value: object) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _no_deleting(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, one.name) for one in fields(self)]


def _set_state(self: Any, state: list[Any]) -> None:
    for one, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, one.name, value)
