"""Donors to buy: a list that was typed or pasted, ranked as ``estimator offer --list`` ranks it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from estimator.core.errors import InputError, Issue, refusal
from estimator.core.text import money
from estimator.price.donor.rank import NO_PRICE, offer_list
from estimator.server.desk import Desk
from estimator.server.pages import complaint

BEGIN = "id,ask,tier,condition,seen\n"
"""The columns that the empty form begins with."""
HOURS = "earns an hour: what to expect at the price asked, all time and the odds of a bad one counted"
NAME = "list"
"""What complaints call the list."""


def ranked(desk: Desk, text: str) -> dict[str, object]:
    """The listings, the best first, what is left out, and what may be done with the money."""
    if not text.strip():
        raise refusal(NAME, "nothing was typed", accepted="one listing a line below the names of the columns")
    with tempfile.TemporaryDirectory() as folder, desk.answers.solving:
        path = Path(folder) / NAME
        path.write_bytes(text.encode())
        try:
            found = offer_list(path, desk.shop)
        except InputError as error:
            raise InputError(_without(issue, folder) for issue in error.issues) from None
    currency = desk.shop.terms.currency
    return {
        "offers": [
            (
                o.what or o.id,
                money(o.ask, currency),
                money(o.stop, currency) if o.stop > 0 else NO_PRICE,
                o.verdict,
                "" if o.earned is None else money(o.earned, currency),
                money(o.price, currency)
                + (" (guess)" if o.base_assumed else "")
                + (", taken apart" if o.parted else ""),
            )
            for o in found.offers
        ],
        "left_out": [complaint(_without(issue, folder)) for issue in found.issues],
        "words": [f"{found.to_buy} of {found.rows} are worth their price", HOURS],
    }


def _without(issue: Issue, folder: str) -> Issue:
    """A complaint that names the list, not where it lay for a moment."""
    from msgspec.structs import replace

    file = issue.where.file
    return replace(issue, where=replace(issue.where, file=NAME)) if folder in file else issue
