"""The keys of all that ``--json`` prints, with unit and meaning: made of the records themselves."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from estimator.report.record import ROWS, Figure, Record, keys_of
from estimator.report.records import books
from estimator.report.records.choice import ChoiceAnswer, ChooseAnswer, EstimateAnswer
from estimator.report.records.fit import CheckAnswer, FitAnswer
from estimator.report.records.learn import CalibrateAnswer, LearnAnswer, OwnShopAnswer
from estimator.report.records.plan import NoPlanAnswer, PlanAnswer
from estimator.report.records.price import (
    ChangeAnswer,
    GivenAnswer,
    InvestAnswer,
    MenuAnswer,
    OffersAnswer,
    PriceAnswer,
    RateAnswer,
    SparesAnswer,
)
from estimator.report.records.quote import QuoteAnswer, RepriceAnswer, WorkedAnswer
from estimator.report.records.risk import MeasureAnswer, RiskAnswer, TriageAnswer
from estimator.report.records.sale import ListAnswer, OfferAnswer, SellAnswer

ANSWERS: Mapping[str, type[Record[Any]]] = MappingProxyType(
    {
        "`check`": CheckAnswer,
        "`fit`": FitAnswer,
        "`estimate`": EstimateAnswer,
        "`choose`": ChooseAnswer,
        "any command that finds no set": ChoiceAnswer,
        "`quote`": QuoteAnswer,
        "`reprice`": RepriceAnswer,
        "`worked`": WorkedAnswer,
        "`risk`": RiskAnswer,
        "`measure`": MeasureAnswer,
        "`triage`": TriageAnswer,
        "`price`": PriceAnswer,
        "`price --offers`": OffersAnswer,
        "`price --given`": GivenAnswer,
        "`change`": ChangeAnswer,
        "`menu`": MenuAnswer,
        "`rate`": RateAnswer,
        "`spares`": SparesAnswer,
        "`invest`": InvestAnswer,
        "`sell`": SellAnswer,
        "`offer`": OfferAnswer,
        "`offer --list`": ListAnswer,
        "`plan`": PlanAnswer,
        "`plan` where there is none": NoPlanAnswer,
        "`own-shop`": OwnShopAnswer,
        "`learn`": LearnAnswer,
        "`calibrate`": CalibrateAnswer,
        "`ledger book`": books.Booked,
        "`ledger quote`": books.QuoteTold,
        "`ledger accept`": books.Accepted,
        "`ledger move`": books.MovedTold,
        "`ledger pay`": books.PaidTold,
        "`ledger receipt`": books.ReceiptMade,
        "`ledger board`": books.Board,
        "`ledger begin`": books.Begun,
        "`ledger pause`": books.LaidDown,
        "`ledger end`": books.EndTold,
        "`ledger used` of a job": books.Untold,
        "`ledger used` of a task": books.UsedTold,
        "`ledger running`": books.Runs,
        "`ledger parcel` alone": books.Parcels,
        "`ledger parcel` of one": books.ParcelNews,
        "`ledger stock` alone": books.Stock,
        "`ledger stock` of an item": books.StockTold,
        "`ledger time` of a job": books.Times,
        "`ledger time` of minutes": books.Recorded,
        "`ledger correct`": books.Corrected,
        "`ledger card`": books.Card,
        "`ledger report`": books.Reports,
        "`ledger report` of a job": books.Against,
        "`ledger show`": books.History,
        "`ledger show-customer`": books.CustomerTold,
        "`ledger erase-customer`": books.Erased,
        "`ledger instrument`": books.InstrumentTold,
        "`ledger photo`": books.PhotoKept,
        "`ledger agree`": books.AgreedOn,
        "`ledger paper`": books.PaperMade,
        "`ledger backup`": books.Copied,
        "`ledger export`": books.Exported,
        "`ledger check`": books.Checked,
    }
)


def title_of(record: type[Record[Any]]) -> str:
    """What the first line of a record says that it is."""
    return (record.__doc__ or "").split("\n")[0].rstrip(".").replace("``", "`")


def name_of(record: type[Record[Any]]) -> str:
    """The same in short: what stands before the first comma, colon or semicolon."""
    return re.split("[,:;]", title_of(record))[0]


def held_in(record: type[Record[Any]]) -> Iterator[type[Record[Any]]]:
    """The records that stand inside a record, those inside them too."""
    for figure in keys_of(record):
        if figure.holds is not None:
            yield figure.holds
            yield from held_in(figure.holds)


def reference() -> Iterator[str]:
    """A table for every answer, then one for each record that stands inside them."""
    for command, record in ANSWERS.items():
        yield from _table(f"### {command}", record)
    inner = dict.fromkeys(one for record in ANSWERS.values() for one in held_in(record))
    yield "## What stands inside"
    for record in inner:
        yield from _table(f"### {title_of(record)}", record)


def _table(title: str, record: type[Record[Any]]) -> Iterator[str]:
    yield from ("", title, "", "| key | unit | what it is |", "|---|---|---|")
    for figure in keys_of(record):
        yield f"| `{figure.name}` | {_unit(figure)} | {figure.meaning} |"


def _unit(figure: Figure[Any, Any]) -> str:
    if figure.holds is None:
        return figure.kind.unit
    return f"{'list of' if figure.kind is ROWS else 'object'}: {name_of(figure.holds)}"
