"""What may be chosen, as plain whole numbers; no solver here.

Money is cents, minutes are hundredths, attribute levels are tenths, masses tenths of a gram.
Every engine, the brute force of the tests and ``recheck`` read this one record.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Generic, Literal, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths, TenthGrams, Tenths, Thousandths
from estimator.core.text import money, time_text
from estimator.model import Baskets, Packs
from estimator.model.sale_problem import Sale

LEVEL_SCALE = 10


class CostPiece(Struct, frozen=True):
    """A priced atom: counts once when any of its ``triggers`` is chosen (None: always).

    ``cost``, ``cash``, ``price_parts``, ``consumables``, ``price_work`` and ``line_tax`` (see
    ``model.Money``): cents. ``minutes``: expected hands-on hundredths of a minute, reserve included.
    ``sd`` and ``rework_sd``, the spreads of times and of rework: minutes, each adds up inside one ``line``.
    ``faults``: the hundredths of ``minutes`` held for hidden faults. ``task`` and ``is_difference`` as those of the atom.
    """

    id: str
    triggers: tuple[str, ...] | None
    cost: Cents
    cash: Cents
    price_parts: Cents
    consumables: Cents
    minutes: Hundredths
    sd: float
    line: str
    mass: TenthGrams
    price_work: Cents = Cents(0)
    line_tax: Cents = Cents(0)
    rework_sd: float = 0.0
    faults: Hundredths = Hundredths(0)
    task: str = ""
    is_difference: bool = False


Summed = Literal[
    "cost",
    "cash",
    "price_parts",
    "consumables",
    "price_work",
    "line_tax",
    "minutes",
    "faults",
    "mass",
]
"""The figures of a piece that are added up over a set, by their names."""


Amounts = TypeVar("Amounts", Tenths, Thousandths)


class Giver(Struct, Generic[Amounts], frozen=True):
    """An effect on an attribute: active when any of ``given_by`` and any of ``together_with`` is chosen.

    ``source`` and ``task`` as those of ``model.Effect``.
    """

    value: Amounts
    given_by: tuple[str, ...]
    together_with: tuple[str, ...] = ()
    source: str = ""
    task: str = ""


class Hold(Struct, frozen=True):
    """A fault: no higher than ``value`` unless any of ``lifted_by`` is chosen."""

    value: Tenths
    lifted_by: tuple[str, ...]


class Scale(Struct, frozen=True):
    """How a level attribute comes about: base, raised to, added on top, capped, limited by others.

    Level reached = min over active caps and faults not lifted of (max(base, active tos) + sum of active
    adds), held to 0..40, then for every limit (other, plus): not above other + plus; and for every need
    (other, level): 0 unless the other reaches that level.
    """

    attribute: str
    base: Tenths
    tos: tuple[Giver[Tenths], ...]
    adds: tuple[Giver[Tenths], ...]
    caps: tuple[Giver[Tenths], ...]
    limits: tuple[tuple[str, Tenths], ...] = ()
    needs: tuple[tuple[str, Tenths], ...] = ()
    holds: tuple[Hold, ...] = ()


class Amount(Struct, frozen=True):
    """How a number comes about: base + active changes (+ the mass of active pieces), in thousandths."""

    attribute: str
    base: Thousandths
    changes: tuple[Giver[Thousandths], ...]
    with_mass: bool


class WayChoice(Struct, frozen=True):
    """A task that can be done in more ways than the one reckoned with: at most one of ``ways`` is taken.

    A way is a member of a set like an upgrade, and only where any of ``asked_by`` asks for the task (None:
    it is done in any case).
    """

    task: str
    asked_by: tuple[str, ...] | None
    ways: tuple[str, ...]


SPENT = ("money", "minutes")
"""Kinds of limit on what is spent, in hundredths: cents, or hundredths of a minute."""
LIMITS = (*SPENT, "due")
"""Kinds of limit on the work as a whole, beside wishes (``level``, ``amount``) and what is in or out."""


class Source(StrEnum):
    """Where a rule comes from, as its id begins."""

    WISH = "wish"
    BUDGET = "budget"
    REQUIRED = "required"
    REFUSED = "refused"
    UNFIT = "fit"
    """A part that does not fit."""
    KEEPS = "keeps"
    """What the customer keeps by a word."""
    KEPT = "kept"
    """What stays as it is because nobody spoke of it."""
    DUE = "due"
    """The promised day."""
    WORTH = "worth"
    """What the instrument will ever bring."""
    PAYMENT = "payment"
    """What the customer pays for the set that is chosen."""
    NAMED = "named"
    """A set that is decided already."""


class Rule(Struct, frozen=True):
    """One requirement or limit in the user's words; the unit in which conflicts are explained.

    ``kind``: ``level`` (attribute at least ``least`` tenths), ``amount`` (attribute between
    ``least`` and ``most`` thousandths), ``money`` (``on`` at most ``most`` cents), ``minutes``
    (at most ``most`` hundredths), ``due`` (done ``most`` days after the day ``on``, by the clock),
    ``required`` / ``refused`` (one of ``upgrades`` is in / all are out). ``unit`` is the word that follows
    an amount or a sum of money. ``of``: what it is on, an attribute, an entry of the job, an upgrade, a
    change; blank where a job has one rule of its source. ``tools``: what tools to get take of a limit on
    money that was ``asked`` (None: the limit itself), so that it is held at so much less.
    """

    source: Source
    kind: str
    words: str
    attribute: str = ""
    least: int | None = None
    most: int | None = None
    on: str = ""
    upgrades: tuple[str, ...] = ()
    unit: str = ""
    of: str = ""
    tools: Cents = Cents(0)
    asked: int | None = None

    @property
    def id(self) -> str:
        """What it is called in answers and in the rows of the programme."""
        return f"{self.source}:{self.of}" if self.of else str(self.source)

    @property
    def is_money_asked(self) -> bool:
        """Whether it is the limit on money that the job itself names."""
        return self.source == Source.BUDGET and self.kind == "money"

    def told(self, value: int, rounding: str | None = None) -> str:
        """What is spent under a limit, its tools too, as people write it; ``rounding``: of time, to whole minutes (else exact)."""
        if self.kind == "minutes":
            return time_text(Hundredths(value), rounding, exact=rounding is None)
        return money(Cents(value + self.tools), self.unit).rstrip()

    @property
    def limit(self) -> str:
        """The most that may be spent, as it was asked and as people write it."""
        return self.told((self.most or 0) if self.asked is None else self.asked - self.tools)


class Weight(Struct, frozen=True):
    """How much an attribute counts in the score: ``weight`` x min(1, level / wanted).

    ``weight`` is thousandths of a point, ``wanted`` tenths of a level. For a numeric attribute
    ``limits`` are the amounts (thousandths) at which levels 1, 2, 3 ... begin, going up where
    ``better`` is ``more`` and down where it is ``less``.
    """

    attribute: str
    weight: int
    wanted: Tenths
    limits: tuple[Thousandths, ...] = ()
    better: str = "more"


class Income(Struct, frozen=True):
    """Cents that come in when any of ``triggers`` is chosen (None: always), for the aims that earn."""

    id: str
    triggers: tuple[str, ...] | None
    cents: Cents


class Clock(Struct, frozen=True):
    """What fits before a day. ``room``: hundredths of a minute of bench time up to the end of day 0, 1, 2 ...
    after the instrument came in; ``least``: by upgrade the first day on which its own cures can be over;
    ``desk``: ids of pieces that are done in the rest of the day, not at the bench.
    """

    room: tuple[Hundredths, ...]
    least: tuple[tuple[str, int], ...]
    desk: frozenset[str] = frozenset()


class Problem(Struct, frozen=True):
    """One job's choice. ``options`` are upgrade ids in sorted order.

    ``slots``: at most one of each group. ``prerequisites``: (upgrade, any of these).
    ``conflicts``: pairs that cannot stand together. ``z`` is the normal factor at which the minutes
    limit (and the hours of a price) are held, 0 for the mean; ``z_price`` the one of the quote.
    ``sale`` is there for an instrument that is to be sold. ``packs``: what is bought in whole packs.
    ``baskets``: where parts and packs may be bought; None where freight is not counted.
    ``clock``: for rules on the day it is wanted back. ``billed``: a customer pays the price of the work,
    so that is what comes in.
    ``hour_cents``: what an hour at the bench costs; a limit on cost is held at the surety of the minutes,
    each minute beyond the mean at this cost. Cash (parts, packs) has no spread.
    ``least_score``: thousandths of a point that the set must reach, by the ``weights``; ``choose`` holds it.
    ``large_from``: hundredths of a minute on average from which a quote goes up to its surety; a smaller one
    is quoted at the mean. ``faults_priced``: whether a quote holds what is held for hidden faults.
    ``ways``: tasks that can be done in more than one way.
    """

    options: tuple[str, ...]
    slots: tuple[tuple[str, tuple[str, ...]], ...]
    prerequisites: tuple[tuple[str, tuple[str, ...]], ...]
    conflicts: tuple[tuple[str, str], ...]
    pieces: tuple[CostPiece, ...]
    scales: tuple[Scale, ...]
    amounts: tuple[Amount, ...]
    rules: tuple[Rule, ...]
    z_minutes: float
    z_price: float
    shared_cause: float
    sale: Sale | None = None
    weights: tuple[Weight, ...] = ()
    incomes: tuple[Income, ...] = ()
    packs: tuple[Packs, ...] = ()
    baskets: Baskets | None = None
    billed: bool = False
    hour_cents: Cents = Cents(0)
    clock: Clock | None = None
    least_score: int | None = None
    large_from: Hundredths = Hundredths(0)
    faults_priced: bool = True
    ways: tuple[WayChoice, ...] = ()

    @property
    def ways_open(self) -> tuple[str, ...]:
        """The ways that may be members of a set beside its upgrades, in their order."""
        return tuple(way for choice in self.ways for way in choice.ways)

    @property
    def shut(self) -> frozenset[str]:
        """The upgrades that some rule keeps out."""
        return frozenset(name for rule in self.rules if rule.kind == "refused" for name in rule.upgrades)

    @property
    def priced_pieces(self) -> tuple[CostPiece, ...]:
        """The pieces as a quote sees them: without what is held for hidden faults, where that is not quoted."""
        if self.faults_priced:
            return self.pieces
        return tuple(
            replace(piece, minutes=piece.minutes - piece.faults, faults=Hundredths(0))
            for piece in self.pieces
        )

    @property
    def cost_spreads(self) -> bool:
        """Whether a limit on cost is held at more (or less) than the cost itself."""
        return bool(self.z_minutes and self.hour_cents)
