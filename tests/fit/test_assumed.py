"""A value that nobody measured never looks like one that somebody did."""

from __future__ import annotations

import ast
from pathlib import Path

import estimator.fit
from estimator.choose.study import study_job
from estimator.fit.rules.bridges import existing_row
from estimator.input.job.load import load_job
from estimator.report.record import as_data
from estimator.report.records.fit import FitAnswer, Judged
from estimator.tables.folders import default_folder
from tests.fit.cases import Value, make_case, one
from tests.shops import default_shop

FIT = Path(estimator.fit.__file__).parent
POSTS: dict[str, Value] = {"br_type": "two-post-trem", "br_spread": 74}


def test_a_fallback_is_noted_as_assumed() -> None:
    case = make_case(POSTS)
    assert [hole.d for hole in existing_row(case)] == [10, 10]
    assert case.used["post_bush_d"].assumed
    measured = make_case(POSTS | {"post_bush_d": 11})
    assert [hole.d for hole in existing_row(measured)] == [11, 11]
    assert not measured.used["post_bush_d"].assumed


def test_holes_out_of_sight_are_assumed_until_somebody_looks() -> None:
    guard: dict[str, Value] = {"guard_hole_n": 11, "guard_match_n": 8}
    found = one("R70", make_case(guard, "guard", {"holes": 11}))
    assert [value.name for value in found.assumed] == ["guard_seen_n"]
    looked = one("R70", make_case(guard | {"guard_seen_n": 0}, "guard", {"holes": 11}))
    assert looked.assumed == ()


def test_the_shop_asks_for_every_field_that_a_rule_reads() -> None:
    shop = default_shop()
    dimensions = {name for dims in shop.part_dimensions.values() for name in dims}
    fields = {"number", "word", "yes", "maybe", "has", "number_or", "word_or", "measured"}
    of_parts = {"p", "p_word", "p_yes", "p_maybe", "p_has", "order"}
    read = 0
    for file in sorted(FIT.rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
                continue
            name = node.args[0]
            if not (isinstance(name, ast.Constant) and isinstance(name.value, str)):
                continue
            if isinstance(node.func.value, ast.Name) and node.func.value.id == "case":
                known = shop.intake if node.func.attr in fields else dimensions
                if node.func.attr in fields | of_parts:
                    read += 1
                    assert name.value in known, f"{file.name}:{node.lineno} {name.value}"
    assert read > 200


def test_rules_read_values_through_the_case_alone() -> None:
    """No rule takes a reading or a dimension past the record of values used."""
    for file in sorted(FIT.rglob("*.py")):
        # shared.py holds no rule: by it is noted what of a part the rules look at
        if file.name in ("case.py", "candidates.py", "triage.py", "judge.py", "shared.py"):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                assert not (node.value.id == "case" and node.attr == "instrument"), (
                    f"{file.name}:{node.lineno}"
                )
            if isinstance(node, ast.Attribute):
                assert node.attr != "dims", f"{file.name}:{node.lineno}"


def test_findings_as_data_name_what_was_assumed() -> None:
    """Of every finding of an example job: the list of names, the marks of its values, and the job file agree."""
    shop = default_shop()
    job = load_job(Path(str(default_folder("example_jobs"))) / "tight-commission.toml", shop)
    study = study_job(shop, job)
    data = as_data(FitAnswer(Judged(job, study.verdicts, (), ())))
    verdicts = data["verdicts"]
    assert isinstance(verdicts, list)
    measured = assumed = 0
    for verdict in verdicts:
        for finding in verdict["findings"]:
            marked = [value["field"] for value in finding["values"] if value["assumed"]]
            assert finding["assumed"] == marked
            for value in finding["values"]:
                if value["field"] in job.instrument:
                    assert value["assumed"] is job.instrument[value["field"]].assumed
                    measured += not value["assumed"]
                    assumed += value["assumed"]
    assert measured > 20
    assert assumed > 20


def test_a_saddle_set_of_another_size_is_refused_with_what_would_pass() -> None:
    bass: dict[str, Value] = {"string_n": 4, "saddle_w": 18, "saddle_thread": "m3"}
    part: dict[str, Value] = {"saddle_w": 10.8, "thread": "m3"}
    typical = one("R25", make_case(bass, "saddles", part, typical=("saddle_w",)))
    assert typical.outcome == "no"
    assert "more than 17.25 mm (typical size: name one that suits" in typical.sentence
    assert "typical" not in one("R25", make_case(bass, "saddles", part)).sentence
    wide: dict[str, Value] = {"saddle_w": 20, "thread": "m3"}
    assert one("R25", make_case(bass, "saddles", wide)).outcome == "no"
    assert one("R25", make_case(bass, "saddles", wide, typical=("saddle_w",))).outcome == "no"
