"""From the priced work of a chosen set to operations: who, where, after what, with what waits."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import pairwise

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.amounts import Elapsed, Hundredths, Minutes
from estimator.estimate.costing import Costing, is_active
from estimator.estimate.ways import JOINED
from estimator.model import Estimate, Shop, Task, WorkLine
from estimator.model.operation import OperationName, SittingName, coat_place, operation_name
from estimator.model.planning import Person, PuttingBack, WorkKind, closure
from estimator.schedule.records import DUSTY, WET, Link, Operation
from estimator.schedule.resources import waits_of, whole

PARTS = ("neck", "body", "wiring", "hardware")
DESK, STRIP = "desk", "strip"
STRUNG = "M4"
"""The waiting class of work at pitch: the first of it has the strings on again."""
MEANWHILE = 1440
"""Elapsed minutes of cures after which parts that are needed may still come while they last."""
RESTING = ("M1", "M3", "M4")
"""Waiting classes in which the part of the instrument that was worked on is left alone until the cure is over."""
SHORT = 20
"""Work of fewer minutes is not begun just before closing time."""


class PlannedJob(Struct, frozen=True):
    """What the plan needs to know of one job.

    ``arrives``: elapsed minute at which the part of an upgrade is in the shop; ``tools``: the same for tools
    that are bought; ``there``: for the instrument itself. ``stretch`` multiplies all minutes (to plan at a surety).
    ``classes``: the class of the part of each upgrade that brings one. ``hands``: by person, the work as
    priced for their skill, where that is not ``estimate``.
    """

    id: str
    costing: Costing
    estimate: Estimate
    arrives: Mapping[str, Elapsed]
    stretch: float = 1.0
    tools: Mapping[str, Elapsed] = field(default_factory=dict)
    there: Elapsed = Elapsed(0)
    classes: Mapping[str, str] = field(default_factory=dict)
    hands: Mapping[str, Estimate] = field(default_factory=dict)


def bench_lines(shop: Shop, estimate: Estimate) -> list[WorkLine]:
    """The lines done at the bench; desk work goes on in the rest of the day."""
    return [line for line in estimate.lines if shop.tasks[line.task].group != DESK]


def sittings_of(shop: Shop, lines: Sequence[WorkLine]) -> list[tuple[SittingName, list[WorkLine]]]:
    """Lines as named operations: one for a task, one for each coat of finish, one for what is put back."""
    named: dict[SittingName, list[WorkLine]] = {}
    for line in lines:
        where, coat = coat_place(line.place)
        if not coat and (line.task, line.place) not in shop.planning.back:
            where = ""  # the work as a whole
        named.setdefault(SittingName(line.task, coat, where), []).append(line)
    return list(named.items())


class Sitting(Struct, frozen=True):
    """An operation to be: ``share`` of the run of its lines; ``bored``: the part of its task that comes before a finish.

    ``is_rest``: what is left of such a task; its set-up is the other part's.
    """

    name: SittingName
    lines: Sequence[WorkLine]
    share: float = 1.0
    bored: bool = False
    is_rest: bool = False

    @property
    def whole(self) -> SittingName:
        """The name under which the lines stand."""
        return self.name._replace(where="") if self.bored else self.name


def parted(shop: Shop, named: Sequence[tuple[SittingName, list[WorkLine]]]) -> list[Sitting]:
    """Operations of which a part comes before the finish work of the job as two, the others as they are."""
    present = {name.task for name, _ in named}
    found = []
    for name, lines in named:
        row = shop.planning.bored.get(str(name))
        if row is None or present.isdisjoint(row.before):
            found.append(Sitting(name, lines))
        else:
            found.append(Sitting(name._replace(where=row.sitting), lines, float(row.share), bored=True))
            found.append(Sitting(name, lines, 1 - float(row.share), is_rest=True))
    return found


def puts_back(shop: Shop, name: SittingName) -> PuttingBack | None:
    """What an operation of this name within its job puts back, None if it does not."""
    return None if name.coat else shop.planning.back.get((name.task, name.where))


def turn_of(shop: Shop, name: SittingName) -> SittingName:
    """What the order of work knows an operation by: its task, or itself where it puts something back or bores first."""
    bored = None if name.coat else shop.planning.bored.get(name.task)
    return (
        name if puts_back(shop, name) or (bored and bored.sitting == name.where) else SittingName(name.task)
    )


Pair = tuple[str, str]
Turns = tuple[SittingName, SittingName]


def order_of(
    shop: Shop, pairs: Iterable[Pair], present: Collection[SittingName]
) -> Iterator[tuple[Pair, Turns]]:
    """Each pair of tasks with every pair that has its place in the order.

    What is put back on this job stands where the tasks stand that it is like.
    """
    alike: dict[str, list[SittingName]] = {}
    for back in shop.planning.back.values():
        itself = SittingName(back.task, where=back.place)
        for task in back.like if itself in present else ():
            alike.setdefault(task, []).append(itself)
    for before, after in pairs:
        for one in (SittingName(before), *alike.get(before, ())):
            for other in (SittingName(after), *alike.get(after, ())):
                if one != other:
                    yield (before, after), (one, other)


def own_order(shop: Shop, present: Collection[SittingName]) -> Iterator[tuple[Pair, Turns]]:
    """Order of what is put back and bored first on a job, each with the pair of tasks whose wait it has."""
    for back in shop.planning.back.values():
        itself = SittingName(back.task, where=back.place)
        if itself in present:
            yield (back.task, str(itself)), (SittingName(back.task), itself)
    for row in shop.planning.bored.values():
        first = SittingName(row.task, where=row.sitting)
        if first in present:
            yield from (((task, row.task), (SittingName(task), first)) for task in row.after)
            later = (*row.before, row.task)
            yield from (((str(first), task), (first, SittingName(task))) for task in later)


def operations_of(
    job: PlannedJob, people: Sequence[Person], pace: str = "usual"
) -> tuple[list[Operation], dict[str, int]]:
    """The operations of a job, and its parts as resources of one each."""
    shop = job.costing.shop
    sittings = parted(shop, sittings_of(shop, bench_lines(shop, job.estimate)))
    by_task: dict[SittingName, list[SittingName]] = {}
    for sitting in sittings:
        by_task.setdefault(turn_of(shop, sitting.name), []).append(sitting.name)
    waits = waits_of(shop, pace)
    links = _links(shop, by_task, waits)
    needs_part = _waiting_for_parts(job)
    by_hand = {who: dict(sittings_of(shop, bench_lines(shop, own))) for who, own in job.hands.items()}
    operations = []
    carried = 0.0
    for sitting in sittings:
        name, lines = sitting.name, sitting.lines
        task = shop.tasks[name.task]
        one_of = _hands(people, task.level)
        exact = {
            who: _run(by_hand[who][sitting.whole] if who in by_hand else lines) * sitting.share * job.stretch
            for who in one_of
        }
        quickest = min(exact.values())
        minutes = Minutes(max(1, math.floor(quickest + carried + 0.5)))
        slower = {
            who: Minutes(max(1, math.floor(own + carried + 0.5))) - minutes for who, own in exact.items()
        }
        carried = quickest + carried - minutes
        operation = _operation(shop, job, sitting, minutes, pace)
        operations.append(
            replace(
                operation,
                after=tuple(
                    Link(str(OperationName(job.id, before)), lag)
                    for before, lag in links.get(name, {}).items()
                ),
                one_of=one_of,
                slower=tuple((who, more) for who, more in slower.items() if more),
                earliest=max(
                    job.there,
                    needs_part.get(task.id, Elapsed(0)),
                    *(job.tools.get(tool, Elapsed(0)) for tool, _ in shop.task_tools.get(task.id, ())),
                ),
            )
        )
    return left_together(operations, shop), {f"{job.id} {part}": 1 for part in PARTS}


def left_together(operations: Sequence[Operation], shop: Shop) -> list[Operation]:
    """Operations, taking apart not before all is there that is needed till the strings are at pitch again.

    So an instrument stays playable while its parts are on their way. What is needed only after a cure of a
    day or more may come meanwhile.
    """
    job_of = {operation.id: operation.job for operation in operations}
    before = {
        # an instrument waits for its own parts, not for those of one that gets its place or a part of it
        operation.id: [link.before for link in operation.after if job_of.get(link.before) == operation.job]
        for operation in operations
    }
    cures = {operation.id: operation.cure for operation in operations}
    first_strung = [o.id for o in operations if o.meanwhile == STRUNG]
    strung = set(first_strung)
    first_strung = [name for name in first_strung if not strung & _all_before(before, name)]
    on_the_way = set(first_strung).union(*(_all_before(before, name) for name in first_strung))
    found = []
    for number, operation in enumerate(operations):
        waits, earliest = {operation.id: 0}, operation.earliest
        name = operation_name(operation.id).sitting
        apart = shop.tasks[name.task].group == STRIP and not puts_back(shop, name)
        for other in operations[number + 1 :] if apart else ():
            reached = [
                waits[link.before] + (cures[link.before] if link.lag is None else link.lag)
                for link in other.after
                if other.job == operation.job and link.before in waits
            ]
            if reached:
                waits[other.id] = max(reached)
                if waits[other.id] < MEANWHILE and other.id in on_the_way:
                    earliest = max(earliest, other.earliest)
        found.append(replace(operation, earliest=earliest))
    return found


def _all_before(before: Mapping[str, Sequence[str]], name: str) -> set[str]:
    """Everything that an operation follows, directly or not."""
    seen: set[str] = set()
    stack = list(before[name])
    while stack:
        one = stack.pop()
        if one not in seen:
            seen.add(one)
            stack.extend(before[one])
    return seen


def _operation(shop: Shop, job: PlannedJob, sitting: Sitting, minutes: Minutes, pace: str) -> Operation:
    """A sitting by itself: where it is done, what it takes and leaves behind; its hands and its order come after."""
    task, back = shop.tasks[sitting.name.task], puts_back(shop, sitting.name)
    setup = max((line.setup for line in sitting.lines), default=0) / 100 * job.stretch
    if sitting.is_rest:
        setup = 0.0
    plan = shop.planning.tasks.get(back.like[0] if back else task.id)
    kind = shop.planning.kinds.get(plan.kind) if plan else None
    cure = Elapsed(0 if sitting.bored else whole(getattr(task, f"wait_{pace}_min")))
    meanwhile = "M0" if sitting.bored else task.meanwhile
    part = _part(plan.part if plan else "instrument", sitting.lines)
    needs, holds = _takes(shop, job.id, task.station, part, meanwhile)
    return Operation(
        id=str(OperationName(job.id, sitting.name)),
        job=job.id,
        minutes=minutes,
        needs=needs,
        holds=holds,
        cure=cure,
        splittable=minutes + setup >= SHORT and not (plan.in_one_go if plan else cure > 0),
        setup=Minutes(math.floor(setup + 0.5)),
        again=Minutes(math.floor(setup * float(task.repeat_share) + 0.5)),
        # done another way it is set up otherwise, so that nothing of that is saved by the same task before it
        family=str(turn_of(shop, sitting.name)) + (f"{JOINED}{task.method}" if task.usual else ""),
        kind=kind.id if kind else "",
        air=_air(shop, task, kind),
        meanwhile=meanwhile,
        what=task.what,
        station=task.station,
    )


def _air(shop: Shop, task: Task, kind: WorkKind | None) -> str:
    """Whether it leaves something wet, or raises dust by its kind (buffing) or by its hazards (drilling, filing)."""
    if task.meanwhile == "M3":
        return WET
    dusty = (kind is not None and kind.dusty) or any(shop.hazards[code].dusty for code in task.hazards)
    return DUSTY if dusty else ""


def _run(lines: Sequence[WorkLine]) -> float:
    """Minutes of a sitting without its set-up, rework and hidden faults with it."""
    return sum((line.minutes + line.rework + line.allowance for line in lines), Hundredths(0)) / 100


def _part(part: str, lines: Sequence[WorkLine]) -> str:
    places = {line.place.partition("-")[0] for line in lines}
    if part in ("neck", "body") and places & {"neck", "body"}:
        return "neck" if places == {"neck"} else part
    return part


def _takes(
    shop: Shop, job: str, station: str, part: str, meanwhile: str
) -> tuple[tuple[tuple[str, int], ...], tuple[tuple[str, int], ...]]:
    """Resources while it runs, and those kept until the cure is over.

    M1 and M3: the part rests. M4: the strung instrument rests at pitch as a whole. M2: only the spot
    rests, so other work on the same instrument may go on.
    """
    needs: list[tuple[str, int]] = []
    holds: list[tuple[str, int]] = []
    for row in shop.planning.stations.values():
        if station in row.stations:
            (holds if row.while_it_cures else needs).append((row.id, row.each))
    mine = ["neck", "body", "wiring"] if part == "instrument" else [] if part == "none" else [part]
    rests = holds if meanwhile in RESTING else needs
    rests.extend((f"{job} {name}", 1) for name in mine)
    return tuple(needs), tuple(holds)


def _hands(people: Sequence[Person], level: int) -> tuple[str, ...]:
    able = [person.id for person in people if person.skill >= level]
    best = max(person.skill for person in people)
    return tuple(able or [person.id for person in people if person.skill == best])


def _links(
    shop: Shop,
    by_task: Mapping[SittingName, list[SittingName]],
    rows: Mapping[Pair, list[tuple[int, Elapsed]]],
) -> dict[SittingName, dict[SittingName, Elapsed | None]]:
    """For each operation, those before it and the minutes between (None: the first one's own wait)."""
    bound = [pair for pair, unless in shop.order_unless if unless.isdisjoint(map(str, by_task))]
    ordered = [*order_of(shop, [*shop.task_order, *bound], by_task), *own_order(shop, by_task)]
    alike = [
        *order_of(shop, [row for row in rows if row[0] != row[1]], by_task),
        *own_order(shop, by_task),
    ]
    waits = {
        **{pair: rows[row] for row, pair in alike if row in rows},
        **{
            (SittingName(task), SittingName(task)): lags
            for (task, same), lags in rows.items()
            if task == same
        },
    }
    own_rows = [pair for pair in waits if pair[0] != pair[1]]
    direct = {pair for _, pair in order_of(shop, [*shop.direct_order, *bound], by_task)}
    pairs = closure([*(pair for _, pair in ordered), *own_rows], by_task, direct)
    links: dict[SittingName, dict[SittingName, Elapsed | None]] = {}
    known = [p for p in own_rows if p[0] in by_task and p[1] in by_task]
    runs = {task: _runs(names) for task, names in by_task.items()}
    for before, after in dict.fromkeys([*pairs, *known]):
        lag = waits.get((before, after))
        for one in runs[before]:
            for other in runs[after]:
                links.setdefault(other[0], {})[one[-1]] = max(minutes for _, minutes in lag) if lag else None
    for task, sittings in runs.items():
        repeated = sorted(waits.get((task, task), []))
        for run in sittings:
            for number, (one_coat, next_coat) in enumerate(pairwise(run), 1):
                fitting = [minutes for every, minutes in repeated if number % every == 0]
                links.setdefault(next_coat, {})[one_coat] = fitting[-1] if fitting else None
    return links


def _runs(names: Sequence[SittingName]) -> list[list[SittingName]]:
    """Operations of one task by where on the instrument they are; coats of one place follow each other."""
    runs: dict[str, list[SittingName]] = {}
    for name in names:
        runs.setdefault(name.where, []).append(name)
    return list(runs.values())


def _waiting_for_parts(job: PlannedJob) -> dict[str, Elapsed]:
    """By task: the minute at which every part it fits or works on is in the shop."""
    wanted = parts_of_tasks(job.costing, job.estimate.chosen, job.classes)
    return {task: max(job.arrives.get(who, Elapsed(0)) for who in parts) for task, parts in wanted.items()}


def parts_of_tasks(
    costing: Costing, chosen: Collection[str], classes: Mapping[str, str]
) -> dict[str, tuple[str, ...]]:
    """By task: the chosen upgrades whose parts it fits or works on, so that it waits for them; taking apart fits none.

    ``classes``: the class of the part of each upgrade that brings one.
    """
    shop, on = costing.shop, frozenset(chosen)
    wanted: dict[str, dict[str, None]] = {}
    for (task, _), ranks in costing.ranks.items():
        if shop.tasks[task].group in ("strip", "clean", DESK):
            continue
        for rank in ranks:
            if is_active(rank.triggers, on):
                wanted.setdefault(task, {}).update((who, None) for who, _ in rank.wanted_by if who in on)
    for who, part_class in classes.items():
        for task in shop.part_classes[part_class].worked_in if who in on else ():
            wanted.setdefault(task, {})[who] = None
    return {task: tuple(parts) for task, parts in wanted.items() if parts}


def stretch_of(estimate: Estimate) -> float:
    """Minutes at 80 % surety over expected minutes."""
    expected = estimate.totals.expected
    return float(Decimal(estimate.totals.p80) / expected) if expected else 1.0
