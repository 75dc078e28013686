"""An answer otherwise moves the defaults that depend on it, and no other, wherever it is asked what then."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal

import pytest

from estimator.choose.study import make_choice, study_job
from estimator.choose.tools import make_named_or_best
from estimator.estimate.new_job import default_job
from estimator.estimate.risk.look_ahead import assumed_bars
from estimator.fit.otherwise import Following, Otherwise, Value, could_be
from estimator.input.job.load import job_from
from estimator.model import IntakeField, Job
from estimator.tables.intake import COUNTED, KIND, PART_OF, TEMPLATE, movers
from estimator.tables.likely import is_open
from estimator.tables.quantities import NUMBER_KINDS, UNKNOWN
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import toml_text
from tests.drawn_jobs import the_shop

KINDS = tuple(the_shop().intake[KIND].choices)
TEMPLATES = tuple(name for name in the_shop().intake[TEMPLATE].choices if name != "none")


def job_saying(said: dict[str, Value]) -> Job:
    """A job file that says this of the instrument, read as a job file is."""
    lines = [f"{name} = {toml_text(value)}" for name, value in said.items()]
    text = "\n".join(['[job]\nid = "j"\nkind = "own"\n[instrument]', *lines])
    return job_from(parse_toml(f"{text}\n".encode(), "j.toml"), the_shop())


def of_kind(kind: str) -> dict[str, Value]:
    return {TEMPLATE: kind} if kind in TEMPLATES else {KIND: kind}


def answers(spec: IntakeField, job: Job) -> tuple[Value, ...]:
    """Every word of a field that can be found; of a number what it may be, and of a count what the tables name beside a word."""
    if spec.choices:
        return tuple(word for word in spec.choices if word != UNKNOWN)
    if spec.kind == "yes-no":
        return (False, True)
    if spec.kind not in NUMBER_KINDS:
        return ()
    named = [
        Decimal(row.conditions[spec.id]) for row in the_shop().plausible.together if spec.id in row.conditions
    ]
    likely = could_be(spec, job) or (spec.accepted_low, spec.accepted_high)
    return tuple(dict.fromkeys(v for v in (*named, *likely) if isinstance(v, Decimal)))


Said = tuple[dict[str, Value], Job]
"""What a job file says of the instrument, and the job that it is."""


def held(saying: Said, field: str, value: Value, following: Following) -> int:
    """How many defaults move with an answer; each is as in a job file that says so."""
    said, job = saying
    anew = job_saying({**said, field: value}).instrument
    changed = following.changed(field, value).instrument
    other = {
        name: (str(changed[name].value), str(anew[name].value))
        for name in anew
        if changed[name].value != anew[name].value or changed[name].assumed != anew[name].assumed
    }
    assert not other, (said, field, str(value), other)
    before = job.instrument
    moved = {name for name in anew if name != field and anew[name].value != before[name].value}
    assert moved <= set(following.followers(field))
    return len(moved)


@pytest.mark.parametrize("kind", [*KINDS, pytest.param("template", id="templates")])
def test_every_word_that_the_tables_name_moves_what_goes_with_it(kind: str) -> None:
    """Words that move other defaults, one by one, on each kind of instrument."""
    moved = 0
    for one in TEMPLATES[:2] if kind == "template" else (kind,):
        said = of_kind(one)
        job = job_saying(said)
        following = Following(the_shop(), job)
        naming = {name for row in the_shop().plausible.together for name in row.conditions}
        for name in sorted(naming | {f for fields in COUNTED.values() for f in fields}):
            for value in answers(the_shop().intake[name], job):
                moved += held((said, job), name, value, following)
    assert moved > 50


@pytest.mark.slow
@pytest.mark.parametrize("kind", [*KINDS, *TEMPLATES])
def test_every_answer_moves_what_follows_from_it(kind: str) -> None:
    """Every word of every field, and of every number what it may be, on each kind and template."""
    said = of_kind(kind)
    job = job_saying(said)
    following = Following(the_shop(), job)
    for spec in the_shop().intake.values():
        for value in answers(spec, job):
            if spec.id not in said:
                held((said, job), spec.id, value, following)


def drawn(seed: int) -> Iterator[tuple[Said, str, Value, Following]]:
    """An instrument of any kind with some answers said, and three of the others put otherwise."""
    chance = random.Random(seed)
    said = of_kind(chance.choice((*KINDS, *TEMPLATES)))
    fresh = job_saying(said)
    # a part of an area larger than the whole is refused, and would be drawn often
    left_out = (KIND, TEMPLATE, *PART_OF)
    specs = [spec for spec in the_shop().intake.values() if spec.id not in left_out and answers(spec, fresh)]
    naming = {name for row in the_shop().plausible.together for name in row.conditions}
    words = [spec for spec in specs if spec.id in naming]
    for spec in (*chance.sample(words, chance.randint(0, 4)), *chance.sample(specs, chance.randint(0, 6))):
        said[spec.id] = chance.choice(answers(spec, fresh))
    job = job_saying(said)
    following = Following(the_shop(), job)
    left = [spec for spec in specs if spec.id not in said]
    for spec in (*chance.sample(left, 2), *[s for s in words if s.id not in said][:1]):
        yield (said, job), spec.id, chance.choice(answers(spec, job)), following


def test_an_answer_moves_the_same_beside_others_that_were_said() -> None:
    moved = [held(*case) for seed in range(25) for case in drawn(seed)]
    assert sum(1 for n in moved if n) > 12


def test_what_moves_what_is_read_from_the_tables() -> None:
    moves = movers(the_shop().intake, the_shop().plausible.together)
    for row in the_shop().plausible.together:
        for name in row.conditions:
            assert set(row.assumes) - {name} <= moves[name], row
    assert "skin_cm2" in moves["body_thk"]
    assert "foil_cm2" in moves["guard_cm2"]
    assert "shield_cm2" in moves["rout_kind"]  # by way of what a pool has in walls and floors
    assert "pickup_n" in moves["pu_neck"]
    assert "br_type" in moves[TEMPLATE]
    assert [name for name, moved in moves.items() if "fret_h" in moved] == [KIND, TEMPLATE]


def test_risk_and_measure_ask_about_the_whole_of_what_goes_together() -> None:
    """Routs that are one pool have more wall and floor to shield: the bar of the word tells that work too."""
    shop = the_shop()
    job = default_job(shop, "guitar-solid", wanted=("shield-paint",))
    assert is_open(shop.intake["rout_kind"])
    pool = job_saying({KIND: "guitar-solid", "rout_kind": "pool"})
    assert Otherwise(shop, job).changed("rout_kind", "pool").instrument["cav_skin_cm2"].value == Decimal(750)
    turned = Otherwise(shop, job).turns("rout_kind", "pool")
    assert "shield-paint" in {turn.row for turn in turned}
    choice = make_named_or_best(study_job(shop, job), ("shield-paint",))
    costing, chosen = choice.study.costing, frozenset(choice.estimate.chosen)
    (bar,) = [bar for bar in assumed_bars(costing, chosen) if bar.name == "rout_kind"]
    assert (bar.high_at, bar.high_minutes) == (
        "pool",
        study_job(shop, pool).costing.estimate(chosen).totals.expected / 100,
    )
    assert bar.high_minutes > bar.low_minutes


QUIET = (
    (3, 'template = "guitar-6-set"'),
    (3, 'template = "guitar-6-semi"'),
    (3, 'template = "guitar-7-bolt"'),
)
HUM = (
    *((level, f'kind = "guitar-solid"\n{said}') for level, said in QUIET),
    (1, 'kind = "guitar-solid"'),
    (3, 'kind = "guitar-solid"\npu_neck = "humbucker"\npu_bridge = "humbucker"'),
    # a single coil that was seen between them hums in its place, and so does one beside a single humbucker
    (1, 'kind = "guitar-solid"\npu_neck = "humbucker"\npu_middle = "single"\npu_bridge = "humbucker"'),
    (1, 'kind = "guitar-solid"\npu_bridge = "humbucker"'),
    (3, 'kind = "guitar-solid"\npu_neck = "none"\npu_middle = "none"\npu_bridge = "humbucker"'),
    (1, 'kind = "guitar-semi"\npu_neck = "soapbar"\npu_bridge = "soapbar"'),
    (1, 'kind = "guitar-solid"\ntemplate = "guitar-12-bolt"'),
    (3, 'kind = "bass-solid"'),
    (3, 'kind = "bass-solid"\ntemplate = "bass-5-soap"'),
    (1, 'kind = "bass-solid"\npu_middle = "bass-single"\npu_bridge = "bass-single"'),
    (1, 'kind = "bass-solid"\npu_bridge = "bass-single"'),
)


@pytest.mark.parametrize(("level", "said"), HUM)
def test_the_hum_of_today_goes_with_the_pickups(level: int, said: str) -> None:
    """Pickups that cancel hum are not assumed to hum, so that no shielding is sold for it; nor is it promised."""
    text = f'[job]\nid = "j"\nkind = "own"\n[instrument]\n{said}\n'
    reading = job_from(parse_toml(text.encode(), "j.toml"), the_shop()).instrument["hum_grade"]
    assert (reading.value, reading.assumed) == (level, True)


def test_a_missing_ground_wire_on_humbuckers_wants_the_wire_and_no_shielding() -> None:
    text = (
        '[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "guitar-semi"\ntemplate = "guitar-6-semi"\n'
        "br_gnd = false\n[wish]\nrequire = { hum = 3 }\n"
    )
    job = job_from(parse_toml(text.encode(), "j.toml"), the_shop())
    assert make_choice(study_job(the_shop(), job), explain=False).answer.chosen == ("ground-bridge",)
