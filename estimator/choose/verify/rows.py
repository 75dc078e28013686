"""Work and parts priced once more straight from the rows of the tables; shares no code with ``estimate``.

A plain reading of "How it counts": set-ups once a task, runs by row x quantity x factors x skill, the
allowance, what rework may be expected to take, consumables and tools by what they wear, parts at their
price and less what lies in stock. Cents and hundredths of a minute are whole, half up, once a line.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction
from statistics import NormalDist
from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import asdict, replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.expressions import parse_expression
from estimator.model import Demand, Fault, Job, Metal, NeedlessWork, Part, Shop, Task, Verdict, Wood, WorkRow
from estimator.tables.conditions import holds

R = TypeVar("R", bound=tuple[Any, ...])
ByTask = dict[str, list[tuple[str, str]]]
"""By task the places where it is asked for, each with the task before it."""
NOT_OF_THE_TASK = ("task", "method", "what", "usual", "not_when", "origin")
"""Columns of a way that say nothing of how the task is priced."""
NIL, ONE, HUNDRED = Decimal(0), Decimal(1), Decimal(100)
NINE_PLACES = Decimal("1e-9")
COUNTED_SINGLY = ("hole", "chip", "screw", "fastener")
HEADINGS = (
    "parts",
    "consumables",
    "tools",
    "labour",
    "overhead",
    "reserve",
    "price_parts",
    "price_work",
    "line_tax",
)
"""Headings of ``Money`` that lines and parts add up to; cash and freight are counted apart."""

#: factor code or its root -> the intake field whose word is the level
LEVEL_FIELD = {
    "FW": "fret_mat",
    "BW": "body_wood",
    "FT": "fin_type",
    "FT.colour": "fin_col",
    "FB": "board_mat",
    "NM": "nut_mat",
    "NS": "nut_seat",
    "BT": "br_type",
    "AC": "access",
    "CD": "corrosion",
    "CR": "crack_at",
    "GP": "body_wood",
}
TWO_FIELDS = {"FT.touch": ("fin_type", "fin_col")}
OTHER_FIELDS = {"FB.bind": "board_bound", "BR": "board_rad", "NJ": "joint", "SZ": "kind"}
#: tasks whose time rests on readings that are neither factor nor quantity
BESIDES = {
    "level-frets": ("fret_uneven", "fret_wear", "hump"),
    "adjust-truss-rod": ("rod_ok", "relief"),
    "free-truss-rod": ("rod_ok",),
    "remove-nut": ("nut_stuck",),
    "strip-finish": ("fin_thk",),
    "adjust-nut-slots": ("nut_clear_b", "nut_clear_t"),
    "set-nut-height": ("nut_clear_b", "nut_clear_t"),
}


def whole(value: Decimal) -> int:
    """Half up, away from zero; what falls short of a half in the tenth place only is one."""
    return int(value.quantize(NINE_PLACES, ROUND_HALF_UP).quantize(ONE, ROUND_HALF_UP))


NO_MONEY, NO_TIME = Cents(0), Hundredths(0)


def in_cents(money: Decimal) -> Cents:
    """Money to the whole cent."""
    return Cents(whole(money * HUNDRED))


def in_hundredths(minutes: Decimal) -> Hundredths:
    """Minutes to the whole hundredth."""
    return Hundredths(whole(minutes * HUNDRED))


def hourly(minutes: Decimal, rate: Decimal) -> Cents:
    """Money for minutes at a rate an hour."""
    return in_cents(minutes * rate / 60)


class PlainLine(Struct, frozen=True):
    """A set-up or a run: cents by ``HEADINGS``, hundredths of a minute, what is used up in thousandths.

    ``sd`` and ``struck``: spreads in minutes of the run and of what goes wrong on it; ``faults``: of the
    reserve, what is held for hidden faults.
    """

    money: tuple[Cents, ...]
    minutes: Hundredths
    reserve: Hundredths
    wait: Hundredths = Hundredths(0)
    sd: float = 0.0
    struck: float = 0.0
    faults: Hundredths = Hundredths(0)
    mass: Decimal = NIL
    used: tuple[tuple[str, int], ...] = ()
    cash: Cents = Cents(0)
    rank: tuple[object, ...] = ()
    cost: Cents = Cents(0)


class RowTotals(Struct):
    """What a set comes to by the rows. ``sd``: minutes; ``skew``: of the shop; freight is not in it."""

    money: dict[str, Cents]
    cash: Cents
    minutes: Hundredths
    reserve: Hundredths
    wait: Hundredths
    desk: Hundredths
    sd: float
    skew: float
    faults: Hundredths
    sd_without: float

    @property
    def cost(self) -> Cents:
        """What the set costs the shop, without freight."""
        return sum((self.money[heading] for heading in HEADINGS[:6]), Cents(0))

    @property
    def expected(self) -> Hundredths:
        """Time on average, the reserve included."""
        return self.minutes + self.reserve

    def minutes_at(self, surety: Decimal | None) -> Hundredths:
        """Time that is enough in so many per cent of jobs; the mean without one."""
        return Hundredths(math.floor(self.expected + self._spreads(surety) * 100 * self.sd + 0.5))

    def _spreads(self, surety: Decimal | None) -> float:
        if surety is None:
            return 0.0
        normal = NormalDist().inv_cdf(float(surety) / 100.0)
        return max(0.0, round(normal + (normal**2 - 1) * self.skew / 6, 2))

    def quoted(self, surety: Decimal, from_hours: Decimal, faults_sold: bool) -> Hundredths:
        """Time that a customer is quoted: little at its mean, much at the surety.

        From so many hours on the way from one to the other is gone a minute for each minute of the mean.
        """
        mean = self.expected if faults_sold else self.expected - self.faults
        if mean < from_hours * 6000:
            return mean
        sd = self.sd if faults_sold else self.sd_without
        enough = Hundredths(math.floor(mean + self._spreads(surety) * 100 * sd + 0.5))
        if not from_hours:
            return enough
        return mean + min(enough - mean, mean - Hundredths(int(from_hours * 6000)))


def is_bad(row: Fault, value: object) -> bool:
    """Whether a value is the fault of a row."""
    if row.reads == "present":
        return value not in ("", "none", (), None)
    if row.reads == "is":
        return {True: "yes", False: "no"}.get(value, value) in row.bad.split()  # type: ignore[call-overload]
    if not isinstance(value, Decimal):
        return False
    limit = Decimal(row.bad)
    ends = {"below": value < limit, "above": value > limit, "beyond": not -limit <= value <= limit}
    return ends[row.reads]


@dataclass
class Rows:
    """The tables of a shop as one job uses them. ``crew``: the skills of those who work, if told.

    ``packs_in_cost``: whether packs bought for the job count in cost whole instead of by use. ``methods``:
    by task the way it is done, if not as the tables of the shop have it; read here from the rows of the ways.
    """

    shop: Shop
    job: Job
    verdicts: Mapping[str, Verdict]
    crew: tuple[int, ...] = ()
    packs_in_cost: bool = False
    methods: Mapping[str, str] = field(default_factory=dict)
    _tasks: dict[str, Task] = field(default_factory=dict)
    _lines: dict[str, dict[tuple[object, ...], PlainLine]] = field(default_factory=dict)
    _setups: dict[str, PlainLine] = field(default_factory=dict)
    _works: dict[str, tuple[tuple[tuple[str, str], PlainLine], ...]] = field(default_factory=dict)
    _bought: dict[str, tuple[tuple[Cents, ...], str, Cents, Decimal]] = field(default_factory=dict)
    _bad: list[Fault] | None = None
    _lifts: dict[str, tuple[NeedlessWork, ...]] = field(default_factory=dict)
    _grams: dict[str, Decimal] = field(default_factory=dict)
    _as_usual: Rows | None = None
    _places: dict[str, ByTask] = field(default_factory=dict)
    _sizes: dict[str, tuple[int, int, Cents]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        terms, said, sale = self.shop.terms, self.job.terms, self.job.sale
        self.client = self.job.kind == "commission"
        own_pay = terms.own_pay_per_hour if sale.own_pay_per_hour is None else sale.own_pay_per_hour
        self.wage = terms.wage_per_hour if self.client else own_pay
        self.overhead = terms.overhead_per_hour if self.client else NIL
        self.charge = terms.charge_per_hour if said.charge_per_hour is None else said.charge_per_hour
        self.skill = terms.skill if said.skill is None else said.skill
        self.batch = said.batch
        self.hidden = (
            terms.hidden_fault_share_unstrung if self._reads("strung") is False else terms.hidden_fault_share
        )
        odd = self.job.instrument.get("odd_work")
        if odd is not None and odd.value and not odd.assumed:
            self.hidden *= Decimal("1.5")
        self.faults_sold = terms.hidden_faults_quoted == "in-price"
        self.desk = {name for name, task in self.shop.tasks.items() if self.client and not task.billed}
        ways = self.shop.resale.ways if self.job.kind == "resale" else {}
        # sold by the way named, else by the first: what that way spares the seller is not done at all
        spared = {task for way in list(ways.values())[:1] for task in way.drops}
        if sale.way:
            spared = {task for way in ways.values() if way.id == sale.way for task in way.drops}
        self.base = tuple(
            ((row.task, ""), self.run(Demand(row.task, "", row.quantity, "")))
            for row in self.shop.base_work.get(self.job.kind, ())
            if row.quantity > 0 and row.task not in spared
        )
        self._base_keys = _by_task(key for key, _ in self.base)

    # ------------------------------------------------------------------ what stands on the instrument
    def _reads(self, name: str) -> object:
        reading = self.job.instrument.get(name)
        return None if reading is None else reading.value

    def _word(self, name: str) -> str:
        value = self._reads(name)
        return "" if value is None else str(value)

    def level(self, code: str, levels: Mapping[str, str]) -> str:
        """The level of a factor: what the work itself says, else what the instrument shows."""
        root = code.partition(".")[0]
        for key in (code, root):
            if key in levels:
                return levels[key]
        match code if code in ("FB.bind", "BR", "NJ", "SZ", "NMECH", "SG") else "":
            case "FB.bind":
                return "bound" if self._reads("board_bound") is True else "open"
            case "BR":
                if self._reads("board_compound") is True:
                    return "compound"
                radius = self._reads("board_rad")
                if not isinstance(radius, Decimal):
                    return ""
                return "single-under-254" if radius < 254 else "single-254-up"
            case "NJ":
                return "neck-off" if self._word("joint") in ("bolt", "") else "set-or-through"
            case "SZ":
                return "bass" if self._word("kind").startswith("bass") else "guitar"
            case "NMECH":
                return "roller"
            case "SG":
                return "inside"
        return self._word(LEVEL_FIELD[code if code in LEVEL_FIELD else root])

    def factor(self, code: str, levels: Mapping[str, str]) -> Decimal:
        """The run-time multiple of one factor; a level that no row names counts 1."""
        root, _, column = code.partition(".")
        level = self.level(code, levels)
        table: Mapping[str, object] | None = {
            "FW": self.shop.metals,
            "BW": self.shop.woods,
            "FT": self.shop.finishes,
        }.get(root)
        if table is not None and column and code != "FT.colour":
            value = Decimal(getattr(table.get(level), column, ONE))
            return value * self.factor("FT.colour", levels) if code == "FT.touch" else value
        if code == "GP" and level in self.shop.woods:
            level = self.shop.woods[level].grain
        row = self.shop.factors.get((code, level))
        return ONE if row is None else row.factor

    def skill_at(self, task: Task) -> int:
        """Of a crew the least skill that may do the task, for any of them may get it."""
        able = [skill for skill in self.crew if skill >= task.level]
        return min(able) if able else max(self.crew, default=self.skill)

    def _slowness(self, task: Task) -> Decimal:
        beyond = task.beginner_factor - 1
        shares = {1: ONE, 2: Decimal("0.6"), 3: Decimal("0.25"), 4: NIL}
        skill = self.skill_at(task)
        return Decimal("0.92") if skill == 5 else 1 + shares[skill] * beyond

    def _metal(self, levels: Mapping[str, str]) -> Metal | None:
        return self.shop.metals.get(self.level("FW", levels))

    def _wood(self, levels: Mapping[str, str]) -> Wood | None:
        return self.shop.woods.get(self.level("BW", levels))

    # ------------------------------------------------------------------ ways to do a task
    def task(self, name: str) -> Task:
        """A task the way it is done: its row, and over it whatever the row of the way says otherwise."""
        if name not in self._tasks:
            task, says = (
                self.shop.tasks[name],
                self.shop.ways.methods.get(name, {}).get(self.methods.get(name, "")),
            )
            said: dict[str, object] = {}
            for name_of, value in asdict(says).items() if says is not None else ():
                if name_of not in NOT_OF_THE_TASK and value is not None and value != () and value != "":
                    said[name_of] = value
            self._tasks[name] = replace(task, **said) if said else task
        return self._tasks[name]

    def _rows_by_way(
        self,
        of_tasks: Mapping[str, tuple[R, ...]],
        of_ways: Mapping[tuple[str, str], tuple[R, ...]],
        task: str,
    ) -> list[R]:
        """What a task takes: an item's row of the way stands in the place of that of the task, at 0 for none of it."""
        own = of_ways.get((task, self.methods.get(task, "")), ())
        changed = [(row[0], row[2:]) for row in own]
        kept = [row for row in of_tasks.get(task, ()) if (row[0], row[2:]) not in changed]
        return [*kept, *(row for row in own if row[1] > 0)]

    def done(self, methods: Mapping[str, str]) -> Rows:
        """The same job done other ways; what they leave as it is keeps the lines that were worked out for it."""
        of_all = {*methods, *self.methods}
        other = {task for task in of_all if methods.get(task, "") != self.methods.get(task, "")}
        rows = self.shop, self.job, self.verdicts, self.crew, self.packs_in_cost, methods
        return Rows(
            *rows,
            _tasks={task: row for task, row in self._tasks.items() if task not in other},
            _lines={task: lines for task, lines in self._lines.items() if task not in other},
            _setups={task: line for task, line in self._setups.items() if task not in other},
            _works={u: work for u, work in self._works.items() if other.isdisjoint(self._keys(u))},
            _places=self._places,
            _bought=self._bought,
            _bad=self._bad,
            _lifts=self._lifts,
            _grams=self._grams,
            _as_usual=self._as_usual,
        )

    def _usual(self) -> Rows:
        """The same job with every task done the usual way."""
        if self._as_usual is None:
            self._as_usual = self.done({}) if self.methods else self
        return self._as_usual

    # ------------------------------------------------------------------ lines
    def _held(self, minutes: Decimal) -> Decimal:
        share = self.shop.terms.allowance
        return minutes / (1 - share) if self.shop.terms.allowance_on == "shift" else minutes * (1 + share)

    def _warranty(self, task: Task, minutes: Decimal) -> Cents:
        share = self.shop.resale.warranty.get(task.id)
        if share is None:
            return Cents(0)
        return hourly(minutes * max(NIL, share - self.shop.terms.labour_reserve), self.charge)

    def _labour(self, minutes: Decimal, reserve: Decimal) -> tuple[Cents, Cents, Cents]:
        return (
            hourly(minutes, self.wage),
            hourly(minutes, self.overhead),
            hourly(reserve, self.wage + self.overhead),
        )

    def setup(self, name: str) -> PlainLine:
        """The set-up of a task, once a sitting."""
        if name not in self._setups:
            task = self.task(name)
            minutes = self._held(task.setup_min)
            hidden = minutes * self.hidden
            saved = (1 - task.repeat_share) * (self.batch - 1) / self.batch * self.shop.terms.batch_share
            besides = self._warranty(task, minutes + (hidden if self.faults_sold else NIL)) - hourly(
                minutes * saved, self.charge
            )
            labour = self._labour(minutes, hidden)
            money = (*[NO_MONEY] * 3, *labour, NO_MONEY, besides, NO_MONEY)
            held = in_hundredths(hidden)
            self._setups[name] = PlainLine(
                money, in_hundredths(minutes), held, faults=held, cost=sum(labour, NO_MONEY)
            )
        return self._setups[name]

    def run(self, demand: Demand, part_price: Decimal = NIL) -> PlainLine:
        """The run of a task for what is demanded, without its set-up."""
        task = self.task(demand.task)
        spoils = part_price if task.rework_kind == "s" else NIL
        key = (
            demand.quantity,
            demand.share,
            tuple(sorted(demand.levels.items())),
            demand.extra_min,
            demand.extra_rework_pct,
            demand.rework_times,
            demand.setup_share,
            demand.rests_on,
            spoils,
        )
        lines = self._lines.setdefault(demand.task, {})
        if key not in lines:
            lines[key] = self._run(task, demand, spoils)
        return lines[key]

    def _run(self, task: Task, demand: Demand, part_price: Decimal) -> PlainLine:
        shop, terms, number, levels = self.shop, self.shop.terms, demand.quantity, demand.levels
        times = number * demand.share * self._slowness(task)
        for code in task.factors:
            times *= self.factor(code, levels)
        low, likely, high = (
            self._held(reading * times + demand.extra_min)
            for reading in (task.run_min_low, task.run_min_likely, task.run_min_high)
        )
        if task.reading == "pert":
            mean, width = (low + 4 * likely + high) / 6, Decimal(6)
        else:
            mean, width = (3 * low + 4 * likely + 3 * high) / 10, Decimal("2.56")
        minutes = mean + self._held(task.setup_min * demand.setup_share)
        covered = number * demand.share if task.driver == "coat" else number
        worn, sold, packed, used, had = self._used(task, covered, levels)
        tools = self._tools(task, number, levels)
        odds = self._odds(task, demand)
        again, spoilt = self._rework(task, number, odds, mean, worn, part_price)
        hidden = minutes * self.hidden
        parts = in_cents(sold)
        prices = self.marked_up(parts)
        money = (
            parts,
            in_cents(worn - packed if self.packs_in_cost else worn),
            in_cents(tools),
            *self._pay(minutes, again + hidden, spoilt),
            prices,
            self._warranty(task, minutes + again + (hidden if self.faults_sold else NIL)),
            Cents(whole(prices * terms.tax_parts)),
        )
        sd = float((high - low) / width * self._widened(task, demand))
        wood = shop.woods.get(self._word("body_wood"))
        hundredths, rework, held = in_hundredths(minutes), in_hundredths(again), in_hundredths(hidden)
        cost = sum(money[:6], NO_MONEY)
        singly = task.driver in COUNTED_SINGLY and task.rework_kind not in ("x", "n")
        return PlainLine(
            money,
            hundredths,
            rework + held,
            in_hundredths(task.wait_usual_min),
            sd,
            _struck(rework, float(odds), math.ceil(number) if singly else 1),
            held,
            -number * wood.density if wood and task.driver == "cm3" else NIL,
            used,
            parts - had,
            (hundredths, cost, number, rework, prices, money[1], sd),
            cost,
        )

    def _pay(self, minutes: Decimal, reserve: Decimal, spoilt: Decimal) -> tuple[Cents, Cents, Cents]:
        labour, overhead, held = self._labour(minutes, reserve)
        return labour, overhead, held + in_cents(spoilt)

    def _meant(self, families: Collection[str]) -> set[str]:
        """The words of rows that mean this instrument, by family and by its count of strings."""
        family = "bass" if self.job.is_bass else "guitar"
        reading = self.job.instrument.get("string_n")
        counted = "" if reading is None else f"{family}-{reading.value}"
        return {"any", family, counted if counted in families else f"{family}-other"}

    def _used(
        self, task: Task, number: Decimal, levels: Mapping[str, str]
    ) -> tuple[Decimal, Decimal, Decimal, tuple[tuple[str, int], ...], Cents]:
        """Money for what wears, for what is sold like a part, for what is bought by the pack; and the packs' use.

        Last the cents of what is sold like a part and lies in stock: it is paid beyond the stock alone.
        """
        worn = sold = packed = NIL
        had = Cents(0)
        used = []
        rows = self._rows_by_way(self.shop.task_consumables, self.shop.ways.consumables, task.id)
        mine = self._meant({family for _, _, family in rows})
        for name, each, family in rows:
            if family not in mine:
                continue
            item = self.shop.consumables[name]
            metal = self._metal(levels) if item.abrasive and task.group == "frets" else None
            quantity = number * each * (metal.abrasive if metal else ONE)
            money = quantity * item.price / item.units_per_pack
            if item.billed_as == "part":
                sold += money
                if self.job.stock.get(name, NIL) >= 1:
                    had += in_cents(money)
                    used.append((name, int((quantity * 1000).to_integral_value(ROUND_HALF_UP))))
                continue
            if item.billed_as == "wear":
                worn += money
            if not item.on_shelf:
                packed += money if item.billed_as == "wear" else NIL
                used.append((name, int((quantity * 1000).to_integral_value(ROUND_HALF_UP))))
        return worn, sold, packed, tuple(used), had

    def _tools(self, task: Task, number: Decimal, levels: Mapping[str, str]) -> Decimal:
        roots = {code.partition(".")[0] for code in task.factors}
        total = NIL
        for name, each in self._rows_by_way(self.shop.task_tools, self.shop.ways.tools, task.id):
            tool = self.shop.tools[name]
            faster = ONE
            if tool.wear_by == "metal" and task.group == "frets":
                metal = self._metal(levels)
                faster = metal.tool_wear if metal else ONE
            elif tool.wear_by == "wood" and "BW" in roots:
                wood = self._wood(levels)
                faster = wood.cutter_wear if wood else ONE
            elif tool.wear_by == "nut" and "NM" in roots:
                nut = self.shop.factors.get(("NM", self.level("NM", levels)))
                faster = nut.wear if nut else ONE
            dear = tool.default_grade == "premium"
            price, life = (
                (tool.premium_price, tool.premium_life)
                if dear
                else (tool.inexpensive_price, tool.inexpensive_life)
            )
            total += number * each * faster * price / life
        return total

    def _odds(self, task: Task, demand: Demand) -> Decimal:
        terms, chips = self.shop.terms, ONE
        if task.rework_kind == "d" or "FT.touch" in task.factors:
            finish = self.shop.finishes.get(self.level("FT", demand.levels))
            chips = finish.chip_odds if finish else ONE
            wood = self._wood(demand.levels)
            if wood and any(code.startswith("BW") for code in task.factors):
                chips *= wood.chip_odds
        lacking = max(0, task.level - self.skill_at(task))
        pct = task.rework_pct * (1 + terms.rework_skill_step * lacking) * chips
        pct = pct * demand.rework_times + demand.extra_rework_pct + self._at_fault(task.id)
        return min(terms.rework_cap_pct, max(NIL, pct)) / 100

    def _at_fault(self, task: str) -> Decimal:
        """Points on top for the worst fault found that the task touches."""
        bad = {row.fault for row in self.faults()}
        points = (row.more_pct for row in self.shop.fault_odds if row.task == task and row.fault in bad)
        return max(points, default=NIL)

    def faults(self) -> list[Fault]:
        """The rows of the faults that were found on the instrument."""
        if self._bad is None:
            on = self.job.instrument
            self._bad = [
                row
                for row in self.shop.faults
                if row.field in on
                and not on[row.field].assumed
                and is_bad(row, on[row.field].value)
                and holds(row.when, on)
            ]
        return self._bad

    def _rework(
        self, task: Task, number: Decimal, odds: Decimal, mean: Decimal, worn: Decimal, part_price: Decimal
    ) -> tuple[Decimal, Decimal]:
        """Minutes and material that going wrong takes on average."""
        terms, share = self.shop.terms, task.rework_share
        times = number if task.driver in COUNTED_SINGLY else ONE
        match task.rework_kind:
            case "q":
                return odds * share * mean, NIL
            case "r":
                return odds * share * mean, odds * share * worn
            case "s":
                return odds * (share * mean + times * terms.rework_spoil_min), odds * times * part_price
            case "d":
                return odds * times * share * terms.rework_damage_min, NIL
            case "x":
                return odds * share * terms.rework_serious_min, odds * share * terms.rework_serious_cost
        return odds * terms.rework_client_min, NIL

    def _widened(self, task: Task, demand: Demand) -> Decimal:
        """The multiple of the spread for readings that nobody took."""
        fields: dict[str, None] = {}
        for code in task.factors:
            root = code.partition(".")[0]
            if code in demand.levels or root in demand.levels:
                continue
            for name in TWO_FIELDS.get(code, (OTHER_FIELDS.get(code) or LEVEL_FIELD.get(root, ""),)):
                fields.setdefault(name)
        for name in (*demand.rests_on, *BESIDES.get(task.id, ())):
            fields.setdefault(name)
        more = ONE
        for name in fields:
            reading, row = self.job.instrument.get(name), self.shop.intake.get(name)
            if reading is not None and reading.assumed and row is not None:
                more += row.spread
        return more

    def marked_up(self, cents: Cents) -> Cents:
        """The price of what costs so many cents."""
        cost = Decimal(cents) / 100
        for band in self.shop.terms.markup:
            if band.up_to is None or cost <= band.up_to:
                return in_cents(cost * band.factor)
        return cents

    # ------------------------------------------------------------------ upgrades
    def own_work(self, upgrade: str) -> Iterator[Demand]:
        """The work of an upgrade by the rows of ``upgrade_work`` and ``bundle_work``, bundles opened."""
        row = self.verdicts[upgrade].upgrade.row
        part = self.verdicts[upgrade].upgrade.part
        yield from self._opened(self.shop.upgrade_work.get(row.id, ()), part)

    def _opened(self, rows: tuple[WorkRow, ...], part: Part | None) -> Iterator[Demand]:
        for row in rows:
            if not holds(row.when, self.job.instrument, part):
                continue
            number = self.value(row.quantity, part)
            share = self.value(row.share, part)
            named = (*parse_expression(row.quantity).names, *parse_expression(row.share).names)
            fields = tuple(dict.fromkeys(named))
            if row.task not in self.shop.bundles:
                if number > 0:
                    levels = {**(part.levels if part else {}), **row.levels}
                    if part:
                        # what the part brings goes before what the row says, but for what stays as it was found
                        levels |= {c: v for c, v in part.levels.items() if levels[c] != "as-found"}
                    levels = {c: v for c, v in levels.items() if v != "as-found"}
                    yield Demand(row.task, row.place, number, "", share, levels, rests_on=fields)
                continue
            for inner in self._opened(self.shop.bundles[row.task], part):
                yield Demand(
                    inner.task,
                    inner.place or row.place,
                    inner.quantity * number,
                    "",
                    inner.share * share,
                    {c: v for c, v in {**inner.levels, **row.levels}.items() if v != "as-found"},
                    rests_on=tuple(dict.fromkeys((*inner.rests_on, *fields))),
                )

    def value(self, text: str, part: Part | None = None) -> Decimal:
        """A cell such as ``0.6 * guard_cm2`` on this instrument, with this part."""

        def told(name: str) -> Decimal:
            if name == "wood_g_cm3":
                wood = self._wood({})
                found: object = wood.density if wood else NIL
            elif name == "part.weight_g":
                found = part.weight_g if part else None
            elif name.startswith("part."):
                found = part.dims.get(name[5:]) if part else None
            else:
                found = self.job.instrument[name].value
            return found if isinstance(found, Decimal) else NIL

        return parse_expression(text).value(told)

    def work(self, upgrade: str) -> tuple[tuple[tuple[str, str], PlainLine], ...]:
        """Every run that an upgrade asks for, each coat of finish by itself, with its task and place."""
        if upgrade not in self._works:
            verdict = self.verdicts[upgrade]
            part = verdict.upgrade.part
            price = part.price if part else NIL
            found: dict[tuple[str, str], PlainLine] = {}
            for demand in verdict.demands:
                task = self.task(demand.task)
                if task.driver != "coat" or demand.quantity <= 1:
                    _keep(found, (demand.task, demand.place), self.run(demand, price))
                    continue
                for coat in range(int(demand.quantity)):
                    place = f"{demand.place}-coat-{coat + 1:02d}" if demand.place else f"coat-{coat + 1:02d}"
                    one = Demand(
                        demand.task,
                        place,
                        ONE,
                        "",
                        demand.share,
                        demand.levels,
                        demand.extra_min,
                        demand.extra_rework_pct,
                        demand.rework_times,
                        task.repeat_share if coat else NIL,
                        demand.rests_on,
                    )
                    _keep(found, (demand.task, place), self.run(one, price))
            self._works[upgrade] = tuple(found.items())
        return self._works[upgrade]

    def bought(self, upgrade: str) -> tuple[tuple[Cents, ...], str, Cents, Decimal]:
        """Of an upgrade's part: cents by ``HEADINGS``, the part, cents for one piece, how many pieces."""
        if upgrade not in self._bought:
            made = self.verdicts[upgrade].upgrade
            part = made.part
            if part is None:
                self._bought[upgrade] = ((NO_MONEY,) * len(HEADINGS), "", NO_MONEY, NIL)
                return self._bought[upgrade]
            number = self.value(made.row.parts_needed, part)
            if part.owner == "customer":
                usual = self._usual()
                minutes = sum((usual.run(demand).minutes for demand in usual.own_work(upgrade)), NO_TIME)
                more = self.shop.terms.own_part_labour - 1
                fitting = hourly(Decimal(minutes) / 100 * more, self.charge)
                money: tuple[Cents, ...] = (*[NO_MONEY] * 7, fitting, NO_MONEY)
                self._bought[upgrade] = (money, "", NO_MONEY, NIL)
                return self._bought[upgrade]
            each = in_cents(part.price)
            price = Cents(whole(self.marked_up(each) * number))
            tax = Cents(whole(price * self.shop.terms.tax_parts))
            money = (Cents(whole(each * number)), *[NO_MONEY] * 5, price, NO_MONEY, tax)
            self._bought[upgrade] = (money, part.id, each, number)
        return self._bought[upgrade]

    def grams(self, upgrade: str) -> Decimal:
        """What an upgrade's part weighs less what it takes off."""
        if upgrade not in self._grams:
            made = self.verdicts[upgrade].upgrade
            part = made.part
            gained = (part.weight_g or NIL) * self.value(made.row.parts_needed, part) if part else NIL
            self._grams[upgrade] = gained - self.value(made.row.removes_g, part)
        return self._grams[upgrade]

    # ------------------------------------------------------------------ sets
    def largest(self, chosen: Collection[str]) -> dict[tuple[str, str], PlainLine]:
        """The work of a set: at each place the largest demand on each task, once, but for what is needless."""
        held = dict(self.base)
        gone: dict[str, list[NeedlessWork]] = {}
        for upgrade in chosen:
            for key, line in self.work(upgrade):
                known = held.get(key)
                if known is None or line.rank > known.rank:
                    held[key] = line
            for row in self.needless(upgrade):
                gone.setdefault(row.task, []).append(row)
        return {
            key: line
            for key, line in held.items()
            if key[0] not in gone or not any(_at(row, key) for row in gone[key[0]])
        }

    def needless(self, upgrade: str) -> tuple[NeedlessWork, ...]:
        """The rows by which an upgrade makes work needless."""
        if upgrade not in self._lifts:
            made = self.verdicts[upgrade].upgrade
            tasks = {task for (task, _), _ in self.work(upgrade)}
            by_task = [row for row in self.shop.needless.get("", ()) if row.with_task in tasks]
            rows = (*self.shop.needless.get(made.row.id, ()), *by_task)
            on = self.job.instrument
            self._lifts[upgrade] = tuple(row for row in rows if holds(row.when, on, made.part))
        return self._lifts[upgrade]

    def apart(self, upgrade: str, chosen: Collection[str]) -> bool:
        """Whether an upgrade and a set leave each other's work as it is."""
        lifts, mine = self.needless(upgrade), self._keys(upgrade)
        if lifts and any(_lifted(lifts, keys) for keys in (self._base_keys, *map(self._keys, chosen))):
            return False
        return not any(_lifted(self.needless(other), mine) for other in chosen)

    def _keys(self, upgrade: str) -> ByTask:
        """Where an upgrade asks for each task."""
        if upgrade not in self._places:
            self._places[upgrade] = _by_task(key for key, _ in self.work(upgrade))
        return self._places[upgrade]

    def totals(self, chosen: Collection[str]) -> RowTotals:
        """Everything that a set comes to, added up."""
        runs = self.largest(chosen)
        setups = dict.fromkeys(task for task, _ in runs)
        lines = [(task, self.setup(task)) for task in setups] + [(key[0], line) for key, line in runs.items()]
        billed = [line for task, line in lines if task not in self.desk]
        desk = sum((line.minutes for task, line in lines if task in self.desk), NO_TIME)
        used: dict[str, int] = {}
        singly: dict[str, int] = {}
        for task, line in lines:
            for name, quantity in line.used:
                if self.shop.consumables[name].billed_as != "part":
                    used[name] = used.get(name, 0) + quantity
                elif task not in self.desk:
                    singly[name] = singly.get(name, 0) + quantity
        paid = self._packs(used)
        cents = [line.money for line in billed] + [self.bought(upgrade)[0] for upgrade in chosen]
        sums = [sum(column, NO_MONEY) for column in zip(*cents, strict=True)] or [NO_MONEY] * len(HEADINGS)
        if self.packs_in_cost:
            sums[1] += paid
        spreads = [line.sd for line in billed]
        cause = float(self.shop.terms.shared_cause)
        alone, joint = math.fsum(s * s for s in spreads), math.fsum(spreads) ** 2
        struck = math.fsum(line.struck**2 for line in billed)
        faults = sum((line.faults for line in billed), NO_TIME)
        hidden = faults / 100
        return RowTotals(
            money=dict(zip(HEADINGS, sums, strict=True)),
            cash=sum((line.cash for line in billed), paid) + self._pieces(chosen) + self._singly(singly),
            minutes=sum((line.minutes for line in billed), NO_TIME),
            reserve=sum((line.reserve for line in billed), NO_TIME),
            wait=sum((line.wait for _, line in lines), NO_TIME),
            desk=desk,
            # hidden faults: in one job of two, then of exponential size, so three squares of their mean
            sd=math.sqrt((1 - cause) * alone + cause * joint + struck + 3 * hidden * hidden),
            sd_without=math.sqrt((1 - cause) * alone + cause * joint + struck),
            faults=faults,
            skew=float(self.shop.terms.skew),
        )

    def mass(self, chosen: Collection[str]) -> Decimal:
        """Grams that a set adds to the instrument: its parts, less what comes off and what is cut away."""
        cut = sum((line.mass for line in self.largest(chosen).values()), NIL)
        return sum((self.grams(upgrade) for upgrade in chosen), cut)

    def cost(self, chosen: Collection[str]) -> Cents:
        """What a set costs the shop, in cents; freight is not in it."""
        if self.packs_in_cost:
            return self.totals(chosen).cost
        return sum((self.bought(u)[0][0] for u in chosen), self.cost_of_runs(self.largest(chosen)))

    def cost_of_runs(self, runs: Mapping[tuple[str, str], PlainLine]) -> Cents:
        """Money for work and the set-ups it takes, by the share used of what is bought by the pack."""
        tasks = {task for task, _ in runs} - self.desk
        cents = sum((line.cost for (task, _), line in runs.items() if task in tasks), NO_MONEY)
        return sum((self.setup(task).cost for task in tasks), cents)

    def further(
        self, runs: Mapping[tuple[str, str], PlainLine], tasks: Collection[str], upgrade: str
    ) -> Cents:
        """Money that one more upgrade costs beside ``runs``, the work on ``tasks`` of the others."""
        cents, new = self.bought(upgrade)[0][0], set()
        for key, line in self.work(upgrade):
            if key[0] in self.desk:
                continue
            known = runs.get(key)
            if known is None:
                cents += line.cost
                new.add(key[0])
            elif line.rank > known.rank:
                cents += line.cost - known.cost
        return sum((self.setup(task).cost for task in new if task not in tasks), cents)

    def _packs(self, used: Mapping[str, int]) -> Cents:
        """Money for packs: what is used beyond the stock, in whole packs."""
        cents = Cents(0)
        for name, quantity in used.items():
            if name not in self._sizes:
                item, stock = self.shop.consumables[name], self.job.stock.get(name, NIL)
                there, in_pack = (
                    int((each * 1000).to_integral_value(ROUND_HALF_UP))
                    for each in (stock, item.units_per_pack)
                )
                self._sizes[name] = there, in_pack, in_cents(item.price)
            stocked, size, price = self._sizes[name]
            cents += max(0, -((stocked - quantity) // size)) * price
        return cents

    def _singly(self, used: Mapping[str, int]) -> Cents:
        """Money for what is sold with the work: whole ones, when what is there is used up."""
        cents = Cents(0)
        for name, thousandths in used.items():
            item = self.shop.consumables[name]
            lacking = thousandths - int((self.job.stock[name] * 1000).to_integral_value(ROUND_HALF_UP))
            cents += max(0, math.ceil(Fraction(lacking, 1000))) * in_cents(item.price / item.units_per_pack)
        return cents

    def _pieces(self, chosen: Collection[str]) -> Cents:
        """Money for parts: a piece that lies in stock serves once, whoever takes it."""
        needed: dict[str, tuple[Cents, Decimal]] = {}
        for upgrade in chosen:
            _, part, each, number = self.bought(upgrade)
            if part:
                needed[part] = (each, needed.get(part, (0, NIL))[1] + number)
        bought = (
            each * max(NIL, number - int(self.job.stock.get(part, NIL)))
            for part, (each, number) in needed.items()
        )
        return sum((Cents(whole(cents)) for cents in bought), NO_MONEY)

    # ------------------------------------------------------------------ the price
    def quoted(self, totals: RowTotals) -> Hundredths:
        """The minutes a customer is quoted: a job that names a surety is held at it, whatever its size."""
        own, terms = self.job.budget.surety, self.shop.terms
        hours = terms.large_quote_hours if own is None else NIL
        return totals.quoted(own or terms.surety, hours, self.faults_sold)

    def to_pay(self, totals: RowTotals, minutes: Hundredths, taxed: bool = True) -> Cents:
        """What a customer pays for so many hundredths of a minute and for what the set comes to."""
        terms, money = self.shop.terms, totals.money
        unit = terms.billing_unit_min
        billed = (Decimal(minutes) / 100 / unit).to_integral_value(ROUND_CEILING) * unit
        labour = hourly(billed, self.charge)
        fee, most, large = NO_MONEY, in_cents(terms.fee_most), terms.large_quote_hours
        if billed:
            share = min(terms.fee_most, max(terms.fee_least, Decimal(labour) / 100 * terms.fee_share))
            fee = money["consumables"] if money["consumables"] > terms.fee_most * 100 else in_cents(share)
        if large:
            # of a small quote only what is used up beyond the most; the rest as far as labour goes beyond its size
            small = max(NO_MONEY, money["consumables"] - most)
            above = labour - hourly((large * 60 / unit).to_integral_value(ROUND_CEILING) * unit, self.charge)
            fee = min(fee, small + above if above > 0 else small)
        work = labour + Cents(whole(labour * terms.labour_reserve)) + money["price_work"]
        work += max(NO_MONEY, in_cents(terms.minimum_charge) - work - fee - money["price_parts"])
        plain = work + fee + money["price_parts"]
        price = Cents(whole(plain * terms.rush)) if self.job.terms.rush else plain
        if not taxed:
            return price
        rest = (work, fee, price - plain)
        if terms.tax_per == "line":
            taxes = (Cents(whole(net * terms.tax_labour)) for net in rest)
            return sum(taxes, price + money["line_tax"])
        tax = sum(rest, NO_MONEY) * terms.tax_labour + money["price_parts"] * terms.tax_parts
        return price + Cents(whole(tax))


def _struck(rework: int, odds: float, chances: int) -> float:
    """Spread in minutes of what goes wrong: so many chances at these odds, each with its share of the minutes."""
    if not 0 < odds < 1 or not chances:
        return 0.0
    each = rework / 100 / (odds * chances)
    return each * math.sqrt(chances * odds * (1 - odds))


def _by_task(keys: Iterable[tuple[str, str]]) -> ByTask:
    found: ByTask = {}
    for key in keys:
        found.setdefault(key[0], []).append(key)
    return found


def _lifted(rows: Iterable[NeedlessWork], keys: ByTask) -> bool:
    """Whether rows make any of some work needless."""
    return any(_at(row, key) for row in rows for key in keys.get(row.task, ()))


def _at(row: NeedlessWork, key: tuple[str, str]) -> bool:
    """Whether a row that makes work needless is about a task at a place (one coat of many counts)."""
    task, place = key
    return row.task == task and (not row.place or place.partition("-coat-")[0] == row.place)


def _keep(lines: dict[tuple[str, str], PlainLine], key: tuple[str, str], line: PlainLine) -> None:
    """Of two demands at one place the larger."""
    known = lines.get(key)
    if known is None or line.rank > known.rank:
        lines[key] = line
