"""What a choice can aim at: a register of aims, each a list of sums to be made small one after another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from estimator.choose.matrix import Linear
from estimator.choose.programme import Programme
from estimator.errors import EngineError


@dataclass(frozen=True, slots=True)
class Aim:
    """A sentence for people and the sum to be made as small as can be."""

    sentence: str
    total: Callable[[Programme], Linear]


def cost(programme: Programme) -> Linear:
    """What the work costs the shop, in cents."""
    return programme.columns.total("cost")


def cash(programme: Programme) -> Linear:
    """Cash laid out, in cents."""
    return programme.columns.total("cash")


def hours(programme: Programme) -> Linear:
    """Hands-on time at the surety of the limit, in hundredths of a minute."""
    return programme.lazy.minutes(programme.problem.z_minutes)


def price(programme: Programme) -> Linear:
    """What the customer pays, in cents."""
    return programme.lazy.price()


AIMS: dict[str, Aim] = {
    "cost": Aim("least cost to the shop", cost),
    "cash": Aim("least cash laid out", cash),
    "hours": Aim("least hands-on time", hours),
    "price": Aim("least price to the customer", price),
}


def stages_of(aim: str, programme: Programme) -> list[Linear]:
    """The sums of a chain such as ``cost,hours``, in order; raises EngineError for an unknown aim."""
    names = [name.strip() for name in aim.split(",") if name.strip()]
    unknown = [name for name in names if name not in AIMS]
    if unknown or not names:
        raise EngineError(f"unknown aim “{', '.join(unknown)}”; known are {', '.join(AIMS)}")
    return [AIMS[name].total(programme) for name in names]
