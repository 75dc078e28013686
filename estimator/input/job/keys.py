"""The sections and keys of a job file, declared once; they drive reading and the generated reference."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from estimator.model import GRADES, JOB_KINDS, OUTLINED
from estimator.model.column import ONE, ZERO, Column


@dataclass(frozen=True, slots=True)
class Section:
    """One section of a job file; ``repeated`` ones are written ``[[name]]``, once per thing.

    ``open_keys`` says in words which further keys are accepted (intake fields, dimensions of parts).
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    repeated: bool = False
    open_keys: str = ""


LABELS = {
    "number": "number of the quote, such as 2026-014 (left out: the id)",
    "make": "make and model as they stand on the instrument, in your words",
    "serial": "serial number",
    "colour": "colour",
    "phone": "telephone of the customer",
    "email": "e-mail of the customer",
    "photo": "photo of the instrument (a JPEG or PNG file, beside the job file) that stands on the customer's page; "
    "alone it stands in place of the outline, without marks: its numbers are those in the list of works",
    "photo_2": "another photo, side by side with the first",
    "photo_3": "a third one",
}
"""Words about a job that are shown on its papers and decide nothing."""


def _group(name: str, meaning: str) -> Column:
    return Column(name, "group", meaning, default=None)


def _list(name: str, meaning: str) -> Column:
    return Column(name, "list", meaning, default=())


JOB = Section(
    "job",
    "what the job is called and for whom it is",
    (
        Column("id", "id", "name of the job: lower-case words joined by dashes"),
        Column(
            "kind",
            "choice",
            "for a customer, for sale later, or for oneself",
            default="own",
            choices=JOB_KINDS,
        ),
        Column("what", "text", "the job in a few words", default=""),
        Column("customer", "text", "name that stands on the quote", default=""),
        Column("received", "date", "day the instrument came in", default=""),
        Column("wanted_by", "date", "day it is wanted back", default=""),
        _list("said_wrong", "faults of faults.csv that somebody told of; warned of until they are measured"),
        *(Column(name, "text", meaning, default="") for name, meaning in LABELS.items()),
    ),
)
INSTRUMENT = Section(
    "instrument",
    'what was measured and seen; whatever is left out (or written "unknown") has the default of intake.csv',
    (_group("levels", "attribute = level 0 to 4 as found, where it was judged at the bench"),),
    open_keys='every field of intake.csv, as a plain number in its unit or with a unit: "5/8 in", "2.25 lb"',
)
WISH = Section(
    "wish",
    "what the instrument is to come to",
    (
        Column(
            "profile", "text", "target profile; all its least levels are required unless dropped", default=""
        ),
        _group("require", 'attribute = level 0 to 4 at least; "any" drops what the profile wants'),
        _group(
            "limits", 'attribute = { least = ..., most = ... } for amounts, with units: { most = "3.6 kg" }'
        ),
        _group("weights", "attribute = weight in the score, over those of the profile"),
    ),
)
BUDGET = Section(
    "budget",
    "what it may take",
    (
        Column("money", "money", "most money (left out: no limit)", "money", None, ZERO, above=True),
        Column(
            "on",
            "choice",
            "what the money is held against: cash paid out, cost to the shop, price to the customer, tax included"
            " (left out: price for a commission, else cash)",
            default="",
            choices=("cash", "cost", "price"),
        ),
        Column(
            "worth",
            "money",
            "what the instrument will ever bring: the cost to the shop may not go beyond it"
            " (left out: for a resale with a wish, the most that its sale can bring; else no such limit)",
            "money",
            None,
            ZERO,
        ),
        Column(
            "hours",
            "hours",
            'most hands-on time: hours, or a text such as "6 h 30 min" (left out: no limit)',
            "h",
            None,
            ZERO,
            above=True,
        ),
        Column(
            "surety",
            "number",
            "per cent of such jobs that must stay within hours and cost (left out: on average; cash has no spread, and the price counts its hours at this)",
            "%",
            None,
            Decimal(50),
            Decimal("99.9"),
        ),
    ),
)
PART = Section(
    "part",
    "a particular part that is considered, as measured; what is left out is taken from parts.csv and"
    " part_dimensions.csv and counts as typical, not measured",
    (
        Column("id", "id", "name of the part in this job; an id of parts.csv: in the place of that row"),
        Column("class", "id", "class of part_classes.csv"),
        Column(
            "grade",
            "choice",
            "grade (left out: that of the variant, else standard)",
            default="",
            choices=GRADES,
        ),
        Column(
            "variant",
            "id",
            "what tells it from others of its class"
            " (left out: as in parts.csv if that is more than a grade, else its id)",
            default="",
        ),
        Column(
            "price",
            "money",
            "price of one, or of the set where the class is priced so (left out: that of parts.csv; 0 if the customer brings it)",
            "money",
            None,
            ZERO,
        ),
        Column("what", "text", "what it is", default=""),
        Column(
            "owner", "choice", "who pays for it and brings it", default="shop", choices=("shop", "customer")
        ),
        Column(
            "only",
            "yes-no",
            "only parts of this job are considered in its class"
            " (left out: it stands beside the shop's own parts of its class, and the best of them all is found)",
            default=False,
        ),
        _group("levels", 'factor levels it brings: { NM = "bone" }'),
    ),
    repeated=True,
    open_keys="weight_g, and every dimension that part_dimensions.csv declares for its class, with units",
)
UPGRADES = Section(
    "upgrades",
    "which upgrades are open to choice: ids of upgrades.csv (all variants), or id-variant for one of them",
    (
        _list("open", "those that may be chosen (left out: all)"),
        _list("required", "those that must be chosen"),
        _list("refused", "those that must not be chosen"),
        _list(
            "may_change",
            "what may be changed for good without a wish that asks for it: ids of changes.csv"
            " (left out: nothing, unless nothing else meets the wish)",
        ),
        _list("keeps", "what the customer wants kept, whatever the wish: ids of customer_keeps.csv"),
    ),
)
STOCK = Section(
    "stock",
    "what the shop has already: each piece is used once, and not bought again",
    (),
    open_keys="ids of parts (of parts.csv or this job) and consumables (strings by the set) = quantity in their unit",
)
METHODS = Section(
    "methods",
    "which way tasks are done; what is left out is chosen",
    (
        _list(
            "without_tools",
            "tools that are not there, by their ids of tools.csv: ways that need them are not offered, "
            "but where what they take to buy or rent is less than working around them",
        ),
    ),
    open_keys="id of a task of task_methods.csv = the way it is to be done",
)
TERMS = Section(
    "terms",
    "what differs from shop.toml on this job",
    (
        Column("skill", "whole", "skill of the hand at the bench, 1 to 5", "", None, ONE, Decimal(5)),
        Column("charge_per_hour", "money", "what the customer is charged for an hour", "money", None, ZERO),
        Column("rush", "yes-no", "whether the job jumps the queue", default=None),
        Column(
            "batch",
            "whole",
            "how many such instruments the customer brings in one run: part of the set-ups saved comes off the price",
            "",
            None,
            ONE,
            Decimal(1000),
        ),
        Column(
            "bench_fee_paid",
            "yes-no",
            "whether the fee for a look at the bench was paid: it is taken off what is to pay",
            default=None,
        ),
        Column(
            "stored_days",
            "whole",
            "days since the customer was told that it is ready: storage after the free days is added",
            "days",
            None,
            ZERO,
            Decimal(3660),
        ),
    ),
)
RESALE = Section(
    "resale",
    "how an instrument was bought and is to be sold (kind resale)",
    (
        Column(
            "condition",
            "text",
            "condition as found, of condition_ladder.csv; what nobody measured is assumed from it"
            " (left out: from what was measured)",
            default=None,
        ),
        Column("seen", "text", "how the donor was seen, of donor_odds.csv (left out: held)", default=None),
        Column("way", "text", "way to sell, of selling_ways.csv (left out: the first)", default=None),
        Column(
            "box",
            "text",
            "box to ship in, of box_classes.csv (left out: the first that takes it)",
            default=None,
        ),
        Column("travel_min", "number", "minutes of travel to fetch it", "min", None, ZERO),
        Column("inbound_cost", "money", "freight or fuel to get it here", "money", None, ZERO),
        Column(
            "sourced",
            "yes-no",
            "whether finding and fetching it took time (no: it came by itself)",
            default=None,
        ),
        Column("sales_known", "yes-no", "whether three good local sales are known", default=None),
        Column(
            "salvage",
            "money",
            "what it still brings if it proves bad, or taken apart, in the hand, fees off"
            " (left out: by condition_ladder.csv, and the usual shares for its parts)",
            "money",
            None,
            ZERO,
        ),
        Column("own_pay_per_hour", "money", "pay wanted for an hour on it", "money", None, ZERO),
    ),
)
OUTLINE = Section(
    "outline",
    "the edge of a guard or of a headstock, to be drawn and cut by",
    (Column("of", "choice", "what it is the edge of", choices=OUTLINED),),
    repeated=True,
    open_keys="points, the edge in order, and holes, the middles of screw holes: lists of [across, along] in mm,"
    " across from the centre line (left of it less than 0), along away from the neck",
)
OUTLINE_POINTS = ("points", "holes")
SECTIONS: tuple[Section, ...] = (
    JOB,
    INSTRUMENT,
    WISH,
    BUDGET,
    PART,
    OUTLINE,
    UPGRADES,
    STOCK,
    METHODS,
    TERMS,
    RESALE,
)
