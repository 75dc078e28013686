"""Values that can hardly be meant as they stand: one for all, neighbours that disagree, bare fractions."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from estimator.core.errors import Issue
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.cells import CellError, parsed, plain
from estimator.tables.conditions import holds
from estimator.tables.faults import faults_of
from estimator.tables.intake import TEMPLATE, Defaults
from estimator.tables.quantities import NUMBER_KINDS, read_intake
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop
from tests.tables.tinyshop import shop_issues, tiny_rows

D = Decimal


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


HEAD = '[job]\nid = "trial"\n[instrument]\nkind = "{kind}"\n'


def job_of(shop: Shop, lines: str, kind: str = "guitar-solid") -> Job:
    return job_from(parse_toml((HEAD.format(kind=kind) + lines).encode(), "trial.toml"), shop)


def told(shop: Shop, lines: str, kind: str = "guitar-solid") -> list[Issue]:
    return [issue for issue in job_of(shop, lines, kind).issues if issue.severity == "warning"]


# ------------------------------------------------------------------------------ one, or all of them


def part(part_class: str, *lines: str) -> str:
    return "\n".join(("[[part]]", 'id = "mine"', f'class = "{part_class}"', 'grade = "standard"', *lines))


@pytest.mark.parametrize(
    ("lines", "question", "fits", "write"),
    [
        (part("p-tuner6", "weight_g = 46"), "46: for one, or all six?", "one tuner", "weight_g = 276"),
        (part("p-tuner6", "price = 9"), "9: for one, or all six?", "one tuner", "price = 54"),
        (part("p-saddles", "weight_g = 12"), "12: for one, or all six?", "one saddle", "weight_g = 72"),
        (part("p-knobs", "weight_g = 5"), "5: for one, or all three?", "one knob", "weight_g = 15"),
        (part("p-springs", "weight_g = 25"), "25: for one, or all three?", "one spring", "weight_g = 75"),
        (part("p-stack", "weight_g = 345"), "345: for one, or all three?", "all pickups", "weight_g = 115"),
        (part("p-single", "price = 180"), "180: for one, or all three?", "all pickups", "price = 60"),
        (part("p-ferrule4", "weight_g = 9"), "9: for one, or all four?", "one ferrule", "weight_g = 36"),
        ("tuner_mass = 228", "228: for one, or all six?", "all tuners", "tuner_mass = 38"),
        (
            "nut_spread = 10",
            "10: one string to the next, or the outer strings?",
            "one string",
            "nut_spread = 50",
        ),
        (
            "br_spread = 10.8",
            "10.8: one screw to the next, or the outer screws?",
            "one screw",
            "br_spread = 54",
        ),
        ("saddle_w = 48", "48: for one, or all six?", "all saddles side by side", "saddle_w = 8"),
    ],
)
def test_one_given_for_all(shop: Shop, lines: str, question: str, fits: str, write: str) -> None:
    """The other meaning is worked out by hand: 46 x 6 = 276; 345 / 3 = 115; 10.8 x 5 = 54."""
    (issue,) = [issue for issue in told(shop, lines) if issue.problem.endswith("?")]
    assert issue.problem == question
    assert f"would fit {fits}" in issue.found
    assert f"write {write} (" in issue.next_step


@pytest.mark.parametrize(
    "lines",
    [
        part("p-tuner6", "weight_g = 276", "price = 88"),
        part("p-tuner6", "weight_g = 150"),  # light, but no single tuner weighs that
        part("p-saddles", "weight_g = 75", "price = 20"),
        part("p-stack", "weight_g = 115", "price = 62"),
        part("p-stack", 'owner = "customer"'),
        "tuner_mass = 25",
        "str_spread = 52.5\nnut_spread = 35.5",
    ],
)
def test_what_is_meant_as_it_stands_is_not_asked_about(shop: Shop, lines: str) -> None:
    assert told(shop, lines) == []


def test_every_set_given_by_the_piece_and_every_piece_given_by_the_set_is_asked_about(shop: Shop) -> None:
    """Drawn: a usual weight or price of each class, said the wrong way round wherever that shows.

    Where the wrong figure is usual too (small sets, wide ranges) nothing can be known and nothing is asked.
    """
    draw, asked, silent = random.Random(4), 0, 0
    for row in shop.plausible.per_piece:
        kin = [other for other in shop.parts.values() if other.part_class == row.part_class]
        values = [v for other in kin if (v := getattr(other, row.value if kin else "price")) is not None]
        if not values or row.value not in ("weight_g", "price"):
            continue
        kind = "bass-solid" if row.part_class in ("p-tunerb4", "p-basspu") else "guitar-solid"
        job = job_of(shop, "", kind)
        pieces = parsed(row.pieces).value(lambda name, job=job: D(str(job.instrument[name].value)))  # type: ignore[misc]
        low, high = min(values), max(values)
        right = low + (high - low) * draw.randint(0, 100) / 100
        wrong = right / pieces if row.counts == "all" else right * pieces
        price = () if row.value == "price" else ("price = 10",)
        text = part(row.part_class, f'variant = "{kin[0].variant}"', f"{row.value} = {wrong:.4f}", *price)
        warnings = told(shop, text.replace('grade = "standard"\n', ""), kind)
        found = [i for i in warnings if "for one, or" in i.problem and i.where.column.endswith(row.value)]
        shows = not low / D("1.25") <= round(wrong, 4) <= high * D("1.25")
        assert bool(found) == shows, (row, wrong, low, high)
        asked, silent = asked + shows, silent + (not shows)
    assert asked > 20
    assert silent < asked


# ----------------------------------------------------------------------------- ranges and neighbours


def test_every_number_of_the_intake_has_a_usual_range(shop: Shop) -> None:
    numbers = [spec for spec in shop.intake.values() if spec.kind in NUMBER_KINDS]
    assert len(numbers) > 100
    assert [s.id for s in numbers if s.accepted_low is None or s.accepted_high is None] == []


@pytest.mark.parametrize(
    ("lines", "kind", "words"),
    [
        (
            "nut_wid = 42\nnut_spread = 44",
            "guitar-solid",
            ("nut_spread 44 mm beside nut_wid 42 mm", "from 31 to 39 mm"),
        ),
        (
            "nut_wid = 48\nboard_last_wid = 52",
            "guitar-solid",
            ("board_last_wid 52 mm beside nut_wid 48 mm", "from 54"),
        ),
        (
            "fret_h = 1.6\nfret_w = 2",
            "guitar-solid",
            ("fret_h 1.6 mm beside fret_w 2 mm", "from 0.3 to 1.3 mm"),
        ),
        (
            "scale = 648\npu_x_bridge = 500",
            "guitar-solid",
            ("pu_x_bridge 500 mm beside scale 648 mm", "570.24"),
        ),
        (
            "action_b = 1.6\naction_t = 2.0",
            "guitar-solid",
            ("action_b 1.6 mm beside action_t 2 mm", "from 2 to 3.5"),
        ),
        (
            "tuner_hole_d = 8\ntuner_hole_back_d = 10",
            "guitar-solid",
            ("tuner_hole_back_d 10 mm beside tuner_hole_d 8",),
        ),
        (
            "str_spread = 52.5\nnut_spread = 48",
            "guitar-solid",
            ("str_spread 52.5 mm beside nut_spread 48 mm",),
        ),
        (
            "body_thk = 38\nctl_d = 42",
            "guitar-solid",
            ("ctl_d 42 mm beside body_thk 38 mm", "not deeper than the body"),
        ),
        ("body_thk = 38\nrout_d_neck = 36", "guitar-solid", ("rout_d_neck 36 mm beside body_thk 38 mm",)),
        ("scale = 864", "guitar-solid", ("scale 864 mm beside a guitar", "from 580 to 720 mm")),
        ("scale = 648", "bass-solid", ("scale 648 mm beside a bass", "from 720 to 920 mm")),
        (
            "body_thk = 44\nheel_wood = 28\npocket_dep = 22",
            "guitar-solid",
            ("body_thk 44 mm and heel_wood 28 mm", "19"),
        ),
    ],
)
def test_neighbours_that_disagree(shop: Shop, lines: str, kind: str, words: tuple[str, ...]) -> None:
    found = [str(issue) for issue in told(shop, lines, kind)]
    (message,) = found
    for word in words:
        assert word in message
    assert "measure again: " in message


def test_a_value_is_held_against_measured_neighbours_only(shop: Shop) -> None:
    assert told(shop, "nut_spread = 44") == []
    assert told(shop, "nut_spread = 44\nnut_wid = 52") == []


@pytest.mark.parametrize("kind", ["guitar-solid", "guitar-semi", "bass-solid", "bass-semi"])
def test_what_is_assumed_is_usual_beside_its_neighbours(shop: Shop, kind: str) -> None:
    """Written down as measured, the defaults raise no doubt."""
    defaults = Defaults(shop.intake, {"kind": kind}, kind.startswith("bass"))
    lines = [
        f"{name} = {plain(value)}"
        for name, spec in shop.intake.items()
        if spec.kind in NUMBER_KINDS and isinstance(value := defaults.value(name), Decimal)
    ]
    assert len(lines) > 100
    assert [str(issue) for issue in told(shop, "\n".join(lines), kind)] == []


def test_every_neighbour_is_asked_about_on_either_side_of_what_is_usual(shop: Shop) -> None:
    """Drawn: each value at its ends (no doubt of that row) and a little beyond them (a doubt)."""
    checked = 0
    for row in shop.plausible.neighbours:
        kind = "bass-solid" if row.instruments == "bass" else "guitar-solid"
        job = job_of(shop, 'br_type = "six-screw-trem"\npu_neck = "single"\npu_bridge = "single"', kind)
        if not holds(row.when, job.instrument):
            continue
        others = tuple(dict.fromkeys((*parsed(row.low).names, *parsed(row.high).names)))
        given = [f"{name} = {plain(D(str(job.instrument[name].value)))}" for name in others]
        step = D(1) if shop.intake[row.field].kind == "count" else D("0.01")
        for end, way in ((row.low, -1), (row.high, 1)):
            edge = parsed(end).value(lambda name, job=job: D(str(job.instrument[name].value)))  # type: ignore[misc]
            for beyond in (False, True):
                value = edge + way * step * beyond
                try:
                    read_intake(f"{value:f}", shop.intake[row.field])
                except CellError:
                    continue  # impossible anyway
                lines = "\n".join((*given, f"{row.field} = {value:f}", 'br_type = "six-screw-trem"'))
                found = [issue for issue in told(shop, lines, kind) if row.because in issue.problem]
                assert bool(found) == beyond, (row, value)
                checked += 1
    assert checked > 120


# --------------------------------------------------------------------------------- bare fractions


@pytest.mark.parametrize(
    ("written", "mm", "plainly"),
    [
        ('"1/64"', "0.396875", "1/64 in"),
        ('".022"', "0.5588", "0.022 in"),
        ('"1 5/8"', "41.275", "1 5/8 in"),
        ('"-1/64"', "-0.396875", "-1/64 in"),
    ],
)
def test_a_bare_fraction_is_inches_and_that_is_said(shop: Shop, written: str, mm: str, plainly: str) -> None:
    """1/64 in = 25.4 / 64 = 0.396875 mm; 0.022 x 25.4 = 0.5588."""
    name = "nut_wid" if D(mm) > 5 else "relief"
    job = job_of(shop, f"{name} = {written}")
    assert job.instrument[name].value == D(mm)
    (issue,) = [issue for issue in job.issues if "fraction" in issue.problem]
    assert issue.severity == "warning"
    assert issue.problem == f"a fraction without a unit is taken for inches: {plainly}"
    assert f"write “{plainly}” if inches are meant" in issue.next_step
    again = job_of(shop, f'{name} = "{plainly}"')
    assert again.instrument[name].value == D(mm)
    assert again.issues == ()


@pytest.mark.parametrize("written", ["42", "42.0", '"42"', '"42 mm"', '"0.42"', '"4.2 cm"'])
def test_numbers_that_are_no_fractions_stay_as_they_are(shop: Shop, written: str) -> None:
    factor = 10 if "cm" in written else 1
    name = "relief" if "0.42" in written else "nut_wid"
    job = job_of(shop, f"{name} = {written}")
    assert job.instrument[name].value == D(written.strip('"').split()[0]) * factor
    assert job.issues == ()


def test_a_bare_fraction_of_a_part_is_said_too(shop: Shop) -> None:
    (issue,) = told(shop, part("p-tuner6", 'hole_d = "25/64"'))
    assert "taken for inches: 25/64 in" in issue.problem
    assert "[[part]] hole_d" in str(issue.where)


def test_a_bare_fraction_in_a_table_is_refused() -> None:
    """Nobody reads a warning about a shop's table before it prices a job."""
    rows = tiny_rows()
    length = next(row for row in rows["intake"] if row.get("unit") == "mm" and row.get("default_guitar"))
    length["default_guitar"] = "1/64"
    assert any("a fraction without a unit" in str(issue) for issue in shop_issues(rows))


# ------------------------------------------------------------------------------------- the tables


@pytest.mark.parametrize(
    ("table", "change", "words"),
    [
        ("per_piece", {"part_class": "p-nothing"}, "unknown class of part"),
        ("per_piece", {"part_class": "instrument", "value": "colour_x"}, "no number has this name"),
        ("neighbours", {"field": "kind"}, "an intake field that is no number"),
        ("neighbours", {"low": "nothing_here - 1"}, "no intake field has this name"),
    ],
)
def test_rows_name_what_there_is(table: str, change: dict[str, str], words: str) -> None:
    rows = tiny_rows()
    good = {
        "per_piece": {
            "part_class": "instrument",
            "value": "nut_wid",
            "counts": "all",
            "pieces": "2",
            "one": "one",
            "all": "both",
        },
        "neighbours": {"field": "nut_wid", "low": "1", "high": "2", "because": "so"},
    }
    rows[table] = [good[table] | change]
    assert any(words in str(issue) for issue in shop_issues(rows))


# ------------------------------------------------------------- a fault of something that is not there


def test_a_fault_of_what_a_template_has_not_is_warned_of_and_never_passed_over(shop: Shop) -> None:
    """The neck pickup of a bass whose usual kind has none was dead, and nobody heard of it: every template and row."""
    there, not_there = 0, 0
    for template in shop.intake[TEMPLATE].choices:
        for row in shop.faults:
            if not row.when.startswith("has-"):
                continue
            bad = row.words[0] if row.reads == "is" else "0"
            value = {"yes": "true", "no": "false"}.get(bad, f'"{bad}"' if row.reads == "is" else bad)
            kind = "bass-solid" if template.startswith("bass") else "guitar-solid"
            usual = "" if template == "none" else f'template = "{template}"'
            job = job_of(shop, f"{usual}\n{row.field} = {value}\n", kind)
            found = row.fault in {fault.fault for fault in faults_of(shop.faults, job.instrument)}
            warned = any(issue.problem.startswith(f"{row.what}, but") for issue in job.issues)
            assert found != warned, (template, row.fault)
            there += found
            not_there += warned
    assert min(there, not_there) > 20, (there, not_there)


def test_what_is_there_or_reads_well_is_no_doubt(shop: Shop) -> None:
    assert not told(shop, "dc_ohm_neck = 0")
    assert not told(shop, 'pu_neck = "none"\ndc_ohm_neck = 6.5')
    [issue] = told(shop, 'pu_neck = "none"\ndc_ohm_neck = 0')
    assert "no neck pickup" in issue.problem
