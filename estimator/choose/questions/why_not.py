"""Why not that one: what each upgrade left out of the best set would need to get in. Every figure is a re-solve."""

from __future__ import annotations

from msgspec import Struct

from estimator.choose.milp.constraints import money_of
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Solution
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.verify.choice import totals_of
from estimator.core.amounts import Cents, Hundredths


class LeftOut(Struct, frozen=True):
    """An upgrade not in the set.

    ``dearer``: what the cheapest set with it costs more; it would enter if its own price fell by
    more than that, and would then push out ``pushes_out`` and bring in ``brings_in`` besides.
    ``price_to_enter`` (cents): None if even a gift would not, or where freight is counted, which can
    fall away from a sum on. ``minutes_to_enter`` (hundredths): None if its own work is shorter.
    The figures of one that no set can hold are None or empty.
    ``free``: it can simply be added to the set, and costs nothing more: all it needs is there already.
    Upgrades of which nothing could be proven in time are not told at all.
    """

    upgrade: str
    dearer: Cents | None
    price_to_enter: Cents | None
    minutes_to_enter: Hundredths | None
    pushes_out: tuple[str, ...]
    brings_in: tuple[str, ...]
    free: bool = False


def why_left_out(
    programme: Programme,
    chosen: tuple[str, ...],
    best: int,
    cents_per_minute: float | None = None,
    nearest: int | None = None,
) -> tuple[LeftOut, ...]:
    """For each upgrade not in the best set what would let it in.

    ``price_to_enter`` is the cost of its own part below which it enters; ``minutes_to_enter`` how many
    minutes less of its own work would draw level, given what a minute costs. Those refused or not fitting are
    not asked. ``nearest``: stop when so many that can be had are known.
    """
    programme.expects_many = True
    own, work = _own_parts(programme), _own_work(programme)
    shut = programme.problem.shut
    asked = [u for u in programme.problem.options if u not in chosen and u not in shut]
    free = [u for u in asked if _is_free(programme, (*chosen, u), best)]
    told = [
        LeftOut(
            u,
            Cents(0),
            own.get(u, Cents(0)),
            Hundredths(0) if cents_per_minute else None,
            (),
            (),
            free=True,
        )
        for u in free
    ]
    asked = [u for u in asked if u not in free]
    entries, complete = _entries(programme, asked, nearest)
    for upgrade in asked:
        found = entries.get(upgrade)
        if found is None and not complete:
            continue
        if found is None:
            told.append(LeftOut(upgrade, None, None, None, (), ()))
            continue
        assert found.objective is not None
        assert found.chosen is not None
        dearer = Cents(found.objective - best)
        price = Cents(-1)
        if programme.problem.baskets is None:
            part = own.get(upgrade, Cents(0))
            price = part - _cheaper_by(programme, upgrade, part, dearer, best)
        minutes = Hundredths(-int(-(dearer * 100) // cents_per_minute)) if cents_per_minute else None
        if minutes is not None and minutes > work.get(upgrade, 0):
            minutes = None
        told.append(
            LeftOut(
                upgrade,
                dearer,
                price if price >= 0 else None,
                minutes,
                tuple(u for u in chosen if u not in found.chosen),
                tuple(u for u in found.chosen if u not in chosen and u != upgrade),
            )
        )
    return tuple(told)


def _entries(
    programme: Programme, upgrades: list[str], nearest: int | None = None
) -> tuple[dict[str, Solution], bool]:
    """For each upgrade the cheapest set that holds it; those that no set can hold are not there.

    Also whether all was proven; if not, nothing can be said of those that are not there.

    Asks for the cheapest set with any of those still open: it is the cheapest for each of them that
    it holds. When there is none left, none of the rest can be had, by one proof for all of them.
    """
    entries: dict[str, Solution] = {}
    left = dict.fromkeys(upgrades)
    while left:
        if nearest is not None and len(entries) >= nearest:
            return entries, False
        some = Linear({programme.columns.x[u]: 1 for u in left})
        found = programme.ask_fewest(
            programme.columns.total("cost"), EVERYTHING.adding(make_row(some, 1, None, "put in"))
        )
        if found.status != OPTIMAL or found.chosen is None:
            return entries, found.status == INFEASIBLE
        for upgrade in found.chosen:
            if upgrade in left:
                entries[upgrade] = found
                del left[upgrade]
    return entries, True


def _is_free(programme: Programme, chosen: tuple[str, ...], best: int) -> bool:
    ids = tuple(sorted(chosen))
    # the sum of the pieces is the cost of the estimate to the cent, and much sooner told
    if totals_of(programme.problem, ids).cost != best:
        return False
    return programme.measure(ids).cost == best and not programme.breaches(ids)


def _cheaper_by(programme: Programme, upgrade: str, own: Cents, dearer: Cents, best: int) -> Cents:
    """By how many cents the part of an upgrade must fall for it to enter.

    By what the cheapest set with it is dearer; less where that set is kept from being cheaper still by
    a limit on cash, or on cost at a surety, which a cheaper part eases too.
    """
    on = ("cash", "cost") if programme.problem.cost_spreads else ("cash",)
    limits = [rule for rule in programme.problem.rules if rule.kind == "money" and rule.on in on]
    if not limits or dearer <= 0 or not own:
        return dearer
    fall = Linear({programme.model.column("f", 0, dearer): 1})
    rows = [
        make_row(programme.columns.option(upgrade), 1, None, "put in"),
        make_row(programme.columns.total("cost").add(fall, -1), None, best, "as cheap"),
    ]
    rows += [make_row(money_of(programme.builder, r.on).add(fall, -1), None, r.most, "eased") for r in limits]
    # a limit on the mean cost is not lost: a set as cheap as the best keeps what the best keeps
    mine = [r.id for r in programme.problem.rules if r.kind == "money" and r.on in ("cash", "cost")]
    found = programme.ask(fall, EVERYTHING.dropping(*mine).adding(*rows))
    return dearer if found.objective is None or found.status != OPTIMAL else Cents(found.objective)


def _own_work(programme: Programme) -> dict[str, Hundredths]:
    """Hundredths of a minute of work that an upgrade alone brings."""
    work: dict[str, Hundredths] = {}
    for piece in programme.problem.pieces:
        if piece.triggers is not None and len(piece.triggers) == 1:
            work[piece.triggers[0]] = work.get(piece.triggers[0], Hundredths(0)) + piece.minutes
    return work


def _own_parts(programme: Programme) -> dict[str, Cents]:
    """What is spent on an upgrade alone and belongs to no work: its parts, in cents."""
    own: dict[str, Cents] = {}
    for piece in programme.problem.pieces:
        if piece.minutes or piece.line or piece.cost <= 0 or piece.triggers is None:
            continue
        if len(piece.triggers) == 1:
            own[piece.triggers[0]] = own.get(piece.triggers[0], Cents(0)) + piece.cost
    return own
