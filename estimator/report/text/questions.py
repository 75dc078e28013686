"""The further answers of a choice, as text, as data, and the frontier as a drawing."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import partial
from itertools import pairwise

from estimator.choose.as_assumed import named_as_assumed
from estimator.choose.infeasible.conflicts import InfeasibleSets
from estimator.choose.kept import change_of, is_kept, opened_with
from estimator.choose.milp.earning import usual_aim
from estimator.choose.questions.all import NEAREST, PostOptimality
from estimator.choose.questions.clash_as_assumed import unfit_in
from estimator.choose.questions.k_best import Alternative
from estimator.choose.questions.pareto import ParetoPoint
from estimator.choose.questions.sensitivity import SettingRange
from estimator.choose.questions.why import WhyChosen
from estimator.choose.study import Choice
from estimator.choose.verify.choice import score_reached
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import refusal
from estimator.core.money import cents
from estimator.core.save import Output, text_output
from estimator.estimate.tools.grades import GradeChoice
from estimator.model.problem import SPENT, Rule
from estimator.report.record import Beside, table_of
from estimator.report.records.questions import NEXT_LEAVES_OUT, Next, Point, Setting, Why, WhyNot
from estimator.report.text.no_choice import rules_in_words
from estimator.report.text.terminal import hours, money, put, show_table
from estimator.report.words.clash import assumed_lines
from estimator.report.words.ways import way_lines

#: a tool grade is told from so much a job on
WORTH_TELLING = Decimal("0.01")
#: and only where its higher price comes back in so many jobs: about what one bench does in a year
MOST_JOBS = 300


def show(choice: Choice, depth: PostOptimality) -> None:
    """Print what was asked for."""
    currency = choice.study.shop.terms.currency
    if depth.about and depth.about != choice.answer.chosen:
        put("What follows is about the cheapest set that meets the wish: " + ", ".join(depth.about) + ".")
    if depth.clashes is not None:
        _show_clashes(choice, depth.clashes)
    if depth.chosen:
        _show_why(depth, currency)
    if depth.chosen or depth.clashes is not None:
        _show_held_out(choice)
    if depth.left_out:
        _show_left_out(depth, currency, priced=choice.study.costing.baskets is None)
    if depth.ranges:
        for told in depth.ranges:
            on = told.rule.on or "time"
            low = _figure(told.rule, told.low, currency, ROUND_CEILING)
            if told.high is None:
                put(f"This set stays the best for any limit of {on} from {low} up.")
            else:
                high = _figure(told.rule, told.high, currency, ROUND_FLOOR)
                put(
                    f"This set stays the best for a limit of {on} from {low} to {high}; above: {', '.join(told.then)}."
                )
    if depth.settings:
        _show_settings(choice, depth, currency)
    if depth.late:
        put("Time ran out: not all of this was settled, and what is not settled is not told.")
    if depth.chosen:
        _show_tools(depth, currency)
        for line in way_lines(depth.ways, currency):
            put(line)
    if depth.next_best is not None:
        _show_next(depth, currency)
    if depth.frontier is not None:
        _show_frontier(choice, depth, currency)


def _show_held_out(choice: Choice) -> None:
    """What was not asked, as it would change for good what nobody asked to be changed."""
    for rule in (rule for rule in choice.study.problem.rules if is_kept(rule)):
        what = choice.study.shop.lasting.changes[change_of(rule)].what
        put(f"Would change {what} for good, so held out; open it with {opened_with(rule)}:")
        put(f"  {', '.join(rule.upgrades)}")


def _show_why(depth: PostOptimality, currency: str) -> None:
    show_table(
        "What each upgrade truly costs (forced work in, shared work only where nothing else brings it)",
        *table_of(Why, depth.chosen, currency, last=("without it", partial(_without, currency=currency))),
    )


def _figure(rule: Rule, value: int, currency: str, rounding: str) -> str:
    """A figure of a limit on money, or on minutes."""
    return money(Cents(value), currency) if rule.kind == "money" else hours(Hundredths(value), rounding)


def _without(chosen: WhyChosen, currency: str) -> str:
    if chosen.saving is not None:
        if chosen.saving == 0:
            return "another set costs the same"
        return f"the cheapest other set costs {money(chosen.saving, currency)} more"
    if chosen.least is not None:
        rule = chosen.needed_for[0]
        least = _figure(rule, chosen.least, currency, ROUND_CEILING)
        return f"takes {least} at least, over the limit: {rule.words}"
    if chosen.needed_for:
        return "cannot be met: " + "; ".join(rule.words for rule in chosen.needed_for)
    return "not proven in the time given"


def _show_clashes(choice: Choice, clashes: InfeasibleSets) -> None:
    """Every smallest group of demands that cannot hold together, and what of them rests on what is assumed."""
    lengths = choice.study.shop.lengths
    put(
        "Every smallest group of demands that cannot hold together"
        + ("" if clashes.complete else ", as far as time allowed")
        + ":"
    )
    for number, conflict in enumerate(clashes.sets, 1):
        put(f"  {number}. " + "; ".join(rules_in_words(conflict.rules, lengths)))
    named = unfit_in(rule for conflict in clashes.sets for rule in conflict.rules)
    for words in assumed_lines(named_as_assumed(choice.open_study, named), lengths):
        put(f"  {words}")


def _show_left_out(depth: PostOptimality, currency: str, priced: bool) -> None:
    """``priced``: whether a price can be told at which a part enters."""
    left_out = depth.left_out
    free = [x.upgrade for x in left_out if x.free]
    if free:
        put("Could be added at no cost, as all they need is done already: " + ", ".join(free) + ".")
    near = sorted(
        (x for x in left_out if x.dearer is not None and not x.free), key=lambda x: (x.dearer or 0, x.upgrade)
    )
    if not near and depth.late:
        return
    if not near:
        put("No other upgrade can be added or exchanged within the wish and the limits.")
        return
    show_table(
        f"Left out: the nearest {min(NEAREST, len(near))} that could be had",
        *table_of(WhyNot, near[:NEAREST], currency, without=() if priced else ("part_price_to_enter",)),
    )


def _show_settings(choice: Choice, depth: PostOptimality, currency: str) -> None:
    chosen = {c.upgrade for c in depth.chosen} or set(choice.answer.chosen)
    show_table(
        "This set stays the cheapest while one of these alone lies between",
        *table_of(
            Setting,
            depth.settings,
            currency,
            last=("outside it the cheapest is", partial(_outside, chosen=chosen)),
        ),
    )


def _outside(setting: SettingRange, chosen: set[str]) -> str:
    """The sets that take over below and above a range, against the chosen one."""
    told = []
    if setting.below:
        told.append("below: " + _against(setting.below, chosen))
    if setting.high is not None:
        told.append("above: " + (_against(setting.then, chosen) if setting.then else "a limit is reached"))
    return "; ".join(told)


def _against(other: tuple[str, ...], chosen: set[str]) -> str:
    return _difference(tuple(sorted(set(other) - chosen)), tuple(sorted(chosen - set(other))))


def _show_tools(depth: PostOptimality, currency: str) -> None:
    """Tools for which the other grade would have cost less on this job, from a cent on."""
    worth = [
        (t, cents(abs(t.payback.saved)))
        for t in depth.tools
        if abs(t.payback.saved) >= WORTH_TELLING and (t.payback.whole_jobs or 0) <= MOST_JOBS
    ]
    if not worth:
        put(
            "Tools: no other grade of a tool saves a cent on this job and is earned back within "
            f"{MOST_JOBS} such jobs."
        )
        return
    put("Tools that the other grade would make cheaper on this job:")
    for tool, saved in worth:
        put(f"  {tool.what}: {_grade_words(tool, money(saved, currency))}")


def _grade_words(tool: GradeChoice, saved: str) -> str:
    other = tool.cheapest.grade.name
    minutes = abs(tool.payback.saved_minutes)
    time = f" and {minutes:.0f} min" if minutes >= Decimal("0.5") else ""
    jobs = tool.payback.whole_jobs
    after = f", its higher price is earned back in {jobs} such jobs" if jobs else ""
    return f"reckoned as {tool.charged}; {other} saves {saved}{time}{after}"


def _show_next(depth: PostOptimality, currency: str) -> None:
    assert depth.next_best is not None
    against: Beside[Alternative] = ("against the best set", lambda of: _difference(of.added, of.dropped))
    show_table(
        "Next best sets" + ("" if depth.next_best.complete else " (as far as time allowed)"),
        *table_of(Next, depth.next_best.sets, currency, last=against),
    )
    put(f"Left out: {NEXT_LEAVES_OUT}.")


def _difference(added: tuple[str, ...], dropped: tuple[str, ...]) -> str:
    parts = []
    if dropped:
        parts.append("without " + ", ".join(dropped))
    if added:
        parts.append("with " + ", ".join(added))
    return "; ".join(parts) or "the best set"


def _show_frontier(choice: Choice, depth: PostOptimality, currency: str) -> None:
    assert depth.frontier is not None
    study = choice.study
    points = depth.frontier.points
    above = {point.chosen: before for before, point in pairwise(points)}
    last: Beside[ParetoPoint] = (
        "against the row above",
        lambda of: _step(set(of.chosen), set(above[of.chosen].chosen if of.chosen in above else ())),
    )
    show_table(
        "What a little more money buys: no other set is "
        + ("cheaper, better and quicker at once" if depth.frontier.with_hours else "both cheaper and better")
        + ("" if depth.frontier.complete else " (as far as time allowed)"),
        *table_of(Point, points, currency, last=last),
    )
    put(
        f"The score is {sum(item.weight for item in study.problem.weights) / 1000:.3f} when every wish is met in full."
    )
    if points and not any(point.meets_wish for point in points):
        put(
            "None of these meets the whole wish: the score counts the wishes by weight, and none is demanded."
        )
        if (best := _best_point(choice)) is not None:
            put(
                f"The chosen set does ({money(best.cost, currency)}, score {best.score / 1000:.3f}); of these one "
                "scores as much or more for no more money."
            )


def _step(chosen: set[str], before: set[str]) -> str:
    """What a set has more and less than the one before it."""
    apart = (("+", chosen - before), ("-", before - chosen))
    return "; ".join(f"{sign} {', '.join(sorted(names))}" for sign, names in apart if names) or "no upgrade"


def frontier_file(choice: Choice, depth: PostOptimality, path: str) -> Output:
    """The frontier as a drawing that is to be written, with the budget where it is on cost."""
    from estimator.report.svg.frontier import Marks, frontier_svg

    study = choice.study
    if depth.frontier is None or not depth.frontier.points:
        raise refusal(
            "--svg",
            "there is no frontier to draw",
            "no set within the limits, or nothing wished for",
            next_step="look at what choose says without --svg",
        )
    limits = [rule for rule in study.problem.rules if rule.kind in SPENT]
    spreads = study.problem.cost_spreads
    budget = min(
        (r.most for r in limits if r.on == "cost" and r.most is not None and not spreads), default=None
    )
    marks = Marks(
        None if budget is None else Cents(budget),
        tuple(rule.words for rule in limits),
        _best_point(choice),
        best_words(choice.answer.aim),
    )
    title = f"{study.job.id}: what a little more money buys"
    drawn = frontier_svg(depth.frontier, title, study.shop.terms.currency, marks)
    return text_output(path, drawn, force=True, extensions=(".svg",))


def best_words(aim: str) -> str:
    """What the best set of an aim is called beside the frontier."""
    from estimator.report.svg.frontier import CHEAPEST

    return CHEAPEST if aim == "cost" else "least price that meets the wish"


def _best_point(choice: Choice) -> ParetoPoint | None:
    """The chosen set as a point beside the frontier, if it is known to meet the wish."""
    answer, problem = choice.answer, choice.study.problem
    if not choice.found or answer.measure is None or answer.aim not in ("cost", usual_aim(billed=True)):
        return None
    measured = answer.measure
    score = score_reached(problem, answer.chosen)
    return ParetoPoint(answer.chosen, measured, measured.cost, score, measured.minutes, True)
