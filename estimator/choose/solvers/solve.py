"""Hands a model to an engine and reads back the plain truth.

The engine policy, in one place: values are rounded once and every row is checked in whole numbers before
anyone sees them. Engines that reckon in floats (HiGHS, CBC) may find; what they deny is asked once more of
CP-SAT, which reckons in whole numbers: every "infeasible", and every "optimal" that rests on a row in which
a whole column has so large a coefficient that the float tolerance could hide a unit; where no engine is named,
a model with such a row goes to CP-SAT alone. An engine that fails hands over to the next. What was handed over or found otherwise is told in the outcome's ``notes``.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.milp.linear import IMPLIED, INTEGER, Linear, Model, Row
from estimator.choose.solvers.backends import ENGINES, FEASIBLE, INFEASIBLE, NO_ANSWER, OPTIMAL, EngineResult
from estimator.core.errors import EngineError

EXACT = "cpsat"
"""The engine that reckons in whole numbers: its word on what cannot be is final."""
DEFAULT = "highs"
"""Asked first where no engine is named: it is the soonest loaded."""
HANDED_TO = (EXACT, "highs", "cbc")
"""Who is asked where another engine failed, in this order."""
HIDES_A_UNIT = 100_000
"""From so many units a whole column (cents, minutes) on, the float engines' tolerance of 1e-7 is a hundredth of one.

Bounds tightened one upon another add such hundredths up: at 880,000 HiGHS called 101.92 the least where 60.47 is.
"""
MANY_FROM, MANY_TO = 20, 2000
"""Sizes of choice between which CP-SAT is the quicker one to be asked again and again."""
LARGE = 300
"""Options from which CP-SAT is the quicker one even for a single question, its slow loading included."""
PATIENCE = 1.5
"""Seconds the default engine is given before CP-SAT is asked, where no engine was named."""
CHECKED = (INTEGER, IMPLIED)
WHOLE_WITHIN = 1e-4
"""How far a binary may lie from a whole number before the answer is refused."""


class SolveResult(Struct, frozen=True):
    """What an engine said: status, column values, objective and bound (constants included)."""

    status: str
    values: tuple[int, ...] | None
    objective: int | None
    bound: int | None
    seconds: float
    engine: str
    notes: tuple[str, ...] = ()


def solve_model(
    model: Model,
    rows: Sequence[Row],
    objective: Linear,
    engine: str | None = None,
    time_limit: float | None = None,
) -> SolveResult:
    """Minimise ``objective`` over ``rows``; raises EngineError if every engine fails or contradicts itself.

    Without an engine's name the default one, where its word may stand, is given ``PATIENCE`` seconds; what it has not proven by
    then goes to CP-SAT: it is often far quicker on small hard choices. ``seconds`` of the outcome are
    those of all who were asked.
    """
    if engine is None:
        return _patient(model, rows, objective, time_limit)
    name = engine
    if name not in ENGINES:
        raise EngineError(f"unknown engine “{name}”; known are {', '.join(ENGINES)}")
    if time_limit is not None and time_limit <= 0:
        return SolveResult(NO_ANSWER, None, None, None, 0.0, name)
    if not rows:
        return _without_rows(model, objective)
    until = None if time_limit is None else time.perf_counter() + time_limit
    return _confirmed(model, rows, objective, _handed_on(model, rows, objective, name, until), until)


def _asked(
    model: Model, rows: Sequence[Row], objective: Linear, name: str, until: float | None
) -> SolveResult:
    """What one engine says of a model."""
    start = time.perf_counter()
    left = None if until is None else until - start
    if left is not None and left <= 0:
        return SolveResult(NO_ANSWER, None, None, None, 0.0, name)
    raw = ENGINES[name](model, rows, objective, left)
    return _outcome(model, rows, objective, raw, time.perf_counter() - start, name)


def _handed_on(
    model: Model, rows: Sequence[Row], objective: Linear, name: str, until: float | None
) -> SolveResult:
    """What an engine says; where it fails, what the next one says. EngineError names all that failed."""
    notes: list[str] = []
    for one in (name, *(other for other in HANDED_TO if other != name)):
        try:
            outcome = _asked(model, rows, objective, one, until)
        except EngineError as error:
            notes.append(f"{one} failed: {error}")
            continue
        if notes:
            outcome = replace(outcome, notes=(*notes, f"{one} answered instead"))
        return outcome
    raise EngineError("; ".join(notes))


def _confirmed(
    model: Model, rows: Sequence[Row], objective: Linear, said: SolveResult, until: float | None
) -> SolveResult:
    """The outcome with what a float engine denies asked once more in whole numbers."""
    if said.engine in (EXACT, "none"):
        return said
    if said.status == INFEASIBLE:
        exact = _exactly(model, rows, objective, until)
        seconds = said.seconds + exact.seconds
        if exact.status == INFEASIBLE:
            return replace(said, seconds=seconds)
        words = "that could not be confirmed in the time" if exact.values is None else "CP-SAT found a set"
        notes = (*said.notes, f"{said.engine} said “infeasible”; {words}", *exact.notes)
        return replace(exact, seconds=seconds, notes=notes)
    # an engine may stop at a small gap of its own, before the time is up
    stopped = said.status == FEASIBLE and (until is None or time.perf_counter() < until)
    doubtful = said.status == OPTIMAL and _hides_a_unit(model, rows)
    if said.objective is None or not (stopped or doubtful):
        return said
    terms = Linear({column: value for column, value in objective.terms.items() if value})
    if not terms.terms:
        return said
    better = Row(
        tuple(terms.terms),
        tuple(terms.terms.values()),
        None,
        said.objective - objective.constant - 1,
        "better",
    )
    exact = _exactly(model, [*rows, better], objective, until)
    seconds = said.seconds + exact.seconds
    if exact.status == INFEASIBLE:
        return replace(said, status=OPTIMAL, bound=said.objective, seconds=seconds)
    if exact.values is None:  # the time was up: the set stands, the proof does not
        words = f"{said.engine} said “{said.status}”; that could not be confirmed in the time"
        notes = (*said.notes, words, *exact.notes)
        return replace(said, status=FEASIBLE, bound=exact.bound, seconds=seconds, notes=notes)
    notes = (*said.notes, f"{said.engine} said “{said.status}”; CP-SAT found a better set")
    return replace(exact, seconds=seconds, notes=notes)


def _exactly(model: Model, rows: Sequence[Row], objective: Linear, until: float | None) -> SolveResult:
    """What the exact engine says; no answer, with a note, where the numbers are too large even for it."""
    try:
        return _asked(model, rows, objective, EXACT, until)
    except EngineError as error:
        return SolveResult(NO_ANSWER, None, None, None, 0.0, EXACT, (str(error),))


def _hides_a_unit(model: Model, rows: Sequence[Row]) -> bool:
    for row in rows:
        if (
            max(row.coefficients, default=0) < HIDES_A_UNIT
            and min(row.coefficients, default=0) > -HIDES_A_UNIT
        ):
            continue
        largest, unit = 0, 0
        for column, value in zip(row.columns, row.coefficients, strict=True):
            if model.kinds[column] in CHECKED:
                largest = max(largest, abs(value))
            else:  # a row that holds a figure is in fractions of it: 256ths, thousandths
                unit = min(unit or abs(value), abs(value))
        if largest >= HIDES_A_UNIT * max(1, unit):
            return True
    return False


def _without_rows(model: Model, objective: Linear) -> SolveResult:
    """Nothing binds: every column goes to its better end."""
    values = tuple(
        high if objective.terms.get(column, 0) < 0 else low
        for column, (low, high) in enumerate(zip(model.lower, model.upper, strict=True))
    )
    best = objective.value(dict(enumerate(values)))
    return SolveResult(OPTIMAL, values, best, best, 0.0, "none")


def _patient(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> SolveResult:
    """The default engine first, then CP-SAT; of two unproven answers the better, with the better bound."""
    start = time.perf_counter()
    until = None if time_limit is None else start + time_limit
    patience = start + PATIENCE if until is None else min(start + PATIENCE, until)
    if not rows:
        return _without_rows(model, objective)
    if time_limit is not None and time_limit <= 0:
        return SolveResult(NO_ANSWER, None, None, None, 0.0, DEFAULT)
    if _hides_a_unit(model, rows):  # CP-SAT has to be asked anyhow, and its word needs no other
        return _handed_on(model, rows, objective, EXACT, until)
    first = _confirmed(model, rows, objective, _handed_on(model, rows, objective, DEFAULT, patience), until)
    if first.status in (OPTIMAL, INFEASIBLE) or (until is not None and time.perf_counter() >= until):
        return first
    then = _handed_on(model, rows, objective, EXACT, until)
    seconds, notes = first.seconds + then.seconds, (*first.notes, *then.notes)
    if then.status in (OPTIMAL, INFEASIBLE):
        return replace(then, seconds=seconds, notes=notes)
    bounds = [o.bound for o in (first, then) if o.bound is not None]
    best = min(
        (o for o in (first, then) if o.objective is not None), key=lambda o: o.objective or 0, default=then
    )
    return replace(best, bound=max(bounds, default=None), seconds=seconds, notes=notes)


def _outcome(
    model: Model, rows: Sequence[Row], objective: Linear, raw: EngineResult, seconds: float, name: str
) -> SolveResult:
    bound = None
    if raw.bound is not None and math.isfinite(raw.bound) and abs(raw.bound) < 1e15:
        bound = math.ceil(raw.bound - 1e-5 * max(1.0, abs(raw.bound) * 1e-4)) + objective.constant
    if raw.status not in (OPTIMAL, FEASIBLE) or raw.values is None:
        return SolveResult(raw.status, None, None, bound, seconds, name)
    values = dict(enumerate(_whole_values(model, raw.values, name)))
    for row in rows:
        if not row.holds(values) and all(model.kinds[c] in CHECKED for c in row.columns):
            raise EngineError(f"the engine {name} returned values that break a row; try another engine")
    found = objective.value(values)
    status = raw.status
    if status == OPTIMAL and bound is not None and bound < found:
        status = FEASIBLE  # the engine's own bound does not bear out what it says
    if status == OPTIMAL or (bound is not None and bound > found):
        bound = found
    return SolveResult(status, tuple(values.values()), found, bound, seconds, name)


def _whole_values(model: Model, values: Sequence[float], name: str) -> Iterator[int]:
    """Each column rounded once: whole ones to the nearest, figures held from below upward."""
    for value, kind in zip(values, model.kinds, strict=True):
        if kind not in CHECKED:
            yield math.ceil(value - 1e-5 * max(1.0, abs(value) * 1e-4))
            continue
        nearest = round(value)
        if abs(value - nearest) > WHOLE_WITHIN:
            raise EngineError(f"the engine {name} left a yes-or-no question at {value}; try another engine")
        yield nearest


def engine_for_many(options: int) -> str | None:
    """The engine for very many questions of one choice: CP-SAT where it is measured to be faster.

    For few questions the default is as quick and sooner loaded; None leaves the order to ``solve_model``.
    """
    return EXACT if MANY_FROM <= options <= MANY_TO else None
