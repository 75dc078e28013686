"""A part of a skin, of the cavities or of a guard: its work by hand formula, and the whole stays the whole."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from estimator.choose.study import spec_rows
from estimator.core.errors import InputError
from estimator.core.expressions import ExpressionError, parse_expression
from estimator.core.units import UnitError, parse_quantity
from estimator.input.job.load import job_from
from estimator.model import Estimate
from estimator.tables.toml.text import parse_toml
from tests.estimate.test_what_work_brings import D, by_hand, hold, shop, study_of, told

SKIN = 2700


def used(estimate: Estimate, task: str, consumable: str) -> Decimal:
    """How much of a consumable the lines of a task use."""
    lines = [line for line in estimate.lines if line.task == task]
    return sum((u.quantity for line in lines for u in line.consumables if u.id == consumable), D(0))


def coats(number: int, share: Decimal) -> str:
    return "; ".join(f"spray-coat f {share}{' again 1' if n else ''}" for n in range(number))


def coat_share(area: Decimal) -> Decimal:
    """Mixing and cleaning as on a whole body (0.38 of a coat), the rest by area."""
    return D("0.38") + D("0.62") * area / SKIN


def test_a_small_part_by_hand() -> None:
    """150 cm2 of 2,700: sanded, sprayed, buffed half as far again; nothing but the strings comes off."""
    estimate = told(study_of({"refinish_cm2": 150}), "refinish-part")
    work = (
        "strings-off; string-up x 6; strip-finish x 150; prep-body-wood x 150; mask-body; "
        f"{coats(15, coat_share(D(150)))}; level-buff-finish x 225; final-check"
    )
    hold(estimate, work)
    assert abs(used(estimate, "spray-coat", "c-lac-clear") - 15 * D("0.32") * coat_share(D(150))) < D("1e-9")


def test_a_wide_part_by_hand() -> None:
    """A face of 1,050 cm2: everything comes off and goes back, as under a whole refinish, but the area does not."""
    study = study_of({"refinish_cm2": "35 x 30 cm"})
    part, whole = told(study, "refinish-part"), told(study, "refinish-spray")
    for task in ("strip-finish", "prep-body-wood", "level-buff-finish"):
        of_part, of_whole = (
            sum(line.minutes for line in estimate.lines if line.task == task) for estimate in (part, whole)
        )
        assert abs(D(of_part) / of_whole - D(1050) / SKIN) < D("0.002")
        quantities = [
            (line.quantity) for estimate in (part, whole) for line in estimate.lines if line.task == task
        ]
        assert quantities == [1050, SKIN]
    lacquer = used(part, "spray-coat", "c-lac-clear") / used(whole, "spray-coat", "c-lac-clear")
    assert abs(lacquer - coat_share(D(1050))) < D("1e-9")
    taken_apart = {line.task for line in whole.lines} - {line.task for line in part.lines}
    assert not taken_apart
    assert part.totals.money.cost < whole.totals.money.cost


def test_a_touched_up_place_by_hand() -> None:
    estimate = told(study_of({"touch_cm2": "12 x 5 cm"}), "touch-up-place")
    work = (
        "strings-off; string-up x 6; clean-body; mask-body f 0.5; prep-body-wood x 60 f 0.5; "
        f"{coats(5, coat_share(D(60)))}; level-buff-finish x 90"
    )
    hold(estimate, work)


@pytest.mark.parametrize(
    ("upgrade", "task", "use"),
    [
        ("shield-paint", "shield-cavity-paint", "c-shield-paint"),
        ("shield-foil", "shield-cavity-foil", "c-shield-foil"),
    ],
)
def test_shielding_follows_its_part(upgrade: str, task: str, use: str) -> None:
    """Cavities of 520 cm2, 200 of them to be done, and 150 cm2 of the guard."""
    sizes = {"cav_skin_cm2": 520, "guard_cm2": 620}
    part = told(study_of({**sizes, "shield_cm2": 200, "foil_cm2": 150}), upgrade)
    whole = told(study_of(sizes), upgrade)
    for estimate, area, foil in ((part, 200, 150), (whole, 520, 372)):
        (cavity,) = [x for x in estimate.lines if (x.task, x.place) == (task, "cavities")]
        (guard,) = [x for x in estimate.lines if x.place == "guard" and x.task == "shield-cavity-foil"]
        assert (cavity.quantity, guard.quantity) == (area, foil)
        _, minutes = by_hand(f"{task} x {area}")
        row_set_up = shop().tasks[task].setup_min
        run = (minutes[task] - row_set_up) * (1 + shop().terms.allowance)
        assert abs(D(cavity.minutes) / 100 - run) < D("0.02")
        (paint,) = [u.quantity for u in cavity.consumables if u.id == use]
        assert paint == area * {"c-shield-paint": D("0.13"), "c-shield-foil": D("1.15")}[use]


@pytest.mark.parametrize("upgrade", ["shield-paint", "shield-foil"])
def test_a_part_promises_no_level_of_hum(upgrade: str) -> None:
    """What was wholly shielded reaches its level; a part is half a level better, and says so.

    No lining keeps the magnetic hum of mains from a single coil: foil reaches more than paint only where there is none.
    """
    base = {"cav_skin_cm2": 520, "guard_cm2": 620, "hum_grade": 0, "pu_middle": "none"}
    hum_cancelling = dict.fromkeys(("pu_neck", "pu_bridge"), "humbucker")
    told_of = {}
    for name, area, pickups in (
        ("part", 200, {"pu_neck": "single"}),
        ("whole", 520, {"pu_neck": "single"}),
        ("one single", 520, {**hum_cancelling, "pu_bridge": "single"}),
        ("none single", 520, hum_cancelling),
    ):
        study = study_of({**base, **pickups, "shield_cm2": area})
        (verdict,) = [v for v in study.verdicts if v.upgrade.id == upgrade]
        told_of[name] = " ".join(f.sentence for f in verdict.findings)
        levels = {row.attribute: (row.now, row.reached) for row in spec_rows(study, (upgrade,))}
        now, reached = levels["hum"]
        assert now == 0
        no_single = name == "none single" and upgrade == "shield-foil"
        assert reached == (5 if name == "part" else 30 if no_single else 20)
        assert ("no lining keeps out" in told_of[name]) is ("single" in pickups.values())
    assert "200 of 520 cm2" in told_of["part"]
    assert "of 520 cm2" not in told_of["whole"]


@pytest.mark.slow
def test_drawn_parts_follow_the_area_and_leave_the_whole() -> None:
    """No complaint about a part that fits its whole; body, polish and refinish take the whole as before."""
    rng = random.Random(20)
    plain = study_of()
    whole = {name: told(plain, name).totals for name in ("refinish-spray", "oil-finish", "polish-body")}
    for _ in range(12):
        area, worn = rng.randint(1, SKIN), rng.randint(1, 600)
        study = study_of({"refinish_cm2": area, "touch_cm2": worn})
        assert study.job.instrument["skin_cm2"].value == SKIN
        assert [
            i.problem for i in study.job.issues if "part" in i.problem or "go together" in i.problem
        ] == []
        for name, totals in whole.items():
            assert told(study, name).totals == totals
        estimate = told(study, "refinish-part", "touch-up-place")
        quantities = {(line.task, line.place): line.quantity for line in estimate.lines}
        assert quantities["strip-finish", "body-part"] == area
        assert quantities["prep-body-wood", "worn-place"] == worn
        runs = {(line.task, line.place): line.factor for line in estimate.lines}
        assert runs["spray-coat", "body-part-coat-03"] == coat_share(D(area)).quantize(D("1e-12")) or abs(
            runs["spray-coat", "body-part-coat-03"] - coat_share(D(area))
        ) < D("1e-9")


def said(text: str) -> tuple[list[str], list[str]]:
    """What a job file with these fields is told: problems that stop it, and warnings."""
    head = '[job]\nid = "part"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
    try:
        job = job_from(parse_toml(f"{head}{text}\n".encode(), "job.toml"), shop())
    except InputError as error:
        return [str(issue) for issue in error.issues if issue.severity == "error"], []
    return [], [str(issue) for issue in job.issues]


@pytest.mark.parametrize(
    ("part", "whole"),
    [
        ("refinish_cm2", "skin_cm2"),
        ("touch_cm2", "skin_cm2"),
        ("shield_cm2", "cav_skin_cm2"),
        ("foil_cm2", "guard_cm2"),
    ],
)
def test_a_part_larger_than_the_whole_is_told(part: str, whole: str) -> None:
    size = int(shop().intake[whole].hard_high or 0) // 4
    stopped, _ = said(f"{whole} = {size}\n{part} = {size + 1}")
    assert len(stopped) == 1
    assert f"{part}: a part larger than the whole" in stopped[0]
    assert f"at most {size} cm2" in stopped[0]
    assert "measure both again" in stopped[0]
    stopped, warned = said(f"{whole} = {size}\n{part} = {size}")
    assert not stopped
    assert not [text for text in warned if "part larger" in text]
    stopped, warned = said(f"{part} = {int(shop().intake[part].hard_high or 0)}")
    assert not stopped
    assert [text for text in warned if "a part larger than the usual whole" in text and whole in text]


@pytest.mark.parametrize(
    ("text", "cm2"),
    [
        ("30 x 20 cm", "600"),
        ("30 cm x 20 cm", "600"),
        ("300x200mm", "600"),
        ("300 mm × 20 cm", "600"),
        ('12" x 5 in', "387.096"),
        ("1 1/2 in * 2 in", "19.3548"),
        ("600 cm2", "600"),
        ("60000 mm2", "600"),
    ],
)
def test_length_by_width(text: str, cm2: str) -> None:
    assert parse_quantity(text, "area") == D(cm2)


@pytest.mark.parametrize(
    "text", ["30 x 20", "30 x cm", "x 20 cm", "30 kg x 20 cm", "3 x 4 x 5 cm", "-3 x -4 cm"]
)
def test_what_is_no_length_by_width(text: str) -> None:
    with pytest.raises(UnitError):
        parse_quantity(text, "area")
    stopped, _ = said(f'refinish_cm2 = "{text}"')
    assert len(stopped) == 1
    assert "refinish_cm2" in stopped[0]


def test_a_part_of_a_whole_in_a_cell() -> None:
    cell = parse_expression("0.38 + 0.62 * refinish_cm2 / skin_cm2")
    assert cell.names == ("refinish_cm2", "skin_cm2")
    assert cell.value({"refinish_cm2": D(675), "skin_cm2": D(2700)}.__getitem__) == D("0.535")
    for bad in ("a_b / 2", "a_b /", "/ a_b", "a_b / / c_d"):
        with pytest.raises(ExpressionError):
            parse_expression(bad)
