"""From a job and its verdicts to a costing: who asks for which work, ranked and priced."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from functools import lru_cache

from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import cents, times_rate
from estimator.estimate.costing import Costing, OpenWay, Rank
from estimator.estimate.labour import Setting, marked_up, run_line
from estimator.estimate.packs import SHARE, counts_whole
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.three_point import z_of
from estimator.estimate.ways import (
    Asked,
    PricedWay,
    Triggers,
    priced_way,
    rank_key,
    same_rank,
    way_id,
    worth_keeping,
)
from estimator.fit.mass import parts_change
from estimator.model import Demand, Job, Money, PartLine, Shop, Task, Verdict, WorkLine
from estimator.model.operation import CoatPlace
from estimator.tables.faults import odds_by_task
from estimator.tables.methods import by_methods


def make_setting(shop: Shop, job: Job, buying: str = SHARE, crew: tuple[int, ...] = ()) -> Setting:
    """The rates and the operator of a job: client work at wage and overhead, own work at the wanted pay."""
    terms = shop.terms
    client = job.kind == "commission"
    share = terms.hidden_fault_share
    strung = job.instrument.get("strung")
    if strung is not None and strung.value is False:
        share = terms.hidden_fault_share_unstrung
    odd = job.instrument.get("odd_work")
    if odd is not None and odd.value and not odd.assumed:
        share *= Decimal("1.5")
    return Setting(
        shop=shop,
        instrument=job.instrument,
        family=job.family,
        skill=job.terms.skill or terms.skill,
        wage=terms.wage_per_hour if client else job.sale.pay(terms),
        overhead=terms.overhead_per_hour if client else Decimal(0),
        hidden_faults=share,
        widen_assumed=True,
        whole_packs=counts_whole(buying),
        charge=job.terms.charge(terms),
        batch=job.terms.batch,
        crew=crew,
        stocked=shop.stocked_pieces(job.stock),
        fault_odds=odds_by_task(shop.faults, shop.fault_odds, job.instrument),
        to_get=frozenset(job.to_get),
    )


def make_costing(
    shop: Shop,
    job: Job,
    verdicts: tuple[Verdict, ...],
    crew: tuple[int, ...] = (),
    ways: Mapping[str, Sequence[str]] | None = None,
    setting: Setting | None = None,
) -> Costing:
    """Price everything a job might need: its base work and the work of every upgrade judged.

    ``crew``: the skills of those who do the work, if not the job's or the shop's own.
    ``ways``: by task the methods that are left open; those that can be best for nothing are dropped, and the
    first of those left is what the costing reckons with (its shop has the task done that way).
    ``setting``: that of the job, where it is there already.
    """
    setting = make_setting(shop, job, SHARE, crew) if setting is None else setting
    asked = _asked(shop, job, verdicts)
    first, others, taken = _open_ways(asked, setting, ways or {}, _largest_z(shop, job))
    if taken:
        shop = by_methods(shop, taken)
        setting = replace(setting, shop=shop)
    places = [(task, place) for task, of in asked.items() for place in of]
    needless = _needless(verdicts, places)
    position = _task_positions(tuple(shop.tasks), shop.task_order)
    keys = sorted(places, key=lambda key: (position[key[0]], key[1]))
    priced = {
        task: first.get(task) or priced_way(task, setting, _by_place(of, shop.tasks[task]))
        for task, of in asked.items()
    }
    ranks = {key: _rank(priced[key[0]], key[1], needless.get(key, ())) for key in keys}
    setups: dict[str, tuple[WorkLine, Triggers]] = {}
    for task, place in keys:
        widest = ranks[task, place][0].triggers
        before = setups.get(task)
        triggers = widest if before is None else _union(before[1], widest)
        setups[task] = (priced[task].setup, triggers)
    doubtful = dict.fromkeys(task for task, _ in needless)
    return Costing(
        shop,
        job,
        setting,
        ranks,
        setups,
        _part_lines(shop, verdicts, setting),
        {v.upgrade.id: parts_change(v.upgrade) for v in verdicts},
        frozenset(t for t in setups if job.kind == "commission" and not shop.tasks[t].billed),
        {task: _setup_terms([ranks[key] for key in keys if key[0] == task]) for task in doubtful},
        tuple(_open_way(way, needless, task in doubtful) for task in setups for way in others.get(task, ())),
        {task: (way, *others[task]) for task, way in first.items()},
        {task: way for task, way in priced.items() if len(shop.ways.methods.get(task, ())) > 1},
        _made={} if setting.lines is None else setting.lines.atoms_of(job.kind),
    )


def reckoned_with(
    costing: Costing, verdicts: tuple[Verdict, ...], ways: Mapping[str, Sequence[str]]
) -> dict[str, str]:
    """By task asked for the method that ``make_costing`` reckons with where ``ways`` are left open, if another than now."""
    asked = _asked(costing.shop, costing.job, verdicts)
    return _open_ways(asked, costing.setting, ways, _largest_z(costing.shop, costing.job))[2]


def _largest_z(shop: Shop, job: Job) -> float:
    """The largest factor at which a spread is held on a job."""
    skew, surety = shop.terms.skew, job.budget.surety
    return max(0.0, z_of(surety, skew), z_of(surety or shop.terms.surety, skew))


def done_otherwise(costing: Costing, shop: Shop) -> Costing | None:
    """The costing with its work done the ways that ``shop`` has it done; what is done as it was is not priced anew.

    None where it has to be priced as a whole: where ways are open, or one gives way that was not the usual one.
    """
    before = costing.shop.tasks
    changed = [task for task in costing.setups if before[task].method != shop.tasks[task].method]
    if costing.ways or any(before[task].usual is not None for task in changed):
        return None
    setting = replace(costing.setting, shop=shop)
    ranks, setups, work = dict(costing.ranks), dict(costing.setups), dict(costing.in_more_ways)
    for task in changed:
        asks = work[task].asks
        asked = {place: [(ask.who, ask.demand, ask.part_price) for ask in of] for place, of in asks.items()}
        work[task] = priced_way(task, setting, _by_place(asked, shop.tasks[task]))
        setups[task] = work[task].setup, setups[task][1]
        for place in asks:
            last = ranks[task, place][-1]
            ranks[task, place] = _rank(work[task], place, last.wanted_by if last.needless else ())
    return replace(
        costing, shop=shop, setting=setting, ranks=ranks, setups=setups, priced_ways={}, in_more_ways=work
    )


def _asked(
    shop: Shop, job: Job, verdicts: tuple[Verdict, ...]
) -> dict[str, dict[str, list[tuple[str, Demand, Decimal]]]]:
    """Who asks for which work, by task and place as it is done: each coat of finish is a place of its own."""
    asked: dict[str, dict[str, list[tuple[str, Demand, Decimal]]]] = {}
    for row in usual_work(shop, job):
        demand = _with_every_job(row.task, row.quantity)
        asked.setdefault(row.task, {}).setdefault("", []).append(("", demand, Decimal(0)))
    for verdict in verdicts:
        part = verdict.upgrade.part
        price = part.price if part else Decimal(0)
        for demand in verdict.demands:
            for sitting in sittings(demand, shop.tasks[demand.task]):
                places = asked.setdefault(sitting.task, {})
                places.setdefault(sitting.place, []).append((verdict.upgrade.id, sitting, price))
    return asked


@lru_cache(maxsize=256)
def _with_every_job(task: str, quantity: Decimal) -> Demand:
    """Made once, so that what was priced for it is known again."""
    return Demand(task, "", quantity, "comes with every job")


def _by_place(of: Mapping[str, Sequence[Asked]], task: Task) -> Mapping[str, Sequence[Asked]]:
    """The demands on a task, each further sitting with the share of the set-up that its way repeats."""
    if task.usual is None or task.usual.repeat_share == task.repeat_share:
        return of
    return {
        place: [
            (who, replace(demand, setup_share=task.repeat_share) if demand.setup_share else demand, price)
            for who, demand, price in asks
        ]
        for place, asks in of.items()
    }


def _open_ways(
    asked: Mapping[str, Mapping[str, Sequence[Asked]]],
    setting: Setting,
    ways: Mapping[str, Sequence[str]],
    z: float,
) -> tuple[dict[str, PricedWay], dict[str, list[PricedWay]], dict[str, str]]:
    """By task the way reckoned with, and those worth keeping beside it; and by task that way, where it is another."""
    firsts: dict[str, PricedWay] = {}
    left: dict[str, list[PricedWay]] = {}
    taken: dict[str, str] = {}
    settings = _by_turn(setting, {task: ways[task] for task in asked if len(ways.get(task, ())) > 1})
    for task, methods in ways.items():
        if len(methods) == 1 and methods[0] != setting.shop.tasks[task].method:
            taken[task] = methods[0]
        if len(methods) < 2 or task not in asked:
            continue
        priced = [
            priced_way(task, turn, _by_place(asked[task], turn.shop.tasks[task]))
            for turn in settings[: len(methods)]
        ]
        # beside a way for which nothing has to be got, the tools that another needs are its own affair
        first, *others = sorted(worth_keeping(priced, z=z), key=lambda way: bool(way.lacks))
        firsts[task] = first
        left[task] = [way for way in others if first.lacks <= way.lacks]
        if first.method != setting.shop.tasks[task].method:
            taken[task] = first.method
    return firsts, left, taken


def _by_turn(setting: Setting, ways: Mapping[str, Sequence[str]]) -> list[Setting]:
    """The setting with all tasks done the first of their ways, the second and so on: a task reads its own rows alone."""
    most = max(map(len, ways.values()), default=0)
    turns = ({task: of[turn] for task, of in ways.items() if turn < len(of)} for turn in range(most))
    return [replace(setting, shop=by_methods(setting.shop, methods)) for methods in turns]


def _open_way(
    way: PricedWay, needless: Mapping[tuple[str, str], Sequence[tuple[str, str]]], doubtful: bool
) -> OpenWay:
    """A way with its work ranked, and who asks for it anywhere."""
    ranks = {place: _rank(way, place, needless.get((way.task, place), ())) for place in way.asks}
    widest: Triggers = frozenset()
    for of in ranks.values():
        widest = _union(widest, of[0].triggers)
    terms = _setup_terms(list(ranks.values())) if doubtful else ((widest, 1),)
    return OpenWay(way_id(way.task, way.method), way.task, way.method, widest, way.setup, terms, ranks)


def _needless(
    verdicts: tuple[Verdict, ...], asked: Collection[tuple[str, str]]
) -> dict[tuple[str, str], tuple[tuple[str, str], ...]]:
    """By task and place that is asked for: the upgrades that make it needless, with their reasons."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    places: dict[str, list[str]] = {}
    for task, place in asked:
        places.setdefault(task, []).append(place)
    for verdict in verdicts:
        for row in verdict.upgrade.needless:
            task = row.task
            for place in places.get(task, ()):
                if row.covers(task, place):
                    found.setdefault((task, place), {})[verdict.upgrade.id] = row.because
    return {key: tuple(who.items()) for key, who in found.items()}


def _setup_terms(places: Sequence[tuple[Rank, ...]]) -> tuple[tuple[Triggers, int], ...]:
    """When a task is set up that is needless at some places: a sum of "any of these is chosen".

    It is set up if at any place p some of A(p), who ask, and none of N(p), who make it needless, is chosen.
    With n(S) = 1 if none of S is chosen, else 0: it is not set up in (product over p of 1 - n(N) + n(A + N))
    cases of 1, and n(S) n(T) = n(S + T). What counts for the sums is 1 - n(S), "any of S is chosen".
    """
    none_of: dict[frozenset[str], int] = {frozenset(): 1}
    seen: set[tuple[Triggers, Triggers]] = set()
    for ranks in places:
        widest = ranks[0].triggers
        lifts = ranks[-1].triggers if ranks[-1].needless else frozenset()
        if (widest, lifts) in seen:
            continue
        seen.add((widest, lifts))
        factor: dict[frozenset[str], int] = {}
        if lifts:
            factor = {frozenset(): 1, lifts: -1}
        if widest is not None:
            factor[widest] = factor.get(widest, 0) + 1
        product: dict[frozenset[str], int] = {}
        for one, times in none_of.items():
            for other, more in factor.items():
                product[one | other] = product.get(one | other, 0) + times * more
        none_of = {who: times for who, times in product.items() if times}
    always = 1 - sum(none_of.values())
    terms: list[tuple[Triggers, int]] = [(who, times) for who, times in none_of.items() if who]
    terms.sort(key=lambda term: (-len(term[0] or ()), sorted(term[0] or ())))
    return ((None, always), *terms) if always else tuple(terms)


def sittings(demand: Demand, task: Task) -> list[Demand]:
    """A demand as the sittings it takes: coats of finish are put on one by one, each set up anew."""
    if task.driver != "coat" or demand.quantity <= 1:
        return [demand]
    return [
        replace(
            demand,
            place=str(CoatPlace(demand.place, f"{number:02d}")),
            quantity=Decimal(1),
            setup_share=task.repeat_share if number > 1 else Decimal(0),
        )
        for number in range(1, int(demand.quantity) + 1)
    ]


def _rank(way: PricedWay, place: str, needless: Sequence[tuple[str, str]] = ()) -> tuple[Rank, ...]:
    """The ranks of a place (``_ranked``), made once for the same demands at the same prices."""
    lines = way.setting.lines
    if lines is None or needless:  # work that is taken off again is read from the instrument
        return _ranked(way, place, needless)
    asks = way.asks[place]
    kept = lines.ranks.get(id(asks))
    if kept is None:
        kept = lines.ranks[id(asks)] = asks, _ranked(way, place, ())
    ranks: tuple[Rank, ...] = kept[1]
    return ranks


def _ranked(way: PricedWay, place: str, needless: Sequence[tuple[str, str]]) -> tuple[Rank, ...]:
    """Demands on one place, from the least run time up; equal ones share a rank.

    ``needless``: upgrades that take the work off again; theirs is a last rank, with nothing to do.
    """
    setting, task = way.setting, way.setting.shop.tasks[way.task]
    priced: dict[object, tuple[WorkLine, list[tuple[str, str]], Demand, Decimal]] = {}
    for ask in way.asks[place]:
        line = ask.line
        named = priced.setdefault(same_rank(line), (line, [], ask.demand, ask.part_price))[1]
        named.append((ask.who, ask.demand.because))
    ordered = sorted(priced.items(), key=lambda item: rank_key(item[1][0]))
    lifts = [who for who, _ in needless]
    ranks = []
    for number, (_, (line, wanted_by, demand, part_price)) in enumerate(ordered):
        above = [who for _, (_, wants, _, _) in ordered[number:] for who, _ in wants]
        triggers = None if "" in above else frozenset((*above, *lifts))
        ranks.append(Rank(line, triggers, tuple(wanted_by), demand, part_price))
    if needless:
        nothing = Demand(task.id, place, Decimal(0), "", Decimal(0))
        line = replace(
            run_line(task, nothing, setting),
            rework=Hundredths(0),
            rework_odds=Decimal(0),
            rework_material=Decimal(0),
            wait=Hundredths(0),
            money=Money(),
            warranty=Cents(0),
            consumables=(),
            tools=(),
        )
        ranks.append(Rank(line, frozenset(lifts), tuple(needless), nothing, Decimal(0), needless=True))
    return tuple(ranks)


def _union(one: Triggers, other: Triggers) -> Triggers:
    return None if one is None or other is None else one | other


def _part_lines(shop: Shop, verdicts: tuple[Verdict, ...], setting: Setting) -> dict[str, PartLine]:
    lines = {}
    for verdict in verdicts:
        upgrade, part = verdict.upgrade, verdict.upgrade.part
        if part is None:
            continue
        own = part.owner == "customer"
        unit_cost = Cents(0) if own else cents(part.price)
        unit_price = marked_up(unit_cost, shop.terms)
        price = cents(Decimal(unit_price) / 100 * upgrade.part_quantity)
        cost = cents(Decimal(unit_cost) / 100 * upgrade.part_quantity)
        lines[upgrade.id] = PartLine(
            part.id,
            upgrade.id,
            part.what,
            part.grade,
            upgrade.part_quantity,
            unit_cost,
            cost,
            unit_price,
            price,
            part.owner,
            _fitting(verdict, setting) if own else Cents(0),
        )
    return lines


def _fitting(verdict: Verdict, setting: Setting) -> Cents:
    """What fitting the customer's own part adds to the work: a share of the labour on it the usual way, in cents."""
    tasks = setting.shop.tasks
    minutes = sum(
        (run_line(tasks[d.task].by_usual, d, setting).minutes for d in verdict.upgrade.demands), Hundredths(0)
    )
    return times_rate(Decimal(minutes) / 100 * (setting.terms.own_part_labour - 1), setting.charge)


@lru_cache(maxsize=16)
def _task_positions(tasks: tuple[str, ...], order: tuple[tuple[str, str], ...]) -> Mapping[str, int]:
    """Tasks in an order that respects ``order`` and, within it, that of the table."""
    later: dict[str, list[str]] = {task: [] for task in tasks}
    waiting_for = dict.fromkeys(tasks, 0)
    for before, after in order:
        later[before].append(after)
        waiting_for[after] += 1
    row = {task: number for number, task in enumerate(tasks)}
    ready = sorted((t for t in tasks if not waiting_for[t]), key=row.__getitem__)
    ordered: list[str] = []
    while ready:
        task = ready.pop(0)
        ordered.append(task)
        for after in later[task]:
            waiting_for[after] -= 1
            if not waiting_for[after]:
                ready.append(after)
        ready.sort(key=row.__getitem__)
    return {task: number for number, task in enumerate(ordered)}
