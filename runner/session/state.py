"""The state of a session, frozen: everything that its events have caused."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law import workout as values
from runner.law.course import Course, GroupKey, PlannedSet
from runner.law.workout import Block, Exercise, Level, Side, Workout
from runner.progress import history
from runner.progress.adjust import Adjustment, Baseline
from runner.session import events
from runner.session.events import KINDS, Begun, Event, Resumed, Who, YesNo

Phase = events.Phase
RowStatus = values.RowStatus


class Row(Struct, frozen=True):
    """One side of a set that was begun or skipped: a row of the record."""

    entry: int  # running number in the session, from 1
    index: int  # index of its planned set
    planned_set: PlannedSet  # as it was really done
    side: Side
    status: RowStatus
    start: float | None = None
    end: float | None = None
    started_by: Who | None = None
    cut_off: bool = False  # by a crash: the ledger takes `end`; the length is unknown
    asked: bool = False  # the person changed or cut the rest before it
    rest_before: float | None = None
    recovery: float | None = None
    open: bool = False  # its count is still missing
    counted: bool = True
    measured: bool = False  # a hold's value comes from the clock
    value: float | None = None  # repetitions, or seconds held
    reserve: int | None = None
    to_beat: float | None = None
    pain: bool = False
    pain_where: str = ""  # as typed; several with `; ` between
    note: str = ""
    corrected: bool = False
    corrected_at: float | None = None  # session second of the newest correction
    today_only: bool = False  # its level is for today only

    @property
    def work(self) -> float | None:
        """Seconds of the bout; None while it runs, if it was never begun, and after a crash."""
        if self.start is None or self.end is None or self.cut_off:
            return None
        return self.end - self.start

    @property
    def beaten(self) -> YesNo | None:
        """Whether the count is strictly more than the one to beat; None where either lacks."""
        return history.beaten(self.value, self.to_beat, pain=self.pain)


class State(Struct, frozen=True):
    """A session between two events."""

    workout: Workout
    baseline: Baseline
    course: Course
    phase: Phase = "ready"
    rows: tuple[Row, ...] = ()
    rest_from: float | None = None  # end of the last bout, or the start of the lead-in
    until: float | None = None  # end of warm-up, rest or cool-down as decided
    why: str = ""  # of the rest
    asked: float = 0.0  # seconds that the person added to this rest
    before_pause: Phase | None = None
    paused_at: float | None = None
    waits: Mapping[tuple[int, Side], tuple[float, int | None]] = field(default_factory=dict)
    moved: Mapping[GroupKey, Level] = field(default_factory=dict)  # versions changed today
    today: frozenset[GroupKey] = frozenset()  # exercises whose level is for today only
    note: str = ""
    rpe: float | None = None
    mass: float | None = None
    complete: bool | None = None  # once closed
    planned: Workout | None = None  # the session as planned, without adjustments
    taken: tuple[str, ...] = ()  # offers taken for today
    adjustments: tuple[Adjustment, ...] = ()  # all differences from the plan
    acts: int = 0  # number of the last act
    log: tuple[Event, ...] = ()  # the events that count, without undone ones
    undone_from: State | None = None  # what a redo restores

    @property
    def running(self) -> Row | None:
        """The row of the running bout."""
        if self.rows and self.rows[-1].status == "running":
            return self.rows[-1]
        return None

    @property
    def coming(self) -> tuple[PlannedSet, Side] | None:
        """The set and side that runs or comes next; None where none remains."""
        index = self.course.next
        if index is None:
            return None
        return self.course.planned_sets[index], self.course.side_of(index)

    @property
    def open_rows(self) -> tuple[Row, ...]:
        """Rows without a count yet, oldest first."""
        return tuple(r for r in self.rows if r.open)

    @property
    def last_ended(self) -> Row | None:
        """The row of the last bout that ended, done or given up."""
        return next((r for r in reversed(self.rows) if r.status in ("done", "broken")), None)

    @property
    def last_begun(self) -> Row | None:
        """The row of the last bout that was begun."""
        return next((r for r in reversed(self.rows) if r.start is not None), None)

    @property
    def begun(self) -> float | None:
        """The session second at which the session was begun."""
        return next((e.at for e in self.log if isinstance(e, Begun)), None)

    @property
    def away(self) -> float:
        """Seconds since the begin during which the session was cut off."""
        begun = False
        away = 0.0
        for before, event in pairwise(self.log):
            begun = begun or isinstance(before, Begun)
            if begun and isinstance(event, Resumed) and event.why == "return":
                away += event.at - before.at
        return away

    @property
    def lasted(self) -> float:
        """Seconds from the begin to the last event, without those in which it was cut off."""
        begun = self.begun
        return 0.0 if begun is None else self.log[-1].at - begun - self.away

    def exercise(self, row: Row) -> Exercise:
        """The exercise of a row, in the version of its set."""
        return self.course.exercise_of(row.planned_set)

    def block_of(self, planned_set: PlannedSet) -> Block:
        """The block of a set."""
        return self.workout.blocks[planned_set.block - 1]

    @property
    def waits_for_key(self) -> bool:
        """Whether the next set starts at the person's key, not by the clock."""
        coming = self.coming
        return coming is not None and self.block_of(coming[0]).starts_by_key

    def with_row(self, entry: int, **changes: object) -> State:
        """The state with one row changed; `entry` is its running number."""
        rows = tuple(replace(r, **changes) if r.entry == entry else r for r in self.rows)
        return replace(self, rows=rows)


class Illegal(Exception):
    """An event that cannot follow here. It changed nothing."""


def check(event: str, before: Phase, after: Phase) -> None:
    """Raise Illegal unless `event` may lead from one phase to the other."""
    allowed = KINDS[event].leads.get(before, ())
    if after not in allowed:
        raise Illegal(f"{event!r} does not lead from {before!r} to {after!r}")
