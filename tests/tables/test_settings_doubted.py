"""Settings that are read but hardly meant are warned of, with what is known."""

from pathlib import Path

import pytest

from estimator import load_shop
from tests.shops import default_shop


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


@pytest.mark.parametrize(
    ("currency", "parts", "left"),
    [("USD", "", None), ("EUR", "", "of"), ("EUR", "slim-tuners", "of")],
)
def test_prices_that_stay_in_another_currency_are_told(
    currency: str, parts: str, left: str | None, tmp_path: Path
) -> None:
    """Nobody changes money: a shop that only names another currency would take 80 USD for 80 EUR."""
    (tmp_path / "shop.toml").write_text(f'currency = "{currency}"\n', encoding="utf-8")
    every = len(default_shop().parts) + len(default_shop().consumables) + len(default_shop().tools)
    own = list(default_shop().parts)[:3] if parts else []
    if own:
        rows = "".join(f"{part},77\n" for part in own)
        (tmp_path / "parts.csv").write_text(f"id,price\n{rows}", encoding="utf-8")
    said = [issue.problem for issue in load_shop(tmp_path).issues if issue.where.column == "currency"]
    if left is None:
        assert said == []
    else:
        assert [words.partition(" prices")[0] for words in said] == [f"{every - len(own)} of {every}"]
