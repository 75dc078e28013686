"""Verdicts: all rules there, ranking, what counts as forced, missing and assumed values, words."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.fit import rules
from estimator.fit.candidates import offered
from estimator.fit.case import RULES
from estimator.fit.judge import judge, judge_all, wanted_levels
from estimator.fit.rules import known_rules
from estimator.input.job.load import job_from
from estimator.model import Demand, Job, Part, Reading, Requirement, Shop, Upgrade, UpgradeRow
from estimator.model.fit_rules import FIT_RULES
from estimator.report.words import fit as words
from estimator.tables.toml.text import parse_toml
from tests.fit.cases import make_case, run, stub_shop
from tests.shops import default_shop

D = Decimal
ALL = FIT_RULES


def test_every_number_has_its_rule() -> None:
    assert known_rules() == ALL


def test_every_rule_says_what_it_holds_against_what() -> None:
    for number in ALL:
        text = RULES[number].__doc__ or ""
        assert len(text) > 40, number


@pytest.mark.parametrize("number", ALL)
@pytest.mark.parametrize("part", ["", "trem6", "hum", "nutcut", "neck", "tuner6"])
def test_a_missing_value_is_named_never_guessed_and_never_a_crash(number: str, part: str) -> None:
    """With nothing measured at all a rule either does not apply or says what to measure."""
    for finding in run(number, make_case({}, part, {}, place="pickup-bridge")):
        unknown = [value.name for value in finding.used if value.value == "not known"]
        assert not (unknown and finding.outcome == "fits")
        if "not judged" in finding.sentence:
            assert finding.outcome == "warn"
            assert "not known" in finding.sentence
            assert any(value.value == "not known" and value.assumed for value in finding.used)


def upgrade(rules: tuple[str, ...], part: Part | None = None, demands: tuple[Demand, ...] = ()) -> Upgrade:
    row = UpgradeRow(
        "new-thing",
        "fit a new thing",
        "slot",
        "any",
        part.part_class if part else "",
        "1",
        "0",
        (),
        (),
        (),
        rules,
        "",
        "",
    )
    return Upgrade("new-thing", row, "fit a new thing", "slot", part, D(1), demands, (), (), (), D(0))


def job(**values: Any) -> Job:
    assumed = values.pop("assumed", ())
    readings = {name: Reading(value, name in assumed) for name, value in values.items()}
    return cast(Job, SimpleNamespace(instrument=readings, requirements=(), file=""))


BLOCK = Part(
    "block",
    "p-block",
    "block",
    "standard",
    "a block",
    D(30),
    D(300),
    dims={"block_h": D(42), "block_t": D(16), "block_w": D(73), "matching": "yes"},
    typical=frozenset({"block_w"}),
)
CAVITY = {
    "br_type": "six-screw-trem",
    "tcav_len": D(22),
    "tcav_wid": D(72),
    "tcav_dep": D("44.5"),
    "tcav_wall": D(12),
    "body_thk": D("44.5"),
}


def block_shop(*rules: str) -> Shop:
    return stub_shop(part_classes={"p-block": SimpleNamespace(rules=rules)})


def test_the_worked_block_in_one_line() -> None:
    verdict = judge(
        block_shop("R04", "R05", "R06", "R07", "R08", "R09", "R26"), job(**CAVITY), upgrade((), BLOCK)
    )
    assert verdict.outcome == "fits-after"
    assert words.one_line(verdict) == (
        "fits after: take out 19.4 cm3 at the back of the tremolo cavity (leaves 10.1 mm of wall "
        "to the pickup rout) [assumed: part.block_w]"
    )
    assert [f.outcome for f in verdict.findings] == ["work", "warn", "warn", "fits", "fits", "fits", "fits"]


def test_a_refusal_outweighs_work_and_comes_first() -> None:
    thin = job(**CAVITY | {"body_thk": D(40)})
    verdict = judge(block_shop("R06", "R08", "R04"), thin, upgrade((), BLOCK))
    assert verdict.outcome == "does-not-fit"
    assert verdict.findings[0].rule == "R04"
    assert words.one_line(verdict).startswith("does not fit: the block is 42 mm tall, the body 40 mm thick")


def test_class_rules_run_before_row_rules_and_each_once() -> None:
    verdict = judge(block_shop("R26"), job(**CAVITY), upgrade(("R26", "R05"), BLOCK))
    assert sorted(f.rule for f in verdict.findings) == ["R05", "R26"]


def test_each_rule_has_its_own_record_of_values() -> None:
    verdict = judge(block_shop("R05", "R26"), job(**CAVITY), upgrade((), BLOCK))
    used = {f.rule: {value.name for value in f.used} for f in verdict.findings}
    assert used == {"R05": {"part.block_h", "body_thk"}, "R26": {"br_type", "part.matching"}}


def test_work_the_upgrade_does_anyway_is_not_forced_and_keeps_its_place() -> None:
    there = {"nut_clear_b": D("0.8"), "nut_clear_t": D("0.6"), "string_n": D(6)}
    own = Demand("adjust-nut-slots", "at-the-nut", D(6), "a set-up")
    verdict = judge(stub_shop(), job(**there), upgrade(("R42",), demands=(own,)))
    assert verdict.outcome == "fits"
    assert [d.place for d in verdict.findings[0].demands] == ["at-the-nut"]
    half = replace(own, share=D("0.5"))
    assert judge(stub_shop(), job(**there), upgrade(("R42",), demands=(half,))).outcome == "fits-after"


def test_forced_work_rests_on_the_fields_it_was_worked_out_from() -> None:
    verdict = judge(block_shop("R08"), job(**CAVITY), upgrade((), BLOCK))
    assert "tcav_len" in verdict.findings[0].demands[0].rests_on
    assert not any(name.startswith("part.") for name in verdict.findings[0].demands[0].rests_on)


def test_an_uncoded_rule_is_bad_input() -> None:
    with pytest.raises(InputError) as raised:
        judge(stub_shop(), job(), upgrade(("R99",)))
    assert "fit rule that does not exist" in str(raised.value)
    assert "did you mean" in str(raised.value)


def test_judging_twice_gives_the_same() -> None:
    one, other = judge_all(block_shop("R06", "R08"), job(**CAVITY), [upgrade((), BLOCK)] * 2)
    assert one == other


def test_the_highest_level_asked_for_counts() -> None:
    def asks(level: int | None) -> Requirement:
        return Requirement("hum", None, None, None if level is None else D(level), "")

    wish = cast(Job, SimpleNamespace(requirements=(asks(2), asks(3), asks(None))))
    assert wanted_levels(wish) == {"hum": D(3)}


def test_every_task_a_rule_can_force_has_words() -> None:
    folder = Path(rules.__file__).parent
    named = {
        task
        for path in folder.glob("*.py")
        for task in re.findall(r'demand\(\s*"([a-z-]+)"', path.read_text(encoding="utf-8"))
    }
    assert len(named) > 30
    assert sorted(named - words.SPOKEN.keys()) == []


def test_work_in_words() -> None:
    assert words.spoken("plug-hole", D(4)) == "plug 4 holes"
    assert words.spoken("drill-hole", D(1)) == "drill 1 hole"
    assert words.spoken("layout-bridge", D(1)) == "lay out the bridge"
    assert words.spoken("some-other-task", D(2)) == "some other task 2 times"
    assert words.spoken("some-other-task", D(1)) == "some other task"


@pytest.mark.parametrize(
    ("name", "accepted"),
    [("belly-cut", "no contour"), ("new-bass-tuners", "for a bass"), ("set-upp", "did you mean “set-up”")],
)
def test_what_is_not_offered_says_what_it_wants(name: str, accepted: str) -> None:
    shop = default_shop()
    text = '[job]\nid = "a"\n[instrument]\nkind = "guitar-solid"\ncontour = true\n[upgrades]\nopen = ["set-up"]\n'
    job = job_from(parse_toml(text.encode(), "a.toml"), shop)
    with pytest.raises(InputError) as told:
        offered(shop, replace(job, open=(name,)))
    assert accepted in str(told.value)
