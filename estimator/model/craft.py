"""What a shop knows of its own craft beyond single tasks: grades of tools."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.errors import Origin

NOTHING: Mapping[Any, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ToolTimes:
    """How one grade of a tool changes times: run when new, run when worn, work after it when worn.

    ``worn_share`` is the last part of its life, as a fraction, in which it counts as worn;
    ``after_task`` the work that then takes longer.
    """

    tool: str
    grade: str
    run_new: Decimal
    run_worn: Decimal
    worn_share: Decimal
    after_worn: Decimal
    after_task: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class CraftTables:
    """All tables of the craft."""

    tool_times: Mapping[tuple[str, str], ToolTimes] = field(default_factory=lambda: NOTHING)
