"""A shop taken from the copy of last time is the shop that the tables give; whatever is wrong with the copy."""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from msgspec import Struct
from msgspec.structs import asdict

import estimator
from estimator.core.errors import InputError
from estimator.tables import kept
from estimator.tables.folders import default_folder, read_default, read_folder
from estimator.tables.kept import MAGIC, SLOTS, load_kept
from estimator.tables.load import load_shop


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder for copies."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "copies"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "copies"))
    return tmp_path / "copies" / "bench-estimator"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A shop of one's own: what an hour costs, and one price."""
    folder = tmp_path / "own"
    folder.mkdir()
    folder.joinpath("shop.toml").write_text("surety = 85\n", encoding="utf-8")
    return folder


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How often the tables were read."""
    counted: list[int] = []
    real = kept._read

    def read(folders: Any) -> Any:
        counted.append(1)
        return real(folders)

    monkeypatch.setattr(kept, "_read", read)
    return counted


def inside(value: object) -> Iterator[object]:
    """All that a value holds, in its order, with the type of each."""
    yield type(value)
    if isinstance(value, Struct):
        for name, held in asdict(value).items():
            yield name
            yield from inside(held)
    elif isinstance(value, Mapping):
        for key, held in value.items():
            yield from inside(key)
            yield from inside(held)
    elif isinstance(value, tuple | list):
        for held in value:
            yield from inside(held)
    elif isinstance(value, set | frozenset):
        yield sorted(repr(held) for held in value)
    else:
        yield repr(value)


def the_copy(place: Path) -> Path:
    (only,) = place.iterdir()
    return only


def test_the_copy_is_what_the_tables_give(place: Path, own: Path, reads: list[int]) -> None:
    for folder in (None, own):
        shop = load_shop(folder)
        assert load_kept(folder) == shop
        taken = load_kept(folder)
        assert taken == shop
        told = list(inside(shop))
        assert len(told) > 100_000
        assert list(inside(taken)) == told
    assert len(reads) == 2


def test_a_byte_is_enough(own: Path, reads: list[int]) -> None:
    """Of the same length and with the times of the file set back."""
    file = own / "shop.toml"
    before = file.stat()
    assert load_kept(own).terms.surety == load_shop(own).terms.surety
    first = load_kept(own).terms
    file.write_text("surety = 75\n", encoding="utf-8")
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert file.stat().st_size == before.st_size
    assert load_kept(own).terms != first
    assert load_kept(own) == load_shop(own)
    assert len(reads) == 2


def test_a_file_more_or_less(own: Path, reads: list[int]) -> None:
    load_kept(own)
    shutil.copy(str(default_folder() / "woods.csv"), own / "woods.csv")
    assert load_kept(own) == load_shop(own)
    (own / "woods.csv").unlink()
    assert load_kept(own) == load_shop(own)
    assert len(reads) == 3


def test_each_file_and_module_counts(tmp_path: Path, own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folders = [read_default(), read_folder(own)]
    keys = {kept._key(folders)}
    for folder in folders:
        for name, data in folder.files.items():
            folder.files[name] = data + b"\n"
            keys.add(kept._key(folders))
            folder.files[name] = data
    home = tmp_path / "program"
    for room in kept.ROOMS:
        shutil.copytree(Path(estimator.__path__[0]) / room, home / room)
    monkeypatch.setattr(estimator, "__path__", [str(home)])
    assert kept._key(folders) in keys  # wherever the program lies
    modules = sorted(home.rglob("*.py"))
    for module in modules:
        text = module.read_bytes()
        module.write_bytes(text + b"\n")
        keys.add(kept._key(folders))
        module.write_bytes(text)
    assert len(keys) == 1 + sum(len(folder.files) for folder in folders) + len(modules) > 100
    monkeypatch.setattr("sys.version", "3.99")
    assert kept._key(folders) not in keys


def test_a_shop_that_is_refused_is_refused_each_time(own: Path, place: Path) -> None:
    own.joinpath("shop.toml").write_text("surety = 850\n", encoding="utf-8")
    told = []
    for read in (load_shop, load_kept, load_kept):
        with pytest.raises(InputError) as error:
            read(own)
        told.append(error.value.issues)
    assert told[0] == told[1] == told[2]
    assert not place.exists()


def damaged(data: bytes) -> Iterator[bytes]:
    for length in (0, 1, len(MAGIC), len(MAGIC) + 31, len(MAGIC) + 64, len(data) // 2, len(data) - 1):
        yield data[:length]
    for at in (0, len(MAGIC), len(MAGIC) + 40, len(MAGIC) + 64, len(data) // 3, len(data) - 1):
        yield data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
    yield data + b"\0"
    yield b"\0" * len(data)
    yield data.replace(MAGIC, MAGIC.replace(b"1", b"2"))


def test_a_damaged_copy_is_passed_over_and_written_anew(place: Path, reads: list[int]) -> None:
    shop = load_kept()
    copy = the_copy(place)
    whole = copy.read_bytes()
    cases = list(damaged(whole))
    for case in cases:
        copy.write_bytes(case)
        assert load_kept() == shop
        assert the_copy(place).read_bytes()[: len(MAGIC)] == MAGIC
        assert len(copy.read_bytes()) == len(whole)
    assert len(reads) == 1 + len(cases)
    assert load_kept() == shop
    assert len(reads) == 1 + len(cases)


class Hostile:
    """What would run something when it is read."""

    def __init__(self, ran: Path) -> None:
        self.ran = ran

    def __reduce__(self) -> Any:
        return os.mkdir, (str(self.ran),)


def test_a_copy_runs_nothing(place: Path, tmp_path: Path, reads: list[int]) -> None:
    """Though it is whole by its own sum, and of the right key."""
    shop = load_kept()
    copy = the_copy(place)
    head = copy.read_bytes()[: len(MAGIC) + 32]
    ran = tmp_path / "ran"
    for body in (
        pickle.dumps(Hostile(ran)),
        b"cestimator.core.save\nos\n.",
        b"cestimator.core.save\ncheck_target\n.",
        b"cestimator.cli.main\nrun\n.",
        pickle.dumps(7),  # no shop
    ):
        copy.write_bytes(head + hashlib.sha256(body).digest() + body)
        before = len(reads)
        assert load_kept() == shop
        assert len(reads) == before + 1
        assert not ran.exists()


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="files have no owner here")
def test_a_copy_of_somebody_else_is_passed_over(monkeypatch: pytest.MonkeyPatch, reads: list[int]) -> None:
    shop = load_kept()
    real = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: real + 1)
    assert load_kept() == shop
    assert len(reads) == 2


def test_where_nothing_can_be_kept_the_tables_are_read(
    place: Path, monkeypatch: pytest.MonkeyPatch, reads: list[int]
) -> None:
    shop = load_shop()
    place.parent.mkdir()
    place.write_text("a file where the folder belongs", encoding="utf-8")
    assert load_kept() == shop
    assert place.read_text(encoding="utf-8") == "a file where the folder belongs"
    place.unlink()
    place.mkdir()
    load_kept()
    copy = the_copy(place)
    copy.unlink()
    copy.mkdir()
    assert load_kept() == shop
    assert list(place.iterdir()) == [copy]  # nothing half-written beside it
    monkeypatch.setattr(kept, "kept_folder", lambda: None)
    assert load_kept() == shop
    monkeypatch.undo()


def test_a_full_disk_is_no_fault(place: Path, monkeypatch: pytest.MonkeyPatch, reads: list[int]) -> None:
    def full(path: Path, data: bytes) -> int:
        with path.open("wb") as file:
            file.write(data[:100])
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", full)
        assert load_kept() == load_shop()
        assert list(place.iterdir()) == []
    load_kept()
    load_kept()
    assert len(reads) == 2


def test_the_copies_of_very_many_shops_stay_few(place: Path, tmp_path: Path) -> None:
    folders = [tmp_path / f"own-{number}" for number in range(3 * SLOTS)]
    for number, folder in enumerate(folders):
        folder.mkdir()
        folder.joinpath("shop.toml").write_text(f"surety = {60 + number // 2}\n", encoding="utf-8")
        assert load_kept(folder).terms == load_kept(folder).terms
    assert 1 < len(list(place.iterdir())) <= SLOTS


def test_the_folder_of_copies(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, "not/from/the/root")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    for system, below in (("linux", ".cache"), ("darwin", "Library/Caches"), ("win32", "AppData/Local")):
        monkeypatch.setattr("sys.platform", system)
        assert kept.kept_folder() == tmp_path / below / "bench-estimator"

    def homeless() -> Path:
        raise RuntimeError("no home")

    monkeypatch.setattr(Path, "home", homeless)
    assert kept.kept_folder() is None
