"""Values and names as TOML writes them, each on one line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")


def toml_text(value: object) -> str:
    """A value as TOML writes it, on one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}" if value.is_finite() else "inf"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_text(item) for item in value) + "]"
    if isinstance(value, Mapping):
        return (
            "{ " + ", ".join(f"{key_text(name)} = {toml_text(item)}" for name, item in value.items()) + " }"
        )
    return quoted(str(value))


def quoted(text: str) -> str:
    """A text in double quotes; what cannot stand in one as it is (quotes, line ends, controls) is written out."""
    short = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    told = (short.get(c) or (f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c) for c in text)
    return '"' + "".join(told) + '"'


def key_text(name: str) -> str:
    """A name, in quotes where it has to be."""
    return name if _BARE.match(name) else quoted(name)
