"""Words as people spell them."""

from __future__ import annotations

import random
from collections.abc import Iterator


def odd_spellings(word: str, drawn: random.Random) -> Iterator[str]:
    """The same word with other capitals, and with blanks, underscores or nothing for its hyphens."""
    yield word.upper()
    yield word.capitalize()
    for between in (" ", "_", ""):
        spelled = between.join(word.split("-"))
        yield "".join(drawn.choice((letter, letter.upper())) for letter in spelled)
