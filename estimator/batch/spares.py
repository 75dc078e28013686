"""Pieces that may be spoiled: how many more to have than are wanted, what they cost, who would need them."""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.batch.build import BatchStudy
from estimator.batch.records import THOUSAND, JointAnswer
from estimator.core.amounts import Cents
from estimator.core.text import money

SPARE_OF = {
    "p-nutblank": "nut-blank",
    "p-nutcut": "ready-cut-nut",
    "p-guardblank": "guard-blank",
    "p-pot": "pot",
    "p-insert4": "threaded-insert",
}
"""Class of part to the row of ``spares.csv`` that knows how often one is spoiled."""
MILLION = 1_000_000
EXPERT = 4
"""Skill from which the odds of an expert are taken."""


class SpareAdvice(Struct, frozen=True):
    """Pieces to have for so many good ones at 90 % surety, and what practice pieces to use.

    ``each``: what one more costs in cents where the first of its class is bought (``seller``), None if
    none is bought. ``needed``: the odds that the first spare, the second and so on
    is needed, in millionths.
    """

    part_class: str
    what: str
    words: str
    good: int
    pieces: int
    practise_on: str
    seller: str
    each: Cents | None
    needed: tuple[int, ...] = ()


def advice_of(study: BatchStudy, answer: JointAnswer) -> tuple[SpareAdvice, ...]:
    """What to have more of, by class of part."""
    from estimator.estimate.risk.spare_blanks import pieces_for

    skill = max(person.skill for person in study.file.people)
    advice = []
    for part_class, users in users_of(study, answer).items():
        row = study.shop.resale.spares.get(SPARE_OF[part_class])
        if row is None:
            continue
        odds = (row.expert_pct if skill >= EXPERT else row.beginner_pct) / 100
        good = sum(users.values())
        seller, each = _price_of(study, answer, part_class)
        words = row.what
        if each is not None:
            words += f" ({money(each, study.shop.terms.currency)} each at {seller or 'any shop'})"
        found = pieces_for(good, odds)
        needed = tuple(int(MILLION * (1 - enough.surety)) for enough in found.rows[:-1])
        advice.append(
            SpareAdvice(
                part_class, row.what, words, good, found.pieces, row.practise_on, seller, each, needed
            )
        )
    return tuple(advice)


def users_of(study: BatchStudy, answer: JointAnswer) -> dict[str, dict[str, int]]:
    """By class of part that may be spoiled: the good pieces that each job takes."""
    wanted: dict[str, dict[str, int]] = {}
    for part in study.batch.parts:
        if part.part_class in SPARE_OF and answer.does(part.job, (part.upgrade,)):
            users = wanted.setdefault(part.part_class, {})
            users[part.job] = users.get(part.job, 0) + max(1, int(Decimal(part.quantity)))
    return wanted


def _price_of(study: BatchStudy, answer: JointAnswer, part_class: str) -> tuple[str, Cents | None]:
    """Where the first of a class is bought, and what one more would cost there, upward to the cent."""
    classes = {(p.job, p.upgrade): p for p in study.batch.parts}
    for bought in answer.purchases:
        part = classes.get((bought.job, bought.upgrade))
        if bought.kind == "part" and part is not None and part.part_class == part_class and part.thousandths:
            return bought.seller, Cents(-(-bought.cents * THOUSAND // answer.bought(part)))
    return "", None
