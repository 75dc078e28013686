"""One instrument on the bench: what it is, what is wanted, with what means."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from estimator.core.errors import Issue, Origin
from estimator.core.records import dataclass, field
from estimator.model.shop import Part


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


@dataclass(frozen=True, slots=True)
class Reading:
    """One intake value: measured, or assumed from the default of its field."""

    value: Decimal | str | bool | tuple[str, ...]
    assumed: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Requirement:
    """Something the wish asks for: a level at least, or an amount at least / at most."""

    attribute: str
    least: Decimal | None
    most: Decimal | None
    level: Decimal | None
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Budget:
    """Limits on money (``on``: cash, cost or price) and on hands-on minutes, at a surety in per cent.

    ``surety`` None means the mean is compared with the limit. ``worth``: what the instrument will
    ever bring, which the cost may not go beyond; None: not said.
    """

    money: Decimal | None = None
    on: str = "price"
    minutes: Decimal | None = None
    surety: Decimal | None = None
    origin: Origin = Origin()
    worth: Decimal | None = None


OUTLINED = ("guard", "headstock")
"""What can be given by the points of its edge."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The edge of a guard or a headstock and its screw holes: (across, along) in mm, away from the neck."""

    of: str
    points: tuple[tuple[Decimal, Decimal], ...]
    holes: tuple[tuple[Decimal, Decimal], ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Job:
    """One instrument: what it is, what is wanted, with what means, and what is open to choice.

    ``may_change``: ids of ``changes.csv`` that may be changed for good without a wish for it; ``keeps``: ids
    of ``customer_keeps.csv``, what the customer wants kept. ``methods``: by task the way it is to be done;
    ``without_tools``: tools that are not there, so that ways that need them are not offered. ``to_get``: tools
    that are not there and may be bought or rented, which is paid where the choice takes a way that needs them.
    """

    id: str
    kind: str
    what: str
    customer: str
    received: str
    wanted_by: str
    instrument: Mapping[str, Reading]
    found_levels: Mapping[str, Reading]
    requirements: tuple[Requirement, ...]
    profile: str
    weights: Mapping[str, Decimal]
    budget: Budget
    parts: Mapping[str, Part]
    open: tuple[str, ...]
    required: tuple[str, ...]
    refused: tuple[str, ...]
    stock: Mapping[str, Decimal]
    settings: Mapping[str, Decimal | str]
    file: str = ""
    issues: tuple[Issue, ...] = ()
    labels: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    may_change: tuple[str, ...] = ()
    keeps: tuple[str, ...] = ()
    methods: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    without_tools: tuple[str, ...] = ()
    to_get: tuple[str, ...] = ()
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
