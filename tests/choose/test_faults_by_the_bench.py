"""A fault counts as mended only where the set brings work on the very part that is at fault."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from estimator.choose.faults import faults_found, is_limit
from estimator.choose.study import Study, spec_rows, study_job
from estimator.choose.verify.choice import levels_reached
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.rows import Rows
from estimator.cli.main import run
from estimator.fit.candidates import offered
from estimator.fit.judge import judge
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.conditions import BASS_HIGHER, SIDES, level_of_height
from estimator.tables.faults import faults_of
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

D = Decimal


@cache
def the_shop() -> Shop:
    return default_shop()


def job_of(instrument: str, kind: str) -> Job:
    text = f'[job]\nid = "one"\nkind = "commission"\n[instrument]\nkind = "{kind}"\n{instrument}\n'
    return job_from(parse_toml(text.encode(), "one.toml"), the_shop())


@cache
def study(instrument: str, kind: str = "guitar-solid") -> Study:
    return study_job(the_shop(), job_of(instrument, kind))


def level(of: Study, attribute: str, *chosen: str) -> int:
    """The level in tenths, by the record and by the check that reads the tables anew: both agree."""
    reached = levels_reached(of.problem, chosen)[attribute]
    assert (
        Spec(Rows(of.shop, of.job, {v.upgrade.id: v for v in of.verdicts})).levels(chosen)[attribute]
        == reached
    )
    return reached


def mended(of: Study, field: str, *chosen: str) -> bool:
    found = [f for f in faults_found(of, chosen) if f.shown.startswith(field)]
    assert found, f"no fault told of {field}"
    return all(f.mended for f in found)


BOWS = (
    ("rod_ok = 'works'\nrod_turn_left = 1", True, True, True),
    ("rod_ok = 'works'\nrod_turn_left = 0", False, False, True),
    ("rod_ok = 'dead'\nrod_turn_left = 1", False, True, True),
    ("rod_ok = 'dead'\nrod_turn_left = 0", False, False, True),
    ("rod_ok = 'stiff'\nrod_turn_left = 1", False, True, True),
    ("rod_ok = 'works'\nrod_turn_left = 1\nrod_spins = true", False, False, True),
)


@pytest.mark.slow
@pytest.mark.parametrize(("rod", "by_set_up", "by_freeing", "by_nut"), BOWS)
def test_a_bow_is_mended_only_with_a_rod_that_pulls(
    rod: str, by_set_up: bool, by_freeing: bool, by_nut: bool
) -> None:
    bowed = study(f"relief = 0.9\naction_b = 2.4\n{rod}")
    nut = next(v.upgrade.id for v in bowed.verdicts if v.upgrade.row.id == "new-rod-nut")
    for chosen, right in ((("set-up",), by_set_up), (("set-up", "free-truss-rod"), by_freeing)):
        assert mended(bowed, "relief", *chosen) is right
        assert (level(bowed, "action", *chosen) > 10) is right
    assert mended(bowed, "relief", "set-up", nut) is by_nut
    least = next(f for f in faults_found(bowed) if f.shown.startswith("relief")).mends
    assert ("set-up" in least) is by_set_up


def test_no_truss_rod_is_set_that_is_dead_or_spins() -> None:
    for rod in ("rod_ok = 'dead'", "rod_spins = true", "rod_ok = 'none'"):
        assert "adjust-truss-rod" not in {d.task for d in study(rod).verdict("set-up").demands}
    assert "adjust-truss-rod" in {d.task for d in study("rod_ok = 'works'").verdict("set-up").demands}


def test_a_back_bow_is_let_go_by_a_rod_at_its_end() -> None:
    assert mended(study("relief = -0.2\nrod_ok = 'works'\nrod_turn_left = 0"), "relief", "set-up")
    assert not mended(study("relief = -0.2\nrod_ok = 'dead'"), "relief", "set-up")


def test_heights_that_saddles_reach_are_held_against_the_limits_of_the_table() -> None:
    """The conditions of string height know no shop: their bass side is that of ``attributes.csv``, to the figure."""
    action = the_shop().attributes["action"]
    field, limits = SIDES["bass-side"]
    assert (field, tuple(map(D, limits)), BASS_HIGHER) == (
        action.intake_field,
        action.limits,
        action.bass_shift,
    )
    for bass in (False, True):
        for level, limit in enumerate(action.limits, start=1):
            begins = limit + (action.bass_shift if bass else 0)
            assert level_of_height("bass-side", begins, bass) == level
            assert level_of_height("bass-side", begins + D("0.01"), bass) == level - 1


def test_strap_buttons_firm_no_bridge() -> None:
    loose = study("screws_loose = true\nbr_type = 'hardtail'")
    for verdict in loose.verdicts:
        if verdict.upgrade.row.id in ("firm-strap-buttons", "strap-locks"):
            assert level(loose, "bridge-stability", verdict.upgrade.id) == 0
            assert not mended(loose, "screws_loose", verdict.upgrade.id)
    assert level(loose, "bridge-stability", "set-up") > 0
    assert mended(loose, "screws_loose", "set-up")


@pytest.mark.slow
@pytest.mark.parametrize("bridge", ["two-post-trem", "locking-trem", "post-and-tailpiece", "wraparound"])
def test_a_bridge_on_pulled_posts_comes_with_posts_set_anew(bridge: str) -> None:
    pulled = study(f"posts_pulling = true\nbr_type = '{bridge}'")
    mending = [v for v in pulled.verdicts if mended(pulled, "posts_pulling", v.upgrade.id)]
    assert {v.upgrade.slot for v in mending} == {"bridge"}
    for verdict in mending:
        work = {d.task: d for d in verdict.demands}
        assert work["plug-hole"].quantity >= 2, verdict.upgrade.id
        assert "fit-two-post-bushings" in work or verdict.upgrade.row.id == "hardtail-bridge"
        assert level(pulled, "bridge-stability", verdict.upgrade.id) > 0
    assert level(pulled, "bridge-stability", "set-up") == 0
    # sound posts stay where they are
    sound = study(f"posts_pulling = false\nbr_type = '{bridge}'")
    assert (
        any(
            "plug-hole" not in {d.task for d in v.demands}
            for v in sound.verdicts
            if v.upgrade.slot == "bridge"
        )
        or bridge == "wraparound"
    )


LIMITS = {"guitar-solid": ("2.4", "2.0", "1.7", "1.4"), "bass-solid": ("3.1", "2.7", "2.4", "2.1")}


@pytest.mark.slow
@pytest.mark.parametrize("kind", LIMITS)
@pytest.mark.parametrize("travel", ["0.0", "0.5", "0.8", "1.2", "2.0", "4.0"])
@pytest.mark.parametrize("height", ["2.2", "2.6", "3.5", "5.0"])
def test_a_set_up_lowers_the_strings_as_far_as_the_saddles_go(kind: str, travel: str, height: str) -> None:
    """The arithmetic anew: half of the travel arrives at fret 12, 0.625 of it at fret 17 of a bass."""
    share = D("0.5") if kind == "guitar-solid" else D("0.625")
    lowest = D(height) - D(travel) * share
    right = next((n for n, limit in enumerate(LIMITS[kind]) if lowest > D(limit)), 4) * 10
    right = min(right, 20) if D(travel) < D("0.5") else right
    treble = "1.0" if kind == "guitar-solid" else "1.6"
    of = study(
        f"action_b = {height}\naction_t = {treble}\nsaddle_down = {travel}\nrelief = 0.25\nfret_uneven = 0.0",
        kind,
    )
    reached = level(of, "action", "level-crown-polish")
    assert reached <= right
    assert reached >= min(right, 20)
    if right == 0:
        assert not mended(of, "action_b", "level-crown-polish")


def test_a_set_neck_with_the_saddles_down_is_promised_nothing_by_a_set_up() -> None:
    high = study(
        "br_type = 'hardtail'\njoint = 'set'\naction_b = 5.0\naction_t = 4.5\nsaddle_down = 0.5\n"
        "relief = 0.25\nfret_uneven = 0.01"
    )
    assert level(high, "action", "set-up") == 0
    bolted = study("action_b = 3.0\naction_t = 2.6\nsaddle_down = 0\nrelief = 0.25\nfret_uneven = 0.01")
    assert level(bolted, "action", "set-up") == 0
    assert level(bolted, "action", "shim-neck") > 20


def test_strings_too_low_rise_no_further_than_the_saddles_go() -> None:
    for up, right in (("0", False), ("0.9", False), ("1.0", True), ("3", True)):
        low = study(f"action_b = 0.5\naction_t = 0.5\nsaddle_up = {up}\nrelief = 0.25\nfret_uneven = 0.01")
        assert (level(low, "action", "set-up") > 10) is right, up
        assert mended(low, "action_b", "set-up") is right
        assert mended(low, "action_b", "shim-neck") or right


def test_travel_that_nobody_measured_is_expected_not_promised() -> None:
    known = "action_b = 2.6\naction_t = 2.2\nrelief = 0.25\nfret_uneven = 0.01"
    for more, right in (("", True), ("\nsaddle_down = 3.0", False)):
        row = next(r for r in spec_rows(study(known + more), ("set-up",)) if r.attribute == "action")
        assert row.reached > row.now
        assert ("saddle-travel" in row.rests_on) is right


@pytest.mark.slow
@pytest.mark.parametrize("travel", ["0.8", "1.0", "1.4", "2.0"])
@pytest.mark.parametrize("body", ["9", "10", "11", "13"])
def test_a_new_bridge_lowers_the_strings_as_far_as_its_own_saddles_go(travel: str, body: str) -> None:
    of = study(
        f"br_type = 'hardtail'\naction_b = 2.4\naction_t = 1.0\nsaddle_down = {travel}\nstring_h_body = {body}\n"
        "relief = 0.25\nfret_uneven = 0.0\njoint = 'set'"
    )
    shown = 0
    for verdict in of.verdicts:
        if verdict.upgrade.slot != "bridge" or verdict.outcome == "does-not-fit":
            continue
        part = verdict.upgrade.part
        assert part is not None
        lowest_saddle = part.dims["h_min"]
        assert isinstance(lowest_saddle, D)
        lowest = D("2.4") - (D(body) - lowest_saddle) / 2
        right = next((n for n, limit in enumerate(LIMITS["guitar-solid"]) if lowest > D(limit)), 4) * 10
        assert level(of, "action", verdict.upgrade.id, "level-crown-polish") <= right, verdict.upgrade.id
        shown += 1
    assert shown or body == "9"


@pytest.mark.slow
def test_tracing_the_wiring_cleans_no_pot() -> None:
    for field in ("pot_state", "sw_state"):
        scratchy = study(f"{field} = 'scratchy'")
        assert not mended(scratchy, field, "mend-wiring")
        assert mended(scratchy, field, "clean-controls")


FRETS = {"pull-frets", "fit-replacement-neck"}
BRIDGE = {"mount-bridge"}
NUT = {"fit-mechanical-nut", "finish-glue-nut"}
ON_THE_PART = {
    "dc_ohm_neck": {"fit-pickup-two-wire", "fit-pickup-four-wire"},
    "dc_ohm_middle": {"fit-pickup-two-wire", "fit-pickup-four-wire"},
    "dc_ohm_bridge": {"fit-pickup-two-wire", "fit-pickup-four-wire"},
    "sw_state": {"fit-switch", "build-harness", "clean-controls"},
    "pot_state": {"fit-pot", "build-harness", "clean-controls"},
    "jack_state": {"fit-jack", "build-harness"},
    "br_gnd": {"ground-bridge"},
    "rod_ok": {"free-truss-rod", "fit-replacement-neck"},
    "rod_spins": {"free-truss-rod", "fit-replacement-neck"},
    "rod_turn_left": {"free-truss-rod", "fit-replacement-neck"},
    "relief": {"free-truss-rod", "fit-replacement-neck"},
    "twist": {"fit-replacement-neck"},
    **dict.fromkeys(("hump", "fret_loose_n", "fret_uneven", "fret_wear", "fret_h", "fret_sprout"), FRETS),
    "crack_cm": {"repair-crack"},
    "crack_at": {"repair-crack"},
    "joint_strip_n": {"fit-neck-inserts", "plug-hole"},
    "tuner_play": {"fit-tuner"},
    "tuners_bad": {"fit-tuner"},
    "saddle_state": {"swap-saddles", "mount-bridge"},
    **dict.fromkeys(("saddle_down", "saddle_up", "action_b", "action_t"), BRIDGE),
    "nut_clear_b": NUT,
    "nut_clear_t": NUT,
    "nut_state": NUT,
    "corrosion": {"clean-hardware"},
    "strap_hole_ok": {"fit-strap-button"},
    "neck_finish_sound": {"sand-neck-back", "fit-replacement-neck"},
    "balance": {"fit-strap-button", "fit-tuner"},
    "posts_pulling": {"plug-hole"},
    "screws_loose": {"mount-bridge", "fit-strap-button"},
}
LIKE_THIS = {
    "guitar-solid": (
        "br_type = 'hardtail'\njoint = 'set'",
        "br_type = 'two-post-trem'\nrod_ok = 'dead'",
        "br_type = 'locking-trem'\nrod_turn_left = 0",
        "saddle_down = 0\nrod_spins = true",
    ),
    "bass-solid": ("rod_ok = 'stiff'",),
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", LIKE_THIS)
def test_each_upgrade_that_mends_a_fault_brings_work_on_what_is_at_fault(kind: str) -> None:
    shop, tried, wrong = the_shop(), 0, []
    for like in LIKE_THIS[kind]:
        sound = job_of(like, kind)
        for row in shop.faults:
            if row.field not in sound.instrument or not row.mended_by or row.field in like:
                continue
            bad = {"yes": "true", "no": "false"}.get(row.bad, f"'{row.words[0]}'")
            if row.reads in ("below", "above", "beyond"):
                step = D(1) if shop.intake[row.field].kind == "count" else D("0.1")
                bad = str(D(row.bad) + (-step if row.reads == "below" else step))
            faulty = job_of(f"{like}\n{row.field} = {bad}", kind)
            if row not in faults_of(shop.faults, faulty.instrument):
                continue
            mending = (u for u in offered(shop, faulty) if u.row.id in row.mended_by)
            for verdict in (judge(shop, faulty, upgrade) for upgrade in mending):
                if verdict.outcome != "does-not-fit":
                    tried += 1
                    if not ON_THE_PART[row.field] & {d.task for d in verdict.demands}:
                        wrong.append(f"{row.fault}: {verdict.upgrade.id} on {like!r}")
    assert not wrong
    assert tried > 60


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_strings_that_are_only_corrected_after_work_on_the_nut_stay_too_high(kind: str) -> None:
    high = study(
        "action_b = 2.6\naction_t = 3.0\nsaddle_down = 6\nnut_clear_b = 0.9\nnut_clear_t = 0.7", kind
    )
    assert level(high, "action", "adjust-nut") == 0
    assert level(high, "action", "set-up") > 0
    assert not mended(high, "action_t", "adjust-nut")
    assert mended(high, "action_t", "set-up")
    told = next(f for f in faults_found(high) if f.what == "the treble strings lie too high")
    assert "adjust-nut" not in told.mends
    assert "set-up" in told.mends


def test_a_crack_with_a_length_and_a_place_is_one_fault() -> None:
    for readings, field in (
        ("crack_cm = 4", "crack_cm"),
        ('crack_at = "peghead"', "crack_at"),
        ('crack_cm = 4\ncrack_at = "peghead"', "crack_cm"),
        ('crack_cm = 0\ncrack_at = "peghead"', "crack_at"),
    ):
        found = [f for f in faults_found(study(readings)) if f.what == "an open crack"]
        assert [f.shown.split()[0] for f in found] == [field]
        assert level(study(readings), "soundness") == 0


def test_a_limit_to_what_is_good_is_no_fault_unless_more_is_wished() -> None:
    shop = the_shop()
    limits = [row for row in shop.faults if is_limit(row)]
    assert {row.level for row in limits} == {2, 3}
    assert all(row.mended_by_work == ("shim-neck",) for row in limits)
    readings = "action_b = 2.6\naction_t = 2.2\nsaddle_down = 2\nrelief = 0.4"
    assert "stay too high" not in " ".join(f.what for f in faults_found(study(readings)))
    for wished, told in ((3, False), (4, True)):
        text = (
            f'[job]\nid = "one"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n{readings}\n'
            f"[wish]\nrequire = {{ action = {wished} }}\n"
        )
        job = job_from(parse_toml(text.encode(), "one.toml"), shop)
        words = " ".join(f.what for f in faults_found(study_job(shop, job)))
        assert ("stay too high" in words) is told
    # strings that stay over the highest figure of the table are a fault, wished or not
    bad = study("action_b = 3.0\naction_t = 2.0\nsaddle_down = 0")
    assert "the bass strings stay too high" in " ".join(f.what for f in faults_found(bad))


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_no_neck_goes_back_on_screws_that_spin(kind: str) -> None:
    """Whatever takes the neck off plugs the stripped holes, once, and the joint is sound by it; inserts need none."""
    spins, holds = study("joint_strip_n = 2", kind), study("joint_strip_n = 0", kind)
    with_neck_off = 0
    for verdict in spins.verdicts:
        asked = {demand.task for demand in verdict.demands}
        if verdict.outcome == "does-not-fit" or "refit-neck" not in asked:
            continue
        with_neck_off += 1
        name = verdict.upgrade.id
        lines = spins.costing.estimate((name,)).lines
        done = [(line.task, line.quantity) for line in lines if line.place == "heel-screws"]
        inserts = verdict.upgrade.row.id == "neck-inserts"
        assert sorted(done) == ([] if inserts else [("drill-hole", D(2)), ("plug-hole", D(2))]), name
        assert mended(spins, "joint_strip_n", name), name
        assert level(spins, "soundness", name) >= 20, name
        assert not [x for x in holds.costing.estimate((name,)).lines if x.place == "heel-screws"]
    assert with_neck_off > 10
    both = tuple(
        v.upgrade.id for v in spins.verdicts if v.upgrade.row.id in ("neck-inserts", "level-crown-polish")
    )
    one = ("level-crown-polish", next(name for name in both if name.startswith("neck-inserts")))
    assert not [x for x in spins.costing.estimate(one).lines if x.place == "heel-screws"]


def test_where_there_is_no_set_no_fault_is_left_by_this_set(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "twist.toml"
    file.write_text(
        '[job]\nid = "twist"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\njoint = "through"\n'
        'twist = 0.8\njack_state = "loose"\n[wish]\nrequire = { action = 2 }\n'
    )
    assert run(["choose", str(file), "--full"]) == 1
    out = capsys.readouterr().out
    assert "The least that mends it: new-jack-economy" in out
    assert "not offered here" in out
    assert "by this set" not in out
