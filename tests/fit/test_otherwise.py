"""Assumed values put to what they may turn out to be: what is said to change does, and nothing else does."""

from __future__ import annotations

import random
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.estimate.new_job import default_job
from estimator.fit.candidates import offered
from estimator.fit.judge import judge_all
from estimator.fit.otherwise import Otherwise, Turn, could_be, differ, sketched, with_defaults
from estimator.fit.traced import Traced, nice_between
from estimator.input.job.load import load_job
from estimator.model import Job, Reading, Verdict
from estimator.tables.folders import default_folder
from estimator.tables.likely import is_open, likely_text, read_likely
from estimator.tables.quantities import NUMBER_KINDS, read_intake
from tests.fit.measured import measured_as
from tests.shops import default_shop

SHOP = default_shop()
JOBS = Path(str(default_folder("example_jobs")))
KINDS = ("guitar-solid", "guitar-semi", "bass-solid", "bass-semi")
BRIDGES = ("hardtail", "six-screw-trem", "two-post-trem", "locking-trem", "post-and-tailpiece", "wraparound")


def job(name: str) -> Job:
    return load_job(JOBS / f"{name}.toml", SHOP)


# --- numbers that note where a comparison turns round


def cuts_of(rule: object, at: str) -> set[Decimal]:
    found: set[Decimal] = set()
    rule(Traced(Decimal(at), Decimal(1), Decimal(at), found.add))  # type: ignore[operator]
    return {cut.quantize(Decimal("0.0001")) for cut in found}


def test_a_comparison_leaves_behind_where_it_turns() -> None:
    ten = Decimal(10)
    assert cuts_of(lambda x: x < ten / 2 + 3, "20") == {Decimal(8)}
    assert cuts_of(lambda x: ten / 2 + 3 > x, "20") == {Decimal(8)}
    assert cuts_of(lambda x: 3 * (x - 1) + 2 >= 11, "0") == {Decimal(4)}
    assert cuts_of(lambda x: abs(x - 54) / 2 <= Decimal("0.3"), "60") == {Decimal(54), Decimal("54.6")}
    assert cuts_of(lambda x: abs(x - 54) / 2 <= Decimal("0.3"), "50") == {Decimal(54), Decimal("53.4")}
    assert cuts_of(lambda x: max(x, ten) - x, "3") == {ten}
    assert cuts_of(lambda x: (ten - x) / 4 == 1, "3") == {Decimal(6)}
    assert cuts_of(lambda x: 12 / x > 3, "4") == {Decimal(4)}
    assert cuts_of(lambda x: (-x) ** 2 < 16, "4") == {Decimal(4)}
    assert cuts_of(lambda x: (x * 4).sqrt() < 6, "9") == {Decimal(9)}
    assert cuts_of(lambda x: x - x < 1, "3") == set()


def test_what_is_rounded_turns_where_the_number_itself_does() -> None:
    tenth = Decimal("0.1")
    assert cuts_of(lambda x: (x / 3).quantize(tenth) > 1, "2.97") == {Decimal(3)}
    # a hundredth of a cube is rounded to zero; half a step on it counts
    assert Decimal("0.05") in cuts_of(lambda x: bool(x.quantize(tenth)), "0.01")


def test_a_traced_number_is_the_number() -> None:
    chance = random.Random(7)
    for _ in range(300):
        a, b = (Decimal(chance.randint(-400, 400)) / 8 for _ in range(2))
        traced = Traced(a, Decimal(1), a, lambda cut: None)
        assert (traced + b, traced - b, b - traced, traced * b, -traced) == (a + b, a - b, b - a, a * b, -a)
        assert (traced < b, traced <= b, traced == b, b < traced) == (a < b, a <= b, a == b, b < a)
        assert (abs(traced), bool(traced), hash(traced), str(traced)) == (abs(a), bool(a), hash(a), str(a))
        if b and a:
            assert (traced / b, b / traced) == (a / b, b / a)


def test_a_value_between_two_is_short() -> None:
    assert nice_between(Decimal("3.2"), Decimal("5.9")) in (Decimal(4), Decimal(5))
    assert nice_between(Decimal("3.21"), Decimal("3.24")) in (Decimal("3.22"), Decimal("3.23"))


# --- what the table calls likely


def test_every_number_that_may_be_wrong_says_what_it_may_be() -> None:
    stated = 0
    for spec in SHOP.intake.values():
        if not is_open(spec) or spec.kind not in NUMBER_KINDS:
            continue
        for is_bass in (False, True):
            likely = read_likely(likely_text(spec, is_bass), spec)
            assert likely.ends or len(likely.values) > 1, spec.id
            stated += 1
    assert stated > 150


@pytest.mark.parametrize("kind", KINDS)
def test_what_may_be_holds_what_is_assumed_and_is_accepted(kind: str) -> None:
    fresh = default_job(SHOP, kind)
    tried = 0
    for spec in SHOP.intake.values():
        reading = fresh.instrument[spec.id]
        values = could_be(spec, fresh)
        if spec.kind in NUMBER_KINDS and values:
            assert min(values) <= reading.value <= max(values), spec.id  # type: ignore[type-var, operator]
            for value in values:
                read_intake(str(value), spec)
                assert spec.accepted_low is None or value >= spec.accepted_low, spec.id  # type: ignore[operator]
                assert spec.accepted_high is None or value <= spec.accepted_high, spec.id  # type: ignore[operator]
            tried += 1
        assert "unknown" not in values
    assert tried > 80


def test_pots_are_not_of_ten_kilohm() -> None:
    fresh = default_job(SHOP, "guitar-solid")
    assert Otherwise(SHOP, fresh, ("new-pots",)).values("pot_value") == (Decimal(500),)
    # what is seen at a glance is not tried, but it is named
    otherwise = Otherwise(SHOP, fresh)
    assert otherwise.values("br_type") == ()
    assert "br_type" in otherwise.taken_for_seen


# --- verdicts that turn


def verdicts(of: Job) -> dict[str, Verdict]:
    return {v.upgrade.id: v for v in judge_all(SHOP, of, offered(SHOP, of))}


def different(before: dict[str, Verdict], after: dict[str, Verdict]) -> set[str]:
    both = before.keys() & after.keys()
    return (before.keys() ^ after.keys()) | {i for i in both if differ(before[i], after[i])}


def test_near_an_edge_two_parts_no_longer_fit() -> None:
    otherwise = Otherwise(SHOP, job("tight-commission"))
    lost = {turn.row for turn in otherwise.turns("post_edge", Decimal(4)) if turn.was_open and turn.lost}
    assert lost == {"two-post-tremolo", "locking-tremolo"}
    assert any(
        turn.lost for value in otherwise.values("post_edge") for turn in otherwise.turns("post_edge", value)
    )


def test_defaults_that_follow_move_along() -> None:
    """The tremolo cavity is as deep as the body: a thinner body leaves less room under the block."""
    fresh = default_job(SHOP, "guitar-solid")
    otherwise = Otherwise(SHOP, fresh)
    assert "tcav_dep" in otherwise.followers("body_thk")
    assert otherwise.changed("body_thk", Decimal(38)).instrument["tcav_dep"].value == Decimal(38)
    assert measured_as(SHOP, fresh, "body_thk", Decimal(38)).instrument["tcav_dep"].assumed


def test_a_narrow_stretch_between_two_limits_is_found() -> None:
    """Posts within 0.6 mm of the new ones' spread are kept; elsewhere they are bored: one value in forty."""
    fresh = default_job(SHOP, "guitar-solid")
    posts = replace(
        fresh,
        instrument=MappingProxyType({**fresh.instrument, "br_type": Reading("two-post-trem", False)}),
    )
    otherwise = Otherwise(SHOP, posts)
    spread = next(
        v.upgrade.part.dims["spread"]
        for v in verdicts(posts).values()
        if v.upgrade.row.id == "two-post-tremolo" and v.upgrade.part
    )
    assert isinstance(spread, Decimal)
    assert any(abs(value - spread) < Decimal("0.6") for value in otherwise.values("br_spread"))  # type: ignore[operator]


def drawn(number: int, seed: int, measured: float) -> Job:
    """An instrument of any kind: most values measured, drawn from what is likely, the others assumed."""
    chance = random.Random(seed * 100_003 + number)
    fresh = default_job(SHOP, KINDS[number % len(KINDS)], f"drawn-{number}")
    fields = dict(fresh.instrument)
    if fields["kind"].value == "guitar-solid":
        fields["br_type"] = Reading(chance.choice(BRIDGES), False)
    for name, spec in SHOP.intake.items():
        values = could_be(spec, fresh)
        if values and chance.random() < measured:
            fields[name] = Reading(moved(values, spec.kind, chance), False)
    settled = with_defaults(SHOP, replace(fresh, instrument=MappingProxyType(fields)))
    return replace(fresh, instrument=MappingProxyType(dict(settled)))


def moved(values: Iterable[object], kind: str, chance: random.Random) -> Decimal | str | bool:
    """Any of the words, or a number anywhere between the ends."""
    found = tuple(values)
    if kind not in NUMBER_KINDS:
        return chance.choice(found)  # type: ignore[return-value]
    low, high = min(found), max(found)  # type: ignore[type-var]
    assert isinstance(low, Decimal)
    assert isinstance(high, Decimal)
    places = 0 if kind == "count" else 2
    return Decimal(chance.randint(int(low * 10**places), int(high * 10**places))).scaleb(-places)


def claims_of(otherwise: Otherwise) -> dict[str, tuple[tuple[object, tuple[Turn, ...]], ...]]:
    return {f: tuple((v, otherwise.turns(f, v)) for v in otherwise.values(f)) for f in otherwise.assumed}


def held(number: int, seed: int, moves: int) -> tuple[int, int, int]:
    """One drawn instrument: (values moved of idle fields, claims made good, whether nothing could change)."""
    chance = random.Random(seed + number)
    of = drawn(number, seed, chance.choice((0.8, 0.9, 0.97)))
    otherwise = Otherwise(SHOP, of)
    claims = claims_of(otherwise)
    before = verdicts(of)
    idle = [f for f, tried in claims.items() if not any(turns for _, turns in tried)]
    checked = 0
    for field in chance.sample(idle, min(moves, len(idle))):
        value = moved(
            (*could_be(SHOP.intake[field], of), of.instrument[field].value), SHOP.intake[field].kind, chance
        )
        after = verdicts(measured_as(SHOP, of, field, value))
        assert different(before, after) == set(), (number, field, str(value))
        checked += 1
    busy = [(f, v, turns) for f, tried in claims.items() for v, turns in tried if turns]
    for field, value, turns in chance.sample(busy, min(moves, len(busy))):
        after = verdicts(measured_as(SHOP, of, field, value))  # type: ignore[arg-type]
        assert different(before, after) == {turn.upgrade for turn in turns}, (number, field, str(value))
    return checked, min(moves, len(busy)), not busy


@pytest.mark.slow
def test_what_is_not_said_to_change_does_not_and_what_is_does() -> None:
    idle = good = 0
    for number in range(6):
        moved_idle, made_good, _ = held(number, 11, 4)
        idle += moved_idle
        good += made_good
    assert idle >= 15
    assert good >= 15


@pytest.mark.slow
def test_what_changes_is_in_short_what_is_judged_at_the_value_itself() -> None:
    """Of values between which no rule turns round one stands for all: outcomes and tasks are those of each."""
    told = 0
    for number in range(4):
        of = drawn(number, 5, 0.9)
        otherwise = Otherwise(SHOP, of)
        for field in otherwise.assumed:
            for value in otherwise.values(field):
                short = {turned for turned in otherwise.sketch(field, value) if turned[2]}
                whole = {turned for turned in sketched(otherwise.turns(field, value)) if turned[2]}
                assert short == whole, (number, field, str(value))
                told += len(whole)
    assert told > 150


def test_the_verdicts_as_assumed_are_those_of_fit() -> None:
    for name in ("tight-commission", "short-scale-bass"):
        of = job(name)
        otherwise = Otherwise(SHOP, of)
        told = {verdict.upgrade.id: verdict for verdict in otherwise.every_verdict(of, SHOP.upgrades)}
        expected = verdicts(of)
        assert {name: told[name] for name in expected} == expected


def test_of_an_empty_set_no_verdict_is_looked_at() -> None:
    of = job("tight-commission")
    nothing, everything = Otherwise(SHOP, of, ()), Otherwise(SHOP, of)
    assert nothing.assumed == everything.assumed
    assert any(everything.rows_reading(name) for name in everything.assumed)
    assert not any(nothing.rows_reading(name) for name in nothing.assumed)
