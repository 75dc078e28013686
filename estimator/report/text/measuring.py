"""Which measurement next."""

from __future__ import annotations

from estimator.choose.questions.measure_next import MeasuringAdvice, WorthMeasuring
from estimator.choose.study import Choice
from estimator.core.text import count
from estimator.core.units import lengths_as_read
from estimator.report.record import table_of
from estimator.report.records.risk import Worth
from estimator.report.text.terminal import put, show_table

FIRST, SHOWN = 3, 12


def show(choice: Choice, looked: MeasuringAdvice, top: int | None = None) -> None:
    """The ranked list, and the three to take first; ``top``: how many lines the list has at most."""
    job, worths = choice.study.job, looked.worths
    if choice.answer.status == "infeasible":
        put(f"{job.id}: as things are assumed the wish cannot be met (estimator choose says why).")
    elif not choice.found:
        put(f"{job.id}: no answer was found in the time given; what follows is about verdicts alone.")
    if not worths:
        what = (
            "a verdict, the chosen set or its cost" if choice.found else "a verdict or a level that is wished"
        )
        put(
            f"{job.id}: {count(looked.tried, 'value')} assumed; within what the intake table calls likely none of "
            f"them, alone, can change {what}"
        )
    else:
        _show_table(choice, worths, top or SHOWN)
    _show_taken_for_seen(looked)


def _show_table(choice: Choice, worths: tuple[WorthMeasuring, ...], most: int) -> None:
    currency, shown = choice.study.shop.terms.currency, choice.study.shop.lengths
    # where the wish cannot be met, a verdict that bears on nothing of it is not what to measure first
    bearing = [w for w in worths if choice.found or w.rescues or w.wished]
    others = [w.field for w in (*bearing[most:], *(w for w in worths if w not in bearing))]
    if bearing:
        order = ", by worth: odds x money at stake" if choice.found else ""
        # without a set there is none whose money could be at stake
        without = () if choice.found else ("stake", "worth")
        show_table(
            f"Measure first ({choice.study.job.id}){order}",
            *table_of(Worth, bearing[:most], currency, without=without, lengths=shown),
        )
    if others:
        more = (
            f"{len(others)} more"
            if bearing
            else f"{len(others)} assumed values, none of which bears on the wish,"
        )
        put(f"{more} can change a verdict or what work costs: {', '.join(others)}.")
    if not bearing:
        return
    first = [w for w in bearing if w.worth or w.rescues][:FIRST] or bearing[:FIRST]
    named = "; ".join(f"{w.field} ({w.how or w.what})" for w in first)
    put(lengths_as_read(f"Measure these first: {named}.", shown))
    if choice.found:
        put(
            "worth = odds that the assumption is wrong x money at stake; one value at a time, within what is likely."
        )
    else:
        rescuing = [w.field for w in worths if w.rescues]
        put(
            f"The wish could be met if one of these is otherwise: {', '.join(rescuing)}."
            if rescuing
            else "None of the choices made again with one of these otherwise meets the wish."
        )


def _show_taken_for_seen(looked: MeasuringAdvice) -> None:
    if looked.taken_for_seen:
        put(
            "Taken for seen at a glance, though nobody wrote them down, and not tried: "
            + ", ".join(looked.taken_for_seen)
            + ". Write into the job file what is otherwise."
        )
