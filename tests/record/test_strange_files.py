"""Outputs, backups and records that are not what a command takes them for."""

from __future__ import annotations

import io
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from runner.cli.main import main
from runner.errors import Exit, MatsideError
from runner.output import new_file
from runner.record import backup, schema
from runner.record.errors import Unwritable
from runner.record.record import Record

from .hut import Sitting, later


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    for name in ("record.db", "trial.db"):
        with Record.open(folder / name) as record:
            for day, trainee in enumerate(["Runa", "Odd"]):
                Sitting(record, trainee=trainee, at=later(day)).whole(12)
    return folder


@pytest.fixture
def data(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    folder = tmp_path / "data"
    shutil.copytree(made, folder)
    (folder / "copies").mkdir()
    shutil.copy(folder / "record.db", folder / "copies" / "record-0001-form-2.db")
    return folder


def sessions(path: Path) -> int:
    with Record.open_readonly(path) as record:
        return len(record.sessions())


def matside(data: Path, *arguments: object) -> int:
    return main([*map(str, arguments), "--data", str(data)])


def hard_link(of: Path, at: Path) -> None:
    at.hardlink_to(of)


def soft_link(of: Path, at: Path) -> None:
    at.symlink_to(of)


WRITERS: dict[str, tuple[object, ...]] = {
    "export": ("export", "--force", "-o"),
    "rehearse": ("rehearse", "demo", "--force", "--svg"),
    "pairs": ("pairs", "demo", "--force", "--write"),
    "backup of trials": ("backup", "--trial", "--force"),
    "backup": ("backup", "--force"),
    "handover": ("handover", "--for", "Runa", "--force", "-o"),
    "compose": ("compose", "shelf", "--sessions", "2", "--minutes", "40", "--force", "-o"),
}


@pytest.mark.parametrize("name", ["record.db", "trial.db", "copies/record-0001-form-2.db"])
@pytest.mark.parametrize("writer", WRITERS)
def test_nothing_writes_over_a_record_or_its_copies(
    data: Path, writer: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    target = data / name
    before = target.read_bytes()
    assert matside(data, *WRITERS[writer], target) == Exit.CANT_CREATE
    assert target.read_bytes() == before
    assert "name another file" in capsys.readouterr().err


@pytest.mark.parametrize(
    "name",
    [
        "record.db", "trial.db", "TRIAL.db", "record.db-wal", "record.db-shm", "trial.db-journal",
        "running.lock", "copies/record-0002-form-2.db", "copies/mine.csv",
    ],
)  # fmt: skip
@pytest.mark.parametrize("writer", WRITERS)
def test_nor_under_a_name_that_the_program_keeps_for_itself(
    data: Path, writer: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    target = data / name
    if writer != "backup of trials":  # it needs the trial record
        (data / "trial.db").unlink()
    for there in (False, True):
        if there and name != "trial.db":  # which commands read first
            target.touch()
        before = target.exists()
        assert matside(data, *WRITERS[writer], target) == Exit.CANT_CREATE
        assert "name another file" in capsys.readouterr().err
        assert before or not target.exists()


def test_nor_beside_a_record_in_another_folder(data: Path, tmp_path: Path) -> None:
    here = tmp_path / "here"
    for name in ("record.db-wal", "trial.db-journal", "running.lock"):
        assert matside(here, "rehearse", "demo", "--svg", data / name) == Exit.CANT_CREATE, name
    # A backup may have any name in a folder that is not in use.
    assert matside(data, "backup", "--trial", tmp_path / "trial.db") == Exit.OK
    assert matside(data, "backup", tmp_path / "record.db") == Exit.OK


def test_pictures_go_through_no_link(data: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "trend-press.svg").symlink_to(data / "record.db")
    arguments = ("review", "--for", "Runa", "--exercise", "press", "--force", "--svg")
    assert matside(data, *arguments, tmp_path / "out") == Exit.CANT_CREATE
    assert sessions(data / "record.db") == 2
    assert matside(data, *arguments, data / "copies") == Exit.CANT_CREATE


@pytest.mark.parametrize("link", [hard_link, soft_link])
@pytest.mark.parametrize("writer", WRITERS)
def test_nor_by_another_name(
    data: Path, tmp_path: Path, writer: str, link: Callable[[Path, Path], None]
) -> None:
    target = tmp_path / "picture.svg"
    link(data / "record.db", target)
    assert matside(data, *WRITERS[writer], target) == Exit.CANT_CREATE
    assert sessions(data / "record.db") == 2
    assert target.samefile(data / "record.db")


def test_a_backup_may_replace_an_older_backup(data: Path, tmp_path: Path) -> None:
    assert matside(data, "backup", tmp_path / "b.db") == Exit.OK
    assert matside(data, "backup", tmp_path / "b.db") == Exit.CANT_CREATE
    assert matside(data, "backup", "--force", tmp_path / "b.db") == Exit.OK


def test_what_lies_beside_an_output_is_not_written_to(tmp_path: Path) -> None:
    target, precious = tmp_path / "out.csv", tmp_path / "precious"
    precious.write_text("not ours")
    (tmp_path / ".out.csv.part").symlink_to(precious)
    old = os.umask(0o000)
    try:
        with new_file(target, force=False, data=None) as file:
            file.write("a,b\r\n")
            parts = [p for p in tmp_path.iterdir() if p.name.endswith(".part")]
            assert len(parts) == 2
            assert all(p.is_symlink() or p.stat().st_mode & 0o777 == 0o600 for p in parts)
    finally:
        os.umask(old)
    assert precious.read_text() == "not ours"
    assert target.read_bytes() == b"a,b\r\n"
    assert target.stat().st_mode & 0o777 == 0o600
    assert (tmp_path / ".out.csv.part").is_symlink()


def test_nor_beside_a_backup(data: Path, tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("not ours")
    (tmp_path / ".b.db.part").symlink_to(precious)
    assert matside(data, "backup", tmp_path / "b.db") == Exit.OK
    assert precious.read_text() == "not ours"
    assert sessions(tmp_path / "b.db") == 2


def test_an_output_that_was_cut_off_leaves_nothing(tmp_path: Path) -> None:
    def cut_off() -> None:
        with new_file(tmp_path / "out.csv", force=False, data=None) as file:
            file.write("half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        cut_off()
    assert list(tmp_path.iterdir()) == []


def test_the_oldest_copy_can_be_restored_when_the_copies_are_full(data: Path) -> None:
    oldest = data / "copies" / "record-0001-form-2.db"
    for number in (2, 3):
        shutil.copy(oldest, data / "copies" / f"record-{number:04}-before-restore.db")
    (data / "record.db").unlink()
    with Record.open(data / "record.db") as record:
        Sitting(record, trainee="Signe").whole(9)
    assert matside(data, "restore", "--yes", oldest) == Exit.OK
    assert sessions(data / "record.db") == 2
    assert oldest.exists()
    assert sessions(backup.copies(data / "record.db")[-1]) == 1


# What a stranger's file may hold

HOSTILE = {
    "a table less": "DROP TABLE acknowledged",
    "a column less": "ALTER TABLE session DROP COLUMN note",
    "a column more": "ALTER TABLE held ADD COLUMN x AS (abs(-9)) VIRTUAL",
    "a hostile name": 'CREATE TABLE "a""; DROP TABLE session; --" (x)',
    "a view": "CREATE VIEW plan_of AS SELECT * FROM plan",
    "a trigger": """CREATE TRIGGER stay AFTER DELETE ON trainee
        BEGIN INSERT INTO trainee (name) VALUES (old.name); END""",
    "a check": """PRAGMA writable_schema = ON; UPDATE sqlite_master SET sql = replace(sql,
        'CHECK (pain = ''yes'')', 'CHECK (zeroblob(999999999) > pain)') WHERE name = 'set_row'""",
    "an index that works something out": "CREATE INDEX far ON session (abs(length(plan)))",
    "an index in part": "CREATE INDEX far ON session (plan) WHERE length(plan) > 1",
    "an index that forbids": "CREATE UNIQUE INDEX one ON session (session, id)",
}
COMMANDS: dict[str, tuple[object, ...]] = {
    "export": ("export",),
    "review": ("review", "--for", "Runa", "--plain"),
    "next": ("next", "demo", "--for", "Runa"),
    "run": ("run", "demo", "--plain", "--mute", "--yes"),
    "forget": ("forget", "Runa", "-o", "gone", "--yes", "--again", "Runa"),
    "backup": ("backup", "saved.db"),
    "import": ("import", "rows.csv", "--yes"),
}


@pytest.mark.parametrize("what", HOSTILE)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_file_that_is_not_built_as_ours_is_refused(
    data: Path,
    what: str,
    command: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert matside(data, "export", "-o", "rows.csv") == Exit.OK
    for name in ("record.db", "trial.db"):
        with closing(sqlite3.connect(data / name)) as connection:
            connection.executescript(HOSTILE[what])
            connection.commit()
    before = (data / "record.db").read_bytes()
    assert matside(data, *COMMANDS[command]) == Exit.DATA
    err = capsys.readouterr().err
    assert "Traceback" not in err
    assert "damaged" in err
    assert (data / "record.db").read_bytes() == before


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
@pytest.mark.parametrize("command", ["export", "review", "next", "run"])
def test_dates_at_the_ends_of_the_calendar_are_refused(
    data: Path, day: str, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("record.db", "trial.db"):
        with closing(sqlite3.connect(data / name)) as connection:
            connection.execute(
                """UPDATE session SET local_date = ?1, session_start = ?1 || 'T06:30:00+01:00',
                started_utc = ?1 || 'T05:30:00.000Z', iso_week = strftime('%Y-W01', ?1)""",
                (day,),
            )
            connection.commit()
    assert matside(data, *COMMANDS[command]) == Exit.DATA
    assert "Traceback" not in capsys.readouterr().err


def test_a_date_on_the_command_line_too(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert matside(data, "log", "demo", "--on", "0001-01-01", "--for", "Runa") == Exit.USAGE
    assert "write it as 2026-11-25" in capsys.readouterr().err


@pytest.mark.parametrize("form", range(1, schema.VERSION + 1))
def test_a_record_of_every_form_is_built_as_ours(tmp_path: Path, form: int) -> None:
    path = tmp_path / "old.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        schema.migrate(connection, schema.MIGRATIONS[:form])
        assert schema.check(connection, path) == form
        schema.migrate(connection)
        assert schema.check(connection, path) == schema.VERSION


def test_an_index_of_plain_columns_is_left_alone(data: Path) -> None:
    with closing(sqlite3.connect(data / "record.db")) as connection:
        connection.execute("CREATE INDEX mine ON session (plan, local_date)")
    assert matside(data, "export") == Exit.OK


# Messages name the right file and the right remedy


def test_a_folder_that_went_away_in_mid_session_is_not_called_read_only(tmp_path: Path) -> None:
    path = tmp_path / "data" / "record.db"
    with Record.open(path) as record:
        sitting = Sitting(record)
        shutil.rmtree(path.parent)
        with pytest.raises(Unwritable) as caught:
            sitting.begin()
    assert "moved or deleted" in str(caught.value)
    assert "read-only" not in str(caught.value)


def test_a_full_disk_at_the_backup_is_no_fault_of_the_record(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = backup.files.connect

    def small(path: Path) -> sqlite3.Connection:
        connection = real(path)
        if path.suffix == ".part":
            connection.execute("PRAGMA max_page_count = 2")  # a disk with room for two pages
        return connection

    monkeypatch.setattr(backup.files, "connect", small)
    target = tmp_path / "b.db"
    with pytest.raises(MatsideError) as caught:
        backup.copy_to(sqlite3.connect(data / "record.db"), target)
    assert str(target) in caught.value.lines[0]
    assert "the copy cannot be written: the disk is full" in caught.value.lines[0]
    assert "--data" not in str(caught.value)
    assert "The record is unchanged" in str(caught.value)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "it is a folder"),
        (b"", "it is not a database"),  # it was restored: everything was gone
        (b"a diary, and as long as a database's first page\n" * 99, "it is not a database"),
        (b"date,exercise,reps\n2026-11-23,row,12\n", "it is not a database"),
        (b"\x89PNG\r\n\x1a\n" + bytes(2000), "it is not a database"),
        (b"PK\x03\x04" + bytes(2000), "it is not a database"),
    ],
    ids=["folder", "empty", "text", "CSV", "PNG", "zip"],
)
def test_what_is_no_backup_is_not_to_be_moved_away(
    data: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    content: bytes | None,
    said: str,
) -> None:
    path = tmp_path / "given"
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)
    assert matside(data, "restore", "--yes", path) == Exit.DATA
    err = capsys.readouterr().err
    assert f"given: this is not a matside record: {said}" in err
    assert "Move the file away" not in err
    assert "damaged" not in err
    assert "Name a file that matside backup wrote" in err
    assert sessions(data / "record.db") == 2


def test_forget_names_no_option_that_it_lacks(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "record-sets.csv").write_text("mine")
    arguments = ("forget", "Runa", "-o", tmp_path / "out", "--yes", "--again", "Runa")
    assert matside(data, *arguments) == Exit.CANT_CREATE
    err = capsys.readouterr().err
    assert "--force" not in err
    assert "exists; name another file" in err
    assert sessions(data / "record.db") == 2
