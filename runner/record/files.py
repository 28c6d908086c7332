"""Opens a record's file, readable by its owner alone from its first byte on.

SQLite keeps a rollback journal with `synchronous = EXTRA`, so a commit survives a power cut: EXTRA
also syncs the folder once the journal is deleted. A write-ahead log is faster, but a copy of the
main file would then not be the whole record. A session writes a few events a minute, so speed does
not matter.
"""

from __future__ import annotations

import os
import shlex
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.record import checks, errors, schema
from runner.text import shown

_OWNER_FILE, _OWNER_FOLDER = 0o600, 0o700
_MEMORY = ":memory:"


def prepare(path: Path, *, create: bool) -> None:
    """Make sure that the file exists; make it, and its folders, for the owner alone.

    An existing file keeps its permissions. Raises Unwritable where it cannot be made, MatsideError
    where it is missing and may not be made, or is a folder.
    """
    try:
        if path.is_dir():
            raise errors.not_ours(path, "it is a folder")
        if path.exists():
            return
        if not create:
            raise MatsideError(f"{shown(path)}: this record does not exist.", code=Exit.NO_INPUT)
        make_folder(path.parent)
        _make_file(path)
    except OSError as error:
        raise errors.from_os(path, error) from error


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, for the owner alone. Raises OSError."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    try:
        folder.mkdir(_OWNER_FOLDER)
    except FileExistsError:  # another program made it first
        return
    folder.chmod(_OWNER_FOLDER)  # a strict umask may have taken more


def _make_file(path: Path) -> None:
    # Made before SQLite opens it: SQLite gives its journal the permissions of this file.
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, _OWNER_FILE)
    except FileExistsError:
        return
    os.close(descriptor)
    path.chmod(_OWNER_FILE)


def connect(path: Path) -> sqlite3.Connection:
    """A connection to an existing file; each transaction begins by hand."""
    return _connect(_uri(path))


def make_durable(connection: sqlite3.Connection) -> None:
    """Make every commit last. Only for a file of ours: this may change how it is stored."""
    # No write-ahead log, so that a plain copy of the file is a whole record. EXTRA also syncs
    # the folder once the journal is deleted, so a commit survives a power cut.
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA synchronous = EXTRA")


def connect_to_read(path: Path) -> sqlite3.Connection | None:
    """A connection that refuses to write; None where there is no file.

    It is not SQLite's read-only mode: after a crash a half-written change must be rolled back
    before the file can be read.
    """
    try:
        if not path.exists():
            return None
        if path.is_dir():
            raise errors.not_ours(path, "it is a folder")
    except OSError as error:
        raise errors.from_os(path, error) from error
    connection = _connect(_uri(path))
    connection.execute("PRAGMA query_only = ON")
    return connection


def connect_to_memory() -> sqlite3.Connection:
    """A database without a file."""
    return _connect(f"file:{_MEMORY}")


def _uri(path: Path) -> str:
    return f"{path.absolute().as_uri()}?mode=rw"  # never makes the file


def _connect(uri: str) -> sqlite3.Connection:
    connection = sqlite3.connect(uri, uri=True, timeout=errors.BUSY_SECONDS, isolation_level=None)
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")  # no code stored in the file runs
    return connection


# How a record's file is reached: connections, copies, and SQLite's errors as errors.

# Measured on a slow machine: 45 ms a megabyte, which is a hundred sessions. A few years of one
# person are checked in less time than anybody notices; a larger file would make them wait.
LOOK_BYTES = 4 * 1024 * 1024


def look_whole(connection: sqlite3.Connection, path: Path, most: int = LOOK_BYTES) -> None:
    """Let SQLite check a file of ours if it has at most that many bytes.

    Raises MatsideError (65) for a damaged one. Unchecked damage would give wrong answers, or stop a
    session under way.
    """
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    (size,) = connection.execute("PRAGMA page_size").fetchone()
    if pages * size <= most:
        report = integrity(connection)
        if report != "ok":
            raise errors.damaged(path, report.splitlines()[0])


def integrity(connection: sqlite3.Connection) -> str:
    """`ok`, or what SQLite's checks say, a line each, or the first value of a wrong form."""
    found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check")]
    found += [
        f"{table}: row {row} refers to a missing {parent}"
        for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check")
    ]
    if found == ["ok"]:
        wrong = checks.not_as_written(connection)
        return "ok" if wrong is None else wrong
    return "\n".join(f for f in found if f != "ok")


def try_to_write(connection: sqlite3.Connection) -> None:
    """Begin a change and take it back, so that a file that cannot be written shows now.

    The first screen waits for this. A commit would wait for the disk four times; the first event
    has one at once.
    """
    connection.execute("BEGIN IMMEDIATE")
    _, form = schema.form_of(connection)
    connection.execute(f"PRAGMA user_version = {form}")  # writes the journal, and its page
    connection.execute("ROLLBACK")


def open_to_read(
    path: Path, look: int = LOOK_BYTES
) -> tuple[sqlite3.Connection, Path | None] | None:
    """The file open for reading, or a copy in memory of one of an earlier form; None without one.

    A file of at most `look` bytes is checked first.
    """
    with errors.speaking(path, writing=False):
        connection = connect_to_read(path)
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
    """What the file holds, as a database in memory."""
    source = open_to_read(path)
    if source is None or source[1] is None:
        return empty() if source is None else source[0]
    with errors.speaking(path, writing=False), closing(source[0]) as connection:
        return copy(connection)


def empty() -> sqlite3.Connection:
    """An empty record in memory."""
    connection = connect_to_memory()
    schema.migrate(connection)
    return connection


def copy(source: sqlite3.Connection) -> sqlite3.Connection:
    """The same record in memory, brought up to date."""
    made = connect_to_memory()
    source.backup(made)
    schema.migrate(made)
    return made


# Whether others on the machine can read a record, by the permissions of its file and folder.

_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def exposed(path: Path) -> str | None:
    """One line that says what others can read, and the remedy; None where they cannot.

    None too where there are no POSIX permissions or no such file.
    """
    if os.name != "posix":
        return None
    try:
        file, folder = path.stat(), path.absolute().parent.stat()
    except OSError:
        return None
    open_file, open_folder = bool(file.st_mode & _OTHERS), bool(folder.st_mode & _OTHERS)
    if not (open_file or open_folder):
        return None
    # Other users need a shared folder, so the remedy does not close it.
    theirs = folder.st_uid != os.getuid() or bool(folder.st_mode & stat.S_ISVTX)
    commands = [f"chmod 700 {_word(path.parent)}"] if open_folder and not theirs else []
    commands += [f"chmod 600 {_word(path)}"] if open_file else []
    remedies = ["run: " + " && ".join(commands)] if commands else []
    if open_folder and theirs:
        remedies.append("keep the record in a folder of your own (--data DIR)")
    what = " and its folder" if open_file and open_folder else ""
    which = shown(path) + what if open_file else f"the folder of {shown(path)}"
    how = "; and ".join(remedies)
    return f"other users of this machine can open {which}; to keep them out, {how}"


def _word(path: Path) -> str:
    """A path quoted for a shell."""
    return shlex.quote(shown(path))
