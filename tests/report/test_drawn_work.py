"""All that fit bores, cuts or glues is drawn or named as not drawn; the marks on paper are those that were counted."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest

from estimator.fit.judge import judge_job
from estimator.input.job.load import job_from
from estimator.model import Demand, Job, Shop, Upgrade
from estimator.report.drawings import Drawn, RoutPlan, drawn_of
from estimator.report.hole_plans import HolePlan, bit_words, letters, rows_of
from estimator.report.svg.fit import drawing, head_of, template_page
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import drawn, example, the_shop

D = Decimal
SVG = "{http://www.w3.org/2000/svg}"
#: words of tasks that change wood or plastic for good; each has to have its row in the table
FOR_GOOD = (
    "plug-",
    "drill-",
    "ream-",
    "bush-",
    "route-",
    "shim-",
    "enlarge-",
    "fit-neck-inserts",
    "open-guard-slot",
    "fit-string-ferrules",
    "fit-two-post-bushings",
    "block-tremolo",
    "repair-crack",
    "contour-",
    "cut-guard-blank",
    "fit-replacement-neck",
    "reshape-",
    "fit-mechanical-nut",
    "fill-nut-slot",
)
#: what is drawn wherever it is asked for and its measures are known, so that a drawing lost is noticed
DRAWN = {
    ("drill-hole", "bridge-holes"),
    ("plug-hole", "bridge-holes"),
    ("plug-small-hole", "bridge-holes"),
    ("fit-two-post-bushings", "bridge-posts"),
    ("plug-hole", "bridge-posts"),
    ("ream-tuner-hole", "tuner-holes"),
    ("ream-tuner-hole", "tuner-holes-back"),
    ("bush-tuner-hole", "tuner-holes"),
    ("plug-hole", "tuner-holes"),
    ("drill-hole", "tuner-holes"),
    ("plug-small-hole", "tuner-screws"),
    ("drill-hole", "tuner-screws"),
    ("drill-string-through", "string-holes"),
    ("fit-string-ferrules", "string-holes"),
    ("drill-neck-ferrules", "heel"),
    ("fit-neck-inserts", "heel"),
    ("drill-hole", "switch"),
    ("enlarge-control-hole", "pot-holes"),
    ("enlarge-control-hole", "jack"),
    ("route-cavity", "pickup-neck"),
    ("route-cavity", "pickup-middle"),
    ("route-cavity", "pickup-bridge"),
    ("route-cavity", "battery"),
    ("enlarge-tremolo-cavity", "tremolo-cavity"),
    ("repair-crack", "tremolo-cavity"),
    ("shim-nut", ""),
    ("fit-replacement-neck", ""),
}


def largest(demands: tuple[Demand, ...]) -> dict[tuple[str, str], Decimal]:
    """The table's left side, worked out apart from the drawings: at one place the largest demand counts."""
    asked: dict[tuple[str, str], Decimal] = {}
    for demand in demands:
        if demand.task.startswith(FOR_GOOD):
            key = (demand.task, demand.place)
            asked[key] = max(asked.get(key, D(0)), demand.quantity)
    return asked


def differences(found: Drawn, asked: dict[tuple[str, str], Decimal]) -> list[str]:
    """Where what is asked for is neither drawn nor named, or more is drawn than asked for."""
    shown: Counter[tuple[str, str]] = Counter()
    for plan in found.plans.values():
        shown.update(plan.shown())  # type: ignore[arg-type]
    named = {(gap.task, gap.place): gap.amount for gap in found.not_drawn}
    wrong = [f"{key}: {shown[key]} drawn, nothing asked" for key in shown if key not in asked]
    for key, amount in asked.items():
        if shown[key] + named.get(key, D(0)) != amount or named.get(key, D(1)) <= 0:
            wrong.append(f"{key}: asked {amount}, drawn {shown[key]}, named {named.get(key, 0)}")
    return wrong


def judged(shop: Shop, job: Job) -> list[tuple[Upgrade, tuple[Demand, ...]]]:
    return [(v.upgrade, v.demands) for v in judge_job(shop, job) if v.outcome != "does-not-fit"]


def table_of(seeds: range) -> tuple[int, set[tuple[str, str]], list[str]]:
    compared, drawn_somewhere, wrong = 0, set(), []
    for seed in seeds:
        shop, job = drawn(seed)
        for upgrade, demands in judged(shop, job):
            asked = largest(demands)
            if not asked:
                continue
            found = drawn_of(shop, job, upgrade)
            compared += len(asked)
            drawn_somewhere |= {key for plan in found.plans.values() for key in plan.shown()}
            wrong += [f"seed {seed}, {upgrade.id}: {one}" for one in differences(found, asked)]
            wrong += [
                f"seed {seed}, {upgrade.id}: {plan.title} takes nothing out"
                for plan in found.plans.values()
                if isinstance(plan, RoutPlan) and not plan.volume
            ]
    return compared, drawn_somewhere, wrong


def test_nothing_that_is_bored_cut_or_glued_is_left_out() -> None:
    compared, _, wrong = table_of(range(4))
    assert wrong == []
    assert compared > 100


@pytest.mark.slow
def test_the_same_for_many_instruments() -> None:
    compared, drawn_somewhere, wrong = table_of(range(4, 70))
    assert wrong == []
    assert compared > 2000
    assert drawn_somewhere >= DRAWN


def test_every_task_that_changes_wood_for_good_has_its_row() -> None:
    shop = the_shop()
    without = [task for task in shop.tasks if task.startswith(FOR_GOOD) and shop.drawn.of(task, "") is None]
    assert without == []


def test_the_marks_on_paper_are_the_ones_counted() -> None:
    """Circles of the picture against the hole test, by what they stand for."""
    shop, job = the_shop(), example("tight-commission")
    seen: Counter[str] = Counter()
    for upgrade, _ in judged(shop, job):
        for plan in drawn_of(shop, job, upgrade).plans.values():
            if not isinstance(plan, HolePlan):
                continue
            marks = Counter(c.get("data-mark") for c in ET.fromstring(drawing(plan)).iter(f"{SVG}circle"))
            test = plan.test
            assert marks["old plugged"] == len(test.plugged), upgrade.id
            assert marks["old kept"] == test.old.count("kept")
            assert marks["old left"] == test.left
            drilled = sum(n for mark, n in marks.items() if mark and mark.startswith("new "))
            assert drilled == test.drilled
            assert len(rows_of(plan)) == len(test.existing) + test.drilled
            seen.update(old=len(test.existing), new=drilled)
    assert seen["old"] > 50
    assert seen["new"] > 50


def test_what_nobody_measured_is_dashed_under_a_banner() -> None:
    """A hardtail on a body whose screws were not measured, and the same measured, on a part with stated sizes."""
    shop, job = the_shop(), example("tight-commission")
    (upgrade,) = (u for u, _ in judged(shop, job) if u.id == "hardtail-bridge-standard")
    assumed = drawn_of(shop, job, upgrade).plans["holes"]
    said = drawing(assumed, head_of(job))
    assert "Do not drill or cut from this: measure" in said
    assert "outer screw or post centres" in " ".join(assumed.assumed)
    assert 'stroke-dasharray="1.2 0.8" data-mark="new' in said
    known = HolePlan(assumed.title, assumed.test, line="screw row", from_nut=D(648))  # type: ignore[union-attr]
    said = drawing(known, head_of(job))
    assert "Do not drill" not in said
    assert 'stroke-dasharray="1.2 0.8" data-mark' not in said
    assert "648 mm from the nut" in said
    assert "job tight-commission, 2026-10-05" in said


def test_bits_in_both_measures() -> None:
    """By hand: 2.28 mm is 5.75 sixty-fourths, so 6/64 = 3/32 in = 2.38 mm; 10 mm is 25.2, so 25/64 in = 9.92 mm;
    25.4 mm is an inch; 0.1 mm is no bit in inches.
    """
    assert bit_words(D("2.28")) == "2.3 mm or 3/32 in (2.38)"
    assert bit_words(D(10)) == "10 mm or 25/64 in (9.92)"
    assert bit_words(D("25.4")) == "25.4 mm or 1 in (25.4)"
    assert bit_words(D("31.75")) == "31.8 mm or 1 1/4 in (31.75)"
    assert bit_words(D("0.1")) == "0.1 mm"
    assert [letters(n) for n in (0, 25, 26, 27)] == ["A", "Z", "AA", "AB"]


def test_a_page_names_what_it_does_not_draw() -> None:
    shop, job = the_shop(), example("tight-commission")
    (upgrade,) = (u for u, _ in judged(shop, job) if u.id == "hidden-chamber")
    found = drawn_of(shop, job, upgrade)
    assert found.plans == {}
    page = template_page(job, [(upgrade.what, found)])
    assert "Not drawn" in page
    assert "chamber under the guard (150; under guard): draw it inside the guard" in page


def test_a_cavity_that_is_large_enough_is_not_drawn() -> None:
    """The usual control cavity of a bass, 110 x 45 x 38 mm, takes a preamp as it is: no wood, no drawing of it."""
    text = b'[job]\nid = "a"\nkind = "own"\n[instrument]\nkind = "bass-solid"\nstring_n = 5\n'
    job = job_from(parse_toml(text, "a.toml"), the_shop())
    (upgrade,) = (u for u, _ in judged(the_shop(), job) if u.id == "bass-preamp-economy")
    plans = drawn_of(the_shop(), job, upgrade).plans.values()
    assert [plan.place for plan in plans if isinstance(plan, RoutPlan)] == []
