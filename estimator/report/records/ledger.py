"""What the ledger holds as plain data: money as strings, quantities exact, moments as they are kept."""

from __future__ import annotations

from collections import ChainMap
from inspect import get_annotations
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict

from estimator.core.money import money_text
from estimator.core.units import scaled

MILLION = 1_000_000


def data(of: object) -> object:
    """The same with every figure in cents or millionths as a number people read, under its plain name.

    A record says by the types of its fields which figures are cents, a row of the ledger by the ends of its names.
    """
    if isinstance(of, Struct):
        kinds = ChainMap(*map(get_annotations, type(of).__mro__[:-1]))
        return {name: _typed(kinds[name], value) for name, value in asdict(of).items()}
    if isinstance(of, dict):
        return dict(_entry(str(name), value) for name, value in of.items())
    if isinstance(of, list | tuple):
        return [data(one) for one in of]
    return of


def _typed(kind: str, value: Any) -> object:
    return money_text(value) if kind.startswith("Cents") and value is not None else data(value)


def _entry(name: str, value: object) -> tuple[str, object]:
    whole = isinstance(value, int) and not isinstance(value, bool)
    if name == "cents" or name.endswith("_cents"):
        plain = "amount" if name == "cents" else name.removesuffix("_cents")
        return plain, money_text(value) if whole else value  # type: ignore[arg-type]
    if name == "millionths" or name.endswith("_millionths"):
        plain = "quantity" if name == "millionths" else name.removesuffix("_millionths")
        return plain, quantity(value) if whole else value  # type: ignore[arg-type]
    return name, data(value)


def quantity(millionths: int) -> str:
    """Millionths as a number, exactly."""
    return scaled(millionths, MILLION)
