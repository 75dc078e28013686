"""Codes of difficulty factors, such as ``NM`` or ``FB.mask``, and what stands behind them."""

from __future__ import annotations

from typing import NamedTuple

MATERIALS = {"FW": "metals", "BW": "woods", "FT": "finishes"}
"""Codes whose levels are the rows of a material's table, and that table."""


class FactorCode(NamedTuple):
    """What varies (``root``), and which of its figures; blank: there is one."""

    root: str
    column: str = ""


def factor_code(text: str) -> FactorCode:
    """The code that a text stands for."""
    root, _, column = text.partition(".")
    return FactorCode(root, column)
