"""How far a wish is met, and how a promised day was looked at: the same words on the screen and on the page."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from estimator.choose.as_assumed import refused_as_assumed
from estimator.choose.study import SpecRow, Study
from estimator.core.text import count


def wish_words(rows: Iterable[SpecRow]) -> str:
    """Whether all that is wished is met, and on what that rests; blank where nothing is wished."""
    wished = [row for row in rows if row.asked]
    if not wished:
        return ""
    missed = [row.attribute.replace("-", " ") for row in wished if not row.met]
    resting = [row.attribute.replace("-", " ") for row in wished if row.met_as_assumed or row.rests_on]
    unsure = [f"{row.attribute.replace('-', ' ')} ({why})" for row in wished for why in row.may_fail]
    met = "all met" if not missed else f"NOT met: {', '.join(missed)}"
    only = f"; only as assumed today: {', '.join(resting)}" if resting else ""
    may_fail = f"; expected, not promised: {', '.join(unsure)}" if unsure else ""
    return f"Wish ({count(len(wished), 'level')}): {met}{only}{may_fail}."


def refused_words(study: Study, chosen: Collection[str]) -> str:
    """Other work at what a set works on that does not fit only as something is assumed; blank where there is none."""
    refused = refused_as_assumed(study, chosen)
    if not refused:
        return ""
    told = "; ".join(
        f"{one.upgrade} ({(' with ' if one.together else ', ').join(one.assumed)})" for one in refused
    )
    return f"Does not fit only as assumed: {told}. Measure that before this set is promised: another may be best."


def day_not_looked_at(study: Study) -> str:
    """Why a promised day is held against nothing; blank where none is promised, or where it was looked at."""
    job = study.job
    if not job.wanted_by or _is_limit(study):
        return ""
    if not job.received:
        why = "nothing tells the day it came in; write received into [job]"
    elif not study.shop.planning.hours:
        why = "shop_hours.csv tells no hours at the bench"
    else:
        return ""
    return f"back by {job.wanted_by}: not looked at, for {why}"


def day_kept(study: Study) -> str:
    """That no set can be too late for a promised day; blank where none is promised, or where one can."""
    job = study.job
    if not job.wanted_by or _is_limit(study) or day_not_looked_at(study):
        return ""
    return (
        f"back by {job.wanted_by}: looked at; hours at the bench and the shortest cures keep it whatever is chosen"
        " (parcels and other jobs: estimator plan)"
    )


def _is_limit(study: Study) -> bool:
    return any(rule.kind == "due" for rule in study.problem.rules)
