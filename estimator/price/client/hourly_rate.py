"""The shop's hourly rate from what a year costs and how many of its hours are billed.

rate = (pay + overhead) / (weeks x hours a week x billable share) / (1 - margin). All sums are exact
fractions; money is rounded half up to the cent once, the charged rate up to a whole step.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.errors import Origin, refusal
from estimator.core.money import cents, cents_of
from estimator.model import Shop
from estimator.tables.schema.settings import BUILD_UP, HOUR_LINES, OVERHEAD_LINES, PAY_LINES

STEP = Decimal(5)
DRAW = "draw"
WHERE = Origin("shop.toml", None, "rate_build_up")


class RateLine(Struct, frozen=True):
    """One yearly cost: its key, what it is, the amount, and whether it is pay or overhead."""

    key: str
    what: str
    amount: Decimal
    pay: bool


class ShopRate(Struct, frozen=True):
    """A rate with its working. Hours a year; ``break_even``, ``overhead`` ... in cents an hour.

    ``break_even`` covers pay and overhead, ``overhead`` all but the owner's draw (below it every hour
    loses money), ``with_margin`` adds the margin wanted, ``rounded`` goes up to a whole ``STEP``.
    ``charged`` is the rate that quotes use today.
    """

    lines: tuple[RateLine, ...]
    weeks: Decimal
    hours_per_week: Decimal
    billable_share: Decimal
    margin: Decimal
    total: Decimal
    hours: Decimal
    billed: Decimal
    break_even: Cents
    overhead: Cents
    with_margin: Cents
    rounded: Cents
    charged: Cents

    @property
    def charged_covers(self) -> bool:
        """Whether the rate charged covers what an hour costs."""
        return self.charged >= self.break_even

    @property
    def charged_leaves_margin(self) -> bool:
        """Whether the rate charged leaves the margin wanted too."""
        return self.charged >= self.with_margin


def hourly(total: Decimal, billed: Decimal, margin: Decimal = Decimal(0)) -> Fraction:
    """Money an hour (exact) that brings in ``total`` over ``billed`` hours and leaves ``margin`` of itself.

    InputError where no hour is billed or the margin is the whole price.
    """
    if billed <= 0:
        raise refusal(
            WHERE,
            "no hour is billed, so no rate can pay for the year",
            f"{billed} hours",
            "weeks, hours a week and billable share above zero",
            "look at the three lines of hours",
        )
    if not 0 <= margin < 1:
        raise refusal(
            WHERE,
            "a margin is a share of the price",
            f"{margin}",
            "from 0 to below 1",
            "write 15 per cent as 0.15",
        )
    return Fraction(total) / Fraction(billed) / (1 - Fraction(margin))


def up_to_step(rate: Fraction) -> Cents:
    """A rate in money an hour as cents, rounded up to a whole ``STEP`` of money."""
    steps = -((-rate) // Fraction(STEP))
    return cents(Decimal(steps) * STEP)


def build_rate(
    costs: Mapping[str, Decimal],
    weeks: Decimal,
    hours_per_week: Decimal,
    billable_share: Decimal,
    charged: Cents = Cents(0),
    margin: Decimal = Decimal(0),
) -> ShopRate:
    """The rate of a shop from its yearly ``costs`` by key (money); ``charged`` in cents an hour.

    Keys of pay are those of the settings (``draw``, ``employer_load``); all others are overhead.
    Fewer billed hours always give a higher rate.
    """
    meaning = {column.name: column.meaning for column in (*PAY_LINES, *OVERHEAD_LINES)}
    pay_keys = {column.name for column in PAY_LINES}
    lines = tuple(
        RateLine(
            key,
            meaning.get(key, key).removesuffix(", in a year").removesuffix(" in a year"),
            amount,
            key in pay_keys,
        )
        for key, amount in costs.items()
    )
    total = sum((line.amount for line in lines), Decimal(0))
    overhead = sum((line.amount for line in lines if line.key != DRAW), Decimal(0))
    hours = weeks * hours_per_week
    billed = hours * billable_share
    break_even = hourly(total, billed)
    with_margin = hourly(total, billed, margin)
    return ShopRate(
        lines=lines,
        weeks=weeks,
        hours_per_week=hours_per_week,
        billable_share=billable_share,
        margin=margin,
        total=total,
        hours=hours,
        billed=billed,
        break_even=cents_of(break_even),
        overhead=cents_of(hourly(overhead, billed)),
        with_margin=cents_of(with_margin),
        rounded=up_to_step(with_margin),
        charged=charged,
    )


def shop_rate(
    shop: Shop,
    billable_share: Decimal | None = None,
    margin: Decimal = Decimal(0),
) -> ShopRate:
    """The rate of ``shop`` from its yearly lines.

    InputError where the shop states its rates outright and holds no yearly lines.
    """
    lines = shop.terms.rate_build_up
    if missing := [column.name for column in HOUR_LINES if column.name not in lines]:
        raise refusal(
            WHERE,
            "there are no yearly costs and hours to build a rate from",
            accepted=f"a [rate_build_up] section with {', '.join(missing)}",
            next_step="add the section to shop.toml, or read the rates that are stated there outright",
        )
    hours = {column.name for column in HOUR_LINES}
    costs = {
        key: lines[key] for key in (column.name for column in BUILD_UP) if key in lines and key not in hours
    }
    share = lines["billable_share"] if billable_share is None else billable_share
    if share > 1:
        raise refusal(
            WHERE,
            "more hours cannot be billed than there are",
            f"a share of {share}",
            "above 0, at most 1",
            "write 58 per cent as 0.58",
        )
    return build_rate(
        costs, lines["weeks"], lines["hours_per_week"], share, cents(shop.terms.charge_per_hour), margin
    )


class ShareRow(Struct, frozen=True):
    """What the rate would have to be at another billable share; cents an hour."""

    billable_share: Decimal
    billed: Decimal
    break_even: Cents
    rounded: Cents


def rate_by_share(rate: ShopRate) -> tuple[ShareRow, ...]:
    """The rate at billable shares from 0.45 to 0.70, the rest unchanged."""
    rows = []
    for share in (Decimal(n) / 100 for n in (45, 50, 55, 60, 65, 70)):
        billed = rate.hours * share
        rows.append(
            ShareRow(
                share,
                billed,
                cents_of(hourly(rate.total, billed)),
                up_to_step(hourly(rate.total, billed, rate.margin)),
            )
        )
    return tuple(rows)
