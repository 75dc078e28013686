"""Values of a job file changed where they stand, and nothing else of it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from estimator.core.errors import InputError
from estimator.input.job.edit import edited, with_changes
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import toml_text

TEXT = """# a job
[job]
id = "x"  # its name # and more
wanted_by = 2026-10-30

[instrument]
kind = "guitar-solid"
body_wood = "a # b"     # wood

[wish.require]
hum = 2   # quiet

[upgrades]
required = [ # what must be
  "set-up",  # always
  "dress-frets",
]
# before the parts
[[part]]
id = "p"
"""


def lines_changed(changes: dict[tuple[str, ...], object]) -> list[str]:
    told = edited(TEXT, changes, "x.toml")
    before = TEXT.splitlines()
    return [line for line in told.splitlines() if line not in before]


def test_one_value_is_one_line_and_its_remark_stays() -> None:
    assert lines_changed({("wish", "require", "hum"): 3}) == ["hum = 3   # quiet"]
    assert lines_changed({("job", "id"): "y"}) == ['id = "y"  # its name # and more']
    assert lines_changed({("instrument", "body_wood"): "c"}) == ['body_wood = "c"     # wood']
    assert lines_changed({("job", "wanted_by"): date(2026, 11, 1)}) == ["wanted_by = 2026-11-01"]
    assert edited(TEXT, {}, "x.toml") == TEXT


def test_a_list_over_several_lines_is_one_value() -> None:
    told = edited(TEXT, {("upgrades", "required"): ["set-up"]}, "x.toml")
    assert 'required = ["set-up"]\n# before the parts' in told
    gone = edited(TEXT, {("upgrades", "required"): None}, "x.toml")
    assert "required" not in gone


def test_what_is_not_there_is_added_in_its_section_or_at_the_end() -> None:
    told = edited(TEXT, {("instrument", "fret_h"): Decimal("1.10"), ("budget", "money"): 250}, "x.toml")
    assert 'body_wood = "a # b"     # wood\nfret_h = 1.1\n' in told
    assert told.endswith("[budget]\nmoney = 250\n")
    assert parse_toml(told.encode(), "x").values["part"] == [{"id": "p"}]


def test_a_group_on_one_line_stays_one() -> None:
    text = "[wish]\nrequire = { hum = 2, action = 3 }  # both\n"
    assert (
        edited(text, {("wish", "require", "hum"): None}, "x") == "[wish]\nrequire = { action = 3 }  # both\n"
    )
    assert edited("[wish]\n", {("wish", "require", "hum"): 1}, "x") == "[wish]\nrequire = { hum = 1 }\n"


def test_what_cannot_be_changed_by_lines_is_refused() -> None:
    with pytest.raises(InputError, match="line by line"):
        edited('wish.require.hum = 2\n[job]\nid = "x"\n', {("wish", "require", "hum"): 3}, "x")


@pytest.mark.parametrize(
    "text", ['"', "\\", "a\nb", "\t", "</script>", "é", "\x00\x1f\x7f", "'''", '"""', "#"]
)
def test_any_text_comes_back_as_it_was(text: str) -> None:
    assert parse_toml(f"a = {toml_text(text)}".encode(), "x").values == {"a": text}
    told = edited(TEXT, {("job", "what"): text}, "x.toml")
    assert parse_toml(told.encode(), "x").values == with_changes(
        parse_toml(TEXT.encode(), "x").values, {("job", "what"): text}
    )
