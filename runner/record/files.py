"""Opening a record's file: for its owner alone from its first byte on."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.record import faults
from runner.record.text import shown

_OWNER_FILE, _OWNER_FOLDER = 0o600, 0o700
_MEMORY = ":memory:"


def prepare(path: Path, *, create: bool) -> None:
    """See that the file is there; make it, and its folders, for the owner alone.

    What is there already keeps its permissions. Raises Unwritable where it cannot be made,
    MatsideError where it is missing and may not be made, or is a folder.
    """
    try:
        if path.is_dir():
            raise faults.not_ours(path, "it is a folder")
        if path.exists():
            return
        if not create:
            raise MatsideError(f"{shown(path)}: there is no such record.", code=Exit.NO_INPUT)
        make_folder(path.parent)
        _make_file(path)
    except OSError as error:
        raise faults.from_os(path, error) from error


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, for the owner alone. Raises OSError."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    try:
        folder.mkdir(_OWNER_FOLDER)
    except FileExistsError:  # another program was faster
        return
    folder.chmod(_OWNER_FOLDER)  # a strict umask may have taken more


def _make_file(path: Path) -> None:
    # Made before SQLite sees it: its own files, the journal too, take their mode from this one.
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, _OWNER_FILE)
    except FileExistsError:
        return
    os.close(descriptor)
    path.chmod(_OWNER_FILE)


def connect(path: Path) -> sqlite3.Connection:
    """A connection to a file that is there, each transaction begun by hand."""
    return _connect(_uri(path))


def make_durable(connection: sqlite3.Connection) -> None:
    """Let a commit be one for good. Only for a file of ours: it may change how it is kept."""
    # A plain copy of the file is a whole record: hence no write-ahead log. EXTRA also syncs
    # the folder once the journal is gone, so a commit stays one after a power cut.
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA synchronous = EXTRA")


def connect_to_read(path: Path) -> sqlite3.Connection | None:
    """A connection that refuses to write; None where there is no file.

    It is not opened read-only in SQLite's sense: what a crash left half written must be
    rolled back before the file can be read.
    """
    try:
        if not path.exists():
            return None
        if path.is_dir():
            raise faults.not_ours(path, "it is a folder")
    except OSError as error:
        raise faults.from_os(path, error) from error
    connection = _connect(_uri(path))
    connection.execute("PRAGMA query_only = ON")
    return connection


def connect_to_memory() -> sqlite3.Connection:
    """A database without a file."""
    return _connect(f"file:{_MEMORY}")


def _uri(path: Path) -> str:
    return f"{path.absolute().as_uri()}?mode=rw"  # never makes the file


def _connect(uri: str) -> sqlite3.Connection:
    connection = sqlite3.connect(uri, uri=True, timeout=faults.BUSY_SECONDS, isolation_level=None)
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA trusted_schema = OFF")  # nothing of a file's own code runs
    return connection
