"""What an instrument brings beside the price of work on it."""

from __future__ import annotations

from estimator.price.client.beyond_worth import Brings
from estimator.report.record import Record, Teller

_brings = Teller[Brings]()


class BringsLess(Record[Brings]):
    """What the instrument brings, where that is less than the work on it costs."""

    money = _brings.money("clean and working", lambda of: of.cents)
    by = _brings.text("whence that is known", lambda of: of.by)
