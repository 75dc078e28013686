"""Where there is a choice of tool: what each grade costs per job, and when the dearer one has paid.

A tool grade costs its price spread over its life, and the time it makes the work take. A grade may be
slower in the worn part of its life and may make the work after it longer.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_CEILING, Decimal

from msgspec import Struct

from estimator.model import Shop, Tool, WorkLine

ONE = Decimal(1)
SIXTY = Decimal(60)


class ToolGrade(Struct, frozen=True):
    """One grade of a tool: price, life in units of work, and multiples of time.

    ``run_new`` and ``run_worn`` multiply the run of the task when the tool is new and in the last
    ``worn_share`` of its life; ``after_worn`` multiplies the work that follows while it is worn.
    """

    name: str
    price: Decimal
    life: Decimal
    run_new: Decimal = ONE
    run_worn: Decimal = ONE
    worn_share: Decimal = Decimal(0)
    after_worn: Decimal = ONE

    @property
    def run_factor(self) -> Decimal:
        """Multiple of the run over the whole life."""
        return self.run_new + (self.run_worn - self.run_new) * self.worn_share

    @property
    def after_factor(self) -> Decimal:
        """Multiple of the work that follows, over the whole life."""
        return ONE + (self.after_worn - ONE) * self.worn_share


class Work(Struct, frozen=True):
    """What one job asks of the tool.

    ``units`` of tool life before the wear factor, ``wear`` the factor of the material, ``run_minutes``
    of the task and ``after_minutes`` of the work that follows, both with a tool that changes nothing.
    """

    units: Decimal
    run_minutes: Decimal
    wear: Decimal = ONE
    after_minutes: Decimal = Decimal(0)


class GradeCost(Struct, frozen=True):
    """What a job costs with one grade: tool wear and time, money unrounded."""

    grade: ToolGrade
    wear: Decimal
    minutes: Decimal
    labour: Decimal

    @property
    def cost(self) -> Decimal:
        """Wear and labour together."""
        return self.wear + self.labour


def cost_with(grade: ToolGrade, work: Work, rate_per_hour: Decimal) -> GradeCost:
    """Wear = units x factor x price / life; labour = minutes at the rate."""
    if grade.life <= 0:
        raise ValueError(f"{grade.name}: a tool has a life above zero")
    minutes = work.run_minutes * grade.run_factor + work.after_minutes * grade.after_factor
    wear = work.units * work.wear * grade.price / grade.life
    return GradeCost(grade, wear, minutes, minutes * rate_per_hour / SIXTY)


def cheapest_grade(grades: Sequence[ToolGrade], work: Work, rate_per_hour: Decimal) -> GradeCost:
    """The grade with the least wear and labour; the one with the lower price of equals."""
    return min(
        (cost_with(grade, work, rate_per_hour) for grade in grades),
        key=lambda c: (c.cost, c.grade.price, c.grade.name),
    )


class Payback(Struct, frozen=True):
    """What the dearer grade saves per job and after how many jobs its higher price is earned back.

    ``jobs`` is exact, ``whole_jobs`` the job on which it is earned; None where it never is.
    """

    saved_minutes: Decimal
    saved: Decimal
    jobs: Decimal | None
    whole_jobs: int | None


def payback(cheap: ToolGrade, dear: ToolGrade, work: Work, rate_per_hour: Decimal) -> Payback:
    """Jobs until the difference in price is earned back by less wear and less time."""
    with_cheap, with_dear = (cost_with(grade, work, rate_per_hour) for grade in (cheap, dear))
    saved = with_cheap.cost - with_dear.cost
    jobs = (dear.price - cheap.price) / saved if saved > 0 else None
    whole = int(jobs.to_integral_value(ROUND_CEILING)) if jobs is not None else None
    return Payback(with_cheap.minutes - with_dear.minutes, saved, jobs, whole)


def grades_of(tool: Tool, shop: Shop) -> tuple[ToolGrade, ToolGrade]:
    """Both grades of a tool with what ``tool_times.csv`` knows of them; times alike where it is silent."""

    def grade(name: str, price: Decimal, life: Decimal) -> ToolGrade:
        times = shop.tool_times.get((tool.id, name))
        if times is None:
            return ToolGrade(name, price, life)
        return ToolGrade(name, price, life, times.run_new, times.run_worn, times.worn_share, times.after_worn)

    return (
        grade("inexpensive", tool.inexpensive_price, tool.inexpensive_life),
        grade("premium", tool.premium_price, tool.premium_life),
    )


class GradeChoice(Struct, frozen=True):
    """One tool of a job: the grade its wear is charged at, the cheapest grade, and what that saves."""

    tool: str
    what: str
    charged: str
    cheapest: GradeCost
    payback: Payback


def grades_for(lines: Sequence[WorkLine], shop: Shop, rate_per_hour: Decimal) -> tuple[GradeChoice, ...]:
    """For every tool that these lines wear: the cheapest grade, by wear and by time where it is known.

    Time counts only for tools of ``tool_times.csv``; the units of use already hold the wear factor of
    the material. Those whose cheapest grade saves most come first.
    """
    units: dict[str, Decimal] = {}
    minutes: dict[str, Decimal] = {}
    for line in lines:
        for use in line.tools:
            units[use.id] = units.get(use.id, Decimal(0)) + use.quantity
            minutes[use.id] = minutes.get(use.id, Decimal(0)) + Decimal(line.minutes) / 100
    found = []
    for name, used in units.items():
        tool = shop.tools[name]
        cheap, dear = grades_of(tool, shop)
        work = Work(used, *_minutes_of(tool, minutes[name], lines, shop))
        best = cheapest_grade((cheap, dear), work, rate_per_hour)
        found.append(
            GradeChoice(name, tool.what, tool.default_grade, best, payback(cheap, dear, work, rate_per_hour))
        )
    return tuple(sorted(found, key=lambda choice: (-choice.payback.saved, choice.tool)))


def _minutes_of(
    tool: Tool, run: Decimal, lines: Sequence[WorkLine], shop: Shop
) -> tuple[Decimal, Decimal, Decimal]:
    """Run minutes, wear factor (1: the units hold it) and minutes of the work that follows."""
    after = {times.after_task for key, times in shop.tool_times.items() if key[0] == tool.id}
    if not after:
        return Decimal(0), ONE, Decimal(0)
    following = sum((Decimal(line.minutes) for line in lines if line.task in after), Decimal(0)) / 100
    return run, ONE, following
