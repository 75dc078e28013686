"""What drives an estimate: shares, tornado bars, what to measure."""

from __future__ import annotations

from decimal import Decimal
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.estimate.assumed import FIELDS_OF, assumed_spreads, fields_touching
from estimator.estimate.factors import LEVEL_OF
from estimator.estimate.labour import Setting, run_line
from estimator.estimate.risk.moments import closed_form, expected_minutes
from estimator.estimate.risk.monte_carlo import simulate_work
from estimator.estimate.risk.sensitivity import (
    Values,
    advice,
    field_bars,
    line_bars,
    measuring_gains,
    shares,
)
from estimator.estimate.three_point import joint_sd
from estimator.estimate.work_list import neutral_setting, price_work
from estimator.fit.otherwise import Value, could_be
from estimator.model import Budget, Demand, Job, Reading
from tests.estimate.jobs import work
from tests.estimate.risk.curves import closed_form_of_times
from tests.estimate.test_work_list import BASS, BLOCKS
from tests.shops import default_shop

SHOP = default_shop()
LINES = price_work(neutral_setting(SHOP), work(BASS)).lines


def bench_job(**values: object) -> Job:
    """A job on an instrument with every intake field at a stated value, measured unless told by a tuple."""
    readings = {}
    for name, value in values.items():
        known, assumed = value if isinstance(value, tuple) else (value, False)
        readings[name] = Reading(known, assumed)
    nothing: MappingProxyType[str, Reading] = MappingProxyType({})
    return Job(
        id="bench",
        kind="own",
        what="",
        customer="",
        received="",
        wanted_by="",
        instrument=readings,
        found_levels=nothing,
        requirements=(),
        profile="",
        weights={},
        budget=Budget(),
        parts={},
        open=(),
        required=(),
        refused=(),
        stock={},
    )


def setting_for(job: Job, widen: bool = True) -> Setting:
    return replace(neutral_setting(SHOP), instrument=job.instrument, widen_assumed=widen)


# --- shares


@pytest.mark.parametrize("cause", ["0", "0.2", "1"])
def test_shares_of_mean_and_variance_add_to_a_hundred(cause: str) -> None:
    shop = replace(SHOP, terms=replace(SHOP.terms, shared_cause=Decimal(cause)))
    found = shares(LINES, shop)
    assert sum(s.mean_pct for s in found) == pytest.approx(100)
    assert sum(s.variance_pct for s in found) == pytest.approx(100)
    assert [s.variance_pct for s in found] == sorted((s.variance_pct for s in found), reverse=True)
    assert sum(s.minutes for s in found) == pytest.approx(expected_minutes(LINES))


def test_a_variance_share_is_what_a_small_change_of_that_line_does() -> None:
    """Euler: share_i = d(ln sd) / d(ln line i), its time, rework and hidden faults together."""
    runs = [line for line in LINES if line.sd]
    by_line = {(s.task, s.place): s.variance_pct for s in shares(runs, SHOP)}

    def spread(changed: int, by: float) -> float:
        size = [1 + by if i == changed else 1.0 for i in range(len(runs))]
        return joint_sd(
            [line.sd * s for line, s in zip(runs, size, strict=True)],
            0.2,
            [line.rework_sd * s for line, s in zip(runs, size, strict=True)],
            sum(line.allowance * s for line, s in zip(runs, size, strict=True)) / 100,
        )

    step = 1e-6
    assert any(line.rework_sd for line in runs)
    for i, line in enumerate(runs):
        slope = (spread(i, step) - spread(i, -step)) / (2 * step * spread(i, 0.0))
        assert by_line[line.task, line.place] == pytest.approx(100 * slope, rel=1e-5)


def test_shares_of_nothing() -> None:
    assert shares([], SHOP) == ()
    certain = [replace(line, allowance=0) for line in LINES if line.sd == 0][:2]
    assert [s.variance_pct for s in shares(certain, SHOP)] == [0.0, 0.0]


# --- bars of lines


def test_a_line_bar_is_the_line_at_its_readings_and_the_rest_at_its_mean() -> None:
    bars = line_bars(LINES, 60.0, 10_000, most=50)
    mean = expected_minutes(LINES)
    runs = {line.task: line for line in LINES if line.sd}
    assert {bar.name for bar in bars} == set(runs)
    for bar in bars:
        line = runs[bar.name]
        assert bar.low_minutes == pytest.approx(mean - line.minutes / 100 + float(line.low), abs=0.01)
        assert bar.high_minutes == pytest.approx(mean - line.minutes / 100 + float(line.high), abs=0.01)
        assert bar.high_cents - bar.low_cents == pytest.approx(100 * bar.swing, abs=1.01)
    assert [bar.swing for bar in bars] == sorted((bar.swing for bar in bars), reverse=True)
    assert len(line_bars(LINES, 60.0, 0)) == 10


# --- assumed values


def test_every_factor_code_knows_its_field() -> None:
    """A factor that takes its level from an intake field widens when that field is assumed."""
    fixed = {"NMECH", "SG", "FT.colour"}
    for code in set(LEVEL_OF) - fixed:
        fields = FIELDS_OF.get(code, FIELDS_OF.get(code.split(".")[0], ()))
        assert fields, f"{code} names no field"
        assert set(fields) <= set(SHOP.intake)


def test_assumed_values_widen_and_measured_ones_do_not() -> None:
    task = SHOP.tasks["remove-neck"]
    demand = Demand(task.id, "", Decimal(1), "")
    assumed = bench_job(corrosion=("dirty", True))
    measured = bench_job(corrosion="dirty")
    wide = run_line(task, demand, setting_for(assumed))
    plain = run_line(task, demand, setting_for(measured))
    spread = SHOP.intake["corrosion"].spread
    assert spread > 0
    assert wide.rests_on == (("corrosion", spread),)
    assert wide.sd == pytest.approx(plain.sd * float(1 + spread))
    assert plain.rests_on == ()
    assert plain.widening == 1
    # the mean, the three sums and the money stay as they are
    assert (wide.minutes, wide.low, wide.likely, wide.high) == (
        plain.minutes,
        plain.low,
        plain.likely,
        plain.high,
    )
    assert wide.money == plain.money


def test_a_setting_that_does_not_widen_looks_nothing_up() -> None:
    task = SHOP.tasks["remove-neck"]
    job = bench_job(corrosion=("dirty", True))
    line = run_line(task, Demand(task.id, "", Decimal(1), ""), setting_for(job, widen=False))
    assert (line.widening, line.rests_on) == (1, ())


def test_work_that_names_its_level_does_not_rest_on_the_old_part() -> None:
    task = SHOP.tasks["shape-nut"]
    old = Demand(task.id, "", Decimal(1), "")
    new = Demand(task.id, "", Decimal(1), "", levels={"NM": "bone"})
    assert "nut_mat" in fields_touching(task, old)
    assert "nut_mat" not in fields_touching(task, new)


def test_a_quantity_rests_on_the_fields_it_is_worked_out_from() -> None:
    task = SHOP.tasks["shield-cavity-paint"]
    demand = Demand(task.id, "", Decimal(520), "", rests_on=("cav_skin_cm2",))
    job = bench_job(cav_skin_cm2=(Decimal(520), True))
    spread = SHOP.intake["cav_skin_cm2"].spread
    assert assumed_spreads(task, demand, SHOP, job.instrument) == (("cav_skin_cm2", spread),)


@settings(max_examples=30, deadline=None)
@given(st.sets(st.sampled_from(["corrosion", "board_rad", "fret_uneven", "hump", "rod_ok", "access"])))
def test_measuring_never_widens_and_measuring_all_takes_all_widening_away(assumed: set[str]) -> None:
    values = {
        "corrosion": "dirty",
        "board_rad": Decimal(305),
        "fret_uneven": Decimal("0.06"),
        "hump": Decimal("0.05"),
        "rod_ok": "works",
        "access": "guard-mounted",
    }
    job = bench_job(**{n: (v, n in assumed) for n, v in values.items()})
    lines = price_work(setting_for(job), work(BLOCKS["f"] + "; adjust-truss-rod; fit-jack")).lines
    none = price_work(setting_for(job, widen=False), work(BLOCKS["f"] + "; adjust-truss-rod; fit-jack")).lines
    gains = measuring_gains(lines, SHOP)
    touching = {n for n in assumed if SHOP.intake[n].spread}
    assert {gain.field for gain in gains} == touching
    assert all(gain.saved > 0 for gain in gains)
    assert closed_form(lines, SHOP).sd >= closed_form(none, SHOP).sd
    assert (closed_form(lines, SHOP).sd == closed_form(none, SHOP).sd) == (not touching)
    if len(touching) == 1:
        assert gains[0].sd == pytest.approx(closed_form(none, SHOP).sd)


def test_the_simulation_draws_the_widened_spread() -> None:
    job = bench_job(corrosion=("dirty", True), fret_uneven=(Decimal("0.06"), True), hump=(Decimal(0), True))
    lines = price_work(setting_for(job), work(BLOCKS["f"])).lines
    assert any(line.widening > Decimal("1.5") for line in lines)
    drawn = simulate_work(lines, SHOP, 60.0, events=False)
    closed = closed_form_of_times(lines, SHOP)
    assert drawn.minutes.mean == pytest.approx(closed.mean, rel=0.005)
    assert drawn.minutes.sd == pytest.approx(closed.sd, rel=0.03)
    assert drawn.minutes.at(80) == pytest.approx(closed.at(80), rel=0.01)


# --- bars of fields


def might_be(job: Job) -> Values:
    """The words of a choice; see tests of ``fit.otherwise`` for the values in between."""
    kind = {"kind": Reading("guitar-solid", False)}
    job = replace(job, instrument={**kind, **job.instrument})
    return lambda name: tuple(v for v in could_be(SHOP.intake[name], job) if not isinstance(v, tuple))


def test_values_that_a_field_might_have() -> None:
    job = bench_job(
        corrosion=("dirty", True),
        br_type=("hardtail", True),
        cav_skin_cm2=(Decimal(500), True),
        stuck_n=(Decimal(0), True),
    )
    assert might_be(job)("corrosion") == SHOP.intake["corrosion"].choices
    assert might_be(job)("br_type") == ()  # seen at a glance
    assert might_be(job)("cav_skin_cm2") == (Decimal(250), Decimal(900))
    assert might_be(job)("stuck_n") == (Decimal(0), Decimal(4))


def test_bars_of_assumed_fields_come_from_pricing_the_job_anew() -> None:
    job = bench_job(
        corrosion=("dirty", True), rod_ok=("works", True), fret_mat="nickel-silver", nut_seat=("flat", True)
    )
    asked: list[str] = []

    def reprice(name: str, value: Value) -> tuple[float, int] | None:
        state = str(value) if name == "corrosion" else str(job.instrument["corrosion"].value)
        asked.append(state)
        if state == "seized":
            return None
        minutes = {"clean": 90.0, "dirty": 100.0, "corroded": 130.0}[state]
        return minutes, round(minutes * 100)

    bars = field_bars(job, SHOP, ["corrosion", "rod_ok", "fret_mat", "missing"], reprice, might_be(job))
    assert [bar.name for bar in bars] == ["corrosion"]
    bar = bars[0]
    assert (bar.low_at, bar.high_at) == ("clean", "corroded")
    assert (bar.low_minutes, bar.high_minutes, bar.swing) == (90.0, 130.0, 40.0)
    assert bar.note == "cannot be done with seized"
    assert set(asked) == set(SHOP.intake["corrosion"].choices)


def test_advice_is_a_sentence_a_bench_worker_can_follow() -> None:
    job = bench_job(corrosion=("dirty", True), fret_uneven=(Decimal("0.06"), True))
    lines = price_work(setting_for(job), work(BLOCKS["f"])).lines
    bars = field_bars(
        job,
        SHOP,
        ["corrosion"],
        lambda _, value: (90.0 if value == "clean" else 130.0, 0),
        might_be(job),
    )
    sentences = advice(lines, SHOP, bars)
    assert all(sentence.startswith("to be surer, ") for sentence in sentences)
    assert any("measure fret_uneven" in s and "the 80 % point falls by" in s for s in sentences)
    assert any("settle corrosion: 90 min if it is clean" in s for s in sentences)
    assert sentences[-1].startswith("to be surer, do level-frets first")
    assert advice([], SHOP) == ()
