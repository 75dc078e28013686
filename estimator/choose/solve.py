"""Hands a model to an engine and reads back the plain truth.

Values are rounded once and every row is checked in whole numbers before anyone sees them.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from importlib.util import find_spec

from estimator.choose.engines import ENGINES, FEASIBLE, INFEASIBLE, NO_ANSWER, OPTIMAL, Raw
from estimator.choose.matrix import IMPLIED, INTEGER, Linear, Model, Row
from estimator.errors import EngineError

MANY_FROM, MANY_TO = 20, 2000
"""Sizes of choice between which CP-SAT is the quicker one to be asked again and again."""
LARGE = 300
"""Options from which CP-SAT is the quicker one even for a single question, its slow loading included."""
PATIENCE = 1.5
"""Seconds the default engine is given before CP-SAT is asked, where no engine was named."""
CHECKED = (INTEGER, IMPLIED)
WHOLE_WITHIN = 1e-4
"""How far a binary may lie from a whole number before the answer is refused."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an engine said: status, column values, objective and bound (constants included)."""

    status: str
    values: tuple[int, ...] | None
    objective: int | None
    bound: int | None
    seconds: float
    engine: str


def solve_model(
    model: Model,
    rows: Sequence[Row],
    objective: Linear,
    engine: str | None = None,
    time_limit: float | None = None,
) -> Outcome:
    """Minimise ``objective`` over ``rows``; raises EngineError if the engine fails or contradicts itself.

    Without an engine's name the default one is given ``PATIENCE`` seconds; what it has not proven by
    then goes to CP-SAT where that is installed: it is often far quicker on small hard choices.
    """
    if engine is None:
        return _patient(model, rows, objective, time_limit)
    name = engine
    if name not in ENGINES:
        raise EngineError(f"unknown engine “{name}”; known are {', '.join(ENGINES)}")
    if time_limit is not None and time_limit <= 0:
        return Outcome(NO_ANSWER, None, None, None, 0.0, name)
    if not rows:
        return _without_rows(model, objective)
    start = time.perf_counter()
    raw = ENGINES[name](model, rows, objective, time_limit)
    return _outcome(model, rows, objective, raw, time.perf_counter() - start, name)


def _without_rows(model: Model, objective: Linear) -> Outcome:
    """Nothing binds: every column goes to its better end."""
    values = tuple(
        high if objective.terms.get(column, 0) < 0 else low
        for column, (low, high) in enumerate(zip(model.lower, model.upper, strict=True))
    )
    best = objective.value(dict(enumerate(values)))
    return Outcome(OPTIMAL, values, best, best, 0.0, "none")


def _patient(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> Outcome:
    """The default engine first, then CP-SAT; of two unproven answers the better, with the better bound."""
    second = "cpsat" if "cpsat" in available_engines() else None
    patience = PATIENCE if time_limit is None else min(PATIENCE, time_limit)
    first = solve_model(model, rows, objective, default_engine(), patience if second else time_limit)
    left = None if time_limit is None else time_limit - first.seconds
    if first.status in (OPTIMAL, INFEASIBLE) or second is None or (left is not None and left <= 0):
        return first
    then = solve_model(model, rows, objective, second, left)
    seconds = first.seconds + then.seconds
    if then.status in (OPTIMAL, INFEASIBLE):
        return replace(then, seconds=seconds)
    bounds = [o.bound for o in (first, then) if o.bound is not None]
    best = min(
        (o for o in (first, then) if o.objective is not None), key=lambda o: o.objective or 0, default=then
    )
    return replace(best, bound=max(bounds, default=None), seconds=seconds)


def _outcome(
    model: Model, rows: Sequence[Row], objective: Linear, raw: Raw, seconds: float, name: str
) -> Outcome:
    bound = None
    if raw.bound is not None and math.isfinite(raw.bound) and abs(raw.bound) < 1e15:
        bound = math.ceil(raw.bound - 1e-5 * max(1.0, abs(raw.bound) * 1e-4)) + objective.constant
    if raw.status not in (OPTIMAL, FEASIBLE) or raw.values is None:
        return Outcome(raw.status, None, None, bound, seconds, name)
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
    return Outcome(status, tuple(values.values()), found, bound, seconds, name)


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


def default_engine() -> str:
    """HiGHS in process where it is installed, else the CBC that comes with pulp."""
    return "highs" if find_spec("highspy") else "cbc"


def engine_for_many(options: int) -> str | None:
    """The engine for very many questions of one choice: CP-SAT where installed and measured to be faster.

    For few questions the default is as quick and sooner loaded; None leaves the order to ``solve_model``.
    """
    return "cpsat" if MANY_FROM <= options <= MANY_TO and "cpsat" in available_engines() else None


def available_engines() -> tuple[str, ...]:
    """The engines that are installed here."""
    needs = {"highs": "highspy", "cbc": "pulp", "cpsat": "ortools"}
    return tuple(name for name, module in needs.items() if find_spec(module))
