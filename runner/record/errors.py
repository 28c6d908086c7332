"""SQLite's errors, and files that are no record of ours, as messages for a person."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from runner.errors import Exit, MatsideError
from runner.text import shown

BUSY_SECONDS = 2.0  # wait this long for another program's lock; our choice


class NotAsWritten(Exception):
    """The file holds a value that no version of this program writes."""


@contextmanager
def as_written(what: str) -> Iterator[None]:
    """Raise NotAsWritten for a damaged value, which is no fault of this program."""
    try:
        yield
    except (ValueError, TypeError, KeyError, OverflowError) as error:
        raise NotAsWritten(f"{what} cannot be read ({type(error).__name__})") from error


_ELSEWHERE = "Or keep the record in another folder: --data DIR."
_MOVE = f"Move the file away; matside then starts a new record. {_ELSEWHERE}"

# Primary result codes of SQLite, https://www.sqlite.org/rescode.html
_PERM, _BUSY, _LOCKED, _READONLY, _IOERR, _CORRUPT = 3, 5, 6, 8, 10, 11
_FULL, _CANTOPEN, _AUTH, _NOTADB = 13, 14, 23, 26
_DAMAGED = frozenset({_CORRUPT, _NOTADB})
_DBMOVED = 1032  # an extended code: the file is no longer where it was opened
_CANNOT = {
    _PERM: ("you may not write it", Exit.NO_PERMISSION),
    _AUTH: ("you may not write it", Exit.NO_PERMISSION),
    _READONLY: ("it is read-only, or its folder is", Exit.NO_PERMISSION),
    _CANTOPEN: ("it cannot be opened, or no file can be made in its folder", Exit.NO_PERMISSION),
    _BUSY: (f"another program has held it locked for {BUSY_SECONDS:g} s", Exit.IO),
    _LOCKED: ("it is locked", Exit.IO),
    _FULL: ("the disk is full", Exit.IO),
    _IOERR: ("reading or writing failed", Exit.IO),
}


class Unwritable(MatsideError):
    """The record cannot be written (or not even read) now; a session can go on without it."""


def not_ours(path: Path | str, why: str) -> MatsideError:
    """The file is not a record of ours: stop and leave it alone."""
    return MatsideError(
        f"{shown(path)}: this is not a matside record: {why}.", _MOVE, code=Exit.DATA
    )


def newer(path: Path | str, form: int, known: int) -> MatsideError:
    """A later version of the program wrote the file."""
    return MatsideError(
        f"{shown(path)}: this record is from a newer matside (form {form}, known here: {known}).",
        f"Use that newer version. {_ELSEWHERE}",
        code=Exit.DATA,
    )


def damaged(path: Path | str, what: str) -> MatsideError:
    """What the file holds cannot be read."""
    return MatsideError(
        f"{shown(path)}: the record is damaged: {what}.",
        "Move the file away, then run: matside restore BACKUP. Without a backup matside starts a "
        "new record. "
        f"{_ELSEWHERE}",
        code=Exit.DATA,
    )


def unwritable(path: Path | str, why: str, code: Exit = Exit.IO) -> Unwritable:
    """The file cannot be written now."""
    return Unwritable(
        f"{shown(path)}: the record cannot be written: {why}.",
        "Correct this before the next start. " + _ELSEWHERE,
        code=code,
    )


def continued_elsewhere(path: Path | str, session_id: str) -> Unwritable:
    """Another program goes on with the same session; the record keeps what came first."""
    return unwritable(path, f"session {shown(session_id)} is open in another matside")


def from_os(path: Path | str, error: OSError) -> Unwritable:
    """A file or folder could not be made."""
    denied = isinstance(error, PermissionError)
    why = (error.strerror or str(error)).lower()
    return unwritable(path, why, Exit.NO_PERMISSION if denied else Exit.IO)


def from_sqlite(path: Path | str, error: sqlite3.Error, *, writing: bool) -> MatsideError | None:
    """The error to raise for a person, or None where the fault is this program's own."""
    if not isinstance(error, sqlite3.DatabaseError):
        return None
    if isinstance(error, (sqlite3.IntegrityError, sqlite3.ProgrammingError)):
        return None
    code = getattr(error, "sqlite_errorcode", None)
    primary = _CORRUPT if code is None else code & 0xFF  # Python's own: text that is not UTF-8
    if primary in _DAMAGED:
        what = shown(error)
        return unwritable(path, what) if writing else damaged(path, what)
    if code == _DBMOVED:
        return unwritable(path, "somebody moved or deleted its file or folder while it was open")
    if primary in _CANNOT:
        return unwritable(path, *_CANNOT[primary])
    return None


def copy_failed(target: Path, error: OSError | sqlite3.Error) -> Unwritable | None:
    """The error for a copy that cannot be written at `target`; None as in `from_sqlite`.

    The record itself is sound, so the remedy names another place for the copy.
    """
    if isinstance(error, sqlite3.Error):
        found = from_sqlite(target, error, writing=True)
        if found is None:
            return None
        why = found.lines[0].partition(": the record cannot be written: ")[2].rstrip(".")
        code = found.code
    else:
        why = (error.strerror or str(error)).lower()
        code = Exit.NO_PERMISSION if isinstance(error, PermissionError) else Exit.IO
    return Unwritable(
        f"{shown(target)}: the copy cannot be written: {why}.",
        "The record is unchanged. Correct this, or name another place for the copy.",
        code=code,
    )


def explain(path: Path | str, error: BaseException, *, writing: bool) -> None:
    """Raise SQLite's error as one that a person can mend; return for any other error."""
    fault: MatsideError | None = None
    if isinstance(error, sqlite3.Error):
        fault = from_sqlite(path, error, writing=writing)
    elif isinstance(error, UnicodeDecodeError):  # SQLite quotes what it has met in a damaged file
        what = "it holds bytes that are not text"
        fault = unwritable(path, what) if writing else damaged(path, what)
    elif isinstance(error, NotAsWritten):
        fault = unwritable(path, str(error)) if writing else damaged(path, str(error))
    if fault is not None:
        raise fault from error


@contextmanager
def speaking(path: Path | str, *, writing: bool) -> Iterator[None]:
    """A context in which errors are raised as `explain` does."""
    try:
        yield
    except Exception as error:
        explain(path, error, writing=writing)
        raise
