"""Tables of the menu: the usual jobs of a shop, and the prices that shops post for them."""

from __future__ import annotations

from decimal import Decimal

from estimator.core.days import ORDERS
from estimator.tables.schema.column import (
    ZERO,
    Column,
    TableSpec,
    _choice,
    _id,
    _list,
    _money,
    _number,
    _ref,
    _table,
    _text,
)

MENU_TABLES: tuple[TableSpec, ...] = (
    _table(
        "menu_jobs",
        "a usual job as it stands on a shop's menu: the upgrades it stands for, on which plain instrument",
        "id",
        _id("name of the job"),
        _text("what", "what is done, as a customer would say it"),
        _list("upgrades", "upgrades it stands for, by their full id"),
        _list("beside", "upgrades that are on the bench anyway (blank: it comes alone)"),
        Column("instrument", "fields", "intake fields that differ from the usual ones", default={}),
        _text("reason", "why the price stands above what is posted", ""),
    ),
    _table(
        "posted_prices",
        "what one shop posts for a job of the menu, labour only",
        "menu_job list",
        _ref("menu_job", "menu_jobs", "the job"),
        Column("list", "id", "the list it was read in, by number"),
        _money("low", "price as posted, or the least of it"),
        _money("high", "the most of it"),
        _text("currency", "money it is posted in"),
        _text("year", "year of the list, or undated"),
        _text("place", "country of the shop, or unknown"),
        _number(
            "to_now",
            "factor to the shop's money of this year (consumer prices and rates of exchange; from memory, "
            "whatever the basis of the price)",
            "x",
            Decimal(1),
            ZERO,
            Decimal(1000),
        ),
        _money("price_now", "the middle of low and high, times that factor"),
    ),
    _table(
        "countries",
        "what goes with the country of a shop (menu_place of shop.toml); one that is not there prints on A4",
        "id",
        Column("id", "text", "the country, as menu_place has it"),
        _choice("paper", "what is printed on unless --paper says otherwise", "A4", "Letter", default="A4"),
        _choice(
            "lengths",
            "in what people there read a length, unless the shop's setting lengths says otherwise",
            "mm",
            "in",
            default="mm",
        ),
        Column(
            "dates",
            "choice",
            "order in which people there write a date in figures: month, day, year (mdy) or day, month, year (dmy); "
            "blank: both are in use, so a date that could be two days is refused",
            default="",
            choices=ORDERS,
        ),
    ),
)
