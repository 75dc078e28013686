"""What of an instrument is changed for good, who asks for that, and what a customer wants kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from estimator.core.errors import Origin


@dataclass(frozen=True, slots=True)
class Change:
    """Something that makes an instrument what it is; ``what`` follows “only by changing”.

    ``told``: what the customer reads where it is changed; blank: nothing.
    """

    id: str
    what: str
    told: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class LastingWork:
    """A task that changes something for good where ``when`` holds, whatever upgrade asks for it."""

    task: str
    changes: tuple[str, ...]
    when: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class AskingWish:
    """An attribute whose wish asks for these changes, of the upgrades that raise it."""

    attribute: str
    changes: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class CustomerKeeps:
    """A customer's word for what is to be kept, what else he calls it, and the changes, the upgrades and the tasks that it forbids."""

    id: str
    what: str
    words: tuple[str, ...]
    changes: tuple[str, ...]
    upgrades: tuple[str, ...]
    work: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class LastingTables:
    """All of it; ``changes`` in the order in which one is given up sooner than another."""

    changes: Mapping[str, Change] = field(default_factory=lambda: MappingProxyType({}))
    work: Mapping[str, LastingWork] = field(default_factory=lambda: MappingProxyType({}))
    asking: Mapping[str, AskingWish] = field(default_factory=lambda: MappingProxyType({}))
    keeps: Mapping[str, CustomerKeeps] = field(default_factory=lambda: MappingProxyType({}))
