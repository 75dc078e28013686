"""The keys of ``shop.toml``: those that the fields of its records declare, and the lines of the rate build-up."""

from __future__ import annotations

from decimal import Decimal

from estimator.model import MarkupBand, Terms
from estimator.model.column import MILLION, ONE, ZERO, Column, keys_of


def _yearly(name: str, meaning: str) -> Column:
    return Column(name, "money", f"{meaning}, in a year", "money", ZERO, ZERO, MILLION)


OPTIONAL = ("shop_address", "shop_phone", "shop_email", "opening_hours", "tax_number", "shop_logo", "lengths")
"""Settings that a shop may do without: words that stand on a customer's papers, and how it writes there."""

SETTINGS: tuple[Column, ...] = keys_of(Terms)

PAY_LINES: tuple[Column, ...] = (
    Column("draw", "money", "wanted draw in a year, before income tax", "money", ZERO, ZERO, MILLION),
    Column(
        "employer_load",
        "money",
        "employer-side social load and retirement in a year",
        "money",
        ZERO,
        ZERO,
        MILLION,
    ),
)
OVERHEAD_LINES: tuple[Column, ...] = (
    _yearly("rent_and_power", "rent or share of the home, heat, power, internet"),
    _yearly("insurance", "liability, tools, customers' property in care"),
    _yearly("tools", "replacement and wear of tools"),
    _yearly("unbilled_consumables", "rags, gloves, filters and other things not billed"),
    _yearly("office", "software, bank, card fees, accountant"),
    _yearly("vehicle", "vehicle and errands"),
    _yearly("promotion", "advertising, photos, free tweaks, training"),
    _yearly("warranty_and_bad_debts", "warranty work and unpaid bills"),
)
HOUR_LINES: tuple[Column, ...] = (
    Column("weeks", "number", "working weeks in a year", "weeks", low=ONE, high=Decimal(53)),
    Column("hours_per_week", "number", "hours in the shop in a week", "h", low=ONE, high=Decimal(120)),
    Column(
        "billable_share",
        "number",
        "share of those hours that is billed",
        "share",
        low=Decimal("0.05"),
        high=ONE,
    ),
)
BUILD_UP: tuple[Column, ...] = (*PAY_LINES, *OVERHEAD_LINES, *HOUR_LINES)
MARKUP: tuple[Column, ...] = keys_of(MarkupBand)
GROUPS = ("rate_build_up", "markup")


def limits_of(name: str) -> tuple[Decimal, Decimal]:
    """Least and most that a setting, or ``factor`` and ``up_to`` of a mark-up band, may be."""
    column = next(column for column in (*SETTINGS, *MARKUP) if column.name == name)
    assert column.low is not None
    assert column.high is not None
    return column.low, column.high


OUTRIGHT = ("wage_per_hour", "overhead_per_hour")
