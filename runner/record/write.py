"""Writes a session's events and the rows that they make.

A row is one side of a set, derived from the session's state. Every function with a connection runs
inside a transaction.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache

from msgspec import Struct

from runner.law.course import FIRST, LATER
from runner.law.workout import Workout, load_text, setup_text
from runner.progress.adjust import Adjustment
from runner.progress.history import SetRow, beaten
from runner.progress.level_finding import REASON as LEVEL_FOUND
from runner.record.decisions import DecidedAt, LevelDecision, insert_decisions
from runner.record.rows import OWN_COLUMNS, SESSION_COLUMNS, SessionInfo, utc_text
from runner.session import offers
from runner.session.events import Event, to_data
from runner.session.state import Row, State
from runner.text import clean, clean_data

_KEYS = ("session", "entry", "place", "trainee", "load", "counts")
_NAMES = ", ".join(f'"{name}"' for name in (*_KEYS, *OWN_COLUMNS))
_MARKS = ", ".join("?" * len((*_KEYS, *OWN_COLUMNS)))
_PUT_ROW = f"INSERT OR REPLACE INTO set_row ({_NAMES}) VALUES ({_MARKS})"  # noqa: S608 - names of columns

Rows = Mapping[int, tuple[Row, int]]  # by running number: the row and its place
SessionValues = tuple[float | None, float | None, str, str, str | None, str]


class Conflict(Exception):
    """The record has other events under these numbers: another program keeps the session."""


class StoredSession(Struct, frozen=True):
    """What the record has of a session besides its events, so that only differences are written."""

    rows: Rows
    values: SessionValues
    workout: Workout  # what a row says of its exercise comes from here


def insert_trainee(connection: sqlite3.Connection, name: str) -> None:
    """Add the trainee; does nothing where the record has them already."""
    connection.execute("INSERT OR IGNORE INTO trainee (name) VALUES (?)", (name,))


def insert_session(connection: sqlite3.Connection, info: SessionInfo) -> int:
    """Add the session, with its trainee and plan; returns its key in the tables."""
    insert_trainee(connection, info.trainee)
    connection.execute(
        "INSERT OR IGNORE INTO plan (hash, content) VALUES (?, ?)",
        (info.plan_hash, info.plan_text),
    )
    row = {
        "id": info.id,
        "plan": info.plan,
        "plan_hash": info.plan_hash,
        "session": info.session,
        "trainee": info.trainee,
        "started_utc": info.utc_text(0),
        "session_start": info.local(0).isoformat(timespec="seconds"),
        "offset_s": info.offset_s,
        "zone": info.zone,
        "local_date": info.local_date.isoformat(),
        "iso_week": info.iso_week,
        "version": info.version,
        "trial": int(info.trial),
    }
    names, marks = ", ".join(row), ", ".join("?" * len(row))
    cursor = connection.execute(
        f"INSERT INTO session ({names}) VALUES ({marks})",  # noqa: S608 - the names above
        tuple(row.values()),
    )
    return int(cursor.lastrowid or 0)


def append_events(
    connection: sqlite3.Connection,
    key: int,
    info: SessionInfo,
    numbered: Sequence[tuple[int, Event]],
    *,
    closed: bool = False,
) -> bool:
    """Add the events that the record does not have yet; returns whether there was one.

    `closed`: the session may be closed, for these events correct it. Raises Conflict where the
    record has another event under a number or closed the session, and ValueError where a number
    would be left out.
    """
    found = connection.execute(
        """SELECT (SELECT ifnull(max(seq), 0) FROM event WHERE session = key), status
           FROM session WHERE key = ? AND id = ?""",
        (key, info.id),
    ).fetchone()
    if found is None:  # the record was restored, or the person erased, during the session
        raise Conflict
    have, status = found
    added = False
    for seq, event in numbered:
        data = clean_data(to_data(event))
        text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
        new = (event.name, event.at, event.act, text)
        if seq <= have:
            _compare(connection, key, seq, new)
            continue
        if status == "closed" and not closed:
            raise Conflict
        if seq != have + 1:
            raise ValueError(f"event {seq} follows event {have}: one is left out")
        utc = info.utc_text(event.at)
        # A correction is known by an id in every copy of the record; its number may change there.
        own = f"{utc}-{secrets.token_hex(4)}" if status == "closed" else ""
        connection.execute(
            """INSERT INTO event (session, seq, name, at, act, data, utc, id)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?)""",
            (key, seq, *new, utc, own),
        )
        have, added = seq, True
    return added


def _compare(
    connection: sqlite3.Connection, key: int, seq: int, new: tuple[str, float, int, str]
) -> None:
    old = connection.execute(
        "SELECT name, at, act, data FROM event WHERE session = ? AND seq = ?", (key, seq)
    ).fetchone()
    if old != new:
        raise Conflict


# One row for each side of each set, derived from a session's state. Pure.


def with_places(info: SessionInfo, state: State) -> list[tuple[Row, int]]:
    """The rows of a state, each with its place in a file: milliseconds since 1970 UTC.

    A skipped set has no start; it takes the place of the last set begun before it, or of the
    session's start, and its running number keeps the order there.
    """
    seconds = 0.0
    pairs = []
    for row in state.rows:
        seconds = seconds if row.start is None else row.start
        pairs.append((row, round(info.utc(seconds).timestamp() * 1000)))
    return pairs


def set_row(info: SessionInfo, state: State, row: Row) -> SetRow:
    """One row of a state as the record stores it.

    A bout under way has the status `running` and no end. The table keeps it, so that it is there
    after a crash. An export leaves it out until the bout ends: neither `done` nor `broken` would be
    true.
    """
    planned_set, exercise = row.planned_set, state.exercise(row)
    hold = exercise.measure == "hold"
    hold_s = _tenth(row.value) if hold else None
    reps = None if hold or row.value is None else round(row.value)
    to_beat = _tenth(row.to_beat)
    return SetRow(
        session_id=info.id,
        session_start=info.local(0).isoformat(timespec="seconds"),
        iso_week=info.iso_week,
        plan=info.plan,
        session=info.session,
        trainee=info.trainee,
        block=planned_set.block,
        round=planned_set.round,
        exercise=exercise.id,
        exercise_name=exercise.name,
        prime_movers=";".join(exercise.prime),
        synergists=";".join(exercise.helping),
        version=planned_set.level.version,
        setup=setup_text(planned_set.level.setup),
        load_kg=planned_set.level.load,
        set=planned_set.number,
        kind=planned_set.kind,
        side=row.side,
        status=row.status,
        measure=exercise.measure,
        reps=reps,
        hold_s=hold_s,
        reserve=row.reserve,
        reserve_aimed=exercise.reserve,
        set_start=(
            None if row.start is None else info.local(row.start).isoformat(timespec="milliseconds")
        ),
        started_by=row.started_by,
        work_s=_tenth(row.work),
        rest_before_s=_tenth(row.rest_before),
        recovery_s=_tenth(row.recovery),
        to_beat=to_beat,
        # Judged by the stored numbers, so that a row never contradicts itself.
        beaten=beaten(hold_s if hold else reps, to_beat, pain=row.pain),
        tempo=planned_set.level.tempo or "",
        pain="yes" if row.pain else None,
        note=clean(row.note),
        corrected="yes" if row.corrected else "no",
        set_group=planned_set.group,
        deload="yes" if _deload(state, exercise.id) else None,
        level_finding="yes" if exercise.id in state.workout.level_finding else None,
        today_only="yes" if row.today_only or state.baseline.unread else None,
        swapped_for=planned_set.swapped_for,
        pain_where=clean(row.pain_where),
        corrected_at=(
            None
            if row.corrected_at is None
            else info.local(row.corrected_at).isoformat(timespec="seconds")
        ),
    )


def _deload(state: State, exercise: str) -> bool:
    """Whether an adjustment took away the count to beat."""
    changes = (one for one in state.adjustments if one.kind == "no count")
    return any(one.exercise in ("", exercise) for one in changes)


def _tenth(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 1)


def write_state(
    connection: sqlite3.Connection,
    key: int,
    info: SessionInfo,
    state: State,
    before: StoredSession | None,
) -> StoredSession:
    """Bring rows and session to `state`; `before` is what the record has, if known."""
    written = StoredSession(
        {row.entry: (row, place) for row, place in with_places(info, state)},
        _values(state),
        state.workout,
    )
    same = before is not None and before.workout == state.workout
    known = before.rows if before is not None and same else None
    _write_rows(connection, key, written.rows, known, lambda row: set_row(info, state, row))
    if before is None or before.values != written.values:
        _write_values(connection, key, written.values)
        if state.mass is not None or before is None or before.values[0] is not None:
            write_mass(connection, info.trainee)
    if state.phase == "closed":
        _close(connection, key, info, state)
    return written


def rewrite_rows(connection: sqlite3.Connection, key: int, info: SessionInfo, state: State) -> None:
    """Bring the rows of a closed session to `state`; its end stays."""
    rows = {row.entry: (row, place) for row, place in with_places(info, state)}
    _write_rows(connection, key, rows, None, lambda row: set_row(info, state, row))
    if state.rpe is not None:
        connection.execute("UPDATE session SET rpe = ? WHERE key = ?", (state.rpe, key))
    let_rows_count(connection, key)


def _write_rows(
    connection: sqlite3.Connection,
    key: int,
    rows: Rows,
    known: Rows | None,
    derive: Callable[[Row], SetRow],
) -> None:
    """Write the rows that differ from those `known` to be stored; None where that is unknown."""
    if known is None or len(rows) < len(known):
        connection.execute("DELETE FROM set_row WHERE session = ? AND entry > ?", (key, len(rows)))
    for entry, pair in rows.items():
        if known is None or known.get(entry) != pair:
            row, place = pair
            put_row(connection, (key, entry, place), derive(row))


def put_row(connection: sqlite3.Connection, where: tuple[int, int, int], row: SetRow) -> None:
    """One row; `where` is the session's key, the running number and the place."""
    own = row[len(SESSION_COLUMNS) :]
    connection.execute(_PUT_ROW, (*where, row.trainee, load_text(row.load_kg), 0, *own))


def _values(state: State) -> SessionValues:
    complete = None if state.complete is None else "yes" if state.complete else "no"
    status = "closed" if state.phase == "closed" else "open"
    adjusted = _adjusted_text(state.adjustments)
    return (state.mass, state.rpe, clean(state.note), status, complete, adjusted)


@lru_cache(maxsize=8)
def _adjusted_text(adjustments: tuple[Adjustment, ...]) -> str:
    """The adjustments as stored: a JSON list, "" without one."""
    if not adjustments:
        return ""
    return json.dumps([one.as_data() for one in adjustments], separators=(",", ":"))


def _write_values(connection: sqlite3.Connection, key: int, values: SessionValues) -> None:
    connection.execute(
        """UPDATE session SET mass_kg = ?, rpe = ?, note = ?, status = ?, complete = ?, adjusted = ?
        WHERE key = ?""",
        (*values, key),
    )


def write_mass(connection: sqlite3.Connection, trainee: str) -> None:
    """Set the trainee's body mass to that of their newest session that has one."""
    connection.execute(
        """UPDATE trainee SET (mass_kg, mass_date) = (
               SELECT mass_kg, local_date FROM session
               WHERE trainee = :name AND mass_kg IS NOT NULL
               ORDER BY started_utc DESC, key DESC LIMIT 1)
           WHERE name = :name""",
        {"name": trainee},
    )


def _close(connection: sqlite3.Connection, key: int, info: SessionInfo, state: State) -> None:
    at = state.log[-1].at
    local = info.local(at)
    offset = local.utcoffset()
    connection.execute(
        """UPDATE session SET ended_utc = ?, ended_offset_s = ?, ended_local_date = ?
           WHERE key = ?""",
        (
            info.utc_text(at),
            info.offset_s if offset is None else round(offset.total_seconds()),
            local.date().isoformat(),
            key,
        ),
    )
    let_rows_count(connection, key)
    _write_decisions(connection, key, info, state, info.utc_text(at))


def close_without_events(connection: sqlite3.Connection, key: int, end: datetime) -> None:
    """Close a session that has rows and no events; `end` is the last known start."""
    offset = end.utcoffset()
    connection.execute(
        """UPDATE session SET status = 'closed', ended_utc = ?, ended_offset_s = ?,
           ended_local_date = ? WHERE key = ?""",
        (
            utc_text(end),
            0 if offset is None else round(offset.total_seconds()),
            end.date().isoformat(),
            key,
        ),
    )
    let_rows_count(connection, key)


def let_rows_count(connection: sqlite3.Connection, key: int) -> None:
    """Mark the rows of a closed session that give counts to beat."""
    connection.execute(
        """UPDATE set_row SET counts = 1
           WHERE session = ? AND status = 'done' AND kind = 'work' AND pain IS NULL
           AND coalesce(reps, hold_s) IS NOT NULL""",
        (key,),
    )


def _write_decisions(
    connection: sqlite3.Connection, key: int, info: SessionInfo, state: State, since: str
) -> None:
    """Store the levels found by level finding; levels that were used are in the rows."""
    at = DecidedAt(since, info.local_date, key)
    insert_decisions(connection, info.trainee, _found_levels(state), at)


def _found_levels(state: State) -> list[LevelDecision]:
    """The levels that level finding found, for all sets."""
    found: list[LevelDecision] = []
    for name in sorted(state.workout.level_finding):
        found_level = offers.found_level(state, name)
        if found_level is not None and found_level.settled:
            level = state.workout.exercises[name].progression[found_level.index]
            parts = (
                part for part in (FIRST, LATER) if (name, part) in state.baseline.working_levels
            )
            found += [LevelDecision(name, group, level, LEVEL_FOUND) for group in ("", *parts)]
    return found
