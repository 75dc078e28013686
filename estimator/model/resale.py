"""What a shop knows of selling, of donors and of buying spares; rows of the tables of these names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.errors import Origin

NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ResaleTier:
    """A price class when new; money in the shop's currency."""

    id: str
    what: str
    base_low: Decimal
    base_high: Decimal
    ceiling: Decimal
    days: Decimal
    refinish: Decimal
    grade: str
    origin: Origin = Origin()

    @property
    def base_middle(self) -> Decimal:
        """The clean price taken until one is stated."""
        return (self.base_low + self.base_high) / 2


@dataclass(frozen=True, slots=True)
class ConditionGrade:
    """A condition and its price multiple."""

    id: str
    what: str
    factor: Decimal
    by_work: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class ConditionLevel:
    """What a condition asks of an attribute, and what is assumed of it until measured."""

    condition: str
    attribute: str
    needed: Decimal | None
    assumed: Decimal | None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class UpliftRow:
    """Something a buyer pays more or less for."""

    id: str
    group: str
    what: str
    share: Decimal
    most: Decimal | None
    of: str
    notes: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class UpgradeUplift:
    """An upgrade (of a grade or variant) that brings an uplift."""

    uplift: str
    upgrade: str
    grade: str
    clause: str
    tiers: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class SellingWay:
    """A way to sell; shares as fractions of one."""

    id: str
    what: str
    fee_share: Decimal
    fee_fixed: Decimal
    returns_share: Decimal
    freight_by: str
    other_cost: Decimal
    minutes: Decimal
    days_factor: Decimal
    drops: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class BoxClass:
    """A box to ship in; sides in mm."""

    id: str
    what: str
    instruments: str
    length_mm: Decimal
    width_mm: Decimal
    height_mm: Decimal
    freight_low: Decimal
    freight_high: Decimal
    minutes: Decimal
    damage_pct: Decimal
    origin: Origin = Origin()

    @property
    def freight(self) -> Decimal:
        """The middle of the freight."""
        return (self.freight_low + self.freight_high) / 2


@dataclass(frozen=True, slots=True)
class DonorOdds:
    """How a donor was seen and the odds, in per cent, that it is bad."""

    id: str
    what: str
    odds_pct: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class DonorCheck:
    """A check at the seller's place."""

    id: str
    what: str
    walk_away_if: str
    lower_for: str
    walk_pct: Decimal
    fault_pct: Decimal
    off_low: Decimal
    off_high: Decimal
    hours_low: Decimal
    hours_high: Decimal
    share_low: Decimal
    share_high: Decimal
    told_by: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class SparePiece:
    """A piece that may be spoiled in the making."""

    id: str
    what: str
    expert_pct: Decimal
    beginner_pct: Decimal
    practise_on: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class SendOut:
    """Work or tools that can be rented or sent out."""

    id: str
    what: str
    own_when: str
    tools: tuple[str, ...]
    rent_low: Decimal | None
    rent_high: Decimal | None
    rent_per: str
    send_low: Decimal | None
    send_high: Decimal | None
    wait_low_days: Decimal | None
    wait_high_days: Decimal | None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class TradeRule:
    """A single number of the money side."""

    id: str
    what: str
    value: Decimal
    unit: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class ResaleTables:
    """All tables of the money side; the ladder is in the order of the table, best first."""

    tiers: Mapping[str, ResaleTier] = field(default_factory=lambda: NOTHING)
    ladder: Mapping[str, ConditionGrade] = field(default_factory=lambda: NOTHING)
    levels: tuple[ConditionLevel, ...] = ()
    uplifts: Mapping[str, UpliftRow] = field(default_factory=lambda: NOTHING)
    upgrade_uplifts: tuple[UpgradeUplift, ...] = ()
    ways: Mapping[str, SellingWay] = field(default_factory=lambda: NOTHING)
    boxes: Mapping[str, BoxClass] = field(default_factory=lambda: NOTHING)
    warranty: Mapping[str, Decimal] = field(default_factory=lambda: NOTHING)
    salvage: Mapping[str, Decimal] = field(default_factory=lambda: NOTHING)
    odds: Mapping[str, DonorOdds] = field(default_factory=lambda: NOTHING)
    checks: Mapping[str, DonorCheck] = field(default_factory=lambda: NOTHING)
    spares: Mapping[str, SparePiece] = field(default_factory=lambda: NOTHING)
    send_out: Mapping[str, SendOut] = field(default_factory=lambda: NOTHING)
    rules: Mapping[str, TradeRule] = field(default_factory=lambda: NOTHING)
