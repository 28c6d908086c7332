"""Erases one person from a record for good, when they want their health data gone.

The erased pages are overwritten and the file is written anew, so nothing of the person stays in it;
a test searches every byte for the name. The copies that the program made by itself are erased too.
Before that, the command exports everything, also the tables that no export offers.
"""

from __future__ import annotations

import csv
import glob
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TextIO

from runner.errors import MatsideError
from runner.output import overlay_path
from runner.record import backup, errors, files, schema
from runner.record.csvfile import guard, read_csv
from runner.text import trainee_name

# What the record keeps of a person beside the tables that `export` writes; columns as stored.
REST = {
    "events": """SELECT s.id AS session_id, e.seq, e.utc, e.at, e.act, e.name, e.data
        FROM event e JOIN session s ON s.key = e.session
        WHERE s.trainee = ? ORDER BY s.key, e.seq""",
    "answers": """SELECT utc, local_date, exercise, "group", rule, reason, change, accepted
        FROM answer WHERE trainee = ? ORDER BY key""",
    "aside": "SELECT session, digest, content FROM aside WHERE trainee = ? ORDER BY 1, 2",
    "cautions": "SELECT utc, plan, caution FROM acknowledged WHERE trainee = ? ORDER BY utc",
    "sheets": """SELECT made, id, plan, session, levels, changes FROM sheet
        WHERE trainee = ? ORDER BY made, id""",
}

_TABLES = (
    "aside",
    "set_row",
    "held",
    "answer",
    "acknowledged",
    "sheet",
    "session",
)  # in this order


def forget(path: Path, trainee: str) -> int:
    """Erase a trainee from the record at `path`; returns how many sessions went with them.

    Returns 0 where there is no such file or person. Empties the transaction's journal, and a
    write-ahead log that another program left. Raises MatsideError (65) for a file that is no
    record, and Unwritable.
    """
    if not path.exists():
        return 0
    name = trainee_name(trainee)
    with errors.speaking(path, writing=True), closing(files.connect(path)) as connection:
        if schema.check(connection, path) == 0:
            return 0
        files.make_durable(connection)
        connection.execute("PRAGMA secure_delete = ON")
        count = _erase(connection, name)
        connection.execute("VACUUM")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return count


def write_rest(what: str, path: Path, trainee: str, stream: TextIO) -> None:
    """Write one of the tables in `REST` as CSV, for a person who takes all their data with them."""
    opened = files.open_to_read(path)
    if opened is None:
        return
    with errors.speaking(path, writing=False), closing(opened[0]) as connection:
        found = connection.execute(REST[what], (trainee_name(trainee),))
        writer = csv.writer(stream, lineterminator="\r\n")
        writer.writerow(column[0] for column in found.description)
        for row in found:
            writer.writerow(guard(value) if isinstance(value, str) else value for value in row)


def forget_in_copies(path: Path, trainee: str) -> list[Path]:
    """Erase a trainee from the program's own copies; returns the copies that held them.

    Copies that were cut off while they were made are deleted: nobody can use them.
    """
    known = [copy for copy in backup.copies(path) if knows(copy, trainee)]
    for copy in known:
        forget(copy, trainee)
    for half in backup.half_made(path):
        half.unlink(missing_ok=True)
    return known


def rescued(data: Path, trainee: str) -> list[Path]:
    """A trainee's files beside the record: the overlay, and CSVs of rows the record did not take.

    A CSV that cannot be read is left out, for nobody knows whose it is.
    """
    name = trainee_name(trainee)
    overlay = overlay_path(data, name)
    found = sorted(overlay.parent.glob(f"{glob.escape(overlay.name)}*"))
    for path in sorted(data.glob("matside-*.csv")):
        try:
            with path.open(encoding="utf-8", newline="") as file:
                if {row.trainee for row in read_csv(file)} == {name}:
                    found.append(path)
        except (OSError, MatsideError):
            continue
    return found


def knows(path: Path, trainee: str) -> bool:
    """Whether the record at `path` has that trainee."""
    if not path.exists():
        return False
    with errors.speaking(path, writing=False), closing(files.connect(path)) as connection:
        if schema.check(connection, path) == 0:
            return False
        found = connection.execute("SELECT 1 FROM trainee WHERE name = ?", (trainee_name(trainee),))
        return found.fetchone() is not None


def _erase(connection: sqlite3.Connection, name: str) -> int:
    there = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    connection.execute("BEGIN IMMEDIATE")
    try:
        (count,) = connection.execute(
            "SELECT count(*) FROM session WHERE trainee = ?", (name,)
        ).fetchone()
        connection.execute(
            "DELETE FROM event WHERE session IN (SELECT key FROM session WHERE trainee = ?)",
            (name,),
        )
        for table in _TABLES:
            if table in there:  # a copy of an earlier form lacks some tables
                connection.execute(f"DELETE FROM {table} WHERE trainee = ?", (name,))  # noqa: S608 - names above
        connection.execute("DELETE FROM trainee WHERE name = ?", (name,))
        users = ("session", "sheet") if "sheet" in there else ("session",)
        used = " UNION ".join(f"SELECT plan_hash FROM {table}" for table in users)  # noqa: S608
        connection.execute(f"DELETE FROM plan WHERE hash NOT IN ({used})")  # noqa: S608 - named above
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    return int(count)
