"""The folder of job files that the page works on: what lies in it, and nothing outside it.

A file is named by its stem as it was found in the folder; no text from the browser is ever joined to a path.
What is saved names the version that it was made from: a file that was changed meanwhile is not written over.
"""

from __future__ import annotations

import difflib
import hashlib
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from msgspec import Struct

from estimator.core.errors import refusal, refused_word, shown
from estimator.core.save import save_bytes
from estimator.input.job.load import file_bytes

if TYPE_CHECKING:
    from estimator.model import Shop

LARGEST = 256 * 1024
"""Bytes of the largest file that is taken for a job."""
NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
PHOTOS = "photos"
LOOKED_AT = ".customer-looks-on"
"""An empty file that stands in the folder while a customer looks on."""
SIGNS = {"jpg": (b"\xff\xd8\xff",), "png": (b"\x89PNG\r\n\x1a\n",), "webp": (b"RIFF",)}
"""Kinds of photo that are kept, and how their bytes begin."""
TYPES = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}
KIND_WORDS = {"commission": "for a customer", "resale": "to be sold", "own": "our own"}
"""The kinds of job as they are said."""
_JOB = re.compile(rb"^\s*\[\s*job\s*\]", re.M)
_BATCH = re.compile(rb"^\s*\[\s*batch\s*\]", re.M)


def job_url(name: str) -> str:
    """The address of a job's page."""
    return f"/job/{quote(name, safe='')}"


class JobFile(Struct, frozen=True):
    """A job file as it stands: its name (no folder, no ending), where it lies, its bytes and their version."""

    name: str
    path: Path
    data: bytes

    @property
    def version(self) -> str:
        """A word for exactly these bytes."""
        return hashlib.sha256(self.data).hexdigest()[:20]

    @property
    def text(self) -> str:
        """The text; what is no UTF-8 is read as far as can be (reading it as a job complains of it)."""
        return self.data.decode("utf-8-sig", errors="replace")


@dataclass(frozen=True, slots=True)
class ChangedError(Exception):
    """A file was changed since it was shown: what it says now, and the lines in which the two differ."""

    now: JobFile
    lines: tuple[str, ...]


class JobFolder(Struct, frozen=True):
    """All job files of one folder."""

    root: Path

    @property
    def customer_looks(self) -> bool:
        """Whether a customer was looking on when it was last said: a new start does not show them the till."""
        return (self.root / LOOKED_AT).exists()

    def say_customer_looks(self, on: bool) -> None:
        """Keep it for the next start; a folder that cannot be written to keeps nothing, and hides all the same."""
        with suppress(OSError):
            if on:
                (self.root / LOOKED_AT).touch()
            else:
                (self.root / LOOKED_AT).unlink(missing_ok=True)

    def paths(self) -> dict[str, Path]:
        """The job files by name, in order of name; a link that leads out of the folder is left out."""
        return {path.stem: path for path in sorted(self.root.glob("*.toml")) if self._is_job(path)}

    def batches(self) -> dict[str, Path]:
        """The batch files by name, in order of name."""
        return {path.stem: path for path in sorted(self.root.glob("*.toml")) if self._is_job(path, _BATCH)}

    def _is_job(self, path: Path, head: re.Pattern[bytes] = _JOB) -> bool:
        if path.name.startswith(".") or path.resolve().parent != self.root.resolve() or not path.is_file():
            return False
        return path.stat().st_size <= LARGEST and head.search(path.read_bytes()) is not None

    def read(self, name: str) -> JobFile:
        """A job file by its name; InputError if there is none of this name in the folder."""
        path = next((path for path in self.root.iterdir() if path.name == f"{name}.toml"), None)
        if path is None or not self._is_job(path):
            raise refused_word(
                str(self.root),
                "there is no job file of this name here",
                name,
                self.paths(),
                "a job of the list",
                "go back to the list",
            )
        return JobFile(name, path, file_bytes(path, path.name))

    def save(self, name: str, text: str, version: str) -> JobFile:
        """Write a job file anew; ``ChangedError`` if it is not of the version that the change was made from."""
        now = self.read(name)
        if now.version != version:
            raise ChangedError(now, difference(now.text, text))
        save_bytes(now.path, text.encode(), force=True, extensions=(".toml",))
        return self.read(name)

    def new(self, name: str, text: str) -> JobFile:
        """Write a job file that was not there; InputError where the name is taken or no name of a job."""
        if not NAME.fullmatch(name) or len(name) > 60:
            raise refusal(
                "name",
                "cannot be the name of a job",
                shown(name),
                "lower-case words joined by dashes, such as red-guitar-set-up",
                "type another name",
            )
        save_bytes(self.root / f"{name}.toml", text.encode(), extensions=(".toml",))
        return self.read(name)

    def keep_photo(self, job: str, data: bytes) -> Path:
        """Keep a photo of a job under a name of our own; InputError if it is none of the kinds that are kept."""
        kind = next((k for k, signs in SIGNS.items() if any(data.startswith(sign) for sign in signs)), None)
        if kind is None or (kind == "webp" and data[8:12] != b"WEBP"):
            raise refusal(
                "photo",
                "is no photo that can be kept",
                accepted="a JPEG, PNG or WebP file",
                next_step="save it as JPEG and send it again",
            )
        folder = self.root / PHOTOS
        folder.mkdir(exist_ok=True)
        if folder.resolve().parent != self.root.resolve():
            raise refusal(
                PHOTOS,
                "the folder of photos leads out of the folder of jobs",
                str(folder),
                "a folder of its own",
                "take the link away",
            )
        stem = self.read(job).name
        known = {path.name for path in folder.iterdir()}
        number = next(n for n in range(1, 10_000) if not any(f"{stem}-{n}.{k}" in known for k in SIGNS))
        return save_bytes(folder / f"{stem}-{number}.{kind}", data)

    def photos(self, job: str) -> dict[str, Path]:
        """The photos of a job by file name, in the order in which they came."""
        folder = self.root / PHOTOS
        if not folder.is_dir() or folder.resolve().parent != self.root.resolve():
            return {}
        mine = re.compile(re.escape(job) + rf"-(\d+)\.({'|'.join(SIGNS)})")
        own = (path for path in folder.iterdir() if path.resolve().parent == folder.resolve())
        found = [(int(match[1]), path) for path in own if (match := mine.fullmatch(path.name))]
        return {path.name: path for _, path in sorted(found)}


def sent_job(shop: Shop, data: object, sent_as: str, wanted: str) -> tuple[str, str]:
    """Name and text of a job file that was sent; InputError for what is none, or not of this shop's tables.

    The name is what was typed, else that of the file; only its last part is looked at, and it must be one of ours.
    """
    from estimator.input.job.load import job_from
    from estimator.tables.toml.text import parse_toml

    stem, dot, ending = re.split(r"[/\\]", sent_as)[-1].rpartition(".")
    if not isinstance(data, bytes) or not data:
        raise refusal("file", "no file was chosen", next_step="choose a job file, then send it")
    if not dot or ending.lower() != "toml" or _JOB.search(data) is None:
        raise refusal(
            "file",
            "is no job file",
            shown(sent_as),
            "a file that ends in .toml and has a [job] section",
            "look at which file was chosen",
        )
    toml = parse_toml(data, "the file")
    job_from(toml, shop)
    return wanted.strip() or stem, data.decode("utf-8-sig")


def difference(now: str, wanted: str) -> tuple[str, ...]:
    """The lines in which two texts differ: ``-`` as it stands now, ``+`` as it would be."""
    return tuple(_told(difflib.unified_diff(now.splitlines(), wanted.splitlines(), n=0, lineterm="")))


def _told(lines: Iterable[str]) -> Iterable[str]:
    for line in lines:
        if not line.startswith(("---", "+++", "@@")):
            yield f"{line[:1]} {line[1:]}"
