"""Learning curves: how times fall with repeats. Two laws with the same name that must not be mixed.

Unit curve (Crawford): the time of unit n falls to the share ``rate`` at each doubling of n.
Cumulative-average curve (Wright 1936): the average of units 1 to n does. The same rate gives shorter
times under Wright: at 80 % the second unit takes 80 of 100 under Crawford and 60 under Wright.
Times in any unit; ``rate`` is the learning rate as a fraction, between 0 and 1; units count from 1.
"""

from __future__ import annotations

from math import fsum, log

from estimator.model import LearningRate, Shop, Task


def slope(rate: float) -> float:
    """b = ln(rate) / ln 2, nought or less."""
    if not 0.0 < rate <= 1.0:
        raise ValueError(f"a learning rate lies above 0 and is at most 1, not {rate}")
    return log(rate) / log(2.0)


def _unit_number(n: int) -> int:
    if n < 1:
        raise ValueError(f"units are counted from 1, not {n}")
    return n


def crawford_unit(first: float, rate: float, n: int, at: int = 1) -> float:
    """Time of unit ``n`` when unit ``at`` took ``first``: first x (n / at)^b."""
    return float(first * float(_unit_number(n) / _unit_number(at)) ** slope(rate))


def crawford_total(first: float, rate: float, last: int, start: int = 1, at: int = 1) -> float:
    """Time of units ``start`` to ``last`` together, unit by unit; ``first`` is the time of unit ``at``."""
    b = slope(rate)
    return first * fsum(float(n / at) ** b for n in range(_unit_number(start), _unit_number(last) + 1))


def crawford_total_midpoint(first: float, rate: float, last: int) -> float:
    """Total of units 1 to ``last`` by the midpoint integral, first / (1 + b) x ((n + .5)^(1+b) - .5^(1+b))."""
    power = slope(rate) + 1.0
    return float(first / power * ((_unit_number(last) + 0.5) ** power - 0.5**power))


def crawford_midpoint(rate: float, start: int, last: int) -> float:
    """The unit whose time is the average of units ``start`` to ``last``, by the same integral."""
    b = slope(rate)
    power = b + 1.0
    block = (last + 0.5) ** power - (_unit_number(start) - 0.5) ** power
    return float((block / (power * (last - start + 1))) ** (1.0 / b))


def wright_average(first: float, rate: float, n: int) -> float:
    """Average time of units 1 to ``n``: first x n^b."""
    return float(first * float(_unit_number(n)) ** slope(rate))


def wright_total(first: float, rate: float, n: int) -> float:
    """Time of units 1 to ``n`` together: first x n^(1 + b)."""
    return float(first * float(_unit_number(n)) ** (1.0 + slope(rate)))


def wright_unit(first: float, rate: float, n: int) -> float:
    """Time of unit ``n`` alone: the total of n less the total of n - 1."""
    before = wright_total(first, rate, n - 1) if n > 1 else 0.0
    return wright_total(first, rate, n) - before


def rate_of(task: Task, shop: Shop) -> LearningRate | None:
    """The learning rate of a task (``learning_rates.csv``): by its name, else by its group, else none."""
    by_group = None
    for row in shop.craft.learning.values():
        if task.id in row.tasks:
            return row
        if task.group in row.groups and by_group is None:
            by_group = row
    return by_group


def practised_factor(beginner_factor: float, rate: float, repeat: int) -> float:
    """Run-time multiple at the n-th repeat by a beginner, on the unit curve, never below 1.

    beginner factor x n^(log2 rate), with the time of an experienced hand (1) as its floor.
    """
    return max(1.0, crawford_unit(beginner_factor, rate, repeat))


def repeats_to_experienced(beginner_factor: float, rate: float) -> float:
    """How many repeats bring a beginner down to experienced time: factor^(-1 / log2 rate).

    Not rounded; 1 for a factor of 1; a rate of 1 never gets there (infinity).
    """
    if beginner_factor <= 1.0:
        return 1.0
    b = slope(rate)
    return float(beginner_factor ** (-1.0 / b)) if b else float("inf")


#: memory: idle months -> multiple on the experienced time, regained in three repeats
RUST = ((3, 1.10), (12, 1.25))


def rust_factor(idle_months: float, repeat: int = 1) -> float:
    """Run-time multiple after a pause (memory): 1.10 after 3 months, 1.25 after a year, gone by repeat 4."""
    extra = 0.0
    for months, factor in RUST:
        if idle_months >= months:
            extra = factor - 1.0
    return 1.0 + extra * max(0, 4 - _unit_number(repeat)) / 3.0


def practised_run(task: Task, shop: Shop, repeat: int) -> float:
    """Run-time multiple of a beginner's n-th repeat of a task; its beginner factor where no rate is known."""
    row = rate_of(task, shop)
    beginner = float(task.beginner_factor)
    return practised_factor(beginner, float(row.rate), repeat) if row else beginner
