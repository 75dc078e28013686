"""Donor triage for the command line: what was seen, the ten checks."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from estimator.core.errors import near_miss, refusal
from estimator.core.units import lengths_as_read
from estimator.fit.triage import (
    FINE,
    LOWER,
    OPEN,
    QUESTIONS,
    WALK,
    Check,
    Triage,
    mends_that_fit,
    past_mending,
    price_of_neck,
    triage,
)
from estimator.model import Job, Shop
from estimator.report.record import table_of
from estimator.report.records.risk import CheckTold, between
from estimator.report.text.terminal import put, show_table, typed

WEIGHTIEST = 3
"""So many checks are told in short."""
WORDS = {
    WALK: "walk away",
    LOWER: "lower the offer",
    OPEN: "not all is checked yet, and what nobody looked at is not fine",
    FINE: "fine",
}
ANSWERS = {"yes": True, "y": True, "no": False, "n": False}


def read_seen(pairs: Iterable[str], ask: bool) -> dict[str, bool]:
    """``WHAT=yes`` pairs; what is left is asked for when a person sits at the terminal."""
    seen: dict[str, bool] = {}
    for pair in pairs:
        what, _, answer = pair.partition("=")
        if what not in QUESTIONS or answer.lower() not in ANSWERS:
            accepted = "yes or no after the =" if what in QUESTIONS else ", ".join(QUESTIONS)
            raise refusal("--seen", "cannot be read", f"“{pair}”", accepted, near_miss(what, QUESTIONS))
        seen[what] = ANSWERS[answer.lower()]
    if ask and sys.stdin.isatty():
        for what, question in QUESTIONS.items():
            if what not in seen:
                answer = typed(f"{question} [yes / no / blank: not looked at] ").strip().lower()
                if answer in ANSWERS:
                    seen[what] = ANSWERS[answer]
    return seen


def triage_of(shop: Shop, job: Job, seen: Mapping[str, bool]) -> Triage:
    """The ten checks of a job's instrument; another neck at the price of the cheapest that goes on."""
    fitting = mends_that_fit(shop, job)
    clean = job.instrument["base_clean"].value if "base_clean" in job.instrument else Decimal(0)
    return triage(
        job.instrument,
        resale=clean if isinstance(clean, Decimal) else Decimal(0),
        pay_per_hour=job.sale.pay(shop.terms),
        neck_price=price_of_neck(fitting),
        seen=seen,
        faults=shop.faults,
        hopeless=past_mending(shop.faults, job.instrument, {one.row.id for one in fitting}),
    )


def show(shop: Shop, job: Job, found: Triage, full: bool = True, top: int | None = None) -> None:
    """The verdict in one line, then the checks: all of them as a table, or in short those that weigh most.

    ``top``: only so many checks.
    """
    put(f"{job.id}: {_verdict(found, shop.terms.currency)}")
    heaviest = sorted(found.checks, key=lambda c: (c.outcome != WALK, -c.high, c.number))
    if full:
        shown = [check for check in found.checks if check in heaviest[:top]]
        show_table("The checks", *table_of(CheckTold, shown, shop.terms.currency, lengths=shop.lengths))
        _show_asks(found.checks)
        return
    for check in [check for check in heaviest if check.outcome in (WALK, LOWER)][: top or WEIGHTIEST]:
        lower = f" ({between(check.low, check.high)} {shop.terms.currency})" if check.high else ""
        put(f"  {check.number}. {check.what}: {lengths_as_read(check.sentence, shop.lengths)}{lower}.")
    if opened := [check.number for check in found.checks if check.outcome == OPEN]:
        put(f"Not looked at: {_checks(opened)}; --seen WHAT=yes|no tells what the eye alone sees.")
    put("--full: all ten checks with their reasons, and what else to look at")


def _verdict(found: Triage, currency: str) -> str:
    """What to do, with the checks that say so."""
    by_outcome = {outcome: [c.number for c in found.checks if c.outcome == outcome] for outcome in WORDS}
    lower = f" by {between(found.low, found.high)} {currency}" if found.outcome == LOWER else ""
    because = f" ({_checks(by_outcome[found.outcome])})" if found.outcome in (WALK, LOWER) else ""
    opened = len(by_outcome[OPEN])
    open_ = f"; {opened} of {len(found.checks)} not looked at" if opened else ""
    return f"{WORDS[found.outcome]}{lower}{because}{open_}."


def _checks(numbers: Sequence[int]) -> str:
    return f"{'check' if len(numbers) == 1 else 'checks'} {', '.join(map(str, numbers))}"


def _show_asks(checks: Iterable[Check]) -> None:
    for check in checks:
        if check.asks and check.outcome != WALK:
            put(f"Check {check.number} also looks at, on the measuring sheet: {', '.join(check.asks)}.")
