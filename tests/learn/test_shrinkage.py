"""Shrinkage: recovery of a hidden truth, the published example, limits, outliers."""

from __future__ import annotations

import random
from math import exp, fsum, log, sqrt

import pytest

from estimator.learn import shrinkage
from estimator.learn.shrinkage import Task, levels

SIZES = (10, 50, 200)
GROUPS, EACH, OF_JOB, SPREAD, SHARED = 6, 6, 8, 0.35, 0.2


def shop_log(seed: int, jobs: int, interrupted: float = 0.0) -> tuple[dict[str, Task], dict[str, float]]:
    """Jobs of some tasks each, and the hidden multiplier of every task.

    The truth is not drawn as the model has it: tasks lie evenly within a range about their group.
    """
    draw = random.Random(seed)
    shop = draw.uniform(-0.3, 0.3)
    truth = {}
    for group in range(GROUPS):
        centre = shop + draw.uniform(-0.25, 0.25)
        for number in range(EACH):
            truth[f"{group}-{number}"] = centre + draw.uniform(-0.3, 0.3)
    logs: dict[str, list[float]] = {name: [] for name in truth}
    for _ in range(jobs):
        cause = draw.gauss(0, 1)
        for name in draw.sample(sorted(truth), OF_JOB):
            noise = sqrt(SHARED) * cause + sqrt(1 - SHARED) * draw.gauss(0, 1)
            slip = log(draw.uniform(3, 8)) if draw.random() < interrupted else 0.0
            logs[name].append(truth[name] + SPREAD * noise - SPREAD**2 / 2 + slip)
    tasks = {name: Task(name[0], SPREAD, tuple(values)) for name, values in logs.items()}
    return tasks, {name: exp(value) for name, value in truth.items()}


def errors(jobs: int, seeds: int, interrupted: float = 0.0) -> tuple[float, float, float, float]:
    """Root of the mean square error of ln(factor): learned, handbook, plain average; coverage of the 80 % range."""
    sums = [0.0, 0.0, 0.0]
    inside = count = 0
    for seed in range(seeds):
        tasks, truth = shop_log(seed, jobs, interrupted)
        found = levels(tasks, SHARED)
        for name, task in tasks.items():
            plain = fsum(map(exp, task.logs)) / len(task.logs) if task.logs else 1.0
            for place, guess in enumerate((found[name].factor, 1.0, plain)):
                sums[place] += log(guess / truth[name]) ** 2
            inside += found[name].low <= truth[name] <= found[name].high
            count += 1
    learned, handbook, plain = (sqrt(total / count) for total in sums)
    return learned, handbook, plain, inside / count


@pytest.mark.slow
@pytest.mark.parametrize("jobs", SIZES)
@pytest.mark.parametrize("interrupted", [0.0, 0.03])
def test_a_hidden_truth_is_recovered_better_than_by_handbook_or_average(
    jobs: int, interrupted: float
) -> None:
    learned, handbook, plain, coverage = errors(jobs, 30, interrupted)
    print(
        f"{jobs} jobs, {interrupted:.0%} interrupted: learned {learned:.3f}, handbook {handbook:.3f}, "
        f"plain {plain:.3f}, within 80 %: {coverage:.1%}"
    )
    assert learned < handbook
    assert learned < plain
    assert 0.74 <= coverage <= 0.88


def test_ten_jobs_already_beat_both() -> None:
    learned, handbook, plain, _ = errors(10, 3)
    assert learned < min(handbook, plain)


def test_no_jobs_leave_the_handbook() -> None:
    found = levels({"a": Task("g", 0.3, ()), "b": Task("h", 0.3, ())})
    assert [(level.factor, level.weight, level.jobs) for level in found.values()] == [(1.0, 0.0, 0)] * 2


def test_the_weight_grows_with_the_count() -> None:
    weights = [
        levels({"a": Task("g", 0.3, (0.4,) + (0.1, 0.7) * (n // 2))})["a"].weight
        for n in (1, 2, 4, 8, 32, 128)
    ]
    assert weights == sorted(weights)
    assert weights[-1] > 0.9


def test_many_jobs_say_what_they_say() -> None:
    draw = random.Random(5)
    logs = tuple(log(1.7) - 0.3**2 / 2 + draw.gauss(0, 0.3) for _ in range(2000))
    assert levels({"a": Task("g", 0.3, logs)})["a"].factor == pytest.approx(1.7, rel=0.03)


def test_an_interruption_does_not_move_a_mean() -> None:
    logs = (0.1, 0.0, 0.2, 0.05, 0.15, -0.05)
    calm = levels({"a": Task("g", 0.2, logs)})["a"]
    cut = levels({"a": Task("g", 0.2, (*logs, log(8)))})["a"]
    assert cut.left_out == 1
    assert cut.factor == pytest.approx(calm.factor, rel=0.03)


def test_a_task_without_jobs_follows_its_group() -> None:
    tasks = {f"t{n}": Task("frets", 0.3, (0.5,) * 20) for n in range(4)} | {
        "new": Task("frets", 0.3, ()),
        "other": Task("nut", 0.3, ()),
    }
    found = levels(tasks)
    assert found["new"].factor > found["other"].factor > 1.0
    assert found["new"].high / found["new"].low > found["t0"].high / found["t0"].low


#: Efron and Morris, Data analysis using Stein's estimator and its generalizations, JASA 70 (1975): batting averages of
#: eighteen players over 45 at bats, and over the rest of the season (figures from memory)
EARLY = (400, 378, 356, 333, 311, 311, 289, 267, 244, 244, 222, 222, 222, 222, 222, 200, 178, 156)
LATER = (346, 298, 276, 222, 273, 270, 263, 210, 269, 230, 264, 256, 303, 264, 226, 285, 316, 200)


def test_the_published_example_of_shrinkage() -> None:
    """The weighted mean of ``_joined`` against the published one: 0.265 + 0.212 x (y - 0.265), the error a third.

    The spread between players is the method-of-moments one, which is what Stein's factor stands for.
    """
    mean = sum(EARLY) / len(EARLY)
    noise = mean * (1000 - mean) / 45
    seen = sum((y - mean) ** 2 for y in EARLY) / (len(EARLY) - 3)
    weight = 1 - noise / seen
    between = noise * weight / (1 - weight)
    shrunk = [shrinkage._joined(y, noise, mean, between, 0.0)[0] for y in EARLY]
    assert shrinkage._joined(400, noise, mean, between, 0.0)[2] == pytest.approx(0.212, abs=0.005)
    assert shrunk[0] == pytest.approx(294, abs=2)
    assert shrunk[-1] == pytest.approx(242, abs=2)
    error, plain = (
        sum((guess - true) ** 2 for guess, true in zip(guesses, LATER, strict=True))
        for guesses in (shrunk, EARLY)
    )
    assert 3.2 < plain / error < 3.8  # 3.5 published


def test_pooled_levels_are_those_of_the_joint_normal_distribution() -> None:
    """Two groups, three tasks: the closed form against numpy's conditional mean of the whole joint normal."""
    import numpy as np

    means, variances = np.array([0.3, -0.1, 0.5]), np.array([0.02, 0.05, 0.01])
    group_of = [0, 0, 1]
    sums = {f"t{n}": shrinkage._Sum(means[n], variances[n], 0) for n in range(3)}
    tasks = {f"t{n}": Task(str(group_of[n]), 0.3, (0.0,)) for n in range(3)}
    between_groups, between_tasks = 0.2, 0.15
    prior = np.full((3, 3), shrinkage.SHOP_SPREAD**2)
    for a in range(3):
        for b in range(3):
            prior[a, b] += between_groups**2 * (group_of[a] == group_of[b]) + between_tasks**2 * (a == b)
    gain = prior @ np.linalg.inv(prior + np.diag(variances))
    found = shrinkage._pooled(tasks, sums, (between_groups, between_tasks), 0.0)
    assert [mean for mean, _, _ in found.values()] == pytest.approx(gain @ means, rel=1e-6)
    # the closed form reuses a task's own times in the level above it: never narrower by more than a little
    joint = np.diag(prior - gain @ prior)
    assert [variance for _, variance, _ in found.values()] == pytest.approx(joint, rel=0.1)
