"""A choice over several jobs with what they share, as plain records of whole numbers; no solver here.

Money is cents, minutes hundredths, quantities of packs millionths of a unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.choose.problem import Problem

MILLIONTHS = 1_000_000
Triggers = tuple[str, ...] | None


@dataclass(frozen=True, slots=True)
class JobChoice:
    """One job's choice: its problem, the exact measure of a set, a floor under its price.

    ``own_packs``: ids of pieces that stand for packs bought by the job alone; jointly they are bought
    by ``PackUse``, so their cash is left out.
    """

    id: str
    problem: Problem
    measure: MeasureSet
    bound: PriceBound | None = None
    own_packs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BoughtPart:
    """A part that an upgrade of a job needs bought: its class and its list price in all, in cents."""

    job: str
    upgrade: str
    part: str
    part_class: str
    list_cents: int
    quantity: str = "1"


@dataclass(frozen=True, slots=True)
class PackUse:
    """Work of a job (any of ``triggers``; None: always) that uses ``millionths`` of a unit."""

    job: str
    consumable: str
    triggers: Triggers
    millionths: int


@dataclass(frozen=True, slots=True)
class Pack:
    """A consumable bought in whole packs: price, millionths of a unit in a pack, what the shop has.

    ``in_cost``: the work lines charge nothing for it, so that its packs count in the cost as bought.
    """

    consumable: str
    list_cents: int
    holds: int
    stock: int = 0
    in_cost: bool = False


@dataclass(frozen=True, slots=True)
class MissingTool:
    """A tool the shop has to buy once if any of the work is done: by job, the triggers of that work."""

    tool: str
    cents: int
    needed_by: tuple[tuple[str, Triggers], ...]


@dataclass(frozen=True, slots=True)
class Seller:
    """A supplier: freight of a parcel, free from ``free_from`` on (None: never), and prices by what it sells.

    ``sells``: (class of part, ``*`` or ``consumables``) to thousandths of the list price.
    """

    id: str
    freight: int
    free_from: int | None
    sells: Mapping[str, int]
    lead_days: int = 0

    def price(self, what: str, list_cents: int) -> int | None:
        """Its price for something of that kind, half up to the cent; None if it does not sell it."""
        share = self.sells.get(what)
        if share is None and what != "consumables":
            share = self.sells.get("*")
        return None if share is None else (2 * list_cents * share + 1000) // 2000


@dataclass(frozen=True, slots=True)
class Batch:
    """Several jobs, what they share, and the limits on all of them together (None: no limit).

    ``cash``: all that is laid out, cents. ``minutes``: expected hands-on hundredths. ``lost``: whether
    what is left over in packs counts as lost (then a pack more may be bought to reach free freight);
    else it stays on the shelf at its worth, and no more packs are bought than the work needs.
    """

    jobs: tuple[JobChoice, ...]
    parts: tuple[BoughtPart, ...] = ()
    uses: tuple[PackUse, ...] = ()
    packs: tuple[Pack, ...] = ()
    tools: tuple[MissingTool, ...] = ()
    sellers: tuple[Seller, ...] = ()
    cash: int | None = None
    minutes: int | None = None
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Purchase:
    """Something bought: from whom (blank: from nowhere in particular, at the list price), for how much.

    ``kind``: ``part``, ``pack`` or ``tool``; ``number`` of packs, else 1.
    """

    kind: str
    what: str
    seller: str
    number: int
    cents: int
    job: str = ""
    upgrade: str = ""


@dataclass(frozen=True, slots=True)
class JointAnswer:
    """The sets chosen, what is bought where, and the proof.

    ``status``: ``optimal``, ``feasible``, ``infeasible``, ``no-answer``. ``objective``, ``bound``: of the
    first aim over all jobs with the shared money, in its unit; ``gap`` as a share of the objective.
    ``cash``: all that is laid out; ``freight`` by seller.
    """

    status: str
    aims: tuple[str, ...]
    chosen: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, Measure]
    purchases: tuple[Purchase, ...]
    freight: Mapping[str, int]
    objective: int | None
    bound: int | None
    gap: float | None
    cash: int
    minutes: int
    rounds: int
    seconds: float
