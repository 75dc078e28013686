"""Why a level is reached: the work that lifts it, and whether it rests on a level that nobody looked at."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.verify.choice import gives, levels_reached
from estimator.core.amounts import Tenths
from estimator.model.problem import LEVEL_SCALE, Problem, Scale


class Cause(Struct, frozen=True):
    """What lifts an attribute (tasks and upgrades of the set), and the attributes assumed that it rests on."""

    by: tuple[str, ...] = ()
    rests_on: tuple[str, ...] = ()


def causes(problem: Problem, chosen: Collection[str], assumed: Collection[str]) -> Mapping[str, Cause]:
    """By attribute, for those that a set lifts, why. ``assumed``: attributes of which today's level is assumed.

    A level rests on an assumed one, its own or another's that holds it down, where it would be reached no more
    were that one a whole level lower than it is taken to be. What is taken to stand of its own is no work at
    all: a level rests on that too where the work by itself does not bring it (a fault that held it was mended).
    """
    reached, standing = levels_reached(problem, chosen), levels_reached(problem, ())
    lifted = [scale for scale in problem.scales if reached[scale.attribute] > standing[scale.attribute]]
    rests: dict[str, list[str]] = {scale.attribute: [] for scale in lifted}
    for name in assumed if lifted else ():
        lower = levels_reached(_lowered(problem, name), chosen)
        for scale in lifted:
            own = scale.attribute == name
            without = by_work_alone(problem, name, chosen) if own else lower[scale.attribute]
            if without < reached[scale.attribute]:
                rests[scale.attribute].append(name)
    return {s.attribute: Cause(_by(s, chosen, standing), tuple(rests[s.attribute])) for s in lifted}


def by_work_alone(problem: Problem, name: str, chosen: Collection[str]) -> int:
    """The level in tenths that a set brings an attribute to, whatever it stands at today."""
    return levels_reached(_lowered(problem, name, None), chosen)[name]


def _lowered(problem: Problem, name: str, by: int | None = LEVEL_SCALE) -> Problem:
    """The problem with one attribute lower today: by a level, or (None) as low as can be."""
    scales = tuple(
        replace(scale, base=Tenths(0 if by is None else max(0, scale.base - by)))
        if scale.attribute == name
        else scale
        for scale in problem.scales
    )
    return replace(problem, scales=scales)


def _by(scale: Scale, chosen: Collection[str], standing: Mapping[str, int]) -> tuple[str, ...]:
    """The work that lifts a level: what brings it highest by itself, and all that is added on top.

    Where nothing does either, a fault was all that held it: then the upgrades of the set that mend it.
    """
    now = standing[scale.attribute]
    tos = [giver for giver in scale.tos if gives(giver, chosen)]
    high = max((giver.value for giver in tos), default=0)
    lifting = [giver for giver in tos if giver.value == high and high > now]
    lifting += [giver for giver in scale.adds if giver.value > 0 and gives(giver, chosen)]
    told: dict[str, None] = {}
    for giver in lifting:
        if giver.task:
            told.setdefault(giver.task)
        else:
            told.update(dict.fromkeys(upgrade for upgrade in giver.given_by if upgrade in chosen))
    if not told:
        held = (hold.lifted_by for hold in scale.holds if hold.value == now)
        told.update(
            dict.fromkeys(upgrade for lifted_by in held for upgrade in lifted_by if upgrade in chosen)
        )
    return tuple(told)
