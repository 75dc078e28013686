"""A plan kept as a file (JSON), so that it can be taken up again: what was chosen, bought, and when each work begins.

Times are local dates and times, so that the file can be read and a changed calendar does no harm.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeGuard

from msgspec import Struct, field
from msgspec.structs import asdict, replace

from estimator.batch.arrivals import BoughtKey, minute_of
from estimator.batch.build import BatchStudy, done_by_ways, methods_of
from estimator.batch.records import JointAnswer, Purchase
from estimator.core.amounts import Cents, Minutes
from estimator.core.errors import InputError, Issue, Origin, note, refusal, shown
from estimator.core.given import whole
from estimator.core.text import written_day
from estimator.plan.plan import Plan
from estimator.plan.replan.schedule import question_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, SchedulingProblem

SCHEMA = 1
WHOSE = {"pack": "seller", "spare": "seller"}
"""The key beside what comes late, by kind: else the job of a part."""
STEP = "save the plan again with --save-plan"


class KeptWork(Struct, frozen=True):
    """One operation as it was planned."""

    operation: str
    who: str
    begins: datetime
    ends: datetime


class KeptPlan(Struct, frozen=True):
    """What a plan was: the choice with its proof, purchases, planned work, done work, promises.

    ``proof``: what was proven of which question about the week. ``done_by``: who did what is done; ``running``: what was under way when the plan was made, with the
    minutes left; ``methods``: by job and task how it is done, where there is more than one way; ``planned``: the working minutes that the first plan gave to what is done or running, so that
    what it has taken is never held against what was left of it. ``late``: when purchases come that do not come as promised. ``made``: the moment from which it was
    planned again, None for a first plan.
    """

    file: str
    batch: str
    start: date
    made: datetime | None
    jobs: tuple[str, ...]
    chosen: Mapping[str, tuple[str, ...]]
    choice: Mapping[str, Any]
    purchases: tuple[Purchase, ...]
    freight: Mapping[str, Cents]
    late: Mapping[BoughtKey, datetime]
    done: Mapping[str, datetime]
    work: tuple[KeptWork, ...]
    finished: Mapping[str, datetime]
    promised: Mapping[str, date]
    done_by: Mapping[str, str] = field(default_factory=dict)
    running: Mapping[str, Minutes] = field(default_factory=dict)
    planned: Mapping[str, Minutes] = field(default_factory=dict)
    spares: tuple[Purchase, ...] = ()
    proof: tuple[str, Mapping[str, int]] | None = None
    methods: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def kept_text(plan: Plan) -> str:
    """A plan as JSON text; the same plan gives the same text."""
    calendar, answer = plan.calendar, plan.answer
    told = {
        "schema": SCHEMA,
        "batch": plan.study.file.id,
        "start": plan.study.file.start.isoformat(),
        "made": written_day(plan.now) if plan.now else None,
        "jobs": list(plan.study.studies),
        "chosen": {job: list(ids) for job, ids in answer.chosen.items()},
        "choice": {
            "status": answer.status,
            "aims": list(answer.aims),
            "objective": answer.objective,
            "bound": answer.bound,
            "gap": answer.gap,
            "cash": answer.cash,
            "minutes": answer.minutes,
            "left_out": list(answer.left_out),
            "why_not": dict(answer.why_not),
            "extra": answer.extra,
            "no_spares": answer.no_spares,
            "none_earns": answer.none_earns,
        },
        "methods": {job: methods_of(plan.study, estimate, job) for job, estimate in plan.estimates.items()},
        "purchases": [asdict(purchase) for purchase in answer.purchases],
        "spares": [asdict(purchase) for purchase in answer.spares],
        "freight": dict(answer.freight),
        "late": [
            {
                "kind": kind,
                WHOSE.get(kind, "job"): whose,
                "what": what,
                "there": written_day(calendar.moment(minute)),
            }
            for (kind, whose, what), minute in plan.late.items()
        ],
        "done": {o.id: written_day(plan.already[o.id][0]) for o in plan.done},
        "done_by": dict(sorted(plan.done_by.items())),
        "running": dict(sorted(plan.running.items())),
        "planned": dict(sorted(plan.planned.items())),
        "work": [
            {
                "operation": b.operation,
                "who": b.who,
                "begins": written_day(calendar.moment(calendar.elapsed_at_start(b.start))),
                "ends": written_day(calendar.moment(calendar.elapsed_at_end(b.end))),
            }
            for b in plan.schedule.assignments
        ],
        "proof": {
            "question": question_of(plan.work, calendar, plan.schedule.objectives),
            "bounds": dict(plan.schedule.bounds),
        },
        "finished": {job: written_day(when) for job, when in plan.finished().items()},
        "promised": {job: when.isoformat() for job, when in plan.promised.items()},
    }
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"


def kept_at(file: str | Path, where: Origin | str) -> KeptPlan:
    """The plan that is kept in a file; InputError where there is none, told of ``where`` it is named."""
    try:
        data = whole(Path(file))
    except (OSError, ValueError):  # a name that no file can have
        raise refusal(
            where,
            "there is no such plan",
            shown(str(file)),
            "a file that --save-plan wrote",
            "save the plan with --save-plan, or mend the name",
        ) from None
    return read_kept(data, str(file))


def read_kept(data: bytes, file: str) -> KeptPlan:
    """A kept plan from the bytes of its file; InputError for anything that is none."""
    where = Origin(file)
    try:
        told = json.loads(data.decode("utf-8"))
    except UnicodeDecodeError:
        raise refusal(where, "not a saved plan", "bytes that are no text", "JSON in UTF-8", STEP) from None
    except (ValueError, RecursionError) as error:
        row = getattr(error, "lineno", None)
        raise refusal(Origin(file, row), "not a saved plan", str(error), "JSON", STEP) from None
    if not isinstance(told, dict) or "schema" not in told:
        raise refusal(where, "not a saved plan", "", "a file that --save-plan wrote", STEP)
    if not _is_number(told["schema"]) or told["schema"] != SCHEMA:
        step = "use the version that wrote it, or " + STEP
        raise refusal(
            where, "a saved plan of another version", shown(told["schema"]), f"schema {SCHEMA}", step
        )
    try:
        return _kept(told, file)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        found = f"{type(error).__name__}: {error}"
        raise refusal(where, "the saved plan is damaged or was changed by hand", found, "", STEP) from None


#: what JSON may hold where a record has a field of this kind
_KINDS: Mapping[object, tuple[type, ...]] = {
    "str": (str,),
    "int": (int,),
    "bool": (bool,),
    "Cents": (int,),
    "Hundredths": (int,),
    "int | None": (int, type(None)),
    "float | None": (int, float, type(None)),
    "tuple[str, ...]": (list,),
    "Mapping[str, str]": (dict,),
}


def _of_kind(record: type, told: Mapping[str, Any]) -> dict[str, Any]:
    """The values of a record's fields; TypeError for one of another kind than is kept."""
    found = {}
    for name, kind in record.__annotations__.items():
        if name not in told:
            continue
        value, kinds = told[name], _KINDS.get(kind)
        if kinds and (not isinstance(value, kinds) or (isinstance(value, bool) and bool not in kinds)):
            raise TypeError(f"{name} is {value!r}, not of the kind {kind}")
        found[name] = _texts(value) if isinstance(value, list) else value
        if isinstance(value, dict):
            found[name] = {name: _text(word) for name, word in value.items()}
    return found


def _text(value: object) -> str:
    """A text of the file; TypeError for anything else, which would pass for one only till it is looked up."""
    if not isinstance(value, str):
        raise TypeError(f"{value!r} stands where a text belongs")
    return value


def _texts(value: object) -> tuple[str, ...]:
    """A list of texts; TypeError for anything else (a text alone would be taken for its letters)."""
    if not isinstance(value, list):
        raise TypeError(f"{value!r} stands where a list belongs")
    return tuple(map(_text, value))


def _moment(value: str) -> datetime:
    """A moment of the shop's own clock; ValueError for one that names another zone, as no other moment does."""
    found = datetime.fromisoformat(value)
    if found.tzinfo is not None:
        raise ValueError(f"{value} names a time zone")
    return found


def _count(value: object) -> int:
    """A whole number of the file; TypeError for anything else."""
    if not _is_number(value):
        raise TypeError(f"{value!r} stands where a whole number belongs")
    return value


def _is_number(value: object) -> TypeGuard[int]:
    """Whether it is a whole number (a switch is one only to the language)."""
    return isinstance(value, int) and not isinstance(value, bool)


def _choice(told: Mapping[str, Any]) -> dict[str, Any]:
    """What was chosen and proven; ValueError where the jobs that are done and left out are not those of the plan."""
    choice = told["choice"]
    found = _of_kind(JointAnswer, choice)
    needed = {"status", "aims", "objective", "bound", "gap", "cash", "minutes", "left_out"}
    if not needed <= found.keys() or set(choice) - found.keys():
        odd = sorted((needed - found.keys()) | (set(choice) - found.keys()))
        raise ValueError(f"the choice lacks or has besides: {', '.join(odd)}")
    if {*told["chosen"], *found["left_out"]} != set(told["jobs"]):
        raise ValueError("the jobs are others than those chosen for and left out")
    return found


def _kept(told: dict[str, Any], file: str) -> KeptPlan:
    return KeptPlan(
        file=file,
        batch=_text(told["batch"]),
        start=date.fromisoformat(told["start"]),
        made=_moment(told["made"]) if told["made"] else None,
        jobs=_texts(told["jobs"]),
        chosen={job: _texts(ids) for job, ids in told["chosen"].items()},
        choice=_choice(told),
        purchases=_purchases(told["purchases"]),
        freight={name: Cents(_count(cents)) for name, cents in told["freight"].items()},
        late=_late(told),
        done={name: _moment(when) for name, when in told["done"].items()},
        work=tuple(
            KeptWork(
                _text(w["operation"]),
                _text(w["who"]),
                _moment(w["begins"]),
                _moment(w["ends"]),
            )
            for w in told["work"]
        ),
        finished={job: _moment(when) for job, when in told["finished"].items()},
        promised={job: date.fromisoformat(when) for job, when in told["promised"].items()},
        done_by={name: _text(who) for name, who in told.get("done_by", {}).items()},
        running={name: Minutes(_count(minutes)) for name, minutes in told.get("running", {}).items()},
        planned={name: Minutes(_count(minutes)) for name, minutes in told.get("planned", {}).items()},
        spares=_purchases(told.get("spares", [])),
        proof=_proof(told.get("proof")),
        methods={job: {k: _text(v) for k, v in of.items()} for job, of in told.get("methods", {}).items()},
    )


def _late(told: dict[str, Any]) -> dict[BoughtKey, datetime]:
    """What comes late; plans kept before packs were told apart by seller mean those of every seller."""
    found: dict[BoughtKey, datetime] = {}
    for p in told["late"]:
        kind, what, there = _text(p["kind"]), _text(p["what"]), _moment(p["there"])
        if kind not in WHOSE:
            found[kind, _text(p["job"]), what] = there
            continue
        bought = [
            _text(q["seller"])
            for q in (*told["purchases"], *told.get("spares", []))
            if (q["kind"], q["what"]) == (kind, what)
        ]
        found |= dict.fromkeys(
            [(kind, one, what) for one in ([_text(p["seller"])] if "seller" in p else bought)], there
        )
    return found


def _proof(told: Mapping[str, Any] | None) -> tuple[str, Mapping[str, int]] | None:
    if told is None:
        return None
    return _text(told["question"]), {aim: _count(bound) for aim, bound in told["bounds"].items()}


def _purchases(told: Sequence[Mapping[str, Any]]) -> tuple[Purchase, ...]:
    found = (Purchase(**_of_kind(Purchase, p)) for p in told)
    # plans of earlier versions name the job off which a part comes as its seller
    return tuple(
        replace(p, seller="", off_job=p.seller) if p.kind == "moved" and not p.off_job else p for p in found
    )


def as_kept(kept: KeptPlan, study: BatchStudy) -> BatchStudy:
    """The batch with its work done the ways of a kept plan; InputError for a way that is not known any more."""
    ways = study.shop.ways.methods
    issues = [
        Issue(
            Origin(kept.file),
            f"{task} of {job} cannot be done any more as it was planned",
            shown(method),
            ", ".join(ways.get(task, ())) or "the one way there is",
            "plan anew without --state",
        )
        for job, of in kept.methods.items()
        for task, method in of.items()
        if job in study.studies and method not in ways.get(task, ())
    ]
    if issues:
        raise InputError(issues)
    return done_by_ways(study, kept.methods)


def answer_of(kept: KeptPlan, study: BatchStudy) -> JointAnswer:
    """The choice of a kept plan; InputError where the batch or its jobs are others now."""
    where = Origin(kept.file)
    issues: list[Issue] = []
    for what, found, wanted in (
        ("another batch", kept.batch, study.file.id),
        ("another first day", kept.start.isoformat(), study.file.start.isoformat()),
        ("other jobs", ", ".join(kept.jobs), ", ".join(study.studies)),
    ):
        if found != wanted:
            note(
                issues,
                where,
                f"the saved plan has {what} than the batch file",
                shown(found),
                shown(wanted),
                "give the plan that was saved from this batch, or plan anew without --state",
            )
    for job, ids in kept.chosen.items():
        if job in study.studies:
            options = set(study.studies[job].problem.options)
            issues.extend(
                Issue(
                    where,
                    f"an upgrade of {job} cannot be done any more",
                    shown(name),
                    next_step="look at it with fit, and plan anew without --state",
                )
                for name in ids
                if name not in options
            )
    if issues:
        raise InputError(issues)
    measures = {job.id: job.measure(kept.chosen[job.id]) for job in study.batch.jobs if job.id in kept.chosen}
    return JointAnswer(
        chosen=kept.chosen,
        measures=measures,
        purchases=kept.purchases,
        freight=kept.freight,
        rounds=0,
        seconds=0.0,
        spares=kept.spares,
        **kept.choice,
    )


def planned_minutes(kept: KeptPlan, calendar: Calendar) -> dict[str, Minutes]:
    """By operation the working minutes first planned for it; a night or a day off within is none of them.

    Nothing is told of work that was done when a plan was kept that did not hold this yet.
    """
    found = {}
    for one in kept.work:
        begins, ends = (calendar.working_at(minute_of(calendar, at)) for at in (one.begins, one.ends))
        found[one.operation] = max(Minutes(1), ends - begins)
    return found | dict(kept.planned)


def bookings_of(kept: KeptPlan, work: SchedulingProblem, calendar: Calendar) -> list[Assignment]:
    """The planned work as bookings on today's calendar; work that is no more is left out."""
    known = work.by_id()
    assignments = []
    for one in kept.work:
        if one.operation not in known:
            continue
        start = calendar.working_at(minute_of(calendar, one.begins))
        end = max(start + Minutes(1), calendar.working_at(minute_of(calendar, one.ends)))
        free = calendar.after_wait(end, known[one.operation].cure)
        assignments.append(Assignment(one.operation, start, end, free, one.who))
    return assignments
