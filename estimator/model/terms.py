"""The settings of ``shop.toml``."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.amounts import Hundredths
from estimator.model import column as col
from estimator.model.column import HUNDRED, MILLION, ONE, ZERO, Column


def _money(meaning: str) -> Column:
    return col.money(meaning, None)


def _share(meaning: str, high: Decimal = ONE, low: Decimal = ZERO) -> Column:
    return col.number(meaning, "share", None, low, high)


def _minutes(meaning: str) -> Column:
    return col.number(meaning, "min", None, ZERO, Decimal(10_000))


def _days(meaning: str) -> Column:
    return col.of("whole", meaning, "days", None, ZERO, Decimal(3660))


class MarkupBand(Struct, frozen=True):
    """Parts up to ``up_to`` cost (none: any) are multiplied by ``factor``."""

    up_to: Annotated[
        Decimal | None,
        col.of("money", "parts costing up to this (left out: any)", "money", None, ZERO, MILLION),
    ]
    factor: Annotated[Decimal, col.of("number", "price multiple on cost", "x", low=ONE, high=Decimal(10))]


class Terms(Struct, frozen=True):
    """The settings of ``shop.toml``; rates per hour, shares as fractions of one.

    ``rate_build_up`` holds the yearly lines (money), weeks, hours a week and billable share.
    """

    shop_name: Annotated[str, col.of("text", "name that stands on quotes", default=None)]
    shop_address: Annotated[str, col.of("text", "street and town, as they stand on quotes", default=None)]
    shop_phone: Annotated[str, col.of("text", "telephone, as it stands on quotes", default=None)]
    shop_email: Annotated[str, col.of("text", "e-mail, as it stands on quotes", default=None)]
    opening_hours: Annotated[
        str, col.of("text", "when customers may come, as it stands on quotes", default=None)
    ]
    tax_number: Annotated[str, col.of("text", "the shop's tax number, as it stands on quotes", default=None)]
    shop_logo: Annotated[
        str,
        col.of(
            "text",
            "file of the logo (PNG or SVG), beside shop.toml, as it stands on quotes; on sheets of a workbook only a PNG",
            default=None,
        ),
    ]
    queue_days: Annotated[int, _days("days before a new job is begun, for the work that waits already")]
    day_sooner_min: Annotated[
        int,
        col.of(
            "whole",
            "hands-on minutes that a plan may give for each open day that jobs are done sooner (0: none); never where the choice aims at cost, hours or what is left",
            "min",
            None,
            ZERO,
            Decimal(60),
        ),
    ]
    currency: Annotated[str, col.of("text", "currency of all money, as it is shown", default=None)]
    lengths: Annotated[
        str,
        col.choice(
            "in what people read a length, customers and the bench alike: country (as countries.csv has it for menu_place), mm or in (on drawings and cards with the mm beside); job files and JSON stay in mm",
            "country",
            "mm",
            "in",
            default=None,
        ),
    ]
    menu_place: Annotated[
        str,
        col.of(
            "text",
            "country whose posted prices the menu is held against, as posted_prices.csv has it",
            default=None,
        ),
    ]
    skill: Annotated[
        int,
        col.of(
            "whole",
            "skill of the hand at the bench: 1 careful beginner to 5 specialist",
            "",
            None,
            ONE,
            Decimal(5),
        ),
    ]
    wage_per_hour: Annotated[
        Decimal, _money("what an hour of work costs in pay (worked out from rate_build_up unless given)")
    ]
    overhead_per_hour: Annotated[
        Decimal, _money("what an hour of work costs besides pay (worked out from rate_build_up unless given)")
    ]
    own_pay_per_hour: Annotated[Decimal, _money("pay wanted for an hour on the shop's own instruments")]
    charge_per_hour: Annotated[Decimal, _money("what a customer is charged for an hour")]
    allowance: Annotated[Decimal, _share("rest, interruptions and looking for things, as a share")]
    allowance_on: Annotated[
        str,
        col.choice(
            "what the allowance is a share of: the time worked, or the whole shift",
            "work",
            "shift",
            default=None,
        ),
    ]
    hidden_fault_share: Annotated[Decimal, _share("hands-on minutes held for faults found later")]
    hidden_fault_share_unstrung: Annotated[
        Decimal, _share("the same when nobody could string it up at intake")
    ]
    shared_cause: Annotated[
        Decimal,
        _share("correlation between the times of one job (a bad day, a worse instrument than thought)"),
    ]
    skew: Annotated[
        Decimal,
        col.of(
            "number",
            "lean of a job's time to the slow side: its third moment over the cube of its spread (0: none)",
            "",
            None,
            ZERO,
            Decimal(2),
        ),
    ]
    surety: Annotated[
        Decimal,
        col.of(
            "number",
            "per cent of jobs that should stay within a fixed quote",
            "%",
            None,
            Decimal(50),
            Decimal("99.9"),
        ),
    ]
    large_quote_hours: Annotated[
        Decimal,
        col.of(
            "number",
            "a quote of fewer hours on average is priced at its mean and bears no consumables fee; beyond it each "
            "mean minute brings one more until the surety is reached (0: every one is held at it); a job that names "
            "a surety is held at it",
            "h",
            None,
            ZERO,
            Decimal(10_000),
        ),
    ]
    hidden_faults_quoted: Annotated[
        str,
        col.choice(
            "when-found: what is held for hidden faults stands in cost and risk, and a fault is quoted again when it is "
            "found; in-price: the price holds it too",
            "when-found",
            "in-price",
            default=None,
        ),
    ]
    rework_spoil_min: Annotated[
        Decimal, _minutes("minutes to make good a spoiled part, besides the repeated run")
    ]
    rework_damage_min: Annotated[Decimal, _minutes("minutes to mend damaged finish or wood")]
    rework_serious_min: Annotated[Decimal, _minutes("minutes that a serious accident costs")]
    rework_serious_cost: Annotated[Decimal, _money("money that a serious accident costs")]
    rework_client_min: Annotated[Decimal, _minutes("minutes lost when a customer has to be asked again")]
    rework_cap_pct: Annotated[
        Decimal, col.of("number", "odds of rework are never taken above this", "%", None, ZERO, HUNDRED)
    ]
    rework_skill_step: Annotated[
        Decimal,
        col.of(
            "number",
            "odds of rework grow by this share per level of missing skill",
            "share",
            None,
            ZERO,
            Decimal(5),
        ),
    ]
    billing_unit_min: Annotated[
        Decimal,
        col.of("number", "billed time is rounded up to this", "min", None, Decimal("0.01"), Decimal(480)),
    ]
    minimum_charge: Annotated[
        Decimal, _money("least price of a job, parts and fees included, before rush and tax")
    ]
    labour_reserve: Annotated[Decimal, _share("share on top of labour, held for warranty work")]
    own_part_labour: Annotated[
        Decimal, _share("labour multiple where the customer brings the part", Decimal(3), ONE)
    ]
    fee_share: Annotated[Decimal, _share("consumables fee as a share of labour")]
    fee_least: Annotated[Decimal, _money("least consumables fee")]
    fee_most: Annotated[Decimal, _money("most consumables fee")]
    rush: Annotated[Decimal, col.of("number", "price multiple of a rush job", "x", None, ONE, Decimal(5))]
    tax_parts: Annotated[Decimal, _share("tax on parts")]
    tax_labour: Annotated[Decimal, _share("tax on labour")]
    tax_per: Annotated[
        str,
        col.choice(
            "whether tax is rounded on the whole invoice or on each line", "invoice", "line", default=None
        ),
    ]
    deposit_labour_share: Annotated[Decimal, _share("deposit: share of the labour above deposit_labour_over")]
    deposit_labour_over: Annotated[Decimal, _money("deposit: labour up to this is free of it")]
    deposit_step: Annotated[
        Decimal, _money("deposit: rounded up to a whole multiple of this; 0: to the cent")
    ]
    quote_valid_days: Annotated[int, _days("days a quote holds")]
    warranty_days: Annotated[int, _days("days of warranty on workmanship")]
    readjust_days: Annotated[int, _days("days in which a first re-adjustment is free")]
    storage_free_days: Annotated[
        int, _days("days of free storage after the customer was told that it is ready")
    ]
    storage_per_day: Annotated[Decimal, _money("storage for every day after those")]
    lien_days: Annotated[int, _days("days after which only local law on unclaimed goods helps")]
    bench_fee: Annotated[
        Decimal, _money("fee for a look at the bench, taken off the price when the job is done")
    ]
    batch_share: Annotated[
        Decimal, _share("share of the set-up minutes saved by a batch that its customer is let off")
    ]
    markup: tuple[MarkupBand, ...]
    rate_build_up: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def large_quote(self) -> Hundredths:
        """Hundredths of a minute from which a quote is a large one."""
        return Hundredths(int(self.large_quote_hours * 6000))

    @property
    def faults_priced(self) -> bool:
        """Whether a quote holds what is held for hidden faults."""
        return self.hidden_faults_quoted == "in-price"
