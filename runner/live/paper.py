"""A session done without the program: written up afterwards, and entries put right later.

No time of such a session is known but its date. So its rows have no start, no length and no
rest; it stands in the record at noon of its date unless the hour is said, or a minute after
the trainee's session that stands there already.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from runner.errors import Exit, MatsideError
from runner.law.course import find_level
from runner.law.workout import Exercise, Level, Workout
from runner.live.clock import Clock
from runner.live.history import as_it_was
from runner.live.session_setup import baseline_of, due_session
from runner.output import record_path
from runner.plan.compile import compile_session
from runner.plan.file import parse_plan, read_whole
from runner.plan.library import find_plan
from runner.progress.progression import NOTHING, Done, easier_than, harder_than
from runner.record.importing import Update
from runner.record.record import Record
from runner.record.rows import SessionInfo
from runner.session import flow, verb as cmd
from runner.session.apply import Happened, Outcome, replay
from runner.session.events import Event
from runner.session.state import State
from runner.session.words import PaperSet

NOON = time(12)
LONGEST = 24 * 60  # minutes that a session may have lasted; our choice


@dataclass(frozen=True, slots=True)
class PaperPage:
    """The sets of one exercise that are asked for in one line, and what they were done with."""

    exercise: Exercise
    planned_sets: tuple[int, ...]  # their places among the session's sets
    level: Level
    counts: tuple[PaperSet, ...] = ()
    pain: str = ""
    note: str = ""
    done: Done = NOTHING  # what was done before, for `easier` and `harder`
    mass: float | None = None  # of the body, kg

    @property
    def step(self) -> int:
        """The place in the progression, or of what is nearest to what was really used."""
        return find_level(self.exercise, self.level)

    def moved(self, by: int) -> PaperPage | None:
        """One level easier or harder, as in a session; None where there is none."""
        move = easier_than if by < 0 else harder_than
        step = move(self.exercise, self.level, self.mass, self.done)
        if step.kind == "top":
            return None
        return replace(self, level=self.exercise.progression[step.index])


@dataclass(slots=True)
class Paper:
    """A session to be written up: what it was, and what is known of it so far."""

    workout: Workout
    info: SessionInfo
    record: Record
    start: State  # of the session, nothing written
    pages: list[PaperPage]
    known: bool  # the trainee is in the record
    near: tuple[str, ...]
    same_day: tuple[SessionInfo, ...]  # the trainee's sessions of that date
    after: list[cmd.Command] = field(default_factory=list)  # note, effort, body mass
    minutes: float | None = None
    kept: bool = False

    def outcome(self) -> Outcome:
        """The session as it is understood, from its opening to its close."""
        happened: list[Happened] = []
        state = self.start

        def take(outcome: Outcome) -> None:
            nonlocal state
            happened.extend(outcome.happened)
            state = outcome.state

        take(flow.opened(state))
        for command in (*self._sets(), *self.after):
            take(flow.handle(state, command, 0.0))
        take(flow.handle(state, cmd.End(), (self.minutes or 0.0) * 60))
        return Outcome(state, tuple(happened))

    def _sets(self) -> list[cmd.WriteUp]:
        """The sets in the order of the session; those nobody wrote down are left alone."""
        written = [
            cmd.WriteUp(
                planned_set, page.step, counts, page.level.load, page.level.setup, page.pain,
                page.note if planned_set == page.planned_sets[0] else "",
            )
            for page in self.pages
            for planned_set, counts in zip(page.planned_sets, page.counts, strict=False)
        ]  # fmt: skip
        return sorted(written, key=lambda one: one.planned_set)

    @property
    def empty(self) -> bool:
        """Whether no set was done."""
        return not any(counts for page in self.pages for counts in page.counts)

    def keep(self, outcome: Outcome) -> None:
        """Keep the whole of it, or nothing. Raises Unwritable."""
        events = [one.event for one in outcome.happened]
        self.record.write_up(self.info, list(enumerate(events, 1)), outcome.state)
        self.kept = True


def open_paper(
    plan_name: str,
    *,
    data: Path,
    trainee: str,
    clock: Clock,
    on: date,
    at: time | None = None,
    session: str | None = None,
) -> Paper:
    """A session of a plan on a date, with the versions that were held then.

    Raises MatsideError for a plan that cannot be used, a date to come, an hour that the clocks
    left out, and a record that cannot be written.
    """
    path = find_plan(plan_name, data)
    plan, text = read_whole(path, data)
    now = clock.local()
    if on > now.date():
        raise MatsideError(f"--on {on} is in the future; today is {now.date()}", code=Exit.USAGE)
    record = Record.open(record_path(data, trial=plan.trial))
    try:
        workout = compile_session(plan, session or due_session(plan, record, trainee))
        same_day = tuple(record.sessions_on(trainee, on))
        begun = _begun(on, at, now, [one.started for one in same_day])
        baseline = record.baseline(trainee, workout, before=begun)
        known = trainee in record.trainees()
        near = () if known else tuple(record.similar(trainee))
    except BaseException:
        record.close()
        raise
    start = flow.initial(workout, baseline)
    info = SessionInfo.opened(begun, workout, text, trainee)
    return Paper(workout, info, record, start, _pages(start), known, near, same_day)


def _pages(state: State) -> list[PaperPage]:
    """One for each exercise of a block, and each version that the plan names for its sets."""
    found: dict[tuple[int, str, str], list[int]] = {}
    firsts: dict[tuple[int, str], int] = {}  # a ramp set is not asked for, and comes first
    planned_sets = state.course.planned_sets
    for index, planned_set in enumerate(planned_sets):
        firsts.setdefault((planned_set.block, planned_set.exercise), index)
        if planned_set.kind == "work":
            found.setdefault(
                (planned_set.block, planned_set.exercise, planned_set.group), []
            ).append(index)
    in_order = sorted(found.items(), key=lambda one: (firsts[one[0][:2]], one[1][0]))
    baseline = state.baseline
    return [
        PaperPage(
            state.workout.exercises[name],
            tuple(places),
            planned_sets[places[0]].level,
            done=baseline.done(state.workout.exercises[name]),
            mass=baseline.mass,
        )
        for (_, name, _), places in in_order
    ]


def _begun(on: date, at: time | None, now: datetime, taken: Sequence[datetime]) -> datetime:
    """When the session stands in the record, in local time; never one that is taken."""
    begun = _local(datetime.combine(on, at or NOON), now)
    if at is not None and begun > now:
        raise MatsideError(f"--at {at:%H:%M} on {on} is in the future", code=Exit.USAGE)
    begun = min(begun, now)
    while begun.astimezone(UTC).replace(microsecond=0) in {t.replace(microsecond=0) for t in taken}:
        begun += timedelta(minutes=1)
    return begun


def _local(naive: datetime, now: datetime) -> datetime:
    """That time of the local clocks. An hour that came twice is its first."""
    zone = now.tzinfo
    named = isinstance(zone, ZoneInfo) or zone is UTC
    local = naive.replace(tzinfo=zone) if named else naive.astimezone()
    if local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) != naive:
        raise MatsideError(
            f"the clocks left out {naive:%H:%M} on {naive:%Y-%m-%d}; write a time that exists",
            code=Exit.USAGE,
        )
    return local


@dataclass(slots=True)
class Fixing:
    """A closed session whose entries are put right."""

    info: SessionInfo
    record: Record
    state: State
    events: int  # on file
    happened: list[Happened] = field(default_factory=list)

    def fix(self, command: cmd.Fix | cmd.NoCount, now: datetime) -> None:
        """Put an entry right, in mind only. Raises `turn.Refused`."""
        seconds = max(round((now - self.info.started).total_seconds(), 3), 0.0)
        outcome = flow.correct(self.state, command, seconds)
        self.state = outcome.state
        self.happened += outcome.happened

    def keep(self) -> None:
        """Keep all of it, or nothing. Raises Unwritable."""
        self.record.correct(self.info.id, list(self.numbered), self.state)

    @property
    def numbered(self) -> Iterator[tuple[int, Event]]:
        """What was put right, as events with their numbers."""
        return enumerate((one.event for one in self.happened), self.events + 1)


def open_fixing(record: Record, trainee: str, on: date, session_id: str | None) -> Fixing:
    """The closed session of that date; `session_id`, or its beginning, where there are several.

    Raises MatsideError (66) where there is none, or where it cannot be told which.
    """
    there = record.sessions_on(trainee, on)
    wanted = [one for one in there if session_id is None or one.id.startswith(session_id)]
    if len(wanted) != 1:
        raise MatsideError(*_which(trainee, on, there), code=Exit.NO_INPUT)
    return _fixing(record, wanted[0])


def corrections(
    record: Record, updates: Sequence[Update], now: datetime
) -> list[tuple[str, list[tuple[int, Event]], State]]:
    """What a file's counts correct in sessions that have events: numbered events, state after.

    A correction is dated as the file says, else at `now`.
    """
    fixings: dict[str, Fixing] = {}
    for update in updates:
        if not update.events:
            continue
        row = update.row
        if row.session_id not in fixings:
            info = record.info(row.session_id)
            if info is None:  # taken out between the look and now
                continue
            fixings[row.session_id] = _fixing(record, info)
        at = now if row.corrected_at is None else datetime.fromisoformat(row.corrected_at)
        value = row.hold_s if row.measure == "hold" else row.reps
        fixings[row.session_id].fix(
            cmd.NoCount(update.entry)
            if value is None
            else cmd.Fix(update.entry, row.measure, cmd.Count(value, row.reserve)),
            at,
        )
    return [
        (one.info.id, list(one.numbered), one.state) for one in fixings.values() if one.happened
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


def _fixing(record: Record, info: SessionInfo) -> Fixing:
    events: tuple[Event, ...] = record.events(info.id)
    if not events:
        raise MatsideError(
            f"the session of {info.local_date} was imported and cannot be corrected here; correct "
            "its CSV and import it again",
            code=Exit.NO_INPUT,
        )
    return Fixing(info, record, replayed(info, events), len(events))


def replayed(info: SessionInfo, events: Sequence[Event]) -> State:
    """A session's state by its events. Raises MatsideError where its plan can no longer be read."""
    workout = as_it_was(info.plan_text, info.plan, info.session)
    if workout is None:
        workout = compile_session(parse_plan(info.plan_text, info.plan), info.session)
    return replay(workout, baseline_of(events), events)
