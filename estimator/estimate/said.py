"""What people say of an instrument in their own words: the faults and wishes of the tables that it may mean."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from types import MappingProxyType

from msgspec import Struct, field

from estimator.model import Fault, Job, Shop
from estimator.tables.faults import asked_of
from estimator.tables.kept_words import PHRASES, keeps_meant, without_keeping

USUAL = 2
"""The level that is wished for where none is named."""
MOST = 6
"""So many likenesses are shown for one thing that was said (memory)."""
NEAR = Fraction(3, 4)
"""What is less like it than this share of the likeliest is not offered (memory)."""
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
"""Words that begin with so many letters alike are alike where only their endings differ (memory)."""
_ENDING = re.compile(r"(?:e|s|es|y|ly|ies|i?er|i?ers|i?est|e?d|e?n|(?P<twice>[a-z])?(?:ed|ing|er|y))?")
COUNTS = dict(enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight"), 1)) | {12: "twelve"}
NOTHING: Mapping[str, Fraction] = MappingProxyType({})


class Said(Struct, frozen=True):
    """What was said before anything was measured: of whom it is, what is wrong, what is wished and the limit.

    ``words``: what is wrong as somebody put it, whatever was made of it; ``keeps``: what is to be kept whatever is
    done, ids of ``customer_keeps.csv``; ``sale``: fields on which a sale turns, as TOML writes them.
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
    words: str = ""
    sale: Mapping[str, str] = field(default_factory=dict)

    @property
    def what(self) -> str:
        """What the job is about: what is wished, else what is wrong."""
        return self.wish or self.words

    def seen(self) -> dict[str, str]:
        """Fields that were asked for, and those that a fault names in a word (a jack is loose), as TOML writes them.

        What was said of such a fault is all there is to see of it.
        """
        found = dict(self.sale)
        for fault in self.wrong:
            word = fault.words[0] if fault.words else ""
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


def faults_meant(shop: Shop, job: Job, text: str) -> list[Fault]:
    """The faults that somebody's words may mean, phrase by phrase, each time the likeliest first.

    A fault all of whose words were said comes first, however they are parted by phrases.
    Besides the words themselves it counts what a player means by them: who says “buzz on two frets” means the
    evenness of the frets, so a fault that lowers that stands before others in which frets are named.
    Beside one that a phrase names outright none is offered that has only some of the same words (beside a dead
    bridge pickup no dead middle one).
    """
    faults = {fault.what: fault for fault in faults_to_say(shop, job)}
    lowers: dict[str, set[str]] = {}
    for fault in shop.faults:
        lowers.setdefault(fault.what, set()).add(fault.attribute)
    named = {what: what for what in faults}
    said = _words(text)
    whole = [what for what in faults if _all_in(_words(what), said)]
    found: dict[str, None] = dict.fromkeys(sorted(whole, key=lambda what: -len(_words(what))))
    for phrase in PHRASES.split(without_keeping(shop.lasting.keeps, text)):
        meant = _in_everyday_words(shop, phrase)
        likely = {
            what: max(Fraction(1, 4 * rank) for rank, name in enumerate(meant, 1) if name in lowers[what])
            for what in faults
            if lowers[what] & set(meant)
        }
        here = _words(phrase)
        outright = [_said_of(what, here) for what in whole if _all_in(_words(what), here)]
        found |= dict.fromkeys(
            what
            for what in _likeliest(phrase, named, likely)
            if not any(_said_of(what, here) < of_whole for of_whole in outright)
        )
    return [faults[what] for what in found]


def _said_of(what: str, said: set[str]) -> set[str]:
    """The words that were said and that a fault has too."""
    return {word for word in said if any(alike(word, own) for own in _words(what))}


def sounds_like(text: str, named: Mapping[str, str]) -> list[str]:
    """The keys whose words are most like what was said, phrase by phrase; nothing where nothing is alike."""
    found: dict[str, None] = {}
    for phrase in PHRASES.split(text):
        found |= dict.fromkeys(_likeliest(phrase, named))
    return list(found)


def _likeliest(phrase: str, named: Mapping[str, str], likely: Mapping[str, Fraction] = NOTHING) -> list[str]:
    """The keys that a phrase is likeliest to mean, at most ``MOST``; of equals the one of fewest other words.

    A word counts the more, the fewer keys have it (“nut” says more than “low”), none for more than a third.
    ``likely``: what counts besides. A special case of another key is left out where nothing special was said.
    """
    words = {key: _words(text) for key, text in named.items()}
    has = {
        word: {key for key, own in words.items() if any(alike(word, one) for one in own)}
        for word in _words(phrase)
    }
    scores = {
        key: likely.get(key, Fraction(0))
        + sum(Fraction(1, max(3, len(keys))) for keys in has.values() if key in keys)
        for key in named
    }
    best = max(scores.values(), default=Fraction(0))
    near = [key for key, score in scores.items() if score and score >= best * NEAR]
    plain = [
        key
        for key in near
        if not any(words[other] < words[key] and scores[other] >= scores[key] for other in near)
    ]
    return sorted(plain, key=lambda key: (-scores[key], len(words[key]), len(named[key])))[:MOST]


def wishes_meant(shop: Shop, text: str) -> list[str]:
    """The attributes that a wish may mean, phrase by phrase: by everyday words, else by the attributes' own."""
    names = wishes_to_say(shop)
    found: dict[str, None] = {}
    for phrase in PHRASES.split(without_keeping(shop.lasting.keeps, text)):
        found |= dict.fromkeys(name for name in _phrase_means(shop, phrase) if name in names)
    return list(found)


def _phrase_means(shop: Shop, phrase: str) -> list[str]:
    """The attributes that a phrase may mean, the likeliest first."""
    return _in_everyday_words(shop, phrase) or sounds_like(phrase, wishes_to_say(shop))


def put_right(shop: Shop, wrong: Iterable[Fault]) -> dict[str, int]:
    """The levels to wish for so that faults are mended: above what each leaves, and no lower than a usual wish."""
    names = wishes_to_say(shop)
    faults = {fault.fault for fault in wrong}
    found: dict[str, int] = {}
    for row in shop.faults:
        if row.fault in faults and row.attribute in names:
            found[row.attribute] = max(found.get(row.attribute, USUAL), min(4, int(row.level) + 1))
    return found


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


def counts_in_words(text: str) -> str:
    """What was said with counts of strings and the like as words: a 7-string is one of seven strings."""
    return re.sub(r"\d+", lambda found: COUNTS.get(int(found[0]), found[0]), text)


def _all_in(words: set[str], said: set[str]) -> bool:
    return bool(words) and all(any(alike(word, other) for other in said) for word in words)


def _words(text: str) -> set[str]:
    return set(re.findall(r"[a-z]{2,}", text.lower())) - _LITTLE


def alike(one: str, other: str) -> bool:
    """Whether two words are the same but for their ending (scratchy, scratch; pots, pot; slip, slipping)."""
    short, long = sorted((one, other), key=len)
    if short == long or long in (f"{short}s", f"{short}es"):
        return True
    root = next((n for n, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    return root >= _ROOT and all(_is_ending(word, root) for word in (short, long))


def _is_ending(word: str, root: int) -> bool:
    """Whether what follows the first letters of a word is an ending; a letter before it is the one doubled."""
    match = _ENDING.fullmatch(word[root:])
    return match is not None and match["twice"] in (None, word[root - 1])


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
