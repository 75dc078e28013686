"""What the ledger holds as plain data: money as strings, quantities exact, moments as they are kept."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from estimator.core.money import money_text
from estimator.core.units import scaled
from estimator.ledger.records import told

MILLION = 1_000_000


def data(of: object) -> object:
    """The same with every figure in cents or millionths as a number people read: the types of the fields say which."""
    if isinstance(of, Struct):
        return as_figures(of)
    if isinstance(of, dict):
        return {str(name): data(value) for name, value in of.items()}
    if isinstance(of, list | tuple):
        return [data(one) for one in of]
    return of


def as_figures(of: Struct) -> dict[str, object]:
    """A record as data, its fields by name; what was not asked for is left out."""
    return {one.name: _figure(one.kind, one.value) for one in told(of)}


def _figure(kind: str, value: Any) -> object:
    if value is not None and kind.startswith("Cents"):
        return money_text(value)
    if value is not None and kind.startswith("Millionths"):
        return quantity(value)
    return data(value)


def quantity(millionths: int) -> str:
    """Millionths as a number, exactly."""
    return scaled(millionths, MILLION)
