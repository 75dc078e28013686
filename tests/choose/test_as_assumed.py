"""What is told as refused by an assumed value alone is held against judging it anew with every likely value."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import combinations, product
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.as_assumed import refused_as_assumed, values_of
from estimator.choose.study import Study, study_job
from estimator.fit.judge import judge
from estimator.fit.otherwise import Following, could_be
from estimator.model import Finding, Job, Verdict
from estimator.tables.quantities import Value
from tests.drawn_jobs import NAMES, example, the_shop

STEPS = 40
FRETS_AND_NUT = (
    "fret_wear",
    "fret_uneven",
    "fret_h",
    "high_fret_n",
    "grooved_n",
    "nut_seat_w",
    "nut_clear_b",
)


def drawn(seed: int) -> Job:
    """An example with readings of frets and nut at the ends of what is likely, some not taken at all."""
    chance = random.Random(seed)
    job = example(chance.choice(NAMES))
    instrument = dict(job.instrument)
    for name in FRETS_AND_NUT:
        reading = instrument.get(name)
        if reading is None or chance.random() < 0.3:
            continue
        ends = [*could_be(the_shop().intake[name], job), reading.value]
        instrument[name] = replace(reading, value=chance.choice(ends), assumed=chance.random() < 0.5)
    refused = chance.choice(((), (), ("level-crown-polish",), ("spot-level-frets",)))
    return replace(job, instrument=MappingProxyType(instrument), refused=refused, keeps=())


def low_frets(seed: int) -> Job:
    """The same with frets so low, as measured, that deep grooves or rocking frets leave too little of them."""
    chance, job = random.Random(seed), drawn(seed)
    low = {
        "fret_h": (Decimal(chance.randint(75, 100)) / 100, False),
        "fret_wear": (chance.choice((Decimal("0.1"), Decimal("0.4"))), chance.random() < 0.8),
        "fret_uneven": (chance.choice((Decimal("0.06"), Decimal("0.2"))), chance.random() < 0.8),
    }
    seen = {name: replace(job.instrument[name], value=v, assumed=a) for name, (v, a) in low.items()}
    return replace(job, instrument=MappingProxyType({**job.instrument, **seen}))


def likely(job: Job, name: str) -> Iterator[Value]:
    """Every word of a reading, every count, or a fine grid between the ends of its range."""
    spec = the_shop().intake[name]
    ends = could_be(spec, job)
    numbers = [end for end in ends if isinstance(end, Decimal)]
    if not numbers:
        yield from ends
        return
    low, high = numbers[0], numbers[-1]
    for step in range(STEPS + 1):
        value = low + (high - low) * step / STEPS
        yield value.to_integral_value() if spec.kind == "count" else value


def against(verdict: Verdict) -> list[Finding]:
    return [found for found in verdict.findings if found.outcome == "no"]


def opening(study: Study, verdict: Verdict) -> set[str]:
    """The readings of which some likely value, alone, makes an upgrade fit and leaves it open to choice."""
    following, found = Following(study.shop, study.job), set[str]()
    for name in {value.name for one in against(verdict) for value in one.assumed}:
        for value in likely(study.job, name):
            job = following.changed(name, value)
            if judge(study.shop, job, verdict.upgrade).outcome == "does-not-fit":
                continue
            rules = study_job(study.shop, job).frame.rules
            shut = {upgrade for rule in rules if rule.kind == "refused" for upgrade in rule.upgrades}
            if verdict.upgrade.id not in shut:
                found.add(name)
            break
    return found


GRID = 4


def pairs(study: Study, verdict: Verdict) -> Iterator[dict[str, Value]]:
    """Two likely values at a time of the readings that are against an upgrade."""
    names = sorted({value.name for one in against(verdict) for value in one.assumed})
    coarse = {name: list(likely(study.job, name))[:: STEPS // GRID] for name in names}
    for one, other in combinations(names, 2):
        for first, second in product(coarse[one], coarse[other]):
            yield {one: first, other: second}


def opens(study: Study, verdict: Verdict, values: Mapping[str, Value]) -> bool:
    """Whether an upgrade fits and is open to choice with readings otherwise, judged and chosen for anew."""
    job = Following(study.shop, study.job).all_changed(values)
    if judge(study.shop, job, verdict.upgrade).outcome == "does-not-fit":
        return False
    rules = study_job(study.shop, job).frame.rules
    return verdict.upgrade.id not in {u for rule in rules if rule.kind == "refused" for u in rule.upgrades}


@pytest.mark.slow
def test_two_assumed_values_that_only_together_turn_a_rule_are_told_together() -> None:
    """Every pair of likely values is tried on a grid where none does alone, and each telling is judged anew."""
    together, silent = 0, 0
    for seed in range(40):
        study = study_job(the_shop(), low_frets(seed))
        everything = [v.upgrade.id for v in study.verdicts if v.outcome != "does-not-fit"]
        told = {one.upgrade: one for one in refused_as_assumed(study, everything)}
        at_work = {v.upgrade.row.slot for v in study.verdicts if v.upgrade.id in everything}
        for verdict in study.verdicts:
            found = against(verdict)
            if verdict.upgrade.row.slot not in at_work or not found or not all(one.assumed for one in found):
                continue
            if any(value.dimension for one in found for value in one.assumed):
                continue
            mine = told.get(verdict.upgrade.id)
            if mine is not None:
                assert all(opens(study, verdict, values_of(one)) for one in mine.trials()), (seed, mine)
                together += mine.together
                continue
            assert not any(opens(study, verdict, values) for values in pairs(study, verdict)), (
                seed,
                verdict.upgrade.id,
            )
            silent += 1
    assert together >= 10
    assert silent >= 10


def test_what_is_told_as_refused_by_an_assumed_value_fits_with_another_and_nothing_else_refuses_it() -> None:
    named, silent = 0, 0
    for seed in range(40):
        study = study_job(the_shop(), drawn(seed))
        everything = [v.upgrade.id for v in study.verdicts if v.outcome != "does-not-fit"]
        told = {one.upgrade: set(one.assumed) for one in refused_as_assumed(study, everything)}
        at_work = {v.upgrade.row.slot for v in study.verdicts if v.upgrade.id in everything}
        for verdict in study.verdicts:
            found, identity = against(verdict), verdict.upgrade.id
            sizes = [value for one in found for value in one.assumed if value.dimension]
            if not found or sizes or not all(one.assumed for one in found):
                assert identity not in told
            elif verdict.upgrade.row.slot in at_work:
                mine = opening(study, verdict)
                # several rules may each want a value of its own; one alone never does
                assert told.get(identity, set()) == mine or (not mine and len(found) > 1), (seed, identity)
                named, silent = named + bool(mine), silent + (not mine)
    assert named >= 10
    assert silent >= 10


def test_two_values_that_refuse_together_are_told_together() -> None:
    """Low frets and many high places, each enough against spot work: only with both of them otherwise does it fit."""
    shop, job = the_shop(), example("school-guitar")
    worst = {"fret_h": Decimal("0.3"), "fret_wear": Decimal("0.1"), "high_fret_n": Decimal(8)}
    seen = {
        name: replace(job.instrument[name], value=value, assumed=name != "fret_wear")
        for name, value in worst.items()
    }
    study = study_job(shop, replace(job, instrument=MappingProxyType({**job.instrument, **seen}), refused=()))
    [spot] = [verdict for verdict in study.verdicts if verdict.upgrade.id == "spot-level-frets"]
    assert [one.rule for one in against(spot)] == ["R44", "R45"]
    assert not opening(study, spot)
    beside = [v.upgrade.id for v in study.verdicts if v.upgrade.slot == spot.upgrade.slot]
    told = {one.upgrade: one.assumed for one in refused_as_assumed(study, beside)}
    assert told["spot-level-frets"] == ("fret_h", "high_fret_n")
