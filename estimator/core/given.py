"""The bytes of a file that somebody names, or in words why there are none."""

from __future__ import annotations

import errno
from pathlib import Path

from estimator.core.errors import near_miss, refusal

MEGABYTES = 64
"""What no file that is read holds more of (memory); a device that never ends does."""


def whole(path: Path) -> bytes:
    """All that a file holds; OSError where that is more than ``MEGABYTES``."""
    most = MEGABYTES * 1024 * 1024
    with path.open("rb") as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"more than {MEGABYTES} megabytes")
    return data


def bytes_given(path: str | Path, accepted: str) -> bytes:
    """What a file holds; InputError where there is none, with one beside it whose name is like, or where it is a folder."""
    file, name = Path(path), str(path)
    try:
        if file.is_dir():
            raise refusal(name, "a folder where a file belongs", "", accepted, "name a file in it")
        return whole(file)
    except FileNotFoundError:
        beside = [one.name for one in file.parent.iterdir()] if file.parent.is_dir() else []
        step = near_miss(file.name, beside) or "check the spelling and the folder"
        raise refusal(name, "there is no such file", "", accepted, step) from None
    except (OSError, ValueError) as error:  # a name that no disk could hold, or no right to read it
        found = (getattr(error, "strerror", None) or str(error)).lower()
        raise refusal(
            name, "the file cannot be read", found, accepted, "look who may read it, or take a copy"
        ) from None
