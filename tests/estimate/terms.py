"""Settings of a shop for tests of single formulas: the default ones with some changed."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from estimator.model import Terms
from tests.shops import default_shop


def some_terms(**changes: Any) -> Terms:
    return replace(default_shop().terms, **changes)
