"""Results as text for a terminal: tables through rich, plain and of fixed width when piped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from msgspec import Struct

from estimator.choose.faults import FoundFault, faults_found, held_by
from estimator.choose.infeasible.due import day_of_return
from estimator.choose.limits import LimitHeld, limits_held
from estimator.choose.measure import Measure
from estimator.choose.milp.earning import NONE_EARNS, aims_in
from estimator.choose.questions.measure_first import First, measure_first
from estimator.choose.study import NAMED, Choice, SpecRow, Study, assumed_values
from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import percent
from estimator.core.units import lengths_as_read
from estimator.estimate.costing import surety_minutes
from estimator.estimate.three_point import z_of
from estimator.model import Estimate, Job, Shop, Totals, Verdict, WorkLine
from estimator.price.client.beyond_worth import offers_beyond_worth_words
from estimator.price.client.under_cost import under_cost, under_cost_words
from estimator.report.record import Beside, columns, table_of
from estimator.report.records.fit import Alike, AlikeTold
from estimator.report.records.wish import Spec, Wished
from estimator.report.records.work import LineOfWork, Sums, Totalled, Work, lines_of
from estimator.report.text.no_choice import show_no_choice
from estimator.report.text.terminal import hours, money, put, show_table
from estimator.report.words import part_lines
from estimator.report.words.cautions import caution_words
from estimator.report.words.faults import fault_sentences, held_sentences
from estimator.report.words.fit import one_line
from estimator.report.words.nothing import why_nothing
from estimator.report.words.wish import day_kept, day_not_looked_at, refused_words

REASON = 32
"""Columns for the reason of a line of work."""


def _reasons(because: Sequence[str]) -> str:
    """The first reason, cut to whole words that fit, and how many more there are; --json has them all."""
    first = because[0] if because else ""
    more = f" (and {len(because) - 1} more)" if len(because) > 1 else ""
    room = REASON - len(more)
    if len(first) > room:
        cut = first[:room].rpartition(" ")[0] or first.partition(" ")[0]
        first = cut if cut == first else f"{cut.rstrip(' ,;:')} …"
    return first + more


class FitRows(Struct, frozen=True):
    """The verdicts to show, the number of every upgrade of the job, and how many lines at most."""

    verdicts: Sequence[Verdict]
    numbers: Mapping[str, int]
    top: int | None = None


def beyond(rows: Sequence[object], top: int | None) -> str:
    """How many are left out of a list that shows the first ``top``."""
    return f" and {len(rows) - top} more" if top is not None and len(rows) > top else ""


def _alike(rows: FitRows, shown: str) -> list[Alike]:
    """Verdicts in words, variants of an upgrade with the same verdict on one line, each with its number."""
    lines: dict[tuple[str, str], Alike] = {}
    for verdict in rows.verdicts:
        upgrade, words = verdict.upgrade, lengths_as_read(one_line(verdict), shown)
        line = lines.setdefault((upgrade.row.id, words), Alike(upgrade.row.id, words, [], set()))
        line.variants.append(f"{rows.numbers[upgrade.id]} {upgrade.variant}".strip())
        line.assumed.update(value.name for finding in verdict.findings for value in finding.assumed)
    return list(lines.values())


def show_fit(
    job: Job,
    rows: FitRows,
    show_working: bool,
    faults: Sequence[FoundFault],
    shop: Shop,
) -> None:
    """The faults found, then one line a verdict; with ``show_working`` all numbers of every finding.

    A working is arithmetic in mm, so its values stand in mm beside what is read.
    """
    for line in fault_sentences(faults, shop.terms.currency, lengths=shop.lengths):
        put(line)
    if not show_working:
        lines = _alike(rows, shop.lengths)
        show_table(f"Does it fit? {job.what or job.id}", *table_of(AlikeTold, lines[: rows.top]))
        if left := beyond(lines, rows.top):
            put(f"{left.strip()}; without --top all of them")
        put("assumed: how many of the values looked at nobody measured; --show-working names them, with the")
        put(
            "formula and numbers of every finding. An upgrade's id is its name, a dash, and the variant in brackets."
        )
        put("--with takes the number in brackets as well, as long as job and shop stay the same.")
        return
    for verdict in rows.verdicts[: rows.top]:
        put(f"{verdict.upgrade.id}: {lengths_as_read(one_line(verdict), shop.lengths)}")
        for finding in verdict.findings:
            sentence = lengths_as_read(finding.sentence, shop.lengths, beside=True)
            put(f"  {finding.rule} {finding.outcome}: {sentence}")
            if finding.working:
                put(f"      {finding.working}")
            for value in finding.used:
                mark = "assumed" if value.assumed else "measured"
                read = lengths_as_read(f"{value.value} {value.unit}", shop.lengths, beside=True).rstrip()
                put(f"      {value.name} = {read} ({mark})")


def _named(line: WorkLine) -> str:
    """The task of a line, its place, and the way it is done where there is more than one."""
    words = [line.task, *([line.place] if line.place else [])]
    way = f" ({line.method.replace('-', ' ')})" if line.method else ""
    return ", ".join(word.replace("-", " ") for word in words) + way


def _show_work(study: Study, priced: Estimate) -> None:
    task: Beside[LineOfWork] = ("task", lambda of: _named(of.line))
    why: Beside[LineOfWork] = ("for", lambda of: _reasons(of.line.because))
    show_table(
        "Work, in its order",
        *table_of(Work, lines_of(study, priced), study.shop.terms.currency, task, why),
    )
    part_lines.show(study, priced)


def _show_totals(study: Study, priced: Estimate) -> None:
    totals, currency = priced.totals, study.shop.terms.currency
    sums = Sums(totals, study.job.for_customer)
    asked = f"{totals.surety.normalize():f} %"
    held = f"{'between average and' if totals.between else 'at'} {asked} surety"
    told = {
        "held": "on average" if totals.at_mean else held,
        "packs": ", packs whole" if study.costing.setting.whole_packs else " by use",
    }
    nothing = {"freight": not study.costing.baskets, "tax": not totals.tax, "to_pay": not totals.tax}
    rows = [
        (figure.head.format(**told), figure.read(sums, currency))
        for figure in columns(Totalled)
        if figure.value(sums) is not None and not nothing.get(figure.name)
    ]
    show_table("Money", ("", ""), rows, right=(1,))
    warn_under_cost(study, totals)
    desk = f", desk work {hours(totals.desk)} (not billed)" if totals.desk else ""
    at_surety = surety_minutes(totals.expected, totals.sd, z_of(totals.surety, study.shop.terms.skew))
    also = "" if totals.surety == 80 else f", {asked} within {hours(at_surety)}"
    put(
        f"Time: hands-on {hours(totals.expected)}, of it {hours(totals.expected - totals.attended)} held in reserve; "
        f"80 % sure within {hours(totals.p80)}{also}; waiting {hours(totals.unattended)}{desk}.",
        *worth_lines(study, {"": totals.to_pay}),
    )


def warn_under_cost(study: Study, totals: Totals) -> None:
    """Say by how much the customer's price lies under what the work costs the shop, if it does."""
    if under_cost(study.job, totals):
        put(f"Warning: {under_cost_words(totals.price, totals.cost, study.shop.terms.currency)}.")


def worth_lines(study: Study, offers: Mapping[str, Cents]) -> list[str]:
    """That the work costs the customer more than the instrument would bring, if it does by any of some offers."""
    words = offers_beyond_worth_words(study.shop, study.job, offers)
    return [f"Worth: {words}."] if words else []


def _aim_in_words(aim: str) -> str:
    """``least cost to the shop``, for a chain one after the other."""
    from estimator.choose.milp.objectives import OBJECTIVES, objectives_of

    meets = "" if aim.startswith("score") else " that meets the wish"
    return "the " + ", then the ".join(OBJECTIVES[name].sentence for name in objectives_of(aim)) + meets


def _show_aim(choice: Choice) -> None:
    """The figure aimed at where the tables of money and time do not show it: profit, pay an hour, score."""
    value, currency = choice.answer.objective, choice.study.shop.terms.currency
    aim = aims_in(choice.answer.aim)[0]
    if value is None or aim not in ("profit", "hourly", "score"):
        return
    full = sum(item.weight for item in choice.study.problem.weights) / 1000
    words = {
        "profit": f"a profit of {money(Cents(value), currency)}",
        "hourly": f"{money(Cents(value), currency)} an hour",
        "score": f"a score of {value / 1000:.3f}, of {full:.3f} when every wish is met in full",
    }
    put(f"That comes to {words[aim]}.")
    if choice.answer.none_earns:
        put(f"{NONE_EARNS[0].upper()}{NONE_EARNS[1:]}.")


def show_budget(choice: Choice) -> None:
    """Each limit of the job and how much of it is left."""
    if choice.answer.measure is not None:
        put(*_limits(choice.study, choice.answer.chosen, choice.answer.measure, False))
        show_day_not_looked_at(choice.study)


def show_day_not_looked_at(study: Study) -> None:
    """That a promised day is held against nothing, if it is so."""
    if words := day_not_looked_at(study):
        put(f"Limit: {words}.")


def _show_day_kept(study: Study) -> None:
    if words := day_kept(study):
        put(f"Limit: {words}.")


def limit_lines(study: Study, priced: Estimate, broken_alone: bool = False) -> list[str]:
    """Each limit of the job and what a set leaves of it, or by how much it goes beyond; ``broken_alone``: only the latter."""
    return _limits(study, priced.chosen, study.measure_of(priced.totals), broken_alone)


def _limits(study: Study, chosen: Sequence[str], measure: Measure, broken_alone: bool) -> list[str]:
    return [
        f"Limit: {held.rule.words}; {limit_words(held, measure, study.shop.terms.currency)}."
        for held in limits_held(study.problem, chosen, measure)
        if held.left < 0 or not broken_alone
    ]


def limit_words(held: LimitHeld, measure: Measure, currency: str) -> str:
    """What a set comes to under a limit: what is left of it, or the soonest day on which it can be done."""
    rule, beyond = held.rule, held.left < 0
    if rule.kind == "due":
        return f"done on {day_of_return(rule, held.comes_to)} at the soonest{': TOO LATE' if beyond else ''}"
    # the cost told above is the mean, and the limit is held at more
    at_surety = rule.on == "cost" and measure.cost_spread
    sure = f"{money(Cents(held.comes_to), currency)} at that surety, " if at_surety else ""
    size = abs(held.left)
    left = money(Cents(size), currency) if rule.kind == "money" else hours(Hundredths(size))
    return f"{sure}{left} {'BEYOND it' if beyond else 'left'}"


def _show_spec(rows: Sequence[SpecRow]) -> None:
    asked = [Wished(row, ()) for row in rows if row.asked]
    show_table("Spec (levels 0 to 4)", *table_of(Spec, asked))
    for row in (row for row in rows if row.asked and row.by):
        expected = ""
        if row.rests_on:
            names = ", ".join(name.replace("-", " ") for name in row.rests_on)
            expected = f"; expected, not promised: {names} today is assumed"
        expected += "".join(f"; expected, not promised: {why}" for why in row.may_fail)
        put(f"{row.attribute.replace('-', ' ')}: by {', '.join(row.by)}; check: {row.verified_by}{expected}.")
    _show_met_as_assumed(rows)


def _show_met_as_assumed(rows: Iterable[SpecRow]) -> None:
    """What meets the wish only if it stands as it is taken to: nothing is done to it, and nobody looked."""
    for row in rows:
        if row.met_as_assumed:
            name, now = row.attribute.replace("-", " "), Wished(row, ()).told(row.now)
            put(
                f"{name}: nothing raises it, and today's {now} is assumed; measure before it is promised: {row.verified_by}."
            )


def _show_faults(study: Study, chosen: Sequence[str], rows: Iterable[SpecRow]) -> None:
    """What holds the spec down where it stands, and every fault found with what mends it."""
    shown = study.shop.lengths
    for line in held_sentences(rows, held_by(study, chosen)):
        put(lengths_as_read(line, shown))
    for line in fault_sentences(
        faults_found(study, chosen), study.shop.terms.currency, bool(chosen), lengths=shown
    ):
        put(line)


def _show_assumed(study: Study, chosen: Sequence[str]) -> None:
    values = assumed_values(study, chosen)
    of_part = [v for v in values if v.dimension]
    of_instrument = [v for v in values if v not in of_part]
    if of_instrument:
        read = (f"{v.name} {v.value} {v.unit}".rstrip() for v in of_instrument)
        names = ", ".join(lengths_as_read(each, study.shop.lengths) for each in read)
        put(f"Assumed of the instrument, not measured: {names}.")
    if of_part:
        put(f"Typical values taken for the parts: {', '.join(v.dimension for v in of_part)}.")
    if values:
        put("Measure before you order or cut; fit --show-working tells what each value decides.")


def first_lines(study: Study, found: Sequence[First]) -> list[str]:
    """What to measure first, one a line, with what it moves and the odds that it does."""
    currency = study.shop.terms.currency
    told = [
        lengths_as_read(
            f"{one.field}, {one.what}{f' ({one.how})' if one.how else ''}: moves the cost by up to"
            f" {money(one.moves, currency)}, odds {percent(one.chance, 0)}",
            study.shop.lengths,
        )
        for one in found
    ]
    return ["Measure first, by odds x money:", *(f"  {words}" for words in told)] if told else []


def show_cautions(study: Study, priced: Estimate) -> None:
    """The usual cautions of the work of a set, each once."""
    hazards = dict.fromkeys(h for line in priced.lines for h in study.shop.tasks[line.task].hazards)
    for code in sorted(hazards):
        put(caution_words(study.shop.hazards[code]))
    if hazards:
        put("Usual workshop cautions only; product labels and local codes come first.")


def show_estimate(study: Study, priced: Estimate) -> None:
    """The priced work of a set that the user named."""
    from estimator.choose.study import spec_rows

    put(f"{study.job.what or study.job.id}: " + (", ".join(priced.chosen) or "no upgrade, base work only"))
    _show_work(study, priced)
    _show_totals(study, priced)
    put(*limit_lines(study, priced))
    show_day_not_looked_at(study)
    _show_day_kept(study)
    rows = spec_rows(study, priced.chosen)
    if any(row.asked for row in rows):
        _show_spec(rows)
    _show_faults(study, priced.chosen, rows)
    _show_assumed(study, priced.chosen)
    put(*first_lines(study, measure_first(study, priced.chosen)))
    show_cautions(study, priced)


def show_head(choice: Choice) -> None:
    """What the set is, what was aimed at and whether it is proven."""
    study, answer = choice.study, choice.answer
    title = study.job.what or study.job.id
    proof = "proven optimal" if answer.proven else f"not proven, gap {answer.gap or 0:.2%}"
    put(f"{study.job.id}: {title}")
    if choice.only_by:
        put(choice.only_by)
    put(
        "The set that was named:"
        if answer.status == NAMED
        else f"The set with {_aim_in_words(answer.aim)} ({proof}):"
    )
    verdicts = {v.upgrade.id: v for v in study.verdicts}
    for identity in choice.estimate.chosen:
        put(f"  {identity}: {verdicts[identity].what}")
    if not choice.estimate.chosen:
        put(f"  nothing: {why_nothing(choice)}")
    _show_aim(choice)


def show_choice(choice: Choice) -> None:
    """The best set and what it comes to; or why there is none and the ways out."""
    study = choice.study
    if not choice.found:
        show_no_choice(choice)
        _show_faults(study, (), ())
        return
    show_head(choice)
    _show_work(study, choice.estimate)
    _show_totals(study, choice.estimate)
    show_budget(choice)
    _show_day_kept(study)
    _show_spec(choice.spec)
    _show_faults(study, choice.estimate.chosen, choice.spec)
    _show_assumed(study, choice.estimate.chosen)
    if words := refused_words(study, choice.estimate.chosen):
        put(words)
    put(*first_lines(study, measure_first(study, choice.estimate.chosen)))
    show_cautions(study, choice.estimate)


def show_quote(choice: Choice, written: Sequence[Path]) -> None:
    """What was written and the figure on it."""
    totals = choice.estimate.totals
    currency = choice.study.shop.terms.currency
    for path in written:
        put(f"wrote {path}")
    if choice.only_by:
        put(choice.only_by)
    price = f"price {money(totals.to_pay, currency)}, " if choice.study.job.for_customer else ""
    put(f"{price}cost {money(totals.cost, currency)}")
    put(*limit_lines(choice.study, choice.estimate, broken_alone=True))
    warn_under_cost(choice.study, totals)
    put(*worth_lines(choice.study, {"": totals.to_pay}))
