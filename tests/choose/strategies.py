"""Generated small problems of several shapes, and the plain search over all their subsets.

The search is written out here once more, by the words of ``choose/problem.py`` alone: it shares no
code with the programme, with ``measure`` or with ``recheck``.
"""

from __future__ import annotations

import itertools
import math
import random
from fractions import Fraction

from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.measure import PriceBound
from estimator.model import Baskets, Good, Packs, ParcelFreight
from estimator.model.problem import Amount, CostPiece, Giver, Problem, Rule, Scale, Source

RATE = 125
"""Cents a minute: 75 an hour."""
QUARTER = 1500


def stepped_price(minutes: int, parts: int, consumables: int, work: int = 0, line_tax: int = 0) -> int:
    """Whole quarter hours, a fee of 4 % with floor and cap, consumables at cost when they exceed the cap."""
    labour = -(-max(0, minutes) // QUARTER) * QUARTER * RATE // 100
    fee = min(2500, max(400, (labour * 4 + 50) // 100))
    if consumables > 2500:
        fee = max(fee, consumables)
    return max(3800, labour + fee) + parts + work + line_tax


STEPPED = PriceBound(constant=400, per_minute=RATE * 1.0, per_part=1.0, price=stepped_price)
#: with what is used up beyond the cap in the bound
FEED = replace(STEPPED, fee_from=2500)
BLIND = PriceBound(constant=400, per_minute=RATE * 1.0, per_part=1.0)


class Plain(Struct, frozen=True):
    """What the plain search knows of one subset."""

    chosen: tuple[str, ...]
    cost: int
    cash: int
    price: int
    minutes: int
    expected: int
    levels: dict[str, int]
    amounts: dict[str, int]
    sure_cost: int = 0
    days: int = 0


def plain(problem: Problem, chosen: tuple[str, ...], price=stepped_price) -> Plain:
    on = set(chosen)
    there = [p for p in problem.pieces if p.triggers is None or on & set(p.triggers)]
    lines: dict[str, float] = {}
    mended: dict[str, float] = {}
    for p in there:
        lines[p.line] = lines.get(p.line, 0) + p.sd
        mended[p.line] = mended.get(p.line, 0) + p.rework_sd
    c = problem.shared_cause
    variance = (1 - c) * sum(v * v for v in lines.values()) + c * sum(lines.values()) ** 2
    # a fault in one job of two, of exponential size b: b^2 on average over two, less the square of b / 2
    size = 2 * sum(p.faults for p in there) / 100
    sd = math.sqrt(variance + sum(v * v for v in mended.values()) + size * size - (size / 2) ** 2)
    mean = sum(p.minutes for p in there)

    def at(z: float) -> int:
        return math.floor(mean + z * 100 * sd + 0.5)

    # a quote holds hidden faults or not, and a small one its mean alone
    quoted = mean if problem.faults_priced else mean - sum(p.faults for p in there)
    if quoted >= problem.large_from:
        faults = size * size - (size / 2) ** 2 if problem.faults_priced else 0
        spread = math.sqrt(variance + sum(v * v for v in mended.values()) + faults)
        enough = math.floor(quoted + problem.z_price * 100 * spread + 0.5)
        # above the size of a large quote each minute of the mean counts twice, until the surety is reached
        twice = quoted + (quoted - problem.large_from)
        quoted = enough if not problem.large_from or enough < twice else twice

    def is_on(g: Giver) -> bool:
        return bool(on & set(g.given_by)) and (not g.together_with or bool(on & set(g.together_with)))

    def added(givers: tuple[Giver, ...]) -> int:
        total, seen = 0, {}
        for g in givers:
            if is_on(g):
                if g.source:
                    seen[g.source] = max(seen.get(g.source, g.value), g.value)
                else:
                    total += g.value
        return total + sum(seen.values())

    levels: dict[str, int] = {}
    left = list(problem.scales)
    while left:  # scales are listed in any order; those limited by others wait for them
        s = next(s for s in left if all(o in levels for o, _ in (*s.limits, *s.needs)))
        left.remove(s)
        value = max([s.base] + [t.value for t in s.tos if is_on(t)]) + added(s.adds)
        for cap in s.caps:
            if is_on(cap):
                value = min(value, cap.value)
        value = min(40, max(0, value))
        for o, plus in s.limits:
            value = min(value, levels[o] + plus)
        if any(levels[o] < needed for o, needed in s.needs):
            value = 0
        levels[s.attribute] = max(0, value)
    grams = sum(p.mass for p in there)
    amounts = {
        a.attribute: a.base + added(a.changes) + (grams * 100 if a.with_mass else 0) for a in problem.amounts
    }
    parts = sum(p.price_parts for p in there)
    paid = whole = 0
    for item in problem.packs:
        needed = sum(number for who, number in item.uses if who is None or on & set(who)) - item.stock
        bought = next(n for n in itertools.count() if n * item.size >= needed) * item.cents
        paid += bought
        whole += bought if item.in_cost else 0
    used = sum(p.consumables for p in there) + whole
    beyond = cheapest(problem, on)
    return Plain(
        chosen,
        sum(p.cost for p in there) + whole + beyond,
        sum(p.cash for p in there) + paid + beyond,
        price(quoted, parts, used),
        at(problem.z_minutes),
        mean,
        levels,
        amounts,
        sum(p.cost for p in there)
        + whole
        + beyond
        + math.floor(
            Fraction((at(problem.z_minutes) - mean) * problem.hour_cents, 60 * 100) + Fraction(1, 2)
        ),
        days_for(problem, on, there),
    )


def days_for(problem: Problem, on: set[str], there: list[CostPiece]) -> int:
    """Day by day: on the first on which the work fits and no cure of what is chosen goes on any more."""
    if problem.clock is None:
        return 0
    least = dict(problem.clock.least)
    minutes = sum(p.minutes for p in there if p.id not in problem.clock.desk)
    for day, room in enumerate(problem.clock.room):
        if minutes <= room and all(least.get(u, 0) <= day for u in on):
            return day
    return len(problem.clock.room)


def cheapest(problem: Problem, on: set[str]) -> int:
    """The order beyond the goods' own cents: every thing at every supplier that has it, all ways tried."""
    if problem.baskets is None:
        return 0
    single = []
    for good in problem.baskets.goods:
        number = int(bool(on & set(good.triggers)))
        for item in problem.packs:
            if item.consumable == good.consumable:
                needed = sum(n for who, n in item.uses if who is None or on & set(who)) - item.stock
                number = next(n for n in itertools.count() if n * item.size >= needed)
        single += [good] * number
    sums = []
    for way in itertools.product(*(good.offers for good in single)):
        spent = sum(asked for _, asked in way) - sum(good.cents for good in single)
        for parcel in problem.baskets.parcels:
            mine = [asked for supplier, asked in way if supplier == parcel.supplier]
            if mine and (parcel.free_from is None or sum(mine) < parcel.free_from):
                spent += parcel.freight
        sums.append(spent)
    return min(sums)


def fits_structure(problem: Problem, chosen: tuple[str, ...]) -> bool:
    on = set(chosen)
    return (
        all(len(on & set(group)) <= 1 for _, group in problem.slots)
        and all(u not in on or on & set(any_of) for u, any_of in problem.prerequisites)
        and not any(a in on and b in on for a, b in problem.conflicts)
    )


def keeps(rule: Rule, it: Plain) -> bool:
    match rule.kind:
        case "level":
            return it.levels[rule.attribute] >= rule.least
        case "amount":
            value = it.amounts[rule.attribute]
            return (rule.least is None or value >= rule.least) and (rule.most is None or value <= rule.most)
        case "money":
            return (it.sure_cost if rule.on == "cost" else getattr(it, rule.on)) <= rule.most
        case "minutes":
            return it.minutes <= rule.most
        case "due":
            return it.days <= rule.most
        case "required":
            return any(u in it.chosen for u in rule.upgrades)
        case "refused":
            return not any(u in it.chosen for u in rule.upgrades)
    raise AssertionError(rule.kind)


def subsets(problem: Problem, price=stepped_price) -> list[Plain]:
    """Every subset that the rules of the trade allow."""
    every = itertools.chain.from_iterable(
        itertools.combinations(problem.options, n) for n in range(len(problem.options) + 1)
    )
    return [plain(problem, c, price) for c in every if fits_structure(problem, c)]


def allowed(problem: Problem, price=stepped_price) -> list[Plain]:
    return [it for it in subsets(problem, price) if all(keeps(rule, it) for rule in problem.rules)]


def best(sets: list[Plain], *figures: str) -> Plain | None:
    """Least by the figures in turn, then fewer upgrades, fewer minutes, first in the alphabet."""

    def key(it: Plain) -> tuple[object, ...]:
        return (*(getattr(it, figure) for figure in figures), len(it.chosen), it.expected, it.chosen)

    return min(sets, key=key, default=None)


NAMES = ("bridge", "frets", "jack", "nut", "pickup", "pots", "shield", "strap", "tuner", "wiring")


@st.composite
def problems(
    draw, most_options: int = 7, rules: bool = True, bought: bool = False, posted: bool = False
) -> Problem:
    """Slots, prerequisites, conflicts, nested increments, joint effects, caps, limits, amounts, surety."""
    n = draw(st.integers(1, most_options))
    options = NAMES[:n]
    few = st.lists(st.sampled_from(options), min_size=1, max_size=3, unique=True)
    some = few.map(lambda upgrades: tuple(sorted(upgrades)))
    cents = st.sampled_from((0, 100, 250, 700, 1200, 1900, 2600, 4100))
    pieces = [CostPiece("base", None, 500, 300, 0, 100, draw(st.sampled_from((0, 900))), 1.5, "base", 0)]
    for i, option in enumerate(options):
        price = draw(cents)
        mass = 10 * draw(st.integers(-30, 30))
        pieces.append(
            CostPiece(f"part {option}", (option,), price, price, price * 3 // 2, 0, 0, 0.0, "", mass)
        )
        pieces.append(work(draw, f"work {i}", (option,)))
    for i in range(draw(st.integers(0, 4))):
        pieces.append(work(draw, f"shared {i}", draw(some)))
    if draw(st.booleans()):
        # the same task with larger and larger quantities: increments, the later ones for fewer triggers;
        # some are cheaper than nothing (a discount that comes with the bigger quantity)
        order = draw(st.permutations(options))
        pieces.append(
            CostPiece("run 0", tuple(sorted(order)), 900, 0, 0, 200, 1200, 3.0, "run", 0, 0, 0, 2.5, 60)
        )
        for k in range(1, draw(st.integers(1, min(3, n))) + 1):
            sign = draw(st.sampled_from((1, 1, -1)))
            some_of_them = tuple(sorted(order[k:]))
            more = CostPiece(f"run {k}", some_of_them, 200, 0, 0, 50, 300, 0.5, "run", 0, 0, 0, 0.7, 20)
            less = CostPiece(f"run {k}", some_of_them, -200, 0, 0, -50, -300, -0.5, "run", 0, 0, 0, -0.7, -20)
            pieces.append(more if sign > 0 else less)
    slots = []
    if n >= 2 and draw(st.booleans()):
        group = draw(st.lists(st.sampled_from(options), min_size=2, max_size=3, unique=True))
        slots.append(("slot", tuple(group)))
    prerequisites = [(draw(st.sampled_from(options)), draw(some)) for _ in range(draw(st.integers(0, 2)))]
    if draw(st.integers(0, 9)) == 0:
        prerequisites.append((draw(st.sampled_from(options)), ()))
    conflicts = []
    if n >= 2 and draw(st.booleans()):
        pair = draw(st.lists(st.sampled_from(options), min_size=2, max_size=2, unique=True))
        conflicts.append((min(pair), max(pair)))
    tens = st.sampled_from((5, 10, 15, 20, 25, 30, 40))

    def givers(values, most: int, joint: bool = True) -> tuple[Giver, ...]:
        return tuple(
            Giver(
                draw(values),
                draw(some),
                draw(some) if joint and draw(st.integers(0, 3)) == 0 else (),
                draw(st.sampled_from(("", "", "task:a", "task:b"))),
            )
            for _ in range(draw(st.integers(0, most)))
        )

    scales = []
    for name in ("c", "b", "a")[: draw(st.integers(1, 3))]:
        earlier = [s.attribute for s in scales]
        limits, needs = [], []
        if earlier and draw(st.booleans()):
            limits.append((draw(st.sampled_from(earlier)), draw(st.sampled_from((0, 5, 10)))))
        if earlier and draw(st.booleans()):
            needs.append((draw(st.sampled_from(earlier)), draw(st.sampled_from((5, 10, 20)))))
        scales.append(
            Scale(
                name,
                draw(st.sampled_from((0, 10, 20))),
                givers(tens, 4),
                givers(st.sampled_from((5, 10, 10, -5, -10)), 3),
                givers(st.sampled_from((10, 20, 30)), 1),
                tuple(limits),
                tuple(needs),
            )
        )
    packs = []
    for name in ("glue", "lacquer")[: draw(st.integers(0, 2)) if bought else 0]:
        # growing quantities on one place, the last of which may take less; stock may cover some of it
        order = draw(st.permutations(options))
        nested = [(tuple(sorted(order[k:])), draw(st.integers(1, 9))) for k in range(min(n, 3))]
        if len(nested) == 3 and draw(st.booleans()):
            nested[2] = (nested[2][0], -draw(st.integers(1, nested[0][1] + nested[1][1])))
        others = [
            (draw(st.one_of(st.none(), some)), draw(st.integers(1, 9)))
            for _ in range(draw(st.integers(0, 2)))
        ]
        size, stock = draw(st.integers(1, 12)), draw(st.sampled_from((0, 0, 3, 7, 40)))
        price = draw(st.sampled_from((0, 300, 900, 1600)))
        in_cost = posted or draw(st.booleans())
        packs.append(Packs(name, price, size, stock, (*nested, *others), in_cost))
    baskets = draw(ordered(options, packs)) if posted else None
    amounts = (Amount("weight", 4_000_000, givers(st.sampled_from((-250_000, 120_000)), 2), True),)
    problem = Problem(
        options=options,
        slots=tuple(slots),
        prerequisites=tuple(prerequisites),
        conflicts=tuple(conflicts),
        pieces=tuple(pieces),
        scales=tuple(draw(st.permutations(scales))),
        amounts=amounts,
        rules=(),
        z_minutes=draw(st.sampled_from((0.0, 0.8416, 1.2816, -0.5))),
        z_price=draw(st.sampled_from((0.0, 0.8416))),
        large_from=draw(st.sampled_from((0, 0, 3000, 9000))),
        faults_priced=draw(st.booleans()),
        shared_cause=draw(st.sampled_from((0.0, 0.2, 1.0))),
        packs=tuple(packs),
        baskets=baskets,
        hour_cents=draw(st.sampled_from((0, 4560, 7860))),
    )
    return replace(problem, rules=draw(wishes(problem))) if rules else problem


def larger(seed: int, options: int) -> Problem:
    """Many kinds of work whose minutes and spreads are not round, and a number that some of it must reach."""
    draw = random.Random(seed)
    names = tuple(f"u{i:02d}" for i in range(options))
    pieces, gives = [], []
    for i, name in enumerate(names):
        parts, minutes = draw.randrange(0, 9000), draw.randrange(200, 9000)
        hour = round(minutes * 7860 / 6000)
        spread = minutes / 100 * draw.uniform(0.1, 0.7)
        rework, faults = spread * draw.choice((0.0, 0.2, 1.0)), minutes // 20
        line = f"l{i % 7}"
        pieces.append(
            CostPiece(
                f"work {i}",
                (name,),
                parts + hour,
                parts,
                0,
                0,
                minutes,
                spread,
                line,
                0,
                0,
                0,
                rework,
                faults,
            )
        )
        gives.append(Giver(1000 * draw.randrange(1, 9), (name,)))
    for i in range(4):
        some = tuple(sorted(draw.sample(names, 3)))
        minutes = draw.randrange(100, 2500)
        pieces.append(
            CostPiece(f"set-up {i}", some, round(minutes * 1.31), 0, 0, 0, minutes, minutes / 250, f"s{i}", 0)
        )
    total = sum(giver.value for giver in gives)
    worth = Rule(
        Source.WORTH, "amount", "worth", attribute="worth", least=draw.randrange(total // 3, total * 2 // 3)
    )
    return Problem(
        names,
        (),
        (),
        (names[:2],),
        tuple(pieces),
        (),
        (Amount("worth", 0, tuple(gives), False),),
        (worth,),
        z_minutes=draw.choice((0.84, 1.28, 1.64)),
        z_price=0.84,
        large_from=draw.choice((0, 20_000, 60_000)),
        faults_priced=draw.choice((True, False)),
        shared_cause=draw.choice((0.0, 0.1, 0.3)),
        hour_cents=draw.choice((7860, 4999)),
    )


def with_packs(most_options: int = 7, rules: bool = True) -> st.SearchStrategy[Problem]:
    """The same with things bought by the pack."""
    return problems(most_options, rules, bought=True)


def with_freight(most_options: int = 6, rules: bool = True) -> st.SearchStrategy[Problem]:
    """The same with packs that count whole, and suppliers whose parcels bear freight."""
    return problems(most_options, rules, bought=True, posted=True)


@st.composite
def ordered(draw, options: tuple[str, ...], packs: list[Packs]) -> Baskets:
    """Parts of some options and all packs, each at one to three suppliers at its own price."""
    suppliers = ("far", "near", "paint")[: draw(st.integers(1, 3))]
    few = st.lists(st.sampled_from(suppliers), min_size=1, max_size=3, unique=True)

    def offers(cents: int) -> tuple[tuple[str, int], ...]:
        return tuple((s, max(0, cents + draw(st.sampled_from((0, 0, 60, -60, -300))))) for s in draw(few))

    goods = [
        Good(option, cents, offers(cents), (option,))
        for option in options
        if (cents := draw(st.sampled_from((0, 250, 700, 1900, 4100)))) or draw(st.booleans())
    ]
    # a pack is only now and then bought more than once, or trying all ways would take too long
    goods += [
        Good(p.consumable, p.cents, offers(p.cents), consumable=p.consumable) for p in packs if p.size > 3
    ]
    parcels = tuple(
        ParcelFreight(s, draw(st.sampled_from((0, 300, 900))), draw(st.sampled_from((None, 1500, 4000))))
        for s in suppliers
    )
    return Baskets(tuple(goods), parcels)


def work(draw, name: str, triggers: tuple[str, ...]) -> CostPiece:
    minutes = draw(st.sampled_from((0, 300, 700, 1500, 2400)))
    cost = draw(st.sampled_from((0, 150, 400, 1000)))
    sd = draw(st.sampled_from((0.0, 1.0, 2.5, 6.0)))
    used = draw(st.sampled_from((0, 0, 80, 1400)))
    line = draw(st.sampled_from((name, "bench")))
    rework, faults = draw(st.sampled_from((0.0, 0.0, 2.0, 7.5))), draw(st.sampled_from((0, minutes // 20)))
    return CostPiece(name, triggers, cost, used, 0, used, minutes, sd, line, 0, 0, 0, rework, faults)


@st.composite
def wishes(draw, problem: Problem) -> tuple[Rule, ...]:
    """Wishes and limits near what some subset comes to: tight, sometimes just out of reach."""
    aim = plain(problem, tuple(sorted(draw(st.sets(st.sampled_from(problem.options))))))
    rules = []
    for name, level in aim.levels.items():
        if draw(st.integers(0, 2)):
            least = min(40, level + draw(st.sampled_from((0, 0, 0, -5, 5))))
            words = f"{name} at least {least / 10:g}"
            rules.append(Rule(Source.WISH, "level", words, name, least, of=name))
    if draw(st.integers(0, 2)) == 0:
        weight = aim.amounts["weight"]
        least = draw(st.sampled_from((None, weight - 50_000)))
        most = draw(st.sampled_from((None, weight, weight + 100_000)))
        rules.append(Rule(Source.WISH, "amount", "weight within limits", "weight", least, most, of="weight"))
    for on in ("cost", "cash", "price"):
        if draw(st.integers(0, 2)) == 0:
            most = max(0, getattr(aim, on) + draw(st.sampled_from((0, 0, 150, 1500, -1, -700))))
            rules.append(
                Rule(Source.BUDGET, "money", f"{on} at most {most / 100:.2f}", most=most, on=on, of=on)
            )
    if draw(st.booleans()):
        most = max(0, aim.minutes + draw(st.sampled_from((0, 0, 117, 900, -1, -300))))
        rules.append(
            Rule(Source.BUDGET, "minutes", f"at most {most / 100:.2f} minutes", most=most, of="hours")
        )
    if draw(st.integers(0, 4)) == 0:
        ids = draw(st.lists(st.sampled_from(problem.options), min_size=1, max_size=2, unique=True))
        rules.append(Rule(Source.REQUIRED, "required", "one is required", upgrades=tuple(ids), of="one"))
    if draw(st.integers(0, 4)) == 0:
        one = draw(st.sampled_from(problem.options))
        rules.append(Rule(Source.REFUSED, "refused", f"{one} is refused", upgrades=(one,), of=one))
    return tuple(rules)
