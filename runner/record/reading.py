"""What is asked of the past. Each function takes a connection and reads what it needs, once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from runner.core.course import RECENT, HeldKey, LengthKey, find_rung
from runner.core.memory import BeatKey, LevelKey, Memory
from runner.core.progress.answers import in_force
from runner.core.session.events import Event, from_data
from runner.core.values import parse_setup
from runner.core.workout import Exercise, Rung, Workout
from runner.record import agreed, faults
from runner.record.columns import SetRow
from runner.record.info import SessionInfo, utc_text
from runner.record.set_rows import session_rows

_INFO = """SELECT s.id, s.plan, p.content, s.plan_hash, s.session, s.trainee, s.started_utc,
    s.offset_s, s.zone, s.local_date, s.version, s.trial, s.key
    FROM session s JOIN plan p ON p.hash = s.plan_hash"""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A session that was cut off: what it is, and its events from number 1 on."""

    info: SessionInfo
    events: tuple[Event, ...]

    @property
    def next_seq(self) -> int:
        """The number of the event to come."""
        return len(self.events) + 1


def session_key(connection: sqlite3.Connection, session_id: str) -> int | None:
    """The key of a session in the tables, None where there is no such session."""
    found = connection.execute("SELECT key FROM session WHERE id = ?", (session_id,)).fetchone()
    return None if found is None else int(found[0])


def is_open(connection: sqlite3.Connection, session_id: str) -> bool:
    """Whether a session was cut off, or still runs."""
    found = connection.execute("SELECT status FROM session WHERE id = ?", (session_id,)).fetchone()
    return found is not None and found[0] == "open"


def info(connection: sqlite3.Connection, session_id: str) -> SessionInfo | None:
    """A session as it was opened, None where there is no such session."""
    found = connection.execute(f"{_INFO} WHERE s.id = ?", (session_id,)).fetchone()
    return None if found is None else _info_of(found)


def _info_of(row: Sequence[str]) -> SessionInfo:
    id_, plan, text, hash_, session, trainee, started, offset, zone, day, version, trial = row[:12]
    with faults.as_written(f"session {id_}"):
        return SessionInfo(
            id_,
            plan,
            text,
            hash_,
            session,
            trainee,
            datetime.fromisoformat(started),
            int(offset),
            zone,
            date.fromisoformat(day),
            version,
            bool(trial),
        )


def events(connection: sqlite3.Connection, key: int) -> tuple[Event, ...]:
    """A session's events in their order."""
    found = connection.execute(
        "SELECT name, at, act, data FROM event WHERE session = ? ORDER BY seq", (key,)
    )
    with faults.as_written("an event"):
        return tuple(from_data(name, at, act, json.loads(data)) for name, at, act, data in found)


def unfinished(connection: sqlite3.Connection, trainee: str, plan: str) -> Unfinished | None:
    """The trainee's newest open session of that plan."""
    found = connection.execute(
        f"""{_INFO} WHERE s.trainee = ? AND s.plan = ? AND s.status = 'open'
        ORDER BY s.started_utc DESC, s.key DESC LIMIT 1""",
        (trainee, plan),
    ).fetchone()
    if found is None:
        return None
    return Unfinished(_info_of(found), events(connection, found[12]))


def sessions_on(connection: sqlite3.Connection, trainee: str, day: date) -> list[SessionInfo]:
    """A trainee's closed sessions of a local date, in their order."""
    found = connection.execute(
        f"""{_INFO} WHERE s.trainee = ? AND s.local_date = ? AND s.status = 'closed'
        ORDER BY s.started_utc, s.key""",
        (trainee, day.isoformat()),
    )
    return [_info_of(row) for row in found]


def memory(
    connection: sqlite3.Connection, trainee: str, workout: Workout, before: datetime | None = None
) -> Memory:
    """What is known of a trainee for one session: of its exercises and all their substitutes.

    `before`: what was known at that instant; else now.
    """
    place = _AFTER_NOW if before is None else round(before.timestamp() * 1000)
    since = "9" if before is None else utc_text(before)  # "9" comes after every year
    held: dict[HeldKey, int] = {}
    lengths: dict[LengthKey, tuple[float, ...]] = {}
    to_beat: dict[BeatKey, float] = {}
    best: dict[LevelKey, float] = {}
    last_used: dict[tuple[str, str], int] = {}
    for exercise in reachable(workout):
        held.update(_held(connection, trainee, exercise, since))
        lengths.update(_lengths(connection, trainee, exercise, place))
        counts = list(_to_beat(connection, trainee, exercise, place))
        last_used.update(_last_used(exercise, counts))
        for key, value, _ in counts:
            to_beat[key] = value
            most = _most(connection, trainee, key, place)
            best[key[:5]] = max(most, best.get(key[:5], most))
    agreed_on = in_force(agreed.answers(connection, trainee, before))
    known = body_mass(connection, trainee)
    mass = None if known is None else known[0]
    return Memory(held, lengths, to_beat, agreed_on, best=best, last_used=last_used, mass=mass)


def reachable(workout: Workout) -> list[Exercise]:
    """The exercises that a session can come to: those planned, and by swaps from them."""
    names = [item.exercise for block in workout.blocks for item in block.items]
    reached: dict[str, Exercise] = {}
    while names:
        name = names.pop()
        if name not in reached:
            reached[name] = workout.exercises[name]
            names.extend(reached[name].instead)
    return list(reached.values())


def _held(
    connection: sqlite3.Connection, trainee: str, exercise: Exercise, before: str
) -> Iterator[tuple[HeldKey, int]]:
    """The latest of each group of sets; a version that the ladder no longer has is none."""
    latest = connection.execute(
        """SELECT "group", version, setup, load_kg FROM held
           WHERE trainee = ? AND exercise = ? AND since <= ? ORDER BY "group", key""",
        (trainee, exercise.id, before),
    )
    versions = {rung.version for rung in exercise.ladder}
    for group, version, setup, load in latest:
        if version in versions:
            rung = Rung(version, "", parse_setup(setup), load)
            yield (exercise.id, group), find_rung(exercise, rung)


LENGTHS = """SELECT work_s FROM set_row
    WHERE trainee = ? AND exercise = ? AND version = ? AND tempo = ? AND side = ?
    AND status = 'done' AND kind = 'work' AND work_s IS NOT NULL AND place < ?
    ORDER BY place DESC LIMIT ?"""


def lengths(
    connection: sqlite3.Connection, trainee: str, workout: Workout, most: int
) -> dict[LengthKey, tuple[float, ...]]:
    """The lengths of the last work sets done, at most so many of each kind, the newest last."""
    return {
        key: found
        for exercise in reachable(workout)
        for key, found in _lengths(connection, trainee, exercise, _AFTER_NOW, most)
    }


def _lengths(
    connection: sqlite3.Connection,
    trainee: str,
    exercise: Exercise,
    before: int,
    most: int = RECENT,
) -> Iterator[tuple[LengthKey, tuple[float, ...]]]:
    kinds = dict.fromkeys((rung.version, rung.tempo or "") for rung in exercise.ladder)
    for version, tempo in kinds:
        for side in exercise.side_order:
            kind = (trainee, exercise.id, version, tempo, side)
            found = connection.execute(LENGTHS, (*kind, before, most)).fetchall()
            if found:
                yield (exercise.id, version, tempo, side), tuple(w for (w,) in reversed(found))


NEWEST_BEFORE = """SELECT version, setup, load, tempo, "set", side, coalesce(reps, hold_s), place
    FROM set_row WHERE counts = 1 AND trainee = ? AND exercise = ?
    AND (version, setup, load, tempo, "set", side, place) < (?, ?, ?, ?, ?, ?, ?) AND place < ?
    ORDER BY version DESC, setup DESC, load DESC, tempo DESC, "set" DESC, side DESC, place DESC
    LIMIT 1"""
_BEFORE_ALL = -(2**62)  # a place before that of any row
_AFTER_NOW = 2**62  # and one behind it
_AFTER_ALL = (b"", "", "", "", 0, "")  # SQLite sorts bytes after every text


def _to_beat(
    connection: sqlite3.Connection,
    trainee: str,
    exercise: Exercise,
    before: int,
) -> Iterator[tuple[BeatKey, float, int]]:
    """The newest count under every key, and its place, by one seek a key.

    Backwards from the last key. The seek starts before the oldest row of the key just had, and so
    passes over all its rows.
    """
    key: tuple[object, ...] = _AFTER_ALL
    while True:
        bound = (trainee, exercise.id, *key, _BEFORE_ALL, before)
        found = connection.execute(NEWEST_BEFORE, bound).fetchone()
        if found is None:
            return
        version, setup, load, tempo, number, side, value, place = found
        key = (version, setup, load, tempo, number, side)
        yield (exercise.id, version, setup, load, tempo, number, side), float(value), place


def _last_used(
    exercise: Exercise, counts: Iterable[tuple[BeatKey, float, int]]
) -> Iterator[tuple[tuple[str, str], int]]:
    """The level at which each version of the exercise was done last."""
    newest: dict[str, tuple[int, BeatKey]] = {}
    for key, _, place in counts:
        newest[key[1]] = max(newest.get(key[1], (place, key)), (place, key), key=lambda n: n[0])
    versions = {rung.version for rung in exercise.ladder}
    for version, (_, (_, _, setup, load, *_)) in newest.items():
        if version in versions:
            rung = Rung(version, "", parse_setup(setup), float(load) if load else None)
            yield (exercise.id, version), find_rung(exercise, rung)


MOST_OF = 100  # of the newest counts under a key, so that a long past costs no more; our choice
BEST = """SELECT max(count) FROM (
    SELECT coalesce(reps, hold_s) AS count FROM set_row WHERE counts = 1 AND trainee = ?
    AND exercise = ? AND version = ? AND setup = ? AND load = ? AND tempo = ? AND "set" = ?
    AND side = ? AND place < ? ORDER BY place DESC LIMIT ?)"""


def _most(connection: sqlite3.Connection, trainee: str, key: BeatKey, before: int) -> float:
    """The highest of the newest counts under a key that has some."""
    (most,) = connection.execute(BEST, (trainee, *key, before, MOST_OF)).fetchone()
    return float(most)


def next_session(
    connection: sqlite3.Connection, trainee: str, plan: str, ids: Sequence[str]
) -> str:
    """The session after the last one closed, going round; the first where there is none.

    A closed session that the plan no longer has is passed over, and one in which nothing was
    done: it leaves the plan where it was.
    """
    closed = connection.execute(
        """SELECT session FROM session s
           WHERE trainee = ? AND plan = ? AND status = 'closed'
           AND EXISTS (SELECT 1 FROM set_row r WHERE r.session = s.key AND r.status = 'done')
           ORDER BY started_utc DESC, key DESC""",
        (trainee, plan),
    )
    for (last,) in closed:
        if last in ids:
            return ids[(ids.index(last) + 1) % len(ids)]
    return ids[0]


def last_time(
    connection: sqlite3.Connection, trainee: str, plan: str, session: str
) -> list[SetRow]:
    """The rows of the last closed session of that kind in which a set was done."""
    found = connection.execute(
        """SELECT key FROM session s
           WHERE trainee = ? AND plan = ? AND status = 'closed' AND session = ?
           AND EXISTS (SELECT 1 FROM set_row r WHERE r.session = s.key AND r.status = 'done')
           ORDER BY started_utc DESC, key DESC LIMIT 1""",
        (trainee, plan, session),
    ).fetchone()
    return [] if found is None else session_rows(connection, found[0])


def body_mass(connection: sqlite3.Connection, trainee: str) -> tuple[float, date] | None:
    """The trainee's last body mass in kg, with its date."""
    found = connection.execute(
        "SELECT mass_kg, mass_date FROM trainee WHERE name = ? AND mass_kg IS NOT NULL", (trainee,)
    ).fetchone()
    with faults.as_written("a body mass"):
        return None if found is None else (float(found[0]), date.fromisoformat(found[1]))


def acknowledged(connection: sqlite3.Connection, trainee: str, plan: str) -> set[str]:
    """The cautions of that plan that the trainee has acknowledged."""
    found = connection.execute(
        "SELECT caution FROM acknowledged WHERE trainee = ? AND plan = ?", (trainee, plan)
    )
    return {caution for (caution,) in found}
