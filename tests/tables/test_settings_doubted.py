"""Settings that are read but hardly meant are warned of, with what is known."""

from pathlib import Path

import pytest

from estimator import load_shop


@pytest.mark.parametrize(
    ("line", "warned"),
    [
        ('menu_place = "Mars"', ["menu_place"]),
        ('menu_place = "us"', ["menu_place"]),
        ('menu_place = "CL"', []),  # no posted prices, but it says how it writes
        ('menu_place = "ZA"', []),  # posted prices alone
        ("charge_per_hour = 0", ["charge_per_hour"]),
        ("charge_per_hour = 40", []),
    ],
)
def test_a_setting_that_is_hardly_meant(tmp_path: Path, line: str, warned: list[str]) -> None:
    (tmp_path / "shop.toml").write_text(f"{line}\n", encoding="utf-8")
    issues = [issue for issue in load_shop(tmp_path).issues if issue.where.file.endswith("shop.toml")]
    assert [issue.where.column for issue in issues] == warned
    assert all(issue.severity == "warning" and issue.accepted and issue.next_step for issue in issues)
