"""What the ledger answers is told by the types of its fields, whatever they are called."""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType, field

from estimator.core.amounts import Cents, Millionths, Seconds
from estimator.ledger.records import told
from estimator.report.records.ledger import data


class Answer(Struct, frozen=True):
    plain: int
    storage_cents_a_day: str
    came_in: Cents = field(name="in")
    owed: Cents | None
    many: Millionths
    took: Seconds
    late: Cents | UnsetType = UNSET
    rest: Millionths | UnsetType = UNSET


class Longer(Answer, frozen=True):
    more: tuple[Answer, ...] = ()


FIRST = Answer(250, "none", Cents(250), None, Millionths(2_500_000), Seconds(90))
IN_DATA = {"plain": 250, "storage_cents_a_day": "none", "in": "2.50", "owed": None, "many": "2.5", "took": 90}


def test_a_figure_is_told_by_its_type_and_what_was_not_asked_for_is_left_out() -> None:
    assert data(FIRST) == IN_DATA
    late = Longer(250, "none", Cents(250), Cents(-5), Millionths(1), Seconds(90), Cents(0), more=(FIRST,))
    known = {"owed": "-0.05", "many": "0.000001", "late": "0.00", "more": [IN_DATA]}
    assert data({"row": [late]}) == {"row": [IN_DATA | known]}


def test_a_field_comes_with_its_name_in_data_and_the_words_of_its_type() -> None:
    kinds = [(one.name, one.kind) for one in told(FIRST)]
    assert kinds[2:] == [
        ("in", "Cents"),
        ("owed", "Cents | None"),
        ("many", "Millionths"),
        ("took", "Seconds"),
    ]
