"""A plan kept, taken up from a state file, and planned again: reproducible, stable, told in words, errors with rows."""

from __future__ import annotations

import random
from datetime import datetime, time, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.plan.replan.plan import PlannedAgain, plan_again
from estimator.plan.replan.progress import load_state, template
from estimator.plan.replan.saved_plan import answer_of, bookings_of, kept_text, read_kept
from estimator.plan.week import week_of, what_is_awaited
from estimator.report.csv.plan import week_csv
from estimator.report.words.plan import plan_words, proof_lines
from estimator.report.words.replan import again_words
from estimator.schedule.records import Search
from estimator.schedule.verify import breaches_of
from estimator.workbook.write.plan import plan_bytes
from tests.plan.bench import batch, plan

HEAD = '[state]\nplan = "week.json"\nnow = "{now}"\nothers = "{others}"\n'


def state_text(now: str, more: str = "", others: str = "as-planned") -> str:
    return HEAD.format(now=now, others=others) + more


def again(folder: Path, text: str, name: str = "batch-three") -> PlannedAgain:
    if not (folder / "week.json").exists():
        (folder / "week.json").write_text(kept_text(plan(name)))
    (folder / "state.toml").write_text(text)
    return plan_again(batch(name), load_state(folder / "state.toml"), search=Search(engine="rule", tries=10))


def starts(found: PlannedAgain) -> dict[str, datetime]:
    calendar = found.plan.calendar
    return {
        b.operation: calendar.moment(calendar.elapsed_at_start(b.start))
        for b in found.plan.schedule.assignments
    }


def planned(name: str = "batch-three") -> dict[str, tuple[datetime, datetime]]:
    return {w.operation: (w.begins, w.ends) for w in read_kept(kept_text(plan(name)).encode(), "x").work}


@pytest.mark.slow
def test_a_kept_plan_is_the_plan() -> None:
    for name in ("batch-three", "batch-school"):
        found = plan(name)
        kept = read_kept(kept_text(found).encode(), "week.json")
        answer = answer_of(kept, found.study)
        assert (answer.chosen, answer.purchases, answer.freight, answer.cash, answer.measures) == (
            found.answer.chosen,
            found.answer.purchases,
            found.answer.freight,
            found.answer.cash,
            found.answer.measures,
        )
        assert tuple(bookings_of(kept, found.work, found.calendar)) == found.schedule.assignments
        assert kept.promised == found.promised


def test_at_the_first_moment_everything_stays(tmp_path: Path) -> None:
    found = again(tmp_path, state_text("2026-10-05 09:00"))
    assert found.plan.schedule.assignments == plan("batch-three").schedule.assignments
    assert found.plan.changed == {}
    assert found.plan.promised == plan("batch-three").promised
    assert "nothing to another day" in again_words(found)


def test_the_template_reads_back_and_changes_nothing(tmp_path: Path) -> None:
    text = template(plan("batch-three"), "week.json")
    found = again(tmp_path, text)
    assert found.plan.schedule.assignments == plan("batch-three").schedule.assignments
    for operation in plan("batch-three").work.operations:
        assert f"  {operation.id}\n" in text


def test_what_was_planned_till_now_is_done_and_what_is_under_way_runs(tmp_path: Path) -> None:
    old = planned()
    name, (begins, ends) = next((n, w) for n, w in old.items() if (w[1] - w[0]).total_seconds() >= 1500)
    now = begins + timedelta(minutes=15)
    found = again(tmp_path, state_text(f"{now:%Y-%m-%d %H:%M}"))
    assert found.running == {name: (ends - now).total_seconds() / 60}
    assert set(found.as_planned) == {n for n, (_, end) in old.items() if end <= now}
    assert {o.id for o in found.plan.done} == set(found.as_planned)
    first = found.plan.schedule.assignments[0]
    assert (first.operation, starts(found)[name]) == (name, now)
    # with nothing else said, all the rest stands as it stood
    assert {n: s for n, s in starts(found).items() if n != name} == {
        n: s for n, (s, end) in old.items() if end > now and n != name
    }


def test_a_part_that_has_not_come_moves_its_own_work_and_says_so(tmp_path: Path) -> None:
    late = '[[late]]\njob = "commission"\nupgrade = "bridge-pickup-stack-slim-stack"\nexpected = 2026-10-15\n'
    found = again(tmp_path, state_text("2026-10-08 11:30", late))
    old, new = planned(), starts(found)
    assert new["commission:fit-pickup-four-wire"] >= datetime(2026, 10, 15, 9)
    moved = {name for name, when in new.items() if when.date() != old[name][0].date()}
    assert set(found.plan.changed) == moved
    assert {name.partition(":")[0] for name in moved} == {"commission"}
    assert all(
        "comes on Thu 15 Oct instead of Mon 12 Oct" in change.why for change in found.plan.changed.values()
    )
    text = again_words(found)
    assert "commission: promised " in text
    assert "tell the customer" in text
    assert "changed: was Mon 12 Oct" in text
    assert any("comes on Thu 15 Oct" in line for line in week_csv(found.plan).splitlines())
    assert (
        breaches_of(
            found.plan.work,
            found.plan.calendar.opens,
            found.plan.calendar.closes,
            found.plan.schedule.assignments,
        )
        == []
    )
    assert max(map(len, text.splitlines())) <= 105


def test_a_supplier_is_known_however_it_is_spelled(tmp_path: Path) -> None:
    late = '[[late]]\nsupplier = "{}"\nexpected = "2026-10-13"\n'
    told = [
        again(tmp_path, state_text("2026-10-08 12:30", late.format(name))).plan.late
        for name in ("parts-house", "Parts House")
    ]
    assert told[0] == told[1] != {}
    with pytest.raises(InputError, match="did you mean “parts-house”"):
        again(tmp_path, state_text("2026-10-08 12:30", late.format("part house")))
    with pytest.raises(InputError, match=r"as-planned .* or not-begun"):
        again(tmp_path, '[state]\nplan = "week.json"\nnow = "2026-10-08 12:30"\n')


def test_a_whole_parcel_and_a_pack_can_be_late(tmp_path: Path) -> None:
    late = '[[late]]\nsupplier = "finish-store"\nexpected = "2026-10-09"\n'
    parcel = again(tmp_path, state_text("2026-10-07 15:15", late))
    assert starts(parcel)["commission:shield-cavity-paint"] >= datetime(2026, 10, 9, 9)
    pack = '[[late]]\nconsumable = "c-shield-paint"\nexpected = "2026-10-09 10:00"\n'
    assert starts(again(tmp_path, state_text("2026-10-07 15:15", pack)))[
        "commission:shield-cavity-paint"
    ] >= datetime(2026, 10, 9, 10)


def test_a_late_parcel_is_told_with_the_day_on_which_the_part_in_question_was_expected(
    tmp_path: Path,
) -> None:
    """Of parts-house, jacks and nut were to come on Friday the 9th, the pickup on Monday the 12th; all come on the 15th."""
    late = '[[late]]\nsupplier = "parts-house"\nexpected = "2026-10-15"\n'
    found = again(tmp_path, state_text("2026-10-07 15:15", late))
    why = {name: change.why for name, change in found.plan.changed.items()}
    for name, day in (
        ("school:fit-jack", "Fri 9 Oct"),
        ("bass:fit-jack", "Fri 9 Oct"),
        ("commission:fit-preslotted-nut", "Fri 9 Oct"),
        ("commission:fit-pickup-four-wire", "Mon 12 Oct"),
        ("commission:string-up", "Mon 12 Oct"),
    ):
        assert why[name] == f"what was ordered from parts-house comes on Thu 15 Oct instead of {day}", name


@pytest.mark.slow
def test_free_time_names_the_day_of_a_parcel_where_its_seller_sends_two(tmp_path: Path) -> None:
    words = " ".join(plan_words(plan("batch-three")).split())
    assert "strings off of school waits for the parcel of parts-house of Fri 9 Oct" in words
    assert "waits for the parcel of finish-store of" not in words
    shielding = what_is_awaited(plan("batch-three"), "commission:shield-cavity-paint")
    assert shielding == "the parcel of finish-store"
    second = what_is_awaited(plan("batch-three"), "commission:fit-pickup-four-wire")
    assert second == "the parcel of parts-house of Mon 12 Oct"
    assert what_is_awaited(plan("batch-school"), "g1:fit-jack") == "the parcel of parts-house"


def test_work_that_was_not_begun_comes_next_with_all_that_follows(tmp_path: Path) -> None:
    more = '[[not_done]]\noperation = "bass:crown-frets"\n'
    found = again(tmp_path, state_text("2026-10-06 09:00", more))
    new = starts(found)
    assert "bass:level-frets" not in new
    assert new["bass:crown-frets"] >= datetime(2026, 10, 6, 9)
    assert "bass:polish-frets" in new  # it was planned till now, but cannot have been done
    assert "bass:polish-frets" not in found.as_planned
    assert found.plan.changed["bass:crown-frets"].why == "crown frets of bass was not done by now"


def test_what_is_done_goes_on_curing(tmp_path: Path) -> None:
    begins, ends = planned()["commission:shield-cavity-paint"]
    found = again(tmp_path, state_text(f"{ends:%Y-%m-%d %H:%M}"))
    since, until = found.plan.already["commission:shield-cavity-paint"]
    assert since == ends > begins
    assert until > ends + timedelta(hours=10)
    day = next(one for one in week_of(found.plan) if one.day == ends.date())
    told = [c.operation for e in day.entries for c in e.curing] + [c.operation for c in day.overnight]
    assert "commission:shield-cavity-paint" in told
    harness = starts(found)["commission:fit-harness"]
    assert harness >= until


def test_a_plan_made_again_can_be_made_again(tmp_path: Path) -> None:
    late = '[[late]]\njob = "commission"\nupgrade = "bridge-pickup-stack-slim-stack"\nexpected = 2026-10-15\n'
    first = again(tmp_path, state_text("2026-10-08 11:30", late))
    (tmp_path / "week.json").write_text(kept_text(first.plan))
    second = again(tmp_path, state_text("2026-10-09 14:00"))
    assert second.plan.changed == {}  # the parcel is known to be late, nothing else is new
    assert {o.id for o in first.plan.done} < {o.id for o in second.plan.done}
    third = again(tmp_path, state_text("2026-10-20 09:00"))
    assert third.plan.schedule.assignments == ()
    assert "left: 0" in again_words(third)
    assert len(plan_bytes(third.plan)) > 1000


def test_a_day_off_put_in_later_moves_only_what_has_to(tmp_path: Path) -> None:
    (tmp_path / "week.json").write_text(kept_text(plan("batch-three")))
    (tmp_path / "state.toml").write_text(state_text("2026-10-08 15:15"))
    study = batch("batch-three")
    ill = replace(study, file=replace(study.file, days_off=frozenset({datetime(2026, 10, 9).date()})))
    found = plan_again(ill, load_state(tmp_path / "state.toml"), search=Search(engine="rule", tries=10))
    assert all(when.date() != datetime(2026, 10, 9).date() for when in starts(found).values())
    assert found.plan.changed
    assert {o.id for o in found.plan.done} == {
        n for n, (_, end) in planned().items() if end <= datetime(2026, 10, 8, 15, 15)
    }


@pytest.mark.parametrize(
    ("text", "told", "row"),
    [
        (
            state_text("2026-10-06 09:00", '[[done]]\noperation = "bass:levl-frets"\n'),
            "did you mean “bass:level-frets”",
            6,
        ),
        (state_text("2026-10-06 09:00", '[[done]]\noperation = "bass:final-check"\n'), "is begun before", 6),
        (
            state_text("2026-10-05 09:00", '[[running]]\noperation = "bass:level-frets"\nminutes_left = 5\n'),
            "is begun before",
            6,
        ),
        (
            state_text("2026-10-05 09:00", '[[running]]\noperation = "bass:strings-off"\nminutes_left = 0\n'),
            "minutes_left",
            7,
        ),
        (
            state_text("2026-10-05 09:00", '[[running]]\noperation = "bass:strings-off"\n'),
            "required key is missing",
            5,
        ),
        (state_text("tomorrow"), "not a day and time", 3),
        (state_text("2026-10-01 09:00"), "before the plan begins", 3),
        (state_text("2026-10-06 09:00", others="done"), "as-planned", 4),
        (
            state_text("2026-10-06 09:00", '[[late]]\nsupplier = "parts-hose"\nexpected = 2026-10-09\n'),
            "did you mean “parts-house”",
            6,
        ),
        (
            state_text("2026-10-06 09:00", '[[late]]\nsupplier = "parts-house"\nexpected = 2026-10-02\n'),
            "not in the future",
            7,
        ),
        (
            state_text("2026-10-06 09:00", "[[late]]\nexpected = 2026-10-09\n"),
            "what is late cannot be told",
            5,
        ),
        (
            state_text(
                "2026-10-06 09:00",
                '[[late]]\njob = "bass"\nsupplier = "parts-house"\nexpected = 2026-10-09\n',
            ),
            "cannot be told",
            5,
        ),
        (
            state_text(
                "2026-10-06 09:00",
                '[[not_done]]\noperation = "bass:level-frets"\n[[done]]\noperation = "bass:level-frets"\n',
            ),
            "named twice",
            6,
        ),
        (
            state_text(
                "2026-10-06 09:00", '[[done]]\noperation = "bass:level-frets"\nended = "2026-10-07"\n'
            ),
            "in the future",
            7,
        ),
        (state_text("2026-10-06 09:00", "[done]\n"), "double brackets", 5),
        (state_text("2026-10-06 09:00", "[[lost]]\n"), "unknown section", 5),
        (state_text("2026-10-06 09:00").replace("week.json", "weak.json"), "there is no such plan", 2),
    ],
)
def test_a_bad_state_file_is_refused_with_its_row(text: str, told: str, row: int, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        again(tmp_path, text)
    issue = next(issue for issue in caught.value.issues if told in str(issue))
    assert issue.where.row == row, str(issue)
    assert issue.where.file.endswith("state.toml")
    assert issue.accepted or issue.next_step


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"\xff\xfe", "not a saved plan"),
        (b"{", "row 1"),
        (b"[]", "a file that --save-plan wrote"),
        (b'{"schema": 2}', "another version"),
        (b'{"schema": 1}', "damaged"),
    ],
)
def test_a_file_that_is_no_plan_is_refused(data: bytes, told: str, tmp_path: Path) -> None:
    (tmp_path / "week.json").write_bytes(data)
    with pytest.raises(InputError, match=told):
        again(tmp_path, state_text("2026-10-06 09:00"))


@pytest.mark.slow
def test_a_plan_of_another_batch_is_refused(tmp_path: Path) -> None:
    (tmp_path / "week.json").write_text(kept_text(plan("batch-school")))
    with pytest.raises(InputError, match="another batch than the batch file"):
        again(tmp_path, state_text("2026-10-06 09:00"))
    with pytest.raises(InputError, match="no such state file"):
        load_state(tmp_path / "nowhere.toml")


def test_a_night_is_no_work(tmp_path: Path) -> None:
    old = planned("batch-school")
    name, (begins, ends) = next((n, w) for n, w in old.items() if w[0].date() < w[1].date())
    assert begins.hour < 16 <= 24 - 9 + ends.hour
    in_the_morning = (ends - ends.replace(hour=9, minute=0)).total_seconds() / 60
    for clock in (f"{begins:%Y-%m-%d} 15:15", f"{begins:%Y-%m-%d} 20:00", f"{ends:%Y-%m-%d} 09:00"):
        assert again(tmp_path, state_text(clock), "batch-school").running == {name: in_the_morning}


@pytest.mark.slow
def test_what_was_proven_with_more_search_is_told_again_of_the_same_question_only(tmp_path: Path) -> None:
    """Planned again with the solver, then twice at that moment by rule alone: the proof stands; of another question, not."""
    text = state_text("2026-10-06 12:00")
    (tmp_path / "week.json").write_text(kept_text(plan("batch-three")))
    (tmp_path / "state.toml").write_text(text)
    once = plan_again(batch("batch-three"), load_state(tmp_path / "state.toml"), search=Search(tries=10))
    weak = again(tmp_path, text)
    for _ in range(2):
        (tmp_path / "week.json").write_text(kept_text(once.plan))
        twice = again(tmp_path, text)
        assert proof_lines(twice.plan)[1:] == proof_lines(once.plan)[1:]
        assert kept_text(twice.plan) == kept_text(once.plan)
    # else nothing is shown: the solver has to prove more than the plain bounds do
    assert once.plan.schedule.bounds["makespan"] > weak.plan.schedule.bounds["makespan"]
    damaged = kept_text(once.plan).replace('"question": "', '"question": "x')
    (tmp_path / "week.json").write_text(damaged)
    other = again(tmp_path, text)
    assert other.plan.schedule.assignments == once.plan.schedule.assignments
    assert other.plan.schedule.bounds["makespan"] < once.plan.schedule.bounds["makespan"]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(24))
@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_planning_again_twice_at_one_moment_changes_nothing(tmp_path: Path, name: str, seed: int) -> None:
    """Idempotent, whatever runs, is done or is late; and in the kept order nothing begins sooner than planned."""
    chance = random.Random(seed)
    first = plan(name)
    kept = read_kept(kept_text(first).encode(), "week.json")
    one = chance.choice(kept.work)
    now = one.begins + (one.ends - one.begins) * chance.random()
    now = max(now.replace(second=0, microsecond=0), datetime.combine(kept.start, time(9)))
    late = ""
    bought = [(p.kind, p.job, p.what) for p in first.answer.purchases if p.seller]
    if seed % 2 and bought:
        supplier = chance.choice(sorted({p.seller for p in first.answer.purchases if p.seller}))
        expected = now + timedelta(days=chance.randint(1, 6))
        late = f'[[late]]\nsupplier = "{supplier}"\nexpected = "{expected:%Y-%m-%d}"\n'
    text = state_text(f"{now:%Y-%m-%d %H:%M}", late, chance.choice(["as-planned", "not-begun"]))
    once = again(tmp_path, text, name)
    (tmp_path / "week.json").write_text(kept_text(once.plan))
    twice = again(tmp_path, text, name)
    assert twice.plan.schedule.assignments == once.plan.schedule.assignments
    assert twice.plan.promised == once.plan.promised
    assert (twice.running, {o.id for o in twice.plan.done}) == (once.running, {o.id for o in once.plan.done})
    assert kept_text(twice.plan) == kept_text(once.plan)
    assert twice.plan.schedule.bounds == once.plan.schedule.bounds
    assert proof_lines(twice.plan)[1:] == proof_lines(once.plan)[1:]
    if once.result.kept_order:
        old = {w.operation: w.begins for w in kept.work}
        assert all(when >= old[n] for n, when in starts(once).items())
