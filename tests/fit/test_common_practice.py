"""Facts of the bench, each common practice without a source to name, against what tables and rules say."""

from __future__ import annotations

from decimal import Decimal

import pytest

from estimator.model import Part, Shop
from tests.fit.cases import Value, make_case, one, run, work
from tests.shops import default_shop

D = Decimal


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def test_ferrules_in_place_of_a_plate_take_two_to_three_millimetres_off_the_corner() -> None:
    joint: dict[str, Value] = {"joint": "bolt", "joint_screw_n": 4, "plate_thk": 1.8}
    assert "come down 2-3 mm" in one("R74", make_case(joint, "ferrule4", {"seat": 3.0})).sentence


def test_a_four_screw_bridge_over_a_six_screw_row_reuses_two_plugs_two_and_drills_two() -> None:
    """Outer screws meet; of the four left over, the two that the new inner ones would break into are plugged."""
    six: dict[str, Value] = {
        "kind": "guitar-solid",
        "br_type": "six-screw-trem",
        "br_screw_n": 6,
        "br_spread": 54.5,
        "br_screw_d": 3.5,
        "body_wood": "alder",
    }
    found = one("R02", make_case(six, "hardtail", {"screw_n": 4, "spread": 54.5, "screw_d": 3.5}))
    needed = work(found)
    plugs = sum(n for (task, _), n in needed.items() if task.startswith("plug"))
    assert "2 of 4 screws meet old holes" in found.sentence
    assert needed["drill-hole", "bridge-holes"] == 2
    assert plugs == 2, found.sentence


def test_a_ready_made_guard_on_a_copy_rarely_meets_the_old_holes(shop: Shop) -> None:
    """Until the guard was laid on, fewer than half of the holes are taken to match."""
    field = shop.intake["guard_match_n"]
    assert D(field.default_guitar) < D(shop.intake["guard_hole_n"].default_guitar) / 2
    found = one("R70", make_case({"guard_hole_n": 11, "guard_match_n": 3}, "guard", {"holes": 11}))
    assert work(found) == {("plug-small-hole", "guard-holes"): 8, ("drill-hole", "guard-holes"): 8}


def test_levelling_goes_220_then_320_and_on_steel_220_then_400(shop: Shop) -> None:
    used = shop.consumables["c-abrasive-roll"].used_for
    assert "220 then 320 on nickel-silver" in used
    assert "220 then 400 on stainless" in used
    assert any(name == "c-abrasive-roll" for name, _, _ in shop.task_consumables["level-frets"])


@pytest.mark.parametrize("upgrade", ["level-crown-polish", "refret-nickel-silver", "refret-stainless"])
def test_fret_ends_spring_after_levelling_and_are_dressed_again(shop: Shop, upgrade: str) -> None:
    def tasks(owner: str) -> set[str]:
        rows = shop.bundles[owner] if owner in shop.bundles else shop.upgrade_work[owner]
        return {t for row in rows for t in (tasks(row.task) if row.task in shop.bundles else {row.task})}

    assert {"level-frets", "dress-fret-ends"} <= tasks(upgrade)
    later = {"level-frets"}
    while more := {b for a, b in shop.task_order if a in later} - later:
        later |= more
    assert "dress-fret-ends" in later


def test_strap_screws_in_soft_wood_are_often_too_short_and_too_thin() -> None:
    thin: dict[str, Value] = {"strap_hole_ok": True, "strap_screw_d": 3.0, "body_wood": "basswood"}
    case = make_case(thin, "strap", {"screw_d": 3.0})

    told = [f.sentence for f in run("R81", case) if f.outcome == "warn"]
    assert len(told) == 1
    assert "thin for basswood, and often too short" in told[0]
    hard = make_case(thin | {"body_wood": "hard-maple"}, "strap", {"screw_d": 3.0})
    assert [f.outcome for f in run("R81", hard)] == ["fits"]


def test_a_nut_blank_costs_about_ten_and_practice_blanks_are_bought_with_it(shop: Shop) -> None:
    blanks: list[Part] = [p for p in shop.parts.values() if p.part_class == "p-nutblank"]
    mean = sum(p.price for p in blanks) / len(blanks)
    assert 8 <= mean <= 12
    assert "blanks" in shop.resale.spares["nut-blank"].practise_on


def test_a_coat_of_shielding_paint_is_brushed_on_in_three_to_four_minutes(shop: Shop) -> None:
    """Two to three coats on the cavities of one guitar are 6 to 12 min of the run; masking and lugs are the rest."""
    task, skin = shop.tasks["shield-cavity-paint"], D(shop.intake["cav_skin_cm2"].default_guitar)
    run = task.run_min_likely * skin
    assert 2 * 3 <= run <= 3 * 4 + task.setup_min


def test_a_profile_file_is_near_fifty_and_lasts_for_years_a_diamond_one_near_a_hundred_and_fifty(
    shop: Shop,
) -> None:
    file = shop.tools["t-crown-file"]
    assert 45 <= file.inexpensive_price <= 55
    assert 140 <= file.premium_price <= 160
    assert file.inexpensive_life >= 2 * 24 * 22  # two levelled necks a month, two years


def test_the_weight_that_comes_off_can_be_measured(shop: Shop) -> None:
    old: dict[str, Value] = {"kind": "guitar-solid", "tuner_n": 6, "balance": "none", "tuner_mass": 30}
    found = one("R36", make_case(old, "tuner6", weight_g=276, shop=shop))
    assert "the tuners add" in found.sentence
    assert "(46 - 30) x 6 = 96 g" in found.working
    for name in ("new-tuners", "new-bass-tuners"):
        assert shop.upgrades[name].removes_g == "tuner_mass * tuner_n"
    for name in ("heel-ferrules", "new-neck-plate"):
        assert shop.upgrades[name].removes_g == "plate_mass"
