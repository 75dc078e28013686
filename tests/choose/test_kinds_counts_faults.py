"""Instruments drawn over kinds, counts and faults: what counts strings, tuners or screws has their count, sets
of strings are never a multiple of another, and no fault is passed over."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.faults import faults_found, is_limit
from estimator.choose.study import study_job
from estimator.choose.verify.choice import levels_reached
from estimator.cli.main import run
from estimator.fit.triage import triage
from estimator.input.job.load import job_from
from estimator.model import Fault, Job, Reading, Shop
from estimator.tables.conditions import holds
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

D = Decimal
#: what a set of strings of the shop holds, counted here once more
SETS = {
    "c-strings-guitar": ("guitar", 6),
    "c-strings-guitar-7": ("guitar", 7),
    "c-strings-guitar-12": ("guitar", 12),
    "c-strings-bass": ("bass", 4),
    "c-strings-bass-5": ("bass", 5),
    "c-strings-bass-6": ("bass", 6),
}
COUNTS = {"guitar": (6, 7, 8, 12), "bass": (4, 5, 6, 3)}


@cache
def the_shop() -> Shop:
    return default_shop()


def templates() -> tuple[str, ...]:
    return tuple(name for name in the_shop().intake["template"].choices if name != "none")


def job_of(template: str, **readings: object) -> Job:
    lines = "\n".join(f"{name} = {value}" for name, value in readings.items())
    text = f'[job]\nid = "one"\nkind = "resale"\n[instrument]\ntemplate = "{template}"\ntier = "C"\nbase_clean = 400\n{lines}'
    return job_from(parse_toml(text.encode(), "one.toml"), the_shop())


def bad_value(fault: Fault, chance: random.Random) -> object:
    if fault.reads == "present":
        return "knob"
    if fault.reads == "is":
        word = chance.choice(fault.words)
        return {"yes": True, "no": False}.get(word, word)
    step = D(chance.choice((1, 2))) if the_shop().intake[fault.field].kind == "count" else D("0.05")
    return D(fault.bad) + (-step if fault.reads == "below" else step)


def wrong(seed: int) -> Iterator[str]:
    """What is wrong with what the commands say of one drawn instrument."""
    chance, shop = random.Random(seed), the_shop()
    template = chance.choice(templates())
    family = template.partition("-")[0]
    own = chance.random() < 0.5
    strings = {"string_n": chance.choice(COUNTS[family])} if own else {}
    screws = {"joint_screw_n": chance.choice((3, 4, 5, 6))} if chance.random() < 0.5 else {}
    job = job_of(template, **strings, **screws)
    able = [f for f in shop.faults if f.field in job.instrument and holds(f.when, job.instrument)]
    # a field holds one reading, so of the faults it can show one is drawn
    drawn = chance.sample(able, chance.choice((0, 1, 2, 3)))
    faults = list({fault.field: fault for fault in drawn}.values())
    readings = {**job.instrument, **{f.field: Reading(bad_value(f, chance), False) for f in faults}}  # type: ignore[arg-type]
    job = replace(job, instrument=MappingProxyType(readings))
    study = study_job(shop, job)
    said = f"{seed}: {template} {strings} {screws} {[f.fault for f in faults]}"
    count, joint = job.instrument["string_n"].value, job.instrument["joint_screw_n"].value
    for verdict in study.verdicts:
        part = verdict.upgrade.part
        if part is None or verdict.outcome == "does-not-fit":
            continue
        made = {name: part.dims.get(name, count) for name in ("string_n", "tuner_n")}
        if any(value != count for value in made.values()):
            yield f"{said}: {verdict.upgrade.id} fits {made}"
        if part.part_class in ("p-neckplate", "p-ferrule4", "p-insert4") and part.dims["screw_n"] != joint:
            yield f"{said}: {verdict.upgrade.id} has {part.dims['screw_n']} screws"
    uses = [u for line in study.costing.estimate(("new-strings",)).lines for u in line.consumables]
    strung = {u.id: u.quantity for u in uses if u.id.startswith("c-string")}
    whole = next((name for name, of in SETS.items() if of == (family, count)), f"c-string-{family}-single")
    wants = D(1) if whole in SETS else count
    if list(strung) != [whole] or abs(strung[whole] - wants) > D("0.001"):
        yield f"{said}: strung with {strung}"
    levels = levels_reached(study.problem, ())
    told = {field for f in faults_found(study) for field in (f.shown.split()[0],)}
    checks = triage(job.instrument, resale=D(300), pay_per_hour=D(40), neck_price=D(100), faults=shop.faults)
    for fault in faults:
        if not holds(fault.when, job.instrument):
            continue
        if levels[fault.attribute] > fault.level * 10:
            yield f"{said}: {fault.attribute} stands at {levels[fault.attribute]}"
        if fault.field not in told and not is_limit(fault):
            yield f"{said}: {fault.fault} is told of nowhere"
    if faults and checks.outcome not in ("lower", "walk-away"):
        yield f"{said}: triage says {checks.outcome}"


@pytest.mark.slow
@pytest.mark.parametrize("start", [0, 20])
def test_counts_are_kept_and_faults_told(start: int) -> None:
    assert not [words for seed in range(start, start + 20) for words in wrong(seed)]


@pytest.mark.slow
def test_every_template_makes_a_job_file_that_reads(tmp_path, capsys: pytest.CaptureFixture[str]) -> None:
    for template in templates():
        file = tmp_path / f"{template}.toml"
        assert run(["new", str(file), "--kind", template, "--for", "set-up"]) == 0
        assert run(["check", str(file), "--strict"]) == 0
        assert f'template = "{template}"' in file.read_text()
    capsys.readouterr()


def test_a_template_is_assumed_and_what_is_measured_goes_before_it() -> None:
    job = job_of("bass-5-soap", str_spread=78)
    assert job.is_bass
    assert job.instrument["string_n"] == replace(job.instrument["string_n"], value=D(5), assumed=True)
    assert (job.instrument["str_spread"].value, job.instrument["str_spread"].assumed) == (D(78), False)
    assert job.instrument["tuner_n"].value == 5


@pytest.mark.parametrize("template", ["guitar-7-bolt", "guitar-12-bolt", "bass-5-soap", "bass-6-soap"])
def test_the_tables_have_parts_of_every_count(template: str) -> None:
    """Nuts, tuners, saddles, a bridge and pickups of the right count fit an instrument of the usual sizes."""
    fitting = {
        verdict.upgrade.row.part_class
        for verdict in study_job(the_shop(), job_of(template)).verdicts
        if verdict.outcome != "does-not-fit"
    }
    bass = template.startswith("bass")
    wanted = {"p-nutcut", "p-tunerb4" if bass else "p-tuner6", "p-saddles", "p-neckplate"}
    wanted |= (
        {"p-bassbridge", "p-basspu"} if bass else {"p-hardtail", "p-hum" if "7" in template else "p-single"}
    )
    assert wanted <= fitting


def test_the_recheck_counts_strings_by_itself() -> None:
    """A chosen set of every count is held against the rows once more (see ``choose.verify.rows``)."""
    from estimator.choose.study import make_choice_of

    for template, count in (
        ("guitar-7-bolt", 7),
        ("guitar-12-bolt", 12),
        ("bass-5-soap", 5),
        ("bass-4-split", 3),
    ):
        make_choice_of(study_job(the_shop(), job_of(template, string_n=count)), ("new-strings",))
