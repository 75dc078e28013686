"""A tool as a choice: the inexpensive one, the premium one, renting it, or sending the work out.

Cost over ``jobs`` expected jobs: the tools bought (whole tools, each for its life) less what is left
of their life, plus rent or bill per job, plus the bench time of the job at the rate. All in cents and
hundredths of a minute, exact until shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from estimator.errors import InputError, Issue, Origin, near_miss
from estimator.estimate.money import cents
from estimator.model import SendOut, Shop, Tool
from estimator.price.exact import half_up


@dataclass(frozen=True, slots=True)
class Way:
    """One way to get a kind of job done.

    ``price`` of the tool in cents (0: none is bought), ``life`` in jobs, ``per_job`` cents paid on
    each job (rent, bill, wear of others), ``minutes`` of bench time a job in hundredths.
    """

    id: str
    what: str
    price: int = 0
    life: Fraction | None = None
    per_job: int = 0
    minutes: int = 0
    wait_days: int = 0


@dataclass(frozen=True, slots=True)
class WayCost:
    """A way over the expected jobs: tools bought, cash out, cost with time, cost a job (cents).

    ``cost`` counts only the life used of the tools; ``cash`` what is paid, the last tool in full.
    ``payback`` is the first number of jobs at which the way has cost no more cash and time than the
    one it is held against; None if that never happens within the jobs looked at.
    """

    way: Way
    tools: int
    cash: int
    time: int
    cost: int
    per_job: int
    payback: int | None


def cash_of(way: Way, jobs: int, rate: int) -> Fraction:
    """Cash and time of a way over ``jobs``: whole tools, bills, bench time at ``rate`` cents an hour."""
    tools = 0
    if way.price and jobs:
        tools = 1 if way.life is None else -(-jobs // way.life).__floor__()
    return Fraction(tools * way.price + jobs * way.per_job) + Fraction(jobs * way.minutes * rate, 6000)


def compare_ways(ways: Sequence[Way], jobs: int, rate: int, against: int = 0) -> tuple[WayCost, ...]:
    """Every way over ``jobs`` expected jobs, cheapest first; payback is against the way at ``against``."""
    if jobs < 0:
        raise InputError(Issue(Origin(), "a number of jobs below nought", str(jobs), "0 or more"))
    if not ways:
        return ()
    reference = ways[against]
    found = []
    for way in ways:
        tools = (
            0 if not way.price or not jobs else 1 if way.life is None else -(-jobs // way.life).__floor__()
        )
        time = Fraction(jobs * way.minutes * rate, 6000)
        used = (
            Fraction(way.price) * jobs / way.life
            if way.price and way.life
            else Fraction(way.price if jobs else 0)
        )
        cost = used + jobs * way.per_job + time
        found.append(
            WayCost(
                way,
                tools,
                tools * way.price + jobs * way.per_job,
                half_up(time),
                half_up(cost),
                half_up(cost / jobs) if jobs else 0,
                None if way is reference else payback(way, reference, rate),
            )
        )
    return tuple(sorted(found, key=lambda item: (item.cost, ways.index(item.way))))


def payback(way: Way, other: Way, rate: int, most: int = 10_000) -> int | None:
    """The first number of jobs after which ``way`` has cost no more than ``other`` (cash and time).

    None if not within the life of one tool of ``way`` (or ``most`` jobs): it then never pays by itself.
    """
    last = most if way.life is None or not way.price else min(most, max(1, way.life.__floor__()))
    for jobs in range(1, last + 1):
        if cash_of(way, jobs, rate) <= cash_of(other, jobs, rate):
            return jobs
    return None


def tool_ways(
    tool: Tool, uses_per_job: Decimal, minutes: tuple[int, int], wear: Decimal = Decimal(1)
) -> tuple[Way, Way]:
    """The two grades of a tool for jobs of ``uses_per_job`` units each; ``minutes`` by grade (hundredths).

    ``wear`` multiplies the use (2.8 for stainless frets on files).
    """
    used = Fraction(uses_per_job) * Fraction(wear)
    if used <= 0:
        raise InputError(
            Issue(Origin(), "a job must use the tool", str(uses_per_job), "a number above nought")
        )
    cheap = Way("inexpensive", f"{tool.what}, inexpensive", cents(tool.inexpensive_price),
                Fraction(tool.inexpensive_life) / used, 0, minutes[0])  # fmt: skip
    good = Way("premium", f"{tool.what}, premium", cents(tool.premium_price),
               Fraction(tool.premium_life) / used, 0, minutes[1])  # fmt: skip
    return cheap, good


def outside_ways(need: SendOut, minutes: int, jobs_per_rent: int = 1) -> tuple[Way, ...]:
    """Renting (with the bench time of the job) and sending out (without), where the trade offers them."""
    ways = []
    if need.rent_low is not None and need.rent_high is not None:
        middle = cents((need.rent_low + need.rent_high) / 2)
        ways.append(
            Way(
                "rent",
                f"{need.what}: rented for a {need.rent_per}",
                0,
                None,
                -(-middle // jobs_per_rent),
                minutes,
            )
        )
    if need.send_low is not None and need.send_high is not None:
        middle = cents((need.send_low + need.send_high) / 2)
        ways.append(
            Way("send-out", f"{need.what}: sent out", 0, None, middle, 0, int(need.wait_high_days or 0))
        )
    return tuple(ways)


def find_tool(shop: Shop, name: str) -> Tool:
    """A tool of the shop by id; InputError with a near miss."""
    if name not in shop.tools:
        raise InputError(
            Issue(
                Origin("tool"),
                "no tool has this id",
                f"“{name}”",
                "an id of tools.csv",
                near_miss(name, shop.tools),
            )
        )
    return shop.tools[name]


def invest_in(
    shop: Shop,
    tool_name: str,
    jobs: int,
    uses_per_job: Decimal,
    minutes: tuple[int, int],
    rate: int,
    wear: Decimal = Decimal(1),
) -> tuple[WayCost, ...]:
    """Every way to do ``jobs`` expected jobs that take a tool: buy either grade, rent, send out.

    ``minutes`` are bench minutes a job (hundredths) with the inexpensive and with the premium tool;
    rented tools are taken to be as quick as the premium one. Payback is against the inexpensive tool.
    """
    tool = find_tool(shop, tool_name)
    ways = list(tool_ways(tool, uses_per_job, minutes, wear))
    for need in shop.resale.send_out.values():
        if tool_name in need.tools:
            ways.extend(outside_ways(need, minutes[1]))
    return compare_ways(ways, jobs, rate)
