"""``ledger``: reports, copies, exports, and the check of the file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import ForceOption
from estimator.cli.ledger.options import Desk
from estimator.core.errors import Exit, refusal
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from datetime import date

    from estimator.ledger.records import Reports


def report(
    at: Desk,
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="Estimate against actual of one job.")
    ] = None,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="Workbook with every report (.xlsx).")
    ] = None,
    svg: Annotated[str | None, typer.Option("--svg", metavar="FOLDER", help="A drawing per report.")] = None,
    force: ForceOption = False,
) -> int:
    """Estimate against actual, where the hours went, pay per hour by kind of job, warranty, cash by month."""
    from estimator.ledger import reports
    from estimator.ledger.jobs import job_row
    from estimator.report.records.books import Against, OfJob, Reports, ReportsWritten
    from estimator.report.text import ledger as words

    with at.open() as books:
        if job is not None:
            _only_over_all(output or svg)
            job_row(books, job)
            rows = reports.estimate_against_actual(books, job)
            return at.answer(Against(OfJob(job, rows)), lambda: words.show_against(job, rows))
        found = reports.all_reports(books)
        tasks = reports.estimate_against_actual(books) if at.as_json else []
    written = _report_files(found, output, svg, force, at.moment.day)

    def shown() -> None:
        words.show_reports(found)
        for path in written:
            put(f"wrote {path}")

    return at.answer(Reports(ReportsWritten(found, tasks, written)), shown)


def _only_over_all(named: str | None) -> None:
    """InputError where files are asked for beside the name of a job."""

    if named:
        raise refusal(
            "report",
            "files are written of all jobs together",
            f"“{named}” beside a job",
            "-o or --svg without JOB, or JOB alone",
            "leave JOB out",
        )


def _report_files(found: Reports, output: str | None, svg: str | None, force: bool, day: date) -> list[str]:
    """Write the workbook and the drawings, all or none; their names."""
    from contextlib import nullcontext
    from pathlib import Path

    from estimator.core.save import Output, new_folder, save_all, text_output

    if output is None and svg is None:
        return []
    files = []
    if output is not None:
        from estimator.workbook.write.ledger import reports_bytes

        files.append(Output(output, reports_bytes(found, day), True, (".xlsx",)))
    with new_folder(svg, "--svg") if svg is not None else nullcontext(Path()) as folder:
        if svg is not None:
            from estimator.report.svg.ledger import drawings

            files += [text_output(folder / name, text, force=force) for name, text in drawings(found).items()]
        return [str(path) for path in save_all(files)]


def backup(
    at: Desk,
    target: Annotated[str, typer.Argument(metavar="FILE", help="The copy to write.")],
    force: ForceOption = False,
) -> int:
    """Write a whole copy of the ledger, also while it is in use; the copy is checked."""
    from estimator.ledger.records import Copied
    from estimator.report.records import books as tells

    with at.open() as books:
        written = str(books.copy_to(target, force=force))
    return at.answer(tells.Copied(Copied(written)), f"wrote {written}, checked and whole")


def export(
    at: Desk,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="One workbook (.xlsx).")
    ] = None,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FOLDER", help="A CSV file per table.")] = None,
    force: ForceOption = False,
) -> int:
    """Write every table of the ledger as one workbook, as CSV files, or both."""
    from contextlib import nullcontext
    from pathlib import Path

    from estimator.core.save import Output, new_folder, save_all, text_output
    from estimator.ledger.records import Exported
    from estimator.report.csv.ledger import csv_tables
    from estimator.report.records import books as tells
    from estimator.workbook.write.ledger import ledger_bytes

    if output is None and csv is None:
        raise refusal(
            "export",
            "where to is not said",
            "neither -o nor --csv",
            "-o FILE.xlsx, --csv FOLDER, or both",
            "name a file or a folder",
        )
    files = []
    with at.open() as books:
        if output is not None:
            files.append(Output(output, ledger_bytes(books, at.moment.day), True, (".xlsx",)))
        tables = csv_tables(books) if csv is not None else {}
    with new_folder(csv, "--csv") if csv is not None else nullcontext(Path()) as folder:
        files += [text_output(folder / name, text, force=force) for name, text in tables.items()]
        written = [str(path) for path in save_all(files)]
    return at.answer(tells.Exported(Exported(written)), "\n".join(f"wrote {path}" for path in written))


def check(at: Desk) -> int:
    """Check that the ledger's file is whole."""
    from estimator.ledger.records import Checked
    from estimator.report.records import books as tells

    with at.open() as books:
        found = Checked(str(books.path), books.version, books.faults())
    whole = f"{found.ledger} is whole (tables of version {found.version})"
    at.answer(tells.Checked(found), "\n".join(found.faults) or whole)
    return Exit.FAILED if found.faults else Exit.DONE


COMMANDS = (report, backup, export, check)
