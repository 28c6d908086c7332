"""Rows from a file brought into a record: looked at first, then all of them or none.

What comes in has rows and no events, so it counts for everything that is read back, and cannot
be gone on with or replayed. A session that the record has already is passed over where it has
the same rows; where it has others, somebody has to say which are right, and nothing comes in.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from runner import __version__
from runner.errors import Exit, MatsideError
from runner.record import access, files, writing
from runner.record.columns import COLUMNS, NEEDED_COLUMNS, SESSION_COLUMNS, SetRow
from runner.record.csvfile import MOST_FAULTS
from runner.record.info import SessionInfo, iso_week
from runner.record.store import Record
from runner.record.text import is_driving, shown, trainee_name

_NO_PLAN = ""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A session of a file: its rows in the file's order, each with its place in the record."""

    id: str
    rows: tuple[SetRow, ...]
    places: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """What a file would bring into a record."""

    new: tuple[Arrival, ...]
    there: tuple[Arrival, ...]  # the record has them already, with the same rows


def look(record: Record, rows: Iterable[SetRow]) -> Look:
    """Compare a file's rows with the record; changes nothing.

    Raises MatsideError (65), a line for each fault: a session whose rows disagree about it, a
    week that is not the date's, a session that the record has with other rows.
    """
    arrivals = _sessions(rows)
    faults = [line for arrival in arrivals for line in _faults(arrival)]
    new, there = [], []
    for arrival in arrivals:
        stored = record.session_rows(arrival.id)
        if record.info(arrival.id) is None:
            new.append(arrival)
        elif _same(stored, arrival.rows):
            there.append(arrival)
        else:
            faults.append(_other_rows(record, arrival))
    if faults:
        beyond = len(faults) - MOST_FAULTS
        more = [f"and {beyond} more"] if beyond > 0 else []
        raise MatsideError(*faults[:MOST_FAULTS], *more, code=Exit.DATA)
    return Look(tuple(new), tuple(there))


def _same(stored: Sequence[SetRow], rows: Sequence[SetRow]) -> bool:
    """Whether they are the same rows, by all that the file says: an older one has fewer columns."""
    later = COLUMNS[len(NEEDED_COLUMNS) :]
    empty = {name: SetRow._field_defaults[name] for name in later}
    unsaid = {k: v for k, v in empty.items() if all(getattr(row, k) == v for row in rows)}
    # Not sorted: a load may be None.
    return Counter(row._replace(**unsaid) for row in stored) == Counter(rows)


def _sessions(rows: Iterable[SetRow]) -> list[Arrival]:
    """The sessions of a file, in an order that gives its rows back in theirs.

    Rows of one place stand in the order of their sessions, so a session must come after those
    whose row stands before its own there.
    """
    found: dict[str, list[SetRow]] = {}
    places: dict[str, list[int]] = {}
    after: dict[str, list[str]] = {}
    last, at = "", 0  # of the row before: its session and place
    for row in rows:
        own = places.setdefault(row.session_id, [])
        place = _place(row, own, at)
        if place == at and row.session_id != last:
            after.setdefault(row.session_id, []).append(last)
        own.append(place)
        found.setdefault(row.session_id, []).append(row)
        last, at = row.session_id, place
    try:
        order = list(TopologicalSorter({id_: after.get(id_, ()) for id_ in found}).static_order())
    except CycleError:  # no export of ours: there is no such order
        order = list(found)
    return [Arrival(id_, tuple(found[id_]), tuple(places[id_])) for id_ in order]


def _other_rows(record: Record, arrival: Arrival) -> str:
    said = f"session {shown(arrival.id)}: the record has it with other rows"
    if record.events(arrival.id):
        return f"{said}; correct it there with `matside log --fix`, or take it out of the file"
    return f"{said}, from an import before; take it out of the file"


def _place(row: SetRow, own: Sequence[int], before: int) -> int:
    """Where a row stands, in milliseconds since 1970; `own` are those of its session so far.

    `before` is that of the row before it in the file: a session's start is exported to the
    second, and sets left out before its first are placed at its start.
    """
    if row.set_start is not None:
        return round(datetime.fromisoformat(row.set_start).timestamp() * 1000)
    if own:
        return own[-1]
    start = round(datetime.fromisoformat(row.session_start).timestamp() * 1000)
    return before if start <= before < start + 1000 else start


def _faults(arrival: Arrival) -> list[str]:
    first = arrival.rows[0]
    said = f"session {shown(arrival.id) or '(no id)'}"
    width = len(SESSION_COLUMNS)
    different = [
        name
        for place, name in enumerate(SESSION_COLUMNS)
        if len({row[place] for row in arrival.rows}) > 1
    ]
    lines = [f"{said}: its rows disagree about {', '.join(different)}"] if different else []
    if not arrival.id or not trainee_name(first.trainee):
        lines.append(f"{said}: session_id and trainee may not be empty")
    elif trainee_name(first.trainee) != first.trainee:
        lines.append(f"{said}: write the trainee as {trainee_name(first.trainee)!r}")
    week = iso_week(datetime.fromisoformat(first.session_start).date())
    if first.iso_week != week:
        lines.append(f"{said}: iso_week is {week} by its date, not {shown(first.iso_week)}")
    lines += [f"{said}: a control character in {name}" for name in _uncleaned(arrival)]
    if len({row[width:] for row in arrival.rows}) < len(arrival.rows):
        lines.append(f"{said}: a row stands there twice")
    return lines


def _uncleaned(arrival: Arrival) -> list[str]:
    """Columns with characters that no record holds, and that would drive a terminal."""
    return [
        name
        for place, name in enumerate(COLUMNS)
        if any(is_driving(str(row[place])) for row in arrival.rows)
    ]


def bring_in(path: Path, arrivals: Sequence[Arrival], *, trial: bool) -> None:
    """Write the sessions into the record at `path`, all or none. Raises Unwritable."""
    if not arrivals:
        return
    Record.open(path).close()
    with access.speaking(path, writing=True), closing(files.connect(path)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        try:
            for arrival in arrivals:
                _insert(connection, arrival, trial=trial)
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _insert(connection: sqlite3.Connection, arrival: Arrival, *, trial: bool) -> None:
    first = arrival.rows[0]
    info = _info(first, trial=trial)
    key = writing.insert_session(connection, info)
    last = first.session_start
    for entry, (row, place) in enumerate(zip(arrival.rows, arrival.places, strict=True), 1):
        last = row.set_start or last
        writing.put_row(connection, (key, entry, place), row)
    writing.close_without_events(connection, key, datetime.fromisoformat(last))


def _info(row: SetRow, *, trial: bool) -> SessionInfo:
    start = datetime.fromisoformat(row.session_start)
    offset = start.utcoffset()
    return SessionInfo(
        id=row.session_id,
        plan=row.plan,
        plan_text=_NO_PLAN,
        plan_hash=hashlib.sha256(_NO_PLAN.encode()).hexdigest(),
        session=row.session,
        trainee=row.trainee,
        started=start.astimezone(UTC),
        offset_s=0 if offset is None else round(offset.total_seconds()),
        zone="",
        local_date=start.date(),
        version=f"{__version__}, imported",
        trial=trial,
    )
