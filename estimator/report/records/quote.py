"""What ``quote``, ``reprice`` and ``worked`` answer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from estimator.choose.study import Choice, Study
from estimator.ledger.timers import CardRow
from estimator.model import Estimate
from estimator.report.record import Record, Teller
from estimator.report.records.choice import ChoiceAnswer, EstimateAnswer, Priced

OfferNames = tuple[Sequence[str], str | None]
"""The names of the offers that can be made, and of the one that is quoted instead of the whole wish."""


class QuoteWritten(Struct, frozen=True):
    """A quote and its files; with its ``number`` where the ledger gave one, and its ``offers`` where asked for."""

    choice: Choice
    written: Sequence[Path]
    number: str | None = None
    offers: OfferNames | None = None


class Repriced(Struct, frozen=True):
    """A set priced again, and the files of it that were written."""

    study: Study
    estimate: Estimate
    written: Sequence[Path]


_offers = Teller[OfferNames]()
_quote = Teller[QuoteWritten]()
_repriced = Teller[Repriced]()
_row = Teller[CardRow]()
_card = Teller[tuple[str, Sequence[CardRow]]]()


class OffersQuoted(Record[OfferNames]):
    """The offers of a quote."""

    offers = _offers.words("with --offers: those that can be made, the cheapest first", lambda of: of[0])
    rests_on = _offers.text(
        "with --offers: the one that the workbook rests on, where the whole wish is out of reach",
        lambda of: of[1],
    )


class QuoteAnswer(Record[QuoteWritten]):
    """What ``quote`` answers."""

    choice = _quote.joined(ChoiceAnswer, lambda of: of.choice)
    written = _quote.words("files that were written", lambda of: map(str, of.written))
    number = _quote.where_there(_quote.text("with --numbered: the number it was given", lambda of: of.number))
    offers = _quote.joined(OffersQuoted, lambda of: of.offers)


class RepriceAnswer(Record[Repriced]):
    """What ``reprice`` answers."""

    priced = _repriced.joined(EstimateAnswer, lambda of: Priced(of.study, of.estimate))
    written = _repriced.words("files that were written", lambda of: map(str, of.written))


class CardRowTold(Record[CardRow]):
    """A row of a job card that minutes were written into."""

    job = _row.text("id of the job", lambda of: of.job, head="job")
    task = _row.text("task, an id of tasks.csv", lambda of: of.task, head="task")
    place = _row.text("where on the instrument; blank: all of it", lambda of: of.place, head="place")
    minutes = _row.number("min that it took", lambda of: of.minutes, head="min")
    remark = _row.text("what was written beside them", lambda of: of.remark, head="remark")


class WorkedAnswer(Record[tuple[str, Sequence[CardRow]]]):
    """What ``worked`` answers."""

    job = _card.text("id of the job, or of the batch", lambda of: of[0])
    rows = _card.rows(CardRowTold, "the rows with minutes", lambda of: of[1])
