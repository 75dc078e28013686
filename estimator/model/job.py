"""One instrument on the bench: what it is, what is wanted, with what means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.amounts import Cents
from estimator.core.errors import Issue, Origin
from estimator.core.text import BASS, family_of
from estimator.model.column import ONE, REQUIRED, ZERO, key
from estimator.model.shop import Part
from estimator.model.terms import Terms
from estimator.model.words import JOB_KINDS

Ids = tuple[str, ...]


def calling(shops: Iterable[Part], own: Mapping[str, Part], part_class: str) -> tuple[tuple[str, Part], ...]:
    """The parts of a class on offer, each with the word that tells its upgrades from the others'; ``shops``: those
    of the shop.

    The shop's parts and those of the job stand side by side, unless one of the job's says ``only``. A
    part of the job with the id of one of the shop's is that part, measured. The word is the variant; a
    part of the job whose variant the shop's have already goes by its id.
    """
    mine = [part for part in own.values() if part.part_class == part_class]
    alone = any(part.only for part in mine)
    theirs = [part for part in shops if part.id not in own and not alone]
    taken = {part.variant for part in theirs}
    return (
        *((part.variant, part) for part in theirs),
        *((part.id if part.variant in taken else part.variant, part) for part in mine),
    )


class Reading(Struct, frozen=True):
    """One intake value: measured, or assumed from the default of its field."""

    value: Decimal | str | bool | tuple[str, ...]
    assumed: bool
    origin: Origin = Origin()


class Requirement(Struct, frozen=True):
    """Something the wish asks for: a level at least, or an amount at least / at most."""

    attribute: str
    least: Decimal | None
    most: Decimal | None
    level: Decimal | None
    because: str
    origin: Origin = Origin()


class Budget(Struct, frozen=True):
    """Limits on money (``on``: cash, cost or price) and on hands-on minutes, at a surety in per cent.

    ``surety`` None means the mean is compared with the limit. ``worth``: what the instrument will
    ever bring, which the cost may not go beyond; None: not said.
    """

    money: Annotated[
        Decimal | None,
        key("budget", "money", "most money (left out: no limit)", "money", low=ZERO, above=True),
    ] = None
    on: Annotated[
        str,
        key(
            "budget",
            "choice",
            "what the money is held against: cash paid out, cost to the shop, price to the customer, tax included (left out: price for a commission, else cash)",
            choices=("cash", "cost", "price"),
            default="",
        ),
    ] = "price"
    worth: Annotated[
        Decimal | None,
        key(
            "budget",
            "money",
            "what the instrument will ever bring: the cost to the shop may not go beyond it (left out: for a resale with a wish, the most that its sale can bring; else no such limit)",
            "money",
            low=ZERO,
        ),
    ] = None
    minutes: Annotated[
        Decimal | None,
        key(
            "budget",
            "hours",
            'most hands-on time: hours, or a text such as "6 h 30 min" (left out: no limit)',
            "h",
            name="hours",
            low=ZERO,
            above=True,
        ),
    ] = None
    surety: Annotated[
        Decimal | None,
        key(
            "budget",
            "number",
            "per cent of such jobs that must stay within hours and cost (left out: on average; cash has no spread, and the price counts its hours at this)",
            "%",
            low=Decimal(50),
            high=Decimal("99.9"),
        ),
    ] = None
    origin: Origin = Origin()


class JobTerms(Struct, frozen=True):
    """What differs from ``shop.toml`` on this job; None: as the shop has it."""

    skill: Annotated[
        int | None, key("terms", "whole", "skill of the hand at the bench, 1 to 5", low=ONE, high=Decimal(5))
    ] = None
    charge_per_hour: Annotated[
        Decimal | None, key("terms", "money", "what the customer is charged for an hour", "money", low=ZERO)
    ] = None
    rush: Annotated[bool, key("terms", "yes-no", "whether the job jumps the queue")] = False
    batch: Annotated[
        int,
        key(
            "terms",
            "whole",
            "how many such instruments the customer brings in one run: part of the set-ups saved comes off the price",
            low=ONE,
            high=Decimal(1000),
        ),
    ] = 1
    bench_fee_paid: Annotated[
        bool,
        key(
            "terms",
            "yes-no",
            "whether the fee for a look at the bench was paid: it is taken off what is to pay",
        ),
    ] = False
    stored_days: Annotated[
        int,
        key(
            "terms",
            "whole",
            "days since the customer was told that it is ready: storage after the free days is added",
            "days",
            low=ZERO,
            high=Decimal(3660),
        ),
    ] = 0

    def charge(self, terms: Terms) -> Decimal:
        """What an hour is charged at: as the job says, else as the shop does."""
        return terms.charge_per_hour if self.charge_per_hour is None else self.charge_per_hour

    def rush_factor(self, terms: Terms) -> Decimal:
        """The multiple of the price for jumping the queue; 1 without."""
        return terms.rush if self.rush else ONE


class SaleTerms(Struct, frozen=True):
    """How an instrument was bought and is to be sold (kind resale); minutes, money."""

    condition: Annotated[
        str,
        key(
            "resale",
            "text",
            "condition as found, of condition_ladder.csv; what nobody measured is assumed from it"
            " (left out: from what was measured)",
        ),
    ] = ""
    seen: Annotated[
        str, key("resale", "text", "how the donor was seen, of donor_odds.csv (left out: held)")
    ] = ""
    way: Annotated[str, key("resale", "text", "way to sell, of selling_ways.csv (left out: the first)")] = ""
    box: Annotated[
        str,
        key("resale", "text", "box to ship in, of box_classes.csv (left out: the first that takes it)"),
    ] = ""
    travel_min: Annotated[
        Decimal, key("resale", "number", "minutes of travel to fetch it", "min", low=ZERO)
    ] = ZERO
    inbound_cost: Annotated[
        Decimal, key("resale", "money", "freight or fuel to get it here", "money", low=ZERO)
    ] = ZERO
    sourced: Annotated[
        bool, key("resale", "yes-no", "whether finding and fetching it took time (no: it came by itself)")
    ] = True
    sales_known: Annotated[
        bool | None, key("resale", "yes-no", "whether three good local sales are known")
    ] = None
    salvage: Annotated[
        Decimal | None,
        key(
            "resale",
            "money",
            "what it still brings if it proves bad, or taken apart, in the hand, fees off"
            " (left out: by condition_ladder.csv, and the usual shares for its parts)",
            "money",
            low=ZERO,
        ),
    ] = None
    own_pay_per_hour: Annotated[
        Decimal | None, key("resale", "money", "pay wanted for an hour on it", "money", low=ZERO)
    ] = None

    def pay(self, terms: Terms) -> Decimal:
        """The pay wanted for an hour on it: as the job says, else as the shop does."""
        return terms.own_pay_per_hour if self.own_pay_per_hour is None else self.own_pay_per_hour


class Labels(Struct, frozen=True):
    """Words about a job that are shown on its papers and decide nothing; blank where nobody said any.

    ``promised`` and ``promised_by``: the day on which it is ready and who tells it (plan, ledger), where a quote
    was given for a day. Of the ledger too: ``paid``, what the customer has paid so far without the bench fee, and the
    quote that was agreed before (``agreed``, its number, and ``agreed_cents``), which this one takes the place of.
    """

    number: Annotated[str, key("job", "text", "number of the quote, such as 2026-014 (left out: the id)")] = (
        ""
    )
    make: Annotated[
        str, key("job", "text", "make and model as they stand on the instrument, in your words")
    ] = ""
    serial: Annotated[str, key("job", "text", "serial number")] = ""
    colour: Annotated[str, key("job", "text", "colour")] = ""
    phone: Annotated[str, key("job", "text", "telephone of the customer")] = ""
    email: Annotated[str, key("job", "text", "e-mail of the customer")] = ""
    photo: Annotated[
        str,
        key(
            "job",
            "text",
            "photo of the instrument (a JPEG or PNG file, beside the job file) that stands on the customer's page; "
            "alone it stands in place of the outline, without marks: its numbers are those in the list of works",
        ),
    ] = ""
    photo_2: Annotated[str, key("job", "text", "another photo, side by side with the first")] = ""
    photo_3: Annotated[str, key("job", "text", "a third one")] = ""
    promised: str = ""
    promised_by: str = ""
    paid: Cents = Cents(0)
    agreed: str = ""
    agreed_cents: Cents = Cents(0)

    @property
    def photos(self) -> Mapping[str, str]:
        """The photos that are named, by key."""
        each = {"photo": self.photo, "photo_2": self.photo_2, "photo_3": self.photo_3}
        return {name: file for name, file in each.items() if file}


class Outline(Struct, frozen=True):
    """The edge of a guard or a headstock and its screw holes: (across, along) in mm, away from the neck."""

    of: Annotated[
        str,
        key("outline", "choice", "what it is the edge of", choices=("guard", "headstock"), default=REQUIRED),
    ]
    points: tuple[tuple[Decimal, Decimal], ...]
    holes: tuple[tuple[Decimal, Decimal], ...] = ()
    origin: Origin = Origin()


class Job(Struct, frozen=True):
    """One instrument: what it is, what is wanted, with what means, and what is open to choice.

    ``methods``: by task the way it is to be done. ``to_get``: tools that are not there and may be bought or
    rented, which is paid where the choice takes a way that needs them.
    """

    id: Annotated[
        str, key("job", "id", "name of the job: lower-case words joined by dashes", default=REQUIRED)
    ]
    kind: Annotated[
        str,
        key(
            "job",
            "choice",
            "for a customer, for sale later, or for oneself",
            choices=JOB_KINDS,
            default="own",
        ),
    ]
    what: Annotated[str, key("job", "text", "the job in a few words")]
    customer: Annotated[str, key("job", "text", "name that stands on the quote")]
    received: Annotated[str, key("job", "date", "day the instrument came in")]
    wanted_by: Annotated[str, key("job", "date", "day it is wanted back")]
    instrument: Mapping[str, Reading]
    found_levels: Annotated[
        Mapping[str, Reading],
        key(
            "instrument",
            "group",
            "attribute = level 0 to 4 as found, where it was judged at the bench",
            name="levels",
        ),
    ]
    profile: Annotated[
        str, key("wish", "text", "target profile; all its least levels are required unless dropped")
    ]
    requirements: Annotated[
        tuple[Requirement, ...],
        key(
            "wish",
            "group",
            'attribute = level 0 to 4 at least; "any" drops what the profile wants',
            name="require",
        ),
        key(
            "wish",
            "group",
            'attribute = { least = ..., most = ... } for amounts, with units: { most = "3.6 kg" }',
            name="limits",
        ),
    ]
    weights: Annotated[
        Mapping[str, Decimal],
        key("wish", "group", "attribute = weight in the score, over those of the profile"),
    ]
    budget: Budget
    parts: Mapping[str, Part]
    open: Annotated[Ids, key("upgrades", "list", "those that may be chosen (left out: all)")]
    required: Annotated[Ids, key("upgrades", "list", "those that must be chosen")]
    refused: Annotated[Ids, key("upgrades", "list", "those that must not be chosen")]
    stock: Mapping[str, Decimal]
    terms: JobTerms = JobTerms()
    sale: SaleTerms = SaleTerms()
    file: str = ""
    issues: tuple[Issue, ...] = ()
    said_wrong: Annotated[
        Ids,
        key("job", "list", "faults of faults.csv that somebody told of; warned of until they are measured"),
    ] = ()
    labels: Labels = Labels()
    may_change: Annotated[
        Ids,
        key(
            "upgrades",
            "list",
            "what may be changed for good without a wish that asks for it: ids of changes.csv (left out: nothing, unless nothing else meets the wish)",
        ),
    ] = ()
    keeps: Annotated[
        Ids,
        key("upgrades", "list", "what the customer wants kept, whatever the wish: ids of customer_keeps.csv"),
    ] = ()
    methods: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    without_tools: Annotated[
        Ids,
        key(
            "methods",
            "list",
            "tools that are not there, by their ids of tools.csv: ways that need them are not offered, but where what they take to buy or rent is less than working around them",
        ),
    ] = ()
    to_get: Ids = ()
    outlines: Mapping[str, Outline] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def asking_price(self) -> Decimal:
        """What is asked (or was paid) for the instrument, zero if nobody said."""
        reading = self.instrument.get("ask")
        return reading.value if reading is not None and isinstance(reading.value, Decimal) else Decimal(0)

    @property
    def quote_number(self) -> str:
        """The number that stands on a quote: the one written down, else the id."""
        return self.labels.number or self.id

    @property
    def for_customer(self) -> bool:
        """Whether somebody else pays for the work: only then there is a customer's price."""
        return self.kind == "commission"

    @property
    def family(self) -> str:
        """``bass`` or ``guitar``."""
        return family_of(self.instrument["kind"].value)

    @property
    def is_bass(self) -> bool:
        """Whether the bass defaults and strings apply."""
        return self.family == BASS
