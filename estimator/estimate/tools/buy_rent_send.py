"""A tool as a choice: the inexpensive one, the premium one, renting it, or sending the work out.

Cost over ``jobs`` expected jobs: the tools bought, whole (money tied up in a tool that is not worn out
is money gone until other jobs use it), plus rent or bill per job, plus the bench time of the job at the
rate. All in cents and hundredths of a minute, exact until shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import Origin, refusal, refused_word
from estimator.core.money import cents, half_up
from estimator.model import SendOut, Shop, Tool


class ToolWay(Struct, frozen=True):
    """One way to get a kind of job done.

    ``price`` of the tool in cents (0: none is bought), ``life`` in jobs, ``per_job`` cents paid on
    each job (rent, bill, wear of others), ``minutes`` of bench time a job in hundredths.
    """

    id: str
    what: str
    price: Cents = Cents(0)
    life: Fraction | None = None
    per_job: Cents = Cents(0)
    minutes: Hundredths = Hundredths(0)
    wait_days: int = 0


class ToolWayCost(Struct, frozen=True):
    """A way over the expected jobs: tools bought, cash out, time, cost, cost a job (cents).

    ``cost`` is cash and time; ``tied_up`` is the part of the cash that the jobs do not wear off the tools.
    ``cheaper_to`` is the last job up to which the way has always cost less than the one it is held against,
    0 if it costs as much or more on the first; ``payback`` the job from which on such a way costs no more,
    None if that never comes. Both as far as ``looked_at``: the life of one tool of the way, if it buys one.
    """

    way: ToolWay
    tools: int
    cash: Cents
    time: Cents
    cost: Cents
    tied_up: Cents
    per_job: Cents
    cheaper_to: int
    payback: int | None
    looked_at: int


MOST_JOBS = 10_000
"""Jobs looked at for a way without a tool that wears out."""


def tools_for(way: ToolWay, jobs: int) -> int:
    """Whole tools that a way takes for ``jobs``."""
    if not way.price or not jobs:
        return 0
    return 1 if way.life is None else -(-jobs // way.life).__floor__()


def cash_of(way: ToolWay, jobs: int, rate: Cents) -> Fraction:
    """Cash and time of a way over ``jobs``: whole tools, bills, bench time at ``rate`` cents an hour."""
    paid = Fraction(tools_for(way, jobs) * way.price + jobs * way.per_job)
    return paid + Fraction(jobs * way.minutes * rate, 6000)


def compare_ways(ways: Sequence[ToolWay], jobs: int, rate: Cents) -> tuple[ToolWayCost, ...]:
    """Every way over ``jobs`` expected jobs, cheapest first, each held against the first of them."""
    if jobs < 0:
        raise refusal(Origin(), "a number of jobs below zero", str(jobs), "0 or more")
    if not ways:
        return ()
    reference = ways[0]
    found = []
    for way in ways:
        tools = tools_for(way, jobs)
        worn = Fraction(0) if way.life is None else Fraction(way.price) * jobs / way.life
        cost = cash_of(way, jobs, rate)
        other = way is not reference
        cheaper = cheaper_to(way, reference, rate) if other else 0
        found.append(
            ToolWayCost(
                way,
                tools,
                tools * way.price + jobs * way.per_job,
                Cents(half_up(Fraction(jobs * way.minutes * rate, 6000))),
                Cents(half_up(cost)),
                Cents(half_up(tools * way.price - worn) if tools else 0),
                Cents(half_up(cost / jobs) if jobs else 0),
                cheaper,
                payback(way, reference, rate) if other and not cheaper else None,
                jobs_looked_at(way),
            )
        )
    return tuple(sorted(found, key=lambda item: (item.cost, ways.index(item.way))))


def jobs_looked_at(way: ToolWay, most: int = MOST_JOBS) -> int:
    """The jobs over which a way is held against another: the life of one tool of it, ``most`` without one."""
    return most if way.life is None or not way.price else min(most, max(1, way.life.__floor__()))


def payback(way: ToolWay, other: ToolWay, rate: Cents, most: int = MOST_JOBS) -> int | None:
    """The number of jobs from which on ``way`` has cost no more than ``other`` (cash and time).

    None if not within the life of one tool of ``way`` (or ``most`` jobs): it then never pays by itself.
    """
    first = None
    for jobs in range(jobs_looked_at(way, most), 0, -1):
        if cash_of(way, jobs, rate) > cash_of(other, jobs, rate):
            break
        first = jobs
    return first


def cheaper_to(way: ToolWay, other: ToolWay, rate: Cents, most: int = MOST_JOBS) -> int:
    """The last number of jobs up to which ``way`` has always cost less than ``other``; 0 if never."""
    for jobs in range(1, jobs_looked_at(way, most) + 1):
        if cash_of(way, jobs, rate) >= cash_of(other, jobs, rate):
            return jobs - 1
    return jobs_looked_at(way, most)


def tool_ways(
    tool: Tool, uses_per_job: Decimal, minutes: tuple[Hundredths, Hundredths]
) -> tuple[ToolWay, ToolWay]:
    """The two grades of a tool for jobs of ``uses_per_job`` units each; ``minutes`` by grade (hundredths)."""
    used = Fraction(uses_per_job)
    if used <= 0:
        raise refusal(Origin(), "a job must use the tool", str(uses_per_job), "a number above zero")
    cheap = ToolWay(
        "inexpensive",
        f"{tool.what}, inexpensive",
        cents(tool.inexpensive_price),
        Fraction(tool.inexpensive_life) / used,
        Cents(0),
        minutes[0],
    )
    good = ToolWay(
        "premium",
        f"{tool.what}, premium",
        cents(tool.premium_price),
        Fraction(tool.premium_life) / used,
        Cents(0),
        minutes[1],
    )
    return cheap, good


def outside_ways(need: SendOut, minutes: Hundredths) -> tuple[ToolWay, ...]:
    """Renting (with the bench time of the job) and sending out (without), where the trade offers them."""
    ways = []
    if need.rent_low is not None and need.rent_high is not None:
        middle = cents((need.rent_low + need.rent_high) / 2)
        ways.append(
            ToolWay(
                "rent",
                f"{need.what}: rented for a {need.rent_per}",
                Cents(0),
                None,
                middle,
                minutes,
            )
        )
    if need.send_low is not None and need.send_high is not None:
        middle = cents((need.send_low + need.send_high) / 2)
        ways.append(
            ToolWay(
                "send-out",
                f"{need.what}: sent out",
                Cents(0),
                None,
                middle,
                Hundredths(0),
                int(need.wait_high_days or 0),
            )
        )
    return tuple(ways)


def find_tool(shop: Shop, name: str) -> Tool:
    """A tool of the shop by id; InputError with a near miss."""
    if name not in shop.tools:
        raise refused_word("tool", "no tool has this id", name, shop.tools, "an id of tools.csv", "")
    return shop.tools[name]


def invest_in(
    shop: Shop,
    tool_name: str,
    jobs: int,
    uses_per_job: Decimal,
    minutes: tuple[Hundredths, Hundredths],
    rate: Cents,
) -> tuple[ToolWayCost, ...]:
    """Every way to do ``jobs`` expected jobs that take a tool: buy either grade, rent, send out.

    ``minutes`` are bench minutes a job (hundredths) with the inexpensive and with the premium tool;
    rented tools are taken to be as quick as the premium one. All are held against the inexpensive tool.
    """
    tool = find_tool(shop, tool_name)
    ways = list(tool_ways(tool, uses_per_job, minutes))
    for need in shop.resale.send_out.values():
        if tool_name in need.tools:
            ways.extend(outside_ways(need, minutes[1]))
    return compare_ways(ways, jobs, rate)
