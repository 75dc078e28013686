"""Over kinds of instruments: no part is on offer whose size disagrees with the instrument's beyond the limit
of its rule, the limits worked out here once more; and on plain instruments the usual parts do fit.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal

import pytest

from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all, judge_job
from estimator.input.job.load import job_from
from estimator.model import Job, Part, Shop, Verdict
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

D = Decimal
KINDS = (("guitar-solid", 6), ("guitar-semi", 6), ("bass-solid", 4), ("bass-semi", 4))
NUTS = ("p-nutcut", "p-nutmech", "p-tremlock")
#: what a plain instrument of the family must find among the parts that fit
PLAIN = {
    "guitar": {
        "ready-cut-nut",
        "mechanical-nut",
        "new-saddles",
        "new-six-screw-tremolo",
        "new-tuners",
        "neck-pickup-single",
        "bridge-pickup-humbucker",
        "replacement-neck",
        "nut-from-blank",
        "heel-ferrules",
        "neck-inserts",
        "new-neck-plate",
    },
    "bass": {
        "ready-cut-nut",
        "new-saddles",
        "bass-bridge",
        "new-bass-tuners",
        "middle-pickup-bass",
        "replacement-neck",
        "nut-from-blank",
        "heel-ferrules",
        "neck-inserts",
        "new-neck-plate",
    },
}


#: a hollow body has no room for springs: a bridge on posts, and no tremolo to put in the place of one
# its routs are those of humbuckers: a single would leave them open
PLAIN["guitar-semi"] = PLAIN["guitar"] - {"new-six-screw-tremolo", "neck-pickup-single"} | {
    "post-bridge",
    "neck-pickup-humbucker",
}


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def job_of(shop: Shop, kind: str, **readings: object) -> Job:
    lines = [f"{name} = {value}" for name, value in readings.items()]
    text = "\n".join(['[job]\nid = "kinds"\nkind = "own"', f'[instrument]\nkind = "{kind}"', *lines])
    return job_from(parse_toml(text.encode(), "job.toml"), shop)


def reading(job: Job, name: str) -> Decimal:
    value = job.instrument[name].value
    assert isinstance(value, Decimal), name
    return value


def size(part: Part, name: str) -> Decimal:
    value = part.dims[name]
    assert isinstance(value, Decimal), name
    return value


def disagreements(job: Job, verdict: Verdict) -> Iterator[str]:
    """What of a part on offer is farther off than the limits allow, by a reckoning of its own."""
    part = verdict.upgrade.part
    assert part is not None
    strings = reading(job, "string_n")
    if "string_n" in part.dims and size(part, "string_n") != strings:
        yield "strings"
    joint = part.part_class in ("p-neckplate", "p-ferrule4", "p-insert4")
    if joint and size(part, "screw_n") != reading(job, "joint_screw_n"):
        yield "joint screws"
    if part.part_class in NUTS and abs(size(part, "nut_spread") - reading(job, "nut_spread")) > D("0.8"):
        yield "slots"
    if part.part_class in (*NUTS, "p-nutblank") and size(part, "len") < reading(job, "nut_wid") - D("0.3"):
        yield "length of the nut"
    if part.part_class == "p-saddles":
        more = (size(part, "saddle_w") - reading(job, "saddle_w")) * strings
        if not -3 < more <= D("0.6"):
            yield "saddles"
    if part.part_class == "p-neck" and size(part, "heel_w") > reading(job, "pocket_wid") + D("1.5"):
        yield "heel"
    if "pole_spread" in part.dims:
        at = reading(job, f"pu_x_{verdict.upgrade.row.place.removeprefix('pickup-')}")
        nut, saddles = reading(job, "nut_spread"), reading(job, "str_spread")
        over = nut + (saddles - nut) * at / reading(job, "scale")
        warned = any(f.rule == "R18" and "order one that suits" in f.sentence for f in verdict.findings)
        off = size(part, "pole_spread") - over
        # a bar that is wider than the strings lies under all of them
        if (off < -2 or (off > 2 and "bar" not in part.dims)) and not warned:
            yield "poles"
    if part.part_class in ("p-tuner6", "p-tunerb4"):
        gap = reading(job, "tuner_hole_d") - size(part, "hole_d")
        tasks = {demand.task for demand in verdict.demands}
        if gap < D("-0.15") and "ream-tuner-hole" not in tasks:
            yield "holes too small, not reamed"
        if gap >= D("0.3") and not tasks & {"bush-tuner-hole", "plug-hole", "plug-small-hole"}:
            yield "holes too large, nothing done"


@pytest.mark.parametrize(("kind", "strings"), KINDS)
def test_the_usual_parts_fit_a_plain_instrument(shop: Shop, kind: str, strings: int) -> None:
    job = job_of(shop, kind, string_n=strings)
    fit = {v.upgrade.row.id for v in judge_job(shop, job) if v.outcome != "does-not-fit"}
    assert PLAIN.get(kind, PLAIN[kind.partition("-")[0]]) <= fit
    assert ("new-six-screw-tremolo" in fit) == (kind == "guitar-solid")


@pytest.mark.parametrize("kind", ["guitar-solid", "bass-solid"])
def test_a_ready_cut_nut_is_taken_by_its_spacing(shop: Shop, kind: str) -> None:
    """35.5 mm is a guitar's, 30 mm a bass's; either on the other's spacing says what would pass."""
    other = {"guitar-solid": "30", "bass-solid": "35.5"}[kind]
    verdicts = judge_job(shop, job_of(shop, kind, nut_spread=other), ["ready-cut-nut"])
    passing = {"guitar-solid": "29.2 to 30.8 mm", "bass-solid": "34.7 to 36.3 mm"}[kind]
    assert len(verdicts) == 3
    for verdict in verdicts:
        assert verdict.outcome == "does-not-fit"
        assert passing in verdict.findings[0].sentence
        assert "[[part]]" in verdict.findings[0].sentence


def test_a_named_part_keeps_its_own_measure_on_a_bass(shop: Shop) -> None:
    text = '[job]\nid = "a"\nkind = "own"\n[instrument]\nkind = "bass-solid"\nnut_spread = 33\n'
    text += '[[part]]\nid = "wide"\nclass = "p-nutcut"\nprice = 9\nnut_spread = 33\n'
    verdicts = judge_job(shop, job_from(parse_toml(text.encode(), "job.toml"), shop), ["ready-cut-nut"])
    assert {v.upgrade.id for v in verdicts if v.outcome != "does-not-fit"} == {"ready-cut-nut-wide"}


@pytest.mark.slow
def test_no_part_on_offer_disagrees_with_the_instrument(shop: Shop) -> None:
    """Sixty instruments drawn with a seed; every limit is met from both sides often enough to matter."""
    chance = random.Random(11)
    seen: Counter[str] = Counter()
    for _ in range(60):
        kind = chance.choice(("guitar-solid", "guitar-semi", "bass-solid", "bass-semi"))
        bass = kind.startswith("bass")
        middle = {
            "string_n": chance.choice((4, 5, 6) if bass else (6, 6, 7, 12)),
            "nut_spread": chance.choice((28, 29.5, 30, 30.5, 33, 35.5, 36, 38)),
            "nut_wid": chance.choice((38, 40, 42, 43, 44, 45, 48, 51)),
            "str_spread": chance.choice((50, 52.5, 54, 57, 60, 66)),
            "saddle_w": chance.choice((10, 10.4, 10.8, 11.2, 17.5, 18, 18.6, 20)),
            "joint_screw_n": chance.choice((3, 4, 4, 4, 5, 6)),
            "pocket_wid": chance.choice((53, 55, 56, 57, 60, 63)),
            "tuner_hole_d": chance.choice((8, 8.5, 10, 10.2, 10.5, 12.5, 14.3, 17.4)),
        }
        known = {name: value for name, value in middle.items() if chance.random() < 0.7}
        job = job_of(shop, kind, **known)
        upgrades = [u for u in all_upgrades(shop, job) if u.part is not None and u.part.grade == "standard"]
        for verdict in judge_all(shop, job, upgrades):
            if verdict.outcome == "does-not-fit":
                seen["refused"] += 1
                continue
            seen["offered"] += 1
            assert not list(disagreements(job, verdict)), (verdict.upgrade.id, known)
    assert seen["refused"] > 200
    assert seen["offered"] > 1000
