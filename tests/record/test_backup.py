"""Copies of a record: made at any time, looked at, put back; those made by themselves."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from runner.errors import MatsideError
from runner.record import backup, schema
from runner.record.erase import forget, forget_in_copies, knows
from runner.record.record import Record
from runner.session import verb as cmd

from .hut import Sitting, later


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "record.db"


def sat(path: Path, *names: str) -> None:
    with Record.open(path) as record:
        for day, name in enumerate(names):
            sitting = Sitting(record, trainee=name, at=later(day), text=f"title = 'for {name}'\n")
            sitting.do(cmd.Note(f"{name} was here")).whole(12)


def test_a_backup_in_mid_session_has_all_that_was_acknowledged(path: Path, tmp_path: Path) -> None:
    target = tmp_path / "backup.db"
    with Record.open(path) as record:
        sitting = Sitting(record).begin().set(12)
        made = backup.back_up(path, target)
        sitting.set(10)
        assert len(made.sessions) == 1
        with Record.open_readonly(target) as copy:
            events = copy.events(sitting.info.id)
            assert events == tuple(sitting.events[: len(events)])
            assert [r.reps for r in copy.session_rows(sitting.info.id)] == [12]
            assert copy.integrity() == "ok"
    assert target.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.glob(".*.part*")) == []


def test_a_backup_waits_for_no_writer_and_has_none_of_what_is_not_committed(
    path: Path, tmp_path: Path
) -> None:
    sat(path, "Runa")
    with closing(sqlite3.connect(path, isolation_level=None)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("INSERT INTO trainee (name) VALUES ('Half')")
        made = backup.back_up(path, tmp_path / "backup.db")
        writer.execute("ROLLBACK")
    assert made.trainees == ("Runa",)


def test_what_is_put_back_is_what_was_saved(path: Path, tmp_path: Path) -> None:
    target = tmp_path / "backup.db"
    sat(path, "Runa")
    with Record.open_readonly(path) as record:
        before = list(record.rows())
    backup.back_up(path, target)
    with Record.open(path) as record:
        Sitting(record, trainee="Odd", at=later(9)).whole(3)
    lost = backup.look(target).lacks(backup.look(path))
    assert [session.trainee for session in lost] == ["Odd"]
    kept = backup.restore(target, path)
    with Record.open_readonly(path) as record:
        assert list(record.rows()) == before
        assert record.integrity() == "ok"
    assert kept is not None
    assert backup.look(kept).trainees == ("Odd", "Runa")
    assert kept.stat().st_mode & 0o777 == 0o600
    assert kept.parent.stat().st_mode & 0o777 == 0o700


def test_into_a_new_place(path: Path, tmp_path: Path) -> None:
    sat(path, "Runa")
    elsewhere = tmp_path / "other" / "record.db"
    assert backup.restore(path, elsewhere) is None
    assert backup.look(elsewhere).trainees == ("Runa",)


def test_what_is_no_backup_changes_nothing(path: Path, tmp_path: Path) -> None:
    sat(path, "Runa")
    before = path.read_bytes()
    cases: dict[str, int] = {"missing": 66, "text": 65, "other": 65, "newer": 65, "damaged": 65}
    (tmp_path / "text").write_text("no database at all, but long enough to be one " * 30)
    with closing(sqlite3.connect(tmp_path / "other")) as other:
        other.execute("CREATE TABLE guest (name)")
    backup.back_up(path, tmp_path / "newer")
    with closing(sqlite3.connect(tmp_path / "newer")) as newer:
        newer.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    backup.back_up(path, tmp_path / "damaged")
    content = bytearray((tmp_path / "damaged").read_bytes())
    content[4096 * 3 : 4096 * 6] = bytes(4096 * 3)
    (tmp_path / "damaged").write_bytes(content)
    for name, code in cases.items():
        with pytest.raises(MatsideError) as fault:
            backup.restore(tmp_path / name, path)
        assert fault.value.code == code, name
        assert path.read_bytes() == before
    assert backup.copies(path) == []


def older(path: Path, form: int) -> None:
    """A record as an earlier version of the program left it."""
    path.parent.mkdir(exist_ok=True)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        schema.migrate(connection, schema.MIGRATIONS[:form])
        connection.execute("INSERT INTO trainee (name) VALUES ('Runa')")


def test_a_copy_before_each_migration(path: Path) -> None:
    older(path, 1)
    Record.open(path).close()
    (copy,) = backup.copies(path)
    assert copy.name == "record-0001-form-1.db"
    assert backup.look(copy).form == 1
    assert backup.look(path).form == schema.VERSION
    Record.open(path).close()
    assert backup.copies(path) == [copy]


def test_no_copy_no_migration(path: Path) -> None:
    older(path, 1)
    (path.parent / "copies").write_text("in the way")
    before = path.read_bytes()
    with pytest.raises(MatsideError):
        Record.open(path)
    assert path.read_bytes() == before


def test_only_the_newest_copies_are_kept(path: Path, tmp_path: Path) -> None:
    sat(path, "Runa")
    backup.back_up(path, tmp_path / "backup.db")
    for _ in range(backup.KEPT + 2):
        backup.restore(tmp_path / "backup.db", path)
    names = [copy.name for copy in backup.copies(path)]
    assert names == [f"record-{n:04}-before-restore.db" for n in (3, 4, 5)]


def test_somebody_forgotten_is_gone_to_the_byte(path: Path, tmp_path: Path) -> None:
    sat(path, "Ragnhild", "Odd", "Ragnhild")
    backup.back_up(path, tmp_path / "backup.db")
    backup.restore(tmp_path / "backup.db", path)  # a copy of the program's own
    (copy,) = backup.copies(path)
    assert b"Ragnhild" in path.read_bytes()
    assert b"Ragnhild" in copy.read_bytes()
    with Record.open_readonly(path) as record:
        others = list(record.rows(trainee="Odd"))
        events = [record.events(i.session_id) for i in others[:1]]
    assert forget(path, "Ragnhild") == 2
    assert forget_in_copies(path, "Ragnhild") == [copy]
    for file in (path, copy):  # written anew: no page is left over
        with closing(sqlite3.connect(file)) as connection:
            assert connection.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert sorted(f.name for f in path.parent.rglob("*") if f.is_file()) == [copy.name, path.name]
    for file in path.parent.rglob("*"):
        if file.is_file():
            assert b"Ragnhild" not in file.read_bytes(), file
    with Record.open_readonly(path) as record:
        assert record.trainees() == ["Odd"]
        assert list(record.rows()) == others
        assert [record.events(i.session_id) for i in others[:1]] == events
        assert record.integrity() == "ok"
    assert not knows(path, "Ragnhild")
    assert knows(path, "Odd")


def test_what_another_program_left_in_a_log_is_gone_too(path: Path) -> None:
    sat(path, "Ragnhild")
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("UPDATE session SET note = 'Ragnhild again'")
        with pytest.raises(MatsideError):
            forget(path, "Ragnhild")  # another program has the record open in its own way
    forget(path, "Ragnhild")
    assert [file.name for file in path.parent.iterdir()] == ["record.db"]
    assert b"Ragnhild" not in path.read_bytes()


def test_nobody_of_that_name(path: Path) -> None:
    assert forget(path, "Nobody") == 0
    sat(path, "Odd")
    assert forget(path, "Nobody") == 0
    assert backup.look(path).trainees == ("Odd",)


def test_a_session_whose_record_was_put_back_goes_on_unkept(path: Path, tmp_path: Path) -> None:
    sat(path, "Odd")
    backup.back_up(path, tmp_path / "backup.db")
    with Record.open(path) as record:
        sitting = Sitting(record, trainee="Runa", at=later(3)).begin()
        backup.restore(tmp_path / "backup.db", path)
        with pytest.raises(MatsideError, match="open in another matside"):
            sitting.set(12)
