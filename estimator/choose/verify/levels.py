"""Levels and amounts of the spec once more from the rows of the tables; shares no code with the choice.

A level is what the instrument shows, raised by what the set gives at least, with what it adds on top,
below every cap of the set and every fault that the set leaves; from zero to four, never above what ``attribute_limits`` allows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct

from estimator.choose.verify.rows import Rows
from estimator.core.amounts import Tenths
from estimator.model import Attribute, EffectRow, Fault
from estimator.tables.conditions import holds

TOP = 40


def tenths(level: Decimal) -> Tenths:
    """A level in tenths, half up."""
    return Tenths(int((level * 10).quantize(Decimal(1), ROUND_HALF_UP)))


class Given(Struct, frozen=True):
    """What an upgrade does to an attribute; of one ``source`` it counts once, the largest.

    ``value``: tenths of a level, for ``change`` thousandths of the amount. ``beside``: upgrades (or their
    rows), or for ``by_task`` tasks, of which one must be in the set too.
    """

    kind: str
    value: int
    source: str
    beside: tuple[str, ...] = ()
    by_task: bool = False


@dataclass
class Spec:
    """The attributes of a shop as one job's instrument and work stand to them."""

    rows: Rows
    _given: dict[str, dict[str, list[Given]]] = field(default_factory=dict)
    _now: dict[str, int] = field(default_factory=dict)
    _tasks: dict[str, frozenset[str]] = field(default_factory=dict)
    _mending: dict[str, frozenset[int]] = field(default_factory=dict)
    _bearing: dict[str, frozenset[str]] = field(default_factory=dict)
    _bearing_on: dict[str, frozenset[str]] = field(default_factory=dict)
    _reached: dict[tuple[str, frozenset[str]], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.limits: dict[str, list[tuple[str, int | None, int | None]]] = {}
        for row in self.rows.shop.attribute_limits:
            if not holds(row.when, self.rows.job.instrument):
                continue
            plus = None if row.plus is None else tenths(row.plus)
            needs = None if row.needs is None else tenths(row.needs)
            self.limits.setdefault(row.attribute, []).append((row.other, plus, needs))
        shop = self.rows.shop
        self.by_level = {item.id for item in shop.attributes.values() if item.kind == "level"}
        self._beside = _companions(shop.upgrade_effects.values())
        self._beside_tasks = _companions(shop.task_effects.values())

    def now(self, attribute: Attribute) -> int:
        """Today's level in tenths: as found, else the lowest that was seen or measured, else the usual one."""
        if attribute.id not in self._now:
            self._now[attribute.id] = tenths(self._level_now(attribute))
        return self._now[attribute.id]

    def _level_now(self, attribute: Attribute) -> Decimal:
        job = self.rows.job
        found = job.found_levels.get(attribute.id)
        if found is not None and isinstance(found.value, Decimal):
            return found.value
        seen: list[tuple[bool, Decimal]] = []
        reading = job.instrument.get(attribute.intake_field) if attribute.intake_field else None
        if reading is not None and isinstance(reading.value, Decimal):
            seen.append((reading.assumed, self._measured(attribute, reading.value)))
        for sign in self.rows.shop.attribute_signs:
            mark = job.instrument.get(sign.field)
            if sign.attribute == attribute.id and mark is not None:
                word = {True: "yes", False: "no"}[mark.value] if isinstance(mark.value, bool) else mark.value
                if word == sign.word:
                    seen.append((mark.assumed, sign.level))
        sure = [level for assumed, level in seen if not assumed]
        told = sure or [level for _, level in seen]
        return min(told) if told else attribute.default_level or Decimal(0)

    def _measured(self, attribute: Attribute, value: Decimal) -> Decimal:
        """How many of the limits of the levels a reading has passed, one after another."""
        if not attribute.limits:
            return value
        shift = attribute.bass_shift if self.rows.job.is_bass else Decimal(0)
        passed = 0
        for limit in attribute.limits:
            if (value < limit + shift) if attribute.better == "more" else (value > limit + shift):
                break
            passed += 1
        own = [
            row.level
            for row in self.rows.faults()
            if row.attribute == attribute.id and row.field == attribute.intake_field
        ]
        return min([Decimal(passed), *own])

    def given(self, upgrade: str) -> dict[str, list[Given]]:
        """All that an upgrade, its fit and its work do to attributes, by attribute."""
        if upgrade not in self._given:
            found: dict[str, list[Given]] = {}
            for attribute, given in (*self._by_upgrade(upgrade), *self._by_work(upgrade)):
                found.setdefault(attribute, []).append(given)
            self._given[upgrade] = found
        return self._given[upgrade]

    def _by_upgrade(self, upgrade: str) -> Iterator[tuple[str, Given]]:
        rows, verdict = self.rows, self.rows.verdicts[upgrade]
        part = verdict.upgrade.part
        grades = ("any", part.grade, part.variant) if part else ("any",)
        for number, row in enumerate(rows.shop.upgrade_effects.get(verdict.upgrade.row.id, ())):
            if row.grade in grades and holds(row.when, rows.job.instrument):
                value = whole_steps(row.kind, rows.value(row.value, part))
                yield row.attribute, Given(row.kind, value, f"{upgrade}, row {number}", row.together_with)
        for finding in verdict.findings:
            for attribute, kind, amount in finding.effects:
                yield attribute, Given(kind, whole_steps(kind, amount), finding.rule)

    def _by_work(self, upgrade: str) -> Iterator[tuple[str, Given]]:
        rows = self.rows
        for task in sorted(self.tasks(upgrade)):
            for row in rows.shop.task_effects.get(task, ()):
                if holds(row.when, rows.job.instrument):
                    value = whole_steps(row.kind, rows.value(row.value))
                    yield row.attribute, Given(row.kind, value, f"task {task}", row.together_with, True)

    def tasks(self, upgrade: str) -> frozenset[str]:
        """The tasks that an upgrade asks for."""
        if upgrade not in self._tasks:
            self._tasks[upgrade] = frozenset(d.task for d in self.rows.verdicts[upgrade].demands)
        return self._tasks[upgrade]

    def _in_force(self, attribute: str, chosen: Collection[str]) -> list[Given]:
        """What a set does to an attribute, without what lacks its companion."""
        return [
            item
            for upgrade in chosen
            for item in self.given(upgrade).get(attribute, ())
            if not item.beside or self._accompanied(item, chosen)
        ]

    def _accompanied(self, item: Given, chosen: Collection[str]) -> bool:
        if item.by_task:
            return any(not self.tasks(upgrade).isdisjoint(item.beside) for upgrade in chosen)
        verdicts = self.rows.verdicts
        return any(u in item.beside or verdicts[u].upgrade.row.id in item.beside for u in chosen)

    def levels(self, chosen: Collection[str]) -> dict[str, int]:
        """The level in tenths that each attribute reaches."""
        found: dict[str, int] = {}
        for name in self.rows.shop.attributes:
            if name in self.by_level:
                self.reach(name, chosen, found)
        return found

    def reach(self, name: str, chosen: Collection[str], found: dict[str, int]) -> int:
        """The level in tenths that one attribute reaches; ``found`` keeps what is worked out on the way."""
        if name in found:
            return found[name]
        given = self._in_force(name, chosen)
        level = self.now(self.rows.shop.attributes[name])
        if given:
            level = max([level, *(item.value for item in given if item.kind == "to")])
            level += added(given, "add")
            level = min([level, *(item.value for item in given if item.kind == "cap")])
        level = max(0, min([TOP, level, *self._unmended(name, chosen)]))
        for limiting, plus, needs in self.limits.get(name, ()):
            other = self.reach(limiting, chosen, found)
            if plus is not None:
                level = max(0, min(level, other + plus))
            if needs is not None and other < needs:
                level = 0
        found[name] = level
        return level

    def reached(self, name: str, chosen: Collection[str]) -> int:
        """The same, worked out once for all sets that hold the same of the upgrades that bear on it."""
        mine = self.bearing_on(name).intersection(chosen)
        key = name, mine
        if key not in self._reached:
            self._reached[key] = self.reach(name, mine, {})
        return self._reached[key]

    def bearing_on(self, name: str) -> frozenset[str]:
        """The upgrades on which the level of an attribute may turn."""
        if name not in self._bearing_on:
            self._bearing_on[name] = frozenset(u for u in self.rows.verdicts if name in self.bears_on(u))
        return self._bearing_on[name]

    def bears_on(self, upgrade: str) -> frozenset[str]:
        """The attributes whose level may turn on an upgrade, by itself or beside others."""
        if upgrade not in self._bearing:
            tasks, kind = self.tasks(upgrade), self.rows.verdicts[upgrade].upgrade.row.id
            found = {*self.given(upgrade), *self.mended(upgrade)}
            found |= {name for name, beside in self._beside if not beside.isdisjoint((upgrade, kind))}
            found |= {name for name, beside in self._beside_tasks if not beside.isdisjoint(tasks)}
            latest = found
            while latest:
                latest = {
                    name
                    for name, limits in self.limits.items()
                    if name not in found and any(other in latest for other, _, _ in limits)
                }
                found |= latest
            self._bearing[upgrade] = frozenset(found)
        return self._bearing[upgrade]

    def _unmended(self, name: str, chosen: Collection[str]) -> Iterator[int]:
        """The level in tenths at which each fault keeps an attribute that nothing of the set mends."""
        for number, row in enumerate(self.rows.faults()):
            if row.attribute == name and not any(number in self._mended_by(upgrade) for upgrade in chosen):
                yield tenths(row.level)

    def _mended_by(self, upgrade: str) -> frozenset[int]:
        """The numbers of the faults found that an upgrade mends."""
        if upgrade not in self._mending:
            found = enumerate(self.rows.faults())
            self._mending[upgrade] = frozenset(n for n, row in found if self._mends(upgrade, row))
        return self._mending[upgrade]

    def _mends(self, upgrade: str, row: Fault) -> bool:
        verdict = self.rows.verdicts[upgrade]
        kind = verdict.upgrade.row.id
        # named as a mend by its lesser weight, it must take grams off
        named = kind in row.mended_by and not (kind in row.only_lighter and self.rows.grams(upgrade) >= 0)
        # whoever does less than half of a task corrects what stands, and mends nothing by it
        done = {demand.task for demand in verdict.demands if 2 * demand.share >= 1}
        return named or not done.isdisjoint(row.mended_by_work)

    def mended(self, upgrade: str) -> set[str]:
        """The attributes that an upgrade frees of a fault."""
        return {row.attribute for row in self.rows.faults() if self._mends(upgrade, row)}

    def amount(self, name: str, chosen: Collection[str]) -> Decimal:
        """A numeric attribute, changed by the set; where grams are its changes, by what the set weighs."""
        attribute = self.rows.shop.attributes[name]
        reading = self.rows.job.instrument.get(attribute.intake_field)
        base = reading.value if reading is not None and isinstance(reading.value, Decimal) else Decimal(0)
        change = Decimal(added(self._in_force(name, chosen), "change")) / 1000
        return base + change + (self.rows.mass(chosen) if attribute.adds == "mass" else 0)

    def amounts(self, chosen: Collection[str]) -> dict[str, Decimal]:
        """Every numeric attribute."""
        attributes = self.rows.shop.attributes.values()
        return {item.id: self.amount(item.id, chosen) for item in attributes if item.kind == "number"}


def _companions(tables: Iterable[Iterable[EffectRow]]) -> list[tuple[str, frozenset[str]]]:
    """By row that needs one the attribute, and what has to be in the set beside it."""
    rows = (row for rows in tables for row in rows if row.together_with)
    return [(row.attribute, frozenset(row.together_with)) for row in rows]


def whole_steps(kind: str, value: Decimal) -> int:
    """Tenths of a level, or thousandths of a ``change`` of an amount; half up."""
    return int((value * (1000 if kind == "change" else 10)).quantize(Decimal(1), ROUND_HALF_UP))


def added(given: Iterable[Given], kind: str) -> int:
    """What is added in all: of one source the largest, once."""
    most: dict[str, int] = {}
    for item in given:
        if item.kind == kind:
            most[item.source] = max(item.value, most.get(item.source, item.value))
    return sum(most.values())
