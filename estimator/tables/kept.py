"""The shop as it was read last time, so that a command need not read five thousand rows anew.

What is kept is a copy that can be made again, where programs keep such (``kept_folder``). It is taken only if
nothing differs that it came of: the bytes of every file that was read, the bytes of every module that reads them,
the version of Python; anything else, a copy that is damaged, or one by somebody else is passed over and written
anew. Nobody is told where it cannot be written: then the tables are read, as they are the first time.
"""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import Any

from msgspec import Struct

import estimator
from estimator.model import Shop
from estimator.tables.folders import Folder, complete, default_as_it_is, read_folder

MAGIC = b"bench-estimator shop 1\n"
SLOTS = 16
"""Copies that are kept at most, of half a megabyte each: shops share them by their names."""
ROOMS = ("core", "model", "tables")
"""Where the code stands that makes a shop of files."""
OWN = tuple(f"estimator.{room}." for room in ROOMS)
PLAIN = {("decimal", "Decimal"), ("fractions", "Fraction"), ("datetime", "date"), ("builtins", "frozenset")}
"""What a copy may hold besides records: nothing that could do anything when it is read."""


def load_kept(folder: str | os.PathLike[str] | None = None) -> Shop:
    """The shop that ``load_shop`` reads, taken from the copy of last time where that is the same.

    InputError as there.
    """
    folders = [default_as_it_is()]
    if folder is not None:
        folders.append(read_folder(folder))
    key = _key(folders)
    place = kept_folder()
    if key is None or place is None:
        return _read(folders)
    slot = int.from_bytes(hashlib.sha256("\n".join(f.label for f in folders).encode()).digest()[:2]) % SLOTS
    copy = place / f"shop-{slot:02d}"
    shop = _taken(copy, key)
    if shop is None:
        shop = _read(folders)
        _keep(copy, key, shop)
    return shop


def kept_folder() -> Path | None:
    """Where a program of this user keeps what can be made again; None where that cannot be told."""
    windows, mac = sys.platform == "win32", sys.platform == "darwin"
    named = os.environ.get("LOCALAPPDATA" if windows else "XDG_CACHE_HOME", "")
    if Path(named).is_absolute():
        return Path(named, "bench-estimator")
    with suppress(RuntimeError):
        home = Path.home()
        if home.is_absolute():
            below = "AppData/Local" if windows else "Library/Caches" if mac else ".cache"
            return home / below / "bench-estimator"
    return None


def _read(folders: Sequence[Folder]) -> Shop:
    from estimator.tables.load import assemble  # and all that checks tables

    return assemble([complete(folders[0]), *folders[1:]])


def _key(folders: Sequence[Folder]) -> bytes | None:
    """What tells one state of files and program from any other; None where the program does not lie in files."""
    parts = hashlib.sha256(f"{sys.version} {sys.implementation.cache_tag}".encode())
    home = Path(estimator.__path__[0])
    modules = [path for room in ROOMS for path in sorted((home / room).rglob("*.py"))]
    if not modules:
        return None
    for name, data in (*_sources(modules, home), *_tables(folders)):
        parts.update(f"\n{name} {len(data)}\n".encode())
        parts.update(data)
    return parts.digest()


def _sources(modules: Sequence[Path], home: Path) -> Iterator[tuple[str, bytes]]:
    for path in modules:
        yield path.relative_to(home).as_posix(), path.read_bytes()


def _tables(folders: Sequence[Folder]) -> Iterator[tuple[str, bytes]]:
    for number, folder in enumerate(folders):
        for name, data in ((folder.label, b""), *folder.files.items()):
            yield f"{number} {name}", data


def _taken(copy: Path, key: bytes) -> Shop | None:
    """The shop of a copy; None unless it is whole, of this key, and written by this user."""
    try:
        with copy.open("rb") as file:
            if hasattr(os, "getuid") and os.fstat(file.fileno()).st_uid != os.getuid():
                return None
            data = file.read()
    except OSError:
        return None
    head = MAGIC + key
    body = data[len(head) + hashlib.sha256().digest_size :]
    if data[: -len(body) or None] != head + hashlib.sha256(body).digest():
        return None
    try:
        shop = _Reader(io.BytesIO(body)).load()
    except Exception:  # whatever stands there, the tables can be read
        return None
    return shop if isinstance(shop, Shop) else None


def _keep(copy: Path, key: bytes, shop: Shop) -> None:
    """Write a copy, whole or not at all: who reads it holds it against its own sum."""
    body = io.BytesIO()
    _Writer(body, 5).dump(shop)
    data = MAGIC + key + hashlib.sha256(body.getvalue()).digest() + body.getvalue()
    part = copy.with_suffix(".part")
    with suppress(OSError):
        copy.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            part.write_bytes(data)
            part.replace(copy)
        except OSError:
            part.unlink(missing_ok=True)


class _Writer(pickle.Pickler):
    """Writes a mapping that nobody changes; it has no name of its own to be written by."""

    def reducer_override(self, value: Any) -> Any:
        if isinstance(value, MappingProxyType):
            return _as_it_is, (dict(value),)
        return NotImplemented


class _Reader(pickle.Unpickler):
    """Makes records and plain values; whatever else a file names is refused."""

    def find_class(self, module: str, name: str) -> Any:
        if module == __name__ and name == _as_it_is.__name__:
            return _as_it_is
        plain = (module, name) in PLAIN
        if plain or module.startswith(OWN):
            kind = getattr(import_module(module), name)
            if plain or (isinstance(kind, type) and issubclass(kind, Struct)):
                return kind
        raise pickle.UnpicklingError(f"{module}.{name}")


def _as_it_is(values: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    """A mapping that nobody changes; by this name in copies, the type itself having none there."""
    return MappingProxyType(values)
