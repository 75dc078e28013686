"""What a quote workbook says of itself, as properties of the file: its upgrades, and fingerprints of its figures.

A figure that is read back is taken for an edit where it differs from the job's. That is true only of a book
of the same upgrades, written for the same figures: the marks tell whether it is one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal

from msgspec.structs import replace

from estimator.choose.study import Study
from estimator.core.cell_text import mark
from estimator.estimate.ways import methods_in, way_id
from estimator.model import Labels, PartLine
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.inputs import inputs_of

COUNT = "upgrades"
WAY = "way-"
NUMBER, PROMISED, PROMISED_BY = "quote-number", "quote-promised", "quote-promised-by"
"""What a quote says that its job file may not: the ledger's number, the day of a plan."""
#: what each fingerprint is of, by the name of its property
PRINTS = {"print-work": "the work", "print-parts": "the parts", "print-inputs": "the rates and shares"}


def marks_of(
    study: Study, chosen: Collection[str], rows: Iterable[CostRow], parts: Iterable[PartLine]
) -> dict[str, str]:
    """The properties of a book of these upgrades, each with its value."""
    ids, rows = sorted(chosen), tuple(rows)
    named = {_nth(number): mark(upgrade) for number, upgrade in enumerate(ids, start=1)}
    ways = dict.fromkeys(way_id(row.task.id, row.task.method) for row in rows if row.task.method)
    named |= {f"{WAY}{number}": way for number, way in enumerate(ways, start=1)}
    said = study.job.labels
    quoted = {NUMBER: said.number, PROMISED: said.promised, PROMISED_BY: said.promised_by}
    named |= {name: words for name, words in quoted.items() if words}
    return {COUNT: str(len(ids)), **named, **prints_of(study, ids, rows, parts)}


def labels_of(marks: Mapping[str, str], said: Labels) -> Labels:
    """The labels of a job with what its quote was given by others than its job file, which goes first."""
    return replace(
        said,
        number=said.number or marks.get(NUMBER, ""),
        promised=said.promised or marks.get(PROMISED, ""),
        promised_by=said.promised_by or marks.get(PROMISED_BY, ""),
    )


def methods_of(marks: Mapping[str, str]) -> dict[str, str]:
    """By task the way that a book's work is done, of the tasks that have more than one."""
    return methods_in([value for name, value in marks.items() if name.startswith(WAY)])


def set_of(marks: Mapping[str, str]) -> tuple[str, ...] | None:
    """The upgrades that a book's properties name, as they are marked; None where they name no whole set."""
    count = marks.get(COUNT, "")
    if not (count.isascii() and count.isdigit() and len(count) < 5):
        return None
    named = [marks.get(_nth(number)) for number in range(1, int(count) + 1)]
    whole = tuple(upgrade for upgrade in named if upgrade)
    return whole if len(whole) == len(named) else None


def prints_of(
    study: Study, chosen: Collection[str], rows: Iterable[CostRow], parts: Iterable[PartLine]
) -> dict[str, str]:
    """Fingerprints of all that is read back from a book of these upgrades, with the upgrades themselves.

    Desk work is not read back, and the order of rows is of no account.
    """
    work = sorted(
        " ".join(
            (
                row.key,
                *map(
                    _figure,
                    (row.quantity, row.each_min, row.extra, row.again, row.each_sd, row.chance, row.share),
                ),
            )
        )
        for row in rows
        if not row.desk
    )
    bought = sorted(f"{p.upgrade} {p.owner} {_figure(p.quantity)} {p.unit_cost}" for p in parts)
    inputs = [f"{cell.name} {_figure(cell.value)}" for _, cells in inputs_of(study) for cell in cells]
    each = (work, bought, [*inputs, study.shop.terms.tax_per])
    return {name: _print([*sorted(chosen), "", *lines]) for name, lines in zip(PRINTS, each, strict=True)}


def _nth(number: int) -> str:
    return f"upgrade-{number}"


def _figure(value: Decimal) -> str:
    return f"{float(value):.9g}"  # beyond that two programs may round otherwise


def _print(lines: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:20]
