"""Backups: copy a record to a file, look into a backup, put one back.

Before the program replaces a record or brings its form up to date, it makes a copy by itself. These
copies lie in `copies/` beside the record, readable by the owner alone, numbered as they were made:
`record-0003-form-2.db`. The newest `KEPT` of each record stay.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

from msgspec import Struct

from runner.errors import Exit, MatsideError
from runner.output import COPIES, SQLITE, part_beside
from runner.record import errors, files, query, schema

# Copies that the program makes by itself.

KEPT = 3  # of each record; our choice


def copies(path: Path) -> list[Path]:
    """The copies of the record at `path`, the oldest first."""
    form = re.compile(rf"{re.escape(path.stem)}-([0-9]{{4,}})-[a-z0-9-]+{re.escape(path.suffix)}")
    folder = path.parent / COPIES
    try:
        found = [(int(m[1]), p) for p in folder.iterdir() if (m := form.fullmatch(p.name))]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise errors.from_os(folder, error) from error
    return [p for _, p in sorted(found)]


def half_made(path: Path) -> list[Path]:
    """Copies of the record at `path` that were cut off while they were made."""
    return sorted((path.parent / COPIES).glob(f".{path.stem}-*{path.suffix}.part*"))


def keep_copy(
    connection: sqlite3.Connection, path: Path, why: str, spare: Path | None = None
) -> Path:
    """Copy the record that `connection` has open; `why` becomes part of the name.

    Deletes the oldest copies beyond `KEPT`, but never `spare`, which is still to be read. Raises
    Unwritable where no copy can be made; the caller must then replace nothing.
    """
    there = copies(path)
    last = int(re.sub(r"\D.*", "", there[-1].stem[len(path.stem) + 1 :])) if there else 0
    target = path.parent / COPIES / f"{path.stem}-{last + 1:04}-{why}{path.suffix}"
    copy_to(connection, target)
    for old in [*there, target][:-KEPT]:
        if spare is None or not old.samefile(spare):
            old.unlink(missing_ok=True)
    return target


def copy_to(connection: sqlite3.Connection, target: Path) -> None:
    """Copy a record to a file, whole or not at all; replaces what was there.

    SQLite's backup runs in one step, so the copy has everything committed, also while another
    program writes. Raises Unwritable.
    """
    try:
        files.make_folder(target.parent)
        part = part_beside(target)
        try:
            with closing(files.connect(part)) as made:
                connection.backup(made)
                files.make_durable(made)
            part.replace(target)
        except sqlite3.Error as error:
            raise errors.copy_failed(target, error) or error from error
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise errors.copy_failed(target, error) or error from error


BEFORE_RESTORE = "before-restore"


class KeptSession(Struct, frozen=True):
    """A session in a backup or a record: what is needed to compare the two."""

    id: str
    trainee: str
    begun: str  # local time with its offset


class RecordSummary(Struct, frozen=True):
    """What a record holds, for the person who decides which one replaces which."""

    path: Path
    form: int
    trainees: tuple[str, ...]
    sessions: tuple[KeptSession, ...]  # by their start
    rows: int
    trial: bool | None = None  # sessions of trial plans, or of others; None where it has none

    def lacks(self, other: RecordSummary) -> list[KeptSession]:
        """The sessions that `other` has and this record lacks."""
        here = {session.id for session in self.sessions}
        return [session for session in other.sessions if session.id not in here]


_REMEDY = (
    "Nothing changed. Name a file that matside backup wrote. A CSV comes in with matside import, "
    "a handover with matside receive."
)


def look_at_backup(path: Path) -> RecordSummary:
    """What a backup holds. The remedy for a bad one names another backup, not a new record.

    An empty file is no backup, though it may become a record.
    """
    try:
        if path.is_file() and not _is_database(path):
            raise errors.not_ours(path, "it is not a database")
        return look(path)
    except MatsideError as fault:
        if fault.code is not Exit.DATA:
            raise
        raise MatsideError(fault.lines[0], _REMEDY, code=Exit.DATA) from fault


def _is_database(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(SQLITE)) == SQLITE
    except OSError as error:
        raise errors.from_os(path, error) from error


def look(path: Path) -> RecordSummary:
    """What the record at `path` holds, after a check of its integrity.

    Raises MatsideError: 66 where there is no file, 65 where it is no record, newer or damaged.
    """
    with errors.speaking(path, writing=False):
        files.prepare(path, create=False)
        with closing(files.connect(path)) as connection:
            connection.execute("PRAGMA query_only = ON")
            form = schema.check(connection, path)
            if form == 0:
                return RecordSummary(path, 0, (), (), 0)
            report = files.integrity(connection)
            if report != "ok":
                raise errors.damaged(path, report.splitlines()[0])
            return _look(connection, path, form)


def _look(connection: sqlite3.Connection, path: Path, form: int) -> RecordSummary:
    sessions = connection.execute(
        "SELECT id, trainee, session_start FROM session ORDER BY started_utc, key"
    )
    (rows,) = connection.execute("SELECT count(*) FROM set_row").fetchone()
    found = tuple(KeptSession(*row) for row in sessions)
    of_trials = connection.execute("SELECT max(trial) FROM session").fetchone()[0]
    trial = None if of_trials is None else bool(of_trials)
    return RecordSummary(path, form, tuple(query.trainees(connection)), found, rows, trial)


def back_up(source: Path, target: Path) -> RecordSummary:
    """Copy the record at `source` to `target`, also while a session writes to it.

    Replaces what is at `target`. Raises MatsideError like `look`, and Unwritable.
    """
    look(source)
    with errors.speaking(source, writing=False), closing(files.connect(source)) as connection:
        copy_to(connection, target)
    return look(target)


def restore(backup: Path, path: Path) -> Path | None:
    """Replace the record at `path` with what `backup` holds, in one transaction.

    Copies the old record first and returns the path of that copy, None where there was no record.
    Raises MatsideError like `look`, and Unwritable.
    """
    look_at_backup(backup)
    files.prepare(path, create=True)
    kept = None
    with errors.speaking(path, writing=True), closing(files.connect(path)) as connection:
        if schema.check(connection, path) > 0:
            kept = keep_copy(connection, path, BEFORE_RESTORE, spare=backup)
        with closing(files.connect(backup)) as source:
            source.backup(connection)
        files.make_durable(connection)
    return kept
