"""Upgrades named as people type them: a short form, several with commas between, or the number in fit's list."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence

from estimator.core.errors import InputError, Issue, Origin, as_accepted, note, shown, squeezed
from estimator.fit.candidates import not_offered, offered
from estimator.model import Job, Shop

_PARTS = re.compile(r"[-_\s]+")
MOST_TOLD = 12
"""Candidates that a complaint names before it says how many more there are."""
STEP = "type enough of it that only one is left, or its number in the list of fit --full"


def words_of(texts: Iterable[str]) -> Iterator[str]:
    """What was typed, parted at commas and without the blanks about it."""
    for text in texts:
        parts = [part.strip() for part in text.split(",")]
        yield from (part for part in parts if part) if any(parts) else (text,)


def is_short_for(short: str, name: str) -> bool:
    """Whether the words of ``short`` are beginnings of words of the name, in their order (``br-stack``)."""
    left = iter(name.split("-"))
    return all(any(word.startswith(part) for word in left) for part in _PARTS.split(short.lower()))


def matches(short: str, names: Collection[str]) -> list[str]:
    """The names that a short form may stand for: the one spelled so, those that begin with it, else whose words do."""
    if (alike := as_accepted(short, names)) in names:
        return [alike]
    begun = [name for name in names if squeezed(name).startswith(squeezed(short))]
    return sorted(begun or (name for name in names if is_short_for(short, name)))


def numbers_of(shop: Shop, job: Job) -> dict[str, int]:
    """The number of every upgrade that is open on this job: its place in the order of ids."""
    return {upgrade.id: number for number, upgrade in enumerate(offered(shop, job), 1)}


def upgrades_named(
    shop: Shop, job: Job, texts: Sequence[str], option: str, *, groups: bool = False
) -> tuple[str, ...]:
    """The ids that were meant, each once; ``groups``: the name of a row stands for all its variants.

    A whole id goes before a short form, a number is the place in the list of ``fit``, which depends on nothing but
    the job and the shop. InputError says of every other word what it could mean.
    """
    upgrades = offered(shop, job)
    ids = [upgrade.id for upgrade in upgrades]
    rows = list(dict.fromkeys(upgrade.row.id for upgrade in upgrades)) if groups else []
    found: list[str] = []
    issues: list[Issue] = []
    for word in words_of(texts):
        if re.fullmatch(r"\d{1,6}", word):
            if 1 <= int(word) <= len(ids):
                found.append(ids[int(word) - 1])
            else:
                note(
                    issues,
                    Origin(option),
                    "no upgrade has this number",
                    shown(word),
                    f"1 to {len(ids)}",
                    "fit --full shows the numbers",
                )
        elif word in ids or word in rows:
            found.append(word)
        else:
            # the whole name of a row stands for its variants alone, not for those of a longer name
            of_row = [u.id for u in upgrades if u.row.id == as_accepted(word, {u.row.id})]
            meant = meant_by(word, rows, ids) or (of_row[0] if len(of_row) == 1 else None)
            if meant is not None:
                found.append(meant)
            else:
                issues.append(_unclear(shop, job, option, word, of_row or matches(word, ids), ids))
    if issues:
        raise InputError(issues)
    return tuple(dict.fromkeys(found))


def rows_named(shop: Shop, texts: Sequence[str]) -> tuple[str, ...]:
    """Rows of upgrades.csv, or a variant of one, meant before there is a job; a word that could be several stays as it is."""
    rows = list(shop.upgrades)
    return tuple(
        word if any(row.may_mean(word) for row in shop.upgrades.values()) else meant_by(word, rows) or word
        for word in words_of(texts)
    )


def meant_by(short: str, *lists: Collection[str]) -> str | None:
    """The one name that a short form stands for, of the first list where it is one alone; None where none is."""
    for names in lists:
        could = matches(short, names)
        if len(could) == 1:
            return could[0]
    return None


def _unclear(shop: Shop, job: Job, option: str, word: str, could: Sequence[str], ids: Sequence[str]) -> Issue:
    if not could or not word.strip("- "):
        return not_offered(shop, job, Origin(option), word, ids)
    told = ", ".join(f"{ids.index(name) + 1} {name}" for name in could[:MOST_TOLD])
    more = f" and {len(could) - MOST_TOLD} more" if len(could) > MOST_TOLD else ""
    return Issue(Origin(option), "this could be more than one upgrade", shown(word), told + more, STEP)
