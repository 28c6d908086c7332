"""How a record's file is reached: connections, copies, and SQLite's errors as faults."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from runner.record import faults, files, schema


@contextmanager
def speaking(path: Path | str, *, writing: bool) -> Iterator[None]:
    """Raise SQLite's errors as faults that a person can mend."""
    try:
        yield
    except sqlite3.Error as error:
        fault = faults.from_sqlite(path, error, writing=writing)
        if fault is None:
            raise
        raise fault from error
    except faults.NotAsWritten as error:
        if writing:
            raise faults.unwritable(path, str(error)) from error
        raise faults.damaged(path, str(error)) from error


def try_to_write(connection: sqlite3.Connection) -> None:
    """Commit without changing anything, so that a file that cannot be written shows now."""
    connection.execute("BEGIN IMMEDIATE")
    _, form = schema.form_of(connection)
    connection.execute(f"PRAGMA user_version = {form}")
    connection.execute("COMMIT")


def open_to_read(path: Path) -> tuple[sqlite3.Connection, Path | None] | None:
    """The file, or a copy in memory of one of an earlier form; None where there is none."""
    with speaking(path, writing=False):
        connection = files.connect_to_read(path)
        if connection is None:
            return None
        keep = False
        try:
            keep = schema.check(connection, path) == schema.VERSION
            return (connection, path) if keep else (copy(connection), None)
        finally:
            if not keep:
                connection.close()


def copy_of(path: Path) -> sqlite3.Connection:
    """What the file holds, in memory."""
    source = open_to_read(path)
    if source is None or source[1] is None:
        return empty() if source is None else source[0]
    with speaking(path, writing=False), closing(source[0]) as connection:
        return copy(connection)


def empty() -> sqlite3.Connection:
    """A record without a file."""
    connection = files.connect_to_memory()
    schema.migrate(connection)
    return connection


def copy(source: sqlite3.Connection) -> sqlite3.Connection:
    """The same in memory, brought up to date."""
    made = files.connect_to_memory()
    source.backup(made)
    schema.migrate(made)
    return made
