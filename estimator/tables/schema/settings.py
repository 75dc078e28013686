"""The keys of ``shop.toml``, declared once; they drive reading and the generated reference."""

from __future__ import annotations

from decimal import Decimal

from estimator.tables.schema.shop import HUNDRED, MILLION, ONE, ZERO, Column


def _money(name: str, meaning: str, default: object = None) -> Column:
    return Column(name, "money", meaning, "money", default, ZERO, MILLION)


def _share(name: str, meaning: str, high: Decimal = ONE, low: Decimal = ZERO) -> Column:
    return Column(name, "number", meaning, "share", None, low, high)


def _minutes(name: str, meaning: str) -> Column:
    return Column(name, "number", meaning, "min", None, ZERO, Decimal(10_000))


def _days(name: str, meaning: str) -> Column:
    return Column(name, "whole", meaning, "days", None, ZERO, Decimal(3660))


OPTIONAL = ("shop_address", "shop_phone", "shop_email", "opening_hours", "tax_number", "shop_logo", "lengths")
"""Settings that a shop may do without: words that stand on a customer's papers, and how it writes there."""

SETTINGS: tuple[Column, ...] = (
    Column("shop_name", "text", "name that stands on quotes", default=None),
    Column("shop_address", "text", "street and town, as they stand on quotes", default=None),
    Column("shop_phone", "text", "telephone, as it stands on quotes", default=None),
    Column("shop_email", "text", "e-mail, as it stands on quotes", default=None),
    Column("opening_hours", "text", "when customers may come, as it stands on quotes", default=None),
    Column("tax_number", "text", "the shop's tax number, as it stands on quotes", default=None),
    Column(
        "shop_logo",
        "text",
        "file of the logo (PNG or SVG), beside shop.toml, as it stands on quotes; on sheets of a workbook only a PNG",
        default=None,
    ),
    _days("queue_days", "days before a new job is begun, for the work that waits already"),
    Column(
        "day_sooner_min",
        "whole",
        "hands-on minutes that a plan may give for each open day that jobs are done sooner (0: none); never where the choice aims at cost, hours or what is left",
        "min",
        None,
        ZERO,
        Decimal(60),
    ),
    Column("currency", "text", "currency of all money, as it is shown", default=None),
    Column(
        "lengths",
        "choice",
        "in what people read a length, customers and the bench alike: country (as countries.csv has it for menu_place), mm or in (on drawings and cards with the mm beside); job files and JSON stay in mm",
        "",
        None,
        choices=("country", "mm", "in"),
    ),
    Column(
        "menu_place",
        "text",
        "country whose posted prices the menu is held against, as posted_prices.csv has it",
        default=None,
    ),
    Column(
        "skill",
        "whole",
        "skill of the hand at the bench: 1 careful beginner to 5 specialist",
        "",
        None,
        ONE,
        Decimal(5),
    ),
    _money("wage_per_hour", "what an hour of work costs in pay (worked out from rate_build_up unless given)"),
    _money(
        "overhead_per_hour",
        "what an hour of work costs besides pay (worked out from rate_build_up unless given)",
    ),
    _money("own_pay_per_hour", "pay wanted for an hour on the shop's own instruments"),
    _money("charge_per_hour", "what a customer is charged for an hour"),
    _share("allowance", "rest, interruptions and looking for things, as a share"),
    Column(
        "allowance_on",
        "choice",
        "what the allowance is a share of: the time worked, or the whole shift",
        "",
        None,
        choices=("work", "shift"),
    ),
    _share("hidden_fault_share", "hands-on minutes held for faults found later"),
    _share("hidden_fault_share_unstrung", "the same when nobody could string it up at intake"),
    _share(
        "shared_cause",
        "correlation between the times of one job (a bad day, a worse instrument than thought)",
    ),
    Column(
        "skew",
        "number",
        "lean of a job's time to the slow side: its third moment over the cube of its spread (0: none)",
        "",
        None,
        ZERO,
        Decimal(2),
    ),
    Column(
        "surety",
        "number",
        "per cent of jobs that should stay within a fixed quote",
        "%",
        None,
        Decimal(50),
        Decimal("99.9"),
    ),
    Column(
        "large_quote_hours",
        "number",
        "a quote of fewer hours on average is priced at its mean and bears no consumables fee; beyond it each "
        "mean minute brings one more until the surety is reached (0: every one is held at it); a job that names "
        "a surety is held at it",
        "h",
        None,
        ZERO,
        Decimal(10_000),
    ),
    Column(
        "hidden_faults_quoted",
        "choice",
        "when-found: what is held for hidden faults stands in cost and risk, and a fault is quoted again when it is "
        "found; in-price: the price holds it too",
        "",
        None,
        choices=("when-found", "in-price"),
    ),
    _minutes("rework_spoil_min", "minutes to make good a spoiled part, besides the repeated run"),
    _minutes("rework_damage_min", "minutes to mend damaged finish or wood"),
    _minutes("rework_serious_min", "minutes that a serious accident costs"),
    _money("rework_serious_cost", "money that a serious accident costs"),
    _minutes("rework_client_min", "minutes lost when a customer has to be asked again"),
    Column("rework_cap_pct", "number", "odds of rework are never taken above this", "%", None, ZERO, HUNDRED),
    Column(
        "rework_skill_step",
        "number",
        "odds of rework grow by this share per level of missing skill",
        "share",
        None,
        ZERO,
        Decimal(5),
    ),
    Column(
        "billing_unit_min",
        "number",
        "billed time is rounded up to this",
        "min",
        None,
        Decimal("0.01"),
        Decimal(480),
    ),
    _money("minimum_charge", "least price of a job, parts and fees included, before rush and tax"),
    _share("labour_reserve", "share on top of labour, held for warranty work"),
    _share("own_part_labour", "labour multiple where the customer brings the part", Decimal(3), ONE),
    _share("fee_share", "consumables fee as a share of labour"),
    _money("fee_least", "least consumables fee"),
    _money("fee_most", "most consumables fee"),
    Column("rush", "number", "price multiple of a rush job", "x", None, ONE, Decimal(5)),
    _share("tax_parts", "tax on parts"),
    _share("tax_labour", "tax on labour"),
    Column(
        "tax_per",
        "choice",
        "whether tax is rounded on the whole invoice or on each line",
        "",
        None,
        choices=("invoice", "line"),
    ),
    _share("deposit_labour_share", "deposit: share of the labour above deposit_labour_over"),
    _money("deposit_labour_over", "deposit: labour up to this is free of it"),
    _days("quote_valid_days", "days a quote holds"),
    _days("warranty_days", "days of warranty on workmanship"),
    _days("readjust_days", "days in which a first re-adjustment is free"),
    _days("storage_free_days", "days of free storage after the customer was told that it is ready"),
    _money("storage_per_day", "storage for every day after those"),
    _days("lien_days", "days after which only local law on unclaimed goods helps"),
    _money("bench_fee", "fee for a look at the bench, taken off the price when the job is done"),
    _share("batch_share", "share of the set-up minutes saved by a batch that its customer is let off"),
)

PAY_LINES: tuple[Column, ...] = (
    _money("draw", "wanted draw in a year, before income tax", ZERO),
    _money("employer_load", "employer-side social load and retirement in a year", ZERO),
)
OVERHEAD_LINES: tuple[Column, ...] = (
    _money("rent_and_power", "rent or share of the home, heat, power, internet, in a year", ZERO),
    _money("insurance", "liability, tools, customers' property in care, in a year", ZERO),
    _money("tools", "replacement and wear of tools, in a year", ZERO),
    _money("unbilled_consumables", "rags, gloves, filters and other things not billed, in a year", ZERO),
    _money("office", "software, bank, card fees, accountant, in a year", ZERO),
    _money("vehicle", "vehicle and errands, in a year", ZERO),
    _money("promotion", "advertising, photos, free tweaks, training, in a year", ZERO),
    _money("warranty_and_bad_debts", "warranty work and unpaid bills, in a year", ZERO),
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
MARKUP: tuple[Column, ...] = (
    Column("up_to", "money", "parts costing up to this (left out: any)", "money", None, ZERO, MILLION),
    Column("factor", "number", "price multiple on cost", "x", low=ONE, high=Decimal(10)),
)
GROUPS = ("rate_build_up", "markup")


def limits_of(name: str) -> tuple[Decimal, Decimal]:
    """Least and most that a setting, or ``factor`` and ``up_to`` of a mark-up band, may be."""
    column = next(column for column in (*SETTINGS, *MARKUP) if column.name == name)
    assert column.low is not None
    assert column.high is not None
    return column.low, column.high


OUTRIGHT = ("wage_per_hour", "overhead_per_hour")
