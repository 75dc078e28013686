"""Parcels that come later than they were promised: what was heard last of each, until it came."""

from __future__ import annotations

from datetime import date

from msgspec import Struct
from msgspec.structs import asdict

from estimator.core.errors import refusal
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import job_row
from estimator.ledger.records import LateParcel, ParcelNews
from estimator.ledger.store import Ledger


class Parcel(Struct, frozen=True):
    """All that a seller sends, or of it one consumable, or the part of one upgrade of one job."""

    seller: str
    item: str = ""
    job: str = ""
    upgrade: str = ""

    def words(self) -> str:
        """As people say it."""
        if self.upgrade:
            return f"{self.upgrade} for {self.job} from {self.seller}"
        return f"{self.item} from {self.seller}" if self.item else f"the parcel of {self.seller}"


def tell_parcel(
    ledger: Ledger, parcel: Parcel, expected: date | None, now: Moment, remark: str = ""
) -> ParcelNews:
    """Record the day on which a parcel is expected now, or with None that it came.

    InputError where the day is over, or where a parcel came that nobody said was late.
    """
    if bool(parcel.job) != bool(parcel.upgrade) or (parcel.item and parcel.job):
        raise refusal(
            "parcel",
            "what is late cannot be told",
            parcel.words(),
            "a seller; beside it --item, or --job and --part",
            "name one of them",
        )
    if expected is not None and expected < now.day:
        raise refusal(
            "--expected",
            "this day is over",
            expected.isoformat(),
            f"{now.day.isoformat()} or later",
            "name the day that the seller promises now, or say --came",
        )
    with ledger.writing():
        if parcel.job:
            job_row(ledger, parcel.job)
        late = parcel_news(ledger)
        if expected is None and not any(_is_of(one, parcel) or _is_of(parcel, one) for one in late):
            known = ", ".join(one.words() for one in late)
            raise ledger.refusal(
                f"{parcel.words()} was not told as late",
                known or "no parcel is late",
                "a parcel that is told as late",
                "a parcel that comes as planned needs no word",
            )
        day = expected.isoformat() if expected else None
        news = ParcelNews(**asdict(parcel), expected=day)
        ledger.add("parcel_news", now, **asdict(news) | {"job": parcel.job or None, "remark": remark})
    return news


def parcel_news(ledger: Ledger) -> dict[Parcel, date | None]:
    """What is late, with the day on which it is expected now; None for a thing that came while the rest is late.

    News of all that a seller sends come first: those of one thing of it are nearer.
    """
    open_: dict[Parcel, date | None] = {}
    for row in ledger.rows("SELECT seller, item, job, upgrade, expected FROM parcel_news ORDER BY id"):
        parcel = Parcel(row["seller"], row["item"], row["job"] or "", row["upgrade"])
        for older in [one for one in open_ if _is_of(one, parcel)]:
            del open_[older]
        if row["expected"]:
            open_[parcel] = date.fromisoformat(row["expected"])
        elif Parcel(parcel.seller) in open_:
            open_[parcel] = None
    return dict(sorted(open_.items(), key=lambda pair: (pair[0] != Parcel(pair[0].seller), pair[0].words())))


def parcel_rows(ledger: Ledger, now: Moment) -> list[LateParcel]:
    """Late parcels as the board shows them; ``overdue`` where the day is over and nobody said that it came."""
    late = [(day, one) for one, day in parcel_news(ledger).items() if day is not None]
    return [
        LateParcel(**asdict(one), expected=day.isoformat(), overdue=day < now.day)
        for day, one in sorted(late, key=lambda pair: (pair[0], pair[1].words()))
    ]


def _is_of(one: Parcel, news: Parcel) -> bool:
    """Whether news are about a parcel: about it alone, or about all that its seller sends."""
    return one == news or (one.seller == news.seller and not news.item and not news.upgrade)
