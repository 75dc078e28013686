"""The sale as rows: the damped, ceilinged price is exact in a programme that makes the profit large.

Ranks: each uplift that counts takes one rank, each rank holds at most one, and a rank counts what
``estimate.uplift.ranked`` says. Because the differences between two uplifts never grow down the
ranks, the best assignment is "largest first": it is found by itself, to the cent. The price is at
most that sum and at most the ceiling; what is left of it after fees is a whole number of cents that
is at most the exact share plus one half, so that making it large rounds it half up.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

from msgspec import Struct

from estimator.choose.milp.linear import STRUCTURE, Linear, total_of
from estimator.choose.milp.model import Programme
from estimator.choose.milp.variables import Columns
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError
from estimator.estimate.uplift import pay_for, ranked, share_left
from estimator.model.sale_problem import Sale

WHOLE = 10_000
"""Fees are ten-thousandths of the price."""


class SaleSums(Struct, frozen=True):
    """Profit (at most; exact when it is made large) in cents and minutes in hundredths, as sums of columns."""

    profit: Linear
    minutes: Linear


_made: WeakKeyDictionary[Programme, SaleSums] = WeakKeyDictionary()


def sale_sums(programme: Programme) -> SaleSums:
    """The sums of a sale; its rows are added to the programme when they are first asked for."""
    if programme not in _made:
        sale = programme.problem.sale
        if not isinstance(sale, Sale):
            raise EngineError("profit can only be an aim for an instrument that is to be sold (kind resale)")
        _made[programme] = _build(programme, sale)
    return _made[programme]


def _build(programme: Programme, sale: Sale) -> SaleSums:
    columns, model = programme.columns, programme.model
    total = Linear(constant=sale.standing.value)
    total.add(_conditions(programme, sale)).add(_uplifts(columns, sale)).add(_losses(columns, sale), -1)
    price = Linear({model.column("p", 0, max(0, sale.ceiling)): 1})
    under = price.copy().add(total, -1)
    least = model.bounds(total)[0]
    if least < 0:
        # a price is never below zero: where the sum is, the literal frees the row and holds the price at 0
        none = Linear({model.column("b"): 1})
        model.add(under.add(none, least), None, 0, STRUCTURE)
        model.add(price.copy().add(none, sale.ceiling), None, sale.ceiling, STRUCTURE)
    else:
        model.add(under, None, 0, STRUCTURE)
    if sale.fee_basis_points:
        left = Linear(
            {model.column("l", 0, share_left(max(Cents(0), sale.ceiling), sale.fee_basis_points)): 1}
        )
        share = left.times(WHOLE).add(price, sale.fee_basis_points - WHOLE)
        model.add(share, None, WHOLE // 2, STRUCTURE)
    else:
        left = price
    removed = [(columns.any_of(item.given_by), item) for item in sale.removed]
    profit = left.copy().add(columns.total("cost"), -1)
    profit.constant -= sale.fixed + pay_for(sale.extra_minutes, sale.pay)
    minutes = columns.total("minutes")
    minutes.constant += sale.extra_minutes
    for literal, item in removed:
        profit.add(literal, item.value - pay_for(item.minutes, sale.pay))
        minutes.add(literal, item.minutes)
    return SaleSums(profit, minutes)


def _conditions(programme: Programme, sale: Sale) -> Linear:
    """What the best condition reached adds to the price as it stands."""
    model = programme.model
    gain, one = Linear(), Linear()
    for grade in sale.better:
        if grade.value <= sale.standing.value:
            continue
        literal = Linear({model.column("g"): 1})
        for attribute, least in grade.needs:
            programme.levels.require(attribute, least, STRUCTURE, literal)
        gain.add(literal, grade.value - sale.standing.value)
        one.add(literal)
    model.add(one, None, 1, STRUCTURE)
    return gain


def _uplifts(columns: Columns, sale: Sale) -> Linear:
    """Damped uplifts: one rank each, one per rank, one per group; only where every clause is chosen."""
    model, ranks = columns.model, sale.groups
    total = Linear()
    by_rank = [Linear() for _ in range(ranks)]
    by_group: dict[str, Linear] = {}
    tops: dict[str, int] = {}
    for uplift in sale.uplifts:
        tops[uplift.group] = max(tops.get(uplift.group, 0), uplift.value)
    for uplift in sale.uplifts:
        # only larger uplifts of other groups can stand before it
        before = sum(1 for group, top in tops.items() if group != uplift.group and top >= uplift.value)
        clauses = [total_of((columns.option(u), 1) for u in clause) for clause in uplift.clauses]
        if any(not clause.terms and not clause.constant for clause in clauses):
            continue
        places = Linear()
        for rank, worth in enumerate(ranked(uplift.value, before + 1, sale.damping)):
            if worth <= 0:
                break
            column = Linear({model.column("w"): 1})
            places.add(column)
            by_rank[rank].add(column)
            total.add(column, worth)
        for clause in clauses:
            model.add(places.copy().add(clause, -1), None, 0, STRUCTURE)
        by_group.setdefault(uplift.group, Linear()).add(places)
    for held in (*by_rank, *by_group.values()):
        model.add(held, None, 1, STRUCTURE)
    return total


def _losses(columns: Columns, sale: Sale) -> Linear:
    """What is taken off: the largest of each group."""
    total = Linear()
    groups: dict[str, list[tuple[int, Linear]]] = {}
    for loss in sale.losses:
        groups.setdefault(loss.group, []).append((loss.value, columns.any_of(loss.given_by)))
    for group in groups.values():
        above = Linear()
        seen: list[Linear] = []
        for value, literal in sorted(group, key=lambda pair: -pair[0]):
            seen.append(literal)
            now = columns.any_literal(seen)
            total.add(now, value).add(above, -value)
            above = now
    return total


def profit(programme: Programme) -> Linear:
    """The profit of the sale with its sign turned, in cents: to be made small."""
    return sale_sums(programme).profit.times(-1)


def minutes(programme: Programme) -> Linear:
    """All time of the work and the sale, in hundredths of a minute."""
    return sale_sums(programme).minutes.copy()
