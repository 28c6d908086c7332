"""Entries of a closed session put right: by hand, or by the counts of a file that was imported.

A session's state comes back from its events and its plan as it was; a correction is one event more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from msgspec import Struct, field

from runner.errors import Exit, MatsideError
from runner.live.history import as_it_was
from runner.live.session_setup import baseline_of
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.record.importing import Update
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.session import flow, verb as cmd
from runner.session.apply import EventInPhase, replay
from runner.session.events import Event
from runner.session.state import Illegal, State


class SessionCorrection(Struct):
    """A closed session whose entries are put right."""

    info: SessionInfo
    record: Record
    state: State
    stored: int  # events on file
    events: list[EventInPhase] = field(default_factory=list)

    def fix(self, command: cmd.Fix | cmd.NoCount, now: datetime) -> None:
        """Put an entry right, in mind only. Raises `Refused`."""
        seconds = max(round((now - self.info.started).total_seconds(), 3), 0.0)
        result = flow.correct(self.state, command, seconds)
        self.state = result.state
        self.events += result.events

    def keep(self) -> None:
        """Keep all of it, or nothing. Raises Unwritable."""
        self.record.correct(self.info.id, list(self.numbered), self.state)

    @property
    def numbered(self) -> Iterator[tuple[int, Event]]:
        """What was put right, as events with their numbers."""
        return enumerate((one.event for one in self.events), self.stored + 1)


def open_correction(
    record: Record, trainee: str, on: date, session_id: str | None
) -> SessionCorrection:
    """The closed session of that date; `session_id`, or its beginning, where there are several.

    Raises MatsideError (66) if no session is of that date, or several are and none is named.
    """
    there = record.sessions_on(trainee, on)
    wanted = [one for one in there if session_id is None or one.id.startswith(session_id)]
    if len(wanted) != 1:
        raise MatsideError(*_which(trainee, on, there), code=Exit.NO_INPUT)
    return _correction_of(record, wanted[0])


def corrections(
    record: Record, updates: Sequence[Update], now: datetime
) -> list[tuple[str, list[tuple[int, Event]], State]]:
    """What a file's counts correct in sessions that have events: numbered events, state after.

    A correction is dated as the file says, else at `now`. None of sessions whose plan can no
    longer be read.
    """
    by_session: dict[str, SessionCorrection] = {}
    for update in updates:
        if not update.events:
            continue
        row = update.row
        if row.session_id not in by_session:
            info = record.info(row.session_id)
            if info is None:  # taken out between the look and now
                continue
            try:
                by_session[row.session_id] = _correction_of(record, info)
            except MatsideError:  # an old plan is no reason to refuse a count
                continue
        at = now if row.corrected_at is None else datetime.fromisoformat(row.corrected_at)
        value = row.hold_s if row.measure == "hold" else row.reps
        by_session[row.session_id].fix(
            cmd.NoCount(update.entry)
            if value is None
            else cmd.Fix(update.entry, row.measure, cmd.Count(value, row.reserve)),
            at,
        )
    return [
        (one.info.id, list(one.numbered), one.state) for one in by_session.values() if one.events
    ]


def _which(trainee: str, on: date, there: Sequence[SessionInfo]) -> list[str]:
    if not there:
        return [f"{trainee} has no closed session on {on}"]
    return [
        f"{trainee} has several sessions on {on}; name one with --id:"
        if len(there) > 1
        else f"no session with this id on {on}; there are:",
        *(f"  {one.id}  {one.local(0):%H:%M}  {one.plan}, session {one.session}" for one in there),
    ]


def _correction_of(record: Record, info: SessionInfo) -> SessionCorrection:
    events: tuple[Event, ...] = record.events(info.id)
    if not events:
        raise MatsideError(
            f"the session of {info.local_date} was imported and cannot be corrected here; correct "
            "its CSV and import it again",
            code=Exit.NO_INPUT,
        )
    try:
        state = replayed(info, events)
    except (MatsideError, Illegal):
        raise MatsideError(
            f"the session of {info.local_date} cannot be corrected here, because this version does "
            "not read its plan as it was; correct its CSV and import it",
            code=Exit.NO_INPUT,
        ) from None
    return SessionCorrection(info, record, state, len(events))


def replayed(info: SessionInfo, events: Sequence[Event]) -> State:
    """A session's state by its events. Raises MatsideError where its plan can no longer be read."""
    workout = as_it_was(info.plan_text, info.plan, info.session)
    if workout is None:
        workout = compile_session(parse_plan(info.plan_text, info.plan), info.session)
    return replay(workout, baseline_of(events), events)
