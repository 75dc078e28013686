"""Plain arithmetic of a sale for a chosen set: price, fees, profit, pay an hour; no solver, no programme."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

from msgspec import Struct

from estimator.choose.verify.choice import levels_reached, totals_of
from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.uplift import damped, pay_for, share_left
from estimator.model.problem import Problem
from estimator.model.sale_problem import Loss, Removed, Sale, Standing, Uplift


class Sold(Struct, frozen=True):
    """What a set sells for. Cents; ``minutes`` in hundredths, the sale's own included.

    ``left`` is the price less fees on it; ``profit`` = left - fixed + removed - cost of the work
    (hands-on time at the wanted pay included) - the sale's own time at that pay. The price
    paid for the instrument is not in it.
    """

    standing: Standing
    counted: tuple[tuple[Uplift, Cents], ...]
    losses: tuple[Loss, ...]
    removed: tuple[Removed, ...]
    uncapped: Cents
    price: Cents
    left: Cents
    brought: Cents
    cost: Cents
    minutes: Hundredths
    profit: Cents
    paid: Cents

    @property
    def rate(self) -> Fraction:
        """What is left over the price paid by the hundredth of a minute (cents), exact: ``hourly``."""
        return Fraction(self.profit - self.paid, self.minutes)


def sale_of_problem(problem: Problem) -> Sale:
    """The sale of a problem that has one."""
    sale = problem.sale
    assert isinstance(sale, Sale)
    return sale


def sold(problem: Problem, chosen: Collection[str], sale: Sale | None = None) -> Sold:
    """Everything about the sale of a set (``sale`` instead of the problem's own, if given)."""
    sale = sale or sale_of_problem(problem)
    held = set(chosen)
    levels = levels_reached(problem, held)
    standing = sale.standing
    for grade in sale.better:
        if grade.value > standing.value and all(levels[name] >= least for name, least in grade.needs):
            standing = grade
    best: dict[str, Uplift] = {}
    for uplift in sale.uplifts:
        if all(any(u in held for u in clause) for clause in uplift.clauses):
            known = best.get(uplift.group)
            if known is None or uplift.value > known.value:
                best[uplift.group] = uplift
    ordered = sorted(best.values(), key=lambda uplift: -uplift.value)
    counts = damped((uplift.value for uplift in ordered), sale.damping)
    counted = tuple((uplift, worth) for uplift, (_, worth) in zip(ordered, counts, strict=True))
    lost: dict[str, Loss] = {}
    for loss in sale.losses:
        if not held.isdisjoint(loss.given_by):
            known_loss = lost.get(loss.group)
            if known_loss is None or loss.value > known_loss.value:
                lost[loss.group] = loss
    losses = tuple(lost.values())
    removed = tuple(item for item in sale.removed if not held.isdisjoint(item.given_by))
    uncapped = (
        standing.value
        + sum((worth for _, worth in counted), Cents(0))
        - sum((loss.value for loss in losses), Cents(0))
    )
    price = max(Cents(0), min(sale.ceiling, uncapped))
    left = share_left(price, sale.fee_basis_points)
    totals = totals_of(problem, held)
    brought = sum((item.value for item in removed), Cents(0))
    own_minutes = sale.extra_minutes + sum((item.minutes for item in removed), Hundredths(0))
    minutes = totals.expected + own_minutes
    profit = left - sale.fixed + brought - totals.cost - timed(sale, removed)
    return Sold(
        standing,
        counted,
        losses,
        removed,
        uncapped,
        price,
        left,
        brought,
        totals.cost,
        minutes,
        profit,
        sale.paid,
    )


def timed(sale: Sale, removed: Collection[Removed]) -> Cents:
    """The minutes of the sale itself at the wanted pay: each heading rounded half up to the cent."""
    return pay_for(sale.extra_minutes, sale.pay) + sum(
        (pay_for(item.minutes, sale.pay) for item in removed), Cents(0)
    )
