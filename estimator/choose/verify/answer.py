"""An answer held against the tables: its lines added up, its set priced and its spec worked out once more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from decimal import Decimal

from msgspec.structs import replace

from estimator.choose.verify.choice import recheck
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.lines import lines_amiss
from estimator.choose.verify.rows import HEADINGS, Rows
from estimator.choose.verify.search import SEARCHED, PlainSearch, Set
from estimator.core.errors import RefutedError
from estimator.fit.ways import OfferedWay
from estimator.model import Demand, Estimate
from estimator.model.problem import LIMITS, Problem, Source

ANY = "any"
"""In the place of an aim: whatever keeps every wish and limit."""
OF_THE_JOB = (Source.WISH, Source.BUDGET, Source.REQUIRED, Source.REFUSED, Source.UNFIT)
"""Kinds of rules that the search reads from the job and the verdicts itself."""
SPREAD_NOISE = 1e-6
"""Minutes by which two sums of spreads may differ: they are floats."""
CRUMBS = Decimal("0.1")
"""Grams that rounding down to the tenth may take off each piece of a weight."""


def hold(rows: Rows, spec: Spec, estimate: Estimate, reached: Mapping[str, int]) -> None:
    """RefutedError with everything that differs, each with both figures and where to look."""
    wrong = [
        *lines_amiss(estimate),
        *priced_amiss(rows, estimate),
        *spec_amiss(rows, spec, estimate, reached),
    ]
    if wrong:
        told = ", ".join(estimate.chosen) or "no upgrade"
        raise RefutedError(
            f"the answer ({told}) did not pass the recheck: {'; '.join(wrong)}; nothing of it can be relied "
            "on. next: run “estimator check”; if it finds nothing, this is a fault in the program itself"
        )


def search_for(rows: Rows, spec: Spec, problem: Problem, aim: str, wishes: bool) -> PlainSearch | None:
    """The search that could refute an answer to ``aim``; None where its sums leave something out.

    What is wished and how far money and hours go is read from the job itself, not from the rules of the
    problem: those of its rules that the job does not speak of are held besides.
    """
    freight = problem.baskets is not None
    if freight or (aim not in SEARCHED and aim != ANY):
        return None
    foreign = tuple(rule for rule in problem.rules if rule.source not in OF_THE_JOB)
    others = replace(problem, rules=foreign)

    def besides(chosen: Set) -> bool:
        return not foreign or not recheck(others, chosen)

    return PlainSearch(rows, spec, aim, wishes, problem.weights if aim == "score" else (), besides, foreign)


def hold_optimal(search: PlainSearch, chosen: tuple[str, ...], objective: int) -> None:
    """RefutedError if a plain search finds a set with a lower figure than the one that is called optimal."""
    found = search.better_than(chosen, objective)
    if found is None:
        return
    ids, figure = found
    raise RefutedError(
        f"the set called optimal ({', '.join(chosen) or 'no upgrade'}; {_figure(search.aim, objective)}) is not: "
        f"a plain search found {', '.join(sorted(ids)) or 'no upgrade'}, which keeps every wish and limit at "
        f"{_figure(search.aim, figure)}; neither answer can be relied on. next: try another --engine; if it "
        "says the same, this is a fault in the program itself"
    )


def hold_ways(
    search: PlainSearch, chosen: tuple[str, ...], objective: int, ways: Mapping[str, Sequence[OfferedWay]]
) -> None:
    """RefutedError if one task of a set done another way gives a lower figure than the one that is called optimal.

    Not looked at where a limit besides those of the job turns on the work, for it would have to be worked out anew.
    """
    if any(rule.kind in LIMITS for rule in search.foreign):
        return
    rows, held = search.rows, frozenset(chosen)
    for task in dict.fromkeys(task for task, _ in rows.largest(chosen)):
        for way in ways.get(task, ()):
            taken = rows.methods.get(task, next(w.method for w in ways[task] if w.usual))
            if not way.offered or way.method == taken or task in rows.job.methods:
                continue
            beside = copy(search)
            beside.rows = rows.done({**rows.methods, task: way.method})
            figure = beside.value(held)
            if figure < objective and beside.keeps(held):
                raise RefutedError(
                    f"the set called optimal ({', '.join(chosen) or 'no upgrade'}; {_figure(search.aim, objective)}) "
                    f"is not: with {task} done {way.what} it comes to {_figure(search.aim, figure)} and keeps every "
                    "wish and limit; neither answer can be relied on. next: try another --engine; if it says the "
                    "same, this is a fault in the program itself"
                )


def hold_infeasible(search: PlainSearch) -> None:
    """RefutedError if a plain search finds a set that keeps everything where none is said to."""
    found = search.any_set()
    if found is not None:
        raise RefutedError(
            f"it was said that no set keeps every wish and limit, but a plain search found one: "
            f"{', '.join(sorted(found)) or 'no upgrade at all'}. next: try another --engine; if it says the "
            "same, this is a fault in the program itself"
        )


def _figure(aim: str, value: int) -> str:
    if aim == "score":
        return f"score {-value / 1000:.3f}"
    return f"{aim} {value / 100:.2f}{' min' if aim == 'hours' else ''}"


def priced_amiss(rows: Rows, estimate: Estimate) -> list[str]:
    """Where the totals of an estimate differ from the rows of the tables, in words."""
    plain, totals = rows.totals(estimate.chosen), estimate.totals
    money, wrong = totals.money, []
    cents = [(name.replace("_", " "), plain.money[name], getattr(money, name)) for name in HEADINGS]
    cents += [
        ("cost", plain.cost, totals.cost - money.freight),
        ("cash to lay out", plain.cash, money.cash - money.freight),
        ("price before tax", rows.to_pay(plain, totals.surety_min, taxed=False), totals.price),
        ("price to pay", rows.to_pay(plain, totals.surety_min), totals.to_pay),
    ]
    minutes = [
        ("hands-on minutes", plain.minutes, totals.attended),
        ("reserve minutes", plain.reserve, totals.reserve_min),
        ("waiting minutes", plain.wait, totals.unattended),
        ("desk minutes", plain.desk, totals.desk),
    ]
    for what, by_rows, told in (*cents, *minutes):
        if by_rows != told:
            wrong.append(f"{what} by the tables {by_rows / 100:.2f}, told {told / 100:.2f}")
    quoted = rows.quoted(plain)
    if abs(quoted - totals.surety_min) > 1:  # a float a hair from a half may go either way
        wrong.append(f"minutes quoted by the tables {quoted / 100:.2f}, told {totals.surety_min / 100:.2f}")
    if abs(plain.sd - totals.sd) > SPREAD_NOISE:
        wrong.append(f"spread by the tables {plain.sd:.4f} min, told {totals.sd:.4f} min")
    for upgrade in estimate.chosen:
        own = rows.verdicts[upgrade].upgrade.demands
        if _plain(rows.own_work(upgrade)) != _plain(own):
            wrong.append(f"the work of {upgrade} is not that of its rows in upgrade_work")
    return wrong


def _plain(demands: object) -> list[tuple[object, ...]]:
    assert hasattr(demands, "__iter__")
    asked: list[Demand] = list(demands)
    return sorted((d.task, d.place, d.quantity, d.share, tuple(sorted(d.levels.items()))) for d in asked)


def spec_amiss(rows: Rows, spec: Spec, estimate: Estimate, reached: Mapping[str, int]) -> list[str]:
    """Where the spec that is told (tenths of a level, thousandths of an amount) differs from the rows."""
    wrong = []
    for name, level in spec.levels(estimate.chosen).items():
        if reached.get(name, 0) != level:
            wrong.append(f"{name} reaches {level / 10:g} by the tables, told {reached.get(name, 0) / 10:g}")
    # every piece of the weight is rounded down to the tenth of a gram by itself
    pieces = len(rows.largest(estimate.chosen)) + 2 * len(estimate.chosen) + 1
    for name, amount in spec.amounts(estimate.chosen).items():
        if abs(amount - Decimal(reached.get(name, 0)) / 1000) > CRUMBS * pieces:
            wrong.append(
                f"{name} comes to {amount:.1f} by the tables, told {reached.get(name, 0) / 1000:.1f}"
            )
    return wrong
