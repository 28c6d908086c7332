"""Merges a handover into the record. The order in which files come in does not matter.

A session is found by its id. Two logs of it are compared event by event up to the close; the longer
one wins where it continues the other. Later events are corrections. Each has an id of its own, and
those of both sides are replayed by instant, then by id. Where two logs differ, a rule that looks
only at the two (`_rank`) says which is in force; the other is kept in the table `aside`. So a
session is a set of logs of which none continues another, and merging is the union of two such sets.
"""

from __future__ import annotations

import hashlib
import json
import shlex
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from functools import partial
from typing import Any

from msgspec.json import decode

from runner.errors import Exit, MatsideError
from runner.law.workout import load_text
from runner.progress.adjust import Adjustment
from runner.record import checks, decisions, sheets, write
from runner.record.handover import (
    ANSWER,
    DECISION,
    ENDED,
    OPENED,
    Line,
    News,
    Parcel,
    as_json,
    column_list,
    stored_session,
)
from runner.record.rows import OWN_COLUMNS, SessionInfo
from runner.record.schema import settle_order
from runner.record.write import set_row, with_places
from runner.session.events import Event, from_data
from runner.session.state import State
from runner.text import how_many, short_day, shown

Replay = Callable[[SessionInfo, Sequence[Event]], State]
MOST_NEW = 400  # lines that are kept from a first look at a file, years of a person; our choice


# Merging: pure functions on lines.


def _base(one: Line) -> list[list[Any]]:
    """The events up to the close."""
    events: list[list[Any]] = one["events"]
    for at, event in enumerate(events):
        if event[0] == "closed":
            return events[: at + 1]
    return events


def _corrections(one: Line) -> list[list[Any]]:
    events: list[list[Any]] = one["events"]
    return events[len(_base(one)) :]


def _opened(one: Line) -> str:
    return as_json([one[name] for name in OPENED])


def _log(one: Line) -> list[str]:
    return [as_json(event) for event in _base(one)]


def digest_of(one: Line) -> str:
    """What identifies a log: its opening and its events up to the close, or its rows."""
    content = [_opened(one), _log(one) or [one["rows"], *(one[name] for name in ENDED)]]
    return hashlib.sha256(as_json(content).encode()).hexdigest()


def _rank(one: Line) -> tuple[object, ...]:
    """Ranks different logs of a session: the largest is in force."""
    log = _base(one)
    last = log[-1][3] if log else ""
    return one["status"] == "closed", bool(log), len(log), last, digest_of(one)


def merged(logs: Iterable[Line]) -> list[Line]:
    """The logs of one session of which none continues another, the one in force first."""
    logs = list(logs)
    if len(logs) == 1:
        return logs
    by_digest: dict[str, Line] = {}
    for one in logs:
        digest = digest_of(one)
        same = by_digest.get(digest)
        by_digest[digest] = one if same is None else _together(same, one)
    kept = [
        one
        for one in by_digest.values()
        if not any(_continues(other, one) for other in by_digest.values())
    ]
    return sorted(kept, key=_rank, reverse=True)


def _continues(other: Line, one: Line) -> bool:
    """Whether the log of `other` begins with all of `one` and then goes on."""
    short, long = _log(one), _log(other)
    return (
        0 < len(short) < len(long)
        and _opened(one) == _opened(other)
        and (long[: len(short)] == short)
    )


def _together(one: Line, other: Line) -> Line:
    """One log with the corrections of both."""
    found = {as_json(event): event for event in (*_corrections(one), *_corrections(other))}
    mine, theirs = ({as_json(e) for e in _corrections(line)} for line in (one, other))
    if len(found) == len(mine):
        return one
    if len(found) == len(theirs):
        return other
    later = sorted(found.values(), key=lambda event: (event[3], event[5], as_json(event)))
    return one | {"events": [*_base(one), *later], "rows": None}  # rows are made by a replay


def take(
    connection: sqlite3.Connection,
    parcel: Parcel,
    replay: Replay,
    runs: Callable[[str], bool] = lambda _: False,
) -> News:
    """Merge a parcel into the record; runs inside a transaction. Raises MatsideError (65).

    `replay` makes a session's state of its events. `runs` says whether a session is running now:
    another program is writing its log, so a longer one is refused (74).
    """
    news = News(parcel.trainee)
    name = parcel.trainee
    new: dict[str, list[Line]] = {}
    lines = partial(_lines, connection, parcel, new)
    with parcel.speaking():
        write.insert_trainee(connection, name)
        for line in lines("contents"):
            text = str(line["content"])
            key = hashlib.sha256(text.encode()).hexdigest()
            connection.execute("INSERT OR IGNORE INTO plan VALUES (?, ?)", (key, text))
        written: set[int] = set()  # keys of sessions
        for part in ("sessions", "aside"):
            for line in lines(part):
                written.add(_take_session(connection, parcel, line, replay, news, runs=runs))
        for line in lines("decisions"):
            _take_decision(connection, parcel, line, news)
        for line in lines("answers"):
            _take_answer(connection, line, news)
        for line in lines("cautions"):
            _take_caution(connection, line, news)
        for line in lines("sheets"):
            _take_sheet(connection, parcel, line, news)
        write.write_mass(connection, name)
        if news.changes:
            wrong = checks.not_as_written(connection, name, sorted(written - {0}))
            if wrong is not None:
                raise parcel.bad(wrong)
        settle_order(connection, name)
    parcel.checked = True
    parcel.new = new if sum(map(len, new.values())) <= MOST_NEW else None
    news.conflicts = conflicts(connection, name)
    return news


def _lines(
    connection: sqlite3.Connection, parcel: Parcel, new: dict[str, list[Line]], part: str
) -> Iterator[Line]:
    """The lines of a part to take; those that change the record are put into `new`."""
    for line in parcel.lines(part) if parcel.new is None else parcel.new.get(part, []):
        before = connection.total_changes
        yield line
        if connection.total_changes > before:
            new.setdefault(part, []).append(line)


def _take_session(
    connection: sqlite3.Connection,
    parcel: Parcel,
    line: Line,
    replay: Replay,
    news: News,
    *,
    runs: Callable[[str], bool],
) -> int:
    """Merge a session; returns its key where it was written, else 0."""
    line = {name: line[name] for name in (*OPENED, *ENDED, "events", "rows")}
    mine = stored_session(connection, line["id"])
    if line == mine:  # most are equal: people who exchange weekly have years of them
        return 0
    if not parcel.checked:
        _check_session(connection, parcel, line, replay)
    if mine is not None and mine["trainee"] != line["trainee"]:
        raise parcel.bad(f"session {shown(line['id'])} belongs to another trainee in the record")
    aside = connection.execute("SELECT content FROM aside WHERE session = ?", (line["id"],))
    known = [json.loads(text) for (text,) in aside.fetchall()]
    first, *others = merged([*([] if mine is None else [mine]), *known, line])
    key = 0
    if mine is None or as_json(first) != as_json(mine):
        if mine is not None and mine["status"] == "open" and runs(line["id"]):
            raise MatsideError(
                f"The session of {mine['local_date']} is running here, and the file has more. "
                "Nothing was changed.",
                "Close the session, then receive the file again.",
                code=Exit.IO,
            )
        if first["rows"] is None:
            first = _replayed(connection, first, replay)
        key = _write_session(connection, first)
        _say_session(mine, first, news)
    wanted = {digest_of(one): one for one in others}
    had = {digest_of(one): one for one in known}
    if wanted != had:
        news.aside += 1
        connection.execute("DELETE FROM aside WHERE session = ?", (line["id"],))
        for digest, one in wanted.items():
            whole = _replayed(connection, one, replay) if one["rows"] is None else one
            connection.execute(
                "INSERT INTO aside VALUES (?, ?, ?, ?)",
                (one["trainee"], one["id"], digest, as_json(whole)),
            )
    return key


def _say_session(mine: Line | None, first: Line, news: News) -> None:
    if mine is None:
        news.sessions += 1
    elif mine["status"] == "open":
        news.longer += 1
    else:
        news.corrected.append(_correction(mine, first))


def _correction(old: Line, new: Line) -> str:
    """What a correction changes: `20 Nov, SQUAT 12 → 20`."""
    at = {name: place + 2 for place, name in enumerate(OWN_COLUMNS)}
    day = date.fromisoformat(new["local_date"])
    changes = []
    for before, after in zip(old["rows"], new["rows"], strict=False):
        counts = [
            row[at["reps"]] if row[at["hold_s"]] is None else row[at["hold_s"]]
            for row in (before, after)
        ]
        if counts[0] != counts[1]:
            counts_shown = ["-" if count is None else f"{count:g}" for count in counts]
            changes.append(f"{shown(after[at['exercise']]).upper()} {' → '.join(counts_shown)}")
    return ", ".join([short_day(day), *changes])


def _check_session(
    connection: sqlite3.Connection, parcel: Parcel, line: Line, replay: Replay
) -> None:
    """Check that a session's events make a session, and that its rows have the form of rows."""
    if not line["id"] or line["status"] not in ("open", "closed"):
        raise parcel.bad("a session has no id or status")
    for row in line["rows"]:
        if len(row) != len(OWN_COLUMNS) + 2:
            raise parcel.bad(f"session {shown(line['id'])} has rows of a wrong form")
    for one in json.loads(line["adjusted"] or "[]"):
        Adjustment.from_data(one)  # raises for an adjustment that no reader could read
    if line["events"]:
        _check_events(connection, parcel, line, replay)


def _check_events(
    connection: sqlite3.Connection, parcel: Parcel, line: Line, replay: Replay
) -> None:
    if line["events"][0][0] != "opened":
        raise parcel.bad(f"session {shown(line['id'])} does not begin with its opening")
    for event in line["events"]:
        name, at, act, utc, data, own = event
        texts = all(isinstance(one, str) for one in (name, utc, data, own))
        if not texts or type(at) not in (int, float) or type(act) is not int:
            raise parcel.bad(f"session {shown(line['id'])} has events of a wrong form")
    try:
        state = _state(connection, line, replay)
    except MatsideError:  # its plan can no longer be read here: the session is kept as it is
        return
    except Exception as error:  # noqa: BLE001 - whatever a replay of strange events stumbles over
        raise parcel.bad(
            f"session {shown(line['id'])} cannot be replayed ({type(error).__name__})"
        ) from None
    if (state.phase == "closed") != (line["status"] == "closed"):
        raise parcel.bad(f"session {shown(line['id'])}: its events do not fit its status")


def _info(connection: sqlite3.Connection, one: Line) -> SessionInfo:
    (text,) = connection.execute(
        "SELECT content FROM plan WHERE hash = ?", (one["plan_hash"],)
    ).fetchone()
    return SessionInfo(
        one["id"],
        one["plan"],
        text,
        one["plan_hash"],
        one["session"],
        one["trainee"],
        datetime.fromisoformat(one["started_utc"]),
        one["offset_s"],
        one["zone"],
        date.fromisoformat(one["local_date"]),
        one["version"],
    )


def _state(connection: sqlite3.Connection, one: Line, replay: Replay) -> State:
    events = [from_data(n, at, act, decode(data)) for n, at, act, _, data, _ in one["events"]]
    return replay(_info(connection, one), events)


def _replayed(connection: sqlite3.Connection, one: Line, replay: Replay) -> Line:
    """A log with the rows that its events make."""
    info, state = _info(connection, one), _state(connection, one, replay)
    rows = []
    for row, place in with_places(info, state):
        made = set_row(info, state, row)
        rows.append([row.entry, place, *(getattr(made, name) for name in OWN_COLUMNS)])
    return one | {"rows": rows}


def _write_session(connection: sqlite3.Connection, one: Line) -> int:
    """Write a session, over the one with its id if there is one; returns its key."""
    columns = (*OPENED, *ENDED)
    values = [one[name] for name in columns]
    found = connection.execute("SELECT key FROM session WHERE id = ?", (one["id"],)).fetchone()
    if found is None:
        marks = ", ".join("?" * len(columns))
        cursor = connection.execute(
            f"INSERT INTO session ({column_list(columns)}, trial) VALUES ({marks}, 0)",  # noqa: S608
            values,
        )
        key = int(cursor.lastrowid or 0)
    else:
        (key,) = found
        sets = ", ".join(f'"{name}" = ?' for name in columns)
        connection.execute(f"UPDATE session SET {sets} WHERE key = ?", (*values, key))  # noqa: S608
        connection.execute("DELETE FROM event WHERE session = ?", (key,))
        connection.execute("DELETE FROM set_row WHERE session = ?", (key,))
    connection.executemany(
        """INSERT INTO event (session, seq, name, at, act, utc, data, id)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?)""",
        [(key, seq, *event) for seq, event in enumerate(one["events"], 1)],
    )
    load = OWN_COLUMNS.index("load_kg") + 2
    own_columns = column_list(
        ("session", "trainee", "load", "counts", "entry", "place", *OWN_COLUMNS)
    )
    marks = ", ".join("?" * (len(OWN_COLUMNS) + 6))
    connection.executemany(
        f"INSERT INTO set_row ({own_columns}) VALUES ({marks})",  # noqa: S608
        [(key, one["trainee"], load_text(row[load]), 0, *row) for row in one["rows"]],
    )
    if one["status"] == "closed":
        write.let_rows_count(connection, key)
    return key


def _take_decision(connection: sqlite3.Connection, parcel: Parcel, line: Line, news: News) -> None:
    values = {name: line[name] for name in DECISION}
    found = connection.execute(
        f"SELECT {column_list(DECISION)} FROM held WHERE trainee = ? AND decision_id = ?",  # noqa: S608
        (line["trainee"], line["decision_id"]),
    ).fetchone()
    if found is None:
        marks = ", ".join("?" * len(DECISION))
        connection.execute(
            f"INSERT INTO held ({column_list(DECISION)}) VALUES ({marks})",  # noqa: S608
            tuple(values.values()),
        )
        news.decisions += 1
        return
    mine = dict(zip(DECISION, found, strict=True))
    core = DECISION[: DECISION.index("replaces")]
    if any(mine[name] != values[name] for name in core):
        raise parcel.bad(f"decision {shown(line['decision_id'])} has other values in the record")
    known = min(filter(None, (mine["known_from"], values["known_from"])), default="")
    both = {
        "known_from": known,
        "replaces": max(mine["replaces"], values["replaces"]),
        "imported": min(mine["imported"], values["imported"]),
    }
    if any(mine[name] != value for name, value in both.items()):
        connection.execute(
            """UPDATE held SET known_from = ?, replaces = ?, imported = ?
            WHERE trainee = ? AND decision_id = ?""",
            (*both.values(), line["trainee"], line["decision_id"]),
        )


def _take_answer(connection: sqlite3.Connection, line: Line, news: News) -> None:
    values = tuple(line[name] for name in ANSWER)
    json.loads(line["change"])
    there = connection.execute(
        f"SELECT 1 FROM answer WHERE ({column_list(ANSWER)}) = ({', '.join('?' * len(ANSWER))})",  # noqa: S608
        values,
    ).fetchone()
    if there is None:
        marks = ", ".join("?" * len(ANSWER))
        connection.execute(f"INSERT INTO answer ({column_list(ANSWER)}) VALUES ({marks})", values)  # noqa: S608
        news.answers += 1


def _take_caution(connection: sqlite3.Connection, line: Line, news: News) -> None:
    values = (line["trainee"], line["plan"], line["caution"], line["utc"])
    changed = connection.execute(
        """INSERT INTO acknowledged (trainee, plan, caution, utc) VALUES (?, ?, ?, ?)
        ON CONFLICT DO UPDATE SET utc = excluded.utc WHERE excluded.utc < utc""",
        values,
    )
    news.cautions += changed.rowcount


def _take_sheet(connection: sqlite3.Connection, parcel: Parcel, line: Line, news: News) -> None:
    """Make a sheet's id known here; a sheet known already keeps the earlier of the two dates."""
    text = connection.execute("SELECT content FROM plan WHERE hash = ?", (line["plan_hash"],))
    (content,) = text.fetchone()
    page = sheets.of_row(
        (line["trainee"], line["plan"], content, line["session"], line["levels"], line["changes"])
    )
    if page.id != line["id"]:
        raise parcel.bad(f"sheet {shown(line['id'])} does not fit its id")
    marks = ", ".join("?" * len(sheets.COLUMNS))
    changed = connection.execute(
        f"""INSERT INTO sheet ({column_list(sheets.COLUMNS)}) VALUES ({marks})
        ON CONFLICT DO UPDATE SET made = excluded.made
        WHERE excluded.made < made AND trainee = excluded.trainee""",  # noqa: S608 - named above
        tuple(line[name] for name in sheets.COLUMNS),
    )
    news.sheets += changed.rowcount


def conflicts(connection: sqlite3.Connection, trainee: str) -> list[str]:
    """What a person has to look at: logs set aside, and decisions that replace the same one."""
    of = shlex.quote(trainee)
    found = []
    for id_, text in connection.execute(
        "SELECT session, content FROM aside WHERE trainee = ? ORDER BY session, digest", (trainee,)
    ):
        other = json.loads(text)
        here = stored_session(connection, id_)
        if other["events"] or here is None or here["rows"] != other["rows"]:
            found.append(
                f"session {id_}: two logs differ; one is in force, the other, with "
                f"{how_many(len(other['rows']), 'row')}, is kept aside; to correct a count: "
                f"matside log --fix --on {other['local_date']} --id {id_} --for {of}"
            )
    for exercise, group, heads in decisions.heads(connection, trainee):
        if len(heads) > 1:
            levels = [
                f"{one.version}{f' {load_text(one.load_kg)} kg' if one.load_kg else ''} of "
                f"{one.local_date}"
                for one in heads
            ]
            name = f"{exercise}/{group}" if group else exercise
            found.append(
                f"{name}: {levels[0]} is in force, and {', '.join(levels[1:])} was decided "
                f"without knowing it; decide: matside next PLAN --for {of} --set {name}=VERSION"
            )
    return [shown(line) for line in found]
