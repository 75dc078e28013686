"""What ``measure`` says, tried with a pencil: the value it names is written into the job file, which is read anew.

Nothing of ``fit.otherwise`` reads or judges here: a job file is one text, the same text with one line more
is another, and both go the way of ``fit``.
"""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.choose.questions.measure_next import look_into
from estimator.choose.study import make_choice, study_job
from estimator.estimate.new_job import default_job
from estimator.fit.candidates import offered
from estimator.fit.judge import judge_all
from estimator.input.job.load import load_job
from estimator.model import Job, Verdict
from estimator.tables.intake import PART_OF
from estimator.tables.likely import is_open, likely_range, likely_words
from estimator.tables.quantities import NUMBER_KINDS
from estimator.tables.toml.write import toml_text
from tests.shops import default_shop

SHOP = default_shop()
KINDS = ("guitar-solid", "guitar-semi", "bass-solid", "bass-semi")
BRIDGES = ("hardtail", "six-screw-trem", "two-post-trem", "locking-trem", "post-and-tailpiece", "wraparound")
#: the last one mostly costs more than there is
WISHES = (
    "fret-levelness = 3",
    "nut-function = 3\ncontrols = 2",
    "action = 2\noutput-jack = 3",
    "fret-levelness = 3\nnut-function = 3\n[budget]\nmoney = 12",
)

JOBS = (2, 3)

Told = dict[str, tuple[object, ...]]


class Bench:
    """A job file that grows by a line when something is measured."""

    def __init__(self, folder: Path, number: int, seed: int) -> None:
        self.path = folder / f"job-{number}.toml"
        chance = random.Random(seed * 100_003 + number)
        kind = KINDS[number % len(KINDS)]
        fresh = default_job(SHOP, kind)
        self.measured = {"kind": toml_text(kind)}
        if kind == "guitar-solid":
            self.measured["br_type"] = toml_text(chance.choice(BRIDGES))
        share = chance.choice((0.1, 0.5, 0.9))
        for name in SHOP.intake:
            if is_open(SHOP.intake[name]) and chance.random() < share:
                self.measured[name] = likely_one(fresh, name, chance)
        # a part larger than the whole is refused: it is measured beside its whole, and at the most all of it
        for part, whole in PART_OF.items():
            if part in self.measured:
                self.measured.setdefault(whole, toml_text(fresh.instrument[whole].value))
                self.measured[part] = str(min(Decimal(self.measured[one]) for one in (part, whole)))
        self.wish = WISHES[(number + number // 4) % len(WISHES)]

    def job(self, **also: str) -> Job:
        lines = [f"{name} = {text}" for name, text in {**self.measured, **also}.items()]
        self.path.write_text(
            '[job]\nid = "by-hand"\nkind = "own"\n[instrument]\n'
            + "\n".join(lines)
            + f"\n[wish.require]\n{self.wish}\n",
            encoding="utf-8",
        )
        return load_job(self.path, SHOP)

    def told(self, **also: str) -> Told:
        """What ``fit`` tells of every upgrade."""
        job = self.job(**also)
        return {v.upgrade.id: plainly(v) for v in judge_all(SHOP, job, offered(SHOP, job))}


def plainly(verdict: Verdict) -> tuple[object, ...]:
    return (
        verdict.outcome,
        verdict.upgrade.part_quantity,
        [
            (
                d.task,
                d.place,
                d.quantity,
                d.share,
                d.extra_min,
                d.extra_rework_pct,
                d.rework_times,
                sorted(d.levels.items()),
            )
            for d in verdict.demands
        ],
    )


def likely_one(job: Job, name: str, chance: random.Random) -> str:
    """Any of the likely words, or any number of the likely range (with what is assumed), as a job file has it."""
    spec = SHOP.intake[name]
    ends = likely_range(spec, lambda other: job.instrument[other].value, job.is_bass)  # type: ignore[arg-type, return-value]
    if ends is None or spec.kind not in NUMBER_KINDS:
        words = likely_words(spec, job.is_bass)
        return toml_text(chance.choice(words) if words else job.instrument[name].value)
    assumed = job.instrument[name].value
    assert isinstance(assumed, Decimal)
    low, high = min(ends[0], assumed), max(ends[1], assumed)
    places = 0 if spec.kind == "count" else 2
    return toml_text(Decimal(chance.randint(int(low * 10**places), int(high * 10**places))).scaleb(-places))


def as_written(text: str) -> str:
    """The value as ``measure`` prints it, as a job file has it."""
    return {"yes": "true", "no": "false"}.get(text, f'"{text}"' if not text.isdigit() else text)


def tried_by_hand(folder: Path, number: int, seed: int, most: int) -> tuple[int, int, int]:
    """One job: (values named and made good, values of fields not named that changed nothing, wishes not met)."""
    bench = Bench(folder, number, seed)
    job, before = bench.job(), bench.told()
    choice = make_choice(study_job(SHOP, job), explain=False)
    looked = look_into(choice, solves=0)
    chance = random.Random(seed + number)
    named = {worth.field: worth for worth in looked.worths}
    for field in chance.sample(sorted(named), min(most, len(named))):
        worth = named[field]
        after = bench.told(**{field: as_written(worth.could_be)})
        case = (number, field, worth.could_be)
        turned = {i for i in before.keys() | after.keys() if before.get(i) != after.get(i)}
        assert turned == {turn.upgrade for turn in worth.turns}, case
        for turn in worth.turns:
            outcomes = tuple(
                told[turn.upgrade][0] if turn.upgrade in told else "not-offered" for told in (before, after)
            )
            assert outcomes == turn.outcomes, case
    harmless = [
        n for n, r in job.instrument.items() if r.assumed and is_open(SHOP.intake[n]) and n not in named
    ]
    moved = chance.sample(harmless, min(most, len(harmless)))
    for field in moved:
        value = likely_one(job, field, chance)
        assert bench.told(**{field: value}) == before, (number, field, value)
    return min(most, len(named)), len(moved), int(not choice.found)


@pytest.mark.slow
def test_fit_tells_by_hand_what_measure_said(tmp_path: Path) -> None:
    good = idle = unmet = 0
    for number in JOBS:
        made_good, moved, lost = tried_by_hand(tmp_path, number, 5, 12)
        good, idle, unmet = good + made_good, idle + moved, unmet + lost
    assert good >= 15
    assert idle >= 15
    assert 0 < unmet < len(JOBS), "both what can be met and what cannot is tried"


@pytest.mark.parametrize("edge", ["4", "12"])
def test_near_an_edge_two_parts_are_lost(tmp_path: Path, edge: str) -> None:
    """Posts 4 mm from the edge of the body take neither kind of bridge on posts; at 12 mm they do."""
    bench = Bench(tmp_path, 0, 5)
    bench.measured = {"kind": '"guitar-solid"', "post_edge": edge}
    outcomes = {
        name: told[0] for name, told in bench.told().items() if name.startswith(("two-post", "locking-tr"))
    }
    assert outcomes
    assert ("does-not-fit" in outcomes.values()) is (edge == "4")
