"""Pickups, routs, pots, switches, jacks, batteries: worked numbers and limits (basis: memory)."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all
from estimator.fit.lasting import changes_of
from estimator.fit.rules.pickups import volume_out
from estimator.input.job.load import job_from
from estimator.tables.toml.text import parse_toml
from tests.fit.cases import Value, make_case, one, run, stub_shop, work
from tests.shops import default_shop

D = Decimal
BODY: dict[str, Value] = {
    "kind": "guitar-solid",
    "pu_neck": "single",
    "pu_middle": "single",
    "pu_bridge": "single",
    "rout_kind": "per-place",
    "rout_l_bridge": 89,
    "rout_w_bridge": 22,
    "rout_d_bridge": 19,
    "leg_d_bridge": 25,
    "access": "guard-mounted",
    "body_thk": 44.5,
    "dc_ohm_bridge": 6,
    "dc_ohm_neck": 6,
    "dc_ohm_middle": 6,
    "pot_value": 250,
    "pot_n": 3,
    "pot_hole_d": 8,
    "ctl_panel_thk": 2.3,
    "pot_shaft": "coarse-split",
    "ctl_l": 110,
    "ctl_w": 45,
    "ctl_d": 38,
    "hum_grade": 1,
    "cav_skin_cm2": 520,
    "shield_cm2": 520,
    "guard_cm2": 620,
    "foil_cm2": 372,
    "sw_type": "blade-box",
    "sw_slot_c": 41.3,
    "sw_hole_d": 12.2,
    "jack_type": "boat",
    "jack_hole_d": 22,
    "jack_screw_n": 2,
    "battery": "none",
}
HUM: dict[str, Value] = {"size_l": 69, "size_w": 38, "depth": 17, "leg": 24, "leads": 4}
SINGLE: dict[str, Value] = {"size_l": 84, "size_w": 18, "depth": 15, "leads": 2}


def test_r53_r54_worked_number_single_place_to_humbucker() -> None:
    """Body 72 x 41 x 19 outside the slot of 22: 72 x 19 x 19 = 26.0 cm3; legs 2 x 1.5; guard opened."""
    case = make_case(BODY, "hum", HUM, place="pickup-bridge")
    assert work(one("R53", case)) == {("route-cavity", "pickup-bridge"): D("26.0")}
    assert work(one("R54", case)) == {
        ("route-cavity", "pickup-bridge-legs"): D("3.0"),
        ("open-guard-slot", "guard-bridge"): 1,
    }


def test_r53_a_single_coil_goes_where_one_was() -> None:
    assert one("R53", make_case(BODY, "single", SINGLE, place="pickup-bridge")).outcome == "fits"
    assert run("R54", make_case(BODY, "single", SINGLE, place="pickup-bridge")) == []


def test_r53_an_empty_place_is_routed_whole() -> None:
    """72 x 41 x 19 = 56.1 cm3 where nothing was."""
    case = make_case(BODY | {"pu_bridge": "none"}, "hum", HUM, place="pickup-bridge")
    assert work(one("R53", case)) == {("route-cavity", "pickup-bridge"): D("56.1")}


def test_r53_exposed_pickups_have_a_narrower_gap() -> None:
    """0.75 mm a side instead of 1.5: 84 + 1.5 = 85.5 long."""
    case = make_case(BODY | {"access": "rear-cavity"}, "single", SINGLE, place="pickup-bridge")
    assert "needs 85.5 x 19.5 x 17" in one("R53", case).working


def test_r55_pool_rout_wants_no_routing() -> None:
    case = make_case(BODY | {"rout_kind": "pool"}, "hum", HUM, place="pickup-bridge")
    assert one("R55", case).outcome == "fits"
    assert one("R53", case).outcome == "fits"
    assert work(one("R54", case)) == {("open-guard-slot", "guard-bridge"): 1}
    bare = make_case(BODY | {"rout_kind": "pool", "access": "rear-cavity"}, "hum", HUM, place="pickup-bridge")
    assert one("R55", bare).outcome == "warn"
    assert run("R55", make_case(BODY, "hum", HUM, place="pickup-bridge")) == []


@pytest.mark.parametrize(
    ("depth", "leg", "outcome", "needed"),
    [
        (17, 24, "fits", {}),
        (19, 24, "work", {("route-cavity", "pickup-bridge"): D("3.2")}),
        (17, 28, "work", {("route-cavity", "pickup-bridge-legs"): D("0.5")}),
        (36.5, 24, "work", {("route-cavity", "pickup-bridge"): D("30.9")}),
        (36.6, 24, "no", {}),
    ],
)
def test_r56_depth(depth: float, leg: float, outcome: str, needed: dict[tuple[str, str], Decimal]) -> None:
    """72 x 22 x 2 / 1000 = 3.2; legs 1.2 cm2 x 4 mm = 0.5; 44.5 - 38.5 = 6 mm of back is the least."""
    found = one("R56", make_case(BODY, "hum", HUM | {"depth": depth, "leg": leg}, place="pickup-bridge"))
    assert found.outcome == outcome
    assert work(found) == needed


def test_deepening_is_part_of_the_rout_and_counts_once() -> None:
    """Both rules speak of the same place, so the larger figure holds; it is never the smaller one."""
    case = make_case(BODY, "hum", HUM | {"depth": 20}, place="pickup-bridge")
    whole, deeper = work(one("R53", case)), work(one("R56", case))
    assert whole[("route-cavity", "pickup-bridge")] >= deeper[("route-cavity", "pickup-bridge")]


BOXES = st.tuples(st.integers(10, 120), st.integers(10, 80), st.integers(5, 40))


@given(BOXES, BOXES, BOXES)
def test_a_larger_pickup_never_needs_less_routing(
    small: tuple[int, int, int], there: tuple[int, int, int], more: tuple[int, int, int]
) -> None:
    def box(size: tuple[int, ...]) -> tuple[Decimal, Decimal, Decimal]:
        return D(size[0]), D(size[1]), D(size[2])

    larger = tuple(a + b for a, b in zip(small, more, strict=True))
    assert volume_out(box(larger), box(there)) >= volume_out(box(small), box(there))
    assert volume_out(box(there), box(there)) == 0
    assert volume_out(box(small), (D(0), D(0), D(0))) > 0


@pytest.mark.parametrize(("kohm", "outcome"), [(0.5, "fits"), (0.4, "warn"), (0, "warn")])
def test_r57_dead_coil(kohm: float, outcome: str) -> None:
    case = make_case(BODY | {"dc_ohm_bridge": kohm}, "single", SINGLE, place="pickup-bridge")
    assert one("R57", case).outcome == outcome


def test_r57_without_a_place_every_pickup_is_looked_at() -> None:
    found = run("R57", make_case(BODY | {"dc_ohm_middle": 0, "pu_neck": "none"}))
    assert [f.outcome for f in found] == ["warn", "fits"]


@pytest.mark.parametrize(("depth", "outcome"), [(36, "fits"), (36.1, "no")])
def test_r58_pull_pot(depth: float, outcome: str) -> None:
    """34 + 2 = 36 mm wanted, 38 there; 36 + 2 = 38 just goes."""
    assert one("R58", make_case(BODY, "pull", {"depth": depth})).outcome == outcome


def test_r58_worked_case() -> None:
    """A pull pot of 34 wants 36, the cavity has 40."""
    assert "34 + 2 = 36 in 40" in one("R58", make_case(BODY | {"ctl_d": 40}, "pull", {"depth": 34})).working


def test_r58_two_leads_cannot_be_split() -> None:
    wanted: dict[str, Value] = {"voicing": 3}
    two = make_case(BODY, "hum", HUM | {"leads": 2}, place="pickup-bridge", wanted=wanted)
    assert one("R58", two).outcome == "warn"
    assert one("R58", make_case(BODY, "hum", HUM, place="pickup-bridge", wanted=wanted)).outcome == "fits"
    assert one("R58", make_case(BODY, "hum", HUM | {"leads": 2}, place="pickup-bridge")).outcome == "fits"


@pytest.mark.parametrize(
    ("change", "part", "dims", "outcome"),
    [
        ({}, "single", SINGLE, "fits"),
        ({"pot_value": 300}, "single", SINGLE, "fits"),
        ({"pot_value": 301}, "single", SINGLE, "work"),
        ({}, "hum", HUM, "warn"),  # mixed
        ({"pu_neck": "humbucker", "pu_middle": "none"}, "hum", HUM, "work"),
        ({"pu_neck": "humbucker", "pu_middle": "none", "pot_value": 500}, "hum", HUM, "fits"),
        ({}, "pot", {"value_k": 250}, "fits"),
        ({}, "pot", {"value_k": 500}, "warn"),
        ({"pu_neck": "none", "pu_middle": "none"}, "pull", {"value_k": 500}, "fits"),
    ],
)
def test_r59_pot_value(change: dict[str, Value], part: str, dims: dict[str, Value], outcome: str) -> None:
    found = one("R59", make_case(BODY | change, part, dims, place="pickup-bridge"))
    assert found.outcome == outcome
    assert work(found) == ({("fit-pot", "pots"): 3} if outcome == "work" else {})


@pytest.mark.parametrize(
    ("access", "rout_w", "part", "dims", "outcome"),
    [
        # 18 + 2 x 0.75 = 19.5 wanted: 24.5 is 5 mm more
        ("rear-cavity", 24.5, "single", SINGLE, "fits"),
        ("rear-cavity", 24.6, "single", SINGLE, "no"),
        ("rear-cavity", 42, "single", SINGLE, "no"),
        ("guard-mounted", 42, "single", SINGLE, "fits"),  # the guard hides it
        ("rear-cavity", 50, "hum", HUM | {"size_l": 84}, "fits"),  # so does the ring of a humbucker
    ],
)
def test_r53_no_rout_stays_open_beside_a_pickup(
    access: str, rout_w: float, part: str, dims: dict[str, Value], outcome: str
) -> None:
    there = BODY | {"access": access, "rout_w_bridge": rout_w}
    found = one("R53", make_case(there, part, dims | {"size_w": 18, "depth": 15}, place="pickup-bridge"))
    assert found.outcome == outcome
    assert ("stay open" in found.sentence) == (outcome == "no")


TEMPLATES = tuple(name for name in default_shop().intake["template"].choices if name != "none")


@pytest.mark.parametrize("template", TEMPLATES)
@pytest.mark.parametrize("sort", ["", "single", "soapbar", "bass-single"])
def test_what_stood_in_a_rout_fills_it(template: str, sort: str) -> None:
    """Of every kind with every sort of pickup, a new one of that sort leaves no rout open."""
    shop = default_shop()
    family = "bass" if template.startswith("bass") else "guitar"
    if sort.startswith("bass") != (family == "bass") and sort:
        return
    said = "".join(f'pu_{place} = "{sort}"\n' for place in ("neck", "bridge") if sort)
    text = f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "{family}-solid"\ntemplate = "{template}"\n{said}'
    job = job_from(parse_toml(f'{text}access = "rear-cavity"\n'.encode(), "j.toml"), shop)
    tried = 0
    for verdict in judge_all(shop, job, all_upgrades(shop, job)):
        if "-pickup-" not in verdict.upgrade.id or "sound" in changes_of(shop, job, verdict):
            continue
        tried += 1
        assert "stay open" not in " ".join(finding.sentence for finding in verdict.findings), (
            verdict.upgrade.id
        )
    assert tried or template == "bass-6-soap"


@pytest.mark.parametrize("battery", ["clip", "box"])
@pytest.mark.parametrize(
    ("part", "value", "outcome"),
    [("pot", 250, "no"), ("pot", 500, "no"), ("pot", 25, "fits"), ("pull", 50, "fits")],
)
def test_r59_pots_behind_a_battery(battery: str, part: str, value: int, outcome: str) -> None:
    found = one(
        "R59", make_case(BODY | {"battery": battery}, part, {"value_k": value}, place="pickup-bridge")
    )
    assert found.outcome == outcome


def test_r59_new_pickups_leave_the_pots_of_an_active_circuit() -> None:
    case = make_case(BODY | {"battery": "box", "pot_value": 25}, "single", SINGLE, place="pickup-bridge")
    assert all(finding.rule != "R59" for finding in run("R59", case))


def test_r66_the_jack_of_an_active_circuit_switches_its_battery() -> None:
    for battery, told in (("none", False), ("clip", True), ("box", True)):
        said = [f.sentence for f in run("R66", make_case(BODY | {"battery": battery}, "jack", {}))]
        assert any("third contact" in sentence for sentence in said) is told


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_no_passive_wiring_is_offered_for_an_active_instrument(kind: str) -> None:
    """Another harness or tone cap would throw the preamp out, and nobody asked for that."""
    shop = default_shop()
    offered = {}
    for battery in ("none", "box"):
        text = f'[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "{kind}"\nbattery = "{battery}"\n'
        job = job_from(parse_toml(text.encode(), "j.toml"), shop)
        offered[battery] = {upgrade.row.id for upgrade in all_upgrades(shop, job)}
        pots = [v for v in judge_all(shop, job, all_upgrades(shop, job)) if v.upgrade.row.id == "new-pots"]
        said = " ".join(finding.sentence for verdict in pots for finding in verdict.findings)
        assert ("25 to 50 k" in said) == (battery == "box")
    assert {"new-harness", "new-tone-cap", "treble-bleed"} <= offered["none"]
    assert not {"new-harness", "new-tone-cap", "treble-bleed"} & offered["box"]
    assert {"new-pots", "new-jack", "clean-controls"} <= offered["box"]


def test_r59_unknown_pots_are_to_be_read() -> None:
    there = {name: value for name, value in BODY.items() if name != "pot_value"}
    assert (
        "read the value on the pots"
        in one("R59", make_case(there, "single", SINGLE, place="pickup-bridge")).sentence
    )


@pytest.mark.parametrize(
    ("bush", "outcome", "holes"),
    [(7.8, "fits", 0), (7.9, "fits", 0), (7.91, "work", 3), (7.0, "fits", 0), (6.9, "warn", 0)],
)
def test_r60_pot_hole(bush: float, outcome: str, holes: int) -> None:
    """A bushing of 7.8 passes a hole of 8.0."""
    found = one("R60", make_case(BODY, "pot", {"bush_od": bush}))
    assert found.outcome == outcome
    assert work(found) == ({("enlarge-control-hole", "pot-holes"): holes} if holes else {})


def test_r60_a_pull_pot_is_one_hole() -> None:
    assert work(one("R60", make_case(BODY, "pull", {"bush_od": 9.5}))) == {
        ("enlarge-control-hole", "pot-holes"): 1
    }


@pytest.mark.parametrize(
    ("panel", "length", "outcome", "said"),
    [
        (2.9, 6.4, "fits", "reaches"),
        (3.0, 6.4, "no", "take one of 9.5 mm"),
        (6.0, 9.5, "fits", "reaches"),
        (6.1, 9.5, "no", "take one of 19 mm"),
        (15.5, 19, "fits", "reaches"),
        (20.5, 19, "work", "rout the panel 5 mm thinner"),
    ],
)
def test_r61_pot_bushing_length(panel: float, length: float, outcome: str, said: str) -> None:
    """Panel + 3.5; beyond 19 mm the panel is routed: 7 x 5/10 = 3.5 cm3."""
    found = one("R61", make_case(BODY | {"ctl_panel_thk": panel}, "pot", {"bush_len": length}))
    assert found.outcome == outcome
    assert said in found.sentence
    assert work(found) == ({("route-cavity", "control-panel"): D("3.5")} if outcome == "work" else {})


def test_r62_shaft_and_knob() -> None:
    assert one("R62", make_case(BODY, "knobs", {"shaft": "coarse-split"})).outcome == "fits"
    assert one("R62", make_case(BODY, "knobs", {"shaft": "fine-split"})).outcome == "no"
    assert one("R62", make_case(BODY, "pot", {"shaft": "fine-split"})).outcome == "warn"
    sold = {"p-knobs": {"shaft": SimpleNamespace(to_order=True, unit="")}}
    knobs: dict[str, Value] = {"shaft": "fine-split"}
    case = make_case(BODY, "knobs", knobs, typical=["shaft"], shop=stub_shop(part_dimensions=sold))
    found = one("R62", case)
    assert found.outcome == "warn"
    assert "order one that suits" in found.sentence
    assert one("R62", make_case(BODY, "knobs", knobs, typical=["shaft"])).outcome == "no"


@pytest.mark.parametrize(
    ("depth", "body", "outcome", "volume"),
    [(35, 44.5, "fits", None), (37, 44.5, "work", "2.6"), (37, 44, "work", "2.6"), (37, 43.9, "no", None)],
)
def test_r63_switch_depth(depth: float, body: float, outcome: str, volume: str | None) -> None:
    """37 + 3 = 40 in 38: 60 x 22 x 2 / 1000 = 2.6 cm3, and 4 mm of back must stay."""
    found = one("R63", make_case(BODY | {"body_thk": body}, "blade", {"depth": depth}))
    assert found.outcome == outcome
    assert work(found) == ({("route-cavity", "switch"): D(volume)} if volume else {})


@pytest.mark.parametrize(("centres", "drilled"), [(41.7, None), (41.8, 2)])
def test_r64_switch_screws(centres: float, drilled: int | None) -> None:
    needed = work(one("R64", make_case(BODY, "blade", {"screw_c": centres})))
    assert needed.get(("drill-hole", "switch")) == drilled
    assert needed.get(("open-guard-slot", "switch")) == (1 if drilled else None)
    assert run("R64", make_case(BODY, "toggle", {"screw_c": 0})) == []


def test_r65_toggle() -> None:
    assert work(one("R65", make_case(BODY, "toggle", {"bush": 12}))) == {
        ("enlarge-control-hole", "switch"): 1
    }
    there = BODY | {"sw_type": "toggle-short"}
    assert one("R65", make_case(there, "toggle", {"bush": 12.2})).outcome == "fits"
    assert one("R65", make_case(there, "toggle", {"bush": 12.3})).outcome == "work"
    assert run("R65", make_case(BODY, "blade", {"bush": 0})) == []


def test_r66_jacks() -> None:
    assert one("R66", make_case(BODY, "jack", {"barrel": "no"})).outcome == "fits"
    barrel: dict[str, Value] = {"barrel": "yes", "hole_d": 13}
    assert work(one("R66", make_case(BODY | {"jack_hole_d": 9.5}, "jack", barrel))) == {
        ("drill-hole", "jack"): 1
    }
    assert one("R66", make_case(BODY | {"jack_hole_d": 13}, "jack", barrel)).outcome == "fits"
    assert one("R66", make_case(BODY, "jack", barrel)).outcome == "no"


def test_r66_jack_plates() -> None:
    assert one("R66", make_case(BODY, "jackplate", {"matching": "yes", "hole_d": 22})).outcome == "fits"
    other = make_case(BODY | {"jack_hole_d": 19}, "jackplate", {"matching": "no", "hole_d": 22})
    assert work(one("R66", other)) == {("enlarge-control-hole", "jack"): 1, ("plug-small-hole", "jack"): 2}


PREAMP: dict[str, Value] = {"board_l": 60, "board_w": 32, "depth": 22}


def test_r67_preamp_room() -> None:
    """68 x 40 x 30 in 110 x 45 x 38 goes; in a cavity 30 wide 68 x 10 x 30 / 1000 = 20.4 cm3 are routed."""
    assert one("R67", make_case(BODY, "preamp", PREAMP)).outcome == "fits"
    narrow = one("R67", make_case(BODY | {"ctl_w": 30}, "preamp", PREAMP))
    assert work(narrow) == {("route-cavity", "control-cavity"): D("20.4")}
    assert one("R67", make_case(BODY | {"ctl_w": 30, "body_thk": 41}, "preamp", PREAMP)).outcome == "no"
    assert run("R67", make_case(BODY, "battbox", {})) == []


def test_r68_battery() -> None:
    """110 x 45 x 38 less 60 x 32 x 22 leaves 145.9 cm3: a clip; 30 wide leaves 83.2: a box of 64 cm3."""
    clip = one("R68", make_case(BODY, "preamp", PREAMP))
    assert work(clip) == {("fit-jack", ""): 1}
    assert "free 145.9" in clip.working
    box = one("R68", make_case(BODY | {"ctl_w": 30}, "preamp", PREAMP))
    assert work(box) == {("route-cavity", "battery"): 64, ("fit-jack", ""): 1}
    assert one("R68", make_case(BODY | {"battery": "clip"}, "preamp", PREAMP)).outcome == "fits"
    assert work(one("R68", make_case(BODY, "battbox", {}))) == {("route-cavity", "battery"): 64}
    assert run("R68", make_case(BODY, "single", SINGLE | {"active": "no"})) == []
    assert work(one("R68", make_case(BODY, "single", SINGLE | {"active": "yes"}))) == {("fit-jack", ""): 1}


@pytest.mark.parametrize(
    ("grade", "layout", "wanted", "called"),
    [(2, "single", 0, True), (3, "single", 0, False), (2, "humbucker", 0, False), (3, "humbucker", 3, True)],
)
def test_r69_shield_or_not(grade: int, layout: str, wanted: int, called: bool) -> None:
    there = BODY | {"hum_grade": grade, "pu_neck": layout, "pu_middle": layout, "pu_bridge": layout}
    shielding = one("R69", make_case(there, wanted={"hum": wanted}))
    assert shielding.outcome == ("fits" if called else "warn")
    pickup_ = one("R69", make_case(there, "single", SINGLE, place="pickup-bridge", wanted={"hum": wanted}))
    assert pickup_.outcome == ("warn" if called else "fits")
    if called:
        assert "520 cm2 of cavity" in shielding.sentence
        assert "372 cm2 of foil on the guard" in shielding.sentence


@pytest.mark.parametrize(
    ("access", "can"), [("hollow", False), ("semi-hollow-panel", True), ("rear-cavity", True)]
)
def test_r69_no_cavity_of_a_hollow_body_is_shielded(access: str, can: bool) -> None:
    there = BODY | {"hum_grade": 1, "pu_neck": "single", "pu_bridge": "single", "access": access}
    assert (one("R69", make_case(there, wanted={"hum": 3})).outcome != "no") is can
