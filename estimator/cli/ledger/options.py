"""What the commands of the ledger share: where they work, the options that say so, how one answers."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from functools import cached_property, partial, wraps
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from estimator.cli.common import JsonOption, LedgerOption, answer, load_shop_of, open_ledger
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from collections.abc import Callable

    from estimator.ledger.clock import Moment
    from estimator.ledger.jobs import Storage
    from estimator.ledger.store import Ledger
    from estimator.model import Shop
    from estimator.report.record import Record


NowOption = Annotated[
    str | None,
    typer.Option(
        "--now", metavar="MOMENT", help='Instead of the clock: "2026-10-05 09:15", or with +02:00 after it.'
    ),
]
RemarkOption = Annotated[str, typer.Option("--remark", metavar="WORDS", help="Words to keep with it.")]
JobIdArg = Annotated[str, typer.Argument(metavar="JOB", help="Id of a job in the ledger.")]
ShopFolder = Annotated[
    str | None, typer.Option("--shop", metavar="DIR", help="Folder of your own shop, with its ledger.")
]


@dataclass(frozen=True)
class Desk:
    """Where a command works, as its options say: the ledger, the clock, the shop; whether data is wanted."""

    ledger: str | None = None
    shop: str | None = None
    as_json: bool = False
    now: str | None = None

    def open(self, new: bool = False) -> Ledger:
        """The ledger; ``new``: it is begun where there is none."""
        return open_ledger(self.ledger, self.shop, new, self.now)

    @cached_property
    def moment(self) -> Moment:
        """Now."""
        from estimator.ledger.clock import read_moment

        return read_moment(self.now)

    @cached_property
    def tables(self) -> Shop:
        """The tables of the shop."""
        return load_shop_of(self.shop)

    @property
    def storage(self) -> Storage:
        """What keeping a job costs up to now."""
        from estimator.ledger.jobs import storage_of

        return storage_of(self.tables, self.moment)

    def answer(self, told: Record[Any], words: str | Callable[[], None]) -> int:
        """Print what a command did: its record as data, or what is said in ``words``."""
        return answer(told, self.as_json, partial(put, words) if isinstance(words, str) else words)


def at_desk(command: Callable[..., int], clock: bool = True) -> Callable[..., int]:
    """A command whose options end on those of its desk (``at``); ``clock``: with ``--now`` among them."""
    hints = get_type_hints(command, include_extras=True)
    own = [
        parameter.replace(annotation=hints[name])
        for name, parameter in inspect.signature(command).parameters.items()
        if name != "at"
    ]
    options = {"ledger": LedgerOption, **({"now": NowOption} if clock else {}), "shop": ShopFolder}
    of_desk = [
        inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)
        for name, annotation, default in (
            *((name, annotation, None) for name, annotation in options.items()),
            ("as_json", JsonOption, False),
        )
    ]

    @wraps(command)
    def with_options(**given: Any) -> int:
        desk = Desk(**{each.name: given.pop(each.name) for each in of_desk})
        return command(at=desk, **given)

    signature = inspect.Signature([*own, *of_desk], return_annotation=int)
    with_options.__dict__["__signature__"] = signature
    with_options.__annotations__ = {each.name: each.annotation for each in signature.parameters.values()}
    return with_options
