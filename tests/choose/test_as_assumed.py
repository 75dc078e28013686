"""What is told as refused by an assumed value alone is held against judging it anew with every likely value."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from types import MappingProxyType

from msgspec.structs import replace

from estimator.choose.as_assumed import refused_as_assumed
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
