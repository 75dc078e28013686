"""Nothing is on a body while it is stripped, sprayed or buffed, and no dust flies beside wet lacquer.

What counts as fitting, as cutting wood and as dust is written here, by group of task and code of hazard, apart from
the order of tasks that the plan reads.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest
from msgspec import Struct

from estimator.batch.build import study_batch
from estimator.choose.verify.choice import clashes
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.schedule.records import Search
from tests.plan.bench import EXAMPLES, job, shop

JOBS = ("tight-commission", "school-guitar", "short-scale-bass", "resale-flip")
FINISHES = ("refinish-spray", "oil-finish", "polish-body", "oil-neck")
WORK_ON_FINISH = (
    "strip-finish",
    "prep-body-wood",
    "spray-coat",
    "level-buff-finish",
    "polish-body",
    "oil-coat",
)
BEFORE_WOOD = ("strip-finish", "prep-body-wood")
OFF_THE_INSTRUMENT = (
    "build-harness",
    "cut-guard-blank",
    "open-guard-slot",
    "clean-controls",
    "clean-hardware",
)
FITTING_GROUPS = ("electronics", "guard")
"""Groups of which everything goes on the body, but for what is done in the hand or opens a hole."""
FITTED_TO_BODY = (
    "mount-bridge",
    "fit-two-post-bushings",
    "fit-spring",
    "fit-string-ferrules",
    "ground-bridge",
    "fit-strap-button",
    "fit-jack-plate",
    "shim-neck",
    "refit-neck",
    "fit-replacement-neck",
)
FITTED_TO_NECK = ("fit-tuner", "fit-string-tree", "finish-glue-nut", "fit-mechanical-nut", "refit-neck")
CUTS_WOOD = (
    "plug-hole",
    "plug-small-hole",
    "drill-hole",
    "drill-string-through",
    "enlarge-tremolo-cavity",
    "route-cavity",
    "contour-body",
    "contour-heel",
    "drill-neck-ferrules",
    "enlarge-control-hole",
    "repair-crack",
)
COMES_OFF = ("strings-off", "strip-hardware", "strip-electronics", "remove-neck", "extract-stuck-fastener")
BACK_ON_BODY = ("bridge-back", "small-parts-back", "reassembly")
BACK_ON_NECK = ("tuners-back",)
"""Places of the work that puts back what was taken off: it is no taking off."""
DUST = {"H-WD", "H-MD", "H-BD", "H-FI"}
"""Dust of wood, of metal, of bone and plastic, of old finish."""
MAKES_DUST = (
    "drill-hole",
    "shape-nut",
    "slot-nut",
    "level-frets",
    "trim-bevel-ends",
    "plug-hole",
    "cut-guard-blank",
)


class Done(Struct, frozen=True):
    """A piece of work, in minutes from the start of the week, day and night."""

    name: str
    job: str
    task: str
    where: str
    begins: int
    ends: int


@cache
def tasks() -> Mapping[str, dict[str, str]]:
    with (EXAMPLES.parent / "rates" / "tasks.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def fitted(d: Done) -> bool:
    if d.where in BACK_ON_BODY:
        return True
    if d.where.startswith("bore-"):
        return False
    if d.task in OFF_THE_INSTRUMENT + CUTS_WOOD:
        return False
    return d.task in FITTED_TO_BODY or (
        tasks()[d.task]["group"] in FITTING_GROUPS and d.task != "set-pickup-height"
    )


def works_on(d: Done, what: str) -> bool:
    """Whether finish work is on the neck or on the body: the place says so where there is one."""
    return d.task in WORK_ON_FINISH and (d.where.partition("-")[0] == "neck") == (what == "neck")


def done_in(plan: Plan) -> list[Done]:
    calendar, found = plan.calendar, []
    for booked in plan.schedule.assignments:
        name, _, rest = booked.operation.partition(":")
        bare, _, where = rest.partition("@")
        found.append(
            Done(
                booked.operation,
                name,
                bare.partition("#")[0],
                where,
                calendar.elapsed_at_start(booked.start),
                calendar.elapsed_at_end(booked.end),
            )
        )
    return found


Rule = Callable[[list[Done]], Iterator[str]]


def bare_while_finished(done: list[Done]) -> Iterator[str]:
    """Whatever is fitted is fitted after the last finish work on that part of the instrument."""
    for d in done:
        for finish in done:
            if finish.job != d.job or finish.ends <= d.begins:
                continue
            if fitted(d) and works_on(finish, "body"):
                yield f"{d.name} is on the body before {finish.name}"
            if (d.task in FITTED_TO_NECK or d.where in BACK_ON_NECK) and works_on(finish, "neck"):
                yield f"{d.name} is on the neck before {finish.name}"


def off_before_bare(done: list[Done]) -> Iterator[str]:
    """What comes off is off, what is cut is cut and plugs are in, before the body is stripped or its wood sanded."""
    for d in done:
        for wood in done:
            if wood.job != d.job or d.ends <= wood.begins:
                continue
            if d.task in COMES_OFF and d.where == "" and wood.task in BEFORE_WOOD:
                yield f"{d.name} comes off after {wood.name} has begun"
            if (d.task in CUTS_WOOD or d.where.startswith("bore-")) and wood.task == "prep-body-wood":
                yield f"{d.name} is cut after {wood.name} has begun"


def cured(done: list[Done]) -> Iterator[str]:
    """Nothing goes on a body before two days after its last coat of oil, at the quickest."""
    for coat in done:
        if coat.task == "oil-coat":
            yield from (
                f"{d.name} on wet oil of {coat.name}"
                for d in done
                if d.job == coat.job
                and (
                    fitted(d)
                    if works_on(coat, "body")
                    else d.task in FITTED_TO_NECK or d.where in BACK_ON_NECK
                )
                and d.begins < coat.ends + 2 * 24 * 60
            )


def clean_air(done: list[Done]) -> Iterator[str]:
    """No dust in the shop, of whichever instrument, from the first spray of a coat till it is dry to the touch."""
    for coat in (d for d in done if d.task == "spray-coat"):
        dry = coat.ends + int(tasks()["spray-coat"]["wait_usual_min"])
        yield from (
            f"{d.name} raises dust while {coat.name} is wet"
            for d in done
            if DUST & set(tasks()[d.task]["hazards"].split()) and d.begins < dry and d.ends > coat.begins
        )


def back_before_strings(done: list[Done]) -> Iterator[str]:
    """What goes back has come off before, and is back on before the strings are."""
    for d in done:
        if d.where in BACK_ON_BODY + BACK_ON_NECK:
            for other in done:
                if (
                    other.job == d.job
                    and other.task == d.task
                    and other.where == ""
                    and other.ends > d.begins
                ):
                    yield f"{d.name} before {other.name}"
                if other.job == d.job and other.task == "string-up" and other.begins < d.ends:
                    yield f"{d.name} after {other.name}"


PRESSED_IN = ("fit-two-post-bushings", "fit-string-ferrules")


def bored_before_finish(done: list[Done]) -> Iterator[str]:
    """The seats of what is pressed into a body are bored before its finish."""
    for d in done:
        if d.task in PRESSED_IN and d.where == "":
            for finish in done:
                if finish.job == d.job and finish.task in ("prep-body-wood", "polish-body"):
                    bored = [
                        o for o in done if (o.job, o.task) == (d.job, d.task) and o.where.startswith("bore-")
                    ]
                    if not any(o.ends <= min(finish.begins, d.begins) for o in bored):
                        yield f"{d.name} is not bored before {finish.name}"


RULES: tuple[Rule, ...] = (
    bare_while_finished,
    off_before_bare,
    cured,
    clean_air,
    back_before_strings,
    bored_before_finish,
)


def breaches(done: list[Done]) -> list[str]:
    return [told for rule in RULES for told in rule(done)]


@cache
def offered(name: str) -> tuple[str, ...]:
    able = {v.upgrade.id for v in job(name).verdicts if v.outcome != "does-not-fit"}
    return tuple(
        sorted(o for o in job(name).problem.options if any(o == a or o.startswith(f"{a}-") for a in able))
    )


def drawn_set(chance: random.Random, name: str, finish: str) -> list[str]:
    """One kind of finish and a handful of other work, as far as they go together."""
    chosen = [finish] if finish else []
    rest = list(offered(name))
    chance.shuffle(rest)
    for one in rest[:40]:
        if len(chosen) < 9 and one not in chosen and not clashes(job(name).problem, [*chosen, one]):
            chosen.append(one)
    return chosen


def planned(folder: Path, sets: Mapping[str, list[str]], pace: str, jobs: Path = EXAMPLES) -> Plan:
    text = f'[batch]\nid = "finish"\nstart = 2026-10-05\npace = "{pace}"\n'
    for name, chosen in sets.items():
        upgrades = str(chosen).replace("'", '"')
        text += f'[[job]]\nid = "{name}"\nfile = "{jobs}/{name}.toml"\nupgrades = {upgrades}\n'
    (folder / "finish.toml").write_text(text)
    made = plan_batch(
        study_batch(shop(), load_batch(folder / "finish.toml", shop())),
        "cost,cash",
        search=Search(engine="rule", tries=4),
    )
    assert isinstance(made, Plan)
    return made


def drawn_week(seed: int) -> dict[str, list[str]]:
    """One or two instruments, the first with a finish that suits it."""
    chance = random.Random(seed)
    while True:
        one, finish = chance.choice(JOBS), chance.choices(FINISHES, (4, 2, 1, 1))[0]
        if finish in offered(one) and not clashes(job(one).problem, [finish]):
            break
    others = [name for name in JOBS if name != one and name != "resale-flip"]
    sets = {one: drawn_set(chance, one, finish)}
    if chance.random() < 0.6:
        other = chance.choice(others)
        sets[other] = drawn_set(chance, other, "")
    return sets


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_a_body_is_bare_while_it_is_finished_and_the_air_is_clean(tmp_path: Path, seed: int) -> None:
    done = done_in(planned(tmp_path, drawn_week(seed), "usual"))
    assert any(d.task in WORK_ON_FINISH for d in done)
    assert any(d.where in BACK_ON_BODY for d in done) or not any(d.task == "prep-body-wood" for d in done)
    assert breaches(done) == []


@pytest.mark.slow
@pytest.mark.parametrize("cut", ["belly-cut", "forearm-cut"])
def test_a_cut_into_the_body_is_finished_before_anything_is_on_it(tmp_path: Path, cut: str) -> None:
    for name in ("tight-commission", "school-guitar"):
        text = (EXAMPLES / f"{name}.toml").read_text()
        flat = text.replace("[instrument]\n", "[instrument]\ncontour = false\n")
        assert flat != text
        (tmp_path / f"{name}.toml").write_text(flat)
    others = ["firm-strap-buttons-economy", "new-jack-economy", "shield-foil", "reseat-neck", "satin-neck"]
    sets = {
        "tight-commission": [cut, *others],
        "school-guitar": ["nut-from-blank-bone", "level-crown-polish"],
    }
    done = done_in(planned(tmp_path, sets, "usual", tmp_path))
    assert {"contour-body", "spray-coat", "level-buff-finish", "fit-jack", "shape-nut"} <= {
        d.task for d in done
    }
    assert breaches(done) == []


@pytest.mark.slow
@pytest.mark.parametrize("finish", ["refinish-spray", "polish-body"])
@pytest.mark.parametrize("bridge", ["two-post-tremolo-standard", "hardtail-bridge-standard"])
def test_seats_are_bored_before_the_finish_and_what_is_pressed_in_comes_after(
    tmp_path: Path, finish: str, bridge: str
) -> None:
    done = done_in(planned(tmp_path, {"tight-commission": [finish, bridge]}, "usual"))
    assert {d.task for d in done} & set(PRESSED_IN) or bridge != "two-post-tremolo-standard"
    assert breaches(done) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 160))
def test_many_weeks_with_a_finish(tmp_path: Path, seed: int) -> None:
    assert breaches(done_in(planned(tmp_path, drawn_week(seed), "usual"))) == []


def test_what_makes_dust_is_known_by_its_hazard() -> None:
    assert [task for task in MAKES_DUST if not DUST & set(tasks()[task]["hazards"].split())] == []
    rows = {name for name, hazard in shop().hazards.items() if hazard.dusty}
    assert rows == DUST


def test_each_rule_finds_its_own_breach() -> None:
    def at(task: str, begins: int, where: str = "") -> Done:
        return Done(f"a:{task}", "a", task, where, begins, begins + 10)

    wrong: dict[Rule, list[Done]] = {
        bare_while_finished: [at("fit-jack", 0), at("level-buff-finish", 10)],
        off_before_bare: [at("strip-finish", 0), at("remove-neck", 10)],
        cured: [at("oil-coat", 0, "body"), at("fit-jack", 2000)],
        clean_air: [at("spray-coat", 0, "body"), at("shape-nut", 60)],
        bored_before_finish: [at("prep-body-wood", 0), at("fit-string-ferrules", 60)],
        back_before_strings: [at("strip-hardware", 0, "bridge-back"), at("strip-hardware", 20)],
    }
    assert {rule for rule, done in wrong.items() if list(rule(done))} == set(RULES)
    assert list(off_before_bare([at("prep-body-wood", 0), at("plug-small-hole", 10)]))
    assert list(back_before_strings([at("string-up", 0), at("strip-hardware", 20, "tuners-back")]))
    assert list(bare_while_finished([at("strip-hardware", 0, "bridge-back"), at("level-buff-finish", 10)]))
    assert list(bare_while_finished([at("fit-tuner", 0), at("oil-coat", 10, "neck")]))
    assert not breaches([at("spray-coat", 0, "body"), at("shape-nut", 100), at("fit-jack", 110)])
