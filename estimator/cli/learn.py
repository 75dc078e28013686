"""Commands about the shop's own numbers: ``own-shop``, ``learn``, ``calibrate``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    JsonOption,
    LedgerOption,
    ShopOption,
    answer,
    load_shop_of,
    open_ledger,
    print_json,
)
from estimator.cli.ledger.options import NowOption
from estimator.core.errors import Exit, refusal
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from estimator.learn.calibrate import Calibration
    from estimator.learn.proposal import Proposal, Taught
    from estimator.model import Shop

AcceptOption = Annotated[
    bool, typer.Option("--accept", help="Take what is proposed over into the tables of --shop.")
]
TakeBackOption = Annotated[
    bool, typer.Option("--take-back", help="Put the tables back to what they were before the last --accept.")
]
OnlyOption = Annotated[
    str | None,
    typer.Option(
        "--only",
        metavar="PART,...",
        help="With --accept, take over these alone: times, factors, rework, prices, sales, waits.",
    ),
]


def own_shop(shop: ShopOption = None, as_json: JsonOption = False) -> int:
    """Show every number of your shop that is not the default's, and what they do to the menu."""
    from estimator.learn.own_shop import own_shop as look
    from estimator.report.records.learn import OwnShopAnswer
    from estimator.report.text import learn as text
    from estimator.tables.folders import read_folder

    found = look(read_folder(needed(shop)))
    return answer(OwnShopAnswer(found), as_json, lambda: text.show_own_shop(found))


def learn(
    accept: AcceptOption = False,
    take_back: TakeBackOption = False,
    only: OnlyOption = None,
    ledger: LedgerOption = None,
    shop: ShopOption = None,
    now: NowOption = None,
    as_json: JsonOption = False,
) -> int:
    """Show what your own ledger says of the tables' numbers, and what that does to quotes; --accept takes it over."""
    from estimator.learn import accept as taking
    from estimator.learn.every_value import read_parts
    from estimator.learn.proposal import Proposal, taught_by
    from estimator.ledger.clock import read_moment

    if accept and take_back:
        raise typer.BadParameter("--accept and --take-back: ask for one at a time")
    if only is not None and not accept:
        raise typer.BadParameter("--only: says what --accept takes over; add --accept")
    parts, folder = read_parts(only), Path(needed(shop))
    the_shop = load_shop_of(shop)
    with open_ledger(ledger, shop, now=now) as books:
        if take_back:
            paths, many = taking.take_back(books, folder, read_moment(now))
            return _answer(
                as_json,
                {"taken_back": many, "files": list(map(str, paths))},
                f"{_names(paths)} as before: {many} numbers taken back",
            )
        taught = taught_by(books, the_shop, folder, read_moment(now), parts)
        taken = Proposal.of(parts, taught)
        written = taken.over(books, folder, read_moment(now)) if accept else []
    _tell_lesson(taught, taken, written, as_json)
    return Exit.DONE


def _tell_lesson(taught: Taught, taken: Proposal, written: list[Path], as_json: bool) -> None:
    from estimator.report.record import as_data
    from estimator.report.records.learn import LearnAnswer
    from estimator.report.text import learn as text
    from estimator.report.text.learned_values import show_values

    if as_json:
        print_json(as_data(LearnAnswer((taught, written))))
        return
    text.show_lesson(taught.lesson)
    show_values(taught)
    text.show_honesty(taught.honest)
    if written:
        put(f"wrote {_names(written)} ({taken.words}); learn --take-back puts it back")
    elif taken.words:
        put(f"Nothing is changed yet: --accept takes over {taken.words}.")


def calibrate(
    menu: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[JOB=PRICE|JOB=MINUTES|FILE.csv]...",
            help="Your own menu: set-up-hardtail=65, jack='20 min', or a CSV file of job,price,minutes.",
        ),
    ] = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Take the fit over into the tables of --shop.")
    ] = False,
    ledger: LedgerOption = None,
    shop: ShopOption = None,
    now: NowOption = None,
    as_json: JsonOption = False,
) -> int:
    """Fit the tables to prices and times of your own menu by the least change; learn --take-back undoes --accept."""
    from estimator.learn.calibrate import calibrate as fit
    from estimator.learn.menu_entries import read_entries
    from estimator.report.record import as_data
    from estimator.report.records.learn import CalibrateAnswer, Fitted
    from estimator.report.text import learn as text

    the_shop = load_shop_of(shop)
    folder = Path(needed(shop)) if accept else None
    found = fit(the_shop, read_entries(menu or (), the_shop))
    written = _take_fit(found, the_shop, folder, ledger, now) if folder is not None else []
    if as_json:
        print_json(as_data(CalibrateAnswer(Fitted(found, the_shop, written))))
        return Exit.DONE
    text.show_calibration(found, the_shop)
    if written:
        put(f"wrote {_names(written)}; learn --take-back puts it back, own-shop shows it")
    else:
        put("Nothing is changed yet: --accept takes it over into the tables of --shop.")
    return Exit.DONE


def _take_fit(
    found: Calibration, shop: Shop, folder: Path, ledger: str | None, now: str | None
) -> list[Path]:
    from estimator.learn.accept import accept_fit
    from estimator.ledger.clock import read_moment

    with open_ledger(ledger, str(folder), new=True, now=now) as books:
        return accept_fit(books, folder, shop, found, read_moment(now))


def _names(paths: list[Path]) -> str:
    return ", ".join(map(str, paths))


def _answer(as_json: bool, data: dict[str, object], words: str) -> int:
    if as_json:
        print_json(data)
    else:
        put(words)
    return Exit.DONE


def needed(shop: str | None) -> str:
    """The folder of the shop; InputError where none is named."""
    if shop is None:
        raise refusal(
            "--shop",
            "no shop of your own is named",
            accepted="a folder with tables of your own",
            next_step="--shop DIR; shop-book --read FILE.xlsx --folder DIR makes one",
        )
    return shop


def register(app: typer.Typer) -> None:
    """Add the commands of this family."""
    app.command()(learn)
    app.command()(calibrate)
    app.command("own-shop")(own_shop)
