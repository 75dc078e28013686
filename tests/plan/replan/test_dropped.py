"""A job that its customer takes back: the rest of the kept plan goes on, and what was bought for it is told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.verify import JointSolution, cash_of
from estimator.core.errors import InputError
from estimator.input.batch.load import load_batch
from estimator.plan.replan.plan import PlannedAgain, plan_again
from estimator.plan.replan.progress import load_state
from estimator.plan.replan.saved_plan import kept_text, read_kept
from estimator.report.words.replan import again_words
from estimator.schedule.records import Search
from estimator.schedule.verify import breaches_of
from estimator.workbook.write.plan import plan_bytes
from tests.plan.bench import EXAMPLES, batch, plan, shop
from tests.plan.replan.test_plan import state_text

JOBS = tuple(batch("batch-three").studies)


def without(folder: Path, *gone: str) -> BatchStudy:
    """The batch of three with these jobs taken out of its file."""
    text = (EXAMPLES / "batches" / "batch-three.toml").read_text(encoding="utf-8")
    head, *sections = text.split("[[job]]")
    left = [one for one in sections if not any(f'id = "{job}"' in one for job in gone)]
    assert len(left) == len(sections) - len(gone)
    file = folder / "batch-three.toml"
    file.write_text(
        "[[job]]".join([head, *left]).replace('file = "', f'file = "{EXAMPLES / "batches"}/'),
        encoding="utf-8",
    )
    return study_batch(shop(), load_batch(file, shop()))


def again(folder: Path, now: str, more: str = "", *gone: str) -> PlannedAgain:
    (folder / "week.json").write_text(kept_text(plan("batch-three")), encoding="utf-8")
    (folder / "state.toml").write_text(state_text(now, more), encoding="utf-8")
    search = Search(engine="rule", tries=10)
    return plan_again(without(folder, *gone), load_state(folder / "state.toml"), search=search)


@pytest.mark.parametrize("gone", JOBS)
def test_the_rest_goes_on_without_a_job_that_was_taken_back(tmp_path: Path, gone: str) -> None:
    late = '[[late]]\nsupplier = "parts-house"\nexpected = "2026-10-13"\n'
    found = again(tmp_path, "2026-10-08 12:30", late, gone)
    rest = {job for job in JOBS if job != gone}
    names = {b.operation for b in found.plan.schedule.assignments} | {o.id for o in found.plan.done}
    assert {name.partition(":")[0] for name in names} == rest
    assert {o.id for o in plan("batch-three").work.operations if o.id.partition(":")[0] in rest} <= names
    calendar = found.plan.calendar
    assert (
        breaches_of(found.plan.work, calendar.opens, calendar.closes, found.plan.schedule.assignments) == []
    )
    assert set(found.plan.promised) == rest
    answer = found.plan.answer
    held = JointSolution(answer.chosen, answer.measures, answer.purchases, answer.freight)
    assert answer.cash == cash_of(found.plan.study.batch, held) < plan("batch-three").answer.cash
    assert not any(p.job == gone for p in answer.purchases)
    (told,) = (str(issue) for issue in found.warnings if f"{gone} was planned" in str(issue))
    for purchase in plan("batch-three").answer.purchases:
        if purchase.job == gone and purchase.is_paid:
            assert purchase.what in told
    assert again_words(found)
    assert plan_bytes(found.plan)


def test_a_plan_without_the_job_is_kept_and_taken_up_once_more(tmp_path: Path) -> None:
    found = again(tmp_path, "2026-10-08 12:30", "", "bass")
    kept = read_kept(kept_text(found.plan).encode(), "week.json")
    assert "bass" not in kept.jobs
    assert "bass" not in json.dumps(json.loads(kept_text(found.plan))["work"])


def test_a_job_that_the_plan_never_had_is_still_refused(tmp_path: Path) -> None:
    study = batch("batch-three")
    (tmp_path / "week.json").write_text(
        kept_text(again(tmp_path, "2026-10-08 12:30", "", "bass").plan), encoding="utf-8"
    )
    (tmp_path / "state.toml").write_text(state_text("2026-10-08 13:00"), encoding="utf-8")
    with pytest.raises(InputError, match="other jobs than the batch file"):
        plan_again(study, load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=10))
