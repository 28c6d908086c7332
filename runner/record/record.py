"""`Record`: the one file that holds everything, as the rest of the program uses it.

A `Reader` is what an export needs: it only reads, and loads nothing of the session machine. A
`Record` also writes.
"""

from __future__ import annotations

import importlib
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import date, datetime
from functools import partial
from pathlib import Path
from types import ModuleType
from typing import IO, TYPE_CHECKING, Self

from runner.errors import MatsideError
from runner.law.course import GroupKey, LengthKey
from runner.law.workout import Workout
from runner.progress.adjust import Adjustment, Baseline
from runner.progress.answers import Answer
from runner.progress.history import SetRow, Use
from runner.progress.levels import WorkingLevel
from runner.record import (
    backup,
    decisions,
    errors as faults,
    files,
    past,
    query,
    schema,
    session_lock,
    sheets as sheet_ids,
    write,
)
from runner.record.decisions import LevelDecision
from runner.record.errors import Unwritable
from runner.record.past import DecisionRow, SessionRow, UseOfSession
from runner.record.query import Unfinished
from runner.record.rows import (
    Filter,
    SessionInfo,
    numbered_rows,
    rows_wanted,
    session_rows,
    utc_text,
)
from runner.record.sheets import Sheet
from runner.session.events import Corrected, Event, Held, Opened, Rpe
from runner.session.state import State
from runner.text import trainee_name

if TYPE_CHECKING:
    from runner.record.handover import News, Parcel
    from runner.record.merging import Replay

_IN_MEMORY = "(memory)"


class Reader:
    """A record open for reading. Use it from one thread; close it, or use it as a context manager.

    Reading raises MatsideError where the file is damaged.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path | None) -> None:
        self.path = path  # None in memory
        self._connection = connection

    @classmethod
    def open_readonly(cls, path: Path, *, look: int = files.LOOK_BYTES) -> Self:
        """Open a record for reading; never makes or changes the file.

        A missing or empty file gives an empty record in memory. A file of an earlier form is read
        from a copy in memory that is brought up to date. A file of at most `look` bytes is checked
        first.
        """
        connection = files.open_to_read(path, look)
        if connection is None:
            return cls(files.empty(), None)
        return cls(*connection)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file. Closing twice does no harm."""
        self._connection.close()

    def plans(self, trainee: str | None = None) -> list[str]:
        """The titles of all plans from which a session was opened, or of those of one trainee."""
        with self._reading():
            return query.plans(self._connection, trainee)

    def trainees(self) -> list[str]:
        """All trainees, by name."""
        with self._reading():
            return query.trainees(self._connection)

    def similar(self, name: str) -> list[str]:
        """Known names like `name`, the nearest first, without `name` itself."""
        with self._reading():
            return query.similar(self._connection, trainee_name(name))

    def rows(
        self,
        *,
        trainee: str | None = None,
        plan: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> Iterator[SetRow]:
        """All rows by the start of their sets, streamed; `plan` is a title.

        `since` and `until` are local dates of the sessions, both included. A bout still running has
        no row yet.
        """
        with self._reading():
            yield from rows_wanted(self._connection, Filter.of(trainee, plan, since, until))

    # Inside

    @property
    def _shown_path(self) -> Path | str:
        return self.path or _IN_MEMORY

    @contextmanager
    def _reading(self) -> Iterator[None]:
        with faults.speaking(self._shown_path, writing=False):
            yield


__all__ = ["Record", "Unfinished", "Unwritable"]


class Record(Reader):
    """An open record. Use it from one thread; close it, or use it as a context manager.

    Writing raises Unwritable where the file cannot be written now (read-only, full, locked,
    damaged). Then nothing of that call is kept, and the same call may be repeated on this record or
    on one in memory. Reading raises MatsideError where the file is damaged.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path | None) -> None:
        super().__init__(connection, path)
        self.unread = False  # in memory and empty, because the file could not be read
        self._sessions: dict[str, tuple[int, SessionInfo]] = {}
        self._written: dict[str, write.StoredSession] = {}

    @classmethod
    def open(cls, path: Path, *, create: bool = True, look: int = files.LOOK_BYTES) -> Self:
        """Open a record for reading and writing; brings one of an earlier form up to date.

        A file of at most `look` bytes is checked first.

        Raises Unwritable where it cannot keep a session. Raises MatsideError where the file is
        something else, damaged or newer (65), or where it is missing and may not be made (66).
        """
        files.prepare(path, create=create)
        with faults.speaking(path, writing=False):
            connection = files.connect(path)
        try:
            with faults.speaking(path, writing=False):
                form = schema.check(connection, path)
                if form > 0:
                    files.look_whole(connection, path, look)
                files.make_durable(connection)
                schema.migrate(connection, copy=partial(_copy_of_form, path))
                files.try_to_write(connection)
        except BaseException:
            connection.close()
            raise
        return cls(connection, path)

    @classmethod
    def in_memory(cls, copy_of: Path | None = None) -> Self:
        """A record that ends with the program.

        `copy_of`: start with what that file holds, as far as it can be read, so that a session that
        cannot be kept still knows the trainee's past.
        """
        if copy_of is not None:
            with suppress(MatsideError):
                return cls(files.copy_of(copy_of), None)
        record = cls(files.empty(), None)
        record.unread = copy_of is not None
        return record

    # Writing

    def start(self, info: SessionInfo) -> None:
        """Add the session before its first event. Calling it again does nothing."""
        with self._transaction():
            key = query.session_key(self._connection, info.id)
            if key is None:
                key = write.insert_session(self._connection, info)
            elif query.info(self._connection, info.id) != info:
                raise faults.continued_elsewhere(self._shown_path, info.id)
        self._sessions[info.id] = (key, info)

    def append(
        self, session_id: str, numbered_events: Sequence[tuple[int, Event]], state: State
    ) -> None:
        """Keep events, and the rows that follow from them, in one transaction.

        Events are numbered 1, 2, … within the session. Those on file already are passed over, so
        the same call may be repeated. `state` is the one after the last of them.

        Raises Unwritable, also where another program went on with the session (its events stay,
        ours are not kept); KeyError for a session not started; ValueError for a number left out.
        """
        key, info = self._session(session_id)
        kinds = {type(event) for _, event in numbered_events}
        if state.phase == "closed" and kinds <= {Held, Corrected, Rpe}:
            self.correct(session_id, numbered_events, state)  # an event after the close
            return
        with self._transaction():
            try:
                new = write.append_events(self._connection, key, info, numbered_events)
                if Opened in kinds:
                    events = (event for _, event in numbered_events)
                    decisions.note_known(self._connection, info.trainee, info.id, events)
            except write.Conflict:
                raise faults.continued_elsewhere(self._shown_path, session_id) from None
            if not new:
                return
            before = self._written.get(session_id)
            written = write.write_state(self._connection, key, info, state, before)
        self._written[session_id] = written

    def write_up(
        self, info: SessionInfo, numbered_events: Sequence[tuple[int, Event]], state: State
    ) -> None:
        """Keep a whole session, from its start to its last event, in one transaction.

        Raises Unwritable; then nothing of it is kept.
        """
        with self._transaction():
            key = write.insert_session(self._connection, info)
            write.append_events(self._connection, key, info, numbered_events)
            write.write_state(self._connection, key, info, state, None)
            schema.settle_order(self._connection, info.trainee)
            key = query.session_key(self._connection, info.id) or key
        self._sessions[info.id] = (key, info)

    def correct(
        self, session_id: str, numbered_events: Sequence[tuple[int, Event]], state: State
    ) -> None:
        """Keep corrections of a closed session, and its new rows, in one transaction.

        Raises Unwritable, also where another program corrected it meanwhile; KeyError for an
        unknown session.
        """
        with self._transaction():
            self.put_right(session_id, numbered_events, state)

    def put_right(
        self, session_id: str, numbered_events: Sequence[tuple[int, Event]], state: State | None
    ) -> None:
        """As `correct`, inside the caller's transaction; without a state the rows stay."""
        key, info = self._session(session_id)
        try:
            write.append_events(self._connection, key, info, numbered_events, closed=True)
        except write.Conflict:
            raise faults.continued_elsewhere(self._shown_path, session_id) from None
        if state is not None:
            write.rewrite_rows(self._connection, key, info, state)

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction around several writes: all of them are kept, or none."""
        with self._transaction():
            yield self._connection

    def agree(
        self,
        trainee: str,
        answer: Answer | None,
        levels: Iterable[LevelDecision],
        utc: datetime,
        session_id: str | None = None,
        *,
        on: date | None = None,
    ) -> None:
        """Keep an answer to advice, given after that session, and decisions, all at once.

        `utc` is an aware instant. `on` is the local date of the decisions, by default that of
        `utc`.
        """
        name = trainee_name(trainee)
        with self._transaction():
            write.insert_trainee(self._connection, name)
            key = None if session_id is None else query.session_key(self._connection, session_id)
            when = utc_text(utc)
            if answer is not None:
                decisions.insert_answer(self._connection, name, answer, when, key)
            at = decisions.DecidedAt(when, on or utc.date(), key)
            decisions.insert_decisions(self._connection, name, levels, at)

    def acknowledge(
        self, trainee: str, plan_title: str, texts: Iterable[str], utc: datetime
    ) -> None:
        """Keep that the trainee acknowledged these cautions, at an aware instant."""
        name = trainee_name(trainee)
        with self._transaction():
            write.insert_trainee(self._connection, name)
            self._connection.executemany(
                "INSERT OR IGNORE INTO acknowledged VALUES (?, ?, ?, ?)",
                [(name, plan_title, text, utc_text(utc)) for text in texts],
            )

    def keep_sheets(self, sheets: Iterable[Sheet], made: datetime) -> None:
        """Keep the ids of sheets, made at an aware instant. Raises Unwritable."""
        with self._transaction():
            sheet_ids.keep(self._connection, sheets, made)

    def sheet(self, id_: str) -> Sheet | None:
        """The sheet with that id, as a person types it; None where it is unknown."""
        with self._reading():
            return sheet_ids.find(self._connection, id_)

    # Handover of one person

    def hand_over(
        self,
        trainee: str,
        out: IO[bytes],
        plans: Mapping[str, tuple[bytes, int]],
        *,
        whole: bool = True,
    ) -> None:
        """Write all of one person and their plan files to a zip; without `whole` only the plans."""
        with self._reading():
            _module("handover").pack(self._connection, trainee, out, plans, record=whole)

    def receive(
        self, parcel: Parcel, replay: Replay, data: Path, *, keep: bool, overlay: bool = True
    ) -> News:
        """Merge a handover, and its plan files into `data`; all of it, or nothing.

        Without `keep` it reports what would be new and changes nothing. Without `overlay` the
        person's own overlay stays.
        """
        with faults.speaking(self._shown_path, writing=True):
            self._connection.execute("PRAGMA query_only = OFF")  # rolled back at the end
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                news = _module("merging").take(self._connection, parcel, replay, self._runs)
                placing = _module("handover").placing
                with placing(data, parcel, news, dry=not keep, overlay=overlay):
                    self._connection.execute("COMMIT" if keep else "ROLLBACK")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise
        found: News = news
        return found

    def _runs(self, session_id: str) -> bool:
        """Whether a session of this record is running now."""
        return self.path is not None and session_lock.is_running(self.path, session_id)

    def conflicts(self, trainee: str) -> list[str]:
        """What two sides decided or logged differently, a line each."""
        with self._reading():
            name = trainee_name(trainee)
            found: list[str] = _module("merging").conflicts(self._connection, name)
            return found

    # The past of a trainee

    def levels(
        self,
        trainee: str,
        workouts: Iterable[Workout],
        *,
        before: datetime | None = None,
        since: bool = True,
    ) -> dict[GroupKey, WorkingLevel]:
        """The working levels in the exercises of some sessions, with `since` from their first day.

        Without `since` less is read, however long a level has stayed the same.
        """
        with self._reading():
            name = trainee_name(trainee)
            return query.levels(self._connection, name, workouts, before, since=since)

    def baseline(
        self,
        trainee: str,
        workout: Workout,
        *,
        before: datetime | None = None,
        written: Mapping[GroupKey, Use] | None = None,
    ) -> Baseline:
        """Working levels, lengths and counts to beat for one session of a plan.

        `before`: as it was known at that aware instant. `written`: levels that a sheet states.
        """
        with self._reading():
            name = trainee_name(trainee)
            return query.baseline(self._connection, name, workout, before, written)

    def lengths(
        self, trainee: str, workout: Workout, most: int
    ) -> dict[LengthKey, tuple[float, ...]]:
        """Seconds of the last work sets done: at most that many of each kind, the newest last."""
        with self._reading():
            return query.lengths(self._connection, trainee_name(trainee), workout, most)

    def unfinished(self, trainee: str, plan_title: str) -> Unfinished | None:
        """The trainee's newest session of that plan that was cut off."""
        return self.open_sessions(trainee, plan_title, self.path)[0]

    def open_sessions(
        self, trainee: str, plan_title: str, path: Path | None
    ) -> tuple[Unfinished | None, SessionInfo | None]:
        """The newest session of that plan that was cut off, and one that is running now.

        `path` is the record's file; the locks of running sessions lie beside it.
        """
        with self._reading():
            return query.unfinished(
                self._connection,
                trainee_name(trainee),
                plan_title,
                lambda session_id: path is not None and session_lock.is_running(path, session_id),
            )

    def first_day(self, trainee: str, plan_title: str) -> date | None:
        """The local date of the first session with a plan in which a set was done."""
        with self._reading():
            return query.first_day(self._connection, trainee_name(trainee), plan_title)

    def next_session(self, trainee: str, plan_title: str, ids: Sequence[str]) -> str:
        """Which of the plan's sessions `ids` is due: the one after the last closed."""
        with self._reading():
            return query.next_session(self._connection, trainee_name(trainee), plan_title, ids)

    def last_time(self, trainee: str, plan_title: str, session_id: str) -> list[SetRow]:
        """The rows of the last closed session `session_id` of the plan; empty without one."""
        with self._reading():
            name = trainee_name(trainee)
            return query.last_time(self._connection, name, plan_title, session_id)

    def acknowledged(self, trainee: str, plan_title: str) -> set[str]:
        """The cautions of that plan that the trainee has acknowledged."""
        with self._reading():
            return query.acknowledged(self._connection, trainee_name(trainee), plan_title)

    def answers(self, trainee: str, *, before: datetime | None = None) -> list[Answer]:
        """The trainee's answers to advice, the oldest first; `before`: up to that instant."""
        with self._reading():
            return decisions.answers(self._connection, trainee_name(trainee), before)

    def adjustments(self, trainee: str) -> dict[str, tuple[Adjustment, ...]]:
        """By the ids of the trainee's sessions that differed from the plan: how they did."""
        with self._reading():
            return decisions.adjustments(self._connection, trainee_name(trainee))

    def body_mass(self, trainee: str) -> tuple[float, date] | None:
        """The trainee's last body mass in kg, with its date."""
        with self._reading():
            return query.body_mass(self._connection, trainee_name(trainee))

    # The past: `since` and `until` are local dates of the sessions, both included

    def sessions(
        self,
        *,
        trainee: str | None = None,
        plan: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> list[SessionRow]:
        """Sessions by their local dates and starts, open ones too; `plan` is a title."""
        with self._reading():
            return past.sessions(self._connection, Filter.of(trainee, plan, since, until))

    def period(
        self,
        trainee: str,
        *,
        plan: str | None = None,
        since: date | None = None,
        until: date | None = None,
    ) -> Iterator[SetRow]:
        """One trainee's rows, session by session: quick for a short period of a long past."""
        with self._reading():
            yield from past.rows(self._connection, Filter.of(trainee, plan, since, until))

    def uses(self, trainee: str, *, until: date | None = None) -> Iterator[UseOfSession]:
        """Every use of an exercise in every session of a trainee, oldest first, for bests."""
        with self._reading():
            yield from past.uses(self._connection, Filter.of(trainee, until=until))

    def level_decisions(self, trainee: str | None = None) -> list[DecisionRow]:
        """Every decision on a level, by trainee, exercise and group, the oldest first."""
        with self._reading():
            name = None if trainee is None else trainee_name(trainee)
            return past.level_decisions(self._connection, name)

    def plan_text(self, plan_hash: str) -> str:
        """The content of a stored plan as it was; empty without one."""
        with self._reading():
            return past.plan_text(self._connection, plan_hash) or ""

    def last_trained(self, trainee: str) -> date | None:
        """The local date of the trainee's newest session."""
        with self._reading():
            return past.last_trained(self._connection, trainee_name(trainee))

    # One session

    def session_rows(self, session_id: str) -> list[SetRow]:
        """The rows of one session in their order; empty for an unknown one."""
        with self._reading():
            key = query.session_key(self._connection, session_id)
            return [] if key is None else session_rows(self._connection, key)

    def numbered_rows(self, session_id: str) -> list[tuple[int, SetRow]]:
        """The rows of one session by their running numbers, a bout still running too."""
        with self._reading():
            key = query.session_key(self._connection, session_id)
            return [] if key is None else numbered_rows(self._connection, key)

    def is_open(self, session_id: str) -> bool:
        """Whether a session was cut off, or still runs."""
        with self._reading():
            return query.is_open(self._connection, session_id)

    def info(self, session_id: str) -> SessionInfo | None:
        """What a session was opened as; None for an unknown one."""
        with self._reading():
            return query.info(self._connection, session_id)

    def sessions_on(self, trainee: str, day: date) -> list[SessionInfo]:
        """The trainee's closed sessions of a local date, the earliest first."""
        with self._reading():
            return query.sessions_on(self._connection, trainee_name(trainee), day)

    def events(self, session_id: str) -> tuple[Event, ...]:
        """The events of one session in their order; empty for an unknown one."""
        with self._reading():
            key = query.session_key(self._connection, session_id)
            return () if key is None else query.events(self._connection, key)

    def integrity(self) -> str:
        """`ok`, or what SQLite's checks and ours say, a line each."""
        with self._reading():
            return files.integrity(self._connection)

    # Inside

    def _session(self, session_id: str) -> tuple[int, SessionInfo]:
        if session_id not in self._sessions:
            with self._reading():
                key = query.session_key(self._connection, session_id)
                info = query.info(self._connection, session_id)
            if key is None or info is None:
                raise KeyError(session_id)
            self._sessions[session_id] = (key, info)
        return self._sessions[session_id]

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        try:
            # Immediate: waits for the lock here, so that no later statement is refused.
            self._connection.execute("BEGIN IMMEDIATE")
            yield
            self._connection.execute("COMMIT")
        except BaseException as error:
            with suppress(
                sqlite3.Error
            ):  # explain the error that a statement raised, not one of the rollback
                if self._connection.in_transaction:  # SQLite may have ended the transaction itself
                    self._connection.execute("ROLLBACK")
            faults.explain(self._shown_path, error, writing=True)
            raise


def _module(name: str) -> ModuleType:
    """A module of this room, loaded only for a handover."""
    return importlib.import_module(f"runner.record.{name}")


def _copy_of_form(path: Path, form: int) -> None:
    """Copy a file of an earlier form. SQLite copies nothing over a connection that is writing."""
    with closing(files.connect(path)) as connection:
        backup.keep_copy(connection, path, f"form-{form}")
