"""The short form of answers about a job: verdict, money, time, what to measure first, the one caution that matters.

The long form stands in the modules of each answer; the last line says how it is had.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from estimator.choose.faults import FoundFault, faults_found, held_by
from estimator.choose.questions.measure_first import measure_first
from estimator.choose.study import Choice, SpecRow, Study
from estimator.core.amounts import Hundredths
from estimator.core.money import percent
from estimator.core.text import count
from estimator.core.units import lengths_as_read
from estimator.estimate.risk.look_ahead import FitRisk, LookAhead, fit_as_assumed
from estimator.estimate.tax import CAUTION
from estimator.model import Estimate, Shop, Verdict
from estimator.report.text import choice as long
from estimator.report.text.choice import first_lines as first_lines
from estimator.report.text.no_choice import show_no_choice
from estimator.report.text.terminal import hours, money, put, whole
from estimator.report.words.cautions import first_caution
from estimator.report.words.faults import fault_sentences, held_sentences
from estimator.report.words.wish import refused_words, wish_words

if TYPE_CHECKING:
    from estimator.choose.questions.measure_next import MeasuringAdvice
    from estimator.price.client.quote import Quote

DRIVERS = 3
"""So much work is named that drives the spread."""


def more(what: str) -> None:
    """The last line: what --full tells besides."""
    put(f"--full: {what}")


def show_fit(
    verdicts: Sequence[Verdict],
    faults: Sequence[FoundFault],
    shop: Shop,
    shut: Sequence[str],
    top: int | None = None,
) -> None:
    """Faults, then upgrades by verdict; in words only what does not fit."""
    put(*fault_sentences(faults, shop.terms.currency, lengths=shop.lengths))
    by_outcome: dict[str, list[str]] = {"fits": [], "fits-after": [], "does-not-fit": []}
    for name, words, outcome in _outcomes(verdicts):
        by_outcome[outcome].append(f"{name}: {words}" if outcome == "does-not-fit" else name)
    fits, after, never = by_outcome.values()
    for title, names in (("Fits as it is", fits), ("Fits after more work", after)):
        if names:
            put(f"{title}: {', '.join(names[:top])}{long.beyond(names, top)}.")
    if never:
        put("Does not fit:", *(f"  {lengths_as_read(line, shop.lengths)}" for line in never[:top]))
        if top is not None and len(never) > top:
            put(f"  and {len(never) - top} more")
    put(*shut)
    more("every variant with the work it forces and what is assumed; --only ID: one of them")


def _outcomes(verdicts: Sequence[Verdict]) -> list[tuple[str, str, str]]:
    """Upgrades with their verdict in words, the variants named where they differ."""
    from estimator.report.words.fit import one_line

    rows: dict[str, dict[str, list[Verdict]]] = {}
    for verdict in verdicts:
        rows.setdefault(verdict.upgrade.row.id, {}).setdefault(verdict.outcome, []).append(verdict)
    told = []
    for row, found in rows.items():
        for outcome, alike in found.items():
            variants = [v.upgrade.variant for v in alike if v.upgrade.part]
            named = f"{row} ({', '.join(variants)})" if len(found) > 1 and variants else row
            told.append((named, one_line(alike[0]), outcome))
    return told


def show_choice(choice: Choice) -> None:
    """The best set in a few lines; or why there is none and the ways out."""
    study = choice.study
    if not choice.found:
        show_no_choice(choice, full=False)
        return
    long.show_head(choice)
    _show_figures(study, choice.estimate)
    long.show_budget(choice)
    _show_wish(study, choice.estimate, choice.spec)
    _show_first_and_caution(study, choice.estimate)
    more("the work in its order, parts, money, spec, all that is assumed, all cautions")


def show_estimate(study: Study, priced: Estimate) -> None:
    """A set that the user named in a few lines."""
    from estimator.choose.study import spec_rows

    put(f"{study.job.what or study.job.id}: " + (", ".join(priced.chosen) or "no upgrade, base work only"))
    _show_figures(study, priced)
    put(*long.limit_lines(study, priced))
    long.show_day_not_looked_at(study)
    _show_wish(study, priced, spec_rows(study, priced.chosen))
    _show_first_and_caution(study, priced)
    more("the work in its order, parts, money, spec, all that is assumed, all cautions")


def show_quote(choice: Choice) -> None:
    """Below the figure on a quote: time, the wish where it is not met, what to measure first and the caution."""
    put(time_words(choice.estimate))
    if any(row.asked and not row.met for row in choice.spec):
        _show_wish(choice.study, choice.estimate, choice.spec)
    _show_first_and_caution(choice.study, choice.estimate)


def _show_figures(study: Study, priced: Estimate) -> None:
    """Money and time."""
    totals, currency = priced.totals, study.shop.terms.currency
    tax = f" ({money(totals.to_pay, currency)} with tax)" if totals.tax else ""
    asked = f"price {money(totals.price, currency)}{tax}, " if study.job.for_customer else ""
    said = f"{asked}cost {money(totals.cost, currency)}, to lay out {money(totals.money.cash, currency)}"
    put(f"Money: {said}.")
    long.warn_under_cost(study, totals)
    put(time_words(priced), *long.worth_lines(study, {"": totals.to_pay}))


def _show_wish(study: Study, priced: Estimate, rows: Sequence[SpecRow]) -> None:
    """How far the wish is met, and the faults that are left."""
    currency = study.shop.terms.currency
    if words := wish_words(rows):
        put(words)
    shown = study.shop.lengths
    put(*(lengths_as_read(line, shown) for line in held_sentences(rows, held_by(study, priced.chosen))))
    left = [fault for fault in faults_found(study, priced.chosen) if not fault.mended]
    put(*fault_sentences(left, currency, bool(priced.chosen), lengths=shown))


def time_words(priced: Estimate) -> str:
    """Hands-on time with the reserve, its point of 80 %, and the waits."""
    totals = priced.totals
    waits = f"; waiting {hours(totals.unattended)}" if totals.unattended else ""
    return f"Time: {hours(totals.expected)} hands-on, 80 % sure within {hours(totals.p80)}{waits}."


def _show_first_and_caution(study: Study, priced: Estimate) -> None:
    if words := refused_words(study, priced.chosen):
        put(words)
    put(*first_lines(study, measure_first(study, priced.chosen)))
    put(*first_caution(study.shop, [priced]))


def show_risk(study: Study, of: LookAhead, risks: Sequence[FitRisk], top: int | None = None) -> None:
    """How long and how much, how sure, and what would make it surer."""
    from estimator.report.text.risk import at_fault

    currency = study.shop.terms.currency
    put(f"{study.job.id}: " + (", ".join(of.estimate.chosen) or "base work only"))
    put(
        f"On average {hours(Hundredths(round(of.closed.mean * 100)))}, {money(of.estimate.totals.cost, currency)}."
    )
    for row in of.surety:
        at = f"{hours(Hundredths(round(row.minutes * 100)))}, {money(row.cost, currency)}"
        put(f"{row.percent} of 100 such jobs stay within {at}.")
    driving = [
        f"{share.task.replace('-', ' ')} ({whole(share.minutes)} min, {share.variance_pct:.0f} % of what is uncertain)"
        for share in of.shares[: top or DRIVERS]
        if share.variance_pct >= 1
    ]
    if driving:
        put(f"What drives it: {', '.join(driving)}.")
    put(*at_fault(study, of.estimate))
    if risks:
        put(f"Odds that every part fits as assumed: {percent(fit_as_assumed(risks), 0)}.")
    put(*first_lines(study, measure_first(study, of.estimate.chosen)))
    put(*first_caution(study.shop, [of.estimate]))
    more("all that drives it, what every assumed value moves, what is used up and worn")


def show_measuring(choice: Choice, looked: MeasuringAdvice, top: int | None = None) -> None:
    """The three values to take first (or ``top``), with what each could change."""
    most = top or DRIVERS
    job, currency = choice.study.job, choice.study.shop.terms.currency
    shown = choice.study.shop.lengths
    bearing = [w for w in looked.worths if choice.found or w.rescues or w.wished]
    first = [w for w in bearing if w.worth or w.rescues][:most] or bearing[:most]
    if choice.answer.status == "infeasible":
        put(f"{job.id}: as things are assumed the wish cannot be met (estimator choose says why).")
    if not first:
        put(
            f"{job.id}: {count(looked.tried, 'value')} assumed; none of them, alone, is worth measuring first."
        )
    else:
        put(f"Measure first ({job.id}){', by odds x money at stake' if choice.found else ''}:")
    for number, w in enumerate(first, 1):
        at_stake = f"; {money(w.stake, currency)} at stake, odds {percent(w.chance, 0)}" if w.stake else ""
        told = f"{w.field} ({w.how or w.what}): assumed {w.assumed}, could be {w.could_be}{at_stake}."
        put(f"  {number}. {lengths_as_read(told, shown)}", f"     {lengths_as_read(w.changes, shown)}.")
    rescuing = [w.field for w in bearing if w.rescues]
    if rescuing:
        put(f"The wish could be met if one of these is otherwise: {', '.join(rescuing)}.")
    others = len(looked.worths) - len(first)
    more(
        f"{others} more values that can change a verdict or what work costs"
        if others
        else "the same as a table"
    )


def show_price(study: Study, quote: Quote, priced: Estimate) -> None:
    """What to charge, the deposit, what it pays the shop, the time it rests on."""
    currency = study.shop.terms.currency
    steps, dues = quote.steps, quote.dues
    tax = f" (of it tax {money(quote.tax, currency)})" if quote.tax else ""
    put(
        f"{study.job.id}: to pay {money(quote.to_pay, currency)}{tax}; deposit {money(quote.deposit, currency)}."
    )
    billed = hours(steps.billed_min)
    put(
        f"Of it {billed} of labour at {money(quote.rate, currency)} an hour, "
        f"parts with mark-up {money(steps.parts, currency)}."
    )
    if dues.due != quote.to_pay:
        put(f"Left to pay: {money(dues.due, currency)}.")
    if quote.charged:
        put(f"In the price besides the work: {'; '.join(quote.charged)}.")
    earned = "" if quote.earned is None else f"; it pays {money(quote.earned, currency)} an hour"
    put(*long.limit_lines(study, priced, broken_alone=True))
    put(f"Shop only: floor {money(quote.floor, currency)}{earned}.")
    long.warn_under_cost(study, priced.totals)
    put(time_words(priced), *long.worth_lines(study, {"": priced.totals.to_pay}))
    put(*first_lines(study, measure_first(study, quote.chosen)))
    if not (study.shop.terms.tax_parts or study.shop.terms.tax_labour):
        put(CAUTION)
    more("every step of the price, and the terms that the customer agrees to")
