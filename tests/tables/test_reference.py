"""The generated reference tells of every declared table, column and key."""

from __future__ import annotations

import pytest

from estimator.core.errors import InputError
from estimator.input.job.keys import BUDGET, SECTIONS
from estimator.input.job.load import job_from
from estimator.input.reference import KINDS, accepts, left_out, reference
from estimator.tables.schema.settings import BUILD_UP, MARKUP, SETTINGS
from estimator.tables.schema.shop import TABLES
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop


def test_every_declared_name_is_in_the_reference() -> None:
    text = reference()
    groups = [*(table.columns for table in TABLES), *(section.columns for section in SECTIONS)]
    for columns in (*groups, SETTINGS, BUILD_UP, MARKUP):
        for column in columns:
            assert f"| `{column.name}` | {column.meaning} |" in text
    for table in TABLES:
        assert f"### {table.file}" in text


def test_cells_do_not_break_the_markdown_tables() -> None:
    rows = [line for line in reference().splitlines() if line.startswith("|")]
    assert {line.count("|") for line in rows} == {6}


def test_what_is_accepted_and_left_out() -> None:
    columns = {column.name: column for column in TABLES[0].columns}
    assert accepts(columns["level"]) == "whole number, from 1 to 5"
    assert accepts(columns["hazards"]) == "id of hazards.csv, parted by blanks"
    assert left_out(columns["level"]) == "1"
    assert left_out(columns["billed"]) == "yes"
    assert left_out(columns["id"]) == "required"
    assert set(KINDS) >= {column.kind for table in TABLES for column in table.columns}


def test_the_reference_and_the_reading_of_a_budget_agree_on_nought() -> None:
    """A budget of zero is refused, and the reference says so of both."""
    for column in BUDGET.columns:
        if column.name in ("money", "hours"):
            assert accepts(column).endswith("more than 0")
            with pytest.raises(InputError, match="more than 0"):
                job_from(
                    parse_toml(
                        f'[job]\nid = "a"\nkind = "own"\n[instrument]\nkind = "bass-solid"\n[budget]\n'
                        f"{column.name} = 0".encode(),
                        "a.toml",
                    ),
                    default_shop(),
                )
