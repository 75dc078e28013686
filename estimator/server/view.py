"""What stands on the page of a job: every figure as a text, from the same stages that the commands print.

Nothing is worked out here. What only the shop may see stands in ``Owner``; where a customer looks on there is none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.choose.faults import faults_found
from estimator.choose.infeasible.due import day_of_return
from estimator.choose.infeasible.ways_out import WayOut
from estimator.choose.limits import limits_held
from estimator.choose.study import Choice, SpecRow, Study, all_parts, assumed_values
from estimator.choose.tools import without_tools_told
from estimator.choose.verify.choice import WHOLE_FROM
from estimator.choose.verify.sale import sold
from estimator.core.text import count, mid_sentence, of_unit, sentence_case, weekday_of
from estimator.core.units import lengths_as_read
from estimator.estimate.said import wishes_meant
from estimator.estimate.ways import upgrades_in
from estimator.fit.candidates import names
from estimator.model import Attribute, Job, Shop, Verdict
from estimator.model.problem import Rule, Source
from estimator.price.client.beyond_worth import beyond_worth_words
from estimator.price.client.quote import quote_for
from estimator.price.client.ready import Ready
from estimator.price.client.under_cost import under_cost, under_cost_words
from estimator.report.text.choice import limit_words
from estimator.report.text.terminal import hours, money, plain
from estimator.report.words.customer import level_for_customer, name_of_attribute, work_words
from estimator.report.words.nothing import met_already
from estimator.report.words.tools import tool_lines
from estimator.report.words.wish import day_kept, day_not_looked_at, refused_words, wish_words
from estimator.server.entries import AS_IN_FILE, MAY, MOST, MUST, NO_WISH, NOT, Entries

LEVELS = (1, 2, 3, 4)


class Option(Struct, frozen=True):
    """One of several things to choose from."""

    value: str
    words: str
    chosen: bool


class Wish(Struct, frozen=True):
    """What the customer may wish of one attribute, what it is today, and whether anything is asked.

    ``meant``: the words of the job may mean it.
    """

    attribute: str
    name: str
    today: str
    options: tuple[Option, ...]
    asked: bool
    meant: bool


class Fixed(Struct, frozen=True):
    """A piece of work that may be left to the choice, demanded or left out; ``why_not`` where it does not fit."""

    upgrade: str
    words: str
    options: tuple[Option, ...]
    state: str
    why_not: str = ""


class Chosen(Struct, frozen=True):
    """An upgrade of the answer."""

    upgrade: str
    words: str
    state: str


class Step(Struct, frozen=True):
    """A line of work at the bench: its number, what, how much, how long, and what for."""

    number: int
    what: str
    quantity: str
    minutes: str
    because: str


class Reached(Struct, frozen=True):
    """A wish beside what comes of it."""

    name: str
    today: str
    guess: bool
    wanted: str
    reached: str
    met: bool


class Owner(Struct, frozen=True):
    """What is for the shop's eyes only; blank where it does not apply. ``tools``: what is to get, or would pay."""

    earned: str
    earned_words: str
    lines: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str, str, str], ...]
    warning: str
    limits: tuple[tuple[str, str], ...]
    tools: tuple[str, ...]


class Answer(Struct, frozen=True):
    """The answer in view, with the reasons."""

    price: str
    price_words: str
    price_more: str
    hands_on: str
    hands_on_words: str
    ready: str
    ready_words: str
    only_by: str
    chosen: tuple[Chosen, ...]
    left: tuple[str, ...]
    steps: tuple[Step, ...]
    parts: tuple[tuple[str, str], ...]
    reached: tuple[Reached, ...]
    assumed: tuple[str, ...]
    met_words: str
    nothing: str
    proof: str
    spoken: str
    owner: Owner | None


def wishes(study_job: Job, shop: Shop, file_job: Job, standing: Mapping[str, SpecRow]) -> tuple[Wish, ...]:
    """What may be wished of each attribute: what is asked for first, then what the job's own words may mean."""
    meant = wishes_meant(shop, file_job.what)
    asked = {r.attribute: r for r in study_job.requirements}
    in_file = {r.attribute: r for r in file_job.requirements}
    found = []
    for attribute in shop.attributes.values():
        options = tuple(
            _levels(attribute, shop, study_job, asked.get(attribute.id), in_file.get(attribute.id))
        )
        if len(options) > 1 and attribute.id in standing:
            row = standing[attribute.id]
            today = _level(shop, row, row.now, study_job.is_bass) + (" (assumed)" if row.now_assumed else "")
            name = name_of_attribute(shop, attribute.id)
            found.append(
                Wish(attribute.id, name, today, options, attribute.id in asked, attribute.id in meant)
            )
    place = {name: number for number, name in enumerate(meant)}
    return tuple(sorted(found, key=lambda wish: (not wish.asked, place.get(wish.attribute, len(place)))))


def _levels(attribute: Attribute, shop: Shop, job: Job, asked: object, in_file: object) -> Iterable[Option]:
    from estimator.model import Requirement

    assert asked is None or isinstance(asked, Requirement)
    assert in_file is None or isinstance(in_file, Requirement)
    yield Option(NO_WISH, "no wish", asked is None)
    level = None if asked is None else asked.level
    if in_file is not None and in_file.level is None:
        yield Option(AS_IN_FILE, _amounts(attribute, in_file.least, in_file.most), asked == in_file)
    half = level is not None and level != level.to_integral_value()
    if half and in_file is not None and in_file.level == level:
        yield Option(AS_IN_FILE, f"level {plain(level or Decimal(0))}", True)
    for number in LEVELS:
        words = level_for_customer(shop, attribute.id, number, job.is_bass)
        if words:
            yield Option(str(number), words, level == number)


def _amounts(attribute: Attribute, least: Decimal | None, most: Decimal | None) -> str:
    ends = [
        f"{word} {plain(end)} {attribute.unit}".strip()
        for word, end in (("at least", least), ("at most", most))
        if end is not None
    ]
    return " and ".join(ends)


def fixed_work(study: Study) -> tuple[Fixed, ...]:
    """Every piece of work that may be fixed: by its row, and by itself where the job names one of a row."""
    shop, job = study.shop, study.job
    by_row: dict[str, list[Verdict]] = {}
    for verdict in study.verdicts:
        by_row.setdefault(verdict.upgrade.row.id, []).append(verdict)
    found = []
    for row, verdicts in by_row.items():
        named = shop.customer_names.get(("upgrade", row))
        words = sentence_case(named.words if named and named.words else shop.upgrades[row].what)
        found.append(_fixed(row, words, job, verdicts, shop.lengths))
        if len(verdicts) > 1 or verdicts[0].upgrade.id != row:
            found += [
                _fixed(v.upgrade.id, work_words(shop, v), job, [v], shop.lengths)
                for v in verdicts
                if v.upgrade.id != row and v.upgrade.id in (*job.required, *job.refused)
            ]
    return tuple(sorted(found, key=lambda item: bool(item.why_not)))


def _fixed(name: str, words: str, job: Job, verdicts: Sequence[Verdict], lengths: str) -> Fixed:
    state = MUST if name in job.required else NOT if name in job.refused else MAY
    told = {MAY: "the tool chooses", MUST: "must be done", NOT: "leave out"}
    options = tuple(Option(value, text, value == state) for value, text in told.items())
    why = ""
    if all(verdict.outcome == "does-not-fit" for verdict in verdicts):
        why = lengths_as_read(next(f.sentence for f in verdicts[0].findings if f.outcome == "no"), lengths)
    return Fixed(name, words, options, state, why)


def answer(choice: Choice, entries: Entries, ready: Ready) -> Answer:
    """The answer of a choice that was found."""
    study, estimate = choice.study, choice.estimate
    shop, job, totals = study.shop, study.job, estimate.totals
    currency = shop.terms.currency
    client = job.kind == "commission"
    price = money(totals.to_pay if client else totals.cost, currency)
    hands_on = hours(totals.expected)
    day = weekday_of(ready.day) if ready.day else f"{count(ready.days, 'day')}"
    owner = None if entries.looking else _owner(choice)
    earned = f", {owner.earned}" if owner and owner.earned else ""
    return Answer(
        price=price if client or not entries.looking else "",
        price_words=("to pay" if totals.tax else "price") if client else "cost",
        price_more="" if client else " to the shop",
        hands_on=hands_on,
        hands_on_words=f"80 % sure within {hours(totals.p80)}",
        ready=day,
        ready_words="promised at 80 %" if ready.day else "from the yes on",
        only_by=choice.only_by,
        chosen=_chosen(study, estimate.chosen),
        left=tuple(dict.fromkeys(f.what for f in faults_found(study, estimate.chosen) if not f.mended)),
        steps=tuple(_steps(choice)),
        parts=tuple(
            (
                sentence_case(p.what),
                "brought along"
                if p.owner == "customer"
                else money(p.price, currency)
                if client
                else plain(p.quantity),
            )
            for p in all_parts(study, estimate)
        ),
        reached=tuple(_reached(study, row) for row in choice.spec if row.asked),
        assumed=tuple(
            lengths_as_read(f"{v.name.replace('_', ' ')} {v.value} {v.unit}", shop.lengths).strip()
            for v in assumed_values(study, estimate.chosen)
        ),
        met_words=wish_words(choice.spec),
        nothing="" if estimate.chosen else met_already(choice),
        proof=_proof(choice, entries),
        spoken=f"{price}, {hands_on}, ready {day}{earned}"
        if client or not entries.looking
        else f"{hands_on}, ready {day}",
        owner=owner,
    )


def _proof(choice: Choice, entries: Entries) -> str:
    if not choice.answer.proven:
        return "the best that was found; not proven"
    if entries.aim == MOST:
        return "proven: no set within the limits comes nearer to the wishes"
    return "proven: no other set that meets the wishes is better"


def _chosen(study: Study, chosen: Sequence[str]) -> tuple[Chosen, ...]:
    verdicts = {v.upgrade.id: v for v in study.verdicts}
    return tuple(Chosen(i, work_words(study.shop, verdicts[i]), _state(study, verdicts[i])) for i in chosen)


def _state(study: Study, verdict: Verdict) -> str:
    return MUST if any(names(verdict.upgrade, name) for name in study.job.required) else MAY


def _steps(choice: Choice) -> Iterable[Step]:
    shop = choice.study.shop
    for number, line in enumerate(choice.estimate.lines, start=1):
        what = line.task.replace("-", " ") + (f", {line.place.replace('-', ' ')}" if line.place else "")
        what += f", {line.way}" if line.way else ""
        quantity = of_unit(plain(line.quantity), shop.tasks[line.task].driver)
        because = "; ".join(dict.fromkeys(line.because))
        yield Step(number, sentence_case(what), quantity, hours(line.minutes + line.setup), because)


def _reached(study: Study, row: SpecRow) -> Reached:
    shop, bass = study.shop, study.job.is_bass
    today, reached = (_level(shop, row, value, bass) for value in (row.now, row.reached))
    if row.least is not None and row.most is not None:
        wanted = f"{_level(shop, row, row.least, bass)} to {_level(shop, row, row.most, bass)}"
    elif row.least is not None:
        wanted = _level(shop, row, row.least, bass) + ("" if row.kind == "level" else " or more")
    else:
        wanted = f"at most {_level(shop, row, row.most or 0, bass)}"
    if row.expected:
        reached = f"{reached} (expected, to be measured)"
    name = name_of_attribute(shop, row.attribute)
    return Reached(name, today, row.now_assumed, wanted, reached, row.met)


def _level(shop: Shop, row: SpecRow, value: int, bass: bool) -> str:
    if row.kind != "level":
        amount = Decimal(value) / 1000
        return f"{plain(Decimal(round(amount)) if abs(value) >= WHOLE_FROM else amount)} {row.unit}".strip()
    words = level_for_customer(shop, row.attribute, value // 10, bass)
    return words or f"level {plain(Decimal(value) / 10)}"


def _owner(choice: Choice) -> Owner:
    study, estimate = choice.study, choice.estimate
    totals, currency = estimate.totals, study.shop.terms.currency
    parts = totals.money
    earned, words = "", ""
    if study.job.kind == "commission":
        quote = quote_for(study, estimate.chosen)
        if quote.earned is not None:
            earned, words = f"{money(quote.earned, currency)} an hour", "you earn, desk time counted too"
    elif study.problem.sale is not None:
        held = sold(study.problem, estimate.chosen)
        earned, words = money(held.profit, currency), "left over once your time is paid"
    rows = (
        ("Parts", parts.parts),
        ("Used up at the bench", parts.consumables),
        ("Wear of tools", parts.tools),
        ("Your time", parts.labour),
        ("Overhead", parts.overhead),
        ("Reserve for rework and hidden faults", parts.reserve),
        ("Freight", parts.freight),
        ("Cost to the shop", totals.cost),
        ("Cash to lay out", parts.cash),
    )
    told = tuple(
        (name, money(cents, currency)) for name, cents in rows if cents or name in ("Cost to the shop",)
    )
    below = under_cost(study.job, totals)
    lines = tuple(
        (p.what, plain(p.quantity), money(p.cost, currency), money(p.price, currency))
        for p in all_parts(study, estimate)
    )
    warning = f"{sentence_case(under_cost_words(totals.price, totals.cost, currency))}." if below else ""
    worth = beyond_worth_words(study.shop, study.job, totals.to_pay)
    warning = f"{warning} {sentence_case(worth)}.".strip() if worth else warning
    warning = f"{warning} {refused_words(study, estimate.chosen)}".strip()
    return Owner(earned, words, told, lines, warning, tuple(_limits(choice)), tuple(tool_lines(choice)))


def _limits(choice: Choice) -> Iterable[tuple[str, str]]:
    """Each limit and what is left of it, in the words of ``choose``."""
    currency = choice.study.shop.terms.currency
    measured = choice.answer.measure
    if measured is None:
        return
    for held in limits_held(choice.study.problem, choice.answer.chosen, measured):
        yield sentence_case(held.rule.words), limit_words(held, measured, currency)
    for words in (day_not_looked_at(choice.study), day_kept(choice.study)):
        if words:
            limit, _, told = words.partition(": ")
            yield sentence_case(limit), told


class Way(Struct, frozen=True):
    """A way out: in words, the figures of its set, and the entries that take it (None: it cannot be tapped)."""

    words: str
    figures: str
    query: str | None


class WhyNot(Struct, frozen=True):
    """Why there is no set: what clashes, the ways out, what is nearest.

    ``measuring``: what to measure, as it may let the wish be met; ``unmeasured``: that something is assumed, for a
    customer who looks on.
    """

    conflicts: tuple[tuple[str, ...], ...]
    ways: tuple[Way, ...]
    nearest: tuple[tuple[str, tuple[str, ...], str], ...]
    complete: bool
    measuring: tuple[str, ...] = ()
    unmeasured: str = ""


def why_not(choice: Choice, entries: Entries) -> WhyNot:
    """The reasons of a choice that was explained."""
    from estimator.choose.questions.clash_as_assumed import clash_as_assumed
    from estimator.report.text.no_choice import rules_in_words
    from estimator.report.words.clash import FOR_CUSTOMER, assumed_lines, measuring_ways

    answer, shop = choice.answer, choice.study.shop
    clash = clash_as_assumed(choice)

    asked = [
        rule for rule in choice.study.problem.rules if rule.source == Source.WISH and rule.kind == "level"
    ]

    def told(words: str) -> str:
        for rule in asked:
            words = words.replace(rule.words, _asked_words(choice.study, rule))
        return without_tools_told(words) if entries.looking else words

    ways = []
    for way in answer.ways_out:
        taken = _taken(way, entries)
        query = None if taken is None else taken.query()
        words = told(_way_words(choice.study, way))
        ways.append(Way(sentence_case(words), _figures(choice, way.measure, entries), query))
    nearest = [
        (title, tuple(told(words) for words in found.words), _figures(choice, found.measure, entries))
        for title, found in (
            ("Together these changes would do", answer.together),
            ("The whole wish, at the least beyond the limits", answer.whole_wish),
            ("The nearest to the wish within the limits", answer.within_limits),
            ("The nearest without all that must be done", answer.within_bare),
        )
        if found is not None
    ]
    return WhyNot(
        tuple(
            tuple(
                sentence_case(told(words))
                for words in (
                    *rules_in_words(found.rules, shop.lengths),
                    *([] if entries.looking else assumed_lines(clash.within(found.rules), shop.lengths)),
                )
            )
            for found in answer.conflicts
        ),
        tuple(ways),
        tuple(nearest),
        answer.explained,
        () if entries.looking else tuple(map(sentence_case, measuring_ways(clash, shop))),
        FOR_CUSTOMER if entries.looking and clash.refused else "",
    )


def _asked_words(study: Study, rule: Rule, at: int | None = None) -> str:
    """A level that is wished for, or a lesser one, in the words in which the page asks for it."""
    level, name = rule.least if at is None else at, name_of_attribute(study.shop, rule.attribute)
    words = level_for_customer(study.shop, rule.attribute, (level or 0) // 10, study.job.is_bass)
    return f"{mid_sentence(name)}: {words}" if words and (level or 0) % 10 == 0 else rule.words


def _way_words(study: Study, way: WayOut) -> str:
    """A way out in words, a lesser level in those of the page."""
    rule = way.rule
    if rule.source != Source.WISH or rule.kind != "level" or way.to is None or way.kind == "drop":
        return way.words
    lesser = _asked_words(study, rule, way.to)
    return way.words if lesser == rule.words else f"be content with {lesser} (now: {rule.words})"


def _figures(choice: Choice, measured: object, entries: Entries) -> str:
    from estimator.choose.measure import Measure

    assert isinstance(measured, Measure)
    currency = choice.study.shop.terms.currency
    told = [f"price {money(measured.price, currency)}"] if choice.study.problem.billed else []
    if not entries.looking:
        told += [f"cost {money(measured.cost, currency)}"]
    return ", ".join([*told, hours(measured.minutes)])


def hours_entry(least: int) -> str:
    """A limit of hours to type in, up to the next hundredth of one, so that it is not below what is needed.

    ``least`` in hundredths of a minute.
    """
    return f"{Decimal(-(-least // 60)) / 100:.2f}"


def _taken(change: object, entries: Entries) -> Entries | None:
    """The entries by which a change of one rule is made; None where the page has no entry for it."""
    from msgspec.structs import replace

    from estimator.choose.infeasible.ways_out import RuleChange

    assert isinstance(change, RuleChange)
    rule, to = change.rule, change.to
    if rule.is_money_asked:
        return replace(entries, money="" if to is None else f"{Decimal(to) / 100:.2f}")
    if rule.source == Source.BUDGET:
        return replace(entries, hours="" if to is None else hours_entry(to))
    if rule.kind == "due":
        return replace(entries, wanted_by="" if to is None else day_of_return(rule, to))
    if rule.source == Source.WISH and rule.kind == "level":
        whole = to is not None and to >= 10
        return entries.wishing(rule.of, str((to or 0) // 10) if whole else NO_WISH)
    if rule.source == Source.WISH and change.kind == "drop":
        return entries.wishing(rule.of, NO_WISH)
    if rule.source in (Source.REQUIRED, Source.REFUSED):
        return entries.doing(rule.of, MAY)
    return None


class Point(Struct, frozen=True):
    """A set of the frontier: its figures, what it adds to the one above and takes off, and marks."""

    cost: str
    price: str
    score: str
    hands_on: str
    marks: str
    more: tuple[str, ...]
    less: tuple[str, ...]


def points(choice: Choice, found: object) -> tuple[Point, ...]:
    """The sets of a frontier, each against the one above it."""
    from estimator.choose.questions.pareto import ParetoFront

    assert isinstance(found, ParetoFront)
    study, currency = choice.study, choice.study.shop.terms.currency
    verdicts = {v.upgrade.id: v for v in study.verdicts}
    told = []
    before: tuple[str, ...] = ()
    for point in found.points:
        chosen = upgrades_in(point.chosen)
        marks = [
            words
            for words, holds in (
                ("meets the wish", point.meets_wish),
                ("from here a cent buys less", point.knee),
                ("the answer above", chosen == choice.estimate.chosen),
            )
            if holds
        ]
        more, less = sorted(set(chosen) - set(before)), sorted(set(before) - set(chosen))
        told.append(
            Point(
                money(point.cost, currency),
                money(point.measure.price, currency) if study.problem.billed else "",
                f"{Decimal(point.score) / 1000:.1f}",
                hours(point.hours),
                ", ".join(marks),
                *(tuple(work_words(study.shop, verdicts[u]) for u in ids) for ids in (more, less)),
            )
        )
        before = chosen
    return tuple(told)
