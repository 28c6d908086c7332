"""Reads a trainee's past: sessions, the rows of a period, decisions on levels.

Every question names a trainee, and an index answers it: a period by the local dates of its
sessions, however much else is on file. What a stored plan says of an exercise or a week is read
straight from its text, which was checked when the session was opened; so an export loads no reader
of plans.
"""

from __future__ import annotations

import sqlite3
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta, timezone
from typing import Any, Literal, NamedTuple

from msgspec import Struct, field

from runner.law.workout import YesNo
from runner.progress.history import SetRow
from runner.record.rows import ROW_COLUMNS, Filter


class SessionRow(NamedTuple):
    """One session. A `str` is free text, "" for none; elsewhere None stands for empty.

    Times are RFC 3339 in local time with its offset, the offset of that instant.
    """

    session_id: str
    session_start: str
    session_end: str | None  # None while it is open
    local_date: date  # date of its start; weeks and days are counted by it
    iso_week: str
    plan: str
    plan_hash: str
    session: str
    trainee: str
    status: Literal["open", "closed"]
    complete: YesNo | None
    # From the start of its warm-up or get-ready time to the close, without the time it was cut off.
    length_s: float | None
    mass_kg: float | None
    rpe: float | None
    note: str


class DecisionRow(NamedTuple):
    """One decision about a level; what a session used later takes its place."""

    trainee: str
    since: str  # UTC, with milliseconds: when it was written down
    exercise: str
    group: str  # group of sets: "" or the version that the plan names for them
    version: str
    setup: str
    load_kg: float | None
    reason: str
    session_id: str | None
    local_date: date  # of the level decided on
    decision_id: str
    replaces: str  # the decision before it, "" for none
    known_from: str  # the first session that was opened with it known, "" for none


class Planned(Struct, frozen=True):
    """What a stored plan says of its exercises and of the week; empty where it says nothing."""

    patterns: Mapping[str, str] = field(default_factory=dict)  # exercise id -> pattern
    muscles: tuple[str, ...] = ()  # prime movers of all exercises in its sessions
    targets: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # muscle -> sets
    all_muscles: tuple[float, float] | None = None  # sets of a muscle that has no aim of its own
    sessions: tuple[int, int] | None = None  # sessions a week, from and to

    def target(self, muscle: str) -> tuple[float, float] | None:
        """Sets a week aimed at for a muscle, None where the plan names none."""
        return self.targets.get(muscle, self.all_muscles)


_SESSION = """SELECT s.id, s.session_start, s.ended_utc, s.ended_offset_s, s.local_date,
    s.iso_week, s.plan, s.plan_hash, s.session, s.trainee, s.status, s.complete, s.started_utc,
    s.mass_kg, s.rpe, s.note, (SELECT at FROM event e WHERE e.session = s.key
    AND e.name IN ('begun', 'written') ORDER BY seq LIMIT 1),
    -- From the begin on: how long it was cut off, from the event before to each return.
    (SELECT sum(e.at - b.at) FROM event e JOIN event b ON b.session = e.session
    AND b.seq = e.seq - 1 WHERE e.session = s.key AND e.name = 'resumed'
    AND e.data LIKE '%"return"%' AND e.seq > (SELECT seq FROM event f
    WHERE f.session = s.key AND f.name = 'begun' ORDER BY seq LIMIT 1)) FROM session s"""


def sessions(connection: sqlite3.Connection, wanted: Filter) -> list[SessionRow]:
    """Sessions, open ones too, by their local dates and starts."""
    found = connection.execute(
        f"{_SESSION} WHERE {_chosen(wanted)} ORDER BY s.local_date, s.started_utc, s.key",
        wanted.values,
    )
    return [_session(row) for row in found]


def rows(connection: sqlite3.Connection, wanted: Filter) -> Iterator[SetRow]:
    """The rows of those sessions, session by session, in order; without bouts still running."""
    found = connection.execute(
        f"""SELECT {ROW_COLUMNS} FROM session s CROSS JOIN set_row r ON r.session = s.key
        WHERE {_chosen(wanted)} AND r.status <> 'running'
        ORDER BY s.local_date, s.started_utc, s.key, r.entry""",  # noqa: S608 - constants
        wanted.values,
    )
    return map(SetRow._make, found)


def level_decisions(
    connection: sqlite3.Connection, trainee: str | None = None, exercise: str | None = None
) -> list[DecisionRow]:
    """Every decision on a level, by trainee, exercise and group, the oldest first."""
    tests = {"h.trainee = ?": trainee, "h.exercise = ?": exercise}
    given = {test: value for test, value in tests.items() if value is not None}
    found = connection.execute(
        f"""SELECT h.trainee, h.since, h.exercise, h."group", h.version, h.setup, h.load_kg,
        h.reason, s.id, h.local_date, h.decision_id, h.replaces, h.known_from
        FROM held h LEFT JOIN session s ON s.key = h.session
        WHERE {" AND ".join(given) or "1"}
        ORDER BY h.trainee, h.exercise, h."group", h.since, h.decision_id""",  # noqa: S608 - constants
        tuple(given.values()),
    )
    return [DecisionRow._make((*row[:9], date.fromisoformat(row[9]), *row[10:])) for row in found]


class UseOfSession(NamedTuple):
    """What one session used of an exercise, both sides together; bests are found in these."""

    exercise: str
    exercise_name: str
    version: str
    setup: str
    load_kg: float | None
    tempo: str
    local_date: date
    best: float  # repetitions, or seconds held
    total: float


def uses(connection: sqlite3.Connection, wanted: Filter) -> Iterator[UseOfSession]:
    """Every use of an exercise in every session: work sets done, counted, and without pain.

    SQLite sums them up, so that the bests of a long past take little time and memory.
    """
    found = connection.execute(
        f"""SELECT r.exercise, r.exercise_name, r.version, r.setup, r.load_kg, r.tempo,
        s.local_date, max(coalesce(r.reps, r.hold_s)), sum(coalesce(r.reps, r.hold_s))
        FROM session s CROSS JOIN set_row r ON r.session = s.key
        WHERE {_chosen(wanted)} AND r.kind = 'work' AND r.status = 'done' AND r.pain IS NULL
        AND coalesce(r.reps, r.hold_s) IS NOT NULL
        GROUP BY s.local_date, s.started_utc, s.key,
        r.exercise, r.version, r.setup, r.load_kg, r.tempo""",  # noqa: S608 - constants
        wanted.values,
    )
    for row in found:
        day = date.fromisoformat(row[6])
        yield UseOfSession._make((*row[:6], day, float(row[7]), float(row[8])))


def last_trained(connection: sqlite3.Connection, trainee: str) -> date | None:
    """The local date of the trainee's newest session, None without one."""
    found = connection.execute(
        """SELECT local_date FROM session WHERE trainee = ?
        ORDER BY local_date DESC LIMIT 1""",
        (trainee,),
    ).fetchone()
    return None if found is None else date.fromisoformat(found[0])


def plan_text(connection: sqlite3.Connection, plan_hash: str) -> str | None:
    """The content of a stored plan, None if no plan has that hash."""
    found = connection.execute("SELECT content FROM plan WHERE hash = ?", (plan_hash,)).fetchone()
    return None if found is None else str(found[0])


def planned(content: str) -> Planned:
    """What a stored plan says; nothing for a content that is no plan."""
    try:
        data = tomllib.loads(content)
    except tomllib.TOMLDecodeError:
        return Planned()
    week = _table(data.get("week"))
    exercises = _table(data.get("exercise"))
    muscles = {name: _pair(pair) for name, pair in _table(week.get("muscles")).items()}
    every = _pair(week.get("sets"))
    asked = _pair(week.get("sessions"))
    return Planned(
        {name: str(_table(e).get("pattern", "")) for name, e in exercises.items()},
        tuple(dict.fromkeys(m for name in _done(data) for m in _prime(exercises.get(name)))),
        {name: pair for name, pair in muscles.items() if pair is not None},
        every,
        None if asked is None else (int(asked[0]), int(asked[1])),
    )


def _done(data: Mapping[str, Any]) -> Iterator[str]:
    """The exercises that a plan's sessions hold."""
    for session in _list(data.get("session")):
        for block in _list(_table(session).get("block")):
            for item in _list(_table(block).get("do")):
                yield str(_table(item).get("exercise", ""))


def _prime(exercise: object) -> list[str]:
    return [str(muscle) for muscle in _list(_table(exercise).get("prime"))]


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _chosen(wanted: Filter) -> str:
    """The conditions on a session; the first ones fit an index."""
    front = "" if wanted.trainee is None else "s.trainee = :trainee"
    return f"{front or '1'}{wanted.condition}"


def _session(row: tuple[Any, ...]) -> SessionRow:
    (id_, start, ended, offset, day, week, plan, hash_, session, trainee) = row[:10]
    status, complete, started, mass, rpe, note, begun, away = row[10:]
    end = length = None
    if ended is not None:
        at = datetime.fromisoformat(ended)
        whole = (at - datetime.fromisoformat(started)).total_seconds()
        # A session from paper ends where it begins unless its length was given.
        real = None if begun is None else max(whole - begun - (away or 0.0), 0.0)
        length = None if real is None else round(real, 1) or None
        local = at.astimezone(timezone(timedelta(seconds=offset or 0)))
        end = local.isoformat(timespec="seconds")
    return SessionRow(
        id_,
        start,
        end,
        date.fromisoformat(day),
        week,
        plan,
        hash_,
        session,
        trainee,
        status,
        complete,
        length,
        mass,
        rpe,
        note,
    )


def _table(value: object) -> Mapping[str, Any]:
    return value if isinstance(value, dict) else {}


def _pair(value: object) -> tuple[float, float] | None:
    if isinstance(value, list) and len(value) == 2:
        low, high = value
        if isinstance(low, int | float) and isinstance(high, int | float):
            return float(low), float(high)
    return None
