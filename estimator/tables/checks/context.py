"""What the checks look things up in: the rows of all tables, and the names they define."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from estimator.model import GRADES
from estimator.model.column import Column
from estimator.model.factor_code import MATERIALS, factor_code
from estimator.tables.csv_rows import TableRow
from estimator.tables.quantities import NUMBER_KINDS
from estimator.tables.schema.shop import BY_NAME

_NOT_FACTORS = frozenset({"id", "what", "density", "hardness_lbf", "grain", "basis", "source"})


class Tables:
    """Rows by table, with the sets of names that other rows may refer to."""

    def __init__(self, rows: Mapping[str, Sequence[TableRow]]) -> None:
        self.rows = rows
        self._ids: dict[str, dict[str, TableRow]] = {}

    def __getitem__(self, table: str) -> Sequence[TableRow]:
        return self.rows[table]

    def ids(self, table: str) -> dict[str, TableRow]:
        """The rows of a table by its first column (the first row of a name)."""
        if table not in self._ids:
            named: dict[str, TableRow] = {}
            first = BY_NAME[table].columns[0].name  # as declared: a file may have its columns in any order
            for row in self.rows[table]:
                named.setdefault(row.values[first], row)
            self._ids[table] = named
        return self._ids[table]

    @cached_property
    def bundles(self) -> set[str]:
        """Names of bundles of work."""
        return {row.values["bundle"] for row in self.rows["bundle_work"]}

    @cached_property
    def number_fields(self) -> list[str]:
        """Intake fields that hold a number."""
        return [row.values["id"] for row in self.rows["intake"] if row.values["kind"] in NUMBER_KINDS]

    @cached_property
    def dimensions(self) -> dict[str, list[str]]:
        """Number dimensions by class of part (besides the weight, which every part has)."""
        found: dict[str, list[str]] = {}
        for row in self.rows["part_dimensions"]:
            if row.values["kind"] in NUMBER_KINDS:
                found.setdefault(row.values["part_class"], []).append(row.values["dimension"])
        return found

    @cached_property
    def variants(self) -> dict[str, list[str]]:
        """Variants of parts by class."""
        found: dict[str, list[str]] = {}
        for row in self.rows["parts"]:
            found.setdefault(row.values["part_class"], []).append(row.values["variant"])
        return found

    @cached_property
    def upgrade_names(self) -> set[str]:
        """Upgrades, and each with the variants of its part: ``fit-nut`` and ``fit-nut-bone``."""
        names = set(self.ids("upgrades"))
        for row in self.rows["upgrades"]:
            names |= {f"{row.values['id']}-{v}" for v in self.variants.get(row.values["part_class"], ())}
        return names

    @cached_property
    def factor_codes(self) -> set[str]:
        """Codes that a task may list: those of the factor table and the columns of the material tables."""
        codes = {row.values["code"] for row in self.rows["factors"]}
        for code, table in MATERIALS.items():
            for row in self.rows[table][:1]:
                codes |= {f"{code}.{name}" for name in row.values if name not in _NOT_FACTORS}
        return codes

    def factor_levels(self, code: str) -> list[str]:
        """The levels of a factor code (``FW``, ``NM``, or ``FB`` for all of ``FB.mask``, ``FB.clean``)."""
        if code in MATERIALS:
            return list(self.ids(MATERIALS[code]))
        levels = [
            row.values["level"]
            for row in self.rows["factors"]
            if code in (row.values["code"], factor_code(row.values["code"]).root)
        ]
        return list(dict.fromkeys(levels))

    def grades(self, part_class: str) -> list[str]:
        """What the grade column of an effect may say for an upgrade with this class of part."""
        return (
            list(dict.fromkeys(["any", *GRADES, *self.variants.get(part_class, ())]))
            if part_class
            else ["any"]
        )


def columns_of_kind(columns: Sequence[Column], *kinds: str) -> list[Column]:
    """The columns of the given kinds."""
    return [column for column in columns if column.kind in kinds]
