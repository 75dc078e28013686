"""What an aim asks of the choice: whether there is such an aim, and which rules it holds."""

from __future__ import annotations

from msgspec.structs import replace

from estimator.core.errors import Origin, refusal, refused_word
from estimator.model.problem import Problem

NONE_EARNS = "no set earns anything once its cost and all time are paid; the one that loses least is told"
"""Said with an answer by the hour that is not the best ratio, for a loss shared out over more hours is no less."""


def problem_for(problem: Problem, aim: str, file: str) -> Problem:
    """The problem of an aim: with ``score`` the wishes are what is scored, not what is demanded.

    InputError naming the job's ``file`` where nothing is wished for.
    """
    if aims_in(aim)[0] != "score":
        return problem
    if not problem.weights:
        raise refusal(
            Origin(file, None, "[wish]"),
            "nothing is wished for, so no set can score",
            accepted="a profile, weights, or require",
            next_step="add a profile or weights under [wish]",
        )
    kept = tuple(rule for rule in problem.rules if rule.kind not in ("level", "amount"))
    return replace(problem, rules=kept)


def usual_aim(billed: bool) -> str:
    """What is aimed at where nothing else is asked: the customer's price where one pays, else the cost.

    The price rises by the quarter hour: of the sets at the least price the one that costs the shop least.
    ``billed``: whether it is client work (``Problem.billed``); of a batch, whether any of it is.
    """
    return "price,cost" if billed else "cost"


def aims_in(chain: str) -> tuple[str, ...]:
    """The aims of a chain such as ``price,cost``, the one that goes first in front; unknown ones are not refused."""
    return tuple(name.strip() for name in chain.split(","))


def check_aim(aim: str | None) -> None:
    """InputError unless ``aim`` is a known aim, or several parted by commas, or left out."""
    from estimator.choose.milp.objectives import OBJECTIVES

    unknown = [name for name in ([] if aim is None else aim.split(",")) if name.strip() not in OBJECTIVES]
    if unknown:
        raise refused_word(
            "--aim",
            "no aim of this name",
            unknown[0],
            OBJECTIVES,
            ", ".join(OBJECTIVES) + ", or several of them parted by commas",
        )
