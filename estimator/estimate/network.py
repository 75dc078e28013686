"""Networks of activities (PERT): earliest and latest times, critical path, chances, merge bias.

Times in any one unit. An activity has three readings a <= m <= b (``pert``: ends of a beta curve) and
the activities that must be done before it. Formulas: Malcolm, Roseboom, Clark and Fazar, "Application
of a Technique for Research and Development Program Evaluation", Operations Research 7(5), 1959 (memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_NORMAL = NormalDist()
#: slack below this counts as none
TOUCH = 1e-9


@dataclass(frozen=True, slots=True)
class Activity:
    """One activity: optimistic, likely and pessimistic time, and what it waits for."""

    low: float
    likely: float
    high: float
    after: tuple[str, ...] = ()

    @property
    def mean(self) -> float:
        """(a + 4 m + b) / 6."""
        return (self.low + 4.0 * self.likely + self.high) / 6.0

    @property
    def variance(self) -> float:
        """((b - a) / 6)^2."""
        return ((self.high - self.low) / 6.0) ** 2


@dataclass(frozen=True, slots=True)
class Times:
    """Earliest start and finish, latest start and finish, slack of one activity at mean times."""

    start: float
    finish: float
    latest_start: float
    latest_finish: float

    @property
    def slack(self) -> float:
        """How long it may be late without holding up the whole."""
        return self.latest_start - self.start


@dataclass(frozen=True, slots=True)
class Network:
    """A network worked through: times of each activity, and mean and variance along the critical path.

    Where several paths are critical, the one with the greatest variance counts.
    """

    times: Mapping[str, Times]
    critical: tuple[str, ...]
    mean: float
    variance: float

    @property
    def sd(self) -> float:
        """Standard deviation along the critical path."""
        return sqrt(self.variance)

    def chance(self, by: float) -> float:
        """Probability of being done by a time, the critical path taken as normal (no merge bias)."""
        if self.variance == 0:
            return 1.0 if by >= self.mean else 0.0
        return _NORMAL.cdf((by - self.mean) / self.sd)


def ordered(activities: Mapping[str, Activity]) -> list[str]:
    """Activities so that each comes after those it waits for, ties in the order given.

    ValueError for readings out of order, unknown names, and circles.
    """
    for name, activity in activities.items():
        if not activity.low <= activity.likely <= activity.high:
            raise ValueError(
                f"{name}: the likely time must lie between the optimistic and the pessimistic one"
            )
        for before in activity.after:
            if before not in activities:
                raise ValueError(f"{name} waits for {before}, which is not in the network")
    done: dict[str, None] = {}
    waiting = list(activities)
    while waiting:
        ready = [n for n in waiting if all(b in done for b in activities[n].after)]
        if not ready:
            raise ValueError(f"these wait for each other in a circle: {', '.join(waiting)}")
        done.update(dict.fromkeys(ready))
        waiting = [n for n in waiting if n not in done]
    return list(done)


def work_through(activities: Mapping[str, Activity]) -> Network:
    """Forward and backward pass at mean times."""
    order = ordered(activities)
    finish: dict[str, float] = {}
    spread: dict[str, float] = {}
    via: dict[str, str | None] = {}
    for name in order:
        activity = activities[name]
        came = max(activity.after, key=lambda b: (round(finish[b], 9), spread[b]), default=None)
        via[name] = came
        finish[name] = (finish[came] if came else 0.0) + activity.mean
        spread[name] = (spread[came] if came else 0.0) + activity.variance
    whole = max(finish.values(), default=0.0)
    latest: dict[str, float] = dict.fromkeys(order, whole)
    for name in reversed(order):
        for before in activities[name].after:
            latest[before] = min(latest[before], latest[name] - activities[name].mean)
    times = {
        name: Times(finish[name] - a.mean, finish[name], latest[name] - a.mean, latest[name])
        for name, a in activities.items()
    }
    path: list[str] = []
    at = max(order, key=lambda n: (round(finish[n], 9), spread[n]), default=None)
    while at is not None:
        path.insert(0, at)
        at = via[at]
    variance = fsum(activities[n].variance for n in path)
    return Network(times, tuple(path), whole, variance)


def from_arcs(arcs: Mapping[tuple[str, str], tuple[float, float, float]]) -> dict[str, Activity]:
    """Activities on arcs between events as activities on nodes, named ``tail-head``."""
    return {
        f"{tail}-{head}": Activity(*readings, tuple(f"{t}-{h}" for t, h in arcs if h == tail))
        for (tail, head), readings in arcs.items()
    }


def simulate_network(activities: Mapping[str, Activity], draws: int, seed: int) -> Floats:
    """Finish times of a network drawn from beta-PERT curves: an array of length ``draws``.

    Their mean lies above the mean along the critical path wherever paths meet (merge bias).
    """
    import numpy as np

    rng = np.random.Generator(np.random.SFC64(seed))
    finish: dict[str, Floats] = {}
    for name in ordered(activities):
        a = activities[name]
        width = a.high - a.low
        if width:
            up = 4.0 * (a.likely - a.low) / width
            finish[name] = a.low + width * rng.beta(1.0 + up, 5.0 - up, draws)
        else:
            finish[name] = np.full(draws, a.likely)
        start = np.zeros(draws)
        for before in a.after:
            np.maximum(start, finish[before], out=start)
        finish[name] += start
    whole: Floats = np.maximum.reduce(list(finish.values()))
    return whole


def larger_of_two(m1: float, s1: float, m2: float, s2: float) -> tuple[float, float]:
    """Mean and variance of the larger of two independent normal times.

    Clark, "The Greatest of a Finite Set of Random Variables", Operations Research 9(2), 1961 (memory):
    a = sqrt(s1^2 + s2^2), k = (m1 - m2) / a, E = m1 Phi(k) + m2 Phi(-k) + a phi(k).
    """
    a = sqrt(s1 * s1 + s2 * s2)
    if a == 0:
        return max(m1, m2), 0.0
    k = (m1 - m2) / a
    phi, below, above = _NORMAL.pdf(k), _NORMAL.cdf(k), _NORMAL.cdf(-k)
    mean = m1 * below + m2 * above + a * phi
    second = (m1 * m1 + s1 * s1) * below + (m2 * m2 + s2 * s2) * above + (m1 + m2) * a * phi
    return mean, max(0.0, second - mean * mean)


def in_series(activities: Sequence[Activity]) -> Network:
    """Activities one after the other, named 1, 2, 3 ..."""
    chain = {
        str(n): Activity(a.low, a.likely, a.high, (str(n - 1),) if n > 1 else ())
        for n, a in enumerate(activities, 1)
    }
    return work_through(chain)
