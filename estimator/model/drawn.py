"""What work bores, cuts or glues, and the hole patterns of usual hardware."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from estimator.core.errors import Origin


@dataclass(frozen=True, slots=True)
class DrawnWork:
    """Work that changes wood or plastic for good: it is drawn, or it is named as not drawn with how to mark it.

    ``place`` blank: wherever no other row of the task names the place.
    """

    task: str
    place: str
    what: str
    mark_by: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PatternHole:
    """One hole of a pattern: mm from the middle of the part, across and along the strings (away from the neck)."""

    pattern: str
    hole: int
    across: Decimal
    along: Decimal
    what: str
    basis: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class CaliperPlace:
    """Where a dimension is taken on the figure of a measuring sheet: two ends, not to scale."""

    field: str
    letter: str
    view: str
    x1: Decimal
    y1: Decimal
    x2: Decimal
    y2: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class DrawnTables:
    """What is to be drawn, by task and place, and hole patterns by name."""

    work: Mapping[tuple[str, str], DrawnWork] = field(default_factory=lambda: MappingProxyType({}))
    patterns: Mapping[str, tuple[PatternHole, ...]] = field(default_factory=lambda: MappingProxyType({}))
    stages: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    calipers: Mapping[str, CaliperPlace] = field(default_factory=lambda: MappingProxyType({}))

    def stage(self, name: str, section: str) -> str:
        """When an intake field is measured: its own row goes before that of its section."""
        return self.stages.get(name) or self.stages.get(section, "strung")

    def of(self, task: str, place: str) -> DrawnWork | None:
        """The row of work at a place; None where the work changes nothing for good."""
        return self.work.get((task, place)) or self.work.get((task, ""))
