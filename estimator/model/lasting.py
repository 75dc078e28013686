"""What of an instrument is changed for good, who asks for that, and what a customer wants kept."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct, field

from estimator.core.errors import Origin
from estimator.model import column as col


class Change(Struct, frozen=True):
    """Something that makes an instrument what it is; ``what`` follows “only by changing”.

    ``told``: what the customer reads where it is changed; blank: nothing.
    """

    id: Annotated[str, col.ident("word for it, in upgrades.csv and in may_change of a job")]
    what: Annotated[str, col.text("what it is, as it follows “only by changing”")]
    told: Annotated[
        str, col.text("what a customer reads who is to agree to the change (blank: nothing)", "")
    ] = ""
    origin: Origin = Origin()


class LastingWork(Struct, frozen=True):
    """A task that changes something for good where ``when`` holds, whatever upgrade asks for it."""

    task: Annotated[str, col.ref("tasks", "the task")]
    changes: Annotated[tuple[str, ...], col.words("what it changes for good", "changes")]
    when: Annotated[str, col.when()]
    origin: Origin = Origin()


class AskingWish(Struct, frozen=True):
    """An attribute whose wish asks for these changes, of the upgrades that raise it."""

    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    changes: Annotated[tuple[str, ...], col.words("the changes that such a wish asks for", "changes")]
    origin: Origin = Origin()


class CustomerKeeps(Struct, frozen=True):
    """A customer's word for what is to be kept, what else he calls it, and the changes, the upgrades and the tasks that it forbids."""

    id: Annotated[str, col.ident("the word")]
    what: Annotated[str, col.text("what is wanted, as the customer would say it")]
    words: Annotated[tuple[str, ...], col.words("other words that a customer has for it, parted by blanks")]
    changes: Annotated[tuple[str, ...], col.words("changes that it forbids", "changes")]
    upgrades: Annotated[tuple[str, ...], col.words("upgrades that it forbids", "upgrades")]
    work: Annotated[
        tuple[str, ...],
        col.words("tasks that it forbids, whatever upgrade or fit rule asks for them", "tasks"),
    ]
    origin: Origin = Origin()


class LastingTables(Struct, frozen=True):
    """All of it; ``changes`` in the order in which one is given up sooner than another."""

    changes: Mapping[str, Change] = field(default_factory=lambda: MappingProxyType({}))
    work: Mapping[str, LastingWork] = field(default_factory=lambda: MappingProxyType({}))
    asking: Mapping[str, AskingWish] = field(default_factory=lambda: MappingProxyType({}))
    keeps: Mapping[str, CustomerKeeps] = field(default_factory=lambda: MappingProxyType({}))
