"""The standing check of the rates: well-known jobs, summed by hand from the same readings.

The expected figures were worked out on paper from the task times (basis: memory, by an experienced
hand); they check the arithmetic of set-up, share, factors, three-point means, rework, the hidden-fault
allowance, the spread with a shared cause, and wear by use.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest
from msgspec.structs import replace

from estimator.estimate.work_list import customer_adds, known_job_sums, sense_issues
from estimator.model import Shop
from tests.estimate.risk.curves import closed_form_of_times
from tests.shops import default_shop

# job: low, likely, high sums; mean; 80 % point; consumables without strings; tool wear
EXPECTED = {
    "setup-hardtail": (46, 66, 103, 71, 87, "1.41", "0.28"),
    "setup-six-screw-trem": (60, 87, 141, 95, 117, "1.57", "0.29"),
    "setup-locking-trem": (70, 104, 171, 114, 142, "1.57", "0.29"),
    "level-crown-polish": (99, 152, 242, 163, 204, "4.90", "0.81"),
    "refret-nickel-silver": (235, 358, 584, 389, 480, "8.77", "3.17"),
    "refret-stainless": (303, 470, 770, 510, 629, "11.89", "7.02"),
    "bone-nut": (40, 60, 104, 67, 88, "1.44", "0.41"),
    "ready-cut-nut": (26, 40, 73, 46, 61, "1.02", "0.15"),
    "pickup-two-wire": (30, 42, 66, 46, 57, "1.54", "0.17"),
    "humbuckers-four-wire": (48, 67, 106, 73, 93, "3.08", "0.40"),
    "harness-five-parts": (70, 100, 156, 108, 132, "2.47", "0.53"),
    "tuners-drop-in": (14, 20, 30, 21, 28, "0.60", "0.32"),
    "tuners-plug-and-ream": (37, 55, 86, 59, 78, "1.02", "1.13"),
    "shield-cavity-and-guard": (69, 97, 148, 104, 127, "14.01", "0.34"),
    "six-screw-to-two-post": (126, 179, 280, 194, 243, "2.91", "1.41"),
    "neck-ferrules-and-heel": (68, 102, 156, 108, 142, "1.77", "0.48"),
    "neck-inserts": (39, 55, 88, 60, 81, "0.21", "0.74"),
    "guard-from-blank": (86, 123, 200, 135, 176, "1.58", "2.19"),
    "aerosol-refinish": (396, 610, 1024, 670, 853, "139.11", "4.64"),
}

#: bone wears the nut files by its own factor, which the paper sum left out
WITH_NUT_WEAR = {"bone-nut": "0.51"}


#: the paper sums of set-ups held a final check, which is not part of what shops call a set-up
WITH_FINAL_CHECK = ("setup-hardtail", "setup-six-screw-trem", "setup-locking-trem")


def as_on_paper(shop: Shop, job: str) -> Shop:
    """The shop with the work of the job as the paper sum had it."""
    if job not in WITH_FINAL_CHECK:
        return shop
    work = shop.known_job_work[job]
    check = replace(work[0], task="final-check", levels={})
    return replace(shop, known_job_work={**shop.known_job_work, job: (*work, check)})


def same_minute(ours: Decimal, paper: int) -> bool:
    """Equal to the minute; paper halves were rounded to the even minute."""
    return abs(ours - paper) <= Decimal("0.51")


@pytest.mark.slow
@pytest.mark.parametrize("job", sorted(EXPECTED))
def test_minutes_and_wear_of_a_known_job(job: str) -> None:
    shop = as_on_paper(default_shop(), job)
    sums = known_job_sums(shop, shop.known_jobs[job])
    low, likely, high, mean, surety, consumables, tools = EXPECTED[job]

    assert same_minute(sums.low, low)
    assert same_minute(sums.likely, likely)
    assert same_minute(sums.high, high)
    assert same_minute(sums.mean, mean)
    # the paper's 80 % point: rework and hidden faults at their means, the factor of the printed normal table
    times = closed_form_of_times(sums.lines, shop)
    assert same_minute(Decimal(times.mean + 0.84 * times.sd), surety)
    cent = Decimal("0.01")
    # paper sums were cut from more places; a half cent may have gone either way
    assert abs(sums.consumables - Decimal(consumables)) <= cent / 2 + Decimal("0.0006")
    expected_tools = Decimal(WITH_NUT_WEAR.get(job, tools))
    assert abs(sums.tools.quantize(cent, ROUND_HALF_UP) - expected_tools) <= cent * (
        sums.tools % cent == Decimal("0.005") or abs(sums.tools - expected_tools) <= Decimal("0.0055")
    )


def test_every_known_job_is_checked() -> None:
    assert set(default_shop().known_jobs) == set(EXPECTED)


def test_the_rates_make_sense() -> None:
    shop = default_shop()
    assert list(sense_issues(shop)) == []
    for job in shop.known_jobs.values():
        assert job.low_min <= known_job_sums(shop, job).mean <= job.high_min, job.id


def test_the_mean_of_a_known_job_is_held_against_both_ends() -> None:
    """A cent of a minute beyond either end is told, though the likely minutes lie inside; at the end it is not."""
    shop = default_shop()
    hundredth = Decimal("0.01")
    for job in shop.known_jobs.values():
        mean = known_job_sums(shop, job).mean
        for low, high, told in (
            (Decimal(1), mean, 0),
            (Decimal(1), mean - hundredth, 1),
            (mean, Decimal(5000), 0),
            (mean + hundredth, Decimal(5000), 1),
        ):
            only = replace(shop, known_jobs={job.id: replace(job, low_min=low, high_min=high)})
            assert len(list(sense_issues(only))) == told, (job.id, low, high)


def test_a_ready_cut_nut_is_given_what_a_stubborn_old_nut_adds() -> None:
    """45 min where it comes off willingly; the mean of its reading 4, 8, 22 is 3 min above the likely one."""
    mean = Decimal("0.3") * 4 + Decimal("0.4") * 8 + Decimal("0.3") * 22
    assert default_shop().known_jobs["ready-cut-nut"].high_min == 45 + mean - 8


def test_a_customers_job_adds_the_look_at_the_bench_and_the_talk_at_the_desk() -> None:
    """By hand from the rows: a quick look, and at the desk intake, estimate, order, two updates, handover, log."""
    shop = default_shop()

    def mean(name: str, times: int = 1) -> Decimal:
        t = shop.tasks[name]
        return t.setup_min + times * (3 * t.run_min_low + 4 * t.run_min_likely + 3 * t.run_min_high) / 10

    bench, desk = customer_adds(shop)
    assert bench == pytest.approx(mean("quick-look"), abs=Decimal("0.01"))
    talk = ("client-intake", "write-estimate", "order-parts", "handover", "log-job")
    assert desk == pytest.approx(mean("client-update", 2) + sum(map(mean, talk)), abs=Decimal("0.06"))
