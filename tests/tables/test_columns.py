"""A field of a record declares its column: a new one is read, checked and listed without another word."""

from decimal import Decimal
from typing import Annotated

from msgspec import Struct

from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.tables.csv_rows import read_table
from estimator.tables.records import plain_record
from estimator.tables.schema.shop import TABLES
from estimator.tables.schema.table import BASIS, table


class Jig(Struct, frozen=True):
    id: Annotated[str, col.ident("name of the jig")]
    holds: Annotated[Decimal, col.number("pieces at once", low=Decimal(1))]
    ends: Annotated[
        tuple[Decimal, ...], col.several(low_end=col.number("low"), high_end=col.number("high"))
    ] = ()
    made_up: int = 7
    basis: str = ""
    origin: Origin = Origin()


def test_columns_are_the_fields_that_declare_one_in_their_order() -> None:
    spec = table("jigs", "a jig", "id", Jig)
    assert [column.name for column in spec.columns] == [
        "id",
        "holds",
        "low_end",
        "high_end",
        *(column.name for column in BASIS),
    ]
    named = table(
        "jigs",
        "a jig",
        "owner id",
        Jig,
        without=("low_end",),
        owner=col.ident("whose"),
        holds=col.text("all"),
    )
    assert [column.name for column in named.columns][:4] == ["owner", "id", "holds", "high_end"]
    assert [column.kind for column in named.columns][:4] == ["id", "id", "text", "number"]


def test_a_row_is_read_and_refused_by_what_the_field_declares() -> None:
    spec = table("jigs", "a jig", "id", Jig)
    head = b"id,holds,low_end,high_end,basis,source\n"
    [row] = read_table(head + b"one,3,1,2,memory,\n", spec, "jigs.csv").rows
    made = plain_record(Jig)(row)
    # a field of several columns, or of none, is not filled by itself
    assert (made.id, made.holds, made.ends, made.made_up, made.basis) == ("one", 3, (), 7, "memory")
    [issue] = read_table(head + b"one,0,1,2,memory,\n", spec, "jigs.csv").issues
    assert (issue.where.row, issue.where.column, issue.found) == (2, "holds", "“0”")


def test_no_table_says_a_column_twice() -> None:
    for spec in TABLES:
        names = [column.name for column in spec.columns]
        assert len(names) == len(set(names)), spec.name
        assert set(spec.key) <= set(names), spec.name
