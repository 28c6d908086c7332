"""Brings rows of a file into a record: compares them first, then writes all or none.

The file has rows and no events. So an imported session counts for everything that reads the past,
but it cannot be resumed or replayed. A session that the record has already is compared set by set
(`_Compared`):

- The record lacks a set: it is added if the session was cut off or was itself imported. A cut-off
  session is then closed and loses its events, for they say less than its rows now.
- The record has another count: the newer correction is right. Where the file does not say when a
  count was corrected, a person has to say which is right.
- The record has other times, because the set was done or cut off again after the file was written:
  the record's times stay, and the file's count fills in a missing one.
- Anything else differs: nothing of the file comes in, and each such set is named.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from runner import __version__
from runner.errors import Exit, MatsideError
from runner.progress.history import SetRow, beaten, iso_week
from runner.record import decisions, session_lock, write
from runner.record.csvfile import MOST_FAULTS
from runner.record.past import DecisionRow
from runner.record.record import Record
from runner.record.rows import COLUMNS, NEEDED_COLUMNS, SESSION_COLUMNS, SessionInfo
from runner.record.schema import first_name
from runner.record.tables import DecisionLine
from runner.session.events import Corrected, Event, SetEvent
from runner.session.state import State
from runner.text import is_driving, shown, trainee_name

_NO_PLAN = ""
_OF_SET = ("block", "round", "exercise", "set", "side", "version", "entry")  # every set event has


class FileSession(Struct, frozen=True):
    """A session of a file: its rows in the file's order, each with its place in the record."""

    id: str
    rows: tuple[SetRow, ...]
    places: tuple[int, ...]
    cut_off: bool = False  # the record's session is open; the import closes it


class Update(Struct, frozen=True):
    """A set for which the record and the file have different counts."""

    stored: SetRow
    row: SetRow
    entry: int  # its running number in the record's session
    events: bool  # the session has events, so a correction of them changes the row
    newer: bool  # the file's correction is the newer one; if not, a person is asked

    @property
    def text(self) -> str:
        """Whose set of which day, and what changes: `Runa, 2026-11-20, press 2: 12 → 20`."""
        old, row = self.stored, self.row
        side = "" if row.side == "both" else f" {row.side}"
        which = f"{row.trainee}, {row.session_start[:10]}, {row.exercise} {row.set}{side}"
        counts = _count(old) or "-", _count(row) or "-"
        changes = [" → ".join(counts)] if counts[0] != counts[1] else []
        changes += [f"{n} {getattr(old, n)} → {getattr(row, n)}" for n in _others(old, row)]
        return shown(f"{which}: {', '.join(changes) or 'same count, corrected later'}")


class ImportPreview(Struct, frozen=True):
    """What a file would bring into a record."""

    new: tuple[FileSession, ...] = ()
    there: tuple[FileSession, ...] = ()  # the record has them already, with the same rows
    more: tuple[FileSession, ...] = ()  # sessions of which the record lacks some sets
    updates: tuple[Update, ...] = ()
    older: tuple[Update, ...] = ()  # the record's count is newer and stays

    @property
    def changes(self) -> bool:
        """Whether the import would change anything."""
        return bool(self.new or self.more or self.updates)


def preview(record: Record, rows: Iterable[SetRow], *, dated: bool = False) -> ImportPreview:
    """Compare a file's rows with the record; changes nothing.

    `dated`: the rows have a date and no time, so a session takes the time that the record has.

    Raises MatsideError (65) with a line for each fault: a session whose rows disagree, a week that
    does not fit its date, a set that differs in more than its count; 66 for a session that is
    running.
    """
    sessions = _sessions(rows)
    if record.path is not None:
        _refuse_running(record.path, sessions)
    faults = [line for session in sessions for line in _faults(session)]
    new, there, more = [], [], []
    updates: list[Update] = []
    older: list[Update] = []
    for session in sessions:
        if record.info(session.id) is None:
            new.append(session)
            continue
        compared = _Compared.of(record, session, dated=dated)
        faults += compared.faults
        updates += compared.updates
        older += compared.older
        if compared.lacking:
            more.append(compared.lacking)
        elif not compared.updates and not compared.older:
            there.append(session)
    if faults:
        beyond = len(faults) - MOST_FAULTS
        rest = [f"and {beyond} more"] if beyond > 0 else []
        raise MatsideError(*faults[:MOST_FAULTS], *rest, code=Exit.DATA)
    return ImportPreview(tuple(new), tuple(there), tuple(more), tuple(updates), tuple(older))


def _refuse_running(path: Path, sessions: Sequence[FileSession]) -> None:
    for session in sessions:
        if session_lock.is_running(path, session.id):
            first = session.rows[0]
            raise MatsideError(
                f"the session of {shown(first.trainee)}, begun {first.session_start[:16]}, is "
                "running in another terminal; import the file when it has ended",
                code=Exit.NO_INPUT,
            )


# The columns that a correction of a count changes.
_COUNT = ("reps", "hold_s", "reserve", "beaten", "corrected", "corrected_at")
# The columns that the clock measured.
_CLOCK = ("status", "set_start", "started_by", "work_s", "rest_before_s", "recovery_s")


class _Compared(Struct):
    """A session of the record compared with the same one of a file."""

    lacking: FileSession | None = None  # the whole session, where the record lacks sets
    updates: list[Update] = field(default_factory=list)
    older: list[Update] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, record: Record, session: FileSession, *, dated: bool) -> _Compared:
        stored = {_set(row): (entry, row) for entry, row in record.numbered_rows(session.id)}
        is_open, events = record.is_open(session.id), bool(record.events(session.id))
        rows = [_at_time_of(row, stored) if dated else row for row in session.rows]
        compared = cls()
        first, width = next((old for _, old in stored.values()), None), len(SESSION_COLUMNS)
        if first is not None and first[:width] != rows[0][:width]:
            compared.faults.append(
                f"session {shown(session.id)}: the record has another session with this id; "
                "remove it from the file"
            )
            return compared
        missing = [row for row in rows if _set(row) not in stored]
        if missing and events and not is_open:
            compared.faults += [
                f"{_named(row)}: the record's session is closed and lacks this set; remove the "
                "line from the file"
                for row in missing
            ]
        merged = {key: row for key, (_, row) in stored.items() if row.status != "running"}
        merged |= {_set(row): row for row in missing}
        known = [row for row in rows if _set(row) in stored]
        for row in known:
            entry, old = stored[_set(row)]
            if _is_same(old, row):
                continue
            if is_open and (old.status == "running" or _count(old) == ""):
                missing.append(row)  # it was cut off in this set, or before its count
                merged[_set(row)] = row
                continue
            timed = _with_times_of(old, row)
            if timed is not None and not _is_same(old, timed):
                compared._differ(old, timed, entry, events=events and not is_open)
        if missing and not compared.faults:
            compared._lack(merged, session, is_open=is_open)
        return compared

    def _differ(self, old: SetRow, row: SetRow, entry: int, *, events: bool) -> None:
        different = _others(old, row)
        if "status" in different and (events or _count(row)):
            self.faults.append(
                f"{_named(row)}: the set was left out in the record, so it has no count; "
                "remove the line from the file"
            )
            return
        if different and events:
            as_stored = ", ".join(f"{name} {_cell(getattr(old, name))}" for name in different)
            self.faults.append(
                f"{_named(row)}: an import corrects counts alone; write what the record has, "
                f"{as_stored}, or take the line out of the file"
            )
            return
        when, stood = _when(row), _when(old)
        missing = stood is None and _count(old) == ""
        newer = missing or (when is not None and (stood is None or when > stood))
        one = Update(old, row, entry, events, newer)
        was_older = stood is not None and (row.corrected == "no" or (when or stood) < stood)
        (self.older if was_older else self.updates).append(one)

    def _lack(self, merged: dict[_Set, SetRow], session: FileSession, *, is_open: bool) -> None:
        """Put the sets in order: the file's, then those that only the record has."""
        places = dict(zip(map(_set, session.rows), session.places, strict=True))
        last = max(session.places)
        order = [*places, *(key for key in merged if key not in places)]
        self.lacking = FileSession(
            session.id,
            tuple(merged[key] for key in order if key in merged),
            tuple(places.get(key, last) for key in order if key in merged),
            cut_off=is_open,
        )


_Set = tuple[int, str, int, str]


def _set(row: SetRow) -> _Set:
    """What identifies a set and side within a session."""
    return row.block, row.exercise, row.set, row.side


def _named(row: SetRow) -> str:
    side = "" if row.side == "both" else f" {row.side}"
    return f"session {shown(row.session_id)}, {shown(row.exercise)} {row.set}{side}"


def _others(old: SetRow, row: SetRow) -> list[str]:
    """The columns in which two rows differ, except those of the count."""
    return [n for n in COLUMNS if getattr(old, n) != getattr(row, n) and n not in _COUNT]


def _cell(value: object) -> str:
    """A value as a file has it."""
    if value is None or value == "":
        return "empty"
    return f"{value:g}" if isinstance(value, float) else shown(str(value))


def _with_times_of(old: SetRow, row: SetRow) -> SetRow | None:
    """A file's row with the record's times; None where only the record has the set as done."""
    if old.status == "skipped":
        return row
    if _count(row) == "" and _count(old) and row.corrected_at is None:
        return None
    return row._replace(**{name: getattr(old, name) for name in _CLOCK})


def _count(row: SetRow) -> str:
    value = row.hold_s if row.measure == "hold" else row.reps
    said = "" if row.reserve is None else f"/{row.reserve}"
    return "" if value is None else f"{value:g}{'s' if row.measure == 'hold' else ''}{said}"


def _when(row: SetRow) -> datetime | None:
    return None if row.corrected_at is None else datetime.fromisoformat(row.corrected_at)


def _at_time_of(row: SetRow, stored: Mapping[_Set, tuple[int, SetRow]]) -> SetRow:
    """A row with a date alone, moved to the time that the record has for its session."""
    start = next((old.session_start for _, old in stored.values()), row.session_start)
    return row._replace(session_start=start) if start[:10] == row.session_start[:10] else row


def _is_same(old: SetRow, row: SetRow) -> bool:
    """Whether both rows agree in all columns that the file has; an older file has fewer."""
    later = COLUMNS[len(NEEDED_COLUMNS) :]
    empty = {name: SetRow._field_defaults[name] for name in later}
    unsaid = {name: value for name, value in empty.items() if getattr(row, name) == value}
    if row.corrected_at is None and _count(old) == _count(row):
        unsaid |= {"corrected": row.corrected, "beaten": row.beaten}
    return old._replace(**unsaid) == row


def _sessions(rows: Iterable[SetRow]) -> list[FileSession]:
    """The sessions of a file, in an order in which an export gives the rows back in theirs.

    An export orders rows of one place by session, so a session must follow those whose row stands
    before its own there.
    """
    found: dict[str, list[SetRow]] = {}
    places: dict[str, list[int]] = {}
    after: dict[str, list[str]] = {}
    last, at = "", 0  # session and place of the row before
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
    except CycleError:  # the file is no export of ours and has no such order
        order = list(found)
    return [FileSession(id_, tuple(found[id_]), tuple(places[id_])) for id_ in order]


def _place(row: SetRow, own: Sequence[int], before: int) -> int:
    """Where a row stands, in ms since 1970; `own` are the places of its session so far.

    `before` is the place of the row before it in the file. A session's start is exported to the
    second, and sets left out before its first set stand at its start.
    """
    if row.set_start is not None:
        return round(datetime.fromisoformat(row.set_start).timestamp() * 1000)
    if own:
        return own[-1]
    start = round(datetime.fromisoformat(row.session_start).timestamp() * 1000)
    return before if start <= before < start + 1000 else start


def _faults(session: FileSession) -> list[str]:
    first = session.rows[0]
    said = f"session {shown(session.id) or '(no id)'}"
    different = [
        name
        for place, name in enumerate(SESSION_COLUMNS)
        if len({row[place] for row in session.rows}) > 1
    ]
    disagree = f"{said}: its rows disagree about {', '.join(different)}; write one for all"
    lines = [disagree] if different else []
    if not session.id or not trainee_name(first.trainee):
        lines.append(f"{said}: session_id and trainee are empty; write both")
    elif trainee_name(first.trainee) != first.trainee:
        lines.append(f"{said}: write the trainee as {trainee_name(first.trainee)!r}")
    week = iso_week(datetime.fromisoformat(first.session_start).date())
    if first.iso_week != week:
        lines.append(f"{said}: iso_week is {week} by its date, not {shown(first.iso_week)}")
    lines += [f"{said}: a control character in {name}; delete it" for name in _uncleaned(session)]
    if len(set(map(_set, session.rows))) < len(session.rows):
        lines.append(f"{said}: a set appears twice; remove one of its lines")
    return lines


def _uncleaned(session: FileSession) -> list[str]:
    """Columns with characters that no record holds, because they would control a terminal."""
    return [
        name
        for place, name in enumerate(COLUMNS)
        if any(is_driving(str(row[place])) for row in session.rows)
    ]


Correction = tuple[str, Sequence[tuple[int, Event]], State]  # session, numbered events, state after


def bring_in(
    path: Path, found: ImportPreview, corrections: Sequence[Correction] = (), *, trial: bool
) -> None:
    """Write what `look` found into the record at `path`, all or none. Raises Unwritable.

    `corrections` are the corrected sessions that have events. Where a session is missing there,
    because its plan can no longer be read, the last event of the set is corrected directly. Updates
    of sessions without events change only the row.
    """
    if not found.changes:
        return
    with Record.open(path) as record, record.writing() as connection:
        _refuse_running(path, found.more)  # it may have been resumed since `look`
        for session in found.new:
            _insert(connection, session, trial=trial)
        for session in found.more:
            _complete(connection, session)
        replayed = {session_id for session_id, _, _ in corrections}
        for update in found.updates:
            if not update.events:
                _replace(connection, update)
            elif update.row.session_id not in replayed:
                _put_right(record, connection, update)
        for session_id, events, state in corrections:
            record.put_right(session_id, events, state)


class Decisions(Struct, frozen=True):
    """What a file of decisions would bring into a record."""

    new: tuple[DecisionRow, ...]
    there: tuple[DecisionRow, ...]


def look_at_decisions(record: Record, lines: Iterable[DecisionLine]) -> Decisions:
    """Compare a file's decisions with the record's; changes nothing.

    Raises MatsideError (65) with a line for each fault: no trainee or exercise, control characters,
    other values than the record has for that decision.
    """
    stored = {(one.trainee, one.decision_id): one for one in record.level_decisions()}
    new: dict[tuple[str, str], DecisionRow] = {}
    there, faults = [], []
    for number, line in enumerate(lines, 2):
        one = _decision(line)
        key = (one.trainee, one.decision_id)
        same = stored.get(key) or new.get(key)
        wrong = _wrong_with(one)
        if wrong:
            faults.append(f"line {number}: {wrong}")
        elif same is None:
            new[key] = one
        elif _as_decided(same) != _as_decided(one):
            faults.append(
                f"line {number}: decision {shown(one.decision_id)}: the record has other values; "
                "remove it from the file"
            )
        else:
            there.append(one)
    if faults:
        raise MatsideError(*faults[:MOST_FAULTS], code=Exit.DATA)
    return Decisions(tuple(new.values()), tuple(there))


def _decision(line: DecisionLine) -> DecisionRow:
    """A decision of a file; one without a name gets the name that a record would give it."""
    day = line.on or date.fromisoformat(line.since[:10])
    name = line.decision_id or first_name(line.since, line.exercise, line.group)
    return DecisionRow(*line[:9], day, name, line.replaces, line.known_from)


def _wrong_with(one: DecisionRow) -> str:
    if not (one.trainee and one.exercise and one.version):
        return "write trainee, exercise and version; one is empty"
    if trainee_name(one.trainee) != one.trainee:
        return f"write the trainee as {trainee_name(one.trainee)!r}"
    strange = [name for name in DecisionRow._fields if is_driving(str(getattr(one, name)))]
    return f"a control character in {strange[0]}" if strange else ""


def _as_decided(one: DecisionRow) -> DecisionRow:
    """A decision without the fields that depend on its record."""
    return one._replace(session_id=None, known_from="", replaces="")


def bring_in_decisions(path: Path, found: Decisions) -> None:
    """Write the new decisions into the record at `path`, all or none. Raises Unwritable."""
    with Record.open(path) as record, record.writing() as connection:
        decisions.bring_in(connection, found.new)


def _complete(connection: sqlite3.Connection, session: FileSession) -> None:
    """Write all rows of a session anew; close one that was cut off and delete its events."""
    (key,) = connection.execute("SELECT key FROM session WHERE id = ?", (session.id,)).fetchone()
    connection.execute("DELETE FROM set_row WHERE session = ?", (key,))
    if session.cut_off:
        connection.execute("DELETE FROM event WHERE session = ?", (key,))
        connection.execute(
            "UPDATE session SET version = version || ', completed' WHERE key = ?", (key,)
        )
    _put_rows(connection, key, session)


def _replace(connection: sqlite3.Connection, update: Update) -> None:
    (key,) = connection.execute(
        "SELECT key FROM session WHERE id = ?", (update.row.session_id,)
    ).fetchone()
    (place,) = connection.execute(
        "SELECT place FROM set_row WHERE session = ? AND entry = ?", (key, update.entry)
    ).fetchone()
    write.put_row(connection, (key, update.entry, place), update.row)
    write.let_rows_count(connection, key)


def _put_right(record: Record, connection: sqlite3.Connection, update: Update) -> None:
    """Correct a count without a replay: an event made from the set's last one, and the row."""
    row = update.row
    info, events = record.info(row.session_id), record.events(row.session_id)
    of_set = [e for e in events if isinstance(e, SetEvent) and e.entry == update.entry]
    if info is None or not of_set:  # removed since `look`
        return
    value = row.hold_s if row.measure == "hold" else row.reps
    judged = beaten(value, update.stored.to_beat, pain=update.stored.pain == "yes")
    at = row.corrected_at or info.local(events[-1].at).isoformat(timespec="seconds")
    row = row._replace(corrected="yes", corrected_at=at, beaten=judged)
    seconds = (datetime.fromisoformat(at) - info.started).total_seconds()
    fixed = Corrected(
        at=max(round(seconds, 3), 0.0),
        act=max(event.act for event in events) + 1,
        **{name: getattr(of_set[-1], name) for name in _OF_SET},
        reps=row.reps,
        hold_s=row.hold_s,
        counted="no" if value is None else "yes",
        reserve=row.reserve,
        to_beat=update.stored.to_beat,
        beaten=judged,
    )
    record.put_right(row.session_id, [(len(events) + 1, fixed)], None)
    _replace(connection, replace(update, row=row))


def _insert(connection: sqlite3.Connection, session: FileSession, *, trial: bool) -> None:
    key = write.insert_session(connection, _info(session.rows[0], trial=trial))
    _put_rows(connection, key, session)


def _put_rows(connection: sqlite3.Connection, key: int, session: FileSession) -> None:
    last = session.rows[0].session_start
    for entry, (row, place) in enumerate(zip(session.rows, session.places, strict=True), 1):
        last = row.set_start or last
        write.put_row(connection, (key, entry, place), row)
    write.close_without_events(connection, key, datetime.fromisoformat(last))


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
