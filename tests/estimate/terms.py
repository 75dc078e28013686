"""Settings of a shop for tests of single formulas: the default ones with some changed."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from msgspec.structs import replace

from estimator import load_shop
from estimator.model import Shop, Terms


@lru_cache(maxsize=1)
def default_shop() -> Shop:
    return load_shop()


def some_terms(**changes: Any) -> Terms:
    return replace(default_shop().terms, **changes)
