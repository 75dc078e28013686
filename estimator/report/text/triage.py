"""Donor triage for the command line: what was seen, the ten checks as text and as data."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from decimal import Decimal

from estimator.core.errors import near_miss, refusal
from estimator.core.units import lengths_as_read
from estimator.fit.triage import QUESTIONS, Triage, mends_that_fit, past_mending, price_of_neck, triage
from estimator.model import Job, Shop
from estimator.report.text.terminal import put, show_table, typed

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
        pay_per_hour=Decimal(job.settings.get("own_pay_per_hour", shop.terms.own_pay_per_hour)),
        neck_price=price_of_neck(fitting),
        seen=seen,
        faults=shop.faults,
        hopeless=past_mending(shop.faults, job.instrument, {one.row.id for one in fitting}),
    )


def show(shop: Shop, job: Job, found: Triage, top: int | None = None) -> None:
    """The checks, one a line, and the sum; ``top``: only so many, those that weigh most."""
    heaviest = sorted(found.checks, key=lambda c: (c.outcome != "walk-away", -c.high, c.number))[:top]
    show_table(
        f"Ten checks ({job.id})",
        ("", "check", "outcome", "why", shop.terms.currency),
        [
            (
                str(c.number),
                c.what,
                c.outcome.replace("-", " "),
                lengths_as_read(c.sentence, shop.lengths),
                _range(c.low, c.high),
            )
            for c in found.checks
            if c in heaviest
        ],
        right=(0, 4),
    )
    words = {
        "walk-away": "Walk away.",
        "lower": f"Lower the offer by {_range(found.low, found.high)} {shop.terms.currency}.",
        "not-checked": "Not all is checked yet; what nobody looked at is not fine.",
        "fine": "Fine.",
    }
    put(words[found.outcome])
    for check in found.checks:
        if check.asks and check.outcome != "walk-away":
            put(f"Check {check.number} also looks at, on the measuring sheet: {', '.join(check.asks)}.")


def _range(low: Decimal, high: Decimal) -> str:
    if not high:
        return ""
    return f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f}"


def as_data(job: Job, found: Triage) -> dict[str, object]:
    """The object that ``triage --json`` prints."""
    return {
        "job": job.id,
        "outcome": found.outcome,
        "lower_by": [f"{found.low:.2f}", f"{found.high:.2f}"],
        "checks": [
            {
                "number": c.number,
                "check": c.what,
                "outcome": c.outcome,
                "why": c.sentence,
                "low": f"{c.low:.2f}",
                "high": f"{c.high:.2f}",
                "mends": [mend.id for mend in c.mends],
                "mended_with": list(c.mended_with),
                "asks": list(c.asks),
            }
            for c in found.checks
        ],
    }
