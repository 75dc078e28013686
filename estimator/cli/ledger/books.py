"""``ledger``: reports, copies, exports, and the check of the file."""

from __future__ import annotations

from typing import Annotated

import typer

from estimator.cli.common import ForceOption, JsonOption, LedgerOption, open_ledger
from estimator.cli.ledger.options import NowOption, ShopFolder, answer
from estimator.core.errors import Exit


def report(
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="Estimate against actual of one job.")
    ] = None,
    ledger: LedgerOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Estimate against actual, pay per hour by kind of job, cash by month."""
    from estimator.ledger import reports
    from estimator.ledger.jobs import job_row
    from estimator.report.text import ledger as words

    with open_ledger(ledger, shop) as books:
        if job is not None:
            job_row(books, job)
            rows = reports.estimate_against_actual(books, job)
            return answer({"job": job, "tasks": rows}, as_json, lambda: words.show_against(job, rows))
        rows = reports.estimate_against_actual(books)
        found = {
            "by_task": reports.by_task(rows),
            "pay_per_hour": reports.pay_per_hour(books),
            "cash_by_month": reports.cash_by_month(books),
        }
    return answer({**found, "tasks": rows}, as_json, lambda: words.show_reports(found))


def backup(
    target: Annotated[str, typer.Argument(metavar="FILE", help="The copy to write.")],
    force: ForceOption = False,
    ledger: LedgerOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Write a whole copy of the ledger, also while it is in use; the copy is checked."""
    with open_ledger(ledger, shop) as books:
        written = str(books.copy_to(target, force=force))
    return answer({"written": written}, as_json, f"wrote {written}, checked and whole")


def export(
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="One workbook (.xlsx).")
    ] = None,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FOLDER", help="A CSV file per table.")] = None,
    force: ForceOption = False,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Write every table of the ledger as one workbook, as CSV files, or both."""
    from contextlib import nullcontext
    from pathlib import Path

    from estimator.core.errors import InputError, Issue, Origin
    from estimator.core.save import Output, new_folder, save_all, text_output
    from estimator.ledger.clock import read_moment
    from estimator.ledger.export import csv_tables
    from estimator.workbook.write.ledger import ledger_bytes

    if output is None and csv is None:
        raise InputError(Issue(Origin("export"), "where to is not said", "neither -o nor --csv",
                               "-o FILE.xlsx, --csv FOLDER, or both", "name a file or a folder"))  # fmt: skip
    files = []
    with open_ledger(ledger, shop) as books:
        if output is not None:
            files.append(Output(output, ledger_bytes(books, read_moment(now).day), True, (".xlsx",)))
        tables = csv_tables(books) if csv is not None else {}
    with new_folder(csv, "--csv") if csv is not None else nullcontext(Path()) as folder:
        files += [text_output(folder / name, text, force=force) for name, text in tables.items()]
        written = [str(path) for path in save_all(files)]
    return answer({"written": written}, as_json, "\n".join(f"wrote {path}" for path in written))


def check(ledger: LedgerOption = None, shop: ShopFolder = None, as_json: JsonOption = False) -> int:
    """Check that the ledger's file is whole."""
    with open_ledger(ledger, shop) as books:
        faults, version = books.faults(), books.version
        name = str(books.path)
    words = "\n".join(faults) or f"{name} is whole (tables of version {version})"
    answer({"ledger": name, "version": version, "faults": faults}, as_json, words)
    return Exit.FAILED if faults else Exit.DONE


COMMANDS = (report, backup, export, check)
