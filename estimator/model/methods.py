"""More than one way to do a task: its methods, and what differs by them."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.model.column import HUNDRED, ONE, ZERO

STATION_LETTER = (
    "a letter that a row of shop_stations.csv lists, or O (desk), P (photographs), V (on the way)"
)
REWORK_KINDS = ("q", "r", "s", "d", "x", "n")
COUNTS = (*range(3, 13), "other")
"""Counts of strings that a set may be made for."""
FAMILIES = tuple(f"{family}-{count}" for family in ("guitar", "bass") for count in COUNTS)
_SAME = "(blank: as in tasks.csv)"


def _own_minutes(meaning: str) -> col.Column:
    return col.minutes(f"{meaning} {_SAME}", None)


class TaskMethod(Struct, frozen=True):
    """A way to do a task (a row of ``task_methods.csv``): what is blank (None, or empty) is as in ``tasks.csv``.

    The ``usual`` one is the row of ``tasks.csv`` itself and only has a name here. ``not_when`` names
    conditions of the instrument in which it is not to be used.
    """

    task: Annotated[str, col.ref("tasks", "the task")]
    method: Annotated[str, col.of("id", "name of the way, as it is given after --method TASK=")]
    what: Annotated[str, col.text("what it is, in a few words, as it follows the task")]
    usual: Annotated[
        bool,
        col.of(
            "yes-no",
            "whether it is the way that tasks.csv tells of; one of a task's ways is, and only has a name here",
            default=False,
        ),
    ]
    setup_min: Annotated[Decimal | None, _own_minutes("minutes once per sitting")] = None
    repeat_share: Annotated[
        Decimal | None,
        col.number(f"share of the set-up paid by each further instrument {_SAME}", "", None, ZERO, ONE),
    ] = None
    run_min_low: Annotated[Decimal | None, _own_minutes("low reading of the run time per driver unit")] = None
    run_min_likely: Annotated[Decimal | None, _own_minutes("usual run time per driver unit")] = None
    run_min_high: Annotated[Decimal | None, _own_minutes("high reading of the run time per driver unit")] = (
        None
    )
    wait_fast_min: Annotated[Decimal | None, _own_minutes("unattended minutes after it, at the fastest")] = (
        None
    )
    wait_usual_min: Annotated[Decimal | None, _own_minutes("unattended minutes after it, usually")] = None
    wait_safe_min: Annotated[Decimal | None, _own_minutes("unattended minutes after it, to be safe")] = None
    factors: Annotated[
        tuple[str, ...], col.words(f"codes of the difficulty factors that multiply the run time {_SAME}")
    ] = ()
    level: Annotated[int | None, col.of("whole", f"skill it wants {_SAME}", "", None, ONE, Decimal(5))] = None
    beginner_factor: Annotated[
        Decimal | None,
        col.of("number", f"run-time factor of a beginner {_SAME}", "x", None, Decimal("0.05"), Decimal(20)),
    ] = None
    rework_pct: Annotated[
        Decimal | None,
        col.number(f"odds of rework, per occurrence or per counted unit {_SAME}", "%", None, ZERO, HUNDRED),
    ] = None
    rework_kind: Annotated[str, col.choice(f"what rework costs {_SAME}", *REWORK_KINDS, default="")] = ""
    rework_share: Annotated[
        Decimal | None,
        col.number(f"share of the run that rework repeats {_SAME}", "", None, ZERO, Decimal(10)),
    ] = None
    trouble: Annotated[str, col.text(f"what goes wrong {_SAME}", "")] = ""
    hazards: Annotated[tuple[str, ...], col.words(f"classes of hazard {_SAME}", "hazards")] = ()
    station: Annotated[str, col.text(f"where it is done {_SAME}: {STATION_LETTER}", "")] = ""
    not_when: Annotated[
        tuple[str, ...], col.words("named conditions of the instrument, in any of which it is not to be used")
    ] = ()
    origin: Origin = Origin()


class MethodTables(Struct, frozen=True):
    """The methods of every task that has more than one, and the rows of what they use up and wear.

    ``consumables`` and ``tools``, by task and method: what it uses up (consumable, quantity, for which
    instruments) and wears (tool, uses) otherwise than the task does; 0 is none of it.
    """

    methods: Mapping[str, Mapping[str, TaskMethod]] = field(default_factory=lambda: MappingProxyType({}))
    consumables: Mapping[tuple[str, str], tuple[tuple[str, Decimal, str], ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    tools: Mapping[tuple[str, str], tuple[tuple[str, Decimal], ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )

    def usual(self, task: str) -> str:
        """The method that the row of ``tasks.csv`` is; blank where a task has only one."""
        return next((name for name, method in self.methods.get(task, {}).items() if method.usual), "")
