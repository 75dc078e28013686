"""Lengths on the screens of the bench: mm in a metric shop, inches where the trade reads inches; JSON stays mm."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.faults import faults_of_job
from estimator.choose.questions.measure_next import MeasuringAdvice, WorthMeasuring
from estimator.choose.study import make_choice_of, study_job
from estimator.core.units import lengths_as_read
from estimator.estimate.risk.look_ahead import look_ahead
from estimator.estimate.risk.sensitivity import Bar, advice
from estimator.fit.judge import judge_job
from estimator.fit.short_names import numbers_of
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.report.record import as_data
from estimator.report.records.risk import MeasureAnswer
from estimator.report.text import brief, measuring, risk, triage
from estimator.report.text import choice as choice_text
from tests.shops import default_shop

JOBS = Path(__file__).resolve().parents[2] / "example_jobs"
SHOPS = ("mm", "in")
LENGTH = re.compile(r"\d mm\b")


NUT = WorthMeasuring(
    "nut_spread",
    "outer strings at the nut",
    "caliper",
    "35.5 mm",
    "33 mm",
    Decimal("0.05"),
    548,
    27,
    "another set would be best",
    Decimal(33),
    (),
)
ROUT = WorthMeasuring(
    "tcav_len",
    "length of the cavity",
    "caliper, 0.5 mm is enough",
    "76 mm",
    "70.5 mm",
    Decimal("0.1"),
    500,
    50,
    "no longer fits: the cavity is 5.5 mm short",
    Decimal("70.5"),
    (),
)


@pytest.fixture(scope="module")
def shops() -> Mapping[str, Shop]:
    shop = default_shop()
    return {shown: replace(shop, terms=replace(shop.terms, lengths=shown)) for shown in SHOPS}


def words_of(screen: str) -> str:
    """A screen without the rules and the room of its tables."""
    return " ".join(screen.replace("─", "").split())


def same(said: Mapping[str, str]) -> None:
    """One screen is the other with every length as it is read there, and there are some."""
    metric, inch = (words_of(said[shown]) for shown in SHOPS)
    assert LENGTH.search(metric)
    assert not LENGTH.search(inch)
    assert inch == lengths_as_read(metric, "in")


@pytest.mark.slow
def test_fit(shops: Mapping[str, Shop], capsys: pytest.CaptureFixture[str]) -> None:
    said: dict[str, dict[str, str]] = {"brief": {}, "full": {}, "working": {}}
    for shown, shop in shops.items():
        job = load_job(JOBS / "short-scale-bass.toml", shop)
        verdicts, faults = judge_job(shop, job, ()), faults_of_job(shop, job)
        rows = choice_text.FitRows(verdicts, numbers_of(shop, job))
        brief.show_fit(verdicts, faults, shop, ())
        said["brief"][shown] = capsys.readouterr().out
        choice_text.show_fit(job, rows, False, faults, shop)
        said["full"][shown] = capsys.readouterr().out
        choice_text.show_fit(job, rows, True, faults, shop)
        said["working"][shown] = capsys.readouterr().out
    same(said["brief"])
    same(said["full"])
    assert not re.search(r"\d in [(\[]", said["working"]["mm"])
    # a working is arithmetic in mm: the values under it have their mm beside them
    values = re.findall(r"(?m)^ +\w[\w.]* = (.*) \((?:assumed|measured)\)$", said["working"]["in"])
    lengths = [value for value in values if re.search(r" (mm|in)\b", value)]
    assert lengths
    assert all(re.fullmatch(r"-?[\d.]+ in \(-?[\d.]+ mm\)", value) for value in lengths)


def test_triage(shops: Mapping[str, Shop], capsys: pytest.CaptureFixture[str]) -> None:
    said = {}
    for shown, shop in shops.items():
        job = load_job(JOBS / "short-scale-bass.toml", shop)
        twisted = replace(job.instrument["twist"], value=shop.intake["twist"].hard_high, assumed=False)
        job = replace(job, instrument={**job.instrument, "twist": twisted})
        triage.show(shop, job, triage.triage_of(shop, job, {}))
        said[shown] = capsys.readouterr().out
    same(said)


@pytest.mark.slow
def test_estimate_measure_and_risk(shops: Mapping[str, Shop], capsys: pytest.CaptureFixture[str]) -> None:
    said: dict[str, dict[str, str]] = {"choose": {}, "measure": {}, "full": {}, "risk": {}}
    data = []
    found = make_choice_of(
        study_job(shops["mm"], load_job(JOBS / "tight-commission.toml", shops["mm"])),
        ("level-crown-polish",),
    )
    chosen = found.estimate.chosen
    looked = MeasuringAdvice((NUT, ROUT), 2, ())
    ahead = look_ahead(found.study.costing, chosen, fields=False)
    bar = Bar("field", "nut_spread", "33", "36", 1, 2, 100, 200)
    ahead = replace(ahead, assumed=(bar,), advice=advice((), shops["mm"], (bar,)))
    for shown, shop in shops.items():
        choice = replace(found, study=replace(found.study, shop=shop))
        risk.show(choice.study, ahead, (), None)
        said["risk"][shown] = capsys.readouterr().out
        brief.show_estimate(choice.study, choice.estimate)
        said["choose"][shown] = capsys.readouterr().out
        brief.show_measuring(choice, looked)
        said["measure"][shown] = capsys.readouterr().out
        measuring.show(choice, looked)
        said["full"][shown] = capsys.readouterr().out
        data.append(json.dumps(as_data(MeasureAnswer((choice, looked))), sort_keys=True))
    assert re.search(r"nut_spread +1\.3 in .* 1\.42 in ", said["risk"]["in"])
    assert "settle nut_spread: 1 min if it is 1.3 in, 2 min if it is 1.42 in." in said["risk"]["in"]
    wire = {
        shown: re.search(r"fret wire +(\d+) +(mm|in) .*", text) for shown, text in said.pop("risk").items()
    }
    assert wire["mm"]
    assert wire["in"]
    assert (wire["mm"][2], wire["in"][2]) == ("mm", "in")
    assert abs(int(wire["in"][1]) * 25.4 - int(wire["mm"][1])) <= 0.5 * 25.4 + 0.5
    assert "3 mm over at either end" in wire["mm"][0]
    assert "0.118 in over at either end" in wire["in"][0]
    for screens in said.values():
        if LENGTH.search(screens["mm"]):
            same(screens)
    assert LENGTH.search(said["full"]["mm"])
    assert data[0] == data[1]
    assert " mm" in data[0]
