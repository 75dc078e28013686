"""How long choices take, beside floors measured in the same run. Run with

    python -m tests.benchmarks.choice            (add --quick for the small sizes only)

Times are medians over the seeds, in milliseconds of processor time (child processes included, so
that other work on the machine does not count); read the ratios within a row all the same. Every answer is compared between engines on the
way: a benchmark of wrong answers is worth nothing.
"""

from __future__ import annotations

import argparse
import itertools
import os
import statistics
import subprocess
import sys
import time

from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.infeasible.conflicts import minimal_infeasible_sets
from estimator.choose.infeasible.ways_out import minimal_infeasible_set, ways_out
from estimator.choose.milp.linear import Linear, Row
from estimator.choose.milp.model import Programme
from estimator.choose.questions.all import NEAREST
from estimator.choose.questions.k_best import find_next_best
from estimator.choose.questions.pareto import pareto_front
from estimator.choose.questions.why import limit_ranges, why_chosen
from estimator.choose.questions.why_not import why_left_out
from estimator.choose.solvers.backends import ENGINES
from estimator.model.problem import Problem, Rule, Source, Weight
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, best, stepped_price, subsets
from tests.slow.choose.instances import ordered, typical

SEEDS = (1, 2, 3)


def busy() -> float:
    """Milliseconds of processor time so far, of this process and its children."""
    children = os.times()
    return 1000 * (time.process_time() + children.children_user + children.children_system)


def timed(work):
    start = busy()
    result = work()
    return result, busy() - start


def raw_highs(model, rows: list[Row], objective: Linear) -> float:
    """The same matrix handed over as arrays in one call: the floor for building and solving."""
    import highspy
    import numpy as np

    start = busy()
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(model.names), len(rows)
    lp.col_cost_ = np.array([objective.terms.get(c, 0) for c in range(len(model.names))], dtype=float)
    lp.col_lower_ = np.array(model.lower, dtype=float)
    lp.col_upper_ = np.array(model.upper, dtype=float)
    lp.row_lower_ = np.array([-highspy.kHighsInf if r.lower is None else r.lower for r in rows], dtype=float)
    lp.row_upper_ = np.array([highspy.kHighsInf if r.upper is None else r.upper for r in rows], dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *(len(r.columns) for r in rows)])
    lp.a_matrix_.index_ = np.array([c for r in rows for c in r.columns])
    lp.a_matrix_.value_ = np.array([v for r in rows for v in r.coefficients], dtype=float)
    kinds = {"held": highspy.HighsVarType.kContinuous}
    lp.integrality_ = [kinds.get(kind, highspy.HighsVarType.kInteger) for kind in model.kinds]
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.passModel(lp)
    solver.run()
    assert solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return busy() - start


def feasible(options: int, seeds=SEEDS) -> list[Problem]:
    """Problems of a size whose wish can be met."""
    found = []
    for seed in itertools.count(1):
        problem = typical(options, seed)
        if choose(problem, measure_of(problem), explain=False).status == "optimal":
            found.append(problem)
        if len(found) == len(seeds):
            return found
    return found


def table(title: str, heads: list[str], rows: list[list[object]]) -> None:
    cells = [heads, *([f"{c:.1f}" if isinstance(c, float) else str(c) for c in row] for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(heads))]
    print(f"\n{title}")
    for row in cells:
        print("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)), flush=True)


def single(sizes: list[int], engines: tuple[str, ...]) -> None:
    rows = []
    for size in sizes:
        problems = feasible(size)
        line: list[object] = [size]
        figures: dict[str, list[float]] = {}
        for problem in problems:
            measure = measure_of(problem)
            answers = set()
            for engine in engines:
                programme, built = timed(lambda e=engine: Programme(problem, measure, engine=e))  # noqa: B023
                total = programme.columns.total("cost")
                found, asked = timed(lambda p=programme, t=total: p.ask(t))
                answers.add(found.objective)
                figures.setdefault(f"{engine} 1 solve", []).append(built + asked)
                answer, whole = timed(lambda e=engine: choose(problem, measure, engine=e))  # noqa: B023
                answers.add(answer.objective)
                figures.setdefault(engine, []).append(whole)
                figures.setdefault("build", []).append(built)
            floor = raw_highs(programme.model, programme.rows(), total)
            figures.setdefault("raw", []).append(floor)
            assert len(answers) == 1, answers
        line += [len(programme.model.names), len(programme.model.rows)]
        names = ("raw", "build", "highs 1 solve", "highs", "cbc", "cpsat")
        line += [statistics.median(figures[n]) if n in figures else "-" for n in names]
        pairs = zip(figures["highs 1 solve"], figures["raw"], strict=True)
        line.append(statistics.median(a / b for a, b in pairs))
        rows.append(line)
    table(
        "One choice: raw = same matrix as arrays to HiGHS; 1 solve = build, hand over, solve, check; "
        "then with ties proven",
        ["options", "columns", "rows", "raw", "build", "1 solve", "highs", "cbc", "cpsat", "1 solve/raw"],
        rows,
    )


def buying(sizes: list[int], engines: tuple[str, ...]) -> None:
    """Whole packs and suppliers' freight: solved and proven, ties included."""
    rows = []
    for size in sizes:
        figures: dict[str, list[float]] = {}
        for seed in range(1, 9):
            problem = ordered(typical(size, seed), seed)
            measure = measure_of(problem)
            answers = set()
            programme = Programme(problem, measure)
            for engine in (*engines, None):
                if engine == "cbc":
                    continue
                answer, spent = timed(
                    lambda p=problem, m=measure, e=engine: choose(p, m, engine=e, explain=False)
                )
                answers.add((answer.status, answer.objective))
                figures.setdefault(engine or "by itself", []).append(spent)
            assert len(answers) == 1, answers
            if answer.status == "optimal":
                floor = raw_highs(programme.model, programme.rows(), programme.columns.total("cost"))
                figures.setdefault("raw", []).append(floor)
        for name, values in figures.items():
            rows.append([size, name, len(values), statistics.median(values), max(values)])
    table(
        "Whole packs and freight, eight seeds: raw = one solve of the same matrix as arrays by HiGHS",
        ["options", "engine", "runs", "median", "worst"],
        rows,
    )


def against_search() -> None:
    rows = []
    for size in (8, 12, 14):
        problem = replace(typical(size, 4), rules=())
        wish = Rule(Source.WISH, "level", "a0 at least level 2", "a0", 20)
        problem = replace(problem, rules=(wish,))
        measure = measure_of(problem, stepped_price)
        sets, searched = timed(lambda p=problem: [it for it in subsets(p) if it.levels["a0"] >= 20])
        answer, solved = timed(lambda p=problem, m=measure: choose(p, m, STEPPED, explain=False))
        wanted = best(sets, "cost")
        assert answer.chosen == (wanted.chosen if wanted else ())
        rows.append([size, len(sets), searched, solved, searched / solved])
    table("Against the search over all subsets", ["options", "sets", "search", "choose", "ratio"], rows)


def depth(sizes: list[int], engine: str | None) -> None:
    rows = []
    for size in sizes:
        figures: dict[str, list[float]] = {}
        points = []
        for problem in feasible(size):
            weights = tuple(Weight(s.attribute, 10_000, 30) for s in problem.scales)
            problem = replace(problem, weights=weights)
            measure = measure_of(problem)

            def programme(problem=problem, measure=measure, engine=engine):
                return Programme(problem, measure, engine=engine)

            answer, solved = timed(lambda p=problem, m=measure: choose(p, m))
            frontier, spent = timed(lambda make=programme: pareto_front(make()))
            figures.setdefault("frontier", []).append(spent)
            points.append(len(frontier.points))
            _, spent = timed(lambda p=problem, m=measure: naive_frontier(p, m))
            figures.setdefault("naive frontier", []).append(spent)
            ten, spent = timed(lambda make=programme: next_ten(make()))
            figures.setdefault("next best 10", []).append(spent)
            slow, spent = timed(lambda p=problem, m=measure: naive_next_best(p, m, 10))
            figures.setdefault("naive next best", []).append(spent)
            assert [a.objective for a in ten.sets] == slow
            asked = programme()
            _, spent = timed(
                lambda a=asked, o=answer: (
                    why_chosen(a, o.chosen, o.objective),
                    why_left_out(a, o.chosen, o.objective, nearest=NEAREST),
                    limit_ranges(a, o.chosen, o.objective),
                )
            )
            figures.setdefault("why", []).append(spent)
            figures.setdefault("solve and why", []).append(spent + solved)
            tight = Rule(Source.BUDGET, "money", "cost too low", most=answer.objective * 4 // 5, on="cost")
            asked = Programme(replace(problem, rules=(*problem.rules, tight)), measure, engine=engine)
            proof, spent = timed(lambda a=asked: a.ask(a.columns.total("cost")))
            assert proof.status == "infeasible"
            figures.setdefault("proof", []).append(spent)
            conflict, spent = timed(lambda a=asked: minimal_infeasible_set(a))
            figures.setdefault("conflict", []).append(spent)
            _, spent = timed(lambda a=asked, c=conflict: ways_out(a, c.rules))
            figures.setdefault("ways out", []).append(spent)
            _, spent = timed(lambda a=asked: minimal_infeasible_sets(a))
            figures.setdefault("all conflicts", []).append(spent)
        middle = {name: statistics.median(values) for name, values in figures.items()}
        rows.append(
            [
                size,
                statistics.median(points),
                middle["frontier"],
                middle["naive frontier"] / middle["frontier"],
                middle["next best 10"],
                middle["naive next best"] / middle["next best 10"],
                middle["solve and why"],
                middle["proof"],
                middle["conflict"],
                middle["ways out"],
                middle["all conflicts"],
            ]
        )
    heads = ["options", "points", "frontier", "naive/ours", "next 10", "naive/ours", "solve + why"]
    table(
        f"In depth, engine {engine or 'chosen by itself'}; naive = a new programme and two HiGHS solves for each "
        "of 40 levels (frontier) or for each set (next best)",
        [*heads, "proof", "conflict", "ways out", "all conflicts"],
        rows,
    )


def next_ten(programme: Programme):
    return find_next_best(programme, programme.columns.total("cost"), 10)


def naive_frontier(problem: Problem, measure) -> None:
    """Forty levels between the least and the most score, each from scratch."""
    bare = replace(problem, rules=tuple(r for r in problem.rules if r.kind not in ("level", "amount")))
    first = Programme(bare, measure, engine="highs")
    top = -(first.ask(first.score().times(-1)).objective or 0)
    for step in range(41):
        programme = Programme(bare, measure, engine="highs")
        score = programme.score()
        programme.model.add(score, top * step // 40, None, "structure")
        found = programme.ask(programme.columns.total("cost"))
        programme.model.add(programme.columns.total("cost"), None, found.objective, "structure")
        programme.ask(score.times(-1))


def naive_next_best(problem: Problem, measure, most: int) -> list[int]:
    """Each set from scratch, with its tie proven, and shut out by a row."""
    found: list[tuple[str, ...]] = []
    costs = []
    for _ in range(most):
        programme = Programme(problem, measure, engine="highs")
        programme.model.rows += [programme.no_good_cut(chosen) for chosen in found]
        total = programme.columns.total("cost")
        latest = programme.ask(total)
        if latest.chosen is None:
            break
        programme.model.add(total, None, latest.objective, "structure")
        programme.ask(programme.count())
        found.append(latest.chosen)
        costs.append(latest.objective)
    return costs


def imports() -> None:
    """What loading the engines takes in a fresh process, for comparison."""
    rows = []
    for module in ("pulp", "ortools.sat.python.cp_model"):
        command = [sys.executable, "-c", f"import {module}"]
        rows.append(
            [module, min(timed(lambda c=command: subprocess.run(c, check=True))[1] for _ in range(3))]
        )
    table("Whole process that only imports (processor time)", ["module", "ms"], rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="small sizes only")
    quick = parser.parse_args().quick
    engines = tuple(ENGINES)
    imports()
    single([30, 60] if quick else [30, 60, 200, 1000], engines)
    buying([30, 60], engines)
    against_search()
    depth([30] if quick else [30, 60], "highs")
    if "cpsat" in engines:
        depth([30] if quick else [30, 60], None)


if __name__ == "__main__":
    main()
