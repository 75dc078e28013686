"""Where the work of a saved plan stands, by what the ledger holds: done, running, not begun, parcels that are late."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta

from estimator.batch.arrivals import BY_NOON, BoughtKey
from estimator.batch.build import BatchStudy
from estimator.core.amounts import Minutes
from estimator.core.errors import InputError, Issue, Origin, note, refusal, shown, warning
from estimator.ledger.clock import Moment, kept_moment, minutes_text
from estimator.ledger.for_choice import ledger_names
from estimator.ledger.parcels import parcel_news
from estimator.ledger.records import RunningNow
from estimator.ledger.states import WORK_IS_OVER
from estimator.ledger.store import Ledger, Row
from estimator.ledger.timers import running
from estimator.model.operation import operation_name
from estimator.plan.replan.progress import RecordedJob, StateFile, bought_of
from estimator.plan.replan.saved_plan import KeptPlan, kept_at, planned_minutes
from estimator.schedule.calendar import Calendar
from estimator.schedule.resources import calendar_of


def state_by_ledger(
    ledger: Ledger, study: BatchStudy, plan: str, now: Moment
) -> tuple[StateFile, tuple[Issue, ...]]:
    """The state of the plan's work now, and warnings of what the ledger does not say clearly.

    A task is done when its time was ended or typed; one of several sittings (coats) for each time that was
    recorded. What runs, or is paused, has its planned time less what it took so far still before it.
    """
    kept = kept_at(plan, "--progress")
    clock = now.local.replace(second=0, microsecond=0)
    earliest = kept.made or datetime.combine(kept.start, time())
    if clock < earliest:
        raise refusal(
            "--now",
            "before the plan begins",
            shown(clock.isoformat(" ", "minutes")),
            f"{earliest.isoformat(' ', 'minutes')} or later",
            "look at the date",
        )
    names = ledger_names(ledger, study.file)
    issues = [
        warning(
            ledger.where,
            f"{job} of the plan is not booked",
            "nothing",
            "a job that was booked",
            "its work is taken as not begun",
        )
        for job in kept.jobs
        if job not in names
    ]
    calendar = calendar_of(study.shop, study.file.start, study.file.days_off)
    runs = running(ledger, now)
    done: dict[str, datetime | None] = {}
    under_way: dict[str, Minutes] = {}
    recorded = []
    for job, name in names.items():
        mine = _JobState(ledger, kept, calendar, (job, name), clock)
        mine.read([row for row in runs if row.job == name and row.kind == "hands"])
        done.update(mine.done)
        under_way.update(mine.running)
        issues += mine.issues
        recorded.append(mine.told())
    places = {one: Origin(str(ledger.path)) for one in (*done, *under_way)}
    late = _late(ledger, kept, {name: job for job, name in names.items()}, clock)
    return StateFile(kept, clock, False, done, under_way, (), late, places, tuple(recorded)), tuple(issues)


def _late(
    ledger: Ledger, kept: KeptPlan, jobs: Mapping[str, str], now: datetime
) -> dict[BoughtKey, datetime]:
    """What the plan bought and has not come, with the moment it is expected; ``jobs``: their names in the plan."""
    late: dict[BoughtKey, datetime | None] = {}
    asked: list[Issue] = []
    for parcel, day in parcel_news(ledger).items():
        bought = bought_of(
            kept, parcel.seller, parcel.item, (jobs.get(parcel.job, parcel.job), parcel.upgrade)
        )
        expected = None if day is None else datetime.combine(day, time()) + timedelta(minutes=BY_NOON)
        if bought and expected is not None and expected <= now:
            note(
                asked,
                ledger.where,
                f"{parcel.words()} was expected by noon of {day}, and nobody said that it came",
                accepted="--came, or the day on which it is expected now",
                next_step=f"estimator ledger parcel {parcel.seller} --came (or --expected DAY)",
            )
        late.update(dict.fromkeys(bought, expected))
    if asked:
        raise InputError(asked)
    return {bought: expected for bought, expected in late.items() if expected is not None}


class _JobState:
    """What becomes of one job's planned work; filled by ``read``."""

    def __init__(
        self, ledger: Ledger, kept: KeptPlan, calendar: Calendar, names: tuple[str, str], now: datetime
    ) -> None:
        job, name = names
        self._ledger, self._job, self._name, self._now, self._kept = ledger, job, name, now, kept
        self.done: dict[str, datetime | None] = {}
        self.running: dict[str, Minutes] = {}
        self.issues: list[Issue] = []
        self._seconds = [0, 0]
        self._planned = planned_minutes(kept, calendar)
        self._sittings: dict[str, list[str]] = {}
        # what a plan made again found done comes first: the ledger holds its times still
        finished = sorted(kept.done, key=lambda name: (kept.done[name], name))
        left = sorted(kept.work, key=lambda work: (work.begins, work.ends, work.operation))
        for operation in dict.fromkeys((*finished, *(one.operation for one in left))):
            of, sitting = operation_name(operation)
            if of == job:
                self._sittings.setdefault(sitting.task, []).append(operation)
        self._quoted = {
            str(row["task"])
            for row in ledger.rows(
                "SELECT task FROM job JOIN quote_task ON quote_task.quote = job.accepted_quote WHERE job.id = ?",
                (name,),
            )
        }

    def read(self, runs: Sequence[RunningNow]) -> None:
        """Take over the recorded times, what runs, and that the work is over where the job says so."""
        times: dict[str, list[Row]] = {}
        for row in self._ledger.rows(
            "SELECT * FROM time_taken WHERE job = ? AND kind = 'hands'"
            " AND (seconds > 0 OR corrects IS NULL) ORDER BY at, id",
            (self._name,),
        ):
            times.setdefault(row["task"], []).append(row)
        going = {row.task: row for row in runs}
        for task, sittings in self._sittings.items():
            self._one_task(sittings, times.get(task, []), going.get(task))
        strange = sorted((times.keys() | going.keys()) - self._sittings.keys() - self._quoted)
        if strange:
            note(
                self.issues,
                self._ledger.where,
                f"work on {self._name} that the plan does not have",
                ", ".join(strange),
                next_step="its time is counted; nothing of the plan is done by it",
                severity="warning",
            )
        self._over()

    def _one_task(self, sittings: Sequence[str], times: Sequence[Row], runs: RunningNow | None) -> None:
        finished = sittings[: len(times)]
        if len(sittings) > len(times) and not runs and len(sittings) > 1 and times:
            note(
                self.issues,
                self._ledger.where,
                f"{sittings[0]}: {len(times)} of {len(sittings)} sittings are recorded",
                next_step="the rest is planned on; record each sitting by itself",
                severity="warning",
            )
        if runs and len(finished) == len(sittings):
            finished = finished[:-1]  # taken up once more: it is not done
        for number, one in enumerate(finished):
            # of more times than sittings, the last is the end
            row = times[-1] if number == len(sittings) - 1 else times[number]
            self.done[one] = min(self._now, _local(row))
        if finished:
            ended = times if len(finished) == len(sittings) else times[: len(finished)]
            if all(one in self._planned for one in finished):
                self._seconds[0] += 60 * sum((self._planned[one] for one in finished), Minutes(0))
                self._seconds[1] += sum(row["seconds"] for row in ended)
        if runs:
            self._under_way(sittings[len(finished)], times[len(finished) :], runs)

    def _under_way(self, one: str, times: Sequence[Row], runs: RunningNow) -> None:
        if runs.seconds is None:
            raise refusal(
                self._ledger.where,
                f"{self._name}, {runs.task} was not ended: {runs.forgotten}",
                accepted="timers that are true",
                next_step=f"estimator ledger end {self._name} {shown(runs.task)} --took MINUTES",
            )
        taken = runs.seconds + sum(row["seconds"] for row in times)
        # work taken up once more of which an older plan does not say what it was planned at: nobody knows
        planned = 60 * self._planned.get(one, 0)
        left = planned - taken
        if left <= 0:
            note(
                self.issues,
                self._ledger.where,
                f"{one} has taken {minutes_text(taken)} of {minutes_text(planned)} planned",
                next_step="how long it still takes nobody knows: one minute is reckoned",
                severity="warning",
            )
        self.running[one] = Minutes(max(1, -(-left // 60)))

    def _over(self) -> None:
        """A job that is ready has all its work done, written down or not."""
        marks = ", ".join("?" * len(WORK_IS_OVER))
        state = self._ledger.row("SELECT state FROM job WHERE id = ?", (self._name,))
        if state is None or state["state"] not in WORK_IS_OVER or state["state"] == "declined":
            return
        step = self._ledger.row(
            f"SELECT at, ahead_min FROM step WHERE job = ? AND state IN ({marks}) ORDER BY id",
            (self._name, *WORK_IS_OVER),
        )
        ended = min(self._now, _local(step)) if step else self._now
        for one in (one for sittings in self._sittings.values() for one in sittings):
            self.done.setdefault(one, self._kept.done.get(one, ended))
            self.running.pop(one, None)

    def told(self) -> RecordedJob:
        """Planned against real of what was recorded, and the day the customer was told."""
        row = self._ledger.row("SELECT promised FROM job WHERE id = ?", (self._name,))
        day = date.fromisoformat(row["promised"]) if row and row["promised"] else None
        return RecordedJob(self._job, len(self.done), self._seconds[0], self._seconds[1], day)


def _local(row: Mapping[str, object]) -> datetime:
    when = kept_moment(str(row["at"]), int(str(row["ahead_min"])))
    return when.local.replace(second=0, microsecond=0)
