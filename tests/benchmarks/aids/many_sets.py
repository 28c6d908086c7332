"""A record of very many sets: three real sessions, repeated by plain SQL over days and people.

Built once a run for each size, in a temporary folder that goes with the program.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

from runner.record.record import Record
from runner.testing import ManualClock
from tests.benchmarks.aids.by_hand import write_session

CREW = ("Ada", "Ben", "Cleo", "Dag")
PATTERNS = ("A", "B", "C")
LAST_DAY = datetime(2026, 11, 24, 6, 30, tzinfo=UTC)  # of the newest session
_DAY_MS = 86_400_000
_FORM = "%Y-%m-%dT%H:%M:"
_folder: list[tempfile.TemporaryDirectory[str]] = []


@lru_cache(maxsize=4)
def data_of(
    sets: int, crew: tuple[str, ...] = CREW, every: int = 1, *, events: bool = False
) -> Path:
    """A data directory whose record has so many rows of sets, or up to a day's more.

    Each of the crew trains every so many days; `events`: the sessions have theirs, too.
    """
    data = _patterns().parent / f"{sets}-{len(crew)}-{every}-{events}"
    shutil.copytree(_patterns(), data)
    with closing(sqlite3.connect(data / "record.db", isolation_level=None)) as connection:
        _repeat(connection, sets, crew, every)
        if events:
            _events(connection)
    with Record.open_readonly(data / "record.db") as record:
        assert set(crew) <= set(record.trainees())
    return data


@lru_cache(maxsize=1)
def _patterns() -> Path:
    """The record of the three sessions."""
    _folder.append(tempfile.TemporaryDirectory(prefix="matside-many-sets-"))
    data = Path(_folder[0].name) / "patterns"
    clock = ManualClock(LAST_DAY)
    for pattern in PATTERNS:
        write_session(data, clock, pattern)
    return data


def _repeat(connection: sqlite3.Connection, sets: int, crew: tuple[str, ...], every: int) -> None:
    connection.execute("PRAGMA synchronous = OFF")
    indexes = connection.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = 'set_row' "
        "AND sql IS NOT NULL"
    ).fetchall()
    connection.execute("BEGIN")
    for name, _ in indexes:
        connection.execute(f"DROP INDEX {name}")
    _people_and_sessions(connection, sets, crew, every)
    _rows(connection)
    for _, sql in indexes:
        connection.execute(sql)
    connection.execute("COMMIT")


def _people_and_sessions(
    connection: sqlite3.Connection, sets: int, crew: tuple[str, ...], every: int
) -> None:
    """A session every so many days for each, in turn A, B and C, back from the last day."""
    connection.executemany(
        "INSERT OR IGNORE INTO trainee (name) VALUES (?)", [(name,) for name in crew]
    )
    patterns = connection.execute("SELECT key, plan, plan_hash, session FROM session").fetchall()
    sizes = dict(connection.execute("SELECT session, count(*) FROM set_row GROUP BY session"))
    connection.execute(
        "CREATE TEMP TABLE made (key INTEGER PRIMARY KEY, pattern INTEGER, days INTEGER, who TEXT)"
    )
    have = sum(sizes.values())
    key = max(sizes)
    day = 0
    while have < sets:
        day += every
        pattern, plan, plan_hash, session = patterns[-(day // every) % 3]
        start = LAST_DAY - timedelta(days=day)
        year, week, _ = start.isocalendar()
        for who in crew:
            key += 1
            have += sizes[pattern]
            connection.execute("INSERT INTO made VALUES (?, ?, ?, ?)", (key, pattern, day, who))
            stamp = start.isoformat(timespec="milliseconds").replace("+00:00", "Z")
            local = start.isoformat(timespec="seconds")
            connection.execute(
                "INSERT INTO session (key, id, plan, plan_hash, session, trainee, started_utc,"
                " session_start, offset_s, zone, local_date, iso_week, version, trial, ended_utc,"
                " ended_offset_s, ended_local_date, status, complete)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?, 0, 'UTC', ?, ?, 'made', 0, ?, 0, ?, 'closed',"
                " 'yes')",
                (
                    *(key, f"made-{key}", plan, plan_hash, session, who, stamp, local),
                    *(str(start.date()), f"{year}-W{week:02d}", stamp, str(start.date())),
                ),
            )


def _events(connection: sqlite3.Connection) -> None:
    """The events of the real sessions, so many days earlier."""
    moved = f"strftime('{_FORM}%f', e.utc, '-' || m.days || ' days') || 'Z'"
    connection.execute(
        "INSERT INTO event (session, seq, at, utc, act, name, data, id) "
        f"SELECT m.key, e.seq, e.at, {moved}, e.act, e.name, e.data, e.id FROM made m "
        "JOIN event e ON e.session = m.pattern ORDER BY m.key, e.seq"
    )


def _rows(connection: sqlite3.Connection) -> None:
    """The rows of the real sessions, so many days earlier."""
    names = [row[1] for row in connection.execute("PRAGMA table_info(set_row)")]
    moved = f"(r.place - m.days * {_DAY_MS})"
    given = {
        "session": "m.key",
        "trainee": "m.who",
        "place": moved,
        # As the record writes it: with milliseconds, and an offset of none.
        "set_start": f"strftime('{_FORM}%f', {moved} / 1000.0, 'unixepoch') || '+00:00'",
    }
    columns = ", ".join(f'"{name}"' for name in names)
    values = ", ".join(given.get(name, f'r."{name}"') for name in names)
    connection.execute(
        f"INSERT INTO set_row ({columns}) SELECT {values} FROM made m "
        "JOIN set_row r ON r.session = m.pattern ORDER BY m.key, r.entry"
    )
