"""What becomes of the verdicts if an assumed value is otherwise: the one answer that ``fit``, ``risk`` and
``measure`` share.

An assumed value is moved, alone, within what ``intake.csv`` calls likely; defaults that follow from it move
along. Values tried: the ends of the range (or each word), a few in between, and one on every stretch between
the values at which some rule turns round (see ``traced``).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping
from decimal import Decimal
from functools import cached_property
from itertools import pairwise
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.text import BASS, family_of
from estimator.fit.candidates import Asked, names, offers_of
from estimator.fit.judged_again import JudgedAgain
from estimator.fit.remembered import Watched
from estimator.fit.traced import Traced, nice_between
from estimator.model import IntakeField, Job, Reading, Shop, Upgrade, UpgradeRow, Verdict
from estimator.tables.cells import CellError
from estimator.tables.intake import Defaults, kind_said, movers
from estimator.tables.likely import is_open, likely_range, likely_words
from estimator.tables.quantities import Value as AnyValue

Value = Decimal | str | bool
DOES_NOT_FIT = "does-not-fit"
#: values tried in between besides those at which a rule turns round, and most of all that are tried
BETWEEN, MOST = 3, 60
#: counts up to this far apart are tried one by one
ONE_BY_ONE = 16
#: turning points are told apart by this much; nobody measures finer than the second
NEAR, MEASURED_TO = Decimal("0.001"), Decimal("0.01")
_SLOPE_STEP = Decimal("0.001")


class Turn(Struct, frozen=True):
    """An upgrade of which another value makes something else; a verdict is None where it is not offered."""

    upgrade: str
    before: Verdict | None
    after: Verdict | None

    @property
    def outcomes(self) -> tuple[str, str]:
        """The outcome before and after; ``not-offered`` where the instrument does not call for it."""
        return _outcome(self.before), _outcome(self.after)

    @property
    def row(self) -> str:
        """The row of upgrades.csv that it stands in."""
        verdict = self.before or self.after
        return verdict.upgrade.row.id if verdict else self.upgrade

    @property
    def fits_otherwise(self) -> bool:
        """Whether another outcome or other tasks follow, not merely more or less of the same work."""
        return self.outcomes[0] != self.outcomes[1] or _tasks(self.before) != _tasks(self.after)

    @property
    def lost(self) -> bool:
        """Whether it cannot be done then."""
        return self.after is None or self.after.outcome == DOES_NOT_FIT

    @property
    def was_open(self) -> bool:
        """Whether it could be done as assumed."""
        return self.before is not None and self.before.outcome != DOES_NOT_FIT


Sketch = frozenset[tuple[str, tuple[str, str], bool]]
"""What turns, in short: of each upgrade its outcomes before and after, and whether it fits otherwise (``Turn``)."""


def sketched(turns: Iterable[Turn]) -> Sketch:
    """What turns, in short."""
    return frozenset((turn.upgrade, turn.outcomes, turn.fits_otherwise) for turn in turns)


class _Tried(Struct, frozen=True):
    """What was put to the rules of a row: where they turn round, the ends among it, and what changed at each value."""

    edges: tuple[Decimal, ...]
    sketches: Mapping[Decimal, Sketch]

    def exactly(self, value: AnyValue) -> Sketch | None:
        """What changes at a value; None where it was not tried."""
        return self.sketches.get(value) if isinstance(value, Decimal) else None

    def at(self, value: AnyValue) -> Sketch | None:
        """What changes at a value: it was tried, or another within the same two edges; None where neither was."""
        known = self.exactly(value)
        if known is not None or not isinstance(value, Decimal):
            return known
        above = bisect_left(self.edges, value)
        if not 0 < above < len(self.edges):
            return None
        low, high = self.edges[above - 1], self.edges[above]
        if min(value - low, high - value) <= NEAR:  # that near nobody knows on which side it is
            return None
        within = (
            sketch for one, sketch in self.sketches.items() if isinstance(one, Decimal) and low < one < high
        )
        return next(within, None)


def _outcome(verdict: Verdict | None) -> str:
    return verdict.outcome if verdict is not None else "not-offered"


def _tasks(verdict: Verdict | None) -> set[tuple[str, str]]:
    return {(d.task, d.place) for d in verdict.demands if d.quantity} if verdict is not None else set()


def with_value(job: Job, field: str, value: AnyValue) -> Job:
    """The same job, had this been measured; what else is assumed stays as it was."""
    reading = replace(job.instrument[field], value=value, assumed=False)
    return replace(job, instrument=MappingProxyType({**job.instrument, field: reading}))


def with_defaults(shop: Shop, job: Job, only: Collection[str] | None = None) -> Mapping[str, Reading]:
    """The instrument with the defaults that follow from other fields worked out again; ``only`` those, if any are named.

    A default that can no longer be worked out stays as it was.
    """
    given: dict[str, AnyValue] = {name: r.value for name, r in job.instrument.items() if not r.assumed}
    is_bass = family_of(kind_said(shop.intake, given)) == BASS
    defaults = Defaults(shop.intake, given, is_bass, shop.plausible.together)
    readings = dict(job.instrument)
    for name in job.instrument if only is None else only:
        if name not in given and name in shop.intake:
            try:
                value = defaults.value(name)
            except CellError:
                continue
            before = readings[name].value
            # one that stays as it was, to the letter, stays the same reading: then nobody has to compare it
            if value is not before and (value != before or str(value) != str(before)):
                readings[name] = replace(readings[name], value=value)
    return readings


class Following:
    """A job with one answer otherwise, and with it the defaults that follow from that answer; no other moves."""

    def __init__(self, shop: Shop, job: Job) -> None:
        self._shop, self._job = shop, job
        self._movers = movers(shop.intake, shop.plausible.together)
        self._jobs: dict[tuple[str, AnyValue], Job] = {}
        self._followers: dict[str, tuple[str, ...]] = {}

    @cached_property
    def _settled(self) -> Mapping[str, Reading]:
        return with_defaults(self._shop, self._job)

    def followers(self, field: str) -> tuple[str, ...]:
        """The assumed fields whose defaults may move with a field."""
        known = self._followers.get(field)
        if known is None:
            moved = self._movers.get(field, frozenset())
            assumed = (name for name, reading in self._job.instrument.items() if reading.assumed)
            known = self._followers[field] = tuple(name for name in assumed if name in moved)
        return known

    def changed(self, field: str, value: AnyValue) -> Job:
        """The job, had the field been measured so."""
        known = self._jobs.get((field, value))
        if known is None:
            known = self._jobs[field, value] = self.all_changed({field: value})
        return known

    def all_changed(self, values: Mapping[str, AnyValue]) -> Job:
        """The job, had all these fields been measured so."""
        job = self._job
        for field, value in values.items():
            job = with_value(job, field, value)
        followers = [
            name for name in dict.fromkeys(n for f in values for n in self.followers(f)) if name not in values
        ]
        if not followers:
            return job
        new = with_defaults(self._shop, job, followers)
        moved = {n: new[n] for n in followers if new[n].value != self._settled[n].value}
        return replace(job, instrument=MappingProxyType({**job.instrument, **moved}))


def could_be(spec: IntakeField, job: Job) -> tuple[AnyValue, ...]:
    """Words or numbers that an assumed field may turn out to be, or the two ends of its range.

    Empty where there is nothing to try, and where the table takes the assumed value for certain.
    """
    if not is_open(spec):
        return ()
    ends = _ends(spec, job)
    return ends or likely_words(spec, job.is_bass)


def _ends(spec: IntakeField, job: Job) -> tuple[Decimal, Decimal] | None:
    def number(name: str) -> Decimal:
        reading = job.instrument.get(name)
        if reading is None or not isinstance(reading.value, Decimal):
            raise CellError(f"{name} holds no number", "intake fields that are numbers")
        return reading.value

    try:
        ends = likely_range(spec, number, job.is_bass)
    except CellError:
        return None
    reading = job.instrument.get(spec.id)
    if ends is None or reading is None or not isinstance(reading.value, Decimal):
        return None
    # the assumed value is always among what is likely, wherever other measurements have moved the ends
    low, high = min(ends[0], reading.value), max(ends[1], reading.value)
    return (low, high) if low < high else None


def between(spec: IntakeField, low: Decimal, high: Decimal) -> tuple[Decimal, ...]:
    """The ends of a range and a few values in between; counts that lie near, one by one."""
    if spec.kind == "count":
        first, last = int(low.to_integral_value()), int(high.to_integral_value())
        step = 1 if last - first <= ONE_BY_ONE else -(-(last - first) // ONE_BY_ONE)
        return tuple(Decimal(n) for n in dict.fromkeys((*range(first, last, step), last)))
    step_of = (high - low) / (BETWEEN + 1)
    inner = (_short(low + n * step_of, step_of) for n in range(1, BETWEEN + 1))
    return tuple(dict.fromkeys((low, *inner, high)))


def _short(value: Decimal, step: Decimal) -> Decimal:
    return nice_between(value - step / 8, value + step / 8)


class _Row(Struct, frozen=True):
    """A row as it is assumed: its upgrades with the fields they are made of, the verdicts on those open to choice.

    ``read``: all that upgrades and verdicts look at.
    """

    offers: tuple[Upgrade, ...]
    made_of: frozenset[str]
    base: Mapping[str, Verdict]
    read: frozenset[str]


class Otherwise:
    """Every assumed value of a job put to what it may turn out to be, and the verdicts that turn with it.

    ``only``: ids of the upgrades that are looked at, of an empty set none; left out: all that are open to choice.
    """

    def __init__(self, shop: Shop, job: Job, only: Collection[str] | None = None) -> None:
        self.shop, self.job = shop, job
        self._only = None if only is None else frozenset(only)
        self._names = tuple(row.id for row in shop.upgrades.values() if self._may_be_meant(row))
        self._rows: dict[str, _Row] = {}
        # the verdicts on rows as assumed, open to choice or not, with all that they read
        self._whole: dict[str, tuple[tuple[Verdict, ...], frozenset[str]]] = {}
        self._following = Following(shop, job)
        self._judging = JudgedAgain(shop, job)
        # fields whose whole range was put to the rules, and for each the upgrades of which anything changed, by row
        self._ranged: set[str] = set()
        self._moving: dict[str, dict[str, set[str]]] = {}
        self._asks: dict[str, list[tuple[object, ...]]] = {}
        self._turns: dict[tuple[str, AnyValue], tuple[Turn, ...]] = {}
        # by row and field what changed at each value so tried, and where a rule turns round
        self._tried: dict[tuple[str, str], _Tried] = {}

    def _may_be_meant(self, row: UpgradeRow) -> bool:
        return self._only is None or any(map(row.may_mean, self._only))

    def _row(self, name: str) -> _Row:
        """A row as it is assumed, judged when first asked for."""
        if name not in self._rows:
            watched = Watched(self.job.instrument)
            seen = replace(self.job, instrument=watched)
            offers = tuple(offers_of(self.shop.upgrades[name], self.shop, seen))
            made_of, shared = frozenset(watched.seen), self._judging.shared()
            base = {u.id: self._judging.first(seen, u, shared) for u in self._open(offers)}
            self._rows[name] = _Row(offers, made_of, base, frozenset(watched.seen))
        return self._rows[name]

    def _judged(
        self, row: str, job: Job, moved: Collection[str], among: Collection[str] | None = None
    ) -> dict[str, Verdict]:
        """The verdicts on a row for a job with fields moved, the one as assumed where neither outcome nor work is otherwise.

        Its upgrades are made anew where they are made of these. ``among``: ids of the upgrades that are judged, if not all.
        """
        offers, shared = self._offers(row, job, moved), self._judging.shared()
        return {
            u.id: self._judging.turned(job, u, moved, shared)
            for u in self._open(offers)
            if among is None or u.id in among
        }

    def every_verdict(self, job: Job, rows: Iterable[str]) -> tuple[Verdict, ...]:
        """The verdicts on all of some rows that makes sense on a job that differs from this one in readings, open or not.

        Only where all upgrades are looked at.
        """
        if self._only is not None:
            raise ValueError("not all upgrades are looked at")
        moved = self.moved_on(job)
        return tuple(verdict for row in rows for verdict in self.on_row(row, job, moved))

    def moved_on(self, job: Job) -> set[str]:
        """The readings of another job that are not those of this one."""
        mine, theirs = self.job.instrument, job.instrument
        return {name for name in {**mine, **theirs} if mine.get(name) is not theirs.get(name)}

    def on_row(self, row: str, job: Job, moved: Collection[str]) -> tuple[Verdict, ...]:
        """The verdicts on what of a row makes sense on a job with readings ``moved``, open to choice or not."""
        if row not in self._whole:
            self._whole[row] = self._as_assumed(row)
        as_assumed, read = self._whole[row]
        if read.isdisjoint(moved):
            return as_assumed
        offers, shared = self._offers(row, job, moved), self._judging.shared()
        return tuple(self._judging.again(job, u, moved, shared) for u in self._looked_at(offers))

    def _offers(self, row: str, job: Job, moved: Collection[str]) -> tuple[Upgrade, ...]:
        """The upgrades of a row, made anew where they are made of what is otherwise."""
        known = self._row(row)
        if known.made_of.isdisjoint(moved):
            return known.offers
        return tuple(offers_of(self.shop.upgrades[row], self.shop, job, Asked(self._judging.apart)))

    def _as_assumed(self, row: str) -> tuple[tuple[Verdict, ...], frozenset[str]]:
        """The verdicts on a row as it is assumed, and all that they and its upgrades are made of."""
        mine, shared = self._row(row), self._judging.shared()
        known = [self._judging.known(self.job, u, shared) for u in self._looked_at(mine.offers)]
        return tuple(verdict for verdict, _ in known), mine.made_of.union(*(looked for _, looked in known))

    def _looked_at(self, offers: Iterable[Upgrade]) -> Iterator[Upgrade]:
        return (u for u in offers if self._only is None or u.id in self._only)

    def _open(self, offers: Iterable[Upgrade]) -> Iterator[Upgrade]:
        """Those of the upgrades that are looked at and open to choice."""
        wanted = (*self.job.open, *self.job.required)
        return (
            u
            for u in self._looked_at(offers)
            if not self.job.open or any(names(u, entry) for entry in wanted)
        )

    def _moved(self, field: str) -> frozenset[str]:
        """A field with all that may move along."""
        return frozenset((field, *self.followers(field)))

    def followers(self, field: str) -> tuple[str, ...]:
        """The assumed fields whose defaults may move with a field."""
        return self._following.followers(field)

    def changed(self, field: str, value: AnyValue) -> Job:
        """The job, had the field been measured so, with the defaults that follow."""
        return self._following.changed(field, value)

    def all_changed(self, values: Mapping[str, AnyValue]) -> Job:
        """The job, had all these fields been measured so, with the defaults that follow."""
        return self._following.all_changed(values)

    @cached_property
    def assumed(self) -> tuple[str, ...]:
        """Fields that nobody took and that may turn out otherwise, in the order of the intake table."""
        return tuple(
            spec.id
            for spec in self.shop.intake.values()
            if (reading := self.job.instrument.get(spec.id)) is not None
            and reading.assumed
            and could_be(spec, self.job)
        )

    @cached_property
    def taken_for_seen(self) -> tuple[str, ...]:
        """Fields that nobody wrote down and that verdicts rest on, but that the table takes for certain."""
        read = frozenset[str]().union(*(self._row(name).read for name in self._names))
        return tuple(
            spec.id
            for spec in self.shop.intake.values()
            if spec.id in read
            and not is_open(spec)
            and (reading := self.job.instrument.get(spec.id)) is not None
            and reading.assumed
        )

    def rows_reading(self, field: str) -> tuple[str, ...]:
        """Rows of upgrades.csv whose verdicts look at a field or at what follows from it."""
        moved = self._moved(field)
        return tuple(name for name in self._names if not moved.isdisjoint(self._row(name).read))

    def values(self, field: str, also: Iterable[Decimal] = ()) -> tuple[Value, ...]:
        """What a field may turn out to be, besides what is assumed: enough values for every rule to turn.

        ``also``: values at which something else turns round, such as the level of an attribute.
        """
        spec, assumed = self.shop.intake[field], self.job.instrument[field].value
        ends = _ends(spec, self.job) if is_open(spec) else None
        found: tuple[AnyValue, ...]
        if ends is None:
            found = could_be(spec, self.job)
        elif spec.kind == "count":
            found = between(spec, *ends)
        else:
            cuts = {cut for cut in also if ends[0] < cut < ends[1]}
            self._ranged.add(field)
            for row in self.rows_reading(field):
                cuts |= self._cuts_of(row, field, ends)
            found = one_on_each(ends, between(spec, *ends), cuts)
        return tuple(v for v in found if v != assumed and not isinstance(v, tuple))

    def _cuts_of(self, row: str, field: str, ends: tuple[Decimal, Decimal]) -> set[Decimal]:
        """Where within the ends a rule of this row turns round: one value on each stretch is put to the rules.

        Notes on the way whether anything of the row differs from what it is as assumed.
        """
        tried: dict[Decimal, Sketch] = {}
        cuts: set[Decimal] = set()
        pending = list(ends)
        while pending and len(tried) < MOST:
            for value in pending:
                new, verdicts = self._traced(row, field, value, ends)
                cuts |= new
                tried[value] = sketch = sketched(self._turned(row, verdicts))
                if sketch:
                    moving = self._moving.setdefault(field, {}).setdefault(row, set())
                    moving.update(upgrade for upgrade, *_ in sketch)
            if not cuts and not any(tried.values()):
                break  # between two ends that take the same way through the rules so does all
            pending = [v for v in one_on_each(ends, (), cuts, tried) if v not in tried][: MOST - len(tried)]
        self._tried[row, field] = _Tried(tuple(sorted({*ends, *cuts})), tried)
        return cuts

    def _traced(
        self, row: str, field: str, value: Decimal, ends: tuple[Decimal, Decimal]
    ) -> tuple[set[Decimal], dict[str, Verdict]]:
        found: set[Decimal] = set()
        low, high = ends

        def note(cut: Decimal) -> None:
            if low < cut < high:
                found.add(Decimal(cut).quantize(NEAR))

        job = self.changed(field, value)
        readings = dict(job.instrument)
        readings[field] = replace(readings[field], value=Traced(value, Decimal(1), value, note))
        followers = self.followers(field)
        if followers:
            beyond = self.changed(field, value + _SLOPE_STEP).instrument
            for name in followers:
                now, then = readings[name].value, beyond[name].value
                if isinstance(now, Decimal) and isinstance(then, Decimal):
                    slope = (then - now) / _SLOPE_STEP
                    readings[name] = replace(readings[name], value=Traced(now, slope, value, note))
        seen = replace(job, instrument=readings)
        verdicts = self._judged(row, seen, {field, *followers})
        return set(found), verdicts

    def turns(self, field: str, value: AnyValue) -> tuple[Turn, ...]:
        """Upgrades whose outcome or work another value changes."""
        known = self._turns.get((field, value))
        if known is None:
            known = self._turns[field, value] = tuple(self._all_turned(field, value))
        return known

    def _all_turned(self, field: str, value: AnyValue) -> Iterator[Turn]:
        job, moved = self.changed(field, value), self._moved(field)
        if field not in self._ranged:
            for row in self.rows_reading(field):
                yield from self._turned(row, self._judged(row, job, moved))
            return
        for row, moving in sorted(self._moving.get(field, {}).items()):
            # a value that was tried is judged again without what notes where a rule turns round
            known = self._tried[row, field].exactly(value)
            among = moving if known is None else {upgrade for upgrade, *_ in known}
            if among:
                after = self._judged(row, job, moved, among)
                yield from self._turned(row, after, among)

    def sketch(self, field: str, value: AnyValue) -> Sketch:
        """What another value changes, as ``turns`` tells it, of each upgrade in short.

        Of values between which no rule turns round one was put to the rules and stands for all.
        """
        if field not in self._ranged:
            return sketched(self.turns(field, value))
        found: set[tuple[str, tuple[str, str], bool]] = set()
        for row, moving in self._moving.get(field, {}).items():
            known = self._tried[row, field].at(value)
            if known is None:
                job, moved = self.changed(field, value), self._moved(field)
                after = self._judged(row, job, moved, moving)
                known = sketched(self._turned(row, after, moving))
            found |= known
        return frozenset(found)

    def _turned(
        self, row: str, after: Mapping[str, Verdict], among: Collection[str] | None = None
    ) -> Iterator[Turn]:
        before = self._row(row).base
        named = {*before, *after}
        for identity in sorted(named if among is None else named.intersection(among)):
            old, new = before.get(identity), after.get(identity)
            if old is None or new is None or (old is not new and differ(old, new, self._asked_by(old))):
                yield Turn(identity, old, new)

    def _asked_by(self, verdict: Verdict) -> list[tuple[object, ...]]:
        """What a verdict as assumed asks for, told once: it is held against many."""
        identity = verdict.upgrade.id
        if identity not in self._asks:
            self._asks[identity] = _asked(verdict)
        return self._asks[identity]


def one_on_each(
    ends: tuple[Decimal, Decimal],
    first: Iterable[Decimal],
    cuts: Iterable[Decimal],
    tried: Collection[Decimal] = (),
) -> tuple[Decimal, ...]:
    """Besides ``first``: the turning points themselves, and a value on each stretch where none was tried."""
    edges = sorted({*ends, *cuts})
    points = {*first, *ends, *(cut for cut in cuts if cut == cut.quantize(MEASURED_TO))}
    for a, b in pairwise(edges):
        if b - a > 2 * NEAR and not any(a < value < b for value in (*first, *tried)):
            points.add(nice_between(a, b))
    return tuple(sorted(points))


def distance(value: AnyValue, assumed: AnyValue) -> Decimal:
    """How far a number is from what is assumed; 0 of words."""
    numbers = isinstance(value, Decimal) and isinstance(assumed, Decimal)
    return abs(value - assumed) if numbers else Decimal(0)  # type: ignore[operator]


def differ(before: Verdict, after: Verdict, asked: list[tuple[object, ...]] | None = None) -> bool:
    """Whether outcome, work or number of parts of an upgrade are not the same; ``asked``: ``_asked`` of before, if known."""
    return (
        before.outcome != after.outcome
        or before.upgrade.part_quantity != after.upgrade.part_quantity
        or (_asked(before) if asked is None else asked) != _asked(after)
    )


def _asked(verdict: Verdict) -> list[tuple[object, ...]]:
    return [
        (
            d.task,
            d.place,
            d.quantity,
            d.share,
            d.extra_min,
            d.extra_rework_pct,
            d.rework_times,
            tuple(sorted(d.levels.items())),
        )
        for d in verdict.demands
    ]
