"""What a shop types of its own menu: ``JOB=PRICE``, ``JOB=MINUTES min``, or a CSV file of such rows."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal

from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import InputError, Issue, Origin, near_miss, note, shown
from estimator.core.given import bytes_given
from estimator.fit.short_names import matches, meant_by
from estimator.learn.calibrate import Entry
from estimator.ledger.clock import read_seconds
from estimator.model import Shop
from estimator.tables.cells import CellError
from estimator.tables.csv_rows import BrokenError, decode, delimiter_of, records_of
from estimator.tables.sums import read_sum

FORMS = "a price such as 65 or 64.50, or a time such as 50 min or 1 h 20 min"
HEADS = ("job", "price", "minutes")
HUNDREDTH = Decimal("0.01")
MOST = Decimal(100_000)
_HAS_TIME = re.compile(r"\d:\d|[\d.]\s*(min|mins|minute|minutes|h|hr|hrs|hour|hours|s)\b", re.I)


def read_entries(words: Sequence[str], shop: Shop) -> list[Entry]:
    """The entries of all words; InputError carries every complaint."""
    issues: list[Issue] = []
    pairs: list[tuple[Origin, str, str]] = []
    for word in words:
        job, equals, value = word.partition("=")
        if equals:
            pairs.append((Origin(shown(word)), job.strip(), value.strip()))
        else:
            pairs.extend(_of_file(word, issues))
    read = [(where, _entry(where, job, value, shop, issues)) for where, job, value in pairs]
    found = [(where, entry) for where, entry in read if entry is not None]
    entries = [entry for _, entry in found]
    kinds = [(entry.job, entry.price is None) for entry in entries]
    issues.extend(
        Issue(
            where, "stands twice", shown(job), "one price and one time of a job", "leave one of the two out"
        )
        for number, (where, (job, _)) in enumerate(zip((w for w, _ in found), kinds, strict=True))
        if kinds[number] in kinds[:number]
    )
    if not pairs and not issues:
        note(
            issues,
            Origin("calibrate"),
            "nothing of your menu is told",
            accepted=f"JOB={FORMS}, or a CSV file",
            next_step="estimator menu lists the jobs: calibrate set-up-hardtail=65 --shop DIR",
        )
    if issues:
        raise InputError(issues)
    return entries


def _of_file(name: str, issues: list[Issue]) -> Iterable[tuple[Origin, str, str]]:
    try:
        data = bytes_given(name, f"JOB={FORMS}, or a CSV file")
    except InputError as error:
        issues.extend(error.issues)
        return
    text = decode(data, name)
    if isinstance(text, Issue):
        issues.append(text)
        return
    try:
        rows = list(records_of(text, delimiter_of(text, HEADS)))
    except BrokenError as error:
        issues.append(error.in_words(name))
        return
    first, head = rows[0] if rows else (1, [])
    heads = [cell.strip().lower() for cell in head]
    while heads and not heads[-1]:
        heads.pop()  # blank columns that a spreadsheet program writes beside the table
    if not _is_menu(heads):
        note(
            issues,
            Origin(name, first),
            "another heading than that of a menu",
            shown(",".join(heads)),
            "job,price or job,minutes or job,price,minutes",
            "write this as the first line",
        )
        return
    for number, row in rows[1:]:
        beyond = [cell for cell in row[len(heads) :] if cell.strip()]
        cells = dict(zip(heads, (cell.strip() for cell in row), strict=False))
        if beyond or not cells.get("job") or not (cells.get("price") or cells.get("minutes")):
            note(
                issues,
                Origin(name, number),
                "a cell outside the named columns" if beyond else "the row names no job, or nothing of it",
                shown(beyond[0] if beyond else ",".join(row)),
                ",".join(heads),
                "fill the row in, or take it out; a price with a comma stands in double quotes",
            )
            continue
        for column in ("price", "minutes"):
            if value := cells.get(column, ""):
                timed = column == "minutes" and not _HAS_TIME.search(value)
                yield Origin(name, number, column), cells["job"], f"{value} min" if timed else value


def _is_menu(heads: Sequence[str]) -> bool:
    """Whether these are the columns of a menu: a job, and a price or minutes, each once."""
    known = set(heads) <= set(HEADS) and len(set(heads)) == len(heads)
    return known and "job" in heads and len(heads) > 1


def _entry(where: Origin, job: str, value: str, shop: Shop, issues: list[Issue]) -> Entry | None:
    meant = job if job in shop.menu.jobs else meant_by(job, list(shop.menu.jobs)) if job else None
    if meant is None:
        could = matches(job, list(shop.menu.jobs)) if job else []
        problem = (
            "this could be more than one job of the menu" if could else "no job of the menu has this name"
        )
        accepted = ", ".join(could) if could else "a job as estimator menu lists them"
        step = "take one of these" if could else near_miss(job, shop.menu.jobs) or "run estimator menu"
        note(issues, where, problem, shown(job), accepted, step)
        return None
    job = meant
    timed = bool(_HAS_TIME.search(value))
    try:
        if timed:
            number = Decimal(read_seconds(value, "minutes")) / 60
        else:
            number = read_sum(value, shop.terms.currency)
    except CellError as error:
        note(issues, where, error.problem, shown(value), error.accepted or FORMS, error.next_step)
        return None
    except InputError as error:
        issues.extend(replace(issue, where=where) for issue in error.issues)
        return None
    if not HUNDREDTH <= number <= MOST:
        note(issues, where, "no price or time of a job", shown(value), FORMS)
        return None
    whole = int((number * 100).to_integral_value(ROUND_HALF_UP))
    return Entry(job, minutes=Hundredths(whole)) if timed else Entry(job, price=Cents(whole))
