"""Values that no version of this program writes, in a file whose pages are sound."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest

from runner.errors import MatsideError
from runner.record import checks, files
from runner.record.decisions import LevelDecision
from runner.record.record import Record
from runner.record.schema import MIGRATIONS, migrate
from runner.session import verb as cmd

from .hut import PRESS, Sitting, later


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with something in every table that a session fills."""
    path = tmp_path_factory.mktemp("written") / "record.db"
    with Record.in_memory() as record, closing(sqlite3.connect(path)) as file:
        Sitting(record).do(cmd.Weigh(74.5), cmd.Note("cold")).whole()
        Sitting(record, at=later()).begin().set(12)
        record.agree(
            "Runa", None, [LevelDecision("press", "", PRESS.progression[1], "set by hand")], later()
        )
        record.acknowledge("Runa", "Hut", ["Mind the stove."], later())
        assert record.integrity() == "ok"
        record._connection.backup(file)
    return path


@pytest.fixture
def full(whole: Path, tmp_path: Path) -> Path:
    """The same, to be spoilt."""
    return Path(shutil.copy(whole, tmp_path))


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("session", "local_date", "2026-11-3q"),
        ("session", "local_date", "2026-02-30"),
        ("session", "iso_week", "2026-W49"),
        ("session", "iso_week", "2026-W58"),
        ("session", "started_utc", "2026-11-23T05:30:00.0x0Z"),
        ("session", "session_start", "2026-11-23T06:30:00+0q:00"),
        ("session", "session_start", "2026-11-23T26:30:00+01:00"),
        ("session", "offset_s", 1e300),
        ("session", "zone", b"\xff"),
        ("set_row", "set_start", "2026-11-23T06:30:00.5x0+01:00"),
        ("set_row", "work_s", "20.0x"),
        ("set_row", "work_s", 1e300),
        ("set_row", "place", "soon"),
        ("event", "at", b"\x00"),
        ("plan", "content", b"\xff"),
        ("trainee", "mass_kg", "heavy"),
        ("held", "reason", b"\xff"),
        ("held", "since", "2026-11-23T05:30:0;.000Z"),
        ("acknowledged", "utc", b"\xff"),
    ],
)
def test_it_is_told_with_its_column(full: Path, table: str, column: str, value: object) -> None:
    with closing(sqlite3.connect(full)) as connection, connection:
        connection.execute(f'UPDATE {table} SET "{column}" = ?', (value,))
    for opening in (Record.open, Record.open_readonly):
        with pytest.raises(MatsideError, match=rf"damaged: {table}\.{column} holds") as told:
            opening(full)
        assert told.value.code == 65


def test_every_column_of_a_form_is_one_of_the_tables() -> None:
    with closing(files.empty()) as connection:
        tables = [name for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table'")]  # fmt: skip
        columns = {
            table: {row[1]: row[2] for row in connection.execute(f"PRAGMA table_info({table})")}
            for table in tables
        }
        assert checks.not_as_written(connection) is None
    assert all(columns[table].keys() >= forms.keys() for table, forms in checks._FORMS.items())
    assert {kind for of_table in columns.values() for kind in of_table.values()} == set(
        checks._TYPES
    )


def test_every_week_of_every_date_is_as_it_is_written() -> None:
    """Against the calendar of Python's library, over the years that a file may bring."""
    first = date(1900, 1, 1)
    days = [first + timedelta(days=n) for n in range(0, 401_700, 3)]
    rows = [(f"{d}", f"{d.isocalendar().year}-W{d.isocalendar().week:02}") for d in days]
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute("CREATE TABLE session (local_date TEXT, iso_week TEXT)")
        connection.executemany("INSERT INTO session VALUES (?, ?)", rows)
        assert checks.not_as_written(connection) is None


def test_a_record_of_an_earlier_form_has_fewer_columns(path: Path) -> None:
    path.parent.mkdir()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        migrate(connection, MIGRATIONS[:1])
        assert checks.not_as_written(connection) is None


@pytest.mark.parametrize(
    "start",
    [
        "1900-01-01T06:30:00+00:53:28",
        "2026-11-23T06:30:00.500-23:59",
        "2999-12-31T00:00:00+00:00",
    ],
)
def test_what_a_file_may_bring_in_may_stand_there(start: str) -> None:
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute("CREATE TABLE session (session_start TEXT)")
        connection.execute("INSERT INTO session VALUES (?)", (start,))
        assert checks.not_as_written(connection) is None
