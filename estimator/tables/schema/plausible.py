"""Tables of what a measured value is held against: its neighbours, and one piece against all of them."""

from __future__ import annotations

from estimator.tables.schema.column import (
    Column,
    TableSpec,
    _choice,
    _table,
    _text,
    _when,
)

PLAUSIBLE_TABLES: tuple[TableSpec, ...] = (
    _table(
        "neighbours",
        "where a measured value usually lies beside other measured ones; outside it both are looked at again",
        "field instruments low",
        Column("field", "id", "the value that is looked at", refers="intake", underscores=True),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
        _when(),
        Column("low", "expression", "least of what is usual: a number, or a sum over its neighbours"),
        Column("high", "expression", "most of what is usual"),
        _text("because", "why the two go together, for the one who measured"),
    ),
    _table(
        "goes_together",
        "what goes with a word that was said of an instrument, and is assumed instead of the usual default",
        "field word beside instruments",
        Column("field", "id", "the field", refers="intake", underscores=True),
        Column("word", "text", "the word that was said"),
        Column(
            "beside",
            "list",
            "what must hold as well, whether said or usual: field=word pairs parted by blanks (blank: nothing; "
            "the row with the most of them goes first)",
            default=(),
        ),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
        Column("assumes", "list", "what goes with it: field=value pairs parted by blanks"),
    ),
    _table(
        "per_piece",
        "a value that one piece has and the set has too, so that one may be given for the other",
        "part_class value instruments",
        Column("part_class", "id", "class of part_classes.csv (instrument: an intake field)"),
        Column("value", "id", "the intake field, or weight_g or price of the part", underscores=True),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
        _when(),
        _choice("counts", "what the value stands for", "one", "all"),
        Column("pieces", "expression", "how many pieces there are"),
        _text("one", "what it is of a single piece, such as: one tuner"),
        _text("all", "what it is of all, such as: the set"),
        Column(
            "low",
            "number",
            "least of what is usual, as it is to be given (blank: of the field, or of the shop's parts)",
            default=None,
        ),
        Column("high", "number", "most of what is usual", default=None),
    ),
)
