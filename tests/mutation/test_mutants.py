"""What the mutation run puts in: every kind of mistake once, by hand; and its list of dear ones stays true."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutation.__main__ import DRAWN_FROM, KEPT, ROOT, _bearing, _drawn
from tests.mutation.mutants import mutants_of, replaced

TEXT = '''
def fee(a: int, many: list[int] = []) -> int:
    """At most 9, “quoted”."""
    if a < 3 and many:
        return 4
    return min(a + 1, max(many)) if a in many else f"{a + 2}"
'''


def test_every_kind_of_mistake_is_made_once(tmp_path: Path) -> None:
    (tmp_path / "fee.py").write_text(TEXT, encoding="utf-8")
    made = {(m.old, m.new) for m in mutants_of(tmp_path, "fee.py")}
    assert made == {
        ("a < 3 and many", "(a < 3 or many)"),
        ("a < 3 and many", "(not (a < 3 and many))"),
        ("a < 3", "(a <= 3)"),
        ("a < 3", "(a > 3)"),
        ("3", "(4)"),
        ("4", "(5)"),
        ("return 4", "pass"),
        ("min(a + 1, max(many))", "(max(a + 1, max(many)))"),
        ("min(a + 1, max(many))", "(a + 1)"),
        ("min(a + 1, max(many))", "(max(many))"),
        ("max(many)", "(min(many))"),
        ("a + 1", "(a - 1)"),
        ("1", "(2)"),
        ("a in many", "(a not in many)"),
    }
    for mutant in mutants_of(tmp_path, "fee.py"):
        assert mutant.source != TEXT
        assert '"""At most 9, “quoted”."""' in mutant.source
        compile(mutant.source, "fee.py", "exec")


def test_dear_mistakes_still_have_their_place_and_tests() -> None:
    for change in KEPT:
        mutant = replaced(ROOT, *change)
        compile(mutant.source, mutant.file, "exec")
        assert _bearing(mutant.file)


@pytest.mark.slow
def test_the_same_seed_draws_the_same_of_every_room() -> None:
    one, again, other = (_drawn(seed, 20, "") for seed in (1, 1, 2))
    assert one == again != other
    for room in DRAWN_FROM:
        assert sum(mutant.file.startswith(room) for mutant in one) == 4
