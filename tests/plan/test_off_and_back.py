"""A neck is off while it is worked on, wood is in before a bridge is on it, and a guard is cut before it is wired.

What belongs before what is written here by the sense of the work, apart from the order of tasks that the plan reads.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.verify.choice import clashes
from estimator.model.planning import Person
from estimator.schedule.build import PlannedJob, operations_of
from estimator.schedule.records import Link, Operation
from tests.plan.bench import job, shop
from tests.plan.test_finish_order import offered, planned

JOBS = ("tight-commission", "school-guitar", "short-scale-bass")
ME = (Person("me", 4),)
FRET_WORK = tuple(name for name, row in shop().tasks.items() if row.group == "frets")
ON_THE_NECK = (
    *(name for name in FRET_WORK if name != "cut-bend-fretwire"),
    "clean-oil-board",
    "roll-board-edges",
    "sand-neck-back",
    "remove-nut",
    "finish-glue-nut",
    "fit-mechanical-nut",
)
"""Work on a neck; wire is bent away from it."""
ON_GUARD = (
    "shield-cavity-foil",
    "fit-pickup-two-wire",
    "fit-pickup-four-wire",
    "fit-pot",
    "fit-switch",
    "fit-harness",
)
CONNECTED = (
    "fit-pickup-two-wire",
    "fit-pickup-four-wire",
    "fit-pot",
    "fit-switch",
    "fit-cap",
    "wire-coil-split",
)
TIGHTENED = (
    "refit-neck",
    "fit-replacement-neck",
    "mount-bridge",
    "fit-guard",
    "fit-tuner",
    "fit-strap-button",
    "swap-saddles",
    "strip-hardware@bridge-back",
    "strip-hardware@tuners-back",
    "strip-hardware@small-parts-back",
)
"""What goes on with screws or nuts that the bench tightens once more."""


class Order:
    """Operations of a job by their names, with all that has to be done before each."""

    def __init__(self, operations: list[Operation]) -> None:
        self.names = [o.id.partition(":")[2] for o in operations]
        self.cures = {o.id.partition(":")[2]: o.cure for o in operations}
        links = {o.id: [link.before for link in o.after] for o in operations}
        self.before: dict[str, set[str]] = {}
        for operation in operations:
            seen: set[str] = set()
            stack = list(links[operation.id])
            while stack:
                one = stack.pop()
                if one not in seen:
                    seen.add(one)
                    stack.extend(links[one])
            self.before[operation.id.partition(":")[2]] = {name.partition(":")[2] for name in seen}

    def of(self, *tasks: str) -> list[str]:
        """Operations of these tasks: where a place is named only there, else with no place."""
        return [n for n in self.names if n.partition("#")[0] in tasks or n in tasks]

    def broken(self, first: tuple[str, ...], then: tuple[str, ...]) -> Iterator[str]:
        for one in self.of(*first):
            for other in self.of(*then):
                if one != other and one not in self.before[other]:
                    yield f"{one} is not before {other}"


Rule = Callable[[Order], Iterator[str]]


def neck_off_while_worked_on(order: Order) -> Iterator[str]:
    yield from order.broken(("remove-neck",), ON_THE_NECK)
    yield from order.broken(ON_THE_NECK, ("refit-neck",))


def marked_when_all_is_there_for_levelling(order: Order) -> Iterator[str]:
    """Whatever has to come before the frets are levelled comes before the neck is straightened and masked for it."""
    for levelled in order.of("level-frets"):
        for prepared in order.of("prep-fretwork"):
            late = order.before[levelled] - order.before[prepared] - {prepared}
            yield from (f"{one} comes between {prepared} and {levelled}" for one in sorted(late))


def all_on_before_tightened(order: Order) -> Iterator[str]:
    yield from order.broken(TIGHTENED, ("tighten-hardware",))


def guard_cut_before_wired(order: Order) -> Iterator[str]:
    yield from order.broken(("cut-guard-blank",), ("open-guard-slot", *ON_GUARD))
    yield from order.broken(("open-guard-slot",), ON_GUARD)
    yield from order.broken(("enlarge-control-hole",), ("fit-pot", "fit-jack", "fit-switch", *ON_GUARD[:1]))


def shielded_then_wired_then_tried(order: Order) -> Iterator[str]:
    yield from order.broken(("shield-cavity-paint",), ("shield-cavity-foil",))
    yield from order.broken(("shield-cavity-paint", "shield-cavity-foil"), CONNECTED[:2])
    yield from order.broken(CONNECTED, ("fit-harness", "strip-electronics@reassembly"))
    yield from order.broken((*CONNECTED, "fit-harness", "fit-jack"), ("test-electronics",))
    yield from order.broken(("test-electronics",), ("string-up", "retune-strings", "final-check"))


BLOCK = ("block-tremolo", "repair-crack@tremolo-cavity")
"""A block made for an empty cavity, and its glue line."""


def block_in_before_bridge(order: Order) -> Iterator[str]:
    """A hardtail's block is glued when the tremolo is off, before anything is laid out, drilled, finished or mounted."""
    yield from order.broken(("strings-off", "strip-hardware", "extract-stuck-fastener"), BLOCK)
    yield from order.broken(BLOCK[:1], BLOCK[1:])
    yield from order.broken(BLOCK, ("plug-hole", "layout-bridge", "drill-hole", "mount-bridge", "string-up"))
    yield from order.broken(BLOCK, ("prep-body-wood", "polish-body", "spray-coat", "level-buff-finish"))
    for glued in order.of(*BLOCK[1:]):
        if order.cures[glued] < 24 * 60:
            yield f"{glued} is dry within a day"


def wedges_against_a_bridge_that_is_on(order: Order) -> Iterator[str]:
    """Wedges under the tremolo that stays are fitted when it is on, and the strings are tuned after."""
    wedges = ("block-tremolo@standing-tremolo",)
    yield from order.broken(("strings-off", "mount-bridge", "strip-hardware@bridge-back"), wedges)
    yield from order.broken(wedges, ("string-up", "retune-strings", "set-action", "set-intonation"))


def laid_out_from_the_neck(order: Order) -> Iterator[str]:
    """The neck that stays is on when a bridge is laid out, but over a stripped finish, which takes marks with it."""
    yield from order.broken(("strip-finish", "plug-hole"), ("layout-bridge",))
    yield from order.broken(("layout-bridge",), ("drill-hole", "drill-string-through", "mount-bridge"))
    if order.of("fit-replacement-neck"):
        if not order.of("prep-body-wood", "polish-body"):
            yield from order.broken(("fit-replacement-neck",), ("layout-bridge",))
    elif not order.of("strip-finish"):
        yield from order.broken(("layout-bridge",), ("remove-neck",))


RULES: tuple[Rule, ...] = (
    marked_when_all_is_there_for_levelling,
    laid_out_from_the_neck,
    block_in_before_bridge,
    wedges_against_a_bridge_that_is_on,
    neck_off_while_worked_on,
    all_on_before_tightened,
    guard_cut_before_wired,
    shielded_then_wired_then_tried,
)


def operations(name: str, chosen: list[str]) -> list[Operation]:
    study = job(name)
    made = PlannedJob("j", study.costing, study.costing.estimate(chosen), {})
    return operations_of(made, ME)[0]


def breaches(name: str, chosen: list[str]) -> list[str]:
    order = Order(operations(name, chosen))
    circle = [f"{one} waits for itself" for one in order.names if one in order.before[one]]
    return circle + [told for rule in RULES for told in rule(order)]


def drawn(chance: random.Random, name: str, wanted: tuple[str, ...] = ()) -> list[str]:
    """A handful of upgrades that go together, of each kind wanted one where there is one that goes."""
    chosen: list[str] = []
    rest = list(offered(name))
    chance.shuffle(rest)
    first = [one for kind in wanted for one in rest if one.startswith(kind)]
    size = chance.randint(2, 14)
    for one in [*first, *rest[:50]]:
        if len(chosen) < size and one not in chosen and not clashes(job(name).problem, [*chosen, one]):
            chosen.append(one)
    return chosen


KINDS = (
    (),
    ("two-post", "replacement-neck"),
    ("hardtail", "replacement-neck", "polish-body"),
    ("level-crown",),
    ("refret",),
    ("refret", "shim-neck"),
    ("polish-frets", "reseat-neck", "roll-board"),
    ("hardtail",),
    ("hardtail", "refinish"),
    ("hardtail", "polish-body"),
    ("hardtail", "level-crown"),
    ("block-tremolo",),
    ("block-tremolo", "polish-body"),
    ("block-tremolo", "new-block"),
    ("two-post", "refret"),
    ("guard-from-blank", "bridge-pickup-humbucker"),
    ("shield-paint", "new-harness", "neck-pickup"),
    ("new-guard", "new-switch", "shield-paint"),
    ("oil-neck", "level-crown"),
    ("refinish", "refret"),
)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: "-".join(kind) or "any")
def test_drawn_sets_keep_the_order_of_the_bench(kind: tuple[str, ...]) -> None:
    chance = random.Random(f"off and back {kind}")
    for name in JOBS:
        for _ in range(4):
            chosen = drawn(chance, name, kind)
            assert breaches(name, chosen) == [], (name, chosen)


def began(folder: Path, name: str, chosen: list[str]) -> Mapping[str, tuple[int, int]]:
    plan = planned(folder, {name: chosen}, "usual")
    return {b.operation.partition(":")[2]: (b.start, b.end) for b in plan.schedule.assignments}


def test_the_neck_of_a_planned_bass_is_off_for_its_fret_work(tmp_path: Path) -> None:
    times = began(tmp_path, "short-scale-bass", ["level-crown-polish", "new-jack-economy"])
    off, back = times["remove-neck"][1], times["refit-neck"][0]
    work = {n: span for n, span in times.items() if n.partition("#")[0] in ON_THE_NECK}
    assert {"prep-fretwork", "level-frets", "crown-frets", "polish-frets", "clean-oil-board"} <= set(work)
    assert [n for n, (start, end) in work.items() if start < off or end > back] == []
    assert back <= times["tighten-hardware"][0] <= times["string-up"][0]


def test_a_block_is_dry_before_a_planned_hardtail_is_mounted(tmp_path: Path) -> None:
    times = began(tmp_path, "tight-commission", ["hardtail-bridge-standard", "level-crown-polish"])
    turns = (
        "strip-hardware",
        "block-tremolo",
        BLOCK[1],
        "layout-bridge",
        "drill-hole",
        "mount-bridge",
        "string-up",
    )
    assert all(times[one][1] <= times[other][0] for one, other in pairwise(turns)), times


def test_each_rule_finds_its_own_breach() -> None:
    def at(task: str, *after: str) -> Operation:
        return replace(plain, id=f"j:{task}", cure=0, after=tuple(Link(f"j:{one}", None) for one in after))

    plain = operations("tight-commission", ["set-up"])[0]
    wrong: dict[Rule, list[Operation]] = {
        marked_when_all_is_there_for_levelling: [
            at("prep-fretwork"),
            at("seat-frets"),
            at("level-frets", "prep-fretwork", "seat-frets"),
        ],
        laid_out_from_the_neck: [at("remove-neck"), at("layout-bridge", "remove-neck")],
        neck_off_while_worked_on: [at("level-frets"), at("remove-neck", "level-frets")],
        all_on_before_tightened: [at("tighten-hardware"), at("refit-neck", "tighten-hardware")],
        guard_cut_before_wired: [at("shield-cavity-foil"), at("open-guard-slot", "shield-cavity-foil")],
        shielded_then_wired_then_tried: [at("string-up"), at("test-electronics", "string-up")],
        block_in_before_bridge: [at("mount-bridge"), at("block-tremolo", "mount-bridge")],
        wedges_against_a_bridge_that_is_on: [
            at("string-up"),
            at("block-tremolo@standing-tremolo", "string-up"),
        ],
    }
    assert {rule for rule, ops in wrong.items() if list(rule(Order(ops)))} == set(RULES)
    assert "repair-crack@tremolo-cavity is dry within a day" in block_in_before_bridge(Order([at(BLOCK[1])]))
    assert not list(neck_off_while_worked_on(Order([at("remove-neck"), at("level-frets", "remove-neck")])))


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: "-".join(kind) or "any")
def test_many_drawn_sets_keep_the_order_of_the_bench(kind: tuple[str, ...]) -> None:
    chance = random.Random(f"many {kind}")
    for name in JOBS:
        for _ in range(40):
            chosen = drawn(chance, name, kind)
            assert breaches(name, chosen) == [], (name, chosen)
