"""An instrument stays what it is unless somebody asks: drawn jobs, held against the rows by code of their own."""

from __future__ import annotations

import csv
import random
from itertools import combinations
from pathlib import Path

import pytest

from estimator.choose.choose import choose
from estimator.choose.kept import is_kept
from estimator.choose.study import Study, make_choice, price_bound, study_job
from estimator.core.errors import InputError
from estimator.input.job.load import job_from
from estimator.model import Verdict
from estimator.model.problem import Problem
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import the_shop

RATES = Path(__file__).parents[2] / "rates"
ORDER = ("feel", "look", "sound", "function", "originality", "wood")
SIZED = {"single-size": ("single", "slim"), "humbucker": ("humbucker",), "soapbar": ("soapbar",)}
ARMS = ("six-screw-trem", "two-post-trem", "locking-trem", "roller-vibrato")


def rows(name: str) -> list[dict[str, str]]:
    with (RATES / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


SAID = {row["id"]: row["changes"].split() for row in rows("upgrades")}
BY_WORK = {row["task"]: row["changes"].split() for row in rows("lasting_work") if not row["when"]}
WHILE = [(row["when"], row["task"], row["changes"].split()) for row in rows("lasting_work") if row["when"]]
ASKS = {row["attribute"]: row["changes"].split() for row in rows("asking_wishes")}


def there(condition: str, study: Study) -> bool:
    """The conditions of the column, asked by code of its own."""
    value = {name: str(reading.value) for name, reading in study.job.instrument.items()}
    if condition == "tremolo":
        return value["br_type"] in ARMS
    if condition == "not-tremolo":
        return value["br_type"] not in ARMS
    if condition == "locking-bridge":
        return value["br_type"] == "locking-trem"
    if condition == "not-locking-tremolo":
        return value["br_type"] != "locking-trem"
    place, _, size = condition.partition("-not-")
    return value[f"pu_{place}"] not in SIZED[size]


def other_sort(study: Study, verdict: Verdict) -> bool:
    """Whether a bass pickup is not of the sort that stands in its place."""
    now = str(study.job.instrument[verdict.upgrade.slot.replace("pickup-", "pu_")].value)
    part = verdict.upgrade.part
    assert part is not None
    sort = {
        "single": "bass-single",
        "slim": "bass-single",
        "humbucker": "bass-humbucker",
        "soapbar": "bass-humbucker",
    }
    return sort.get(now, now) != part.dims["sort"]


def changes(study: Study, upgrade: str) -> set[str]:
    """What an upgrade changes for good, from the rows of the tables and the tasks it asks for."""
    verdict = study.verdict(upgrade)
    found = {
        said.split("/")[0]
        for said in SAID[verdict.upgrade.row.id]
        if "/" not in said
        or (
            other_sort(study, verdict)
            if said.endswith("/other-sort-of-pickup")
            else there(said.split("/")[1], study)
        )
    }
    value = {name: str(reading.value) for name, reading in study.job.instrument.items()}
    held = {"posts-hold": value["posts_pulling"] == "False", "no-locking-nut": value["nut_mat"] != "locking"}
    by_work = BY_WORK | {task: mine for when, task, mine in WHILE if held[when]}
    for finding in verdict.findings:
        for demand in finding.demands:
            found.update(by_work.get(demand.task, ()))
    for demand in verdict.upgrade.demands:
        found.update(by_work.get(demand.task, ()))
    return found


@pytest.mark.parametrize("bridge", ["two-post-trem", "locking-trem"])
def test_pulled_posts_are_set_anew_and_the_arm_stays(bridge: str) -> None:
    """The body is mended and the bridge stays what it is: no hardtail to save the work on the posts."""
    text = f"""[job]\nid = "p"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\nbr_type = "{bridge}"
posts_pulling = true\n[wish]\nrequire = {{ bridge-stability = 2, soundness = 2 }}\n"""
    choice = make_choice(study_of(text), explain=False)
    assert choice.only_by == ""
    (bridged,) = [u for u in choice.answer.chosen if choice.study.verdict(u).upgrade.slot == "bridge"]
    assert bridged.startswith("two-post-tremolo" if bridge == "two-post-trem" else "locking-tremolo")
    sound = make_choice(study_of(text.replace("posts_pulling = true", "")), explain=False)
    assert not any(u.startswith("hardtail") for u in sound.answer.chosen)


def raises(study: Study, upgrade: str, attribute: str) -> bool:
    """Whether an upgrade itself raises an attribute, or changes an amount."""
    for scale in study.problem.scales:
        if scale.attribute == attribute:
            return any(upgrade in giver.given_by for giver in (*scale.tos, *scale.adds))
    (amount,) = [amount for amount in study.problem.amounts if amount.attribute == attribute]
    return any(upgrade in giver.given_by for giver in amount.changes)


def unasked(study: Study, upgrade: str) -> set[str]:
    """What an upgrade changes for good though nobody asked for it or opened it."""
    job, verdict = study.job, study.verdict(upgrade)
    named = (*job.open, *job.required)
    if upgrade in named or verdict.upgrade.row.id in named:
        return set()
    left = changes(study, upgrade) - set(job.may_change)
    base = {scale.attribute: scale.base for scale in study.problem.scales}
    for wish in job.requirements:
        level = wish.level if wish.level is not None else wish.least
        met = wish.attribute in base and level is not None and base[wish.attribute] >= level * 10
        if not met and wish.attribute in ASKS and raises(study, upgrade, wish.attribute):
            left -= set(ASKS[wish.attribute])
    return left


def held(study: Study, given_up: tuple[str, ...]) -> Problem:
    """The problem in which only these may be changed unasked, put together without the rules of the program."""
    from msgspec.structs import replace

    from estimator.model.problem import Rule

    shut = tuple(
        Rule("shut", "refused", f"{option} is shut", upgrades=(option,), of=option)
        for option in study.problem.options
        if unasked(study, option) - set(given_up)
    )
    rules = tuple(rule for rule in study.problem.rules if not is_kept(rule))
    return replace(study.problem, rules=(*rules, *shut))


def status(study: Study, given_up: tuple[str, ...]) -> str:
    return choose(held(study, given_up), study.measure, price_bound(study), explain=False).status


KINDS = ("guitar-solid", "guitar-solid", "guitar-semi", "bass-solid")
PICKUPS = {"guitar": ("single", "single", "humbucker", "soapbar"), "bass": ("bass-split", "bass-single")}
BRIDGES = {
    "guitar": ("six-screw-trem", "two-post-trem", "hardtail", "post-and-tailpiece"),
    "bass": ("bass-plate",),
}
WISHES = (
    "hum",
    "tuning-stability",
    "action",
    "controls",
    "nut-function",
    "bridge-stability",
    "intonation",
    "output-jack",
    "fret-levelness",
    "tuner-quality",
    "cosmetics",
    "voicing",
    "neck-feel",
    "heel-comfort",
    "soundness",
    "nut-material",
)


def drawn(seed: int) -> str:
    """A job with a drawn kind, pickups, bridge, wishes and limit."""
    chance = random.Random(seed)
    kind = chance.choice(KINDS)
    family = kind.partition("-")[0]
    job_kind = chance.choice(("commission", "own", "resale"))
    places = ("neck", "bridge") if family == "bass" or chance.random() < 0.4 else ("neck", "middle", "bridge")
    pickups = {place: chance.choice(PICKUPS[family]) for place in places}
    if family == "bass":
        pickups = {"middle": "bass-split", "bridge": chance.choice(("none", "bass-single"))}
    lines = [f'[job]\nid = "drawn"\nkind = "{job_kind}"\n[instrument]\nkind = "{kind}"']
    for place in ("neck", "middle", "bridge"):
        lines.append(f'pu_{place} = "{pickups.get(place, "none")}"')
    lines.append(f"pickup_n = {sum(word != 'none' for word in pickups.values())}")
    lines.append(f'br_type = "{chance.choice(BRIDGES[family])}"')
    lines.append(f"hum_grade = {chance.randint(0, 2)}\ntuner_play = {chance.choice((10, 30, 50))}")
    lines.append(f'rout_kind = "{chance.choice(("pool", "per-place"))}"' if family == "guitar" else "")
    wishes = chance.sample(WISHES, chance.randint(1, 3))
    lines.append("[wish.require]")
    lines += [f"{wish} = {chance.choice((2, 2, 3, 3, 4))}" for wish in wishes]
    if chance.random() < 0.3:
        lines.append(
            f'[budget]\nmoney = {chance.randint(150, 700)}\non = "{chance.choice(("cash", "cost"))}"'
        )
    if chance.random() < 0.2:
        lines.append(f'[upgrades]\nmay_change = ["{chance.choice(ORDER)}"]')
    return "\n".join(lines) + "\n"


def study_of(text: str) -> Study:
    return study_job(the_shop(), job_from(parse_toml(text.encode(), "drawn.toml"), the_shop()))


def check(seed: int) -> str:
    """One drawn job; what it came to. Fails where a set changes more, or other things, than it must."""
    text = drawn(seed)
    study = study_of(text)
    choice = make_choice(study, "cost", explain=False)
    given_up = tuple(rule.of for rule in choice.answer.changed)
    if not choice.found:
        assert status(study, ORDER) == "infeasible", text
        return "not met"
    for upgrade in choice.estimate.chosen:
        assert unasked(study, upgrade) <= set(given_up), (text, upgrade)
    for number in range(len(given_up)):
        for fewer in combinations(ORDER, number):
            assert status(study, fewer) == "infeasible", (text, fewer)
    if given_up:
        # of as few the one that the table gives up sooner: what is last in the table is compared first
        def grave(those: tuple[str, ...]) -> tuple[int, ...]:
            return tuple(sorted((ORDER.index(one) for one in those), reverse=True))

        for other in combinations(ORDER, len(given_up)):
            if grave(other) < grave(given_up):
                assert status(study, other) == "infeasible", (text, other)
        assert choice.only_by.startswith("Only by changing "), text
        assert all(the_shop().lasting.changes[one].what in choice.only_by for one in given_up), text
        return "only by changing"
    assert choice.only_by == ""
    return "as it is"


@pytest.mark.slow
@pytest.mark.parametrize("part", range(2))
def test_no_change_of_character_without_a_wish(part):
    seen: dict[str, int] = {}
    for seed in range(part * 1000, part * 1000 + 8):
        kind = check(seed)
        seen[kind] = seen.get(kind, 0) + 1
    assert seen.get("as it is", 0) >= 3, seen


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_no_change_of_character_without_a_wish_in_many_jobs(part):
    seen: dict[str, int] = {}
    for seed in range(10_000 + part * 50, 10_000 + part * 50 + 50):
        kind = check(seed)
        seen[kind] = seen.get(kind, 0) + 1
    assert min(seen.get(kind, 0) for kind in ("as it is", "only by changing")) > 0, seen


THREE_SINGLES = """
[job]
id = "three-singles"
kind = "commission"
[instrument]
kind = "guitar-solid"
hum_grade = 1
rout_kind = "pool"
[wish.require]
hum = {hum}
"""


def test_a_wish_for_less_hum_does_not_ask_for_humbuckers():
    for hum in (2, 3):
        chosen = make_choice(study_of(THREE_SINGLES.format(hum=hum))).estimate.chosen
        assert chosen, hum
        assert not [one for one in chosen if "humbucker" in one or "soapbar" in one], chosen


@pytest.mark.slow
def test_what_is_opened_required_or_named_may_be_chosen():
    bare = THREE_SINGLES.format(hum=4)
    study = study_of(bare)
    (rule,) = [rule for rule in study.problem.rules if rule.id == "kept:sound"]
    assert "bridge-pickup-humbucker-standard" in rule.upgrades
    for said in ('may_change = ["sound"]', 'required = ["bridge-pickup-humbucker"]'):
        rules = study_of(f"{bare}[upgrades]\n{said}\n").problem.rules
        shut = {u for rule in rules if is_kept(rule) for u in rule.upgrades}
        assert "bridge-pickup-humbucker-economy" not in shut - {
            u for rule in rules if rule.id == "kept:wood" for u in rule.upgrades
        }, said


def test_a_humbucker_for_a_humbucker_changes_nothing():
    text = THREE_SINGLES.format(hum=4).replace("hum_grade", 'pu_bridge = "humbucker"\nhum_grade')
    study = study_of(text)
    assert "sound" not in changes(study, "bridge-pickup-humbucker-economy")
    (rule,) = [rule for rule in study.problem.rules if rule.id == "kept:sound"]
    assert "bridge-pickup-humbucker-economy" not in rule.upgrades
    assert "bridge-pickup-single-economy" in rule.upgrades


@pytest.mark.slow
def test_the_words_of_the_customer_hold_whatever_the_wish():
    text = """
[job]
id = "arm"
kind = "commission"
[instrument]
kind = "guitar-solid"
br_type = "six-screw-trem"
[wish.require]
bridge-stability = 3
[upgrades]
required = ["block-tremolo"]
keeps = ["arm"]
"""
    choice = make_choice(study_of(text))
    assert choice.answer.status == "infeasible"
    words = {rule.words for conflict in choice.answer.conflicts for rule in conflict.rules}
    assert words == {"block-tremolo is required", "the arm is kept (keeps “arm”)"}
    freed = make_choice(study_of(text.replace('keeps = ["arm"]', "")))
    assert "block-tremolo" in freed.estimate.chosen


@pytest.mark.slow
def test_original_forbids_what_a_wish_asks_for():
    text = """
[job]
id = "old"
kind = "own"
[instrument]
kind = "guitar-solid"
[wish.require]
cosmetics = 4
[upgrades]
keeps = ["original"]
"""
    assert make_choice(study_of(text), explain=False).answer.status == "infeasible"
    asked = make_choice(study_of(text.replace('keeps = ["original"]', "")), explain=False)
    assert asked.found
    assert any(one.startswith(("refinish", "oil-finish")) for one in asked.estimate.chosen)
    assert [rule.id for rule in asked.answer.changed] == ["kept:originality"]  # for the look was asked


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('may_change = ["colour"]', "no such change"),
        ('keeps = ["whammy"]', "unknown word"),
        ('may_change = ["sound"]\nkeeps = ["original"]', "what is to be kept may not change"),
    ],
)
def test_words_that_do_not_exist_or_clash_are_told(said, told):
    with pytest.raises(InputError) as caught:
        study_of(f'[job]\nid = "j"\nkind = "own"\n[upgrades]\n{said}\n')
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("template", "place", "like", "other"),
    [
        ("bass-4-split", "middle", "middle-pickup-bass-economy", "middle-pickup-bass-soap-standard"),
        ("bass-4-through", "bridge", "bridge-pickup-bass-single-economy", "bridge-pickup-bass-economy"),
        (
            "bass-5-soap",
            "middle",
            "middle-pickup-bass-soap-five-standard",
            "middle-pickup-bass-split-five-standard",
        ),
    ],
)
def test_a_bass_keeps_its_sort_of_pickup(template: str, place: str, like: str, other: str) -> None:
    study = study_of(
        f'[job]\nid = "sort"\nkind = "commission"\n[instrument]\ntemplate = "{template}"\ndc_ohm_{place} = 0\n'
        # under a guard no rout shows that another sort of pickup leaves open
        'access = "guard-mounted"\n'
        "[wish]\nrequire = { output-balance = 1 }\n"
    )
    assert "sound" in changes(study, other)
    assert "sound" not in changes(study, like)
    assert other in unopened(study)
    assert like not in unopened(study)


def unopened(study: Study) -> set[str]:
    """The upgrades that a rule of the choice holds out, as they change what nobody asked to change."""
    return {name for rule in study.problem.rules if is_kept(rule) for name in rule.upgrades}


KEPT_KINDS = {
    "arm": 'kind = "guitar-solid"\nbr_type = "six-screw-trem"',
    "set": 'kind = "guitar-solid"\ntemplate = "guitar-6-set"',
    "locking": 'kind = "guitar-solid"\ntemplate = "guitar-6-locking"',
    "through": 'kind = "guitar-solid"\ntemplate = "guitar-6-through"\ncontour = false',
    "bass": 'kind = "bass-solid"\ntemplate = "bass-5-soap"',
}


def allowed(kind: str, word: str) -> tuple[Study, set[str]]:
    """A study where something is to be kept, and the upgrades that the word leaves to choose from."""
    study = study_of(
        f'[job]\nid = "k"\nkind = "own"\n[instrument]\n{KEPT_KINDS[kind]}\n[upgrades]\nkeeps = ["{word}"]\n'
    )
    shut = {u for rule in study.problem.rules if rule.id == f"keeps:{word}" for u in rule.upgrades}
    fitting = {v.upgrade.id for v in study.verdicts if v.outcome != "does-not-fit"}
    return study, fitting - shut


@pytest.mark.parametrize("kind", KEPT_KINDS)
@pytest.mark.parametrize("word", sorted(row["id"] for row in rows("customer_keeps")))
def test_what_is_kept_is_taken_off_by_nothing(kind: str, word: str) -> None:
    """Where one part of a place is forbidden every part of that place is, and so is the work, whoever asks for it."""
    study, left = allowed(kind, word)
    (row,) = [row for row in rows("customer_keeps") if row["id"] == word]
    # another nut comes with a bridge, and a bridge that has an arm stays open
    if not row["changes"] and word not in ("arm", "nut"):
        shut = [v for v in study.verdicts if v.outcome != "does-not-fit" and v.upgrade.id not in left]
        fitted = {v.upgrade.slot for v in shut if v.upgrade.part is not None}
        for verdict in study.verdicts:
            upgrade = verdict.upgrade
            assert upgrade.id not in left or upgrade.part is None or upgrade.slot not in fitted, upgrade.id
    for upgrade in left:
        verdict = study.verdict(upgrade)
        assert not {demand.task for demand in verdict.demands} & set(row["work"].split()), upgrade


@pytest.mark.parametrize(
    ("kind", "word", "taken", "stays"),
    [
        ("arm", "frets", "replacement-neck-standard", "level-crown-polish"),
        ("arm", "finish", "contour-heel", "polish-body"),
        ("through", "finish", "belly-cut", "polish-body"),
        ("arm", "finish", "satin-neck", "touch-up-chips"),
        ("arm", "nut", "replacement-neck-standard", "adjust-nut"),
        ("arm", "nut", "locking-tremolo-standard", "two-post-tremolo-standard"),
        ("arm", "saddles", "new-six-screw-tremolo-standard", "set-up"),
        ("arm", "bridge", "locking-tremolo-standard", "new-saddles-standard"),
        ("arm", "neck", "replacement-neck-standard", "refret-nickel-silver-standard"),
        ("arm", "controls", "new-harness-standard", "clean-controls"),
        ("bass", "controls", "bass-preamp-standard", "new-jack-standard"),
    ],
)
def test_words_of_a_customer(kind: str, word: str, taken: str, stays: str) -> None:
    study, left = allowed(kind, word)
    assert taken in {v.upgrade.id for v in study.verdicts} - left
    assert stays in left
