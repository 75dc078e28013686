"""Donor triage: ten checks, a case for each outcome (limits and amounts: memory)."""

from __future__ import annotations

import itertools
import json
import random
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.cli.main import run
from estimator.fit.triage import QUESTIONS, Triage, mends_that_fit, triage
from estimator.input.job.load import job_from
from estimator.model import Reading
from estimator.report.text.triage import triage_of
from estimator.tables.faults import _at_fault, faults_of, mended_alike
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop
from tests.fit.cases import Value, plain

D = Decimal
GOOD: dict[str, Value] = {
    "twist": 0,
    "relief": 0.25,
    "rod_ok": "works",
    "fret_h": 1.1,
    "fret_wear": 0.03,
    "fret_uneven": 0.05,
    "crack_at": "none",
    "tier": "B",
    "saddle_down": 2,
    "saddle_up": 3,
    "tuner_play": 10,
    "pu_neck": "single",
    "pu_middle": "none",
    "pu_bridge": "single",
    "dc_ohm_neck": 6,
    "dc_ohm_bridge": 6,
    "strap_hole_ok": True,
    "smell_mould": False,
    "papers": True,
}


def looked(
    change: dict[str, Value] | None = None, assumed: tuple[str, ...] = (), resale: str = "200", **seen: bool
) -> Triage:
    readings = {n: Reading(plain(v), n in assumed) for n, v in (GOOD | (change or {})).items()}
    answers = {name.replace("_", "-"): answer for name, answer in seen.items()}
    return triage(readings, resale=D(resale), pay_per_hour=D(40), neck_price=D(180), seen=answers)


def test_a_good_one_is_fine_on_all_ten() -> None:
    found = looked()
    assert [check.number for check in found.checks] == list(range(1, 11))
    assert {check.outcome for check in found.checks} == {"fine"}
    assert (found.outcome, found.low, found.high) == ("fine", 0, 0)


@pytest.mark.parametrize(
    ("number", "change", "seen", "outcome", "low", "high"),
    [
        (1, {"twist": 0.5}, {}, "fine", 0, 0),
        (1, {"twist": 0.6}, {}, "walk-away", 0, 0),
        (1, {"twist": -0.6}, {}, "walk-away", 0, 0),
        (1, {"relief": 0.7}, {}, "lower", 20, 40),
        (2, {"rod_ok": "dead", "relief": 0.5}, {}, "walk-away", 0, 0),
        (2, {"relief": 0.5}, {"rod_spins": True}, "walk-away", 0, 0),
        (2, {"rod_ok": "dead", "relief": 0.4}, {}, "lower", 180, 180),
        (3, {"fret_h": 0.75, "fret_wear": 0.06}, {}, "walk-away", 0, 0),
        (3, {"fret_h": 0.8, "fret_wear": 0.09}, {}, "lower", 260, 260),
        (3, {"fret_wear": 0.06}, {}, "lower", 108, 108),
        (3, {"fret_uneven": 0.09}, {}, "lower", 108, 108),
        (4, {"crack_at": "peghead"}, {}, "walk-away", 0, 0),
        (4, {"crack_at": "peghead", "tier": "C"}, {}, "lower", 60, 150),
        (4, {"crack_at": "pocket"}, {}, "lower", 60, 150),
        (5, {}, {"posts_pulling": True}, "walk-away", 0, 0),
        (5, {"saddle_down": 0.4}, {}, "lower", 15, 15),
        (6, {}, {"tuners_bad": True}, "lower", 30, 60),
        (6, {"tuner_play": 46}, {}, "lower", 30, 60),
        (7, {"dc_ohm_bridge": 0}, {}, "lower", 25, 50),
        (7, {"dc_ohm_bridge": 0, "dc_ohm_neck": 0.4}, {}, "lower", 50, 100),
        (8, {}, {"bridge_tearing": True}, "walk-away", 0, 0),
        (8, {"strap_hole_ok": False}, {}, "lower", 10, 30),
        (8, {}, {"screws_loose": True}, "lower", 10, 30),
        (9, {"smell_mould": True}, {}, "lower", 10, 30),
        (9, {"smell_mould": True}, {"smell_strong": True}, "walk-away", 0, 0),
        (10, {"papers": False}, {}, "walk-away", 0, 0),
        (10, {}, {"no_name": True}, "walk-away", 0, 0),
    ],
)
def test_each_check(
    number: int, change: dict[str, Value], seen: dict[str, bool], outcome: str, low: int, high: int
) -> None:
    """Hours at 40 an hour: level 2.7 h = 108, refret 6.5 h = 260; smell 5 to 15 % of 200."""
    found = looked(change, **seen)
    check = found.checks[number - 1]
    assert (check.outcome, check.low, check.high) == (outcome, low, high)
    assert found.outcome == outcome


def test_worn_frets_on_a_dear_instrument_are_a_refret_not_a_reason_to_walk() -> None:
    assert looked({"fret_h": 0.75, "fret_wear": 0.06}, resale="250").checks[2].outcome == "lower"


def test_the_sum_adds_both_ends() -> None:
    found = looked({"relief": 0.7, "dc_ohm_bridge": 0, "strap_hole_ok": False})
    assert (found.low, found.high) == (55, 120)


@pytest.mark.parametrize(
    ("number", "assumed"),
    [
        (1, "twist"),
        (2, "rod_ok"),
        (3, "fret_h"),
        (4, "crack_at"),
        (5, "saddle_up"),
        (6, "tuner_play"),
        (7, "dc_ohm_neck"),
        (8, "strap_hole_ok"),
        (9, "smell_mould"),
        (10, "papers"),
    ],
)
def test_what_nobody_looked_at_is_never_fine(number: int, assumed: str) -> None:
    found = looked(assumed=(assumed,))
    assert found.checks[number - 1].outcome == "not-checked"
    assert found.outcome == "not-checked"


@pytest.mark.parametrize(
    ("number", "change", "known", "resale"),
    [
        (1, {"twist": 0.7}, ("twist",), "200"),
        (1, {"twist": -0.7}, ("twist", "relief"), "900"),
        (2, {"rod_ok": "dead", "relief": 0.5}, ("rod_ok", "relief"), "900"),
        (3, {"fret_h": 0.6}, ("fret_h",), "200"),
        (3, {"fret_h": 0.75, "fret_wear": 0.1}, ("fret_h", "fret_wear"), "200"),
        (10, {"papers": False}, ("papers",), "200"),
    ],
)
def test_what_ends_it_is_told_whatever_else_nobody_looked_at(
    number: int, change: dict[str, Value], known: tuple[str, ...], resale: str
) -> None:
    found = looked(change, tuple(name for name in GOOD if name not in known), resale)
    assert found.checks[number - 1].outcome == "walk-away"
    assert found.outcome == "walk-away"


def seen_by_the_shop(joint: str, kind: str, **readings: Value) -> Triage:
    lines = "\n".join(f"{name} = {json.dumps(value)}" for name, value in readings.items())
    text = f'[job]\nid = "j"\nkind = "resale"\n[instrument]\nkind = "{kind}"\njoint = "{joint}"\n{lines}\n'
    return triage_of(the_shop(), job_from(parse_toml(text.encode(), "j.toml"), the_shop()), {})


BOWED: tuple[dict[str, Value], ...] = ({"rod_ok": "none", "relief": 0.8}, {"rod_ok": "none", "relief": -0.2})


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
@pytest.mark.parametrize("joint", ["bolt", "set", "through"])
def test_no_other_neck_is_named_where_none_can_be_fitted(joint: str, kind: str) -> None:
    """A bow that only another neck cures ends an instrument whose neck does not come off."""
    for readings in ({"twist": 0.7}, *BOWED):
        found = seen_by_the_shop(joint, kind, **readings)
        fitted = joint == "bolt" and "twist" not in readings
        assert found.outcome == ("lower" if fitted else "walk-away"), readings
        assert fitted or "another neck" not in found.checks[0].sentence
    # a good neck of the same make is none of these
    assert seen_by_the_shop(joint, kind, twist=0.1, rod_ok="works", relief=0.2).outcome == "not-checked"


NECKS: tuple[tuple[str, dict[str, Value], str], ...] = (
    ("guitar-solid", {}, "neck-economy"),
    ("guitar-solid", {"string_n": 7}, "neck-seven-economy"),
    ("guitar-solid", {"scale": 628}, "neck-short-economy"),
    ("guitar-solid", {"string_n": 12}, "neck-twelve-economy"),
    ("bass-solid", {}, "neck-bass-four-economy"),
    ("bass-semi", {"string_n": 4, "scale": 762}, "neck-bass-short-economy"),
    ("bass-solid", {"string_n": 5}, "neck-bass-five-economy"),
    ("bass-solid", {"string_n": 6}, "neck-bass-six-economy"),
    # none of this scale, or of so many strings, can be had
    ("bass-solid", {"scale": 813}, ""),
    ("bass-solid", {"string_n": 7}, ""),
    ("guitar-solid", {"string_n": 8}, ""),
    ("guitar-solid", {"string_n": 7, "scale": 686}, ""),
)


@pytest.mark.parametrize(("kind", "readings", "part"), NECKS)
def test_another_neck_is_priced_by_kind_and_count(kind: str, readings: dict[str, Value], part: str) -> None:
    for bowed in BOWED:
        found = seen_by_the_shop("bolt", kind, **readings, **bowed)
        if part:
            price = the_shop().parts[part].price
            assert (found.outcome, found.low, found.high) == ("lower", price, price)
            assert [mend.id for mend in found.checks[0].mends] == ["neck"]
        else:
            assert found.outcome == "walk-away"
    dead = seen_by_the_shop("bolt", kind, **readings, rod_ok="dead", relief=0.3)
    assert [mend.id for mend in dead.checks[1].mends] == ["neck" if part else "freed-rod"]
    assert dead.checks[1].high == (the_shop().parts[part].price if part else 90)


def test_every_neck_goes_on_an_instrument_of_its_kind_and_count_and_on_no_other() -> None:
    """Each row of the parts table against an instrument that has its strings and scale, or one of them not."""
    shop = the_shop()
    necks = [part for part in shop.parts.values() if part.part_class == "p-neck"]
    kinds = {(p.dims["for_bass"], p.dims["string_n"], p.dims["scale"]) for p in necks}
    assert len(kinds) >= 6
    for bass, strings, scale in kinds:
        family = "bass-solid" if bass == "yes" else "guitar-solid"
        text = f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "{family}"\njoint = "bolt"\n'
        text += f"string_n = {strings}\nscale = {scale}\n"
        job = job_from(parse_toml(text.encode(), "j.toml"), shop)
        fitting = {one.part.id for one in mends_that_fit(shop, job) if one.part is not None}
        assert fitting == {
            p.id
            for p in necks
            if (p.dims["for_bass"], p.dims["string_n"], p.dims["scale"]) == (bass, strings, scale)
        }


def test_nothing_known_is_ten_open_checks() -> None:
    found = triage({}, resale=D(200), pay_per_hour=D(40), neck_price=D(180))
    assert [check.outcome for check in found.checks] == ["not-checked"] * 10


def test_every_question_is_used() -> None:
    for name in QUESTIONS:
        key = name.replace("-", "_")
        change: dict[str, Value] = {"relief": 0.5} if name == "rod-spins" else {}
        assert looked(change, **{key: True}).outcome in ("walk-away", "lower"), name


WORN: dict[str, Value] = {"fret_h": 0.8, "fret_wear": 0.09}
DEAD_ROD: dict[str, Value] = {"rod_ok": "dead", "relief": 0.3}
CRACK: dict[str, Value] = {"crack_at": "peghead", "tier": "C"}
BOLT: dict[str, Value] = {"joint": "bolt"}
SILENT: dict[str, Value] = {"dc_ohm_neck": 0, "dc_ohm_bridge": 0}


@pytest.mark.parametrize(
    ("change", "low", "high", "mends"),
    [
        # one neck mends rod, frets and peghead crack: 180 once, not 180 + 260 + 60 to 150
        (WORN | DEAD_ROD | CRACK | BOLT, 180, 180, {2: "neck", 3: "", 4: ""}),
        # a glued neck is not changed: its rod is freed, 45 to 90, beside 260 and 60 to 150
        (WORN | DEAD_ROD | CRACK | {"joint": "set"}, 365, 500, {2: "freed-rod", 3: "refret", 4: "crack"}),
        (
            WORN | DEAD_ROD | CRACK,
            500,
            590,
            {2: "neck", 3: "refret", 4: "crack"},
        ),  # nobody looked at the joint
        # worn frets alone: another neck at 180 is less than a refret at 260
        (WORN | BOLT, 180, 180, {3: "neck"}),
        # a level at 108 is less than the neck, but falls away where the neck is needed anyway
        ({"fret_wear": 0.06} | BOLT, 108, 108, {3: "level"}),
        ({"fret_wear": 0.06} | DEAD_ROD | BOLT, 180, 180, {2: "neck", 3: ""}),
        # three grooved frets: level 2.7 h and 3 x 0.25 h = 3.45 h at 40 = 138; twelve: a refret
        (WORN | {"grooved_n": 3}, 138, 138, {3: "pieces level"}),
        (WORN | {"grooved_n": 12}, 260, 260, {3: "refret"}),
        # so uneven that the others would be levelled away too
        (WORN | {"grooved_n": 3, "fret_uneven": 0.09}, 260, 260, {3: "refret"}),
        # two high places: 4 + 2 x 7 = 18 min at 40 = 12; six, or worn frets: a level
        ({"fret_uneven": 0.09, "high_fret_n": 2}, 12, 12, {3: "spot"}),
        ({"fret_uneven": 0.09, "high_fret_n": 6}, 108, 108, {3: "level"}),
        ({"fret_uneven": 0.09, "fret_wear": 0.06, "high_fret_n": 2}, 108, 108, {3: "level"}),
        # the rod straightens the neck and gives the saddles their room: 20 to 40, no shim
        ({"relief": 0.7, "saddle_down": 0.3}, 20, 40, {1: "rod", 5: ""}),
        ({"relief": 0.7, "saddle_up": 0.3}, 35, 55, {1: "rod", 5: "shim"}),  # too low already: no help
        ({"relief": 0.3, "saddle_down": 0.3}, 15, 15, {5: "shim"}),
        # no shim goes under a neck that does not come off
        ({"relief": 0.3, "saddle_down": 0.3, "joint": "set"}, 40, 90, {5: "bridge"}),
        # nothing is heard through a dead jack: one fault, not three
        (SILENT | {"jack_state": "dead"}, 10, 20, {7: "jack"}),
        (SILENT | {"jack_state": "loose"}, 60, 120, {7: "pickup-neck pickup-bridge jack"}),
        (SILENT | {"jack_state": "good"}, 50, 100, {7: "pickup-neck pickup-bridge"}),
        ({"dc_ohm_neck": 0, "jack_state": "dead"}, 35, 70, {7: "pickup-neck jack"}),
        ({"jack_state": "dead"}, 10, 20, {7: "jack"}),
    ],
)
def test_the_least_work_and_nothing_twice(
    change: dict[str, Value], low: int, high: int, mends: dict[int, str]
) -> None:
    found = looked(change)
    assert (found.low, found.high) == (low, high)
    lowered = {c.number: " ".join(m.id for m in c.mends) for c in found.checks if c.outcome == "lower"}
    assert lowered == mends
    for check in found.checks:
        if check.outcome == "lower" and not check.mends:
            assert check.mended_with
            assert f"(mended with check {check.mended_with[0]})" in check.sentence


def test_drawn_faults_are_mended_for_the_least() -> None:
    """The sum is that of a plain search over all ways; never more than one by one, never less than the dearest."""
    draw = random.Random(11)
    choices: dict[str, list[Value]] = {
        "relief": [0.25, 0.7],
        "rod_ok": ["works", "dead"],
        "fret_h": [0.8, 1.1],
        "fret_wear": [0.03, 0.09],
        "fret_uneven": [0.05, 0.09],
        "crack_at": ["none", "pocket", "peghead"],
        "tier": ["C"],
        "saddle_down": [2, 0.3],
        "saddle_up": [3, 0.3],
        "tuner_play": [10, 50],
        "dc_ohm_neck": [6, 0],
        "dc_ohm_bridge": [6, 0],
        "strap_hole_ok": [True, False],
        "joint": ["bolt", "set"],
        "jack_state": ["good", "loose", "dead"],
        "high_fret_n": [0, 2, 9],
        "grooved_n": [0, 4, 15],
    }
    shared = 0
    for _ in range(400):
        found = looked({name: draw.choice(values) for name, values in choices.items()})
        faults = [ways for check in found.checks for ways in check.faults]
        sums, alone = [], []
        for ways in itertools.product(*faults):
            work = {mend.id: mend.low + mend.high for way in ways for mend in way}
            sums.append(sum(work.values()))
        for ways in faults:
            alone.append(min(sum(mend.low + mend.high for mend in way) for way in ways))
        flat = sum(check.low + check.high for check in found.checks if not check.faults)
        total = found.low + found.high - flat
        assert total == min(sums)
        assert max(alone, default=0) <= total <= sum(alone)
        counted = [mend.id for check in found.checks for mend in check.mends]
        assert len(counted) == len(set(counted))
        shared += total < sum(alone)
    assert shared > 40


def test_work_that_several_checks_need_is_told_once(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "donor.toml"
    lines = [f"{name} = {json.dumps(value)}" for name, value in (GOOD | WORN | DEAD_ROD | BOLT).items()]
    path.write_text(
        "\n".join(["[job]", 'id = "donor"', 'kind = "resale"', "[instrument]", *lines, "base_clean = 400"])
    )
    assert run(["triage", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    rod, frets = told["checks"][1], told["checks"][2]
    assert (rod["mends"], frets["mends"], frets["mended_with"]) == (["neck"], [], [2])
    assert frets["high"] == "0.00"
    assert told["lower_by"] == [rod["low"], rod["high"]]
    assert run(["triage", str(path), "--full"]) == 0
    assert "(mended with" in " ".join(capsys.readouterr().out.split())


def test_what_the_same_work_mends_lowers_the_offer_once() -> None:
    """Every two rows of the table that the same work mends, found at once: the offer falls by the dearer one.

    Tuners that slip and have play want one set of tuners, a spent rod in a bowed neck one rod nut.
    """
    shop = the_shop()
    rows = [row for row in shop.faults if row.off_high > 0]
    pairs = 0
    for one, other in itertools.combinations(rows, 2):
        if one.field == other.field or not mended_alike(one, other):
            continue
        kind = "bass-solid" if "bass" in one.when + other.when else "guitar-solid"
        text = f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "{kind}"\n'
        plain_one = job_from(parse_toml(text.encode(), "j.toml"), shop).instrument
        shown = dict(plain_one)
        for row in (one, other):
            shown[row.field] = replace(_at_fault(row, plain_one[row.field]), assumed=False)
        found = {row.fault for row in faults_of(shop.faults, shown)}
        if not {one.fault, other.fault} <= found:
            continue
        faults = [row for row in rows if row.fault in (one.fault, other.fault)]
        # what a check works out by itself from the two counts there, with ways of its own
        if triage(shown, resale=D(400), pay_per_hour=D(40), neck_price=D(0)).outcome in (
            "lower",
            "walk-away",
        ):
            continue
        told = triage(shown, resale=D(400), pay_per_hour=D(40), neck_price=D(0), faults=faults)
        pairs += 1
        assert told.high == max(one.off_high, other.off_high), (one.fault, other.fault)
    assert pairs >= 5


def test_tuners_are_told_by_what_was_found_of_them() -> None:
    slip = looked({}, tuners_bad=True).checks[5].sentence
    play = looked({"tuner_play": 50}).checks[5].sentence
    assert "slip or bind" in slip
    assert "slip" not in play
    assert "wide play" in play
    loose = looked({"strap_hole_ok": False}).checks[7].sentence
    assert "a strap button does not hold" in loose
