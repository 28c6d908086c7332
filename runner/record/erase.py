"""One person erased from a record for good: health data that they want gone.

Nothing of them is left in the file: freed pages are overwritten, and the file is written anew.

The copies that the program made are gone through as well; a test looks for the name in every
byte. What only the copies have, and tables that no export offers, are exported before.
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

# What is kept of a person beside the tables that anybody can export: columns as they are kept.
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
    """Erase a trainee from the record at `path`; how many sessions went with them.

    0 also where there is no such file or person. The journal of the transaction is gone with
    it, a write-ahead log that another program left is emptied. Raises MatsideError (65) for a
    file that is no record, and Unwritable.
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
    """Write one of the tables in `REST` as CSV, for whoever takes all that was kept with them."""
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
    """Erase a trainee from the copies that were made by themselves; those that knew them.

    Copies that were cut off while they were made go as a whole: they are of no use to anybody.
    """
    known = [copy for copy in backup.copies(path) if knows(copy, trainee)]
    for copy in known:
        forget(copy, trainee)
    for half in backup.half_made(path):
        half.unlink(missing_ok=True)
    return known


def rescued(data: Path, trainee: str) -> list[Path]:
    """A trainee's files beside the record: the overlay, and CSV of what the record could not take.

    One that cannot be read is left out: nobody knows whose it is.
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
            if table in there:  # a copy may be of an earlier form
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
