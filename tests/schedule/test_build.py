"""Work lines as operations: order through absent tasks, waits, what may go on meanwhile, parts on their way."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.model import ShopHours
from estimator.model.planning import Person, closure
from estimator.schedule.build import PlannedJob, left_together, operations_of
from estimator.schedule.records import DUSTY, WET, Link, Operation, Search
from estimator.schedule.resources import calendar_of, change_overs_of, resources_of, waits_of
from estimator.schedule.serial_sgs import minutes_after
from tests.plan.bench import job, shop
from tests.schedule.plain_work import schedule

ME = (Person("me", 4),)


def operations(name: str, upgrades: list[str], pace: str = "usual", **more: object) -> dict[str, Operation]:
    study = job(name)
    planned = PlannedJob("j", study.costing, study.costing.estimate(upgrades), {}, **more)  # type: ignore[arg-type]
    return {o.id.removeprefix("j:"): o for o in operations_of(planned, ME, pace)[0]}


def test_order_reaches_through_tasks_that_are_not_on_the_job() -> None:
    order = [("a", "b"), ("b", "c"), ("c", "d"), ("a", "x")]
    assert set(closure(order, {"a", "c", "d"})) == {("a", "c"), ("c", "d")}


def test_nothing_follows_through_a_direct_row() -> None:
    order = [("plug", "sand"), ("sand", "buff"), ("buff", "fit"), ("plug", "fill")]
    direct = {("plug", "sand"), ("buff", "fit")}
    assert set(closure(order, {"plug", "sand", "fit"}, direct)) == {("plug", "sand")}
    assert set(closure(order, {"plug", "buff", "fit"}, direct)) == {("buff", "fit")}
    assert set(closure(order, {"sand", "fit", "fill"}, direct)) == set()


def test_the_minutes_of_the_operations_are_those_of_the_estimate() -> None:
    study = job("tight-commission")
    chosen = ["set-up", "shield-paint"]
    planned = sum(o.minutes + o.setup for o in operations("tight-commission", chosen).values())
    desk = sum(
        li.minutes + li.setup + li.rework + li.allowance
        for li in study.costing.estimate(chosen).lines
        if shop().tasks[li.task].group == "desk"
    )
    expected = (study.costing.estimate(chosen).totals.expected - desk) / 100
    # every set-up is rounded by itself, the runs together
    assert planned == pytest.approx(expected, abs=0.5 * len(operations("tight-commission", chosen)))


@pytest.mark.parametrize(
    ("pace", "between", "night", "buff"),
    [("fast", 45, 720, 20160), ("usual", 90, 900, 30240), ("safe", 180, 1440, 50400)],
)
def test_coats_wait_for_each_other_and_for_a_night_after_every_third(
    pace: str, between: int, night: int, buff: int
) -> None:
    found = operations("tight-commission", ["refinish-spray"], pace)
    lags = {o.id: o.after[-1].lag for o in found.values() if "spray-coat#" in o.id}
    for number in range(2, 16):
        lag = lags[f"j:spray-coat#{number:02d}@body"]
        assert lag == (night if (number - 1) % 3 == 0 else between), number
    assert ("j:spray-coat#15@body", buff) in [(li.before, li.lag) for li in found["level-buff-finish"].after]


def test_posts_carry_strings_only_after_a_day() -> None:
    upgrades = [
        v.upgrade.id for v in job("tight-commission").verdicts if v.upgrade.id.startswith("two-post-tremolo")
    ]
    found = operations("tight-commission", upgrades[:1])
    assert ("j:fit-two-post-bushings", 1440) in [(li.before, li.lag) for li in found["string-up"].after]
    assert found["fit-two-post-bushings"].needs[0] == ("drill-press", 1)


def test_meanwhile_classes() -> None:
    spray = operations("tight-commission", ["refinish-spray"])
    coat, filler, buff = spray["spray-coat#01@body"], spray["prep-body-wood"], spray["level-buff-finish"]
    # M3: no dust beside the wet coat; the coat keeps its place on the hanger and its body
    assert (coat.meanwhile, coat.air, buff.air) == ("M3", WET, DUSTY)
    assert {("spray-area", 1), ("j body", 1)} <= set(coat.holds)
    # M1: that part rests, others may be worked on
    assert filler.meanwhile == "M1"
    assert filler.holds == (("j body", 1),)
    # M2: only the spot rests, the part may be worked on
    plug = operations("school-guitar", ["firm-strap-buttons-economy"])["plug-small-hole"]
    assert (plug.meanwhile, plug.holds) == ("M2", ())
    assert ("j body", 1) in plug.needs
    # M4: strung at pitch the whole instrument rests; nobody touches its neck meanwhile
    strung = operations("short-scale-bass", ["level-crown-polish"])["string-up"]
    assert (strung.meanwhile, strung.cure) == ("M4", 30)
    assert {("j neck", 1), ("j body", 1), ("j wiring", 1)} <= set(strung.holds)


def test_no_dust_is_raised_on_one_instrument_while_another_dries() -> None:
    spray = operations("tight-commission", ["refinish-spray"])
    other = job("short-scale-bass")
    planned = PlannedJob("bass", other.costing, other.costing.estimate(["oil-finish"]), {})
    sanding, parts = operations_of(planned, ME)
    everything = [*spray.values(), *sanding]
    there = {
        **resources_of(shop(), ME),
        **parts,
        **{f"j {p}": 1 for p in ("neck", "body", "wiring", "hardware")},
    }
    calendar = calendar_of(shop(), date(2026, 9, 7))
    found = schedule(everything, there, calendar, Search(objectives=("makespan",), engine="rule", tries=5))
    known = {o.id: o for o in everything}
    wet = [b for b in found.assignments if known[b.operation].air == WET]
    dusty = [b for b in found.assignments if known[b.operation].air == DUSTY]
    assert len(wet) == 15
    assert len(dusty) >= 4
    assert not [(a, b) for a in wet for b in dusty if b.start < a.free and b.end > a.start]


def test_set_ups_are_saved_and_change_overs_paid() -> None:
    # from memory: 5 minutes between kinds of work, 12 from dirty work to finish or soldering
    changes = change_overs_of(shop())
    assert changes.minutes("strip", "bench") == 5
    assert changes.minutes("metal", "solder") == 12
    assert changes.minutes("dusty", "finish") == 12
    assert changes.minutes("strip", "solder") == 5
    assert changes.minutes("solder", "solder") == 0
    one = operations("school-guitar", ["set-up"])["string-up"]
    from estimator.schedule.records import SchedulingProblem

    work = SchedulingProblem((one,), {}, (), changes)
    task = shop().tasks["string-up"]
    assert one.setup == round(task.setup_min)
    assert minutes_after(work, one, one) == one.minutes + one.again
    level = operations("short-scale-bass", ["level-crown-polish"])["level-frets"]
    assert (level.setup, level.again) == (8, 3)  # 8 minutes, 0.4 of them again: 3.2


def test_what_is_put_back_is_work_of_its_own_after_the_finish_and_takes_no_more_time() -> None:
    found = operations("tight-commission", ["refinish-spray"])
    back = {name for name in found if name.endswith(("-back", "@reassembly"))}
    assert back == {
        "strip-hardware@bridge-back",
        "strip-hardware@tuners-back",
        "strip-hardware@small-parts-back",
        "strip-electronics@reassembly",
    }
    for name in back:
        assert {f"j:{name.partition('@')[0]}", "j:level-buff-finish"} <= {
            link.before for link in found[name].after
        }
        assert f"j:{name}" in {link.before for link in found["string-up"].after}
        assert found[name].setup == 0
    assert "j:strip-hardware" in {link.before for link in found["strip-finish"].after}
    study = job("tight-commission")
    lines = [
        line for line in study.costing.estimate(["refinish-spray"]).lines if line.task == "strip-hardware"
    ]
    planned = [o.minutes for name, o in found.items() if name.startswith("strip-hardware")]
    assert abs(sum(planned) - sum(line.minutes + line.rework + line.allowance for line in lines) / 100) < 1
    assert {line.place for line in lines} == {"", "bridge-back", "tuners-back", "small-parts-back"}


def test_seats_for_bushings_are_bored_before_a_finish_and_only_then_apart() -> None:
    whole = operations("tight-commission", ["two-post-tremolo-standard"])
    found = operations("tight-commission", ["two-post-tremolo-standard", "refinish-spray"])
    name, rest = "fit-two-post-bushings@bore-for-bushings", "fit-two-post-bushings"
    assert name not in whole
    bore, press = found[name], found[rest]
    assert (bore.cure, press.cure) == (0, whole[rest].cure)
    assert (bore.setup, press.setup) == (whole[rest].setup, 0)
    assert abs(bore.minutes + press.minutes - whole[rest].minutes) <= 1
    share = shop().planning.bored[rest].share
    assert abs(bore.minutes - float(share) * (bore.minutes + press.minutes)) <= 1
    assert f"j:{name}" in {link.before for link in found["prep-body-wood"].after}
    waits = {link.before: link.lag for link in bore.after}
    assert waits["j:plug-hole"] == {link.before: link.lag for link in whole[rest].after}["j:plug-hole"]
    assert {f"j:{name}", "j:level-buff-finish"} <= {link.before for link in press.after}


def test_parts_on_their_way_hold_up_their_work_only() -> None:
    study = job("school-guitar")
    planned = PlannedJob(
        "j",
        study.costing,
        study.costing.estimate(["new-jack-economy", "set-up"]),
        {"new-jack-economy": 5000},
    )
    found = {o.id: o for o in operations_of(planned, ME)[0]}
    assert found["j:fit-jack"].earliest == 5000
    assert found["j:strings-off"].earliest == 0
    assert found["j:set-action"].earliest == 0


def test_an_instrument_stays_strung_till_what_it_needs_unstrung_is_there() -> None:
    """Saddles are fitted while the strings are off, a jack is not; under a finish that cures for days they may come."""
    study = job("school-guitar")

    def made_of(upgrades: list[str]) -> list[Operation]:
        known = sorted(verdict.upgrade.id for verdict in study.verdicts)
        names = [next(one for one in known if one.startswith(name)) for name in upgrades]
        arrives = {name: 5000 for name in names if not name.startswith(("set-up", "refinish"))}
        made = PlannedJob("j", study.costing, study.costing.estimate(names), arrives)
        return operations_of(made, ME)[0]

    def begin(upgrades: list[str]) -> dict[str, int]:
        return {o.id.partition(":")[2]: o.earliest for o in made_of(upgrades)}

    saddles = begin(["new-saddles", "set-up"])
    assert saddles["swap-saddles"] == saddles["strings-off"] == 5000
    assert begin(["new-jack", "set-up"])["strings-off"] == 0
    pots = begin(["new-pots"])
    assert pots["slacken-strings"] == pots["strip-electronics"] == pots["fit-pot"] == 5000
    late = [replace(o, earliest=700 * (o.id == "j:string-up")) for o in made_of(["set-up"])]
    strings = {o.id: o.earliest for o in left_together(late, shop())}
    assert strings["j:strings-off"] == strings["j:string-up"] == 700
    takers = [  # what comes off goes to another instrument, which waits for more
        Operation("k:fit-jack", "k", 10, (Link("j:strings-off"),), earliest=900),
        Operation("k:string-up", "k", 10, (Link("k:fit-jack"),), meanwhile="M4"),
    ]
    held = {o.id: o.earliest for o in left_together([*late, *takers], shop())}
    assert held == strings | {"k:fit-jack": 900, "k:string-up": 0}
    finish = begin(["refinish-spray", "new-saddles"])
    assert finish["swap-saddles"] == 5000
    assert finish["strings-off"] == 0


def test_work_above_the_skill_of_a_helper_is_not_given_to_the_helper() -> None:
    study = job("short-scale-bass")
    planned = PlannedJob("j", study.costing, study.costing.estimate(["level-crown-polish"]), {})
    hands = (Person("me", 4), Person("helper", 2))
    found = {o.id: o for o in operations_of(planned, hands)[0]}
    assert found["j:level-frets"].one_of == ("me",)
    assert found["j:strings-off"].one_of == ("me", "helper")
    alone = operations_of(planned, (Person("helper", 1),))[0]
    assert {o.one_of for o in alone} == {("helper",)}  # nobody better is there


def test_every_upgrade_of_a_job_can_be_scheduled_alone() -> None:
    study = job("tight-commission")
    calendar = calendar_of(shop(), date(2026, 9, 7))
    seen = 0
    for verdict in study.verdicts[::5]:
        planned = PlannedJob("j", study.costing, study.costing.estimate([verdict.upgrade.id]), {})
        mine, parts = operations_of(planned, ME)
        found = schedule(
            mine, {**resources_of(shop(), ME), **parts}, calendar, search=Search(engine="rule", tries=0)
        )
        assert len(found.assignments) == len(mine)
        seen += len(mine)
    assert seen > 250


def test_the_waits_of_every_pace_are_known_and_grow() -> None:
    fast, usual, safe = (waits_of(shop(), pace) for pace in ("fast", "usual", "safe"))
    assert fast.keys() == usual.keys() == safe.keys()
    for pair, rows in usual.items():
        for quick, normal, sure in zip(fast[pair], rows, safe[pair], strict=True):
            assert quick[1] <= normal[1] <= sure[1]
    assert usual["repair-crack", "string-up"] == [(1, 2880)]


def test_hours_that_cannot_be_are_refused_in_words() -> None:
    bad = replace(
        shop(),
        planning=replace(
            shop().planning, hours=(ShopHours("monday", "9am", "12:00"), ShopHours("friday", "15:00", "9:00"))
        ),
    )
    with pytest.raises(InputError) as caught:
        calendar_of(bad, date(2026, 9, 7))
    told = " ".join(map(str, caught.value.issues))
    assert "not a time of day" in told
    assert "closes before it opens" in told


def test_a_bridge_is_laid_out_before_the_neck_comes_off_unless_the_finish_is_stripped() -> None:
    def before(upgrades: list[str], name: str) -> set[str]:
        return {
            link.before.removeprefix("j:") for link in operations("tight-commission", upgrades)[name].after
        }

    plain, stripped = (
        ["hardtail-bridge-standard", "level-crown-polish", *m] for m in ([], ["refinish-spray"])
    )
    assert "layout-bridge" in before(plain, "remove-neck")
    assert "layout-bridge" not in before(stripped, "remove-neck")
    assert "strip-finish" in before(stripped, "layout-bridge")
