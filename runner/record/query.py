"""Questions about the past. Each function takes a connection and reads what it needs, once.

Sets of open sessions count for weeks, trends and bests, for they were done. Counts to beat come
only from closed sessions, for those change no more.
"""

from __future__ import annotations

import difflib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from statistics import median

from msgspec import Struct

from runner.law.course import RECENT, GroupKey, LengthKey, find_level
from runner.law.workout import Exercise, Level, Workout, parse_setup
from runner.progress.adjust import Baseline, BeatKey, LevelKey
from runner.progress.answers import in_force
from runner.progress.history import SetRow, Use
from runner.progress.levels import (
    Decision,
    LevelRow,
    TrainedSession,
    WorkingLevel,
    in_progressions,
    level_of_version,
    trained,
    working_level,
)
from runner.record import decisions, errors
from runner.record.rows import SessionInfo, session_rows, utc_text
from runner.session.events import Event, from_data

_INFO = """SELECT s.id, s.plan, p.content, s.plan_hash, s.session, s.trainee, s.started_utc,
    s.offset_s, s.zone, s.local_date, s.version, s.trial, s.key
    FROM session s JOIN plan p ON p.hash = s.plan_hash"""


class Unfinished(Struct, frozen=True):
    """A session that was cut off: what it was opened as, and its events from number 1 on."""

    info: SessionInfo
    events: tuple[Event, ...]


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
    with errors.as_written(f"session {id_}"):
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
    with errors.as_written("an event"):
        return tuple(from_data(name, at, act, json.loads(data)) for name, at, act, data in found)


def unfinished(
    connection: sqlite3.Connection, trainee: str, plan: str, running: Callable[[str], bool]
) -> tuple[Unfinished | None, SessionInfo | None]:
    """The trainee's newest cut-off session of that plan, and the newest that is `running`."""
    found = connection.execute(
        f"""{_INFO} WHERE s.trainee = ? AND s.plan = ? AND s.status = 'open'
        ORDER BY s.started_utc DESC, s.key DESC""",
        (trainee, plan),
    )
    runs = None
    for row in found.fetchall():
        if not running(row[0]):
            return Unfinished(_info_of(row), events(connection, row[12])), runs
        runs = runs or _info_of(row)
    return None, runs


def sessions_on(connection: sqlite3.Connection, trainee: str, day: date) -> list[SessionInfo]:
    """A trainee's closed sessions of a local date, in order."""
    found = connection.execute(
        f"""{_INFO} WHERE s.trainee = ? AND s.local_date = ? AND s.status = 'closed'
        ORDER BY s.started_utc, s.key""",
        (trainee, day.isoformat()),
    )
    return [_info_of(row) for row in found]


def baseline(
    connection: sqlite3.Connection,
    trainee: str,
    workout: Workout,
    before: datetime | None = None,
    written: Mapping[GroupKey, Use] | None = None,
) -> Baseline:
    """What is known of a trainee for one session: its exercises and all their substitutes.

    `before`: as it was known at that instant; by default now. `written`: levels of the session's
    own exercises that a sheet states; they replace those known.
    """
    place = _place(before)
    lengths: dict[LengthKey, tuple[float, ...]] = {}
    to_beat: dict[BeatKey, float] = {}
    best: dict[LevelKey, float] = {}
    last_used: dict[tuple[str, str], int] = {}
    news: list[str] = []
    unmeasured: list[tuple[BeatKey, float, int]] = []
    found = levels(connection, trainee, [workout], before)
    if written is not None:
        here = {name for name, _ in written}
        found = {key: level for key, level in found.items() if key[0] not in here}
        found |= {key: WorkingLevel(use, date.min) for key, use in written.items()}
    exercises, working = in_progressions(workout.exercises, found)
    for exercise in reachable(workout):
        lengths.update(_lengths(connection, trainee, exercise, place))
        counts = list(_to_beat(connection, trainee, exercise, place))
        last_used.update(_last_used(exercises[exercise.id], counts))
        for key, value, when in counts:
            to_beat[key] = value
            of_reps = exercise.at(key[1]).measure == "reps" and not key[4]
            if of_reps and (exercise.id, key[1], "", key[6]) not in lengths:
                unmeasured.append((key, value, when))
            most = _most(connection, trainee, key, place)
            best[key[:5]] = max(most, best.get(key[:5], most))
        news += _news(connection, trainee, exercise.id)
    if unmeasured:
        paces = {e.id: _paces(connection, trainee, e, place) for e in reachable(workout)}
        lengths |= _at_pace(unmeasured, paces)
    known = body_mass(connection, trainee)
    return Baseline(
        working,
        lengths,
        to_beat,
        in_force(decisions.answers(connection, trainee, before), workout=workout),
        best=best,
        last_used=last_used,
        mass=None if known is None else known[0],
        off_range=tuple(_off_range(workout, found)),
        news=tuple(news),
    )


def _place(before: datetime | None) -> int:
    return _AFTER_NOW if before is None else round(before.timestamp() * 1000)


def _off_range(
    workout: Workout, found: Mapping[GroupKey, WorkingLevel]
) -> Iterator[tuple[str, str, str, float | None]]:
    """The levels that change a progression, in the order in which they do so."""
    exercises = dict(workout.exercises)
    for key, level in found.items():
        more, _ = in_progressions(exercises, {key: level})
        if more != exercises:
            yield key[0], level.use.version, level.use.setup, level.use.load
        exercises = more


def reachable(workout: Workout) -> list[Exercise]:
    """The exercises that a session may hold: those planned, and by swaps from them."""
    names = [item.exercise for block in workout.blocks for item in block.items]
    reached: dict[str, Exercise] = {}
    while names:
        name = names.pop()
        if name not in reached:
            reached[name] = workout.exercises[name]
            names.extend(reached[name].instead)
    return list(reached.values())


def levels(
    connection: sqlite3.Connection,
    trainee: str,
    workouts: Iterable[Workout],
    before: datetime | None = None,
    *,
    since: bool = False,
) -> dict[GroupKey, WorkingLevel]:
    """The working levels in all exercises that these sessions may hold.

    For every group of sets that has a level of its own, and for those that the sessions name.
    """
    groups: dict[str, dict[str, None]] = {}
    exercises: dict[str, Exercise] = {}
    for workout in workouts:
        for exercise in reachable(workout):
            exercises[exercise.id] = exercise
            groups.setdefault(exercise.id, {}).update(dict.fromkeys(_groups(workout, exercise.id)))
    found: dict[GroupKey, WorkingLevel] = {}
    for name, exercise in exercises.items():
        of = _Sessions(connection, trainee, name, _place(before))
        decided = _decisions(connection, trainee, name, before)
        own = dict.fromkeys(sorted({*of.groups(), *decided}))
        for group in dict.fromkeys((*own, *groups[name])):
            decisions = decided.get(group, ())
            level = working_level(exercise, group, of.newest(group), decisions, since=since)
            if level is None and group in groups[name]:
                done = {one: of.newest(one) for one in own}
                level = level_of_version(exercise, group, done, decided, since=since)
            if level is not None:
                found[name, group] = level
    return found


def _groups(workout: Workout, exercise: str) -> list[str]:
    """The groups of sets of an exercise in a session; an exercise that a swap brings has one."""
    items = [i for block in workout.blocks for i in block.items if i.exercise == exercise]
    return [group for item in items for group in item.versions or ("",)] or [""]


class _Sessions:
    """What a trainee did of one exercise, session by session, the newest first."""

    def __init__(
        self, connection: sqlite3.Connection, trainee: str, exercise: str, before: int
    ) -> None:
        self._connection = connection
        self._key = (trainee, exercise)
        self._before = before

    def groups(self) -> list[str]:
        """The groups of sets that were done at least once."""
        found: list[str] = []
        while True:  # one index seek for each group
            (group,) = self._connection.execute(
                f"""SELECT min(set_group) FROM set_row r
                WHERE trainee = ? AND exercise = ? AND set_group > ? AND {_DONE}""",  # noqa: S608 - a constant
                (*self._key, found[-1] if found else _BEFORE_EVERY_TEXT),
            ).fetchone()
            if group is None:
                return found
            found.append(group)

    def newest(self, group: str) -> Iterator[TrainedSession]:
        """Its sessions that count for a working level."""
        seen: set[int] = set()
        bound, rows = (self._before, 0, 0), _FEW
        while True:
            page = self._connection.execute(
                f"""SELECT place, session, entry FROM set_row r
                WHERE trainee = ? AND exercise = ? AND set_group = ? AND {_DONE}
                AND (place, session, entry) < (?, ?, ?)
                ORDER BY place DESC, session DESC, entry DESC LIMIT {rows}""",  # noqa: S608 - constants
                (*self._key, group, *bound),
            ).fetchall()
            for bound in page:
                if bound[1] not in seen:
                    seen.add(bound[1])
                    found = self._session(bound[1], group)
                    if found is not None:
                        yield found
            if len(page) < rows:
                return
            rows = _MANY

    def _session(self, session: int, group: str) -> TrainedSession | None:
        found = self._connection.execute(
            f"""SELECT s.id, s.session_start, r."set", r.kind, r.status, r.measure, r.reps,
            r.hold_s, r.version, r.setup, r.load_kg, r.set_start, r.pain, r.deload,
            r.level_finding, r.today_only, r.swapped_for,
            NOT EXISTS (SELECT 1 FROM event e WHERE e.session = s.key)
            FROM set_row r JOIN session s ON s.key = r.session
            WHERE r.session = ? AND r.exercise = ? AND r.set_group = ? AND {_DONE}
            ORDER BY r.entry""",  # noqa: S608 - a constant
            (session, self._key[1], group),
        ).fetchall()
        with errors.as_written("a row"):
            rows = (LevelRow._make(row[:-1]) for row in found)
            return trained(rows, imported=bool(found[0][-1]))


_BEFORE_EVERY_TEXT = -1  # SQLite sorts numbers before texts
_FEW, _MANY = 4, 64  # rows read at first: the newest session is mostly enough; our choice
_DONE = "r.kind = 'work' AND r.status = 'done'"


def _decisions(
    connection: sqlite3.Connection, trainee: str, exercise: str, before: datetime | None
) -> dict[str, list[Decision]]:
    """The decisions about an exercise by group of sets, as far as they were known `before`."""
    found = connection.execute(
        """SELECT h."group", h.version, h.setup, h.load_kg, h.local_date, h.reason, h.decision_id,
        h.since, h.known_from, h.imported, s.session_start
        FROM held h LEFT JOIN session s ON s.id = h.known_from
        WHERE h.trainee = ? AND h.exercise = ? ORDER BY h.local_date, h.since, h.decision_id""",
        (trainee, exercise),
    )
    decisions: dict[str, list[Decision]] = {}
    with errors.as_written("a decision"):
        for group, version, setup, load, on, reason, name, since, known, imported, start in found:
            one = Decision(
                Use(version, setup, load),
                date.fromisoformat(on),
                reason,
                name,
                since,
                _start_of(known, start),
                bool(imported),
            )
            if before is None or _was_known(one, before):
                decisions.setdefault(group, []).append(one)
    return decisions


def _was_known(decision: Decision, before: datetime) -> bool:
    same_day = decision.on == before.date() and decision.since <= utc_text(before)
    return decision.on < before.date() or same_day


def _start_of(session_id: str, start: str | None) -> datetime | None:
    """When the session of that id began; the id itself says it, even for one not on file."""
    if not session_id:
        return None
    try:
        return datetime.strptime(session_id[:15], "%Y%m%d-%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None if start is None else datetime.fromisoformat(start)


def _news(connection: sqlite3.Connection, trainee: str, exercise: str) -> list[str]:
    """The decisions about an exercise with which no session was opened yet."""
    found = connection.execute(
        """SELECT decision_id FROM held
        WHERE trainee = ? AND exercise = ? AND known_from = '' ORDER BY since, decision_id""",
        (trainee, exercise),
    )
    return [name for (name,) in found]


LENGTHS = """SELECT work_s FROM set_row
    WHERE trainee = ? AND exercise = ? AND version = ? AND tempo = ? AND side = ?
    AND status = 'done' AND kind = 'work' AND work_s IS NOT NULL AND place < ?
    ORDER BY place DESC LIMIT ?"""


def lengths(
    connection: sqlite3.Connection, trainee: str, workout: Workout, most: int
) -> dict[LengthKey, tuple[float, ...]]:
    """The lengths of the last work sets done, at most that many of each kind, the newest last."""
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
    kinds = dict.fromkeys((level.version, level.tempo or "") for level in exercise.progression)
    for version, tempo in kinds:
        for side in exercise.at(version).side_order:
            kind = (trainee, exercise.id, version, tempo, side)
            found = connection.execute(LENGTHS, (*kind, before, most)).fetchall()
            if found:
                yield (exercise.id, version, tempo, side), tuple(w for (w,) in reversed(found))


# Sets from paper have counts and no lengths. Once the trainee has done sets live, their lengths are
# estimated at that pace: the exercise's own at another version, else that of all exercises.

PACES = LENGTHS.replace("SELECT work_s", "SELECT work_s / reps").replace(
    "AND place < ?", "AND reps > 0 AND work_s > 0 AND place < ?"
)


def _paces(
    connection: sqlite3.Connection, trainee: str, exercise: Exercise, before: int
) -> list[float]:
    """Seconds a repetition in the last sets done live, of each version without a tempo."""
    found: list[float] = []
    for version in dict.fromkeys(one.version for one in exercise.progression if not one.tempo):
        for side in exercise.at(version).side_order:
            kind = (trainee, exercise.id, version, "", side)
            found += (pace for (pace,) in connection.execute(PACES, (*kind, before, RECENT)))
    return found


def _at_pace(
    counts: Iterable[tuple[BeatKey, float, int]], paces: Mapping[str, Sequence[float]]
) -> dict[LengthKey, tuple[float, ...]]:
    """Lengths estimated for the newest counts of each kind, at the pace of the sets done live."""
    every = [pace for some in paces.values() for pace in some]
    newest: dict[LengthKey, list[tuple[int, float]]] = {}
    for key, value, when in counts if every else ():
        pace = median(paces[key[0]] or every)
        newest.setdefault((key[0], key[1], "", key[6]), []).append((when, value * pace))
    return {
        key: tuple(seconds for _, seconds in sorted(found)[-RECENT:])
        for key, found in newest.items()
    }


NEWEST_BEFORE = """SELECT version, setup, load, tempo, "set", side, coalesce(reps, hold_s), place
    FROM set_row WHERE counts = 1 AND trainee = ? AND exercise = ?
    AND (version, setup, load, tempo, "set", side, place) < (?, ?, ?, ?, ?, ?, ?) AND place < ?
    ORDER BY version DESC, setup DESC, load DESC, tempo DESC, "set" DESC, side DESC, place DESC
    LIMIT 1"""
_BEFORE_ALL = -(2**62)  # before the place of any row
_AFTER_NOW = 2**62  # after it
_AFTER_ALL = (b"", "", "", "", 0, "")  # SQLite sorts bytes after every text


def _to_beat(
    connection: sqlite3.Connection,
    trainee: str,
    exercise: Exercise,
    before: int,
) -> Iterator[tuple[BeatKey, float, int]]:
    """The newest count under every key, and its place, by one index seek for each key.

    Reads backwards from the last key. Each seek starts before the oldest row of the key just found,
    and so skips all its rows.
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
    """The level at which each version of the exercise was last done."""
    newest: dict[str, tuple[int, BeatKey]] = {}
    for key, _, place in counts:
        newest[key[1]] = max(newest.get(key[1], (place, key)), (place, key), key=lambda n: n[0])
    versions = {level.version for level in exercise.progression}
    for version, (_, (_, _, setup, load, *_)) in newest.items():
        if version in versions:
            level = Level(version, "", parse_setup(setup), float(load) if load else None)
            yield (exercise.id, version), find_level(exercise, level)


MOST_OF = 100  # newest counts read for each key, so that a long past costs no more; our choice
BEST = """SELECT max(count) FROM (
    SELECT coalesce(reps, hold_s) AS count FROM set_row WHERE counts = 1 AND trainee = ?
    AND exercise = ? AND version = ? AND setup = ? AND load = ? AND tempo = ? AND "set" = ?
    AND side = ? AND place < ? ORDER BY place DESC LIMIT ?)"""


def _most(connection: sqlite3.Connection, trainee: str, key: BeatKey, before: int) -> float:
    """The highest of the newest counts under a key."""
    (most,) = connection.execute(BEST, (trainee, *key, before, MOST_OF)).fetchone()
    return float(most)


def first_day(connection: sqlite3.Connection, trainee: str, plan: str) -> date | None:
    """The local date of the first session with a plan in which a set was done."""
    (found,) = connection.execute(
        """SELECT min(local_date) FROM session s WHERE trainee = ? AND plan = ?
           AND EXISTS (SELECT 1 FROM set_row r WHERE r.session = s.key AND r.status = 'done')""",
        (trainee, plan),
    ).fetchone()
    return None if found is None else date.fromisoformat(found)


def next_session(
    connection: sqlite3.Connection, trainee: str, plan: str, ids: Sequence[str]
) -> str:
    """The session that is due: the one after the last one closed, going round; at first the first.

    Passes over a closed session that the plan no longer has, and one in which no set was done.
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
    with errors.as_written("a body mass"):
        return None if found is None else (float(found[0]), date.fromisoformat(found[1]))


def acknowledged(connection: sqlite3.Connection, trainee: str, plan: str) -> set[str]:
    """The cautions of that plan that the trainee has acknowledged."""
    found = connection.execute(
        "SELECT caution FROM acknowledged WHERE trainee = ? AND plan = ?", (trainee, plan)
    )
    return {caution for (caution,) in found}


# The trainees and the plans that the record knows.


def trainees(connection: sqlite3.Connection) -> list[str]:
    """All trainees, by name."""
    return [name for (name,) in connection.execute("SELECT name FROM trainee ORDER BY name")]


def plans(connection: sqlite3.Connection, trainee: str | None = None) -> list[str]:
    """The titles of all plans from which a session was opened, or of those of one trainee."""
    found = connection.execute(
        "SELECT DISTINCT plan FROM session WHERE ?1 IS NULL OR trainee = ?1 ORDER BY plan",
        (trainee,),
    )
    return [title for (title,) in found]


def similar(connection: sqlite3.Connection, name: str) -> list[str]:
    """Known names like `name`, the nearest first, without `name` itself; ignores case."""
    by_fold: dict[str, list[str]] = {}
    for known in trainees(connection):
        if known != name:
            by_fold.setdefault(known.casefold(), []).append(known)
    near = difflib.get_close_matches(name.casefold(), by_fold, n=5, cutoff=0.6)
    return [known for fold in near for known in by_fold[fold]]
