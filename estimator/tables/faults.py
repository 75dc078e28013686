"""Which of the faults of ``faults.csv`` an instrument has."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from msgspec.structs import replace

from estimator.model import Fault, FaultOdds, Reading
from estimator.tables.conditions import Instrument, holds


def word_of(reading: Reading) -> str:
    """A reading as a word of a table: yes and no for what is true and false."""
    return ("yes" if reading.value else "no") if isinstance(reading.value, bool) else str(reading.value)


def shows(fault: Fault, reading: Reading) -> bool:
    """Whether a reading is the fault; what nobody looked at is none."""
    if reading.assumed:
        return False
    if fault.reads == "present":
        return bool(str(reading.value).strip(" ()[],")) and word_of(reading) != "none"
    if fault.reads == "is":
        return word_of(reading) in fault.words
    if not isinstance(reading.value, Decimal):
        return False
    value, limit = reading.value, Decimal(fault.bad)
    if fault.reads == "below":
        return value < limit
    return (abs(value) if fault.reads == "beyond" else value) > limit


def asked_of(faults: Iterable[Fault], instrument: Instrument) -> tuple[str, ...]:
    """The fields that would show a fault which such an instrument can have, in the order of the table.

    Some rows ask in ``when`` for the field itself (no ground at the bridge), so each is tried with its field at
    fault: what the instrument cannot have, it cannot have then either.
    """
    return tuple(
        dict.fromkeys(
            fault.field
            for fault in faults
            if fault.field in instrument
            and holds(fault.when, {**instrument, fault.field: _at_fault(fault, instrument[fault.field])})
        )
    )


def _at_fault(fault: Fault, reading: Reading) -> Reading:
    """The reading of a field that shows the fault."""
    word = fault.words[0] if fault.words else ""
    value = reading.value
    if fault.reads == "is":
        value = word == "yes" if isinstance(reading.value, bool) else word
    elif fault.reads != "present":
        value = Decimal(fault.bad) + (-1 if fault.reads == "below" else 1)
    return replace(reading, value=value, assumed=False)


def faults_of(faults: Iterable[Fault], instrument: Instrument) -> tuple[Fault, ...]:
    """The rows of the faults that were found on the instrument, in the order of the table."""
    return tuple(
        fault
        for fault in faults
        if fault.field in instrument
        and shows(fault, instrument[fault.field])
        and holds(fault.when, instrument)
    )


def odds_by_task(
    faults: Iterable[Fault], odds: Iterable[FaultOdds], instrument: Instrument
) -> dict[str, FaultOdds]:
    """By task, the row of what raises its odds of rework most, of the faults that were found."""
    found = {fault.fault for fault in faults_of(faults, instrument)}
    worst: dict[str, FaultOdds] = {}
    for row in odds:
        if row.fault in found and (row.task not in worst or row.more_pct > worst[row.task].more_pct):
            worst[row.task] = row
    return worst


def gravest(rows: Iterable[Fault]) -> tuple[Fault, ...]:
    """Of several faults that one field shows on one attribute and the same work mends, the gravest.

    What other work mends is another fault: a lesser one is left when the gravest was mended.
    """
    rows = tuple(rows)
    least: dict[tuple[object, ...], Fault] = {}
    for row in rows:
        key = _kin(row)
        if key not in least or row.level < least[key].level:
            least[key] = row
    return tuple(row for row in rows if least[_kin(row)] is row)


def _kin(row: Fault) -> tuple[object, ...]:
    return (row.field, row.attribute, row.mended_by, row.mended_by_work)


def mended_alike(one: Fault, other: Fault) -> bool:
    """Whether the very same work mends two faults: tuners that slip and tuners with play, by one set of tuners."""
    work = (one.mended_by, one.mended_by_work)
    return any(work) and work == (other.mended_by, other.mended_by_work)
