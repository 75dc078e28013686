"""What a shop posts on its wall: usual jobs, and what other shops post for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.errors import Origin

NOTHING: Mapping[Any, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class MenuJob:
    """A usual job: the upgrades it stands for, on which plain instrument.

    ``beside``: upgrades that are on the bench anyway; the job is then what it adds to them.
    ``instrument``: intake fields that differ from the usual ones. ``reason``: why the price stands where
    it does beside what is posted.
    """

    id: str
    what: str
    upgrades: tuple[str, ...]
    beside: tuple[str, ...]
    instrument: Mapping[str, str]
    reason: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PostedPrice:
    """What one list asks for a job, as posted, and in the shop's money of this year.

    ``to_now`` is what brings the middle of the posted price there.
    """

    menu_job: str
    list: str
    low: Decimal
    high: Decimal
    currency: str
    year: str
    place: str
    to_now: Decimal
    price_now: Decimal
    source: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Country:
    """What goes with the country of a shop."""

    id: str
    paper: str
    lengths: str
    dates: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class MenuTables:
    """The shop's menu and what others post."""

    jobs: Mapping[str, MenuJob] = field(default_factory=lambda: NOTHING)
    posted: Mapping[str, tuple[PostedPrice, ...]] = field(default_factory=lambda: NOTHING)
    countries: Mapping[str, Country] = field(default_factory=lambda: NOTHING)
