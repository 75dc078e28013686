"""Upgrades open to choice, the work they ask for, and what the fit rules find."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property

from msgspec import Struct, field

from estimator.model.shop import EMPTY, Conditional, NeedlessWork, Part, UpgradeRow


class Demand(Struct, frozen=True):
    """Work asked for: a task at a place, how much, and why.

    ``share`` multiplies the run time (half a strip: 0.5); ``levels`` overrides factor levels
    (``FW`` = stainless); ``extra_min`` is added to the run once; ``extra_rework_pct`` adds to the
    odds of rework in percentage points; ``rework_times`` multiplies them; ``setup_share`` is the
    share of the set-up paid again when the work is a further sitting (a second coat). ``rests_on``
    names the intake fields that the quantity was worked out from.
    """

    task: str
    place: str
    quantity: Decimal
    because: str
    share: Decimal = Decimal(1)
    levels: Mapping[str, str] = field(default_factory=lambda: EMPTY)
    extra_min: Decimal = Decimal(0)
    extra_rework_pct: Decimal = Decimal(0)
    rework_times: Decimal = Decimal(1)
    setup_share: Decimal = Decimal(0)
    rests_on: tuple[str, ...] = ()


class Effect(Struct, frozen=True):
    """What becomes of an attribute when any of ``given_by`` is chosen (and any of ``together_with``).

    Effects with the same ``source`` count once however many upgrades bring them. ``task``: the task that
    brings it, blank where an upgrade does by itself.
    """

    attribute: str
    kind: str
    value: Decimal
    given_by: tuple[str, ...]
    together_with: tuple[str, ...] = ()
    source: str = ""
    task: str = ""


class Upgrade(Struct, frozen=True):
    """One thing that can be decided for this job: an upgrade row with, where it needs one, its part."""

    id: str
    row: UpgradeRow
    what: str
    slot: str
    part: Part | None
    part_quantity: Decimal
    demands: tuple[Demand, ...]
    needs_all: tuple[Conditional, ...]
    needs_any: tuple[Conditional, ...]
    excludes: tuple[str, ...]
    mass_removed_g: Decimal
    needless: tuple[NeedlessWork, ...] = ()

    @property
    def variant(self) -> str:
        """What its part adds to the name of its row; blank where there is no part."""
        return self.id.removeprefix(f"{self.row.id}-") if self.part else ""


PART = "part."


def of_part(dimension: str) -> str:
    """What a dimension of the part is called among intake fields."""
    return f"{PART}{dimension}"


def dimension_in(name: str) -> str:
    """The dimension of the part that a name stands for; blank where it is that of an intake field."""
    return name.removeprefix(PART) if name.startswith(PART) else ""


class UsedValue(Struct, frozen=True):
    """A value that a fit rule looked at: intake field or dimension of the part."""

    name: str
    value: str
    unit: str
    assumed: bool

    @property
    def dimension(self) -> str:
        """The dimension of the part that it is; blank: an intake field."""
        return dimension_in(self.name)


class Finding(Struct, frozen=True):
    """What one fit rule found.

    ``outcome``: ``fits``, ``work`` (fits after the demands), ``no`` (does not fit), ``warn``.
    ``working`` is the formula with the numbers put in; ``used`` the values looked at. ``tells`` names what
    a customer has to know of it (``customer_words.csv``); blank where it is for the bench alone. ``does``: what
    the upgrade comes to on the instrument as measured; blank where that is what its row says.
    """

    rule: str
    outcome: str
    sentence: str
    working: str = ""
    used: tuple[UsedValue, ...] = ()
    demands: tuple[Demand, ...] = ()
    effects: tuple[tuple[str, str, Decimal], ...] = ()
    rework_pct: Decimal = Decimal(0)
    tells: str = ""
    does: str = ""

    @property
    def assumed(self) -> tuple[UsedValue, ...]:
        """The values that were not measured."""
        return tuple(value for value in self.used if value.assumed)


class Verdict(Struct, frozen=True, dict=True):
    """All findings about one upgrade: ``fits``, ``fits-after`` (with forced work) or ``does-not-fit``."""

    upgrade: Upgrade
    outcome: str
    findings: tuple[Finding, ...]

    @property
    def what(self) -> str:
        """What is done, as the readings have it where that hangs on them; else as the row says."""
        return "; ".join(found.does for found in self.findings if found.does) or self.upgrade.what

    @cached_property
    def demands(self) -> tuple[Demand, ...]:
        """The upgrade's own work and the work that fit forces."""
        forced = tuple(d for finding in self.findings for d in finding.demands)
        return self.upgrade.demands + forced
