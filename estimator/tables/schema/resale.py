"""Tables of the money side: what a sold instrument is worth, how it is sold, what a donor risks."""

from __future__ import annotations

from decimal import Decimal

from estimator.model import GRADES
from estimator.tables.schema.column import (
    HUNDRED,
    ONE,
    ZERO,
    Column,
    TableSpec,
    _choice,
    _id,
    _list,
    _minutes,
    _money,
    _number,
    _ref,
    _table,
    _text,
)

TIERS = ("A", "B", "C", "D", "E")
FOUR = Decimal(4)


def _share(name: str, meaning: str, default: object = ZERO, low: Decimal = ZERO) -> Column:
    return _number(name, meaning, "share", default, low, Decimal(2))


def _percent(name: str, meaning: str) -> Column:
    return _number(name, meaning, "%", ZERO, ZERO, HUNDRED)


def _days(name: str, meaning: str, default: object = None) -> Column:
    return _number(name, meaning, "days", default, ZERO, Decimal(1000))


RESALE_TABLES: tuple[TableSpec, ...] = (
    _table(
        "resale_tiers",
        "a price class when new: what such instruments bring and how high work can lift them",
        "id",
        _choice("id", "letter of the class", *TIERS),
        _text("what", "the class in words"),
        _money("base_low", "low local price, clean and working"),
        _money("base_high", "high local price, clean and working"),
        _number(
            "ceiling",
            "no work lifts the price above this multiple of the clean price",
            "x",
            low=ONE,
            high=Decimal(5),
        ),
        _days("days", "days to sell at a fair price", ONE),
        _number("refinish", "what a new finish makes of the value", "x", ONE, ZERO, Decimal(2)),
        _choice("grade", "grade of the parts it was made with", *GRADES),
    ),
    _table(
        "condition_ladder",
        "a condition and what it makes of the price (1.00 = clean and working), best first",
        "id",
        _id("name of the condition"),
        _text("what", "what is meant"),
        _number("factor", "price multiple", "x", low=ZERO, high=Decimal(3)),
        Column("by_work", "yes-no", "whether work can bring an instrument there", default=True),
    ),
    _table(
        "condition_levels",
        "what a condition asks of an attribute, and what is assumed of it until measured",
        "condition attribute",
        _ref("condition", "condition_ladder", "the condition"),
        _ref("attribute", "attributes", "the attribute"),
        _number("needed", "least level (blank: not asked)", "", None, ZERO, FOUR),
        _number(
            "assumed",
            "level assumed in this condition until measured (blank: as needed)",
            "",
            None,
            ZERO,
            FOUR,
        ),
    ),
    _table(
        "uplifts",
        "something a buyer pays more (or less) for; those of one group count once, the largest",
        "id",
        _id("name of the uplift"),
        Column("group", "id", "uplifts of one group count once"),
        _text("what", "what the buyer sees"),
        _share(
            "share",
            "share of the clean price (or of the part's price); below zero for what buyers dislike",
            low=-ONE,
        ),
        _money("most", "never more than this", None),
        _choice(
            "of",
            "what the share is taken of: the clean price, the part, or the loss by a new finish",
            "base",
            "part",
            "refinish",
            default="base",
        ),
        _text("notes", "remarks", ""),
    ),
    _table(
        "upgrade_uplifts",
        "which upgrades bring an uplift; one of every clause must be chosen",
        "uplift upgrade grade",
        _ref("uplift", "uplifts", "the uplift"),
        _ref("upgrade", "upgrades", "the upgrade"),
        Column("grade", "text", "grade or variant of the part (any: all of them)", default="any"),
        Column("clause", "id", "one of each clause that the instrument has must be chosen", default=""),
        _list("tiers", "price classes it holds for (blank: all)"),
    ),
    _table(
        "selling_ways",
        "a way to sell, its fees and what work falls away with it",
        "id",
        _id("name of the way"),
        _text("what", "the way in words"),
        _share("fee_share", "fee as a share of the price"),
        _money("fee_fixed", "fee besides", ZERO),
        _share("returns_share", "share of the price held for returns and damage"),
        _choice("freight_by", "who pays the freight", "none", "buyer", "seller", default="none"),
        _money("other_cost", "other money out", ZERO),
        _minutes("minutes", "minutes it takes besides the usual work of a sale", ZERO),
        _number("days_factor", "days to sell, against a fair local price", "x", ONE, ZERO, Decimal(10)),
        _list("drops", "usual work of a sale that falls away", "tasks"),
    ),
    _table(
        "box_classes",
        "a box to ship in",
        "id",
        _id("name of the box"),
        _text("what", "what goes into it"),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
        *(
            _number(f"{side}_mm", side, "mm", low=ONE, high=Decimal(3000))
            for side in ("length", "width", "height")
        ),
        _money("freight_low", "insured domestic freight, low"),
        _money("freight_high", "insured domestic freight, high"),
        _minutes("minutes", "minutes more than the usual packing", ZERO),
        _percent("damage_pct", "odds of damage on the way"),
    ),
    _table(
        "salvage",
        "what a removed part brings, as a share of the same grade's new price",
        "part_class",
        _ref("part_class", "part_classes", "the class of part"),
        _share("share", "share of the new price"),
    ),
    _table(
        "warranty",
        "work that comes back oftener: what is held of its labour for warranty, where more than labour_reserve of"
        " shop.toml",
        "task",
        _ref("task", "tasks", "the task"),
        _number("share", "share of its labour on client work", "share", low=ZERO, high=ONE),
    ),
    _table(
        "donor_odds",
        "how a donor was looked at, and the odds that it is bad",
        "id",
        _id("name"),
        _text("what", "how it was seen"),
        _percent("odds_pct", "odds that it is bad"),
    ),
    _table(
        "donor_checks",
        "a check at the seller's place and what a bad result takes off the offer",
        "id",
        _id("name of the check"),
        _text("what", "what is looked at"),
        _text("walk_away_if", "when not to buy at all", ""),
        _text("lower_for", "what lowers the offer", ""),
        _percent("walk_pct", "odds that it says walk away, unseen"),
        _percent("fault_pct", "odds that it lowers the offer, unseen"),
        _money("off_low", "least taken off", ZERO),
        _money("off_high", "most taken off", ZERO),
        _number("hours_low", "least hours of work taken off at the wanted pay", "h", ZERO, ZERO, HUNDRED),
        _number("hours_high", "most hours of work taken off at the wanted pay", "h", ZERO, ZERO, HUNDRED),
        _share("share_low", "least share of the clean price taken off"),
        _share("share_high", "most share of the clean price taken off"),
        Column(
            "told_by",
            "list",
            "intake fields that tell its result once one is measured",
            default=(),
            refers="intake",
        ),
    ),
    _table(
        "spares",
        "a piece that may be spoiled in the making, and what to practise on",
        "id",
        _id("name of the piece"),
        _text("what", "what it is"),
        _percent("expert_pct", "odds that one is spoiled in an experienced hand"),
        _percent("beginner_pct", "odds that one is spoiled in a beginner's hand"),
        _text("practise_on", "what to practise on", ""),
    ),
    _table(
        "send_out",
        "work or tools that can be rented or sent out",
        "id",
        _id("name of the need"),
        _text("what", "what is needed"),
        _text("own_when", "when owning pays, by rule of thumb", ""),
        _list("tools", "tools it takes to do it in the shop", "tools"),
        _money("rent_low", "rent, low", None),
        _money("rent_high", "rent, high", None),
        _text("rent_per", "what the rent is paid for", ""),
        _money("send_low", "bill when sent out, low", None),
        _money("send_high", "bill when sent out, high", None),
        _days("wait_low_days", "days away, quick"),
        _days("wait_high_days", "days away, slow"),
    ),
    _table(
        "trade_rules",
        "single numbers of the money side",
        "id",
        _id("name of the number"),
        _text("what", "what it is"),
        Column("value", "number", "the number"),
        _text("unit", "its unit", ""),
    ),
)
