"""A trainee's past as the rules need it: sessions of each exercise, and adjustments."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import Final

from msgspec import Struct

from runner.errors import MatsideError
from runner.law.course import GroupKey
from runner.law.workout import Workout
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan
from runner.progress.adjust import Adjustment, adjusted
from runner.progress.history import PastSession, SessionFacts, SetRow, sessions_of
from runner.record.past import SessionRow
from runner.record.record import Record

LOOK_BACK: Final = timedelta(days=183)  # and further back this many sessions; our choice
LEAST: Final = 24


class Past(Struct, frozen=True):
    """What a trainee has done, up to a day."""

    sessions: Sequence[SessionRow]  # closed, or the one that has just been done
    rows: Sequence[SetRow]
    by_exercise: Mapping[GroupKey, Sequence[PastSession]]
    workouts: Mapping[str, Workout]  # by session id, as they were run

    def of(self, exercise: str, group: str) -> tuple[PastSession, ...]:
        """The sessions of an exercise and group of sets, the oldest first."""
        return tuple(self.by_exercise.get((exercise, group), ()))


def past_of(
    record: Record,
    trainee: str,
    today: date,
    *,
    running: str | None = None,
    back: timedelta = LOOK_BACK,
) -> Past:
    """The last half year, or as far `back`, and at least the last 24 sessions.

    `running` is a session that counts although it is not closed yet.
    """
    since = today - back
    found = record.sessions(trainee=trainee, since=since, until=today)
    if len(found) < LEAST:  # after a layoff the sessions before it still count
        found = record.sessions(trainee=trainee, until=today)[-LEAST:]
        since = min([since, *(one.local_date for one in found)])
    sessions = [one for one in found if one.status == "closed" or one.session_id == running]
    known = {one.session_id for one in sessions}
    rows = list(record.period(trainee, since=since, until=today))
    if len(known) < len(found):
        rows = [row for row in rows if row.session_id in known]
    changes = record.adjustments(trainee)
    workouts = dict(_workouts(record, sessions, changes))
    facts = SessionFacts(
        workouts,
        level_finding=tuple(_level_finding(workouts)),
        deload=[one for id_, all_ in changes.items() for one in deload(id_, all_)],
    )
    return Past(sessions, rows, sessions_of(rows, facts), workouts)


def _workouts(
    record: Record, sessions: Sequence[SessionRow], changes: Mapping[str, tuple[Adjustment, ...]]
) -> Iterator[tuple[str, Workout]]:
    """The plan's session of each session; left out where its plan can no longer be read."""
    texts = {one.plan_hash: record.plan_text(one.plan_hash) for one in sessions}
    for one in sessions:
        workout = as_it_was(texts[one.plan_hash], one.plan, one.session)
        if workout is not None:
            adjustments = changes.get(one.session_id, ())
            yield one.session_id, adjusted(workout, {}, adjustments)[0] if adjustments else workout


@lru_cache(maxsize=64)
def as_it_was(text: str, title: str, session: str) -> Workout | None:
    """A session of a stored plan, nothing adjusted; None where that can no longer be read.

    The same few are asked for again and again.
    """
    try:
        return compile_session(parse_plan(text, title), session)
    except MatsideError:
        return None


def _level_finding(workouts: Mapping[str, Workout]) -> Iterator[tuple[str, str]]:
    for id_, workout in workouts.items():
        for name in workout.level_finding:
            yield id_, name


def deload(session_id: str, changes: Iterable[Adjustment]) -> Iterator[tuple[str, str]]:
    """Which exercises a session did as a deload: (its id, exercise), "" for all of them."""
    for change in changes:
        if change.kind == "no count":
            yield session_id, change.exercise
