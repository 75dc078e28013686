"""Writing files: whole or not at all, and never over something that was not given up.

A file is written beside its target under a temporary name, flushed to the disk and renamed. An
existing file is replaced only when told. Every refusal is in words a bench worker can act on.
Commands that write into the same folders at once take turns while they rename, so that what stands
there in the end is the work of one of them.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from msgspec import Struct

from estimator.core.errors import InputError, Issue, Origin, refusal, shown

PART = ".part"
LONGEST_WRITE = 60.0  # seconds


def check_target(path: str | Path, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Say early whether a file can be written there; InputError tells what is in the way."""
    target = Path(path)
    where = Origin(str(target))
    _check_name(path, target, extensions)
    there = _check_place(target, extensions)
    if there and not force:
        raise refusal(
            where,
            "there is a file of this name already",
            "",
            "a new name, or leave to replace it",
            f"add --force to replace it, or take another name, such as {free_name(target).name}",
        )
    lock = open_elsewhere(target) if there else None
    if lock is not None:
        raise InputError(_open_issue(target, f"the lock file {lock.name} stands beside it"))
    return target


def _check_name(path: str | Path, target: Path, extensions: Sequence[str]) -> None:
    where = Origin(str(target))
    if not target.name or str(path).endswith(("/", os.sep)):
        raise refusal(
            where,
            "a folder was given where a file belongs",
            shown(str(path)),
            "the name of a file",
            "add a file name to it",
        )
    if extensions and target.suffix.lower() not in extensions:
        raise refusal(
            where,
            "the name ends in something that does not tell what the file is",
            shown(target.suffix) if target.suffix else "a name without an ending",
            " or ".join(extensions),
            f"for example {target.stem}{extensions[0]}",
        )


def _check_place(target: Path, extensions: Sequence[str]) -> bool:
    """Whether a file of this name stands there already; refuses a place that no file can be written to."""
    where = Origin(str(target))
    try:
        if target.is_dir():
            raise refusal(
                where,
                "this is a folder, not a file",
                "a folder",
                "the name of a file",
                f"for example {target / ('quote' + (extensions[0] if extensions else ''))}",
            )
        _check_folder(target.parent, where)
        there = target.exists() and not _takes_bytes(target)
        if not there and target.is_symlink() and not target.resolve().parent.is_dir():
            raise refusal(
                where,
                "this is a link that leads nowhere",
                shown(str(target.readlink())),
                "a link to a place that exists",
                "remove the link, or take another name",
            )
    except RuntimeError as error:  # what resolve raises where links lead round
        raise refusal(
            where,
            "this is a link that leads back to itself",
            shown(str(target)),
            "a link to a place that exists",
            "remove the link, or take another name",
        ) from error
    except (OSError, ValueError) as error:
        raise InputError(_refused(target, error)) from error
    return there


def _check_folder(folder: Path, where: Origin) -> None:
    if not folder.exists():
        raise refusal(
            where,
            "there is no such folder",
            shown(str(folder)),
            "a folder that exists",
            "make the folder first, or check the spelling",
        )
    if not folder.is_dir():
        raise refusal(
            where,
            "part of the path is a file, not a folder",
            shown(str(folder)),
            "a folder that exists",
            "choose another folder",
        )


class Output(Struct, frozen=True):
    """One file to write: where, what, whether it may replace a file, and the endings it may have."""

    path: str | Path
    data: bytes
    force: bool = False
    extensions: Sequence[str] = ()


def text_output(
    path: str | Path, text: str, *, force: bool = False, extensions: Sequence[str] = ()
) -> Output:
    """A text file in UTF-8 with plain line ends."""
    return Output(path, text.encode("utf-8"), force, extensions)


def check_all(outputs: Sequence[Output]) -> list[Path]:
    """Say early whether all files of one command can be written, each of its own; InputError else."""
    targets = [check_target(one.path, force=one.force, extensions=one.extensions) for one in outputs]
    _all_different(targets)
    return targets


def save_all(outputs: Sequence[Output]) -> list[Path]:
    """Write all files of one command, or none of them.

    Everything is written under temporary names first, so that a full disk is met before the first file
    is replaced; if a replacement fails after that, the ones before it are put back. InputError tells why.
    A link is written through: the file it leads to is replaced, the link stays. A pipe or a device gets
    the bytes as they are, after all files stand.
    """
    targets = check_all(outputs)
    straight = [_takes_bytes(target) for target in targets]
    files = [number for number, plain in enumerate(straight) if not plain]
    staged: list[_Staged] = []
    at = targets[0] if targets else Path()
    try:
        for (
            number
        ) in files:  # what was left over is cleared before anything is written: names may begin alike
            at = targets[number]
            staged.append(_Staged(at))
        for number, one in zip(files, staged, strict=True):
            at = targets[number]
            one.write(outputs[number].data)
        with _in_turn(one.target.parent for one in staged):
            for number, one in zip(files, staged, strict=True):
                at = targets[number]
                one.keep_old(can_go_back=len(outputs) > 1)
            try:
                for number, one in zip(files, staged, strict=True):
                    at = targets[number]
                    one.put_in_place(outputs[number].force)
            except BaseException:  # before the next in turn sees half of it
                _put_back(staged)
                raise
        for number, plain in enumerate(straight):
            if plain:
                at = targets[number]
                with at.open("wb") as stream:
                    stream.write(outputs[number].data)
    except OSError as error:
        _put_back(staged)
        raise InputError(_refused(at, error)) from error
    except BaseException:
        _put_back(staged)
        raise
    finally:
        for one in staged:
            one.clear()
    return targets


def save_bytes(path: str | Path, data: bytes, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Write a file whole or not at all; InputError when it cannot be done, the old file left as it was."""
    return save_all([Output(path, data, force, extensions)])[0]


def save_text(path: str | Path, text: str, *, force: bool = False, extensions: Sequence[str] = ()) -> Path:
    """Write a text file in UTF-8 with plain line ends, like ``save_bytes``."""
    return save_all([text_output(path, text, force=force, extensions=extensions)])[0]


@contextmanager
def new_folder(folder: str | Path, option: str, *, parents: bool = False) -> Iterator[Path]:
    """A folder to write into, made if it is not there; what was made is taken away again if writing fails.

    InputError if it cannot be made; ``parents``: the folders above it are made too.
    """
    target = Path(folder)
    made: list[Path] = []
    try:
        try:
            above = target.parents if parents else ()
            for one in [*reversed(above), target]:
                if one.is_dir():
                    continue
                try:
                    one.mkdir()
                    made.append(one)
                except FileExistsError:
                    if not one.is_dir():  # else another command has made it meanwhile
                        raise
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            step = "take another name, or a place that may be written to"
            if isinstance(error, FileNotFoundError):
                step = "make the folder above it first, or take another name"
            raise refusal(
                option,
                f"no folder can be made of {shown(str(target))}",
                reason.lower(),
                "the name of a folder",
                step,
            ) from error
        yield target
    except BaseException:
        for one in reversed(made):
            with suppress(OSError):  # another command has put something there meanwhile: let it be
                one.rmdir()
        raise


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
        Origin(str(target)),
        "the file seems to be open in another program",
        found,
        "a file that nobody has open",
        f"close it there and try again, or save under another name, such as {free_name(target).name}",
    )


def _refused(target: Path, error: Exception) -> Issue:
    where = Origin(str(target))
    if isinstance(error, FileExistsError):
        return Issue(
            where,
            "there is a file of this name already",
            "",
            "a new name",
            f"take another name, such as {free_name(target).name}",
        )
    if isinstance(error, PermissionError):
        if target.exists() and os.access(target.parent, os.W_OK):
            return _open_issue(target, "the system refuses to replace it")
        return Issue(
            where,
            "this folder may not be written to",
            "",
            "a folder of your own",
            "choose another folder, or ask who looks after this one",
        )
    if isinstance(error, BrokenPipeError):
        return Issue(
            where,
            "the program at the other end of the pipe has stopped reading",
            "",
            "a program that reads to the end",
            "start it again, or write to a file",
        )
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    number = error.errno if isinstance(error, OSError) else None
    return Issue(
        where,
        "the file could not be written",
        reason.lower(),
        "a place with room that may be written to",
        _STEPS.get(number or 0, "choose another folder or a shorter name"),
    )


_ROOM = "make room there, or choose a folder on another disk; no file was changed"
_STEPS = {
    errno.ENOSPC: _ROOM,
    errno.EFBIG: _ROOM,
    errno.EDQUOT: _ROOM,
    errno.EROFS: "choose a folder on a disk that may be written to",
    errno.EIO: "see whether the disk is in order, or choose a folder on another; no file was changed",
}


class _Staged:
    """A file on its way to its place: written beside it, then renamed; it can be put back until cleared."""

    def __init__(self, target: Path) -> None:
        self.target = target.resolve()  # through links: the link stays, what it leads to is replaced
        self.mode = _mode(self.target)
        self.there = False
        self.part: Path | None = None
        self.old: Path | None = None
        self.placed: tuple[int, int] | None = None  # what we put there, by disk and number on it
        _clear_leftovers(self.target)

    def write(self, data: bytes) -> None:
        """The bytes under a temporary name, on the disk."""
        self.part = self._beside()
        with self.part.open("r+b") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        self.part.chmod(self.mode)

    def keep_old(self, *, can_go_back: bool) -> None:
        """Note whether there is a file to replace; it is kept until ``clear`` if asked."""
        self.there = self.target.exists()
        if self.there and can_go_back:
            # a second name of the old file, to go back to; a copy where the disk knows no second names
            self.old = self._beside()
            self.old.unlink()
            try:
                os.link(self.target, self.old)
            except OSError:
                shutil.copy2(self.target, self.old)

    def put_in_place(self, force: bool) -> None:
        """Rename it over the target."""
        assert self.part is not None
        if not force and self.target.exists():  # it may have come while we wrote
            raise FileExistsError(errno.EEXIST, "exists", str(self.target))
        here = self.part.lstat()
        os.replace(self.part, self.target)
        self.part, self.placed = None, (here.st_dev, here.st_ino)

    def put_back(self) -> None:
        """The target as it was before, unless another program has put a file of its own there since."""
        if self.placed is None:
            return
        with suppress(OSError):
            now = self.target.lstat()
            if (now.st_dev, now.st_ino) == self.placed:
                if self.old is not None:
                    os.replace(self.old, self.target)
                    self.old = None
                elif not self.there:
                    self.target.unlink()
        self.placed = None

    def clear(self) -> None:
        """Nothing is left beside the target."""
        for path in (self.part, self.old):
            if path is not None:
                with suppress(OSError):
                    path.unlink()
        self.part = self.old = None

    def _beside(self) -> Path:
        handle, name = tempfile.mkstemp(prefix=_prefix(self.target), suffix=PART, dir=self.target.parent)
        os.close(handle)
        return Path(name)


def _put_back(staged: Sequence[_Staged]) -> None:
    for one in reversed(staged):
        one.put_back()


@contextmanager
def _in_turn(folders: Iterable[Path]) -> Iterator[None]:
    """Hold the folders against other commands that save there; in one order, so that no two wait for each other.

    Where the system or the disk knows no such lock, work goes on without: each file is whole all the same.
    """
    held: list[int] = []
    try:
        with suppress(ImportError, OSError):
            import fcntl

            for folder in sorted(set(folders)):
                held.append(os.open(folder, os.O_RDONLY))
                fcntl.flock(held[-1], fcntl.LOCK_EX)
        yield
    finally:
        for handle in held:
            os.close(handle)


def _prefix(target: Path) -> str:
    return f".{target.name[:40]}."


def _clear_leftovers(target: Path) -> None:
    """Remove what a writer of this file left behind when it was killed.

    All bytes are at hand before the first is written, so no temporary file that lives is a minute old.
    """
    with suppress(OSError):
        for path in target.parent.iterdir():
            if path.name.startswith(_prefix(target)) and path.name.endswith(PART):
                with suppress(OSError):
                    if time.time() - path.lstat().st_ctime > LONGEST_WRITE:
                        path.unlink()


def _takes_bytes(target: Path) -> bool:
    """Whether bytes go straight in: a pipe, a device, or a stream of this process such as /dev/stdout."""
    if target.is_absolute() and target.parts[1:2] in (("dev",), ("proc",)):
        folder = target.parent.resolve()  # /dev/fd leads to /proc; in /dev/shm stand files like any others
        if folder in (Path("/dev"), Path("/dev/fd")) or folder.parts[1:2] == ("proc",):
            return target.exists()
    try:
        mode = target.stat().st_mode
    except OSError:
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


def _all_different(targets: Sequence[Path]) -> None:
    seen: dict[Path, Path] = {}
    for target in targets:
        real = target.resolve()
        if real in seen and not _takes_bytes(target):
            raise refusal(
                str(target),
                "two files of one command would be the same file",
                shown(str(seen[real])),
                "a name for each",
                "give one of them another name",
            )
        seen[real] = target
