"""What a shop knows of selling, of donors and of buying spares; rows of the tables of these names."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, Any

from msgspec import Struct, field

from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.model.column import HUNDRED, ONE, ZERO
from estimator.model.words import GRADES

NOTHING: Mapping[str, Any] = MappingProxyType({})

TIERS = ("A", "B", "C", "D", "E")
FOUR = Decimal(4)


class ResaleTier(Struct, frozen=True):
    """A price class when new; money in the shop's currency."""

    id: Annotated[str, col.choice("letter of the class", *TIERS)]
    what: Annotated[str, col.text("the class in words")]
    base_low: Annotated[Decimal, col.money("low local price, clean and working")]
    base_high: Annotated[Decimal, col.money("high local price, clean and working")]
    ceiling: Annotated[
        Decimal,
        col.number(
            "no work lifts the price above this multiple of the clean price", "x", low=ONE, high=Decimal(5)
        ),
    ]
    days: Annotated[Decimal, col.days("days to sell at a fair price", ONE)]
    refinish: Annotated[
        Decimal, col.number("what a new finish makes of the value", "x", ONE, ZERO, Decimal(2))
    ]
    grade: Annotated[str, col.choice("grade of the parts it was made with", *GRADES)]
    origin: Origin = Origin()

    @property
    def base_middle(self) -> Decimal:
        """The clean price taken until one is stated."""
        return (self.base_low + self.base_high) / 2


class ConditionGrade(Struct, frozen=True):
    """A condition and its price multiple."""

    id: Annotated[str, col.ident("name of the condition")]
    what: Annotated[str, col.text("what is meant")]
    factor: Annotated[Decimal, col.number("price multiple", "x", low=ZERO, high=Decimal(3))]
    by_work: Annotated[bool, col.of("yes-no", "whether work can bring an instrument there", default=True)]
    origin: Origin = Origin()


class ConditionLevel(Struct, frozen=True):
    """What a condition asks of an attribute, and what is assumed of it until measured."""

    condition: Annotated[str, col.ref("condition_ladder", "the condition")]
    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    needed: Annotated[Decimal | None, col.number("least level (blank: not asked)", "", None, ZERO, FOUR)]
    assumed: Annotated[
        Decimal | None,
        col.number("level assumed in this condition until measured (blank: as needed)", "", None, ZERO, FOUR),
    ]
    origin: Origin = Origin()


class UpliftRow(Struct, frozen=True):
    """Something a buyer pays more or less for."""

    id: Annotated[str, col.ident("name of the uplift")]
    group: Annotated[str, col.of("id", "uplifts of one group count once")]
    what: Annotated[str, col.text("what the buyer sees")]
    share: Annotated[
        Decimal,
        col.share(
            "share of the clean price (or of the part's price); below zero for what buyers dislike", low=-ONE
        ),
    ]
    most: Annotated[Decimal | None, col.money("never more than this", None)]
    of: Annotated[
        str,
        col.choice(
            "what the share is taken of: the clean price, the part, or the loss by a new finish",
            "base",
            "part",
            "refinish",
            default="base",
        ),
    ]
    notes: Annotated[str, col.text("remarks", "")]
    origin: Origin = Origin()


class UpgradeUplift(Struct, frozen=True):
    """An upgrade (of a grade or variant) that brings an uplift."""

    uplift: Annotated[str, col.ref("uplifts", "the uplift")]
    upgrade: Annotated[str, col.ref("upgrades", "the upgrade")]
    grade: Annotated[str, col.of("text", "grade or variant of the part (any: all of them)", default="any")]
    clause: Annotated[
        str, col.of("id", "one of each clause that the instrument has must be chosen", default="")
    ]
    tiers: Annotated[tuple[str, ...], col.words("price classes it holds for (blank: all)")]
    origin: Origin = Origin()


class SellingWay(Struct, frozen=True):
    """A way to sell; shares as fractions of one."""

    id: Annotated[str, col.ident("name of the way")]
    what: Annotated[str, col.text("the way in words")]
    fee_share: Annotated[Decimal, col.share("fee as a share of the price")]
    fee_fixed: Annotated[Decimal, col.money("fee besides", ZERO)]
    returns_share: Annotated[Decimal, col.share("share of the price held for returns and damage")]
    freight_by: Annotated[str, col.choice("who pays the freight", "none", "buyer", "seller", default="none")]
    other_cost: Annotated[Decimal, col.money("other money out", ZERO)]
    minutes: Annotated[Decimal, col.minutes("minutes it takes besides the usual work of a sale", ZERO)]
    days_factor: Annotated[
        Decimal, col.number("days to sell, against a fair local price", "x", ONE, ZERO, Decimal(10))
    ]
    drops: Annotated[tuple[str, ...], col.words("usual work of a sale that falls away", "tasks")]
    origin: Origin = Origin()


class BoxClass(Struct, frozen=True):
    """A box to ship in; sides in mm."""

    id: Annotated[str, col.ident("name of the box")]
    what: Annotated[str, col.text("what goes into it")]
    instruments: Annotated[str, col.choice("for which instruments", "any", "guitar", "bass", default="any")]
    length_mm: Annotated[Decimal, col.number("length", "mm", low=ONE, high=Decimal(3000))]
    width_mm: Annotated[Decimal, col.number("width", "mm", low=ONE, high=Decimal(3000))]
    height_mm: Annotated[Decimal, col.number("height", "mm", low=ONE, high=Decimal(3000))]
    freight_low: Annotated[Decimal, col.money("insured domestic freight, low")]
    freight_high: Annotated[Decimal, col.money("insured domestic freight, high")]
    minutes: Annotated[Decimal, col.minutes("minutes more than the usual packing", ZERO)]
    damage_pct: Annotated[Decimal, col.percent("odds of damage on the way")]
    origin: Origin = Origin()

    @property
    def freight(self) -> Decimal:
        """The middle of the freight."""
        return (self.freight_low + self.freight_high) / 2


class DonorOdds(Struct, frozen=True):
    """How a donor was seen and the odds, in per cent, that it is bad."""

    id: Annotated[str, col.ident("name")]
    what: Annotated[str, col.text("how it was seen")]
    odds_pct: Annotated[Decimal, col.percent("odds that it is bad")]
    origin: Origin = Origin()


class DonorCheck(Struct, frozen=True):
    """A check at the seller's place."""

    id: Annotated[str, col.ident("name of the check")]
    what: Annotated[str, col.text("what is looked at")]
    walk_away_if: Annotated[str, col.text("when not to buy at all", "")]
    lower_for: Annotated[str, col.text("what lowers the offer", "")]
    walk_pct: Annotated[Decimal, col.percent("odds that it says walk away, unseen")]
    fault_pct: Annotated[Decimal, col.percent("odds that it lowers the offer, unseen")]
    off_low: Annotated[Decimal, col.money("least taken off", ZERO)]
    off_high: Annotated[Decimal, col.money("most taken off", ZERO)]
    hours_low: Annotated[
        Decimal, col.number("least hours of work taken off at the wanted pay", "h", ZERO, ZERO, HUNDRED)
    ]
    hours_high: Annotated[
        Decimal, col.number("most hours of work taken off at the wanted pay", "h", ZERO, ZERO, HUNDRED)
    ]
    share_low: Annotated[Decimal, col.share("least share of the clean price taken off")]
    share_high: Annotated[Decimal, col.share("most share of the clean price taken off")]
    told_by: Annotated[
        tuple[str, ...],
        col.words("intake fields that tell its result once one is measured", "intake"),
    ]
    origin: Origin = Origin()


class SparePiece(Struct, frozen=True):
    """A piece that may be spoiled in the making."""

    id: Annotated[str, col.ident("name of the piece")]
    what: Annotated[str, col.text("what it is")]
    expert_pct: Annotated[Decimal, col.percent("odds that one is spoiled in an experienced hand")]
    beginner_pct: Annotated[Decimal, col.percent("odds that one is spoiled in a beginner's hand")]
    practise_on: Annotated[str, col.text("what to practise on", "")]
    origin: Origin = Origin()


class SendOut(Struct, frozen=True):
    """Work or tools that can be rented or sent out."""

    id: Annotated[str, col.ident("name of the need")]
    what: Annotated[str, col.text("what is needed")]
    own_when: Annotated[str, col.text("when owning pays, by rule of thumb", "")]
    tools: Annotated[tuple[str, ...], col.words("tools it takes to do it in the shop", "tools")]
    rent_low: Annotated[Decimal | None, col.money("rent, low", None)]
    rent_high: Annotated[Decimal | None, col.money("rent, high", None)]
    rent_per: Annotated[str, col.text("what the rent is paid for", "")]
    send_low: Annotated[Decimal | None, col.money("bill when sent out, low", None)]
    send_high: Annotated[Decimal | None, col.money("bill when sent out, high", None)]
    wait_low_days: Annotated[Decimal | None, col.days("days away, quick")]
    wait_high_days: Annotated[Decimal | None, col.days("days away, slow")]
    origin: Origin = Origin()


class TradeRule(Struct, frozen=True):
    """A single number of the money side."""

    id: Annotated[str, col.ident("name of the number")]
    what: Annotated[str, col.text("what it is")]
    value: Annotated[Decimal, col.of("number", "the number")]
    unit: Annotated[str, col.text("its unit", "")]
    origin: Origin = Origin()


class ResaleTables(Struct, frozen=True):
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
