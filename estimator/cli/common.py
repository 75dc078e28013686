"""What all commands share: options, loading, printing of complaints."""

from __future__ import annotations

import enum
import json
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer
from msgspec.structs import replace

from estimator.core.errors import (
    Exit,
    InputError,
    Issue,
    Origin,
    near_miss,
    note,
    refusal,
    refused_word,
    visible,
)

if TYPE_CHECKING:
    from estimator.choose.study import Choice, Study
    from estimator.ledger.store import Ledger
    from estimator.model import Job, Shop
    from estimator.report.record import Record

EXAMPLE = "example:"
SURE = "look again; if it is right, run without --strict"

JobArg = Annotated[
    str, typer.Argument(metavar="JOB", help="Job file (TOML), or example:NAME for one that comes along.")
]
ShopOption = Annotated[
    str | None, typer.Option("--shop", metavar="DIR", help="Folder with tables of your own shop.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
FullOption = Annotated[
    bool, typer.Option("--full", help="Print all of it, not the short form: tables, working, every caution.")
]
WithOption = Annotated[
    list[str] | None,
    typer.Option(
        "--with", metavar="ID", help="Upgrade to do, or several: a,b; short or fit's number will do."
    ),
]
MethodOption = Annotated[
    list[str] | None,
    typer.Option(
        "--method", metavar="TASK=METHOD", help="Do a task this way, not another; may be given again."
    ),
]
StrictOption = Annotated[
    bool, typer.Option("--strict", help="Take no unusual value of the job file: warnings become errors.")
]


SuretyOption = Annotated[
    float | None,
    typer.Option("--surety", metavar="PERCENT", help="How sure hours and price shall be.", min=50, max=99.9),
]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace files that exist.")]
FromLedgerOption = Annotated[
    bool,
    typer.Option(
        "--stock-from-ledger",
        help="What the ledger has in stock, less what accepted jobs hold, where no stock is named.",
    ),
]
LedgerOption = Annotated[
    str | None,
    typer.Option(
        "--ledger",
        metavar="FILE",
        help="The ledger; else ledger.sqlite in the folder of --shop, or in this one.",
    ),
]


TopOption = Annotated[
    int | None, typer.Option("--top", metavar="N", help="Only the first N of every list.", min=1)
]


class Paper(enum.StrEnum):
    """Sizes a sheet can be printed on."""

    A4 = "A4"
    LETTER = "Letter"


PaperOption = Annotated[
    Paper | None,
    typer.Option(
        "--paper", help="Paper to print on (left out: that of the shop's country).", case_sensitive=False
    ),
]


def paper_of(asked: Paper | None, shop: Shop) -> str:
    """The paper that was asked for, else that of the country of the shop."""
    return asked.value if asked is not None else shop.paper


def job_path(name: str) -> Path:
    """A job file as named on the command line; ``example:NAME`` is one that comes with the package."""
    return _named(name, "example_jobs", "job")


def batch_path(name: str) -> Path:
    """A batch file as named on the command line; ``example:NAME`` is one that comes with the package."""
    return _named(name, "example_jobs/batches", "batch")


def _named(name: str, folder: str, what: str) -> Path:
    if not name.startswith(EXAMPLE):
        return Path(name)
    from estimator.tables.folders import default_folder

    wanted = name.removeprefix(EXAMPLE)
    top, _, below = folder.partition("/")
    examples = {path.stem: path for path in sorted((Path(str(default_folder(top))) / below).glob("*.toml"))}
    if wanted not in examples:
        raise refused_word(
            name,
            f"there is no example {what} of this name",
            wanted,
            examples,
            otherwise="take one of these names",
        )
    return examples[wanted]


def load_shop_of(shop: str | None) -> Shop:
    """The tables of the shop named with --shop, else those that come along."""
    from estimator.tables.kept import load_kept

    return load_kept(Path(shop) if shop is not None else None)


def load_both(job: str, shop: str | None, strict: bool = False) -> tuple[Shop, Job]:
    """The shop and the job, with their warnings on standard error.

    ``strict``: InputError where the job file raises a warning.
    """
    from estimator.input.job.load import load_job

    the_shop = load_shop_of(shop)
    the_job = load_job(job_path(job), the_shop)
    if strict and the_job.issues:
        tell(the_shop.issues)
        raise InputError(as_error(issue) for issue in the_job.issues)
    tell((*the_shop.issues, *the_job.issues))
    return the_shop, the_job


def as_error(warning: Issue) -> Issue:
    """The same complaint as an error, with what to do when it is right after all."""
    step = f"{warning.next_step}; if it is right, run without --strict" if warning.next_step else SURE
    return replace(warning, severity="error", next_step=step)


def with_methods(shop: Shop, job: Job, methods: Iterable[str] | None) -> Job:
    """The job with its tasks done the ways of ``--method TASK=METHOD``, which go before the job's own."""
    from estimator.fit.ways import named_ways, ways_of

    issues: list[Issue] = []
    fixed = dict(job.methods)
    for text in methods or ():
        task, joined, method = (part.strip() for part in text.partition("="))
        if not joined or not method:
            ways = shop.ways.methods.get(task)
            accepted = "TASK=METHOD, such as polish-frets=wheels"
            hint = f"of {task}: {', '.join(ways)}" if ways else near_miss(task, shop.ways.methods)
            note(issues, Origin("--method"), "cannot be read", f"“{text}”", accepted, hint)
        else:
            fixed[task] = method
    if issues:
        raise InputError(issues)
    if methods:
        named_ways(shop, ways_of(shop, job), fixed, Origin("--method"))
    return replace(job, methods=fixed)


def names_meant(study: Study, typed: Sequence[str] | None, option: str = "--with") -> tuple[str, ...]:
    """The upgrades that were typed, whole or short; nothing where nothing was typed."""
    from estimator.fit.short_names import upgrades_named

    return upgrades_named(study.shop, study.job, typed, option) if typed else ()


def load_study(
    job: str,
    shop: str | None,
    strict: bool = False,
    surety: float | None = None,
    methods: Iterable[str] | None = None,
) -> Study:
    """The job looked at from all sides; ``surety`` in per cent, and ``methods``, go before the job's own."""
    from estimator.choose.study import study_job

    if surety is not None and not 50 <= surety <= 99.9:
        raise refusal("--surety", "cannot be read", f"“{surety}”", "50 to 99.9")
    the_shop, the_job = load_both(job, shop, strict)
    if surety is not None:
        the_job = replace(the_job, budget=replace(the_job.budget, surety=Decimal(str(surety))))
    return study_job(the_shop, with_methods(the_shop, the_job, methods), ways_open=True)


def open_ledger(ledger: str | None, shop: str | None, new: bool = False, now: str | None = None) -> Ledger:
    """The ledger a command works on; ``new``: it is begun where there is none. ``now``: as typed, held against its entries."""
    from estimator.ledger.clock import check_typed, read_moment
    from estimator.ledger.store import Ledger, ledger_path

    typed = None if now is None else read_moment(now)
    books = Ledger(ledger_path(ledger, shop), new=new)
    if typed is not None:
        try:
            check_typed(typed, books.newest())
        except BaseException:
            books.close()
            raise
    return books


def needs_ledger_stock(ledger: str | None, from_ledger: bool) -> None:
    """InputError where a ledger is named that nothing would be read from."""
    if ledger is not None and not from_ledger:
        raise refusal(
            "--ledger",
            "names a ledger, but its stock is not asked for",
            f"“{ledger}”",
            "--ledger with --stock-from-ledger",
            "add --stock-from-ledger, or leave --ledger out",
        )


def read_decimal(option: str, text: str, kind: str = "") -> Decimal:
    """A number of the command line (with a unit of ``kind``, if it has one); InputError says what is accepted."""
    from estimator.core.units import UnitError, parse_quantity

    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        raise refusal(option, "cannot be read", f"“{text}”", str(error)) from None


def tell(issues: Iterable[Issue]) -> None:
    """Complaints, one a line, on standard error."""
    for issue in issues:
        complain(f"{issue.severity}: {issue}")


def complain(words: str) -> None:
    """One line on standard error; work goes on where nobody reads it."""
    try:
        print(visible(words), file=sys.stderr, flush=True)
    except OSError:
        mute(sys.stderr)


def mute(stream: TextIO) -> None:
    """Let what is still to be written to a stream go nowhere: its reader has gone, or its disk is full."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    except OSError:  # a stream of no file, such as a buffer in memory
        return


def print_json(data: object) -> None:
    """One JSON object on standard output."""
    print(json.dumps(data, indent=2, ensure_ascii=False))


def answer(told: Record[Any], as_json: bool, words: Callable[[], object]) -> int:
    """Print what a command found: its record as data, or what is said in ``words``."""
    if as_json:
        from estimator.report.record import as_data

        print_json(as_data(told))
    else:
        words()
    return Exit.DONE


def no_choice(choice: Choice, as_json: bool, full: bool = False) -> int:
    """Say why no set meets the wish, in words or as data; returns the exit status."""
    from estimator.report.record import as_data
    from estimator.report.records.choice import ChoiceAnswer
    from estimator.report.text import no_choice as no_choice_text
    from estimator.report.text.terminal import put
    from estimator.report.words.tools import tool_lines

    if as_json:
        print_json(as_data(ChoiceAnswer(choice)))
    else:
        no_choice_text.show_no_choice(choice, full)
        put(*tool_lines(choice))
    return Exit.CANNOT_BE_MET
