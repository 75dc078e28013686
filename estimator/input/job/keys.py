"""The sections and keys of a job file, declared once; they drive reading and the generated reference."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from msgspec import Struct

from estimator.model import GRADES, Budget, Job, Outline
from estimator.model.column import ONE, REQUIRED, ZERO, Column, key, section_of


class Section(Struct, frozen=True):
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


def _key(name: str, kind: str, meaning: str, unit: str = "", **more: Any) -> Column:
    return key("", kind, meaning, unit, name, **more).column


def _keys(record: type, section: str) -> tuple[Column, ...]:
    return tuple(section_of(record, section).values())


JOB = Section(
    "job",
    "what the job is called and for whom it is",
    (
        *_keys(Job, "job"),
        _key(
            "said_wrong",
            "list",
            "faults of faults.csv that somebody told of; warned of until they are measured",
        ),
        *(_key(name, "text", meaning) for name, meaning in LABELS.items()),
    ),
)
INSTRUMENT = Section(
    "instrument",
    'what was measured and seen; whatever is left out (or written "unknown") has the default of intake.csv',
    (_key("levels", "group", "attribute = level 0 to 4 as found, where it was judged at the bench"),),
    open_keys='every field of intake.csv, as a plain number in its unit or with a unit: "5/8 in", "2.25 lb"',
)
WISH = Section(
    "wish",
    "what the instrument is to come to",
    (
        *_keys(Job, "wish"),
        _key("require", "group", 'attribute = level 0 to 4 at least; "any" drops what the profile wants'),
        _key(
            "limits",
            "group",
            'attribute = { least = ..., most = ... } for amounts, with units: { most = "3.6 kg" }',
        ),
        _key("weights", "group", "attribute = weight in the score, over those of the profile"),
    ),
)
BUDGET = Section("budget", "what it may take", _keys(Budget, "budget"))
PART = Section(
    "part",
    "a particular part that is considered, as measured; what is left out is taken from parts.csv and"
    " part_dimensions.csv and counts as typical, not measured",
    (
        _key(
            "id",
            "id",
            "name of the part in this job; an id of parts.csv: in the place of that row",
            default=REQUIRED,
        ),
        _key("class", "id", "class of part_classes.csv", default=REQUIRED),
        _key("grade", "choice", "grade (left out: that of the variant, else standard)", choices=GRADES),
        _key(
            "variant",
            "id",
            "what tells it from others of its class"
            " (left out: as in parts.csv if that is more than a grade, else its id)",
        ),
        _key(
            "price",
            "money",
            "price of one, or of the set where the class is priced so (left out: that of parts.csv; 0 if the customer brings it)",
            "money",
            low=ZERO,
        ),
        _key("what", "text", "what it is"),
        _key(
            "owner", "choice", "who pays for it and brings it", default="shop", choices=("shop", "customer")
        ),
        _key(
            "only",
            "yes-no",
            "only parts of this job are considered in its class"
            " (left out: it stands beside the shop's own parts of its class, and the best of them all is found)",
            default=False,
        ),
        _key("levels", "group", 'factor levels it brings: { NM = "bone" }'),
    ),
    repeated=True,
    open_keys="weight_g, and every dimension that part_dimensions.csv declares for its class, with units",
)
UPGRADES = Section(
    "upgrades",
    "which upgrades are open to choice: ids of upgrades.csv (all variants), or id-variant for one of them",
    _keys(Job, "upgrades"),
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
    _keys(Job, "methods"),
    open_keys="id of a task of task_methods.csv = the way it is to be done",
)
TERMS = Section(
    "terms",
    "what differs from shop.toml on this job",
    (
        _key("skill", "whole", "skill of the hand at the bench, 1 to 5", low=ONE, high=Decimal(5)),
        _key("charge_per_hour", "money", "what the customer is charged for an hour", "money", low=ZERO),
        _key("rush", "yes-no", "whether the job jumps the queue"),
        _key(
            "batch",
            "whole",
            "how many such instruments the customer brings in one run: part of the set-ups saved comes off the price",
            low=ONE,
            high=Decimal(1000),
        ),
        _key(
            "bench_fee_paid",
            "yes-no",
            "whether the fee for a look at the bench was paid: it is taken off what is to pay",
        ),
        _key(
            "stored_days",
            "whole",
            "days since the customer was told that it is ready: storage after the free days is added",
            "days",
            low=ZERO,
            high=Decimal(3660),
        ),
    ),
)
RESALE = Section(
    "resale",
    "how an instrument was bought and is to be sold (kind resale)",
    (
        _key(
            "condition",
            "text",
            "condition as found, of condition_ladder.csv; what nobody measured is assumed from it"
            " (left out: from what was measured)",
        ),
        _key("seen", "text", "how the donor was seen, of donor_odds.csv (left out: held)"),
        _key("way", "text", "way to sell, of selling_ways.csv (left out: the first)"),
        _key("box", "text", "box to ship in, of box_classes.csv (left out: the first that takes it)"),
        _key("travel_min", "number", "minutes of travel to fetch it", "min", low=ZERO),
        _key("inbound_cost", "money", "freight or fuel to get it here", "money", low=ZERO),
        _key("sourced", "yes-no", "whether finding and fetching it took time (no: it came by itself)"),
        _key("sales_known", "yes-no", "whether three good local sales are known"),
        _key(
            "salvage",
            "money",
            "what it still brings if it proves bad, or taken apart, in the hand, fees off"
            " (left out: by condition_ladder.csv, and the usual shares for its parts)",
            "money",
            low=ZERO,
        ),
        _key("own_pay_per_hour", "money", "pay wanted for an hour on it", "money", low=ZERO),
    ),
)
OUTLINE = Section(
    "outline",
    "the edge of a guard or of a headstock, to be drawn and cut by",
    _keys(Outline, "outline"),
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
