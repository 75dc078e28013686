"""Which upgrades a quote workbook was written for, and whether it still fits the job.

A figure of the book counts as an edit where it differs from what the job comes to. In a book of other
upgrades, or of the job as it was, that would price one set at another's figures: such books are refused.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Mapping

from msgspec.structs import replace

from estimator.choose.study import Study, done_ways, settled
from estimator.core.cell_text import mark
from estimator.core.errors import Origin, note, refusal
from estimator.estimate.ways import way_id
from estimator.workbook.read.cells import EditedBook
from estimator.workbook.write.set_marks import PRINTS, labels_of, methods_of, set_of

AGAIN = "write the quote again, to a new file, and make the changes there"


def book_set(book: EditedBook, study: Study) -> tuple[str, ...]:
    """The upgrades that a workbook was written for; InputError where it does not say, or they are not to be had."""
    marked = set_of(book.marks())
    if marked is None:
        raise refusal(
            book.file,
            "the workbook does not say which upgrades it was written for",
            "no such property (an older quote, or saved by a program that drops it)",
            "a workbook that quote wrote",
            "name them all with --with, or " + AGAIN,
        )
    known = {mark(verdict.upgrade.id): verdict.upgrade.id for verdict in study.verdicts}
    gone = [name for name in marked if name not in known]
    if gone:
        raise refusal(
            book.file,
            "the workbook was written for upgrades that are no longer offered on this job",
            ", ".join(gone),
            "upgrades that fit prints for the job",
            "mend the job file or the shop's tables, or write the quote again, to a new file",
        )
    return tuple(sorted(known[name] for name in marked))


def book_ways(book: EditedBook, study: Study, chosen: Collection[str]) -> Study:
    """The study with its work done the ways that a workbook holds; where it says nothing, those of least cost."""
    methods = methods_of(book.marks())
    if not methods:
        return settled(study, chosen)
    known = {task: {way.method for way in ways} for task, ways in study.ways.items()}
    gone = [way_id(task, method) for task, method in methods.items() if method not in known.get(task, ())]
    if gone:
        raise refusal(
            book.file,
            "the workbook holds work done in ways that the shop no longer has",
            ", ".join(gone),
            "ways of task_methods.csv",
            "mend the shop's tables, or " + AGAIN,
        )
    return done_ways(study, methods)


def as_quoted(book: EditedBook, study: Study) -> Study:
    """The study with the number and the promised day of a workbook's quote; what the job file says goes first."""
    job = study.job
    return replace(study, job=replace(job, labels=labels_of(book.marks(), job.labels)))


def right_set(book: EditedBook, study: Study, chosen: Collection[str], prints: Mapping[str, str]) -> None:
    """Complain of a workbook of other upgrades, or of a job that has changed since; warn where it says nothing."""
    marks = book.marks()
    marked = set_of(marks)
    if marked is None:
        note(
            book.issues,
            Origin(book.file),
            "the workbook does not say which upgrades it was written for",
            "every figure that is not the job's is taken for a change",
            next_step=AGAIN,
            severity="warning",
        )
        return
    wanted, written = {mark(name): name for name in chosen}, set(marked)
    if wanted.keys() != written:
        more, less = sorted(wanted.keys() - written), sorted(written - wanted.keys())
        words = [f"only in the workbook: {', '.join(less)}"] if less else []
        words += [f"not in the workbook: {', '.join(more)}"] if more else []
        book.complain(
            "(workbook)",
            "",
            "the workbook was written for other upgrades",
            "; ".join(words),
            "the upgrades of the workbook",
            "leave out --with to price what the workbook holds; for another set write its quote, to a new file",
        )
        return
    changed = [what for name, what in PRINTS.items() if marks.get(name) != prints[name]]
    if changed:
        book.complain(
            "(workbook)",
            "",
            "the job file or the shop's tables have changed since the quote was written",
            f"other figures for {' and '.join(changed)}",
            f"the figures that {study.job.id} comes to now",
            f"{AGAIN}: {_quote_of(study, chosen)}",
        )


def _quote_of(study: Study, chosen: Collection[str]) -> str:
    named = [word for name in sorted(chosen) for word in ("--with", name)]
    return shlex.join(["quote", study.job.file or "JOB", *named, "-o", "NEW.xlsx"])
