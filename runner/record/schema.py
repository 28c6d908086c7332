"""The tables, and how a file of an earlier form is brought up to date.

`PRAGMA user_version` holds the form; `application_id` marks the file as ours. All migrations that a
file lacks run in one transaction, so nobody sees it between two forms. A released migration never
changes; a new form is a new migration.
"""

from __future__ import annotations

import json
import re
import sqlite3
import tomllib
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from runner.output import APPLICATION_ID
from runner.record import errors

# SQL statements, and functions that fill new columns from the rows on file.
Migration = Sequence[str | Callable[[sqlite3.Connection], None]]

_FIRST: Migration = (
    # A plan's content is stored once for all sessions run from it.
    "CREATE TABLE plan (hash TEXT PRIMARY KEY NOT NULL, content TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE trainee (
        name TEXT PRIMARY KEY NOT NULL,
        mass_kg REAL,
        mass_date TEXT
    ) WITHOUT ROWID""",
    """CREATE TABLE session (
        key INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        plan TEXT NOT NULL,
        plan_hash TEXT NOT NULL REFERENCES plan (hash),
        session TEXT NOT NULL,
        trainee TEXT NOT NULL REFERENCES trainee (name),
        started_utc TEXT NOT NULL,
        session_start TEXT NOT NULL, -- the same in local time, as exported
        offset_s INTEGER NOT NULL,
        zone TEXT NOT NULL,
        local_date TEXT NOT NULL,
        iso_week TEXT NOT NULL, -- SQLite before 3.46 cannot compute it
        version TEXT NOT NULL,
        trial INTEGER NOT NULL CHECK (trial IN (0, 1)),
        ended_utc TEXT,
        ended_offset_s INTEGER,
        ended_local_date TEXT,
        status TEXT NOT NULL DEFAULT 'open' CHECK (status IN ('open', 'closed')),
        complete TEXT CHECK (complete IN ('yes', 'no')),
        mass_kg REAL,
        rpe REAL,
        note TEXT NOT NULL DEFAULT ''
    )""",
    "CREATE INDEX session_of_trainee ON session (trainee, plan, status, started_utc)",
    """CREATE TABLE event (
        session INTEGER NOT NULL REFERENCES session (key),
        seq INTEGER NOT NULL, -- 1, 2, ... without gaps
        at REAL NOT NULL, -- session seconds
        utc TEXT NOT NULL,
        act INTEGER NOT NULL,
        name TEXT NOT NULL,
        data TEXT NOT NULL, -- JSON object of the event's own fields
        PRIMARY KEY (session, seq)
    ) WITHOUT ROWID""",
    """CREATE TABLE set_row (
        session INTEGER NOT NULL REFERENCES session (key),
        entry INTEGER NOT NULL, -- running number in the session
        place INTEGER NOT NULL, -- start in ms since 1970; a skipped set's: of the one before
        trainee TEXT NOT NULL REFERENCES trainee (name),
        load TEXT NOT NULL, -- load_kg as text, for an index without NULL
        counts INTEGER NOT NULL CHECK (counts IN (0, 1)), -- can be held against the next time
        block INTEGER NOT NULL,
        round INTEGER NOT NULL,
        exercise TEXT NOT NULL,
        exercise_name TEXT NOT NULL,
        prime_movers TEXT NOT NULL,
        synergists TEXT NOT NULL,
        version TEXT NOT NULL,
        setup TEXT NOT NULL,
        load_kg REAL,
        "set" INTEGER NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('work', 'ramp')),
        side TEXT NOT NULL CHECK (side IN ('both', 'left', 'right')),
        status TEXT NOT NULL CHECK (status IN ('running', 'done', 'broken', 'skipped')),
        measure TEXT NOT NULL CHECK (measure IN ('reps', 'hold')),
        reps INTEGER,
        hold_s REAL,
        reserve INTEGER,
        reserve_aimed INTEGER NOT NULL,
        set_start TEXT,
        started_by TEXT CHECK (started_by IN ('clock', 'person')),
        work_s REAL,
        rest_before_s REAL,
        recovery_s REAL,
        to_beat REAL,
        beaten TEXT CHECK (beaten IN ('yes', 'no')),
        tempo TEXT NOT NULL,
        pain TEXT CHECK (pain = 'yes'),
        note TEXT NOT NULL,
        corrected TEXT NOT NULL CHECK (corrected IN ('yes', 'no')),
        PRIMARY KEY (session, entry)
    ) WITHOUT ROWID""",
    "CREATE INDEX set_row_in_order ON set_row (place, session, entry)",
    "CREATE INDEX set_row_of_trainee ON set_row (trainee, place, session, entry)",
    # Read backwards, each key's newest row comes first: one seek a key, however long the past.
    """CREATE INDEX set_row_last_time ON set_row
        (trainee, exercise, version, setup, load, tempo, "set", side, place)
        WHERE counts = 1""",
    """CREATE INDEX set_row_lengths ON set_row
        (trainee, exercise, version, tempo, side, place)
        WHERE status = 'done' AND kind = 'work' AND work_s IS NOT NULL""",
    """CREATE TABLE acknowledged (
        trainee TEXT NOT NULL REFERENCES trainee (name),
        plan TEXT NOT NULL,
        caution TEXT NOT NULL,
        utc TEXT NOT NULL,
        PRIMARY KEY (trainee, plan, caution)
    ) WITHOUT ROWID""",
    """CREATE TABLE held (
        key INTEGER PRIMARY KEY, -- the latest is in force
        trainee TEXT NOT NULL REFERENCES trainee (name),
        exercise TEXT NOT NULL,
        "group" TEXT NOT NULL, -- of sets: '' or the version that the plan names for them
        version TEXT NOT NULL,
        setup TEXT NOT NULL,
        load_kg REAL,
        since TEXT NOT NULL, -- UTC
        reason TEXT NOT NULL,
        session INTEGER NOT NULL REFERENCES session (key)
    )""",
    'CREATE INDEX held_of_trainee ON held (trainee, exercise, "group", key)',
)

_BY_DATE: Migration = (
    # A week, or a month, of one trainee: one seek, however long the past.
    "CREATE INDEX session_by_date ON session (trainee, local_date, started_utc, key)",
)

_AGREED: Migration = (
    # A level may be decided without a session.
    """CREATE TABLE held_now (
        key INTEGER PRIMARY KEY, -- the latest is in force
        trainee TEXT NOT NULL REFERENCES trainee (name),
        exercise TEXT NOT NULL,
        "group" TEXT NOT NULL, -- of sets: '' or the version that the plan names, or a part of it
        version TEXT NOT NULL,
        setup TEXT NOT NULL,
        load_kg REAL,
        since TEXT NOT NULL, -- UTC
        reason TEXT NOT NULL,
        session INTEGER REFERENCES session (key)
    )""",
    "INSERT INTO held_now SELECT * FROM held",
    "DROP TABLE held",
    "ALTER TABLE held_now RENAME TO held",
    'CREATE INDEX held_of_trainee ON held (trainee, exercise, "group", key)',
    """CREATE TABLE answer (
        key INTEGER PRIMARY KEY,
        trainee TEXT NOT NULL REFERENCES trainee (name),
        exercise TEXT NOT NULL,
        "group" TEXT NOT NULL,
        rule TEXT NOT NULL,
        reason TEXT NOT NULL,
        change TEXT NOT NULL, -- JSON object of what was proposed
        accepted INTEGER NOT NULL CHECK (accepted IN (0, 1)),
        local_date TEXT NOT NULL,
        utc TEXT NOT NULL,
        session INTEGER REFERENCES session (key) -- after which it was given
    )""",
    "CREATE INDEX answer_of_trainee ON answer (trainee, key)",
    # JSON list of how the session differed from the plan, empty where it did not.
    "ALTER TABLE session ADD COLUMN adjusted TEXT NOT NULL DEFAULT ''",
)


def _fill_deloads(connection: sqlite3.Connection) -> None:
    """Mark the rows of a deload or of level finding, by the adjustments of their session."""
    columns = {"no count": "deload", "placing": "level_finding"}
    adjusted = connection.execute("SELECT key, adjusted FROM session WHERE adjusted <> ''")
    for key, text in adjusted.fetchall():
        for one in json.loads(text):
            if one["kind"] in columns:
                exercise = one.get("exercise", "")
                connection.execute(
                    f"""UPDATE set_row SET {columns[one["kind"]]} = 'yes'
                    WHERE session = ? AND (exercise = ? OR ? = '')""",  # noqa: S608 - named above
                    (key, exercise, exercise),
                )


def _fill_groups(connection: sqlite3.Connection) -> None:
    """Fill in the group of sets of rows whose session's plan names versions for its sets.

    Only for sessions that went as planned: in others the sets have other numbers.
    """
    plans = connection.execute("SELECT hash, content FROM plan WHERE content LIKE '%versions%'")
    for plan, content in plans.fetchall():
        try:
            found = [(s.get("id"), _groups_of(s)) for s in tomllib.loads(content)["session"]]
        except (tomllib.TOMLDecodeError, KeyError, AttributeError, TypeError):
            continue  # the content is no plan
        for session, by_exercise in found:
            for exercise, groups in by_exercise.items():
                connection.executemany(
                    """UPDATE set_row SET set_group = ? WHERE exercise = ? AND "set" = ?
                    AND session IN (SELECT key FROM session
                    WHERE plan_hash = ? AND session = ? AND adjusted = '')""",
                    [
                        (group, exercise, number, plan, session)
                        for number, group in enumerate(groups, 1)
                        if group
                    ],
                )


def _groups_of(session: Mapping[str, Any]) -> dict[str, list[str]]:
    """The group of each set of a session of a plan file, by exercise."""
    groups: dict[str, list[str]] = {}
    for block in session.get("block", []):
        for item in block.get("do", []):
            named = list(item.get("versions", [""] * item.get("sets", 0)))
            sets = named[:1] * item.get("ramp", 0) + named
            groups.setdefault(item.get("exercise"), []).extend(sets)
    return groups


def _fill_swaps(connection: sqlite3.Connection) -> None:
    """Fill in the exercise that each row replaced, by the swaps that were not undone."""
    events = connection.execute(
        """SELECT session, name, act, data FROM event
        WHERE name IN ('swapped', 'undone') ORDER BY session, seq"""
    ).fetchall()
    undone = {(key, json.loads(data)["of"]) for key, name, _, data in events if name == "undone"}
    planned: dict[tuple[int, int, str], str] = {}  # by session, block and substitute
    for key, name, act, text in events:
        if name == "undone" or (key, act) in undone:
            continue
        data = json.loads(text)
        block, exercise = data["block"], data["exercise"]
        planned[key, block, data["to"]] = planned.get((key, block, exercise), exercise)
    connection.executemany(
        "UPDATE set_row SET swapped_for = ? WHERE (session, block, exercise) = (?, ?, ?)",
        [(exercise, *where) for where, exercise in planned.items() if exercise != where[2]],
    )


def _fill_pain(connection: sqlite3.Connection) -> None:
    """Move the place of a pain out of the notes, where it stood until now."""
    found = connection.execute("SELECT session, entry, note FROM set_row WHERE pain = 'yes'")
    for key, entry, note in found.fetchall():
        lines = (line.removeprefix("pain: ") for line in note.splitlines() if line[:6] == "pain: ")
        where = "; ".join(dict.fromkeys(filter(None, lines)))
        connection.execute(
            "UPDATE set_row SET pain_where = ? WHERE (session, entry) = (?, ?)", (where, key, entry)
        )


_ROWS_SAY_MORE: Migration = (
    "ALTER TABLE set_row ADD COLUMN set_group TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE set_row ADD COLUMN deload TEXT CHECK (deload = 'yes')",
    "ALTER TABLE set_row ADD COLUMN level_finding TEXT CHECK (level_finding = 'yes')",
    "ALTER TABLE set_row ADD COLUMN today_only TEXT CHECK (today_only = 'yes')",
    "ALTER TABLE set_row ADD COLUMN swapped_for TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE set_row ADD COLUMN pain_where TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE set_row ADD COLUMN corrected_at TEXT",  # local, with its offset
    _fill_groups,
    _fill_deloads,
    _fill_swaps,
    _fill_pain,
)


def _fill_decisions(connection: sqlite3.Connection) -> None:
    """Date each decision, name it, and find the first session that was opened knowing it.

    A session written up from paper knew only what was decided before its date.
    """
    connection.execute(
        """UPDATE held SET local_date = coalesce(
            (SELECT s.local_date FROM session s WHERE s.key = held.session),
            substr(since, 1, 10))"""
    )
    connection.execute(
        """UPDATE held SET known_from = coalesce(
            (SELECT s.id FROM session s WHERE s.trainee = held.trainee
            AND s.started_utc >= held.since AND s.key IS NOT held.session
            AND EXISTS (SELECT 1 FROM event e WHERE e.session = s.key)
            AND NOT EXISTS (SELECT 1 FROM event e WHERE e.session = s.key AND e.name = 'written')
            ORDER BY s.started_utc, s.key LIMIT 1), '')"""
    )
    newest: dict[tuple[str, ...], str] = {}
    found = connection.execute(
        'SELECT key, trainee, since, exercise, "group" FROM held ORDER BY key'
    )
    for key, trainee, since, exercise, group in found.fetchall():
        name = decision_id(connection, trainee, since, exercise, group)
        replaces = newest.get((trainee, exercise, group), "")
        newest[trainee, exercise, group] = name
        connection.execute(
            "UPDATE held SET decision_id = ?, replaces = ? WHERE key = ?", (name, replaces, key)
        )


def decision_id(
    connection: sqlite3.Connection, trainee: str, since: str, exercise: str, group: str
) -> str:
    """An id for a decision written down at `since` (UTC): the same in every copy of a record."""
    name = first_name(since, exercise, group)
    (alike,) = connection.execute(
        """SELECT count(*) FROM held WHERE trainee = ?
        AND (decision_id = ? OR decision_id LIKE ? || '#%')""",
        (trainee, name, name),
    ).fetchone()
    return f"{name}#{alike + 1}" if alike else name


def first_name(since: str, exercise: str, group: str) -> str:
    """The id of a decision, where no other of that instant has it."""
    stamp = since.translate(str.maketrans("T", "-", "-:Z"))
    return f"{stamp}-{exercise}" + (f"/{group}" if group else "")


_LEVELS: Migration = (
    "ALTER TABLE held ADD COLUMN local_date TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE held ADD COLUMN decision_id TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE held ADD COLUMN replaces TEXT NOT NULL DEFAULT ''",  # an id, '' for none
    # Id of the first session that was opened with the decision known, '' for none.
    "ALTER TABLE held ADD COLUMN known_from TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE held ADD COLUMN imported INTEGER NOT NULL DEFAULT 0",
    _fill_decisions,
    "CREATE INDEX held_by_id ON held (trainee, decision_id)",
    # A group's sessions, newest first: one index seek, however long the past.
    """CREATE INDEX set_row_of_group ON set_row
        (trainee, exercise, set_group, place, session, entry)
        WHERE kind = 'work' AND status = 'done'""",
)


def settle_order(connection: sqlite3.Connection, trainee: str | None = None) -> None:
    """Order one person's sessions of the same instant (written up from paper) by their ids.

    Their keys break the tie wherever sessions are read in order, and keys depend on arrival. So two
    records with the same sessions would print them in different orders.
    """
    found = connection.execute(
        """SELECT trainee, started_utc FROM session WHERE ? IS NULL OR trainee = ?
        GROUP BY trainee, started_utc HAVING count(*) > 1""",
        (trainee, trainee),
    )
    for tied in found.fetchall():
        keys = dict(
            connection.execute(
                "SELECT id, key FROM session WHERE (trainee, started_utc) = (?, ?) ORDER BY key",
                tied,
            ).fetchall()
        )
        if list(keys) == sorted(keys):
            continue
        connection.execute("PRAGMA defer_foreign_keys = ON")
        for id_, key in zip(sorted(keys), keys.values(), strict=True):
            _move_session(connection, keys[id_], -key)
        for key in keys.values():
            _move_session(connection, -key, key)


def _move_session(connection: sqlite3.Connection, old: int, new: int) -> None:
    connection.execute("UPDATE session SET key = ? WHERE key = ?", (new, old))
    for table in ("event", "set_row", "held", "answer"):
        connection.execute(f"UPDATE {table} SET session = ? WHERE session = ?", (new, old))  # noqa: S608 - names above


_HANDED_OVER: Migration = (
    # A correction has an id of its own; one older than these ids is SESSION/NUMBER.
    "ALTER TABLE event ADD COLUMN id TEXT NOT NULL DEFAULT ''",
    # Logs of a session that differ from the one in force, whole, as they were received.
    """CREATE TABLE aside (
        trainee TEXT NOT NULL REFERENCES trainee (name),
        session TEXT NOT NULL, -- its id
        digest TEXT NOT NULL,
        content TEXT NOT NULL, -- JSON
        PRIMARY KEY (session, digest)
    ) WITHOUT ROWID""",
    settle_order,
)

_SHEETS: Migration = (
    # A sheet for print and phone: its id, as a person types it, stands for all that is on it.
    """CREATE TABLE sheet (
        id TEXT PRIMARY KEY NOT NULL,
        trainee TEXT NOT NULL REFERENCES trainee (name),
        plan TEXT NOT NULL,
        plan_hash TEXT NOT NULL REFERENCES plan (hash),
        session TEXT NOT NULL,
        levels TEXT NOT NULL, -- JSON list of exercise, group of sets, version, set-up, load in kg
        changes TEXT NOT NULL, -- JSON list of what was different from the plan
        made TEXT NOT NULL -- UTC
    ) WITHOUT ROWID""",
    "CREATE INDEX sheet_of_trainee ON sheet (trainee, made)",
)

MIGRATIONS: tuple[Migration, ...] = (
    _FIRST,
    _BY_DATE,
    _AGREED,
    _ROWS_SAY_MORE,
    _LEVELS,
    _HANDED_OVER,
    _SHEETS,
)
VERSION = len(MIGRATIONS)


def form_of(connection: sqlite3.Connection) -> tuple[int, int]:
    """The file's application id and form; (0, 0) of an empty file."""
    return _pragma(connection, "application_id"), _pragma(connection, "user_version")


def check(connection: sqlite3.Connection, path: Path | str) -> int:
    """The form of a record of ours, 0 of an empty file. Raises MatsideError for any other file."""
    # One transaction: another program may make the file between two queries.
    connection.execute("BEGIN")
    try:
        application, form = form_of(connection)
        empty = application == 0 and form == 0 and not _has_content(connection)
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
    if empty:
        return 0
    if application != APPLICATION_ID or form < 1:
        raise errors.not_ours(path, "it is a database of another program")
    if form > VERSION:
        raise errors.newer(path, form, VERSION)
    wrong = _unlike_ours(connection, form)
    if wrong:
        raise errors.damaged(path, wrong)
    return form


def _unlike_ours(connection: sqlite3.Connection, form: int) -> str:
    """How a file's tables differ from ours of that form; empty where they do not.

    A strange table, column, index, view or trigger may hold code that SQLite would run, or block
    what is written. So a file that is not built like ours is not used at all.
    """
    there, ours = _built(connection), _as_we_build(form)
    for name, columns in ours.items():
        if name not in there:
            return f"the {name} is missing"
        if there[name] != columns:
            lacking = [column[0] for column in columns[:-1] if column not in there[name]]
            what = (
                f"the column {lacking[0]} is missing or different"
                if lacking
                else "it has more or other columns or checks"
            )
            return f"its {name} is not as matside makes it: {what}"
    more = [name for name in there if name not in ours]
    return f"it holds {more[0]}, which matside does not make" if more else ""


_Columns = tuple[tuple[Any, ...], ...]


@cache
def _as_we_build(form: int) -> dict[str, _Columns]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        migrate(connection, MIGRATIONS[:form])
        return _built(connection)


def _built(connection: sqlite3.Connection) -> dict[str, _Columns]:
    """The file's tables with columns and indexes, its views and triggers; without SQLite's own.

    The last entry of a table is its SQL without blanks and quotes, for a check holds an expression,
    and so may an index. A plain index that is not unique does no harm and is left out.
    """
    found: dict[str, _Columns] = {}
    for kind, name, text in connection.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE type <> 'index' "
        "AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY type, name"
    ).fetchall():
        columns: list[tuple[Any, ...]] = []
        if kind == "table":
            # name, type, not null, part of the key, generated; a default is never used
            columns = connection.execute(
                'SELECT name, type, "notnull", pk, hidden FROM pragma_table_xinfo(?)', (name,)
            ).fetchall()
        found[f"{kind} {name}"] = (*columns, (_bare(text),))
    for name, unique, text, works_out in connection.execute(
        """SELECT i.name, i."unique", m.sql, (SELECT min(cid) = -2 FROM pragma_index_xinfo(i.name))
        FROM sqlite_master m JOIN pragma_index_list(m.tbl_name) i ON i.name = m.name
        WHERE m.type = 'index' AND m.sql IS NOT NULL"""
    ).fetchall():
        _, _, where = _bare(text).upper().partition("WHERE")
        if unique or works_out or where:
            found[f"index {name}"] = ((unique, works_out, where),)
    return found


def _bare(text: str) -> str:
    return re.sub(r'[\s"]', "", text)


def migrate(
    connection: sqlite3.Connection,
    migrations: Sequence[Migration] = MIGRATIONS,
    *,
    copy: Callable[[int], object] | None = None,
) -> None:
    """Bring the file to the last form of `migrations`, in one transaction.

    So another program that opens it meanwhile sees the old form or the last one. `copy` is called
    first, with the form, where the file holds anything.
    """
    if _pragma(connection, "user_version") >= len(migrations):
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another program may have migrated it while this one waited for the lock.
        there = _pragma(connection, "user_version")
        if copy is not None and 0 < there < len(migrations):
            copy(there)
        for form in range(there, len(migrations)):
            for step in migrations[form]:
                if isinstance(step, str):
                    connection.execute(step)
                else:
                    step(connection)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {form + 1}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _pragma(connection: sqlite3.Connection, name: str) -> int:
    return int(connection.execute(f"PRAGMA {name}").fetchone()[0])


def _has_content(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone() is not None
