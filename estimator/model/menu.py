"""What a shop posts on its wall: usual jobs, and what other shops post for them."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, Any

from msgspec import Struct, field

from estimator.core.days import ORDERS
from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.model.column import ZERO

NOTHING: Mapping[Any, Any] = MappingProxyType({})


class MenuJob(Struct, frozen=True):
    """A usual job: the upgrades it stands for, on which plain instrument.

    ``beside``: upgrades that are on the bench anyway; the job is then what it adds to them.
    ``instrument``: intake fields that differ from the usual ones. ``reason``: why the price stands where
    it does beside what is posted.
    """

    id: Annotated[str, col.ident("name of the job")]
    what: Annotated[str, col.text("what is done, as a customer would say it")]
    upgrades: Annotated[tuple[str, ...], col.words("upgrades it stands for, by their full id")]
    beside: Annotated[
        tuple[str, ...], col.words("upgrades that are on the bench anyway (blank: it comes alone)")
    ]
    instrument: Annotated[
        Mapping[str, str], col.of("fields", "intake fields that differ from the usual ones", default={})
    ]
    reason: Annotated[str, col.text("why the price stands above what is posted", "")]
    heading: Annotated[
        str,
        col.text("kind of work: the heading over it on the price list for customers (blank: other work)", ""),
    ]
    origin: Origin = Origin()


class PostedPrice(Struct, frozen=True):
    """What one list asks for a job, as posted, and in the shop's money of this year.

    ``to_now`` is what brings the middle of the posted price there.
    """

    menu_job: Annotated[str, col.ref("menu_jobs", "the job")]
    list: Annotated[str, col.of("id", "the list it was read in, by number")]
    low: Annotated[Decimal, col.money("price as posted, or the least of it")]
    high: Annotated[Decimal, col.money("the most of it")]
    currency: Annotated[str, col.text("money it is posted in")]
    year: Annotated[str, col.text("year of the list, or undated")]
    place: Annotated[str, col.text("country of the shop, or unknown")]
    to_now: Annotated[
        Decimal,
        col.number(
            "factor to the shop's money of this year (consumer prices and rates of exchange; from memory, "
            "whatever the basis of the price)",
            "x",
            Decimal(1),
            ZERO,
            Decimal(1000),
        ),
    ]
    price_now: Annotated[Decimal, col.money("the middle of low and high, times that factor")]
    source: str
    origin: Origin = Origin()


class Country(Struct, frozen=True):
    """What goes with the country of a shop."""

    id: Annotated[str, col.of("text", "the country, as menu_place has it")]
    paper: Annotated[
        str, col.choice("what is printed on unless --paper says otherwise", "A4", "Letter", default="A4")
    ]
    lengths: Annotated[
        str,
        col.choice(
            "in what people there read a length, unless the shop's setting lengths says otherwise",
            "mm",
            "in",
            default="mm",
        ),
    ]
    dates: Annotated[
        str,
        col.choice(
            "order in which people there write a date in figures: month, day, year (mdy) or day, month, year (dmy); "
            "blank: both are in use, so a date that could be two days is refused",
            *ORDERS,
            default="",
        ),
    ] = ""
    origin: Origin = Origin()


class MenuTables(Struct, frozen=True):
    """The shop's menu and what others post."""

    jobs: Mapping[str, MenuJob] = field(default_factory=lambda: NOTHING)
    posted: Mapping[str, tuple[PostedPrice, ...]] = field(default_factory=lambda: NOTHING)
    countries: Mapping[str, Country] = field(default_factory=lambda: NOTHING)
