"""Writing files: whole or not at all, and never over something that was not given up.

A file is written beside its target under a temporary name, flushed to the disk and renamed. An
existing file is replaced only when told. Every refusal is in words a bench worker can act on.
"""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from estimator.errors import InputError, Issue, Origin, shown


def check_target(path: str | Path, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Say early whether a file can be written there; InputError tells what is in the way."""
    target = Path(path)
    where = Origin(str(target))
    if not target.name or str(path).endswith(("/", os.sep)):
        raise InputError(Issue(where, "a folder was given where a file belongs", shown(str(path)),
                               "the name of a file", "add a file name to it"))  # fmt: skip
    if extensions and target.suffix.lower() not in extensions:
        raise InputError(
            Issue(where, "the name ends in something that does not tell what the file is",
                  shown(target.suffix) if target.suffix else "a name without an ending", " or ".join(extensions),
                  f"for example {target.stem}{extensions[0]}")
        )  # fmt: skip
    try:
        if target.is_dir():
            raise InputError(Issue(where, "this is a folder, not a file", "a folder", "the name of a file",
                                   f"for example {target / ('quote' + (extensions[0] if extensions else ''))}"))  # fmt: skip
        folder = target.parent
        if not folder.exists():
            raise InputError(Issue(where, "there is no such folder", shown(str(folder)), "a folder that exists",
                                   "make the folder first, or check the spelling"))  # fmt: skip
        if not folder.is_dir():
            raise InputError(Issue(where, "part of the path is a file, not a folder", shown(str(folder)),
                                   "a folder that exists", "choose another folder"))  # fmt: skip
        there = target.exists()
    except (OSError, ValueError) as error:
        raise InputError(_refused(target, error)) from error
    if there and not force:
        raise InputError(
            Issue(where, "there is a file of this name already", "", "a new name, or leave to replace it",
                  f"add --force to replace it, or take another name, such as {free_name(target).name}")
        )  # fmt: skip
    lock = open_elsewhere(target) if there else None
    if lock is not None:
        raise InputError(_open_issue(target, f"the lock file {lock.name} stands beside it"))
    return target


def save_bytes(path: str | Path, data: bytes, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Write a file whole or not at all; InputError when it cannot be done, the old file left as it was."""
    target = check_target(path, force=force, extensions=extensions)
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.", suffix=".part", dir=target.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(_mode(target))
        if not force and target.exists():  # it may have come while we wrote
            raise FileExistsError(17, "exists", str(target))
        os.replace(temporary, target)
    except OSError as error:
        raise InputError(_refused(target, error)) from error
    finally:
        if temporary is not None:
            with suppress(OSError):
                temporary.unlink()
    return target


def save_text(path: str | Path, text: str, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Write a text file in UTF-8 with plain line ends, like ``save_bytes``."""
    return save_bytes(path, text.encode("utf-8"), force=force, extensions=extensions)


def open_elsewhere(target: Path) -> Path | None:
    """The lock file of a program that has the file open now, or None."""
    for name in (f".~lock.{target.name}#", f"~${target.name}"):
        lock = target.parent / name
        if lock.exists():
            return lock
    return None


def free_name(target: Path) -> Path:
    """The first name of the form ``quote-2.xlsx`` that is not taken."""
    number = 2
    while True:
        candidate = target.with_name(f"{target.stem}-{number}{target.suffix}")
        if not candidate.exists():
            return candidate
        number += 1


def _mode(target: Path) -> int:
    """The rights of the file that is replaced, or those that a new file would get."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _open_issue(target: Path, found: str) -> Issue:
    return Issue(
        Origin(str(target)), "the file seems to be open in another program", found, "a file that nobody has open",
        f"close it there and try again, or save under another name, such as {free_name(target).name}",
    )  # fmt: skip


def _refused(target: Path, error: Exception) -> Issue:
    where = Origin(str(target))
    if isinstance(error, FileExistsError):
        return Issue(where, "there is a file of this name already", "", "a new name",
                     f"take another name, such as {free_name(target).name}")  # fmt: skip
    if isinstance(error, PermissionError):
        if target.exists() and os.access(target.parent, os.W_OK):
            return _open_issue(target, "the system refuses to replace it")
        return Issue(where, "this folder may not be written to", "", "a folder of your own",
                     "choose another folder, or ask who looks after this one")  # fmt: skip
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return Issue(where, "the file could not be written", reason.lower(), "a place with room that may be written to",
                 "choose another folder or a shorter name")  # fmt: skip
