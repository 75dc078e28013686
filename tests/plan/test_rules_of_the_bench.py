"""Random batches planned as from the command line, each held against rules of the bench that are written here anew.

The rules share no code with the planning: they read the tables with the csv module, walk the shop's hours day by
day, and go through every way to buy. ``WIDE_BATCHES=200`` tries that many instead of a few.
"""

from __future__ import annotations

import csv
import itertools
import math
import os
import random
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.records import Purchase
from estimator.choose.verify.choice import clashes
from estimator.estimate.build import make_costing
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.replan.plan import PlannedAgain, plan_again
from estimator.plan.replan.progress import load_state
from estimator.plan.replan.saved_plan import kept_text, read_kept
from estimator.schedule.records import Search
from tests.plan.bench import EXAMPLES, job, shop
from tests.plan.test_physical_order import OFF_AT, ON_GUARD, tasks_of

BATCHES = int(os.environ.get("WIDE_BATCHES", "4"))
RATES = EXAMPLES.parent / "rates"
KINDS = ("tight-commission", "school-guitar", "short-scale-bass", "resale-flip")
MOST_WAYS = 60_000
"""Ways to buy that are gone through; what has more is left out and counted."""
SHOWN = 60
"""A batch with parts bought and moved, spares and a missing tool."""
FILLED = 197
"""A batch whose spares reach a free freight for which a pack would else be bought at the dearer seller."""
OWN_STRINGS = 26
"""A batch with strings in stock, and with jobs that buy their own."""
TAKEN_APART = ("strip", "clean", "desk")

FIRST = {
    # what has to be done before what, wherever both are done on one instrument: common practice
    "strings-off": (
        "remove-neck",
        "strip-hardware",
        "strip-electronics",
        "remove-nut",
        "level-frets",
        "pull-frets",
        "prep-fretwork",
        "fit-tuner",
        "swap-saddles",
        "fit-tremolo-block",
        "mount-bridge",
        "string-up",
    ),
    "slacken-strings": ("strip-electronics", "fit-pot", "fit-switch", "fit-string-tree", "retune-strings"),
    "fit-pot": ("retune-strings",),
    "fit-switch": ("retune-strings",),
    "fit-string-tree": ("retune-strings",),
    "retune-strings": ("set-action", "set-intonation", "final-check"),
    "strip-electronics": ("shield-cavity-paint", "shield-cavity-foil", "fit-harness", "spray-coat"),
    "strip-hardware": ("mount-bridge", "strip-finish", "mask-body", "spray-coat", "oil-coat"),
    "remove-neck": ("shim-neck", "refit-neck", "fit-replacement-neck"),
    "shim-neck": ("refit-neck",),
    "shield-cavity-paint": ("fit-harness",),
    "shield-cavity-foil": ("fit-harness",),
    "route-cavity": ("shield-cavity-paint", "shield-cavity-foil", "fit-harness"),
    "remove-nut": ("fit-preslotted-nut", "finish-glue-nut", "fit-mechanical-nut"),
    "shape-nut": ("slot-nut",),
    "slot-nut": ("finish-glue-nut",),
    "fit-preslotted-nut": ("finish-glue-nut",),
    "prep-fretwork": ("level-frets", "crown-frets"),
    "pull-frets": ("true-board", "clean-fret-slots", "seat-frets"),
    "clean-fret-slots": ("seat-frets",),
    "cut-bend-fretwire": ("seat-frets",),
    "seat-frets": ("trim-bevel-ends", "level-frets"),
    "level-frets": ("crown-frets",),
    "crown-frets": ("polish-frets",),
    "strip-finish": ("prep-body-wood", "spray-coat", "oil-coat"),
    "prep-body-wood": ("spray-coat", "oil-coat"),
    "mask-body": ("spray-coat",),
    "spray-coat": ("level-buff-finish", "mount-bridge"),
    "layout-bridge": ("mount-bridge",),
    "enlarge-tremolo-cavity": ("mount-bridge",),
    "fit-two-post-bushings": ("mount-bridge",),
    "ream-tuner-hole": ("fit-tuner",),
    "bush-tuner-hole": ("fit-tuner",),
    "cut-guard-blank": ("fit-guard", "shield-cavity-foil", "fit-harness"),
    "fit-tuner": ("string-up",),
    "swap-saddles": ("string-up",),
    "mount-bridge": ("string-up",),
    "refit-neck": ("string-up",),
    "finish-glue-nut": ("string-up",),
    "polish-frets": ("string-up",),
    "fit-harness": ("string-up",),
    "fit-pickup-two-wire": ("string-up", "set-pickup-height"),
    "fit-pickup-four-wire": ("string-up", "set-pickup-height"),
    "fit-guard": ("string-up",),
    "string-up": ("set-action", "set-intonation", "set-pickup-height", "adjust-nut-slots", "final-check"),
    "set-action": ("set-intonation", "final-check"),
    "set-intonation": ("final-check",),
    "final-check": ("recheck-next-day",),
}


# what is drawn


class Drawn(Struct, frozen=True):
    """A batch file as text, with what the checks have to know of it."""

    text: str
    kinds: Mapping[str, str]
    skills: Mapping[str, int]
    away: Mapping[str, frozenset[date]]
    shut: frozenset[date]
    pace: str
    aim: str
    stock: Mapping[str, Decimal]
    spares: bool
    moves: Sequence[tuple[str, str, str, str]]


@cache
def fitting(name: str) -> tuple[str, ...]:
    able = {v.upgrade.id for v in job(name).verdicts if v.outcome != "does-not-fit"}
    return tuple(sorted(able & set(job(name).problem.options)))


def a_set(chance: random.Random, name: str, wanted: Iterable[str] = ()) -> list[str]:
    """Upgrades that can stand together, those wanted among them where they can."""
    found: list[str] = []
    for one in (*wanted, *chance.sample(fitting(name), 8)):
        if len(found) < 5 and not clashes(job(name).problem, [*found, one]) and one not in found:
            found.append(one)
    return found


def draw(seed: int) -> Drawn:
    chance = random.Random(seed)
    start = date(2026, 10, 5)
    number = chance.choice((1, 2, 2, 3, 3, 4))
    kinds = {f"j{k}": chance.choice(KINDS[:3]) for k in range(number)}
    donors = {f"d{k}": chance.choice((15, 40, 90, 300)) for k in range(chance.choice((0, 0, 0, 1, 2)))}
    twins = chance.random() < 0.4  # like instruments with like parts: quantity breaks
    kind = chance.choice(KINDS[:2])
    shared = [
        u for u in fitting(kind) if u.startswith(("new-jack", "new-pots", "ready-cut", "bone-nut", "shield"))
    ]
    wanted = chance.sample(shared, min(2, len(shared))) if twins else []
    if twins:
        kinds = dict.fromkeys([f"j{k}" for k in range(chance.choice((3, 4, 5)))], kind)
    sets = {name: a_set(chance, of, wanted) for name, of in kinds.items()}
    moves = []
    if number > 1 and chance.random() < 0.4:
        giver, taker = chance.sample(sorted(kinds), 2)
        for part in chance.sample(sorted(OFF_AT), 2):
            ours = [u for u in fitting(kinds[giver]) if u.startswith(part + "-")]
            theirs = [u for u in fitting(kinds[taker]) if u.startswith(part + "-")]
            if ours and theirs:
                one, other = chance.choice(ours), chance.choice(theirs)
                both = [*sets[giver], one], [*sets[taker], other]
                if not clashes(job(kinds[giver]).problem, both[0]) and not clashes(
                    job(kinds[taker]).problem, both[1]
                ):
                    sets[giver], sets[taker] = (sorted(set(names)) for names in both)
                    moves.append((giver, one, taker, other))
    people = {f"p{k}": chance.randint(1, 5) for k in range(chance.choice((0, 1, 1, 2, 3)))}
    days = [start + timedelta(days=k) for k in range(14)]
    away = {who: frozenset(chance.sample(days, chance.choice((0, 0, 2)))) for who in people}
    shut = frozenset(chance.sample(days, chance.choice((0, 0, 1))))
    pace = chance.choice(("fast", "usual", "safe"))
    used = sorted(
        {
            u.id
            for n, of in kinds.items()
            for line in job(of).costing.estimate(sets[n]).lines
            for u in line.consumables
        }
    )
    stock = {
        what: Decimal(chance.choice((1, 5, 30, 300))) for what in chance.sample(used, chance.randint(0, 3))
    }
    tasks = every_task(kinds, sets)
    tools = sorted({row["tool"] for row in table("task_tools") if row["task"] in tasks})
    missing = chance.sample(tools, chance.choice((0, 0, 1, 2)))
    spares = chance.random() < 0.5
    aim = "profit" if donors else "cost,cash"
    quoted = ", ".join(f'"{t}"' for t in missing)
    lines = [
        '[batch]\nid = "wide"',
        f"start = {start}",
        f'pace = "{pace}"',
        f"spares = {str(spares).lower()}",
        f"tools_missing = [{quoted}]",
        "days_off = [" + ", ".join(f'"{d}"' for d in sorted(shut)) + "]",
    ]
    for name, of in kinds.items():
        ids = ", ".join(f'"{u}"' for u in sets[name])
        due = start + timedelta(days=chance.randint(5, 40))
        lines += [f'[[job]]\nid = "{name}"\nfile = "{EXAMPLES}/{of}.toml"\nupgrades = [{ids}]\ndue = {due}']
    for name in donors:
        ids = ", ".join(f'"{u}"' for u in a_set(chance, "resale-flip"))
        named = f"upgrades = [{ids}]\n" if chance.random() < 0.5 else ""
        lines += [f'[[job]]\nid = "{name}"\nfile = "{name}.toml"\noptional = true\n{named}']
    for who, skill in people.items():
        off = ", ".join(f'"{d}"' for d in sorted(away[who]))
        lines += [f'[[person]]\nid = "{who}"\nskill = {skill}\ndays_off = [{off}]']
    for what, quantity in stock.items():
        lines += [f'[[stock]]\nconsumable = "{what}"\nquantity = {quantity}']
    for giver, one, taker, other in moves:
        lines += [
            f'[[moved_part]]\nfrom_job = "{giver}"\nfrom_upgrade = "{one}"\nto_job = "{taker}"\nto_upgrade = "{other}"'
        ]
    places = chance.choice((0, 0, 1, 2))
    if places:
        lines += [f"[stations]\nrack-places = {places}"]
    text = "\n".join(lines) + "\n"
    text += "".join(f"# donor {name} {ask}\n" for name, ask in donors.items())
    return Drawn(
        text,
        {**kinds, **dict.fromkeys(donors, "resale-flip")},
        people or {"bench": shop().terms.skill},
        away,
        shut,
        pace,
        aim,
        stock,
        spares,
        moves,
    )


def every_task(kinds: Mapping[str, str], sets: Mapping[str, Sequence[str]]) -> set[str]:
    return {line.task for n, of in kinds.items() for line in job(of).costing.estimate(sets[n]).lines}


def written(drawn: Drawn, folder: Path) -> BatchStudy:
    text = (EXAMPLES / "resale-flip.toml").read_text()
    for line in drawn.text.splitlines():
        if line.startswith("# donor "):
            name, ask = line.split()[2:]
            (folder / f"{name}.toml").write_text(text.replace("ask = 120", f"ask = {ask}"))
    (folder / "batch.toml").write_text(drawn.text)
    return study_batch(shop(), load_batch(folder / "batch.toml", shop()))


# the tables and the shop's hours, read anew


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    with (RATES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


@cache
def rows(name: str) -> dict[str, dict[str, str]]:
    return {row["id"]: row for row in table(name)}


def windows(drawn: Drawn, start: date) -> Iterable[tuple[datetime, datetime]]:
    names = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    for number in range(400):
        day = start + timedelta(days=number)
        for row in table("shop_hours"):
            if row["weekday"] == names[day.weekday()] and day not in drawn.shut:
                yield (
                    datetime.combine(day, time.fromisoformat(row["opens"])),
                    datetime.combine(day, time.fromisoformat(row["closes"])),
                )


class Done(Struct, frozen=True):
    """A piece of work in its place: the stretches of time it takes, and by whom."""

    id: str
    job: str
    task: str
    who: str
    begins: datetime
    ends: datetime
    stretches: tuple[tuple[datetime, datetime], ...]
    minutes: int


def events(plan: Plan, drawn: Drawn) -> dict[str, Done]:
    """The bookings as times of day, by walking the hours of the shop."""
    shifts = list(windows(drawn, plan.study.file.start))
    found = {}
    for assignment in plan.schedule.assignments:
        passed, stretches = 0, []
        for opens, closes in shifts:
            long = int((closes - opens).total_seconds()) // 60
            low, high = max(assignment.start, passed), min(assignment.end, passed + long)
            if low < high:
                stretches.append(
                    (opens + timedelta(minutes=low - passed), opens + timedelta(minutes=high - passed))
                )
            passed += long
            if passed >= assignment.end:
                break
        assert stretches, assignment
        name, _, rest = assignment.operation.partition(":")
        task = rest.partition("@")[0].partition("#")[0]
        found[assignment.operation] = Done(
            assignment.operation,
            name,
            task,
            assignment.who,
            stretches[0][0],
            stretches[-1][1],
            tuple(stretches),
            assignment.end - assignment.start,
        )
    return found


# the rules


def one_thing_at_a_time(drawn: Drawn, plan: Plan, done: Mapping[str, Done]) -> list[str]:
    """Nobody does two things at once, works when away, when the shop is shut, or beyond their skill."""
    wrong = []
    best = max(drawn.skills.values())
    for who in {d.who for d in done.values()}:
        if who not in drawn.skills:
            wrong.append(f"nobody is called {who!r}")
            continue
        spans = sorted((b, e, d.id) for d in done.values() if d.who == who for b, e in d.stretches)
        wrong += [f"{who}: {x[2]} and {y[2]}" for x, y in itertools.pairwise(spans) if y[0] < x[1]]
        gone = drawn.away.get(who, frozenset())
        wrong += [f"{who} is away: {name}" for begins, _, name in spans if begins.date() in gone]
    for d in done.values():
        level = int(rows("tasks")[d.task]["level"])
        if drawn.skills.get(d.who, 0) < min(level, best):
            wrong.append(f"{d.id} wants skill {level}, is done by {drawn.skills.get(d.who)}")
    del plan
    return wrong


def minutes_follow_skill(drawn: Drawn, plan: Plan, done: Mapping[str, Done]) -> list[str]:
    """Every task takes at least what the job's own pricing says for the skill of who does it, to a minute a sitting."""
    wrong = []
    for name, estimate in plan.estimates.items():
        study = plan.study.studies[name]
        for skill in set(drawn.skills.values()):
            priced = make_costing(study.shop, study.job, study.verdicts, crew=(skill,)).estimate(
                estimate.chosen
            )
            for task in {d.task for d in done.values() if d.job == name}:
                mine = [d for d in done.values() if d.job == name and d.task == task]
                if any(drawn.skills[d.who] != skill for d in mine):
                    continue
                lines = [line for line in priced.lines if line.task == task]
                need = sum((line.minutes + line.rework + line.allowance for line in lines), Decimal(0)) / 100
                took = sum(d.minutes for d in mine)
                if took + len(mine) < need:
                    wrong.append(f"{name}: {task} by skill {skill} takes {took} of {need}")
    return wrong


def in_order(done: Mapping[str, Done], ended: Mapping[str, datetime]) -> list[str]:
    """Nothing is done before what has to be done first on the same instrument; ``ended``: work done earlier."""
    ends: dict[tuple[str, str], datetime] = {}
    for name, when in [*((d.id, d.ends) for d in done.values()), *ended.items()]:
        of, _, rest = name.partition(":")
        if rest.startswith("strip-") and "@" in rest:
            continue  # what goes back comes last, and is looked at by the tests of the order of a finish
        key = of, rest.partition("@")[0].partition("#")[0]
        ends[key] = max(when, ends.get(key, when))
    return [
        f"{d.id} begins {d.begins}, {first} ends {ends[d.job, first]}"
        for d in done.values()
        for first, later in FIRST.items()
        if d.task in later and (d.job, first) in ends and d.begins < ends[d.job, first]
    ]


def waits_kept(drawn: Drawn, plan: Plan, done: Mapping[str, Done]) -> list[str]:
    """Glue, paint and strings get their time: the next step waits, the part rests, no dust on wet paint, nobody promises before."""
    wrong = []
    pace, facts = drawn.pace, rows("tasks")
    kinds = {row["task"]: row for row in table("task_plans")}
    dusty = {row["id"] for row in table("work_kinds") if row["dusty"] == "yes"}

    def cure(d: Done) -> datetime:
        return d.ends + timedelta(minutes=float(facts[d.task][f"wait_{pace}_min"]))

    rested = {"instrument": {"neck", "body", "wiring"}, "none": set()}
    for d in done.values():
        row, plans = facts[d.task], kinds.get(d.task)
        over = cure(d)
        if over > plan.finished()[d.job]:
            wrong.append(f"{d.job} is called finished before {d.id} has cured")
        for other in done.values():
            if other.id == d.id or other.begins < d.begins or other.begins >= over:
                continue
            if row["meanwhile"] == "M3" and kinds[other.task]["kind"] in dusty:
                wrong.append(f"{other.id} makes dust while {d.id} dries")
            if (
                other.job == d.job
                and row["meanwhile"] in ("M1", "M3", "M4")
                and plans
                and "@" not in d.id + other.id
            ):
                mine = rested.get(plans["part"], {plans["part"]})
                theirs = rested.get(kinds[other.task]["part"], {kinds[other.task]["part"]})
                if mine & theirs and not {places(plan, d), places(plan, other)} & {"neck", "body"}:
                    wrong.append(f"{other.id} while {d.id} rests")
    for row in table("task_waits"):
        if row["every"] != "1" or row["before"] == row["after"]:
            continue
        for d in done.values():
            if d.task != row["before"]:
                continue
            for other in done.values():
                bored = "@bore-" in other.id and row["before"] in (
                    "oil-coat",
                    "spray-coat",
                    "level-buff-finish",
                )
                if (
                    other.job == d.job and other.task == row["after"] and not bored
                ):  # a seat is bored before it
                    least = d.ends + timedelta(minutes=float(row[f"{pace}_min"]))
                    if other.begins < least:
                        wrong.append(f"{other.id} does not wait {row[f'{pace}_min']} min after {d.id}")
    return wrong


def places(plan: Plan, d: Done) -> str:
    """neck or body, where the work of a task names only that."""
    found = {line.place.partition("-")[0] for line in plan.estimates[d.job].lines if line.task == d.task}
    return found.pop() if len(found) == 1 else ""


def days_of(drawn: Drawn, low: int, high: int) -> int:
    days = {"fast": Fraction(low), "usual": Fraction(low + high, 2), "safe": high * Fraction(3, 2)}[
        drawn.pace
    ]
    return math.ceil(days)


def comes(drawn: Drawn, plan: Plan, purchase: Purchase) -> datetime:
    """When something bought is there: parcels by noon of their day, what is fetched the next morning."""
    start = datetime.combine(plan.study.file.start, time())
    seller = rows("suppliers").get(purchase.seller)
    if seller is None or purchase.kind in ("donor", "tool", "rent"):
        return start + timedelta(days=1)
    low, high = int(seller["lead_days_low"]), int(seller["lead_days_high"])
    if purchase.kind == "part":
        part = next(
            p for p in plan.study.batch.parts if (p.job, p.upgrade) == (purchase.job, purchase.upgrade)
        )
        kind = rows("part_classes")[part.part_class]
        low, high = max(low, int(kind["lead_days_low"])), max(high, int(kind["lead_days_high"]))
    return start + timedelta(days=days_of(drawn, low, high), hours=12)


def nothing_before_it_comes(
    drawn: Drawn, plan: Plan, done: Mapping[str, Done], late: Mapping[tuple[str, str], datetime]
) -> list[str]:
    """No part is fitted, nothing opened, no tool used and no instrument touched before it is there.

    ``late``: by (kind and job, upgrade or consumable), what comes on another day than was promised.
    """
    wrong = []
    groups = {name: row["group"] for name, row in rows("tasks").items()}
    tools: dict[str, set[str]] = {}
    for row in table("task_tools"):
        tools.setdefault(row["task"], set()).add(row["tool"])
    for purchase in plan.answer.purchases:
        if purchase.kind in ("moved", "pack"):
            continue
        key = (
            (f"part {purchase.job}", purchase.upgrade)
            if purchase.kind == "part"
            else (purchase.kind, purchase.what)
        )
        there = late.get(key) or comes(drawn, plan, purchase)
        fitted = tasks_of(plan, purchase.job, purchase.upgrade) if purchase.kind == "part" else set()
        for d in done.values():
            if purchase.kind == "part":
                waits = d.job == purchase.job and d.task in fitted and groups[d.task] not in TAKEN_APART
                guard = purchase.upgrade.startswith(("new-guard", "guard-from-blank"))
                waits = waits or (guard and d.job == purchase.job and d.task in ON_GUARD)
            elif purchase.kind == "donor":
                waits = d.job == purchase.what
            else:
                waits = purchase.what in tools.get(d.task, set())
            if waits and d.begins < there:
                wrong.append(f"{d.id} begins {d.begins}, {purchase.kind} {purchase.what} comes {there}")
    return wrong + more_than_there_is(drawn, plan, done, late)


def taken(plan: Plan, operation: str, what: str) -> Decimal:
    """How much of a consumable a piece of work takes: the lines of its task, of its coat and place where it has one."""
    name, _, work = operation.partition(":")
    sitting, _, where = work.partition("@")
    task, _, coat = sitting.partition("#")
    total = Decimal(0)
    for line in plan.estimates[name].lines:
        head, _, number = line.place.rpartition("coat-")
        if line.task != task or (coat and number != coat) or (where and head.rstrip("-") != where):
            continue
        total += sum((use.quantity for use in line.consumables if use.id == what), Decimal(0))
    return total


def more_than_there_is(
    drawn: Drawn, plan: Plan, done: Mapping[str, Done], late: Mapping[tuple[str, str], datetime]
) -> list[str]:
    """By whenever a piece of work begins no more is opened than was in stock or has come; work not in ``done`` is begun."""
    wrong = []
    first = datetime.combine(plan.study.file.start, time())
    names = {o.id for o in (*plan.work.operations, *plan.done)}
    # a job with money of its own (donors here) buys its strings itself
    shared = {(use.job, use.consumable) for use in plan.study.batch.uses}
    for what in {p.what for p in plan.answer.purchases if p.kind == "pack"}:
        row = rows("consumables")[what]
        size = Decimal(1 if row["billed_as"] == "part" else row["units_per_pack"])
        comings = [(first, drawn.stock.get(what, Decimal(0)))]
        for p in plan.answer.purchases:
            if (p.kind, p.what) == ("pack", what):
                there = late.get((f"pack {p.seller}", what)) or comes(drawn, plan, p)
                comings.append((there, p.number * size))
        wanted = {
            name: taken(plan, name, what) if (name.partition(":")[0], what) in shared else Decimal(0)
            for name in names
        }
        for d in done.values():
            if not wanted[d.id]:
                continue
            used = sum(
                (q for n, q in wanted.items() if n not in done or done[n].begins <= d.begins), Decimal(0)
            )
            there_is = sum((q for when, q in comings if when <= d.begins), Decimal(0))
            if used > there_is + Decimal("0.01"):
                wrong.append(f"{d.id} begins {d.begins}: {used} of {what} used, {there_is} there")
    return wrong


def off_before_on(
    drawn: Drawn, plan: Plan, done: Mapping[str, Done], ended: Mapping[str, datetime]
) -> list[str]:
    """A moved part is off the one instrument before anything is done with it on the other."""
    wrong = []
    groups = {name: row["group"] for name, row in rows("tasks").items()}
    for purchase in plan.answer.purchases:
        if purchase.kind != "moved":
            continue
        giver, _, taker, other = next(
            m for m in drawn.moves if (m[2], m[3]) == (purchase.job, purchase.upgrade)
        )
        kind = next(k for k in OFF_AT if other.startswith(k))
        off = [d.ends for d in done.values() if d.job == giver and d.task in OFF_AT[kind]]
        off += [
            when
            for n, when in ended.items()
            if n.partition(":")[0] == giver and n.partition(":")[2].partition("@")[0] in OFF_AT[kind]
        ]
        fitted = tasks_of(plan, taker, other)
        starts = [
            d.begins
            for d in done.values()
            if d.job == taker and d.task in fitted and groups[d.task] not in TAKEN_APART
        ]
        if not off:
            wrong.append(f"{kind} never comes off {giver}")
        elif starts and min(starts) < min(off):
            wrong.append(f"{kind} is on {taker} at {min(starts)}, off {giver} at {min(off)}")
    return wrong


# the order list


def half_up(exact: Fraction) -> int:
    return math.floor(exact + Fraction(1, 2))


def asked(seller: str, kind: str, broken: str, cents: int, pieces: Fraction) -> int | None:
    """What a seller asks for something of a kind at a list price when so many of ``broken`` are bought there."""
    sells = {
        row["sells"]: Fraction(row["price_factor"])
        for row in table("supplier_offers")
        if row["supplier"] == seller
    }
    share = sells.get(kind, None if kind == "consumables" else sells.get("*"))
    if share is None:
        return None
    less = Fraction(1)
    steps = [row for row in table("quantity_breaks") if (row["supplier"], row["what"]) == (seller, broken)]
    for row in sorted(steps, key=lambda row: int(row["from_quantity"])):
        if pieces >= int(row["from_quantity"]):
            less = Fraction(row["price_share"])
    return half_up(cents * share * less)


class Thing(Struct, frozen=True):
    """Something to buy: its kind as sellers know it, what its quantity breaks go by, list price in all, pieces."""

    name: str
    kind: str
    broken: str
    cents: int
    pieces: Fraction


def till(things: Sequence[Thing], sellers: Sequence[str]) -> int:
    """What leaves the till when each thing is bought from the seller beside it (blank: at the list price)."""
    many: dict[tuple[str, str], Fraction] = {}
    for thing, seller in zip(things, sellers, strict=True):
        many[seller, thing.broken] = many.get((seller, thing.broken), Fraction(0)) + thing.pieces
    goods: dict[str, int] = {}
    for thing, seller in zip(things, sellers, strict=True):
        cents = thing.cents
        if seller:
            price = asked(seller, thing.kind, thing.broken, thing.cents, many[seller, thing.broken])
            assert price is not None
            cents = price
        goods[seller] = goods.get(seller, 0) + cents
    total = sum(goods.values())
    for seller, cents in goods.items():
        if seller:
            row = rows("suppliers")[seller]
            if not row["free_above"] or cents < Fraction(row["free_above"]) * 100:
                total += half_up(Fraction(row["freight"]) * 100)
    return total


def who_sells(thing: Thing) -> list[str]:
    return [s for s in rows("suppliers") if asked(s, thing.kind, "", 100, Fraction(0)) is not None] or [""]


def spares_of(plan: Plan) -> list[tuple[str, Thing]]:
    """Every spare piece of the order list with its seller, as a thing like the first that is bought of its class."""
    parts = {(p.job, p.upgrade): p for p in plan.study.batch.parts}
    first: dict[str, int] = {}
    for p in plan.answer.purchases:
        if p.kind == "part":
            part = parts[p.job, p.upgrade]
            first.setdefault(part.part_class, math.ceil(Fraction(part.list_cents) / Fraction(part.quantity)))
    return [
        (basket.seller if basket.sent else "", Thing("", line.what, line.what, first[line.what], Fraction(1)))
        for basket in plan.orders.baskets
        for line in basket.lines
        if line.kind == "spare"
        for _ in range(int(line.number))
    ]


def least_money(drawn: Drawn, plan: Plan) -> tuple[int, int] | None:
    """(least for parts, packs and spares that have to be bought, what the order asks); None: too many ways."""
    moved = {(p.job, p.upgrade) for p in plan.answer.purchases if p.kind == "moved"}
    chosen = plan.answer.chosen
    things = [
        Thing("", p.part_class, p.part_class, p.list_cents, Fraction(p.quantity))
        for p in plan.study.batch.parts
        if p.upgrade in chosen.get(p.job, ()) and (p.job, p.upgrade) not in moved
    ]
    things += [thing for _, thing in spares_of(plan)]
    by_the_piece = 0
    used: dict[str, Fraction] = {}
    for use in plan.study.batch.uses:
        if plan.answer.does(use.job, use.triggers):
            used[use.consumable] = used.get(use.consumable, Fraction(0)) + Fraction(use.millionths, 1_000_000)
    for what, quantity in used.items():
        row = rows("consumables")[what]
        need = quantity - Fraction(drawn.stock.get(what, Decimal(0)))
        if (
            row["billed_as"] == "part"
        ):  # strings beyond those in stock: by the set, at the price of one, of nobody named
            each = half_up(Fraction(row["price"]) * 100 / Fraction(row["units_per_pack"]))
            by_the_piece += max(0, math.ceil(need)) * each
            continue
        cents = half_up(Fraction(row["price"]) * 100)
        number = max(0, math.ceil(need / Fraction(row["units_per_pack"])))
        things += [Thing("", "consumables", what, cents, Fraction(1))] * number
    alike = {thing: things.count(thing) for thing in things}
    options = [
        list(itertools.combinations_with_replacement(who_sells(thing), number))
        for thing, number in alike.items()
    ]
    if math.prod(len(o) for o in options) > MOST_WAYS:
        return None
    in_order = [thing for thing, number in alike.items() for _ in range(number)]
    least = min(till(in_order, [*itertools.chain(*ways)]) for ways in itertools.product(*options))
    bought = [p for p in plan.answer.purchases if p.kind in ("part", "pack")]
    return least + by_the_piece, sum(p.cents for p in (*bought, *plan.answer.spares)) + sum(
        plan.answer.freight.values()
    )


def spares_right(drawn: Drawn, plan: Plan) -> list[str]:
    """As many spares as nine in ten take, and the whole order at the prices that its numbers bring."""
    odds_of = {
        "p-nutblank": "nut-blank",
        "p-nutcut": "ready-cut-nut",
        "p-guardblank": "guard-blank",
        "p-pot": "pot",
        "p-insert4": "threaded-insert",
    }
    column = "expert_pct" if max(drawn.skills.values()) >= 4 else "beginner_pct"
    wrong = []
    spares = spares_of(plan)
    if not drawn.spares:
        return ["spares that nobody asked for"] if spares else []
    parts = {(p.job, p.upgrade): p for p in plan.study.batch.parts}
    things: list[Thing] = []
    sellers: list[str] = []
    good: dict[str, int] = {}
    bought: set[str] = set()
    for purchase in plan.answer.purchases:
        part = parts.get((purchase.job, purchase.upgrade))
        if purchase.kind == "pack":
            cents = half_up(Fraction(rows("consumables")[purchase.what]["price"]) * 100)
            things += [Thing("", "consumables", purchase.what, cents, Fraction(1))] * purchase.number
            sellers += [purchase.seller] * purchase.number
        if part is None or purchase.kind not in ("part", "moved"):
            continue
        if part.part_class in odds_of:
            pieces = max(1, int(Decimal(part.quantity)))
            good[part.part_class] = good.get(part.part_class, 0) + pieces
        if purchase.kind == "part":
            thing = Thing("", part.part_class, part.part_class, part.list_cents, Fraction(part.quantity))
            things.append(thing)
            sellers.append(purchase.seller)
            bought.add(part.part_class)
    for kind, number in good.items():
        fails = Fraction(rows("spares")[odds_of[kind]][column]) / 100
        pieces = number
        while sum(
            math.comb(pieces, k) * fails**k * (1 - fails) ** (pieces - k) for k in range(pieces - number + 1)
        ) < Fraction(9, 10):
            pieces += 1
        wanted = pieces - number if kind in bought else 0
        ordered = sum(thing.kind == kind for _, thing in spares)
        if ordered != wanted:
            wrong.append(f"{kind}: {wanted} spares belong in the order for {number} good ones, not {ordered}")
    told = plan.orders.total
    told -= sum(
        line.cents for b in plan.orders.baskets for line in b.lines if line.kind in ("tool", "rent", "donor")
    )
    counted = till([*things, *(thing for _, thing in spares)], [*sellers, *(seller for seller, _ in spares)])
    if told != counted:
        wrong.append(f"with spares the orders come to {told}, counted {counted}")
    return wrong


def tools_cheapest(plan: Plan) -> list[str]:
    """A missing tool is rented only where that costs less than buying it."""
    wrong = []
    for tool in plan.study.batch.tools:
        users = {name for name, triggers in tool.needed_by if plan.answer.does(name, triggers)}
        paid = sum(p.cents for p in plan.answer.purchases if p.what == tool.tool)
        rented = [p for p in plan.answer.purchases if p.what == tool.tool and p.kind == "rent"]
        least = (
            0 if not users else tool.cents if tool.rent is None else min(tool.cents, tool.rent * len(users))
        )
        if paid != least or (rented and least == tool.cents):
            wrong.append(f"{tool.tool}: {paid} instead of {least}, rented {len(rented)} times")
    return wrong


def money_adds_up(plan: Plan) -> list[str]:
    wrong = []
    orders = plan.orders
    if sum(orders.by_job.values()) != orders.total:
        wrong.append("what the jobs bear is not what is ordered")
    answer = plan.answer
    bought = sum(p.cents for p in (*answer.purchases, *answer.spares)) + sum(answer.freight.values())
    if bought != orders.total:
        wrong.append(f"orders {orders.total}, bought {bought}")
    return wrong


# planned again


def state_of(chance: random.Random, plan: Plan, drawn: Drawn) -> tuple[str, dict[tuple[str, str], datetime]]:
    """A state at some moment of the plan, with a late parcel now and then; what is late and when it comes."""
    kept = read_kept(kept_text(plan).encode(), "week.json")
    early = [w for w in kept.work if w.begins < datetime.combine(kept.start + timedelta(days=4), time())]
    one = chance.choice(early if early and chance.random() < 0.6 else kept.work)
    now = one.begins + (one.ends - one.begins) * chance.random()
    now = max(now.replace(second=0, microsecond=0), datetime.combine(kept.start, time(9)))
    lines = [f'[state]\nplan = "week.json"\nnow = "{now:%Y-%m-%d %H:%M}"']
    lines += [f'others = "{chance.choice(("as-planned", "not-begun"))}"']
    late: dict[tuple[str, str], datetime] = {}
    coming = [p for p in plan.answer.purchases if p.kind in ("part", "pack") and comes(drawn, plan, p) > now]
    sellers = sorted({p.seller for p in coming if p.seller})
    if sellers and chance.random() < 0.6:
        seller = chance.choice(sellers)
        day = (now + timedelta(days=chance.randint(1, 9))).date()
        lines += [f'[[late]]\nsupplier = "{seller}"\nexpected = "{day}"']
        for p in plan.answer.purchases:
            if p.seller == seller and p.kind in ("part", "pack"):
                key = (f"part {p.job}", p.upgrade) if p.kind == "part" else (f"pack {p.seller}", p.what)
                late[key] = max(datetime.combine(day, time(12)), late.get(key, datetime.min))
    return "\n".join(lines) + "\n", late


def again(plan: Plan, folder: Path) -> PlannedAgain:
    return plan_again(plan.study, load_state(folder / "state.toml"), search=Search(engine="rule", tries=5))


def wrong_with(seed: int, folder: Path) -> dict[str, list[str]]:
    """By rule, all that is wrong with a batch, planned and planned again; and what was looked at."""
    drawn = draw(seed)
    study = written(drawn, folder)
    plan = plan_batch(study, drawn.aim, search=Search(engine="rule", tries=5))
    if not isinstance(plan, Plan):
        if all(name in plan.left_out for name in drawn.kinds):
            return {"seen": ["nothing worth doing"]}
        return {"planned": [f"no plan: {plan.status}"]}
    done = events(plan, drawn)
    found = {
        "hands": one_thing_at_a_time(drawn, plan, done),
        "skill": minutes_follow_skill(drawn, plan, done),
        "order of work": in_order(done, {}),
        "waits": waits_kept(drawn, plan, done),
        "arrivals": nothing_before_it_comes(drawn, plan, done, {}),
        "moved": off_before_on(drawn, plan, done, {}),
        "spares": spares_right(drawn, plan),
        "tools": tools_cheapest(plan),
        "sums": money_adds_up(plan),
    }
    seen = [p.kind for p in plan.answer.purchases] + ["spare"] * any(
        line.kind == "spare" for b in plan.orders.baskets for line in b.lines
    )
    money = least_money(drawn, plan)
    if money is None:
        seen.append("too many ways to buy")
    else:
        seen.append("ways to buy gone through")
        found["least money"] = [] if money[0] == money[1] else [f"{money[1]} instead of {money[0]}"]
    (folder / "week.json").write_text(kept_text(plan))
    state, late = state_of(random.Random(seed), plan, drawn)
    (folder / "state.toml").write_text(state)
    once = again(plan, folder)
    (folder / "week.json").write_text(kept_text(once.plan))
    twice = again(plan, folder)
    seen.append("late parcel" if late else "planned again")
    found["twice"] = (
        [] if kept_text(once.plan) == kept_text(twice.plan) else ["another plan at the same moment"]
    )
    if once.plan.orders != twice.plan.orders:
        found["twice"].append("another order")
    left = events(once.plan, drawn)
    ended = {name: when for name, (when, _) in once.plan.already.items()}
    found["again: hands"] = one_thing_at_a_time(drawn, once.plan, left)
    found["again: order of work"] = in_order(left, ended)
    found["again: moved"] = off_before_on(drawn, once.plan, left, ended)
    running = {n: d for n, d in left.items() if n not in once.plan.running}
    found["again: arrivals"] = nothing_before_it_comes(drawn, once.plan, running, late)
    now = once.plan.now
    assert now is not None
    found["again: past"] = [f"{d.id} begins {d.begins}" for d in left.values() if d.begins < now]
    return {**{rule: words for rule, words in found.items() if words}, "seen": seen}


@pytest.mark.slow
@pytest.mark.parametrize("seed", sorted({*range(BATCHES), FILLED, OWN_STRINGS}))
def test_a_random_batch_keeps_every_rule(tmp_path: Path, seed: int) -> None:
    found = wrong_with(seed, tmp_path)
    assert found.pop("seen")
    assert found == {}


def task_in(operation: str) -> str:
    return operation.partition(":")[2].partition("@")[0].partition("#")[0]


def has_work(plan: Plan, part: Purchase, groups: Mapping[str, str]) -> bool:
    return any(groups[task] not in TAKEN_APART for task in tasks_of(plan, part.job, part.upgrade))


def damaged(plan: Plan, name: str, start: int, long: int = 0) -> Plan:
    """The plan with one piece of work put elsewhere, and cut to so many minutes where that is asked for."""
    assignments = tuple(
        replace(b, start=start, end=start + (long or b.end - b.start)) if b.operation == name else b
        for b in plan.schedule.assignments
    )
    return replace(plan, schedule=replace(plan.schedule, assignments=assignments))


@pytest.mark.slow
def test_the_rules_speak_when_a_plan_breaks_them(tmp_path: Path) -> None:
    """Each rule is shown a plan that breaks it and no other plan than that: else its silence would say nothing."""
    drawn = draw(SHOWN)
    plan = plan_batch(written(drawn, tmp_path), drawn.aim, search=Search(engine="rule", tries=0))
    assert isinstance(plan, Plan)
    assigned = {b.operation: b for b in plan.schedule.assignments}
    for kind in ("part", "moved", "spare", "tool"):
        lines = [line.kind for basket in plan.orders.baskets for line in basket.lines]
        assert kind in [*lines, *(p.kind for p in plan.answer.purchases)], kind

    def told(rule: str, other: Plan) -> list[str]:
        done = events(other, drawn)
        return {
            "hands": one_thing_at_a_time(drawn, other, done),
            "skill": minutes_follow_skill(drawn, other, done),
            "order": in_order(done, {}),
            "waits": waits_kept(drawn, other, done),
            "arrivals": nothing_before_it_comes(drawn, other, done, {}),
            "moved": off_before_on(drawn, other, done, {}),
        }[rule]

    last = max(plan.schedule.assignments, key=lambda b: b.start)
    before = sorted(plan.schedule.assignments, key=lambda b: b.start)[-2]
    checked = next(b for b in assigned.values() if ":recheck-next-day" in b.operation)
    long = max(assigned.values(), key=lambda b: b.end - b.start)
    purchase = next(p for p in plan.answer.purchases if p.kind == "moved")
    groups = {name: row["group"] for name, row in rows("tasks").items()}

    def fitting(of: str, upgrade: str) -> str:
        return next(
            b.operation
            for b in assigned.values()
            if b.operation.startswith(of + ":")
            and task_in(b.operation) in tasks_of(plan, of, upgrade)
            and groups[task_in(b.operation)] not in TAKEN_APART
        )

    part = next(p for p in plan.answer.purchases if p.kind == "part" and has_work(plan, p, groups))
    for rule, other in (
        ("hands", damaged(plan, last.operation, before.start)),
        ("skill", damaged(plan, long.operation, long.start, 1)),
        ("order", damaged(plan, checked.operation, 0)),
        ("waits", damaged(plan, checked.operation, 0)),
        ("arrivals", damaged(plan, fitting(part.job, part.upgrade), 0)),
        ("moved", damaged(plan, fitting(purchase.job, purchase.upgrade), 0)),
    ):
        assert told(rule, plan) == [], rule
        assert told(rule, other), rule
    cheap = least_money(drawn, plan)
    assert cheap is not None
    dearer = replace(plan.answer, freight={**plan.answer.freight, "parts-house": 1})
    worse = least_money(drawn, replace(plan, answer=dearer))
    assert cheap[0] == cheap[1]
    assert worse is not None
    assert worse[1] > worse[0]
    assert spares_right(drawn, plan) == tools_cheapest(plan) == money_adds_up(plan) == []
    without = tuple(
        replace(b, lines=tuple(line for line in b.lines if line.kind not in ("spare",)))
        for b in plan.orders.baskets
    )
    poorer = replace(plan, orders=replace(plan.orders, baskets=without))
    assert spares_right(drawn, poorer)
    assert money_adds_up(poorer)
    paid = tuple(replace(p, cents=p.cents + 1) if p.kind == "tool" else p for p in plan.answer.purchases)
    assert tools_cheapest(replace(plan, answer=replace(plan.answer, purchases=paid)))
