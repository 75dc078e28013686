"""What a little more money buys: every set that no other beats in cost and score (and hours).

Sets are found one by one, the cheapest first. Points the last optimum already answers are skipped:
the next question asks for more score than was reached, so there is one solve a point; a
point is withdrawn when the next one turns out to cost the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.choose.measure import Measure
from estimator.choose.milp.linear import Linear, Row, make_row
from estimator.choose.milp.model import Programme, Scope, Solution
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.verify.choice import score_reached
from estimator.core.amounts import Cents, Hundredths

WISHES = ("level", "amount")
MOST = 500
"""Points that are looked for at the most."""


class ParetoPoint(Struct, frozen=True):
    """A set that no other beats: cents, thousandths of a point, hundredths of a minute at the surety.

    ``meets_wish``: every rule of the problem is kept, wishes included. ``knee``: where the next
    cent buys least compared with the last ones.
    """

    chosen: tuple[str, ...]
    measure: Measure
    cost: Cents
    score: int
    hours: Hundredths
    meets_wish: bool
    knee: bool = False


class ParetoFront(Struct, frozen=True):
    """All points, cheapest first (``with_hours``: of three figures, hours among them); ``complete`` False if time ran out or ``MOST`` was reached."""

    points: tuple[ParetoPoint, ...]
    complete: bool
    solves: int
    with_hours: bool = False


def wishes_left_open(programme: Programme) -> Scope:
    """A scope in which the wishes are not demanded (the score stands for them), limits are kept."""
    return Scope(without=frozenset(r.id for r in programme.problem.rules if r.kind in WISHES))


def pareto_front(programme: Programme, hours: bool = False) -> ParetoFront:
    """Every non-dominated (cost, score), or (cost, score, hours), with the wishes left open.

    Of sets that share all figures of a point it carries one.
    """
    scope = wishes_left_open(programme)
    programme.expects_many = True
    before = programme.rounds
    total = programme.columns.total("cost")
    score = programme.score().times(-1)
    spent = programme.lazy.minutes(programme.problem.z_minutes) if hours else None
    aims = [total, score] if spent is None else [total, score, spent]
    lazily = spent is None
    found: list[Solution] = []
    ask = scope
    complete = False
    while len(found) < MOST:
        latest = programme.ask(total, ask) if lazily else _point(programme, aims, ask)
        if latest.status == INFEASIBLE:
            complete = True
            break
        if latest.status != OPTIMAL or latest.measure is None or latest.chosen is None:
            break
        if lazily and found and found[-1].objective == latest.objective:
            found.pop()  # more score at the same cost: the last one was beaten after all
        found.append(latest)
        reached = score_reached(programme.problem, latest.chosen)
        if spent is None:
            # nothing cheaper is left, so a new point scores more and costs no less
            more = make_row(score, None, -reached - 1, "more")
            ask = scope.adding(more, make_row(total, latest.measure.cost, None, "no cheaper"))
        else:
            ask = ask.adding(*_not_beaten(programme, latest, reached, (total, score, spent)))
    points = [_point_of(programme, item) for item in found]
    points.sort(key=lambda p: (p.cost, -p.score, p.hours))  # whatever the order an engine found them in
    return ParetoFront(tuple(_with_knee(points)), complete, programme.rounds - before, hours)


def _point(programme: Programme, aims: Sequence[Linear], scope: Scope) -> Solution:
    """The lexicographic best of the aims within a scope."""
    found = Solution(INFEASIBLE)
    for aim in aims:
        found = programme.ask(aim, scope)
        if found.status != OPTIMAL or found.objective is None:
            return found
        scope = scope.adding(make_row(aim, None, found.objective, "held"))
    return found


def _not_beaten(
    programme: Programme, point: Solution, reached: int, aims: tuple[Linear, Linear, Linear]
) -> list[Row]:
    """Rows by which a new set is cheaper, scores more or takes less time than a known point."""
    assert point.measure is not None
    model = programme.model
    known = (point.measure.cost, -reached, point.measure.minutes)
    literals = []
    rows = []
    for aim, value in zip(aims, known, strict=True):
        literal = Linear({model.column("f"): 1})
        literals.append(literal)
        most = model.bounds(aim)[1]
        rows.append(make_row(aim.copy().add(literal, most - value + 1), None, most, "better"))
    some = Linear()
    for literal in literals:
        some.add(literal)
    return [*rows, make_row(some, 1, None, "better")]


def _point_of(programme: Programme, found: Solution) -> ParetoPoint:
    """The point of the front at a solution, without the upgrades that it does not need."""
    assert found.chosen is not None
    chosen = programme.trimmed(found.chosen)
    measure = programme.measure(chosen)
    wish = not programme.breaches(chosen)
    return ParetoPoint(
        chosen, measure, measure.cost, score_reached(programme.problem, chosen), measure.minutes, wish
    )


def _with_knee(points: list[ParetoPoint]) -> list[ParetoPoint]:
    """Mark the point that lies farthest above the line from the first to the last."""
    if len(points) < 3:
        return points
    first, last = points[0], points[-1]
    run, rise = last.cost - first.cost, last.score - first.score

    def above(point: ParetoPoint) -> int:
        return (point.score - first.score) * run - (point.cost - first.cost) * rise

    best = max(range(len(points)), key=lambda i: (above(points[i]), -i))
    if above(points[best]) <= 0:
        return points
    knee = points[best]
    marked = ParetoPoint(knee.chosen, knee.measure, knee.cost, knee.score, knee.hours, knee.meets_wish, True)
    return [*points[:best], marked, *points[best + 1 :]]
