"""A fault is a fault everywhere: the same instrument with and without it through every command."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.faults import FoundFault, condition_words, faults_found, held_by
from estimator.choose.study import Known, Study, make_choice_of, price_bound, spec_rows, study_job
from estimator.choose.verify.choice import levels_reached
from estimator.choose.verify.sale import sold
from estimator.cli.main import run
from estimator.estimate.baseline import levels_now
from estimator.fit.triage import Triage, triage
from estimator.input.job.load import job_from
from estimator.model import Fault, Job, Reading, SaleTerms, Shop
from estimator.model.problem import Rule, Source
from estimator.report.words.faults import fault_sentences
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop

D = Decimal
KINDS = {
    "guitar": 'kind = "guitar-solid"\n',
    "hardtail": 'kind = "guitar-solid"\nbr_type = "hardtail"\nstring_h_body = 11\n',
    "set": 'kind = "guitar-solid"\njoint = "set"\nbr_type = "post-and-tailpiece"\npu_neck = "humbucker"\n'
    'pu_middle = "none"\npu_bridge = "humbucker"\naccess = "rear-cavity"\nctl_panel_thk = 6\nsw_type = "toggle-short"\n',
    "bass": 'kind = "bass-solid"\n',
}


@cache
def the_shop() -> Shop:
    return default_shop()


@cache
def job_of(kind: str, sale: str = "resale") -> Job:
    text = f'[job]\nid = "one"\nkind = "{sale}"\nwhat = "one"\n[instrument]\ntier = "C"\nbase_clean = 300\n{KINDS[kind]}'
    return job_from(parse_toml(text.encode(), "one.toml"), the_shop())


@cache
def known_of(kind: str, sale: str = "resale") -> Known:
    """What is worked out once for all instruments of a kind, sound and faulty: ``study_job`` takes it up."""
    return Known()


def values_of(fault: Fault, chance: random.Random) -> Iterator[object]:
    """Values that are the fault: for words each, for numbers just past the limit and far past it."""
    if fault.reads == "present":
        yield "knob"
    elif fault.reads == "is":
        for word in fault.words:
            yield {"yes": True, "no": False}.get(word, word)
    else:
        limit = D(fault.bad)
        count = the_shop().intake[fault.field].kind == "count"
        step = D(1) if count else D("0.01")
        far = D(3) if count else max(limit, D(1)) * D(chance.choice(("0.2", "0.9")))
        if fault.reads == "below":
            yield limit - step
            yield limit - min(far, abs(limit) or far)
        else:
            yield limit + step
            yield limit + far
            if fault.reads == "beyond":
                yield -limit - step


def without_fault(fault: Fault, job: Job) -> Job:
    """The instrument with a sound reading, looked at, in place of the fault."""
    field = the_shop().intake[fault.field]
    usual = job.instrument[fault.field].value
    sound: object = usual
    if fault.reads == "is":
        sound = next(
            (w for w in ("works", "none", "good", "sound", "clean", "no") if w in field.choices), usual
        )
        if field.kind == "yes-no":
            sound = fault.bad == "no"
    elif fault.reads in ("below", "above", "beyond"):
        limit = D(fault.bad)
        if not isinstance(usual, Decimal) or (usual < limit if fault.reads == "below" else usual > limit):
            sound = limit
    return put(job, fault.field, sound)


def put(job: Job, field: str, value: object) -> Job:
    readings = {**job.instrument, field: Reading(value, False)}
    return replace(job, instrument=MappingProxyType(readings))


def cases() -> list[tuple[str, str, str]]:
    """Each fault on each kind of instrument that can have it (by its ``when``)."""
    from estimator.tables.conditions import holds

    names = dict.fromkeys(f.fault for f in the_shop().faults)
    found = []
    for name in names:
        row = next(f for f in the_shop().faults if f.fault == name)
        for kind in KINDS:
            if row.field in job_of(kind).instrument and holds(row.when, job_of(kind).instrument):
                found.append((name, kind, row.field))
    return found


def compared(name: str, kind: str, chance: random.Random) -> Iterator[str]:
    """What breaks the law of faults, in words."""
    shop = the_shop()
    rows = [f for f in shop.faults if f.fault == name]
    sound_job = without_fault(rows[0], job_of(kind))
    known = known_of(kind)
    sound = study_job(shop, sound_job, known=known)
    for value in values_of(rows[0], chance):
        job = put(job_of(kind), rows[0].field, value)
        bad = study_job(shop, job, known=known)
        said = f"{name} on {kind}, {rows[0].field} = {value}"
        now, then = levels_reached(bad.problem, ()), levels_reached(sound.problem, ())
        for attribute, level in now.items():
            if level > then[attribute]:
                yield f"{said}: {attribute} stands at {level}, without it at {then[attribute]}"
        for row in rows:
            if now[row.attribute] > row.level * 10:
                yield f"{said}: {row.attribute} stands at {now[row.attribute]}"
        if sold(bad.problem, ()).price > sold(sound.problem, ()).price:
            yield f"{said}: sells for more"
        told = [f for f in faults_found(bad) if rows[0].field in f.shown]
        if not told:
            yield f"{said}: is told of nowhere"
        if any(not f.mends and not f.otherwise for f in told):
            yield f"{said}: nothing mends it"
        worse, better = (looked_at(j) for j in (job, sound_job))
        order = ("fine", "not-checked", "lower", "walk-away")
        if order.index(worse.outcome) < order.index(better.outcome) or worse.outcome in (
            "fine",
            "not-checked",
        ):
            yield f"{said}: triage says {worse.outcome}, without it {better.outcome}"
        if worse.outcome == "lower" and worse.low < better.low:
            yield f"{said}: triage lowers by less"


def looked_at(job: Job) -> Triage:
    return triage(
        job.instrument, resale=D(300), pay_per_hour=D(40), neck_price=D(100), faults=the_shop().faults
    )


def solved(study: Study, attribute: str, level: int) -> int | None:
    rule = Rule(Source.WISH, "level", "wish", attribute, level)
    rules = tuple(r for r in study.problem.rules if r.kind == "refused")
    problem = replace(study.problem, rules=(*rules, rule))
    answer = choose(problem, study.measure, price_bound(study), aim="cost", explain=False)
    return answer.objective if answer.status == "optimal" else None


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_no_fault_lifts_a_level_a_price_or_an_offer(seed: int) -> None:
    chance = random.Random(seed)
    drawn = chance.sample(cases(), 12)
    assert not [words for name, kind, _ in drawn for words in compared(name, kind, chance)]


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_what_is_known_of_other_instruments_changes_no_study(kind: str) -> None:
    """Else what is compared here, sound and faulty by what is known of both, would not be what the commands study."""
    chance, known = random.Random(kind), Known()
    drawn = chance.sample([case for case in cases() if case[1] == kind], 4)
    for name, _, _ in [*drawn, drawn[0]]:
        row = next(f for f in the_shop().faults if f.fault == name)
        for job in (
            without_fault(row, job_of(kind)),
            put(job_of(kind), row.field, next(values_of(row, chance))),
        ):
            one, other = study_job(the_shop(), job), study_job(the_shop(), job, known=known)
            assert one.problem == other.problem
            assert one.verdicts == other.verdicts


@pytest.mark.slow
def test_no_fault_of_the_table_lifts_anything() -> None:
    chance = random.Random(7)
    assert not [words for name, kind, _ in cases() for words in compared(name, kind, chance)]


def cost_cases(chance: random.Random, count: int) -> Iterator[str]:
    """What a fault makes cheaper: a wish for what it lowers, with and without it."""
    shop = the_shop()
    for name, kind, _ in chance.sample(cases(), count):
        rows = [f for f in shop.faults if f.fault == name]
        row = chance.choice(rows)
        value = chance.choice(list(values_of(row, chance)))
        known = known_of(kind, "own")
        bad = study_job(shop, put(job_of(kind, "own"), row.field, value), known=known)
        sound = study_job(shop, without_fault(row, job_of(kind, "own")), known=known)
        wished = chance.choice([level for level in (10, 20, 30, 40) if level > row.level * 10] or [40])
        with_it, without = (solved(study, row.attribute, wished) for study in (bad, sound))
        if with_it is not None and (without is None or with_it < without):
            yield f"{name} on {kind}, {row.field} = {value}: {row.attribute} {wished} for {with_it}, else {without}"


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_no_wish_is_cheaper_on_a_faulty_instrument(seed: int) -> None:
    assert not list(cost_cases(random.Random(seed), 6))


def study_with(kind: str, **readings: object) -> Study:
    job = job_of(kind, "resale")
    for field, value in readings.items():
        job = put(
            job,
            field,
            D(str(value)) if isinstance(value, int | float) and not isinstance(value, bool) else value,
        )
    return study_job(the_shop(), job)


def test_a_nut_cut_too_low_is_no_good_nut() -> None:
    """0.2 mm over the first fret buzzes (R42: 0.30 at least); filling the slot mends it to level 3."""
    study = study_with("guitar", nut_clear_b=0.2)
    assert levels_reached(study.problem, ())["nut-function"] == 0
    assert levels_reached(study.problem, ("adjust-nut",))["nut-function"] == 30
    (fault,) = faults_found(study)
    assert (fault.id, fault.mends[0]) == ("low-nut-bass", "adjust-nut")


def test_a_freed_rod_is_one_that_works() -> None:
    for state in ("dead", "stiff"):
        study = study_with("guitar", rod_ok=state)
        assert levels_reached(study.problem, ("free-truss-rod",))["relief-control"] == 30


def test_new_pots_leave_a_dead_switch_dead() -> None:
    study = study_with("guitar", sw_state="dead", pot_state="dead")
    for chosen in (("new-pots-standard",), ("clean-controls", "new-pots-standard")):
        levels = levels_reached(study.problem, chosen)
        assert (levels["controls"], levels["voicing"]) == (0, 0)
    assert levels_reached(study.problem, ("new-pots-standard", "new-switch-standard"))["controls"] >= 20


def test_now_and_reached_are_held_down_alike_and_it_is_said_by_what() -> None:
    study = study_with("guitar", action_b=1.5, action_t=1.2, rod_ok="dead", nut_clear_b=0.4)
    row = next(row for row in spec_rows(study, ("new-jack-standard",)) if row.attribute == "action")
    assert (row.now, row.reached) == (0, 0)
    assert any("rod" in why for why in held_by(study, ("new-jack-standard",))["action"])


def test_a_dead_pickup_costs_the_working_condition_and_a_new_one_brings_it_back() -> None:
    sound, dead = study_with("guitar", dc_ohm_neck=6), study_with("guitar", dc_ohm_neck=0)
    assert sold(dead.problem, ()).price < sold(sound.problem, ()).price
    mended = sold(dead.problem, ("neck-pickup-single-economy",))
    assert mended.standing.condition == sold(sound.problem, ()).standing.condition
    assert mended.price > sold(dead.problem, ()).price


def test_a_crack_seen_but_not_measured_is_glued_for_money() -> None:
    study = study_with("guitar", crack_at="body-edge")
    (fault,) = faults_found(study)
    assert fault.mends == ("repair-crack",)
    assert fault.cost is not None
    assert fault.cost > 1000


def test_a_condition_worse_than_all_that_was_measured_says_what_would_lift_it() -> None:
    job = replace(
        job_of("guitar"),
        sale=SaleTerms(condition="needs-repair"),
        found_levels=MappingProxyType(
            {a.id: Reading(D(3), False) for a in the_shop().attributes.values() if a.kind == "level"}
        ),
    )
    (words,) = condition_words(study_job(the_shop(), job))
    assert "not named" in words
    assert "Write down the fault" in words
    held = condition_words(study_with("guitar", sw_state="dead"))
    assert "voicing 0 of 1" in held[0]


@pytest.mark.slow
def test_levels_as_they_stand_are_those_of_the_choice() -> None:
    chance = random.Random(3)
    for name, kind, field in chance.sample(cases(), 12):
        row = next(f for f in the_shop().faults if f.fault == name)
        job = put(job_of(kind), field, next(values_of(row, chance)))
        study = study_job(the_shop(), job)
        stood = {n: int(level * 10) for n, level in levels_now(the_shop(), study.job).items()}
        assert stood == levels_reached(study.problem, ()), name


@pytest.mark.slow
def test_the_twin_sees_every_fault() -> None:
    """The recheck holds each spec against the rows once more; a set that mends, and one that does not."""
    chance = random.Random(5)
    for name, kind, field in chance.sample(cases(), 12):
        row = next(f for f in the_shop().faults if f.fault == name)
        study = study_job(the_shop(), put(job_of(kind), field, next(values_of(row, chance))))
        needy = {owner for owner, _ in study.problem.prerequisites}
        mends = [upgrade for upgrade in faults_found(study)[0].mends if upgrade not in needy]
        for chosen in ((), tuple(mends[:1])):
            reached = levels_reached(study.problem, chosen)
            spec = {row.attribute: row.reached for row in make_choice_of(study, chosen).spec}
            assert spec == spec | reached


@pytest.mark.parametrize("held", ['joint = "through"', "scale = 813", "string_n = 7"])
def test_a_wish_that_a_fault_puts_out_of_reach_names_the_fault(
    held: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A twisted neck on a bass that it does not come off, or for whose scale or strings none can be had."""
    file = tmp_path / "one.toml"
    file.write_text(
        '[job]\nid = "one"\nkind = "own"\n[instrument]\nkind = "bass-solid"\ntwist = 0.8\n'
        f"{held}\n[wish]\nrequire = {{ action = 2 }}\n"
    )
    assert run(["choose", str(file), "--full"]) == 1
    told = capsys.readouterr().out
    assert "the neck is twisted (twist 0.031 in)" in told
    assert "No upgrade that fits mends it here; it wants: another neck, or where none can go on" in told


@pytest.mark.slow
@pytest.mark.parametrize("command", ["choose", "estimate", "fit", "sell", "offer", "triage"])
def test_every_command_names_the_fault(command: str, tmp_path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "one.toml"
    file.write_text(
        '[job]\nid = "one"\nkind = "resale"\nwhat = "one"\n[instrument]\nkind = "guitar-solid"\ntier = "C"\n'
        'base_clean = 300\nsw_state = "dead"\npapers = true\n'
    )
    run([command, str(file), "--json"])
    told = json.loads(capsys.readouterr().out)
    if command == "triage":
        assert "the switch is dead" in told["checks"][6]["why"]
    else:
        assert [fault["fault"] for fault in told["faults"]] == ["dead-switch"]


@pytest.mark.parametrize(
    ("reading", "said", "kept_out"),
    [
        ("twist = 0.9", 'keeps = ["neck"]', "replacement-neck"),
        ("tuner_play = 50", 'keeps = ["original"]', "new-tuners"),
        ("tuner_play = 50", 'refused = ["new-tuners"]', "new-tuners"),
    ],
)
def test_the_least_that_mends_a_fault_is_allowed(reading: str, said: str, kept_out: str) -> None:
    text = f'[job]\nid = "f"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n{reading}\n'
    shop = default_shop()

    def found(more: str) -> tuple[Study, FoundFault]:
        study = study_job(shop, job_from(parse_toml((text + more).encode(), "f.toml"), shop))
        (fault,) = faults_found(study)
        return study, fault

    _, free = found("")
    assert any(one.startswith(kept_out) for one in free.mends)
    study, held = found(f"[upgrades]\n{said}\n")
    out = {u for r in study.problem.rules if r.source in (Source.KEEPS, Source.REFUSED) for u in r.upgrades}
    assert out.isdisjoint(held.mends)
    assert set(held.mends) == set(free.mends) - out
    assert set(held.shut) >= set(free.mends) & out
    (told,) = fault_sentences([held], "USD")
    assert ("Nothing that is allowed mends it" in told) is (not held.mends)
    if held.mends:
        assert held.mends[0] in told
