"""Levels and amounts of the spec once more from the rows of the tables; shares no code with the choice.

A level is what the instrument shows, raised by what the set gives at least, with what it adds on top,
below every cap of the set; from nought to four, never above what ``attribute_limits`` allows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from estimator.conditions import holds
from estimator.model import Attribute, EffectRow
from estimator.recheck_rows import Rows

TOP = 40


def tenths(level: Decimal) -> int:
    """A level in tenths, half up."""
    return int((level * 10).quantize(Decimal(1), ROUND_HALF_UP))


@dataclass(frozen=True, slots=True)
class Given:
    """What an upgrade does to an attribute; of one ``source`` it counts once, the largest.

    ``beside``: upgrades (or their rows), or for ``by_task`` tasks, of which one must be in the set too.
    """

    attribute: str
    kind: str
    value: Decimal
    source: str
    beside: tuple[str, ...] = ()
    by_task: bool = False


@dataclass
class Spec:
    """The attributes of a shop as one job's instrument and work stand to them."""

    rows: Rows
    _given: dict[str, tuple[Given, ...]] = field(default_factory=dict)
    _now: dict[str, int] = field(default_factory=dict)
    _tasks: dict[str, frozenset[str]] = field(default_factory=dict)

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
        return Decimal(passed)

    def given(self, upgrade: str) -> tuple[Given, ...]:
        """All that an upgrade, its fit and its work do to attributes."""
        if upgrade not in self._given:
            self._given[upgrade] = (*self._by_upgrade(upgrade), *self._by_work(upgrade))
        return self._given[upgrade]

    def _by_upgrade(self, upgrade: str) -> Iterable[Given]:
        rows, verdict = self.rows, self.rows.verdicts[upgrade]
        part = verdict.upgrade.part
        grades = ("any", part.grade, part.variant) if part else ("any",)
        for number, row in enumerate(rows.shop.upgrade_effects.get(verdict.upgrade.row.id, ())):
            if row.grade in grades and holds(row.when, rows.job.instrument):
                value = rows.value(row.value, part)
                yield Given(row.attribute, row.kind, value, f"{upgrade}, row {number}", row.together_with)
        for finding in verdict.findings:
            for attribute, kind, value in finding.effects:
                yield Given(attribute, kind, value, finding.rule)

    def _by_work(self, upgrade: str) -> Iterable[Given]:
        rows = self.rows
        for task in self.tasks(upgrade):
            effects: tuple[EffectRow, ...] = rows.shop.task_effects.get(task, ())
            for row in effects:
                if holds(row.when, rows.job.instrument):
                    value = rows.value(row.value)
                    yield Given(row.attribute, row.kind, value, f"task {task}", row.together_with, True)

    def tasks(self, upgrade: str) -> frozenset[str]:
        """The tasks that an upgrade asks for."""
        if upgrade not in self._tasks:
            self._tasks[upgrade] = frozenset(d.task for d in self.rows.verdicts[upgrade].demands)
        return self._tasks[upgrade]

    def in_force(self, chosen: Collection[str]) -> dict[str, list[Given]]:
        """What a set does to each attribute, without what lacks its companion."""
        names = {name for u in chosen for name in (u, self.rows.verdicts[u].upgrade.row.id)}
        tasks: set[str] | None = None
        found: dict[str, list[Given]] = {}
        for upgrade in chosen:
            for item in self.given(upgrade):
                if item.beside:
                    if tasks is None:
                        tasks = {task for u in chosen for task in self.tasks(u)}
                    if (tasks if item.by_task else names).isdisjoint(item.beside):
                        continue
                found.setdefault(item.attribute, []).append(item)
        return found

    def levels(self, chosen: Collection[str], only: Collection[str] = ()) -> dict[str, int]:
        """The level in tenths that each attribute reaches; of ``only`` those if any are named."""
        found: dict[str, int] = {}
        force = self.in_force(chosen)
        attributes = self.rows.shop.attributes
        for name in only or attributes:
            if attributes[name].kind == "level":
                self._reach(name, force, found)
        return found

    def _reach(self, name: str, force: Mapping[str, list[Given]], found: dict[str, int]) -> int:
        if name in found:
            return found[name]
        given = force.get(name, ())
        level = max([self.now(self.rows.shop.attributes[name]), *_values(given, "to", 10)])
        level += added(given, "add", 10)
        level = min([TOP, level, *_values(given, "cap", 10)])
        level = max(0, level)
        for row in self.rows.shop.attribute_limits:
            if row.attribute != name:
                continue
            other = self._reach(row.other, force, found)
            if row.plus is not None:
                level = max(0, min(level, other + tenths(row.plus)))
            if row.needs is not None and other < tenths(row.needs):
                level = 0
        found[name] = level
        return level

    def amounts(self, chosen: Collection[str], mass: Decimal) -> dict[str, Decimal]:
        """Each numeric attribute, changed by the set; where grams are its changes, by ``mass``."""
        force = self.in_force(chosen)
        found = {}
        for attribute in self.rows.shop.attributes.values():
            if attribute.kind == "number":
                reading = self.rows.job.instrument.get(attribute.intake_field)
                base = (
                    reading.value
                    if reading is not None and isinstance(reading.value, Decimal)
                    else Decimal(0)
                )
                change = Decimal(added(force.get(attribute.id, ()), "change", 1000)) / 1000
                found[attribute.id] = base + change + (mass if attribute.adds == "mass" else 0)
        return found


def _values(given: Iterable[Given], kind: str, scale: int) -> list[int]:
    return [
        int((item.value * scale).quantize(Decimal(1), ROUND_HALF_UP)) for item in given if item.kind == kind
    ]


def added(given: Iterable[Given], kind: str, scale: int) -> int:
    """What is added in all: of one source the largest, once."""
    most: dict[str, int] = {}
    for item in given:
        if item.kind == kind:
            value = int((item.value * scale).quantize(Decimal(1), ROUND_HALF_UP))
            most[item.source] = max(value, most.get(item.source, value))
    return sum(most.values())
