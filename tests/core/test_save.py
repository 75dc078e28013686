"""Files are written whole or not at all, and never over something that was not given up."""

from __future__ import annotations

import os
import threading
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from estimator.core import save as saving
from estimator.core.errors import InputError
from estimator.core.save import check_target, free_name, save_bytes, save_text

XLSX = (".xlsx",)


def left(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_new_file_is_written_and_nothing_else_is_left(tmp_path: Path) -> None:
    save_bytes(tmp_path / "q.xlsx", b"one", extensions=XLSX)
    assert (tmp_path / "q.xlsx").read_bytes() == b"one"
    assert left(tmp_path) == ["q.xlsx"]
    save_text(tmp_path / "t.csv", "a,ü\n")
    assert (tmp_path / "t.csv").read_bytes() == "a,ü\n".encode()


def test_an_existing_file_is_replaced_only_when_told(tmp_path: Path) -> None:
    target = tmp_path / "q.xlsx"
    save_bytes(target, b"one")
    target.chmod(0o640)
    with pytest.raises(InputError, match=r"already.*--force.*q-2\.xlsx"):
        save_bytes(target, b"two")
    assert target.read_bytes() == b"one"
    save_bytes(target, b"two", force=True)
    assert target.read_bytes() == b"two"
    assert target.stat().st_mode & 0o777 == 0o640
    assert left(tmp_path) == ["q.xlsx"]


MEMORY = Path("/dev/shm")


@pytest.mark.skipif(not os.access(MEMORY, os.W_OK), reason="no files are kept in memory here")
def test_a_file_in_memory_is_a_file_like_any_other() -> None:
    """It lies below /dev, where else streams and devices are."""
    with TemporaryDirectory(dir=MEMORY) as name:
        target, link = Path(name, "q.xlsx"), Path(name, "link.xlsx")
        save_bytes(target, b"one")
        link.symlink_to(target)
        for path in (target, link):
            with pytest.raises(InputError, match=r"already.*--force"):
                save_bytes(path, b"two")
        assert target.read_bytes() == b"one"


def test_a_stream_of_this_process_gets_the_bytes_also_where_it_leads_to_a_file(tmp_path: Path) -> None:
    with (tmp_path / "told").open("wb") as stream:
        save_bytes(f"/dev/fd/{stream.fileno()}", b"one")
    assert (tmp_path / "told").read_bytes() == b"one"


@pytest.mark.parametrize(
    "error", [PermissionError(13, "Permission denied"), OSError(28, "No space left on device")]
)
def test_a_failing_rename_leaves_the_old_file_and_no_temporary(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError
) -> None:
    target = tmp_path / "q.xlsx"
    target.write_bytes(b"old")

    def fails(*_: object) -> None:
        raise error

    monkeypatch.setattr(saving.os, "replace", fails)
    with pytest.raises(InputError) as caught:
        save_bytes(target, b"new", force=True)
    said = str(caught.value)
    assert ("open in another program" in said and "q-2.xlsx" in said) or "no space left" in said
    assert target.read_bytes() == b"old"
    assert left(tmp_path) == ["q.xlsx"]


@pytest.mark.parametrize("lock", [".~lock.q.xlsx#", "~$q.xlsx"])
def test_a_file_open_in_another_program_is_left_alone(tmp_path: Path, lock: str) -> None:
    (tmp_path / "q.xlsx").write_bytes(b"old")
    (tmp_path / lock).write_text("")
    with pytest.raises(InputError, match=r"open in another program.*q-2\.xlsx"):
        save_bytes(tmp_path / "q.xlsx", b"new", force=True)
    assert (tmp_path / "q.xlsx").read_bytes() == b"old"


def test_wrong_places_are_named_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / "folder.xlsx").mkdir()
    (tmp_path / "file").write_text("")
    for place, words in (
        (tmp_path / "none" / "q.xlsx", "no such folder"),
        (tmp_path / "folder.xlsx", "a folder, not a file"),
        (str(tmp_path) + "/", "a folder was given"),
        (tmp_path / "file" / "q.xlsx", "part of the path is a file"),
        (tmp_path / "q.ods", "ends in something"),
        (tmp_path / "q", "ends in something"),
        (tmp_path / ("x" * 300 + ".xlsx"), "could not be written"),
    ):
        with pytest.raises(InputError, match=words) as caught:
            save_bytes(place, b"x", extensions=XLSX)
        assert caught.value.issues[0].next_step
    assert left(tmp_path) == ["file", "folder.xlsx"]


def test_a_folder_that_may_not_be_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object, **__: object) -> tuple[int, str]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(saving.tempfile, "mkstemp", refuses)
    with pytest.raises(InputError, match="may not be written to"):
        save_bytes(tmp_path / "q.xlsx", b"x")


def test_the_temporary_stands_in_the_same_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []
    replace = os.replace

    def look(one: Path, other: Path) -> None:
        seen.append((Path(one).parent, Path(one).read_bytes()))
        replace(one, other)

    monkeypatch.setattr(saving.os, "replace", look)
    save_bytes(tmp_path / "q.xlsx", b"whole")
    assert seen == [(tmp_path, b"whole")]


def test_free_names_count_up(tmp_path: Path) -> None:
    for name in ("q.xlsx", "q-2.xlsx"):
        (tmp_path / name).write_text("")
    assert free_name(tmp_path / "q.xlsx").name == "q-3.xlsx"
    assert check_target(tmp_path / "new.xlsx", extensions=XLSX) == tmp_path / "new.xlsx"


def test_a_link_stays_a_link_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    real, link = tmp_path / "deep" / "real.csv", tmp_path / "link.csv"
    real.parent.mkdir()
    real.write_text("old")
    link.symlink_to(real)
    save_text(link, "new", force=True)
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert left(real.parent) == ["real.csv"]
    nowhere = tmp_path / "nowhere.csv"
    nowhere.symlink_to(tmp_path / "gone" / "x.csv")
    with pytest.raises(InputError, match="link that leads nowhere"):
        save_text(nowhere, "new", force=True)
    assert nowhere.is_symlink()


def test_a_pipe_gets_the_bytes_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    save_text(pipe, "a,b\n")
    reader.join(10)
    assert got == [b"a,b\n"]
    assert pipe.is_fifo()


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("which", [0, 1, 2])
def test_several_files_are_written_all_or_none_wherever_it_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, which: int
) -> None:
    old, new, third = tmp_path / "old.csv", tmp_path / "new.csv", tmp_path / "third.csv"
    old.write_bytes(b"old")
    third.write_bytes(b"third")
    real, calls = getattr(os, step), []

    def fails(*given: object) -> object:
        calls.append(given)
        if len(calls) == which + 1:
            raise OSError(28, "No space left on device")
        return real(*given)

    monkeypatch.setattr(saving.os, step, fails)
    outputs = [saving.Output(path, b"NEW", True) for path in (old, new, third)]
    with pytest.raises(InputError, match="no space left"):
        saving.save_all(outputs)
    assert (old.read_bytes(), new.exists(), third.read_bytes()) == (b"old", False, b"third")
    assert left(tmp_path) == ["old.csv", "third.csv"]
    monkeypatch.undo()
    saving.save_all(outputs)
    assert {path.read_bytes() for path in (old, new, third)} == {b"NEW"}
    assert left(tmp_path) == ["new.csv", "old.csv", "third.csv"]


def test_one_file_named_twice_is_refused_also_through_a_link(tmp_path: Path) -> None:
    one, link = tmp_path / "one.csv", tmp_path / "link.csv"
    one.write_text("old")
    link.symlink_to(one)
    with pytest.raises(InputError, match="same file"):
        saving.save_all([saving.Output(one, b"1", True), saving.Output(link, b"2", True)])
    assert one.read_text() == "old"


def test_what_a_killed_writer_left_is_cleared_and_a_living_one_is_let_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dead, alien = tmp_path / ".q.csv.abc.part", tmp_path / ".other.csv.abc.part"
    dead.write_bytes(b"half")
    alien.write_bytes(b"half")
    save_text(tmp_path / "q.csv", "1")
    assert left(tmp_path) == [".other.csv.abc.part", ".q.csv.abc.part", "q.csv"]
    now = saving.time.time()
    monkeypatch.setattr(saving.time, "time", lambda: now + 2 * saving.LONGEST_WRITE)
    save_text(tmp_path / "q.csv", "2", force=True)
    assert left(tmp_path) == [".other.csv.abc.part", "q.csv"]


def test_two_writers_of_the_same_files_leave_those_of_one_of_them(tmp_path: Path) -> None:
    """While both replace all files over and over, whoever has the folder to himself finds one writer's files."""
    names = ("one.csv", "two.csv", "three.csv")
    children = []
    for letter in (b"A", b"B"):
        child = os.fork()
        if child == 0:
            status = 1
            try:
                for _ in range(40):
                    saving.save_all([saving.Output(tmp_path / name, letter * 50, True) for name in names])
                status = 0
            finally:
                os._exit(status)
        children.append(child)
    seen = set()
    for _ in range(200):
        with saving._in_turn([tmp_path]):
            if all((tmp_path / name).exists() for name in names):
                seen.add(tuple((tmp_path / name).read_bytes()[:1] for name in names))
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0]
    seen.add(tuple((tmp_path / name).read_bytes()[:1] for name in names))
    assert seen <= {(b"A",) * 3, (b"B",) * 3}
    assert left(tmp_path) == sorted(names)


def test_what_another_has_written_meanwhile_is_not_put_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pipe fails after the files stand; a file of another command, put there since, stays."""
    mine, other, new, pipe = (tmp_path / name for name in ("mine.csv", "other.csv", "new.csv", "pipe"))
    mine.write_bytes(b"old")
    other.write_bytes(b"old")
    os.mkfifo(pipe)
    opened = Path.open

    def meanwhile(self: Path, *given: str) -> object:
        if self == pipe:
            save_bytes(other, b"theirs", force=True)
            raise BrokenPipeError(32, "Broken pipe")
        return opened(self, *given)

    monkeypatch.setattr(Path, "open", meanwhile)
    with pytest.raises(InputError, match="stopped reading"):
        saving.save_all([saving.Output(path, b"NEW", True) for path in (mine, other, new, pipe)])
    monkeypatch.undo()
    assert (mine.read_bytes(), other.read_bytes(), new.exists()) == (b"old", b"theirs", False)
    assert left(tmp_path) == ["mine.csv", "other.csv", "pipe"]


def test_a_pipe_whose_reader_leaves_early_undoes_the_files(tmp_path: Path) -> None:
    pipe, beside = tmp_path / "pipe.csv", tmp_path / "beside.csv"
    beside.write_bytes(b"old")
    os.mkfifo(pipe)

    def read_a_little() -> None:
        with pipe.open("rb", buffering=0) as stream:
            stream.read(1)

    reader = threading.Thread(target=read_a_little)
    reader.start()
    with pytest.raises(InputError, match="pipe has stopped reading") as caught:
        saving.save_all([saving.Output(pipe, b"x" * 5_000_000), saving.Output(beside, b"new", True)])
    reader.join(10)
    assert caught.value.issues[0].next_step
    assert beside.read_bytes() == b"old"
    assert left(tmp_path) == ["beside.csv", "pipe.csv"]


def test_a_folder_made_for_files_goes_with_them_and_no_other_does(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.mkdir()
    with (
        pytest.raises(InputError, match="full"),
        saving.new_folder(there / "a" / "b", "--folder", parents=True),
    ):
        raise InputError(saving.Issue(saving.Origin("x"), "full"))
    assert left(tmp_path) == ["there"]
    assert left(there) == []
    above = r"--csv: no folder can be made.*make the folder above it first"
    with pytest.raises(InputError, match=above), saving.new_folder(there / "a" / "b", "--csv"):
        raise AssertionError("never reached")
    with pytest.raises(InputError, match="full"), saving.new_folder(there, "--csv"):
        raise InputError(saving.Issue(saving.Origin("x"), "full"))
    with saving.new_folder(there / "kept", "--csv") as made:
        save_text(made / "t.csv", "1")
    assert left(there) == ["kept"]
