"""What ``estimate`` and ``choose`` answer."""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.choose.as_assumed import Guess, RefusedAsAssumed, refused_as_assumed
from estimator.choose.faults import faults_found
from estimator.choose.infeasible.conflicts import Compromise
from estimator.choose.infeasible.ways_out import RuleChange, WayOut
from estimator.choose.kept import change_of
from estimator.choose.measure import Measure
from estimator.choose.milp.earning import NONE_EARNS, aims_in
from estimator.choose.questions.all import PostOptimality
from estimator.choose.questions.clash_as_assumed import NO_CLASH, ClashAsAssumed, clash_as_assumed
from estimator.choose.study import Choice, Study, assumed_values, spec_rows
from estimator.core.amounts import Cents
from estimator.core.cell_text import plain_number
from estimator.core.money import money_text
from estimator.estimate.freight import Bought, Order
from estimator.estimate.tools.to_get import ToolsGot
from estimator.estimate.ways import upgrades_in
from estimator.model import Estimate
from estimator.model.problem import Rule
from estimator.price.client.beyond_worth import brings_less
from estimator.price.client.under_cost import under_cost
from estimator.report.record import MINUTES, MONEY, ROWS, WHOLE, WORDS, Kind, Record, Teller, plain_data
from estimator.report.records.questions import Questions
from estimator.report.records.tools import Tools
from estimator.report.records.wish import (
    IN_ITS_UNIT,
    Assumed,
    Fault,
    Held,
    LimitsAndMeasures,
    Spec,
    in_its_unit,
    wished,
)
from estimator.report.records.work import Part, Sums, Totalled, Work, lines_of, parts_of
from estimator.report.records.worth import BringsLess

BY_AIM = Kind("money, min or score, by the aim", plain_data)
SHARE = Kind("share of one", plain_data)


class Priced(Struct, frozen=True):
    """A set that was named, priced."""

    study: Study
    estimate: Estimate
    tools: ToolsGot | None = None


_priced = Teller[Priced]()


class EstimateAnswer(Record[Priced]):
    """What ``estimate`` answers."""

    job = _priced.text("id of the job", lambda of: of.study.job.id)
    upgrades = _priced.words("the set", lambda of: of.estimate.chosen)
    totals = _priced.one(
        Totalled,
        "what it comes to",
        lambda of: Sums(of.estimate.totals, of.study.job.for_customer),
    )
    price_under_cost = _priced.money(
        "by what the price lies under the cost", lambda of: _under_cost(of.study, of.estimate)
    )
    instrument_brings_less = _priced.one(
        BringsLess,
        "what the instrument brings, where the price lies above it",
        lambda of: brings_less(of.study.shop, of.study.job, of.estimate.totals.to_pay),
    )
    held = _priced.joined(
        LimitsAndMeasures,
        lambda of: Held(of.study, of.estimate.chosen, of.study.measure_of(of.estimate.totals)),
    )
    work = _priced.rows(Work, "the work in its order", lambda of: lines_of(of.study, of.estimate))
    parts = _priced.rows(Part, "parts and strings", lambda of: parts_of(of.study, of.estimate))
    spec = _priced.rows(
        Spec,
        "what is wished for, and what is reached",
        lambda of: wished(of.study, of.estimate.chosen, spec_rows(of.study, of.estimate.chosen)),
    )
    faults = _priced.rows(
        Fault, "what is wrong with the instrument", lambda of: faults_found(of.study, of.estimate.chosen)
    )
    assumed = _priced.rows(
        Assumed, "what nobody measured", lambda of: assumed_values(of.study, of.estimate.chosen)
    )
    mass_change_g = _priced.number("g that the instrument gains", lambda of: of.estimate.mass_change_g)
    tools = _priced.joined(Tools, lambda of: of.tools)


_guess = Teller[Guess]()
_refused = Teller[tuple[RefusedAsAssumed, ClashAsAssumed]]()


class Guessed(Record[Guess]):
    """A value that nobody took, and one with which the work would fit."""

    name = _guess.text("the value, an id of intake.csv or a size of a part", lambda of: of.name)
    assumed = _guess.text("what is assumed, with its unit", lambda of: of.assumed)
    could_be = _guess.text(
        "with what it would fit, within what is likely; none of a size of a part",
        lambda of: of.could_be or None,
    )


class Refused(Record[tuple[RefusedAsAssumed, ClashAsAssumed]]):
    """Work that only an assumed value refuses."""

    upgrade = _refused.text("the upgrade", lambda of: of[0].upgrade)
    assumed = _refused.words("what is assumed, ids of intake.csv", lambda of: of[0].assumed)
    together = _refused.yes(
        "it fits only with all of these otherwise, not with one", lambda of: of[0].together
    )
    values = _refused.rows(Guessed, "the same with their values", lambda of: of[0].guesses)
    wish_met_with = _refused.of(
        WORDS,
        "of a wish that cannot be met: a set that then meets it, solved again; none where none was found",
        lambda of: of[1].met_with(of[0]),
    )


def _refused_of(choice: Choice) -> list[tuple[RefusedAsAssumed, ClashAsAssumed]]:
    """Beside a set what else stands at its places; without one what stands in the clashes."""
    if choice.found:
        return [(one, NO_CLASH) for one in refused_as_assumed(choice.study, choice.estimate.chosen)]
    clash = clash_as_assumed(choice)
    return [(one, clash) for one in clash.refused]


def _under_cost(study: Study, estimate: Estimate) -> Cents | None:
    return under_cost(study.job, estimate.totals) if study.job.for_customer else None


_rule = Teller[Rule]()
_change = Teller[RuleChange]()


class RuleTold(Record[Rule]):
    """A requirement or limit, in the user's words."""

    rule = _rule.text("id of the rule", lambda of: of.id)
    words = _rule.text("in words", lambda of: of.words)


class Change(Record[RuleChange]):
    """What becomes of a rule."""

    rule = _change.text("id of the rule", lambda of: of.rule.id)
    kind = _change.text("raise, lower or drop", lambda of: of.kind)
    to = _change.of(
        IN_ITS_UNIT,
        "to what; none where it is dropped",
        lambda of: None if of.to is None else in_its_unit(of.rule, of.to),
    )
    words = _change.text("in words", lambda of: of.words)


class SetMeasured(Struct, frozen=True):
    """A set, its figures, and whether a price is of any concern."""

    chosen: tuple[str, ...]
    measure: Measure
    priced: bool


_set = Teller[SetMeasured]()


class SetTold(Record[SetMeasured]):
    """A set and its figures."""

    upgrades = _set.words("the set", lambda of: upgrades_in(of.chosen))
    cost = _set.money("cost to the shop", lambda of: of.measure.cost)
    price = _set.money("price with tax", lambda of: of.measure.price if of.priced else None)
    cash = _set.money("to lay out", lambda of: of.measure.cash)
    minutes = _set.minutes("hands-on, as the limit holds it", lambda of: of.measure.minutes)


_way = Teller[tuple[WayOut, bool]]()
_nearest = Teller[tuple[Compromise, bool]]()


class WayOutTold(Record[tuple[WayOut, bool]]):
    """One change by which a conflict is settled, solved again and true."""

    change = _way.joined(Change, lambda of: of[0])
    settles = _way.of(Kind("list of numbers", plain_data), "which of the conflicts", lambda of: of[0].settles)
    set_aside = _way.words("rules of the other conflicts", lambda of: (rule.id for rule in of[0].aside))
    only_by_changing = _way.words(
        "what then changes for good, of changes.csv", lambda of: map(change_of, of[0].changed)
    )
    chosen = _way.joined(SetTold, lambda of: SetMeasured(of[0].chosen, of[0].measure, of[1]))


class Nearest(Record[tuple[Compromise, bool]]):
    """A set that keeps what can be kept."""

    give_up = _nearest.words("rules given up", lambda of: (rule.words for rule in of[0].given_up))
    words = _nearest.words("what they come to", lambda of: of[0].words)
    changes = _nearest.rows(Change, "what would have to be changed", lambda of: of[0].changes)
    only_by_changing = _nearest.words(
        "what then changes for good, of changes.csv", lambda of: map(change_of, of[0].changed)
    )
    chosen = _nearest.joined(SetTold, lambda of: SetMeasured(of[0].chosen, of[0].measure, of[1]))


class Packed(Struct, frozen=True):
    """Whole packs of a consumable, in cents."""

    consumable: str
    what: str
    packs: int
    cents: Cents


def packs_bought(choice: Choice) -> list[Packed]:
    """All packs that a set buys; nothing without a set."""
    if not choice.found:
        return []
    study = choice.study
    each = {item.consumable: item.cents for item in study.costing.packs}
    return [
        Packed(name, study.shop.consumables[name].what, number, number * each[name])
        for name, number in study.costing.packs_for(choice.estimate.chosen).items()
    ]


def order_of(choice: Choice) -> Order:
    """What a set buys where."""
    return choice.study.costing.order_for(choice.estimate.chosen if choice.found else ())


_packs = Teller[Packed]()
_bought = Teller[Bought]()
_freight = Teller[tuple[str, Cents]]()
_order = Teller[Order]()


class Packs(Record[Packed]):
    """Packs of a consumable, counted whole."""

    consumable = _packs.text("consumable, an id of consumables.csv", lambda of: of.consumable)
    what = _packs.text("in words", lambda of: of.what, head="consumable")
    packs = _packs.whole("whole packs, after what is in stock", lambda of: of.packs, head="packs")
    money = _packs.money("what they cost", lambda of: of.cents, head="cost")


class OrderLine(Record[Bought]):
    """A line of an order."""

    supplier = _bought.text("supplier, an id of suppliers.csv", lambda of: of.supplier)
    what = _bought.text("part or consumable", lambda of: of.good.part or of.good.what)
    number = _bought.whole("how many", lambda of: of.number)
    money = _bought.money("what they cost", lambda of: of.cents)


class Freight(Record[tuple[str, Cents]]):
    """The freight of a parcel."""

    supplier = _freight.text("supplier, an id of suppliers.csv", lambda of: of[0])
    money = _freight.money("freight", lambda of: of[1])


class Basket(Struct, frozen=True):
    """What one supplier is paid for: ``number`` of a thing, or the freight of its parcel (none)."""

    supplier: str
    number: int | None
    what: str
    cents: Cents


_basket = Teller[Basket]()


class BasketTold(Record[Basket]):
    """What is paid to whom."""

    supplier = _basket.column("supplier", lambda of: of.supplier)
    number = _basket.column("n", lambda of: of.number, WHOLE)
    what = _basket.column("what", lambda of: of.what)
    money = _basket.column("cost", lambda of: of.cents, MONEY)


class OrderTold(Record[Order]):
    """Where to buy, so that the order as a whole is cheapest."""

    lines = _order.rows(OrderLine, "what is bought where", lambda of: of.lines)
    freight = _order.rows(Freight, "freight by supplier", lambda of: of.freight)


def _aimed_at(aim: str, value: int | None) -> object:
    """A figure of the first aim: minutes and scores as numbers, money as text."""
    first = aims_in(aim)[0]
    if value is None:
        return None
    if first == "hours":
        return MINUTES.data(value)
    return plain_number(Decimal(value) / 1000) if first == "score" else money_text(Cents(value))


def _nearest_of(of: Choice, found: Compromise | None) -> tuple[Compromise, bool] | None:
    return None if found is None else (found, of.study.priced)


_choice = Teller[Choice]()


class ChoiceAnswer(Record[Choice]):
    """What a choice comes to; of ``choose`` and of every command that finds no set."""

    job = _choice.text("id of the job", lambda of: of.study.job.id)
    status = _choice.text("optimal, feasible, infeasible, no-answer or named", lambda of: of.answer.status)
    aim = _choice.text("what was made best", lambda of: of.answer.aim)
    engine = _choice.text("engine that solved it", lambda of: of.answer.engine)
    engine_notes = _choice.words("what engines failed at", lambda of: of.answer.engine_notes)
    gap = _choice.of(SHARE, "between objective and bound; 0: proven", lambda of: of.answer.gap)
    objective = _choice.of(
        BY_AIM, "what the aim comes to", lambda of: _aimed_at(of.answer.aim, of.answer.objective)
    )
    bound = _choice.of(BY_AIM, "what no set can beat", lambda of: _aimed_at(of.answer.aim, of.answer.bound))
    proven = _choice.yes("proven", lambda of: of.answer.proven)
    only_by_changing = _choice.words(
        "what changes for good, of changes.csv", lambda of: map(change_of, of.answer.changed)
    )
    no_set_earns = _choice.text(
        "said where none earns", lambda of: NONE_EARNS if of.answer.none_earns else None
    )
    upgrades = _choice.words("the set", lambda of: of.estimate.chosen if of.found else ())
    totals = _choice.one(
        Totalled,
        "what it comes to",
        lambda of: Sums(of.estimate.totals, of.study.job.for_customer) if of.found else None,
    )
    price_under_cost = _choice.money(
        "by what the price lies under the cost",
        lambda of: _under_cost(of.study, of.estimate) if of.found else None,
    )
    instrument_brings_less = _choice.one(
        BringsLess,
        "what the instrument brings, where the price lies above it",
        lambda of: brings_less(of.study.shop, of.study.job, of.estimate.totals.to_pay) if of.found else None,
    )
    refused_as_assumed = _choice.rows(
        Refused,
        "work that does not fit only as assumed: other work at the same places, or what clashes with the wish",
        _refused_of,
    )
    held = _choice.joined(
        LimitsAndMeasures,
        lambda of: Held(of.study, of.estimate.chosen, of.answer.measure if of.found else None),
    )
    work = _choice.rows(
        Work, "the work in its order", lambda of: lines_of(of.study, of.estimate) if of.found else ()
    )
    parts = _choice.rows(
        Part, "parts and strings", lambda of: parts_of(of.study, of.estimate) if of.found else ()
    )
    spec = _choice.rows(
        Spec,
        "what is wished for, and what is reached",
        lambda of: wished(of.study, of.estimate.chosen, of.spec),
    )
    faults = _choice.rows(
        Fault, "what is wrong with the instrument", lambda of: faults_found(of.study, of.estimate.chosen)
    )
    conflict = _choice.rows(
        RuleTold,
        "what cannot hold together",
        lambda of: of.answer.conflict.rules if of.answer.conflict else (),
    )
    ways_out = _choice.rows(
        WayOutTold,
        "what would settle each conflict",
        lambda of: ((way, of.study.priced) for way in of.answer.ways_out),
    )
    conflicts = _choice.of(
        ROWS,
        "each conflict: a list of rule and words",
        lambda of: [list(map(RuleTold, found.rules)) for found in of.answer.conflicts],
    )
    whole_wish = _choice.one(
        Nearest, "the set for the whole wish", lambda of: _nearest_of(of, of.answer.whole_wish)
    )
    within_limits = _choice.one(
        Nearest, "the nearest within the limits", lambda of: _nearest_of(of, of.answer.within_limits)
    )
    within_limits_bare = _choice.one(
        Nearest,
        "the nearest with something required left out",
        lambda of: _nearest_of(of, of.answer.within_bare),
    )
    together = _choice.one(
        Nearest, "the fewest changes that do together", lambda of: _nearest_of(of, of.answer.together)
    )
    explained = _choice.yes("there was time for all of this", lambda of: of.answer.explained)
    not_settled = _choice.words("what there was no time for", lambda of: of.answer.not_settled)
    tools = _choice.joined(Tools, lambda of: of.tools)
    assumed = _choice.rows(
        Assumed, "what nobody measured", lambda of: assumed_values(of.study, of.estimate.chosen)
    )


class Asked(Struct, frozen=True):
    """A choice with its further answers."""

    choice: Choice
    further: PostOptimality


_asked = Teller[Asked]()


class ChooseAnswer(Record[Asked]):
    """What ``choose`` answers."""

    choice = _asked.joined(ChoiceAnswer, lambda of: of.choice)
    buying = _asked.text("packs count by share or whole", lambda of: of.choice.study.buying)
    packs = _asked.rows(Packs, "packs that are bought", lambda of: packs_bought(of.choice))
    order = _asked.one(OrderTold, "where to buy", lambda of: order_of(of.choice))
    further = _asked.joined(Questions, lambda of: of.further)
