"""One instrument on the bench: what it is, what is wanted, with what means."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.errors import Issue, Origin
from estimator.model.column import REQUIRED, ZERO, key
from estimator.model.shop import Part
from estimator.model.words import JOB_KINDS

Ids = tuple[str, ...]


def calling(
    shops: Mapping[str, Part], own: Mapping[str, Part], part_class: str
) -> tuple[tuple[str, Part], ...]:
    """The parts of a class on offer, each with the word that tells its upgrades from the others'.

    The shop's parts and those of the job stand side by side, unless one of the job's says ``only``. A
    part of the job with the id of one of the shop's is that part, measured. The word is the variant; a
    part of the job whose variant the shop's have already goes by its id.
    """
    mine = [part for part in own.values() if part.part_class == part_class]
    alone = any(part.only for part in mine)
    theirs = [p for p in shops.values() if p.part_class == part_class and p.id not in own and not alone]
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
            "hours",
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
    found_levels: Mapping[str, Reading]
    requirements: tuple[Requirement, ...]
    profile: Annotated[
        str, key("wish", "text", "target profile; all its least levels are required unless dropped")
    ]
    weights: Mapping[str, Decimal]
    budget: Budget
    parts: Mapping[str, Part]
    open: Annotated[Ids, key("upgrades", "list", "those that may be chosen (left out: all)")]
    required: Annotated[Ids, key("upgrades", "list", "those that must be chosen")]
    refused: Annotated[Ids, key("upgrades", "list", "those that must not be chosen")]
    stock: Mapping[str, Decimal]
    settings: Mapping[str, Decimal | str]
    file: str = ""
    issues: tuple[Issue, ...] = ()
    labels: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
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
        return self.labels.get("number", self.id)

    @property
    def for_customer(self) -> bool:
        """Whether somebody else pays for the work: only then there is a customer's price."""
        return self.kind == "commission"

    @property
    def is_bass(self) -> bool:
        """Whether the bass defaults and strings apply."""
        return str(self.instrument["kind"].value).startswith("bass")
