"""More than one way to do a task: its methods, and what differs by them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from estimator.core.errors import Origin


@dataclass(frozen=True, slots=True)
class TaskMethod:
    """A way to do a task (a row of ``task_methods.csv``): what is blank (None, or empty) is as in ``tasks.csv``.

    The ``usual`` one is the row of ``tasks.csv`` itself and only has a name here. ``not_when`` names
    conditions of the instrument in which it is not to be used.
    """

    task: str
    method: str
    what: str
    usual: bool
    setup_min: Decimal | None = None
    repeat_share: Decimal | None = None
    run_min_low: Decimal | None = None
    run_min_likely: Decimal | None = None
    run_min_high: Decimal | None = None
    wait_fast_min: Decimal | None = None
    wait_usual_min: Decimal | None = None
    wait_safe_min: Decimal | None = None
    factors: tuple[str, ...] = ()
    level: int | None = None
    beginner_factor: Decimal | None = None
    rework_pct: Decimal | None = None
    rework_kind: str = ""
    rework_share: Decimal | None = None
    trouble: str = ""
    hazards: tuple[str, ...] = ()
    station: str = ""
    not_when: tuple[str, ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class MethodTables:
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
