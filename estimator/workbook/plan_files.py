"""A plan for several instruments: shown as text or data, and written as the files that were asked for."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import date, datetime, time
from os.path import relpath
from pathlib import Path

from msgspec import Struct

from estimator.batch.arrivals import parcels_of
from estimator.batch.records import JointAnswer
from estimator.core.errors import Exit, refusal
from estimator.core.save import Output, check_target, new_folder, save_all, text_output
from estimator.core.text import lines_of
from estimator.plan.day_list import day_list
from estimator.plan.plan import Plan, measure_gain
from estimator.plan.replan.plan import PlannedAgain
from estimator.plan.replan.progress import template
from estimator.plan.replan.saved_plan import kept_text
from estimator.plan.what_if import what_if
from estimator.report.csv.plan import check_csv, csv_outputs
from estimator.report.ics import DayEvent, calendar_bytes, import_library
from estimator.report.record import as_data
from estimator.report.records.plan import NoPlanAnswer, PlanAnswer, Planned
from estimator.report.svg.gantt import gantt_svg
from estimator.report.text.terminal import put, width
from estimator.report.words import plan as words
from estimator.report.words.plan_brief import again_in_short, plan_in_short
from estimator.report.words.replan import again_words
from estimator.workbook.write.plan import plan_bytes


class PlanFiles(Struct, frozen=True):
    """Files asked for on the command line; None for those that are not wanted."""

    output: str | None = None
    csv: str | None = None
    gantt: str | None = None
    ics: str | None = None
    save_plan: str | None = None
    state_template: str | None = None
    ics_each: bool = False
    paper: str = "A4"
    force: bool = False

    def check(self) -> None:
        """InputError before any work is done, if one of the files cannot be written."""
        if self.state_template and not self.save_plan:
            raise refusal(
                "--state-template",
                "there is no plan for the state to refer to",
                accepted="--save-plan FILE.json beside it",
                next_step="add --save-plan: a state is told against a saved plan",
            )
        if self.ics_each and not self.ics:
            raise refusal(
                "--ics-each",
                "there is no calendar to name them by",
                accepted="--ics FILE.ics beside it",
                next_step="add --ics FILE.ics: the calendars of the people are named after it",
            )
        for path, ending in (
            (self.output, ".xlsx"),
            (self.gantt, ".svg"),
            (self.ics, ".ics"),
            (self.save_plan, ".json"),
            (self.state_template, ".toml"),
        ):
            if path:
                check_target(path, force=self.force or path == self.output, extensions=(ending,))
        if self.csv:
            check_csv(self.csv, force=self.force)
        if self.ics:
            import_library()  # before the week is planned, not after


class Besides(Struct, frozen=True):
    """What is asked of a plan besides: its gain over one job at a time, what one more would bring, all of it."""

    gain: bool = False
    changes: bool = False
    full: bool = True

    def check(self, state: str | None) -> None:
        """InputError where it is asked of a plan under way."""
        if state and (self.gain or self.changes):
            option = "--gain" if self.gain else "--what-if"
            step = f"leave {option} out, or plan anew without --state"
            raise refusal(option, "is asked of a plan that begins, not of one under way", next_step=step)


def checked(files: PlanFiles, besides: Besides, state: str | None) -> Besides:
    """What is asked besides; InputError before any work is done, where it or a file cannot be."""
    files.check()
    besides.check(state)
    return besides


def hand_over(
    made: Plan | PlannedAgain | JointAnswer, files: PlanFiles, besides: Besides, as_json: bool
) -> int:
    """Show the plan and write its files, or say why there is none; the exit status."""
    if isinstance(made, JointAnswer):
        show_none(made, as_json)
        return Exit.CANNOT_BE_MET
    show(made, besides, as_json)
    write_files(made.plan if isinstance(made, PlannedAgain) else made, files, quiet=as_json)
    return Exit.DONE


def show(made: Plan | PlannedAgain, besides: Besides, as_json: bool) -> None:
    """The plan as text or as one JSON object, and what was asked for besides."""
    plan = made.plan if isinstance(made, PlannedAgain) else made
    gained = measure_gain(plan) if besides.gain and plan is made else None
    cases = what_if(plan) if besides.changes and plan is made else None
    if as_json:
        data = as_data(PlanAnswer(Planned(made, gained, cases)))
        print(json.dumps(data, indent=2, ensure_ascii=False))
        return
    with lines_of(width()):
        if besides.full:
            put(again_words(made) if isinstance(made, PlannedAgain) else words.plan_words(plan))
        else:
            put(*(again_in_short(made) if isinstance(made, PlannedAgain) else plan_in_short(plan)))
        if gained:
            put(*words.gain_lines(gained, plan.shop.terms.currency))
        if cases is not None:
            put(*words.what_if_lines(cases))


def show_none(answer: JointAnswer, as_json: bool) -> None:
    """Why there is no plan."""
    if as_json:
        print(json.dumps(as_data(NoPlanAnswer(answer)), indent=2))
    else:
        put(words.no_plan_words(answer))


def write_files(plan: Plan, files: PlanFiles, quiet: bool) -> None:
    """The files that were asked for; all of them or none."""
    with new_folder(files.csv, "--csv") if files.csv else nullcontext():
        written = save_all(_outputs(plan, files))
    for one in written:
        if not quiet:
            put(f"wrote {one}")


def _outputs(plan: Plan, files: PlanFiles) -> list[Output]:
    force = files.force
    outputs: list[Output] = []
    if files.output:
        outputs.append(Output(files.output, plan_bytes(plan, files.paper), True, (".xlsx",)))
    if files.csv:
        outputs += csv_outputs(plan, files.csv, force=force)
    if files.gantt:
        outputs.append(text_output(files.gantt, _picture(plan), force=force, extensions=(".svg",)))
    if files.ics:
        outputs.append(Output(files.ics, _calendar(plan), force, (".ics",)))
        if files.ics_each:
            outputs += [
                Output(path, _calendar(plan, who), force, (".ics",))
                for who, path in person_files(files.ics, [p.id for p in plan.study.file.people]).items()
            ]
    if files.save_plan:
        outputs.append(text_output(files.save_plan, kept_text(plan), force=force, extensions=(".json",)))
    if files.state_template:
        state = _template(plan, files)
        outputs.append(text_output(files.state_template, state, force=force, extensions=(".toml",)))
    return outputs


def _picture(plan: Plan) -> str:
    marks: dict[str, list[tuple[date, str]]] = {}
    for job, day in plan.promised.items():
        marks.setdefault(job, []).append((day, "promised"))
    for entry in plan.study.file.jobs:
        wanted = entry.due
        if wanted is not None and entry.id in plan.promised:
            marks.setdefault(entry.id, []).append((wanted, "wanted by"))
    for day in parcels_of(plan.study, plan.answer, plan.calendar, plan.late):
        marks.setdefault("", []).append((day, "parcel"))
    return gantt_svg(plan.work, plan.calendar, plan.schedule.assignments, plan.study.file.what, marks)


def person_files(ics: str, people: Sequence[str]) -> dict[str, str]:
    """The calendar file of each person, named after that of all."""
    path = Path(ics)
    return {who: str(path.with_name(f"{path.stem}-{who}{path.suffix}")) for who in people}


def _calendar(plan: Plan, who: str = "") -> bytes:
    """The plan as a calendar, or the work of one person with the promises, orders and parcels of all."""
    lines = day_list(plan.work, plan.calendar, plan.schedule.assignments, plan.already)
    name = plan.study.file.what or plan.study.file.id
    start = plan.study.file.start
    begun = datetime.combine(start, time())
    # a plan made later counts higher, whoever made the ones before it
    sequence = 0 if plan.now is None else max(1, int((plan.now - begun).total_seconds() // 60) + 1)
    return calendar_bytes(
        lines,
        plan.promised,
        start,
        f"{name}: {who}" if who else name,
        who,
        days=_days(plan),
        edition=(plan.study.file.id, sequence),
    )


def _days(plan: Plan) -> list[DayEvent]:
    """Orders on the day the plan was made from, and parcels on the day they come."""
    first = plan.now.date() if plan.now else plan.study.file.start
    found = [
        DayEvent(
            f"order-{basket.seller}",
            first,
            f"order at {basket.seller or 'no supplier'}: " + ", ".join(line.words for line in basket.lines),
        )
        for basket in plan.orders.baskets
    ]
    count: Counter[str] = Counter()
    for day, entries in parcels_of(plan.study, plan.answer, plan.calendar, plan.late).items():
        sellers: dict[str, list[str]] = {}
        for seller, what in entries:
            sellers.setdefault(seller, []).append(what)
        for seller, things in sellers.items():
            count[seller] += 1
            words = f"parcel from {seller}: {', '.join(things)}"
            found.append(DayEvent(f"parcel-{seller}-{count[seller]}", day, words))
    return found


def _template(plan: Plan, files: PlanFiles) -> str:
    assert files.save_plan
    assert files.state_template
    return template(plan, Path(relpath(files.save_plan, Path(files.state_template).parent)).as_posix())
