"""Whatever bytes come in, the answer is records or complaints, never a crash."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from estimator.core.errors import InputError, Issue
from estimator.core.units import UnitError, parse_quantity
from estimator.input.job.load import job_from
from estimator.tables.csv_rows import read_table
from estimator.tables.schema.shop import BY_NAME, TABLES
from estimator.tables.settings import read_terms
from estimator.tables.toml.text import parse_toml
from tests.tables.tinyshop import SHOP_TOML, tiny_files, tiny_rows, tiny_shop

FILES = tiny_files()
SHOP = tiny_shop()
JOB = b"""[job]
id = "trial"
kind = "commission"
received = 2026-03-01
[instrument]
kind = "bass-solid"
nut_wid = "1 5/8 in"
weight_g = 3500.5
levels = { tuning = 2 }
[wish]
profile = "student"
require = { tuning = 3, weight = "any" }
limits = { weight = { most = "3.6 kg" } }
[budget]
money = 100
hours = "6 h 30 min"
[[part]]
id = "mine"
class = "p-nut"
variant = "bone"
thk = 3.3
[upgrades]
required = ["new-nut"]
[stock]
c-glue = 1
[terms]
rush = true
"""
PIECES = st.sampled_from(
    [
        b"",
        b",",
        b";",
        b'"',
        b"\n",
        b"\r",
        b"\0",
        b"\xff",
        b"\xef\xbb\xbf",
        b"=",
        b"[",
        b"]",
        b"[[",
        b"{",
        b"}",
        b"#",
        b"nan",
        b"-",
        b"1e999",
        b"true",
        b"''",
        b"9" * 5000,
        b"1/0",
        b" ",
        b"\xe2\x82\xac",
        b"part.x",
        b"0",
    ]
)
EDITS = st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 12), PIECES), min_size=1, max_size=4)


def mangled(data: bytes, edits: list[tuple[int, int, bytes]]) -> bytes:
    for at, cut, piece in edits:
        at %= len(data) + 1
        data = data[:at] + piece + data[at + cut :]
    return data


def complaints(act: Callable[[], object]) -> tuple[Issue, ...]:
    try:
        act()
    except InputError as error:
        return error.issues
    return ()


@settings(max_examples=150, deadline=None)
@given(table=st.sampled_from([table.name for table in TABLES]), edits=EDITS)
def test_mangled_tables(table: str, edits: list[tuple[int, int, bytes]]) -> None:
    spec = BY_NAME[table]
    result = read_table(mangled(FILES[spec.file], edits), spec, spec.file)
    assert all(issue.problem and issue.where.file == spec.file for issue in result.issues)
    assert result.issues or len(result.rows) <= len(tiny_rows().get(table, [])) + 4


@settings(max_examples=150, deadline=None)
@given(edits=EDITS)
@example(edits=[(0, 5000, b"[wish]\nrequire = []\n")])
@example(
    edits=[
        (
            0,
            5000,
            b"job = 1\ninstrument = 2\nwish = 3\nbudget = 4\npart = [5]\nupgrades = 6\nstock = 7\nterms = 8",
        )
    ]
)
@example(
    edits=[(0, 5000, b"[[job]]\n[[instrument]]\n[[wish]]\n[[budget]]\n[[upgrades]]\n[[stock]]\n[[terms]]\n")]
)
@example(
    edits=[
        (
            0,
            5000,
            b"[instrument]\nlevels = 3\nnut_wid = {}\n[wish]\nlimits = 3\nweights = []\n[[part]]\nlevels = 5",
        )
    ]
)
@example(edits=[(0, 5000, b"[[part]]\nid = 'x'\nclass = 'p-nut'\nlevels = { NM = 3 }\nvariant = 'bone'\n")])
def test_mangled_jobs(edits: list[tuple[int, int, bytes]]) -> None:
    data = mangled(JOB, edits)
    issues = complaints(lambda: job_from(parse_toml(data, "job.toml"), SHOP))
    assert all(issue.problem and issue.where.file == "job.toml" for issue in issues)


@settings(max_examples=100, deadline=None)
@given(edits=EDITS)
@example(edits=[(0, 5000, b"markup = 3\nrate_build_up = []\nbasis = 5\nsource = 6\nskill = {}\n")])
@example(edits=[(0, 5000, b"[[rate_build_up]]\n[markup]\n[[basis]]\n")])
def test_mangled_settings(edits: list[tuple[int, int, bytes]]) -> None:
    data = mangled(SHOP_TOML, edits)
    issues = complaints(lambda: read_terms([("shop.toml", data)]))
    assert all(issue.problem and issue.where.file == "shop.toml" for issue in issues)


def test_the_unmangled_job_is_good() -> None:
    assert complaints(lambda: job_from(parse_toml(JOB, "job.toml"), SHOP)) == ()


@pytest.mark.parametrize("digits", [12, 30, 400, 5000])
@pytest.mark.parametrize("text", ["{n}", "{n} h 30 min", "0.{n}", "{n}.5 in", "1/{n}", "{n}/7 in", "-{n}"])
def test_a_number_of_any_length_is_read_or_refused_in_words(text: str, digits: int) -> None:
    kind = "time" if " h " in text else "length" if " in" in text else ""
    written = text.replace("{n}", "9" * digits)
    if (digits > 100 or text not in ("0.{n}", "1/{n}")) and digits > 8:
        with pytest.raises(UnitError, match="one thousand million"):
            parse_quantity(written, kind)
    else:
        assert 0 <= parse_quantity(written, kind) <= 1


@pytest.mark.parametrize("number", ["1e9999999999999999999", "9e999999", "-1e400", "1" * 4400])
def test_a_number_beyond_all_bounds_in_a_job_is_refused_in_words(number: str) -> None:
    text = JOB.replace(b"3500.5", number.encode())
    assert text != JOB
    with pytest.raises(InputError) as refused:
        job_from(parse_toml(text, "trial.toml"), SHOP)
    assert all(issue.problem and issue.where.row for issue in refused.value.issues)
