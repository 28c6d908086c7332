"""How a record's file is reached: connections, copies, and SQLite's errors as faults."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from runner.record import faults, files, schema, written

# Measured: 45 ms a megabyte, a hundred sessions, on a slow machine. Nobody waits longer than for
# a key: a few years of one person's sessions are looked at, more would have to wait.
LOOK_BYTES = 4 * 1024 * 1024


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
    except UnicodeDecodeError as error:  # SQLite quotes what it has met in a damaged file
        what = "it holds text that is none"
        raise (faults.unwritable if writing else faults.damaged)(path, what) from error
    except faults.NotAsWritten as error:
        if writing:
            raise faults.unwritable(path, str(error)) from error
        raise faults.damaged(path, str(error)) from error


def look_whole(connection: sqlite3.Connection, path: Path, most: int = LOOK_BYTES) -> None:
    """Let SQLite check a file of ours of at most so many bytes.

    Raises MatsideError (65) where it is damaged. Damage that nobody has met yet would give wrong
    answers, or be met by a session under way.
    """
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    (size,) = connection.execute("PRAGMA page_size").fetchone()
    if pages * size <= most:
        said = integrity(connection)
        if said != "ok":
            raise faults.damaged(path, said.splitlines()[0])


def integrity(connection: sqlite3.Connection) -> str:
    """`ok`, or what SQLite's own checks say, a line each; else a value that cannot be."""
    found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check")]
    found += [
        f"{table}: row {row} refers to no {parent}"
        for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check")
    ]
    if found == ["ok"]:
        wrong = written.not_as_written(connection)
        return "ok" if wrong is None else wrong
    return "\n".join(f for f in found if f != "ok")


def try_to_write(connection: sqlite3.Connection) -> None:
    """Commit without changing anything, so that a file that cannot be written shows now."""
    connection.execute("BEGIN IMMEDIATE")
    _, form = schema.form_of(connection)
    connection.execute(f"PRAGMA user_version = {form}")
    connection.execute("COMMIT")


def open_to_read(
    path: Path, look: int = LOOK_BYTES
) -> tuple[sqlite3.Connection, Path | None] | None:
    """The file, or a copy in memory of one of an earlier form; None where there is none.

    One of at most `look` bytes is checked first.
    """
    with speaking(path, writing=False):
        connection = files.connect_to_read(path)
        if connection is None:
            return None
        keep = False
        try:
            form = schema.check(connection, path)
            if form > 0:
                look_whole(connection, path, look)
            keep = form == schema.VERSION
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
