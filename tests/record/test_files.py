"""The file itself: whose it is, what is refused, and what is done when it cannot be written."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from runner.errors import Exit, MatsideError
from runner.record import files, schema
from runner.record.record import Record, Unwritable
from runner.session import flow, verb as cmd

from . import disks
from .hut import TITLE, Sitting, later, morning

posix = pytest.mark.skipif(os.name != "posix", reason="permissions are POSIX's")


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 256 KiB of its own."""
    try:
        with disks.small_disk(tmp_path / "disk") as folder:
            yield folder
    except disks.NoDisk as reason:
        pytest.skip(str(reason))


@posix
@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077, 0o277])
def test_files_are_the_owners_alone_whatever_the_umask(path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        with Record.open(path.parent / "deeper" / "record.db") as record:
            assert (mode(path.parent), mode(path.parent / "deeper")) == (0o700, 0o700)
            assert record.path is not None
            assert mode(record.path) == 0o600
            record._connection.execute("BEGIN IMMEDIATE")
            record._connection.execute("INSERT INTO trainee (name) VALUES ('Runa')")
            assert mode(record.path.with_name("record.db-journal")) == 0o600
            record._connection.execute("ROLLBACK")
    finally:
        os.umask(before)


@posix
def test_the_file_is_the_owners_before_a_byte_is_in_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[int, int]] = []
    connect = files.connect

    def look(path: Path) -> sqlite3.Connection:
        seen.append((mode(path), path.stat().st_size))
        return connect(path)

    monkeypatch.setattr(files, "connect", look)
    before = os.umask(0)
    try:
        Record.open(path).close()
    finally:
        os.umask(before)
    assert seen == [(0o600, 0)]


@posix
def test_what_is_there_already_keeps_its_permissions(path: Path) -> None:
    path.parent.mkdir(mode=0o755)
    Record.open(path).close()
    path.chmod(0o640)
    Record.open(path).close()
    assert (mode(path.parent), mode(path)) == (0o755, 0o640)


def test_commits_are_durable_and_a_plain_copy_is_whole(path: Path, kept: Record) -> None:
    def pragma(name: str) -> object:
        return kept._connection.execute(f"PRAGMA {name}").fetchone()[0]

    names = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "application_id")
    assert [pragma(n) for n in names] == ["delete", 3, 1, 2000, schema.APPLICATION_ID]
    sitting = Sitting(kept).begin().set(10)
    copy = path.with_name("copy.db")
    copy.write_bytes(path.read_bytes())
    with Record.open_readonly(copy) as other:
        assert other.events(sitting.info.id) == tuple(sitting.events)
        assert other.integrity() == "ok"


@pytest.mark.parametrize("opening", [Record.open, Record.open_readonly])
def test_what_is_no_record_is_refused_and_left_alone(path: Path, opening: object) -> None:
    assert callable(opening)
    path.parent.mkdir()
    with closing(sqlite3.connect(path.with_name("other.db"))) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("CREATE TABLE recipe (name)")
        other.execute("INSERT INTO recipe VALUES ('stew')")
        other.commit()
    contents = {
        "a text": b"reps, sets and such\n" * 100,
        "another database": path.with_name("other.db").read_bytes(),
    }
    for content in contents.values():
        path.write_bytes(content)
        with pytest.raises(MatsideError) as caught:
            opening(path)
        assert caught.value.code == Exit.DATA
        assert not isinstance(caught.value, Unwritable)
        assert str(path) in caught.value.lines[0]
        assert "--data" in caught.value.lines[-1]
        assert path.read_bytes() == content
    path.unlink()
    path.mkdir()
    with pytest.raises(MatsideError, match="folder") as caught:
        opening(path)
    assert caught.value.code == Exit.DATA


@pytest.mark.parametrize("opening", [Record.open, Record.open_readonly])
def test_a_newer_record_is_refused_and_left_alone(path: Path, opening: object) -> None:
    assert callable(opening)
    Record.open(path).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    content = path.read_bytes()
    with pytest.raises(MatsideError, match="newer") as caught:
        opening(path)
    assert caught.value.code == Exit.DATA
    assert path.read_bytes() == content


def test_a_damaged_record_is_told_in_one_clear_line(path: Path) -> None:
    with Record.open(path) as record:
        Sitting(record).whole()
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(MatsideError, match="damaged") as caught, Record.open(path) as record:
        record.baseline("Runa", morning())
    assert caught.value.code == Exit.DATA


def test_a_damaged_event_is_told_and_no_fault_of_the_programs(kept: Record) -> None:
    sitting = Sitting(kept).begin()
    for damage in ("data = '{'", "name = 'nonsense'", "data = '{\"no\": 1}'", "data = x'ff'"):
        kept._connection.execute(f"UPDATE event SET {damage} WHERE seq = 2")
        with pytest.raises(MatsideError, match="damaged") as caught:
            kept.unfinished("Runa", sitting.info.plan)
        assert caught.value.code == Exit.DATA


def test_integrity_tells_of_rows_that_belong_to_nothing(kept: Record) -> None:
    Sitting(kept).begin()
    assert kept.integrity() == "ok"
    kept._connection.execute("PRAGMA foreign_keys = OFF")
    kept._connection.execute("DELETE FROM session")
    assert "set_row: row None refers to a missing session" in kept.integrity()


def test_a_missing_record_is_made_only_where_that_is_wanted(path: Path) -> None:
    with pytest.raises(MatsideError) as caught:
        Record.open(path, create=False)
    assert caught.value.code == Exit.NO_INPUT
    with Record.open_readonly(path) as record:
        assert (list(record.rows()), record.trainees(), record.path) == ([], [], None)
        assert record.next_session("Runa", TITLE, ["A"]) == "A"
    assert not path.parent.exists()


def test_an_empty_file_becomes_a_record_and_can_be_read_as_one(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with Record.open_readonly(path) as record:
        assert record.trainees() == []
    assert path.stat().st_size == 0
    with Record.open(path, create=False) as record:
        Sitting(record)
        assert record.trainees() == ["Runa"]


def test_reading_changes_nothing(path: Path) -> None:
    with Record.open(path) as record:
        rows = Sitting(record).whole().rows
    content = path.read_bytes()
    with Record.open_readonly(path) as record:
        assert list(record.rows()) == rows
        with pytest.raises(Unwritable):
            record.acknowledge("Runa", TITLE, ["Mind the stove."], later())
    assert path.read_bytes() == content


def test_opening_to_write_changes_nothing_yet(path: Path) -> None:
    Record.open(path).close()
    before = path.read_bytes()
    Record.open(path).close()
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_a_copy_in_memory_knows_the_history_and_leaves_the_file(path: Path) -> None:
    with Record.open(path) as record:
        Sitting(record).whole()
    content = path.read_bytes()
    with Record.in_memory(copy_of=path) as record:
        sitting = Sitting(record, at=later()).whole(11)
        assert [r.beaten for r in sitting.rows][:3] == ["yes"] * 3
    assert path.read_bytes() == content
    with Record.in_memory(copy_of=path.with_name("none.db")) as record:
        assert record.trainees() == []
    path.write_bytes(b"nonsense" * 1000)
    with Record.in_memory(copy_of=path) as record:
        assert record.trainees() == []


def test_a_file_name_with_marks_of_its_own_is_taken_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "50% #1? of it" / "record.db"
    Record.open(path).close()
    assert path.stat().st_size > 0
    with Record.open_readonly(path) as record:
        assert record.path == path


def test_a_folder_that_cannot_be_made_is_no_end(path: Path) -> None:
    path.parent.write_text("a file in its place")
    with pytest.raises(Unwritable) as caught:
        Record.open(path)
    assert caught.value.code == Exit.IO


def test_a_read_only_disk_is_told_at_once(small_disk: Path) -> None:
    path = small_disk / "record.db"
    with Record.open(path) as record:
        rows = Sitting(record).whole().rows
    disks.remount_readonly(small_disk)
    with pytest.raises(Unwritable) as caught:
        Record.open(path)
    assert caught.value.code in (Exit.IO, Exit.NO_PERMISSION)
    with pytest.raises(Unwritable):
        Record.open(small_disk / "data" / "record.db")
    with Record.open_readonly(path) as record:
        assert list(record.rows()) == rows
    with Record.in_memory(copy_of=path) as record:
        assert Sitting(record, at=later()).begin().set(11).rows[0].beaten == "yes"


@posix
@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_of_somebody_elses_is_told_at_once(path: Path) -> None:
    Record.open(path).close()
    path.parent.chmod(0o500)
    with pytest.raises(Unwritable) as caught:
        Record.open(path)
    assert caught.value.code == Exit.NO_PERMISSION
    path.parent.chmod(0o700)


@pytest.mark.parametrize("leave", [0, 512, 2048])
def test_a_full_disk_is_told_at_once(small_disk: Path, leave: int) -> None:
    path = small_disk / "record.db"
    Record.open(path).close()
    disks.fill(small_disk, leave=leave)
    with pytest.raises(Unwritable, match="full") as caught:
        Record.open(path)
    assert caught.value.code == Exit.IO
    with pytest.raises(Unwritable):
        Record.open(small_disk / "trial.db")


def test_a_disk_that_fills_in_mid_session_loses_nothing_kept(small_disk: Path) -> None:
    path = small_disk / "record.db"
    with Record.open(path) as record:
        sitting = Sitting(record).begin().set(10)
        before = list(sitting.events)
        disks.fill(small_disk)
        result = flow.handle(sitting.state, cmd.Proceed(), sitting.now + 20)
        with pytest.raises(Unwritable, match="full"):
            sitting.keep(result)
        # What was kept is there, nothing is half kept, and once there is room it goes on.
        assert record.events(sitting.info.id) == tuple(before)
        assert [r.status for r in sitting.rows] == ["done"]
        disks.free(small_disk)
        sitting.keep(result)
        assert record.events(sitting.info.id) == tuple(sitting.events)
        assert [r.status for r in sitting.rows] == ["done", "done"]
        assert record.integrity() == "ok"
