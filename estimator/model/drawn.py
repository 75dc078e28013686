"""What work bores, cuts or glues, and the hole patterns of usual hardware."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.model.column import ONE

STAGES = ("first", "strung", "strings-off", "guard-off", "neck-off")
"""How far an instrument is taken apart when something is measured, in the order of a measuring sheet."""


def _end(meaning: str) -> col.Column:
    return col.number(meaning, low=Decimal(-100), high=Decimal(100))


class DrawnWork(Struct, frozen=True):
    """Work that changes wood or plastic for good: it is drawn, or it is named as not drawn with how to mark it.

    ``place`` blank: wherever no other row of the task names the place.
    """

    task: Annotated[str, col.ref("tasks", "the task")]
    place: Annotated[
        str,
        col.of("id", "the place of the work (blank: where no other row of the task names it)", default=""),
    ]
    what: Annotated[str, col.text("one piece of it in words")]
    mark_by: Annotated[str, col.text("how it is marked where nothing is drawn")]
    origin: Origin = Origin()


class PatternHole(Struct, frozen=True):
    """One hole of a pattern: mm from the middle of the part, across and along the strings (away from the neck)."""

    pattern: Annotated[
        str, col.of("id", "name of the pattern; a word of the screw patterns of tuners, or neck-plate")
    ]
    hole: Annotated[int, col.of("whole", "number of the hole", low=ONE)]
    across: Annotated[
        Decimal,
        col.number(
            "from the middle of the part, across the strings (or along a row of tuners)",
            "mm",
            low=Decimal(-300),
            high=Decimal(300),
        ),
    ]
    along: Annotated[
        Decimal,
        col.number(
            "from the middle of the part, away from the neck (or away from the edge of the peghead)",
            "mm",
            low=Decimal(-300),
            high=Decimal(300),
        ),
    ]
    what: Annotated[str, col.text("what goes into it")]
    basis: str
    origin: Origin = Origin()


class CaliperPlace(Struct, frozen=True):
    """Where a dimension is taken on the figure of a measuring sheet: two ends, not to scale."""

    field: Annotated[str, col.field_ref("the intake field")]
    letter: Annotated[str, col.text("the letter that stands at it, and beside the field")]
    view: Annotated[str, col.choice("seen from the front, or from the side", "front", "side")]
    x1: Annotated[Decimal, _end("how far along of the first end, from the nut")]
    y1: Annotated[Decimal, _end("how far across of the first end, from the nut")]
    x2: Annotated[Decimal, _end("how far along of the other end, from the nut")]
    y2: Annotated[Decimal, _end("how far across of the other end, from the nut")]
    origin: Origin = Origin()


class DrawnTables(Struct, frozen=True):
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
