"""A shop's own mean beside the handbook's: partial pooling of ratios taken / planned, in closed form.

A task's ratio is lognormal: ln(ratio) of one job is normal about the task's own level, with the handbook's
spread x one factor for all tasks. The level of a task lies about that of its group, the group's about that of the
shop, the shop's about the handbook (0), each normal. Given the spreads between them, every level is a weighted
mean: few jobs leave it near the group and the handbook, many carry it away. The two inner spreads
are a short list, each pair weighted by how likely the times are under it, so that the weight of a group is the
data's own. Levels are those of the mean: half the
variance of one job is added to the mean of its logarithm.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, fsum, inf, log, sqrt
from statistics import median

from msgspec import Struct

#: how far a shop as a whole may lie from the handbook, and what the spreads of groups and tasks may be
#: (of logarithms; memory)
SHOP_SPREAD = 0.35
GROUP_SPREADS = (0.05, 0.1, 0.2, 0.3)
TASK_SPREADS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4)
#: jobs that the handbook's spread of one job counts as, against the spread seen (memory)
SPREAD_WEIGHT = 20.0
#: beyond so many spreads of one job a time counts less, beyond so many not at all (an interruption, a slip)
DAMPED, OUT = 2.0, 5.0
ROUNDS = 8
#: 10 and 90 per cent points of a normal curve, in standard deviations
EIGHTY = 1.2816


class Task(Struct, frozen=True):
    """What is known of a task: its group, the handbook's spread of one job, ln(taken / planned) job by job."""

    group: str
    spread: float
    logs: tuple[float, ...]


class Level(Struct, frozen=True):
    """What to multiply a task's handbook mean by, its 80 % range, and what that rests on.

    ``jobs`` its own jobs, ``of_group`` those of all tasks of its group; ``weight`` the share that its own times
    have in it; ``left_out`` times so far off that they count for nothing.
    """

    factor: float
    low: float
    high: float
    jobs: int
    of_group: int
    weight: float
    left_out: int
    spread: float


class _Sum(Struct, frozen=True):
    """Own times of a task as one number: their damped mean and its variance (infinite: there are none)."""

    mean: float
    variance: float
    left_out: int


def levels(tasks: Mapping[str, Task], shared_cause: float = 0.2) -> dict[str, Level]:
    """The level of every task; ``shared_cause`` is the correlation between the times of one job."""
    factor = spread_factor(tasks)
    centres = dict.fromkeys(tasks, 0.0)
    for _ in range(ROUNDS):
        sums = {name: _sum_of(task, factor, centres[name]) for name, task in tasks.items()}
        found = _averaged(tasks, sums, shared_cause)
        moved = max((abs(found[name][0] - centres[name]) for name in tasks), default=0.0)
        centres = {name: mean for name, (mean, _, _) in found.items()}
        if moved < 1e-9:
            break
    counts: dict[str, int] = {}
    for task in tasks.values():
        counts[task.group] = counts.get(task.group, 0) + len(task.logs)
    return {
        name: Level(
            exp(mean),
            exp(mean - EIGHTY * sqrt(variance)),
            exp(mean + EIGHTY * sqrt(variance)),
            len(tasks[name].logs),
            counts[tasks[name].group],
            weight,
            sums[name].left_out,
            tasks[name].spread * factor,
        )
        for name, (mean, variance, weight) in found.items()
    }


def spread_factor(tasks: Mapping[str, Task]) -> float:
    """The spread of one job over the handbook's, one factor for all tasks: from the middle distance of the times
    of a task from their middle, so that interruptions do not widen it; the handbook counts as some jobs of its own.
    """
    ratios = []
    for task in tasks.values():
        if len(task.logs) >= 3:
            middle = median(task.logs)
            # half of n times lie about their own middle: the distances are those of n - 1
            fair = sqrt(len(task.logs) / (len(task.logs) - 1))
            ratios += [abs(value - middle) / task.spread * fair for value in task.logs]
    if not ratios:
        return 1.0
    seen = median(ratios) / 0.6745  # the middle distance of a normal curve, in standard deviations
    n = len(ratios)
    return sqrt((SPREAD_WEIGHT + n * seen * seen) / (SPREAD_WEIGHT + n))


def _sum_of(task: Task, factor: float, centre: float) -> _Sum:
    spread = task.spread * factor
    half = spread * spread / 2
    # few times of a new task may all be far from the handbook: they are judged by their own middle then
    middle = median(task.logs) + half if len(task.logs) >= 3 else centre
    weights = [_weight(value + half - middle, spread, len(task.logs)) for value in task.logs]
    whole = fsum(weights)
    if not whole:
        return _Sum(0.0, inf, weights.count(0.0))
    mean = fsum(weight * (value + half) for weight, value in zip(weights, task.logs, strict=True)) / whole
    return _Sum(mean, spread * spread / whole, weights.count(0.0))


def _weight(distance: float, spread: float, jobs: int) -> float:
    # of one or two times nobody can tell which of them is off; how far a level may lie from the handbook counts too
    size = abs(distance) / (spread if jobs >= 3 else sqrt(spread * spread + SHOP_SPREAD * SHOP_SPREAD))
    return 1.0 if size <= DAMPED else DAMPED / size if size <= OUT else 0.0


def _averaged(
    tasks: Mapping[str, Task], sums: Mapping[str, _Sum], shared: float
) -> dict[str, tuple[float, float, float]]:
    """Mean, variance and weight of own times of every level, over all spreads between groups and tasks.

    Each pair of spreads counts as it makes the times likely; that nobody knows them is part of the variance.
    """
    pairs = [(group, task) for group in GROUP_SPREADS for task in TASK_SPREADS]
    likely = [_likelihood(tasks, sums, pair, shared) for pair in pairs]
    shares = [exp(value - max(likely)) for value in likely]
    whole = fsum(shares)
    kept = [
        (share / whole, _pooled(tasks, sums, pair, shared))
        for share, pair in zip(shares, pairs, strict=True)
        if share > 1e-6
    ]
    found = {}
    for name in tasks:
        mean = fsum(share * of[name][0] for share, of in kept)
        variance = fsum(share * (of[name][1] + (of[name][0] - mean) ** 2) for share, of in kept)
        found[name] = (mean, variance, fsum(share * of[name][2] for share, of in kept))
    return found


def _groups(
    tasks: Mapping[str, Task], sums: Mapping[str, _Sum], between: float, shared: float
) -> dict[str, tuple[float, float, float]]:
    """By group: the mean of its tasks' own times, its variance, and the logarithm of how likely they are."""
    members: dict[str, list[str]] = {}
    for name, task in tasks.items():
        if sums[name].variance < inf:
            members.setdefault(task.group, []).append(name)
    found = {}
    for group, names in members.items():
        variances = [between * between + sums[name].variance for name in names]
        total = fsum(1 / variance for variance in variances)
        mean = fsum(sums[name].mean / v for name, v in zip(names, variances, strict=True)) / total
        likely = -0.5 * (
            fsum(log(v) + (sums[name].mean - mean) ** 2 / v for name, v in zip(names, variances, strict=True))
            + log(total)
        )
        # what slows a whole job slows all its tasks: it does not even out over the tasks of one job
        jobs = max(len(tasks[name].logs) for name in names)
        common = shared * fsum(tasks[name].spread ** 2 for name in names) / len(names) / jobs
        found[group] = (mean, 1 / total + common, likely)
    return found


def _likelihood(
    tasks: Mapping[str, Task], sums: Mapping[str, _Sum], spreads: tuple[float, float], shared: float
) -> float:
    groups = _groups(tasks, sums, spreads[1], shared)
    variances = [spreads[0] ** 2 + variance for _, variance, _ in groups.values()]
    means = [mean for mean, _, _ in groups.values()]
    precision = fsum(1 / v for v in variances) + 1 / SHOP_SPREAD**2
    centre = fsum(m / v for m, v in zip(means, variances, strict=True)) / precision
    return (
        fsum(likely for _, _, likely in groups.values())
        - 0.5 * fsum(log(v) + (m - centre) ** 2 / v for m, v in zip(means, variances, strict=True))
        - 0.5 * (centre**2 / SHOP_SPREAD**2 + log(precision * SHOP_SPREAD**2))
    )


def _pooled(
    tasks: Mapping[str, Task], sums: Mapping[str, _Sum], spreads: tuple[float, float], shared: float
) -> dict[str, tuple[float, float, float]]:
    """Mean and variance of every task's level, and the share that its own times have in it."""
    of_groups, of_tasks = spreads
    groups = _groups(tasks, sums, of_tasks, shared)
    parts = [(mean, of_groups**2 + variance) for mean, variance, _ in groups.values()]
    precision = fsum(1 / v for _, v in parts) + 1 / SHOP_SPREAD**2
    shop, shop_var = fsum(m / v for m, v in parts) / precision, 1 / precision
    if groups:  # and what slows a job slows it in all groups
        shop_var += shared * fsum(t.spread**2 for t in tasks.values()) / len(tasks) / _jobs(tasks)
    levels_of: dict[str, tuple[float, float]] = {}
    for group in {task.group for task in tasks.values()}:
        mean, variance, _ = groups.get(group, (0.0, inf, 0.0))
        levels_of[group] = _joined(mean, variance, shop, of_groups**2, shop_var)[:2]
    found = {}
    for name, task in tasks.items():
        centre, centre_var = levels_of[task.group]
        found[name] = _joined(sums[name].mean, sums[name].variance, centre, of_tasks**2, centre_var)
    return found


def _jobs(tasks: Mapping[str, Task]) -> int:
    return max(len(task.logs) for task in tasks.values())


def _joined(
    own: float, own_var: float, above: float, between: float, above_var: float
) -> tuple[float, float, float]:
    """Own mean and the one above it, weighted; the doubt about the one above stays in what is left to it."""
    weight = between / (between + own_var) if own_var < inf else 0.0
    mean = weight * own + (1 - weight) * above
    variance = (weight * own_var if weight else between) + (1 - weight) ** 2 * above_var
    return mean, variance, weight
