"""Tables of what is drawn for the bench: the work that changes wood for good, and hole patterns."""

from __future__ import annotations

from decimal import Decimal

from estimator.tables.schema.column import ONE, Column, TableSpec, _choice, _number, _ref, _table, _text

STAGES = ("first", "strung", "strings-off", "guard-off", "neck-off")
"""How far an instrument is taken apart when something is measured, in the order of a measuring sheet."""

DRAWN_TABLES: tuple[TableSpec, ...] = (
    _table(
        "intake_stages",
        "how far the instrument is taken apart when a field, or a whole section of fields, is measured",
        "name",
        _text("name", "an intake field, or a section of the intake; a field goes before its section"),
        _choice("stage", "the stage of the measuring sheet", *STAGES),
    ),
    _table(
        "caliper_places",
        "where on the figure of a measuring sheet a dimension is taken: along the instrument and across it, not to scale",
        "field",
        Column("field", "id", "the intake field", refers="intake", underscores=True),
        _text("letter", "the letter that stands at it, and beside the field"),
        _choice("view", "seen from the front, or from the side", "front", "side"),
        *(
            _number(name, f"{what} of the {end} end, from the nut", "", low=Decimal(-100), high=Decimal(100))
            for end, names in (("first", ("x1", "y1")), ("other", ("x2", "y2")))
            for name, what in zip(names, ("how far along", "how far across"), strict=True)
        ),
    ),
    _table(
        "drawn_work",
        "work that bores, cuts or glues: it is drawn, or named as not drawn with how to mark it",
        "task place",
        _ref("task", "tasks", "the task"),
        Column(
            "place",
            "id",
            "the place of the work (blank: where no other row of the task names it)",
            default="",
        ),
        _text("what", "one piece of it in words"),
        _text("mark_by", "how it is marked where nothing is drawn"),
    ),
    _table(
        "hole_patterns",
        "one hole of the pattern of a plate, a tuner or the like",
        "pattern hole",
        Column("pattern", "id", "name of the pattern; a word of the screw patterns of tuners, or neck-plate"),
        Column("hole", "whole", "number of the hole", low=ONE),
        _number(
            "across",
            "from the middle of the part, across the strings (or along a row of tuners)",
            "mm",
            low=Decimal(-300),
            high=Decimal(300),
        ),
        _number(
            "along",
            "from the middle of the part, away from the neck (or away from the edge of the peghead)",
            "mm",
            low=Decimal(-300),
            high=Decimal(300),
        ),
        _text("what", "what goes into it"),
    ),
)
