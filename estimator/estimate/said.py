"""What people say of an instrument in their own words: the faults and wishes of the tables that it may mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from msgspec import Struct, field

from estimator.model import Fault, Job, Shop
from estimator.tables.faults import asked_of
from estimator.tables.kept_words import PHRASES, keeps_meant, without_keeping

MOST = 6
"""So many likenesses are shown for one thing that was said (memory)."""
_LITTLE = frozenset(
    [
        "a",
        "all",
        "an",
        "any",
        "are",
        "as",
        "at",
        "be",
        "better",
        "but",
        "can",
        "do",
        "does",
        "for",
        "from",
        "good",
        "has",
        "have",
        "how",
        "in",
        "into",
        "is",
        "it",
        "its",
        "less",
        "like",
        "lots",
        "make",
        "makes",
        "me",
        "more",
        "much",
        "my",
        "new",
        "no",
        "not",
        "of",
        "on",
        "one",
        "or",
        "so",
        "than",
        "that",
        "the",
        "they",
        "this",
        "to",
        "too",
        "very",
        "want",
        "wants",
        "was",
        "when",
        "which",
        "will",
        "wish",
        "with",
        "would",
        "you",
    ]
)
"""Words that say nothing of an instrument."""
_ROOT = 4
"""Words of this length or more are alike where one begins with the other, less two letters of its ending (memory)."""


class Said(Struct, frozen=True):
    """What was said before anything was measured: of whom it is, what is wrong, what is wished and the limit.

    ``keeps``: what is to be kept whatever is done, ids of ``customer_keeps.csv``.
    """

    whose: str = "own"
    wish: str = ""
    wanted_by: str = ""
    wrong: tuple[Fault, ...] = ()
    require: Mapping[str, int] = field(default_factory=dict)
    profile: str = ""
    money: str = ""
    on: str = "cash"
    keeps: tuple[str, ...] = ()

    def seen(self) -> dict[str, str]:
        """Fields that a fault names in a word (a jack is loose): what was said is all there is to see of it."""
        found: dict[str, str] = {}
        for fault in self.wrong:
            word = fault.bad.split()[0] if fault.bad else ""
            if fault.reads == "is":
                found.setdefault(fault.field, {"yes": "true", "no": "false"}.get(word, f'"{word}"'))
        return found

    def to_measure(self) -> list[str]:
        """Faults that show in a number: nobody's word stands for a measurement."""
        seen = self.seen()
        return list(dict.fromkeys(f.fault for f in self.wrong if f.reads != "is" and f.field not in seen))


def faults_to_say(shop: Shop, job: Job) -> tuple[Fault, ...]:
    """The faults that such an instrument can have, each way of saying it once."""
    fields = set(asked_of(shop.faults, job.instrument))
    found: dict[str, Fault] = {}
    for fault in shop.faults:
        if fault.field in fields:
            found.setdefault(fault.what, fault)
    return tuple(found.values())


def sounds_like(text: str, named: Mapping[str, str]) -> list[str]:
    """The keys whose words are most like what was said, phrase by phrase; nothing where nothing is alike."""
    found: dict[str, None] = {}
    for phrase in PHRASES.split(text):
        said = _words(phrase)
        scores = {
            key: sum(any(alike(w, other) for other in _words(words)) for w in said)
            for key, words in named.items()
        }
        best = max(scores.values(), default=0)
        alikes = [key for key, score in scores.items() if score == best and score]
        alikes.sort(key=lambda key: len(named[key]))
        found |= dict.fromkeys(alikes[:MOST])
    return list(found)


def wishes_meant(shop: Shop, text: str) -> list[str]:
    """The attributes that a wish may mean, phrase by phrase: by everyday words, else by the attributes' own."""
    names = wishes_to_say(shop)
    found: dict[str, None] = {}
    for phrase in PHRASES.split(without_keeping(shop.lasting.keeps, text)):
        meant = _in_everyday_words(shop, phrase)
        found |= dict.fromkeys(name for name in meant or sounds_like(phrase, names) if name in names)
    return list(found)


def to_keep(shop: Shop, text: str) -> dict[str, str]:
    """What the customer's words want kept, by id, with the words of the table."""
    return {name: shop.lasting.keeps[name].what for name in keeps_meant(shop.lasting.keeps, text)}


def _in_everyday_words(shop: Shop, phrase: str) -> list[str]:
    """What a phrase means by the table of wishes; of rows that are all said, none that is part of another one."""
    said = _words(phrase)
    rows = [(_words(row.words), row.attributes) for row in shop.wish_words]
    meant = [row for row in rows if _all_in(row[0], said)]
    whole = [
        row
        for row in meant
        if not any(len(row[0]) < len(other) and _all_in(row[0], other) for other, _ in meant)
    ]
    whole.sort(key=lambda row: -len(row[0]))
    return list(dict.fromkeys(name for _, attributes in whole for name in attributes))[:MOST]


def _all_in(words: set[str], said: set[str]) -> bool:
    return bool(words) and all(any(alike(word, other) for other in said) for word in words)


def _words(text: str) -> set[str]:
    return set(re.findall(r"[a-z]{2,}", text.lower())) - _LITTLE


def alike(one: str, other: str) -> bool:
    """Whether two words are the same but for their ending (scratchy, scratch; pots, pot)."""
    short, long = sorted((one, other), key=len)
    if short == long or long in (f"{short}s", f"{short}es"):
        return True
    root = short[: max(_ROOT, len(short) - 2)]
    return len(short) >= _ROOT and long.startswith(root) and len(long) - len(short) <= 3


def wishes_to_say(shop: Shop) -> dict[str, str]:
    """The attributes that can be wished for, by their level, with the words they go by."""
    kept = [row for row in shop.attributes.values() if row.kind == "level" and any(row.words)]
    return {row.id: f"{row.id.replace('-', ' ')} {row.what}" for row in kept}


def wished_lines(said: Said) -> Iterable[str]:
    """The sections [wish], [budget] and, where something is to be kept, [upgrades] of a job file."""
    yield "[wish]"
    if said.profile:
        yield f'profile = "{said.profile}"'
    if said.require:
        yield "require = { " + ", ".join(f"{name} = {level}" for name, level in said.require.items()) + " }"
    yield ""
    yield "[budget]"
    if said.money:
        yield f"money = {said.money}"
        yield f'on = "{said.on}"'.ljust(32) + "# cash | cost | price"
    if said.keeps:
        yield ""
        yield "[upgrades]"
        names = ", ".join(f'"{name}"' for name in said.keeps)
        yield f"keeps = [{names}]".ljust(32) + "# kept whatever is wished; more words in customer_keeps.csv"
