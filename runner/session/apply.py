"""(state, event) -> state. Replaying a session's events gives its state again.

Theory. A session is the list of its events. So a power cut loses only the keys of an unfinished
count, and a replay shows what led to a fault. Undo is an event too. It names an act, and the
session is replayed without that act's events. So no action needs an inverse that could be wrong;
undoing a wrong "end set" brings the running set back with its first start. Undo goes act by act,
starts by the clock included. Redo restores the state before the undo; the state keeps it until
something else happens. Acts before a crash cannot be undone, for nobody knows any more what was on
the screen then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import (
    Course,
    GroupKey,
    PlannedSet,
    ramp_level,
    with_planned_set,
    working_index,
)
from runner.law.timing import Rest
from runner.law.workout import Exercise, Level, Setup, Side, Workout, load_text, parse_setup
from runner.progress.adjust import Adjustment, Baseline, beat_key, begin_course
from runner.progress.history import Use
from runner.progress.levels import session_level, weaker_sides
from runner.session import events as ev
from runner.session.state import Illegal, Phase, Row, State, check

EventT = TypeVar("EventT", bound=ev.Event)
Applies = Callable[[State, EventT], State]
_ON: dict[type[ev.Event], Callable[[State, Any], State]] = {}


def _on(kind: type[EventT]) -> Callable[[Applies[EventT]], Applies[EventT]]:
    """Mark the function that applies this kind of event."""

    def mark(function: Applies[EventT]) -> Applies[EventT]:
        _ON[kind] = function
        return function

    return mark


# Events that change what is known of sets, and not the phase.


def to_beat(state: State, planned_set: PlannedSet, side: Side) -> float | None:
    """The count to beat; None for a warm-up set, and where an adjustment takes it away."""
    if planned_set.kind == "ramp" or planned_set.exercise in state.workout.nothing_to_beat:
        return None
    return state.baseline.to_beat.get(
        beat_key(planned_set.exercise, planned_set.level, planned_set.number, side)
    )


def row_of(state: State, entry: int) -> Row:
    """The row with the number `entry`; raises Illegal without one."""
    if not 1 <= entry <= len(state.rows):
        raise Illegal(f"no entry {entry}")
    return state.rows[entry - 1]


def merged(setup: Setup, changes: Setup) -> Setup:
    """A measured set-up with some values replaced; new names go to the end."""
    new = dict(changes)
    kept = tuple((name, new.pop(name, value)) for name, value in setup)
    return (*kept, *new.items())


@_on(ev.Entered)
def _entered(state: State, event: ev.Entered) -> State:
    row = row_of(state, event.entry)
    value = event.hold_s if event.reps is None else float(event.reps)
    waits = dict(state.waits)
    waits.pop((row.index, row.side), None)
    if event.waits is not None:
        other: Side = "right" if row.side == "left" else "left"
        waits[row.index, other] = (event.waits, event.waits_reserve)
    state = state.with_row(
        row.entry,
        open=False,
        counted=event.counted == "yes",
        measured=event.by == "clock",
        value=value,
        reserve=event.reserve,
    )
    return replace(state, waits=waits)


@_on(ev.Corrected)
def _corrected(state: State, event: ev.Corrected) -> State:
    return _entered(state, event).with_row(event.entry, corrected=True, corrected_at=event.at)


@_on(ev.Late)
def _late(state: State, event: ev.Late) -> State:
    row = row_of(state, event.entry)
    if row.end is None or row is not state.last_ended:
        raise Illegal("not the last set that ended")
    end = row.end - event.seconds
    value = row.value
    if row.measured and value is not None:
        value = round(max(value - event.seconds, 0.0), 1)
    state = state.with_row(row.entry, end=end, value=value)
    course = state.course.ended_earlier(row.index, row.side, end, event.work_s)
    running = state.running
    if running is not None and running.start is not None:
        # The running set had that much more recovery.
        before = running.rest_before
        state = state.with_row(
            running.entry,
            rest_before=None if before is None else before + event.seconds,
            recovery=course.ledger_of(running.side).recovered(
                course.bout(running.index, running.side), running.start
            ),
        )
    return replace(state, course=course, rest_from=end if running is None else state.rest_from)


@_on(ev.Used)
def _used(state: State, event: ev.Used) -> State:
    changes = parse_setup(event.setup or "")
    begun = state.last_begun
    used = begun.planned_set if begun is not None else state.coming[0] if state.coming else None

    def really(planned_set: PlannedSet) -> Level:
        # The load of a warm-up set says nothing about the work sets, nor the other way round.
        other = event.load_kg is None or used is None or planned_set.kind != used.kind
        load = planned_set.level.load if other else event.load_kg
        return replace(planned_set.level, load=load, setup=merged(planned_set.level.setup, changes))

    planned_sets, moved = list(state.course.planned_sets), dict(state.moved)
    for index, planned_set in enumerate(planned_sets):
        concerned = planned_set.status == "todo" or (begun is not None and index == begun.index)
        if concerned and (planned_set.exercise, planned_set.level.version) == (
            event.exercise,
            event.version,
        ):
            planned_sets[index] = replace(planned_set, level=really(planned_set))
            if planned_set.kind == "work" and planned_sets[index].level != planned_set.level:
                moved[planned_set.exercise, planned_set.group] = planned_sets[index].level
    course = replace(state.course, planned_sets=tuple(planned_sets))
    state = replace(state, moved=moved, course=course)
    if begun is None:
        return state
    for row in state.rows:
        if row.index == begun.index and row.start is not None:
            planned_set = replace(row.planned_set, level=planned_sets[row.index].level)
            state = state.with_row(
                row.entry,
                planned_set=planned_set,
                to_beat=to_beat(state, planned_set, row.side),
                today_only=_today_only(state, planned_set),
            )
    level = planned_sets[begun.index].level
    station = state.workout.exercises[event.exercise].at(level.version).station
    if changes and station is not None:
        stations = {**course.stations, station: level.setup}
        state = replace(state, course=replace(course, stations=stations))
    return state


@_on(ev.Noted)
def _noted(state: State, event: ev.Noted) -> State:
    if event.entry is None:
        return replace(state, note=joined(state.note, event.note))
    row = row_of(state, event.entry)
    return state.with_row(row.entry, note=joined(row.note, event.note))


def joined(before: str, more: str) -> str:
    """A note with a line added at its end."""
    return f"{before}\n{more}" if before else more


@_on(ev.Pain)
def _pain(state: State, event: ev.Pain) -> State:
    text = f"pain: {event.where}" if event.where else ""
    if event.entry is None:
        return replace(state, note=joined(state.note, text or "pain"))
    row = row_of(state, event.entry)
    for other in state.rows:
        if other.index == row.index and (other.start is not None or row.start is None):
            where = "; ".join(dict.fromkeys(filter(None, (other.pain_where, event.where))))
            state = state.with_row(other.entry, pain=True, pain_where=where)
    return state.with_row(row.entry, note=joined(row.note, text)) if text else state


@_on(ev.Rpe)
def _rpe(state: State, event: ev.Rpe) -> State:
    return replace(state, rpe=event.rpe)


@_on(ev.Mass)
def _mass(state: State, event: ev.Mass) -> State:
    return replace(state, mass=event.mass_kg)


class NewLevel(Struct, frozen=True):
    """A level that a session used in place of the planned one."""

    exercise: Exercise
    group: str
    level: Level
    was: Level
    today_only: bool

    @property
    def text(self) -> str:
        """In a few words: `ROW 12 kg, was 8`, `PUSH-UP floor, was knees`."""
        new, old = _setup_text(self.level), _setup_text(self.was)
        if self.level.version == self.was.version:
            alone = not self.was.setup  # a bare number beside a set-up would be unclear
            was = (old.removesuffix(" kg") if alone else old) or "no load"
            return f"{self.exercise.short} {new}, was {was}"
        if new == old:  # only the version changed
            new = old = ""
        words = (self.exercise.short, self.level.version, new)
        return f"{' '.join(filter(None, words))}, was {f'{self.was.version} {old}'.strip()}"


def _setup_text(level: Level) -> str:
    values = [value for _, value in level.setup]
    return ", ".join([*values, *([] if level.load is None else [f"{load_text(level.load)} kg"])])


def new_levels(state: State) -> list[NewLevel]:
    """The levels at which the next session starts, as far as this session changed them."""
    counts: dict[GroupKey, list[tuple[int, Use, float]]] = {}
    for row in state.rows:
        if _gives_level(state, row) and row.value is not None:
            use = replace(Use.of(row.planned_set.level), tempo="")
            key = (row.planned_set.exercise, row.planned_set.group)
            counts.setdefault(key, []).append((row.planned_set.number, use, row.value))
    found = []
    for key, of_sets in counts.items():
        exercise, was = state.workout.exercises[key[0]], planned_level(state, key)
        planned = replace(Use.of(was), tempo="")
        used = session_level(exercise, weaker_sides(of_sets), planned)
        if used is not None and used != planned:
            levels = (
                row.planned_set.level for row in state.rows if row.planned_set.exercise == key[0]
            )
            level = next(r for r in levels if replace(Use.of(r), tempo="") == used)
            found.append(NewLevel(exercise, key[1], level, was, key in state.today))
    return found


def planned_level(state: State, key: GroupKey) -> Level:
    """The level at which a session starts an exercise's group of sets if nothing changed it."""
    exercise = state.workout.exercises[key[0]]
    return exercise.progression[working_index(exercise, key[1], state.baseline.working_levels)]


def _gives_level(state: State, row: Row) -> bool:
    """As `levels.carries` judges a stored row, except for the mark "today only"."""
    planned_set = row.planned_set
    finds_level = planned_set.exercise in state.workout.level_finding
    passing = row.pain or planned_set.swapped_for or finds_level
    deload = planned_set.exercise in state.workout.nothing_to_beat
    return planned_set.kind == "work" and row.status == "done" and not (passing or deload)


@_on(ev.Held)
def _held(state: State, event: ev.Held) -> State:
    key, today = (event.exercise, event.group), event.for_ == "today"
    rows = [r for r in state.rows if (r.planned_set.exercise, r.planned_set.group) == key]
    if not rows:
        raise Illegal(f"{event.exercise} was not done")
    state = replace(state, today=state.today | {key} if today else state.today - {key})
    for row in rows:
        state = state.with_row(row.entry, today_only=_today_only(state, row.planned_set))
    return state


def _today_only(state: State, planned_set: PlannedSet) -> bool:
    """Whether a set's level is for today only; also for a set after the word "today"."""
    key = (planned_set.exercise, planned_set.group)
    return (
        key in state.today
        and planned_set.kind == "work"
        and planned_set.level != planned_level(state, key)
    )


def initial(workout: Workout, baseline: Baseline) -> State:
    """The state of a session that was just opened."""
    course = begin_course(workout, baseline)
    return State(course.workout, baseline, course, planned=workout, adjustments=baseline.changes)


def replay(workout: Workout, baseline: Baseline, events: Iterable[ev.Event]) -> State:
    """The state after these events. Uses no clock."""
    state = initial(workout, baseline)
    for event in events:
        state = evolve(state, event)
    return state


def evolve(state: State, event: ev.Event) -> State:
    """The state after `event`. Raises Illegal, and changes nothing, where it cannot follow."""
    if isinstance(event, ev.Redone):
        return _redone(state, event)
    if isinstance(event, ev.Undone):
        return _undone(state, event)
    after = _ON[type(event)](state, event)
    check(event.name, state.phase, after.phase)
    # An undo can be taken back until another event follows than the rest that it decides anew.
    same = isinstance(event, ev.Resting) and event.act == state.acts
    return replace(
        after,
        acts=max(state.acts, event.act),
        log=(*state.log, event),
        undone_from=state.undone_from if same else None,
    )


def _undone(state: State, event: ev.Undone) -> State:
    """The session without the act that was undone.

    The other events are replayed in order. Events that the clock caused since may no longer be
    possible: the next set cannot have begun if this one never ended. Those events go with the act;
    so does a rest that an earlier undo decided anew, if now even the warm-up before it is not over.
    """
    again = initial(state.planned or state.workout, state.baseline)
    undos = {e.act for e in state.log if isinstance(e, ev.Undone)}
    for earlier in state.log:
        if earlier.act == event.of:
            continue
        if isinstance(earlier, ev.Undone):
            again = replace(again, log=(*again.log, earlier))
            continue
        if earlier.act in undos and again.phase == "warm-up":
            continue
        try:
            again = evolve(again, earlier)
        except Illegal:
            continue
    return replace(
        again, acts=max(state.acts, event.act), log=(*again.log, event), undone_from=state
    )


def _redone(state: State, event: ev.Redone) -> State:
    """The session as it was before the last undo; an undo before that one can follow."""
    before = state.undone_from
    if before is None:
        raise Illegal("no undo to take back")
    back = (e for e in state.log if isinstance(e, ev.Undone) and e.act > before.acts)
    return replace(before, acts=max(state.acts, event.act), log=(*before.log, *back, event))


def _between(state: State, course: Course, at: float) -> State:
    """After a set was ended or left out: on to what is next, or to the wrap-up."""
    if course.next is not None:
        phase: Phase = state.phase if state.phase in ("ready", "warm-up", "paused") else "rest"
        return replace(state, course=course, phase=phase)
    return replace(
        state,
        course=course,
        phase="wrap-up",
        why="",
        until=at + state.workout.cool_down,
        before_pause=None,
        paused_at=None,
    )


@_on(ev.Opened)
def _opened(state: State, event: ev.Opened) -> State:
    return state


@_on(ev.Adjusted)
def _adjusted(state: State, event: ev.Adjusted) -> State:
    changes = (*state.baseline.changes, *map(Adjustment.from_data, event.changes))
    baseline = replace(state.baseline, changes=changes)
    course = begin_course(state.planned or state.workout, baseline)
    after = replace(
        state,
        workout=course.workout,
        course=course,
        moved={},
        taken=tuple(event.taken),
        adjustments=changes,
    )
    for used in state.log:
        if isinstance(used, ev.Used):  # the stations stay as they are
            after = _used(after, used)
    return after


@_on(ev.Begun)
def _begun(state: State, event: ev.Begun) -> State:
    if state.workout.warm_up > 0:
        return replace(state, phase="warm-up", until=event.at + state.workout.warm_up)
    return replace(state, phase="rest", rest_from=event.at)


@_on(ev.Resting)
def _resting(state: State, event: ev.Resting) -> State:
    since = event.at if state.phase == "warm-up" else state.rest_from
    phase: Phase = "paused" if state.phase == "paused" else "rest"
    return replace(state, phase=phase, rest_from=since, until=event.until, why=event.why)


@_on(ev.Started)
def _started(state: State, event: ev.Started) -> State:
    coming, index = state.coming, state.course.next
    if coming is None or index is None or state.phase != "rest":
        raise Illegal("no set is to come")
    planned_set, side = coming
    if (planned_set.exercise, planned_set.number, side) != (event.exercise, event.set, event.side):
        raise Illegal("another set is to come")
    course = state.course.begin()
    first = state.course.ended is None
    rest = None if first or state.rest_from is None else event.at - state.rest_from
    row = Row(
        entry=len(state.rows) + 1,
        index=index,
        planned_set=course.planned_sets[index],
        side=side,
        status="running",
        start=event.at,
        started_by=event.by,
        asked=state.asked != 0,
        rest_before=rest,
        recovery=state.course.recovered(event.at),
        to_beat=to_beat(state, planned_set, side),
        today_only=_today_only(state, planned_set),
    )
    rows = (*state.rows, row)
    return replace(state, phase="set", course=course, rows=rows, until=None, why="", asked=0.0)


@_on(ev.Ended)
def _ended(state: State, event: ev.Ended) -> State:
    row = state.running
    if row is None:
        raise Illegal("no set is running")
    state = state.with_row(
        row.entry, status="done", end=event.at, cut_off=event.work_s is None, open=True
    )
    state = replace(state, rest_from=event.at)
    return _between(state, state.course.finish(event.at, event.work_s), event.at)


@_on(ev.Skipped)
def _skipped(state: State, event: ev.Skipped) -> State:
    running = state.running
    if event.given_up == "yes":
        if running is None:
            raise Illegal("no set is running")
        state = state.with_row(running.entry, status="broken", end=event.at)
        state = replace(state, rest_from=event.at)
        return _between(state, state.course.finish(event.at, None, whole=False), event.at)
    index = _set_index(state.course, event.exercise, event.set)
    if any((r.index, r.side) == (index, event.side) for r in state.rows):
        raise Illegal("that bout has been")
    planned_set, course = state.course.planned_sets[index], state.course
    if planned_set.status == "todo":
        course = replace(
            course, planned_sets=with_planned_set(course.planned_sets, index, status="skipped")
        )
    elif index == course.last:
        course = replace(course, side=0)
    row = Row(len(state.rows) + 1, index, course.planned_sets[index], event.side, "skipped")
    if (course.next, course.side) != (state.course.next, state.course.side):
        state = replace(state, asked=0.0)  # the event belongs to another bout
    return _between(replace(state, rows=(*state.rows, row)), course, event.at)


def _set_index(course: Course, exercise: str, number: int) -> int:
    for index, planned_set in enumerate(course.planned_sets):
        if (planned_set.exercise, planned_set.number) == (exercise, number):
            return index
    raise Illegal(f"no set {number} of {exercise}")


@_on(ev.Written)
def _written(state: State, event: ev.Written) -> State:
    index = _set_index(state.course, event.exercise, event.set)
    if event.entry != len(state.rows) + 1:
        raise Illegal(f"entry {event.entry} is not the next")
    done = event.status == "done"
    level = state.workout.exercises[event.exercise].progression[event.step]
    level = replace(level, setup=parse_setup(event.setup), load=event.load_kg)
    planned_sets = with_planned_set(
        state.course.planned_sets, index, status="begun" if done else "skipped", level=level
    )
    row = Row(
        entry=event.entry,
        index=index,
        planned_set=planned_sets[index],
        side=event.side,
        status=event.status,
        counted=event.counted == "yes",
        value=event.hold_s if event.reps is None else float(event.reps),
        reserve=event.reserve,
        to_beat=to_beat(state, planned_sets[index], event.side) if done else None,
        pain=event.pain is not None,
        pain_where=event.pain or "",
        note="\n".join(text for text in (event.pain and f"pain: {event.pain}", event.note) if text),
    )
    course = replace(state.course, planned_sets=planned_sets)
    return replace(state, course=course, rows=(*state.rows, row))


@_on(ev.Dropped)
def _dropped(state: State, event: ev.Dropped) -> State:
    course = state.course
    planned_sets = tuple(
        replace(s, status="dropped") if (s.exercise, s.status) == (event.exercise, "todo") else s
        for s in course.planned_sets
    )
    shorter = replace(course, planned_sets=planned_sets)
    if state.running is not None or state.phase == "ready":
        return replace(state, course=shorter)  # from paper: not the running exercise
    if shorter.next != course.next:
        state = replace(state, asked=0.0)  # the event belongs to another bout
    return _between(state, shorter, event.at)


@_on(ev.Swapped)
def _swapped(state: State, event: ev.Swapped) -> State:
    working = state.baseline.working_levels
    substitute = state.workout.exercises[event.to]
    work = substitute.progression[working_index(substitute, "", working)]
    number = max((s.number for s in state.course.planned_sets if s.exercise == event.to), default=0)
    planned_sets = list(state.course.planned_sets)
    here = [
        (index, planned_set)
        for index, planned_set in enumerate(planned_sets)
        if (planned_set.block, planned_set.exercise) == (event.block, event.exercise)
        and event.group in (None, planned_set.group)
    ]
    # Paper has no warm-up sets: one before a set that was done will not come.
    last = max((index for index, one in here if one.status != "todo"), default=-1)
    for index, planned_set in here:
        if index < last or planned_set.status != "todo":
            continue
        number += 1
        level = work if planned_set.kind == "work" else ramp_level(substitute, work, working)
        planned = planned_set.swapped_for or planned_set.exercise
        planned_sets[index] = replace(
            planned_set,
            exercise=event.to,
            number=number,
            group="",
            level=level,
            swapped_for="" if planned == event.to else planned,
        )
    return replace(state, course=replace(state.course, planned_sets=tuple(planned_sets)), asked=0.0)


@_on(ev.Version)
def _version(state: State, event: ev.Version) -> State:
    exercise = state.workout.exercises[event.exercise]
    new = exercise.progression[event.step]
    target = state.course.next_work(event.exercise)
    if target is None:
        raise Illegal(f"no further set of {event.exercise} is left")
    planned_sets, moved = [], dict(state.moved)
    for planned_set in state.course.planned_sets:
        if (planned_set.exercise, planned_set.status) != (event.exercise, "todo"):
            planned_sets.append(planned_set)
        elif planned_set.kind == "ramp":
            planned_sets.append(
                replace(planned_set, level=ramp_level(exercise, new, state.baseline.working_levels))
            )
        elif planned_set.level == target.level:
            planned_sets.append(replace(planned_set, level=new))
            moved[(event.exercise, planned_set.group)] = new
        else:
            planned_sets.append(planned_set)
    return replace(
        state, course=replace(state.course, planned_sets=tuple(planned_sets)), moved=moved
    )


@_on(ev.Asked)
def _asked(state: State, event: ev.Asked) -> State:
    return replace(state, asked=state.asked + event.seconds, until=event.until)


@_on(ev.Paused)
def _paused(state: State, event: ev.Paused) -> State:
    return replace(state, phase="paused", before_pause=state.phase, paused_at=event.at)


@_on(ev.Resumed)
def _resumed(state: State, event: ev.Resumed) -> State:
    if state.phase != "paused":
        return state  # it was cut off, not paused
    phase = state.before_pause or "rest"
    until = state.until
    if phase == "warm-up" and until is not None and state.paused_at is not None:
        until += event.at - state.paused_at
    return replace(state, phase=phase, before_pause=None, paused_at=None, until=until)


@_on(ev.Closed)
def _closed(state: State, event: ev.Closed) -> State:
    row = state.running
    if row is not None:
        state = state.with_row(row.entry, status="broken", end=event.at)
        state = replace(state, course=state.course.finish(event.at, None, whole=False))
    return replace(state, phase="closed", until=None, complete=event.complete == "yes")


# One command: the events that it causes, and the state after each.


class Refused(Exception):
    """A command that cannot be used now; the text says why, in a short sentence."""


def coming_set(state: State) -> tuple[PlannedSet, Side]:
    """The running or next set and its side. Raises Refused without one."""
    if state.phase == "ready":
        raise Refused("the session has not started; start it first")
    if state.coming is None:
        raise Refused("no set remains")
    return state.coming


class EventInPhase(NamedTuple):
    """An event, with the phase after it."""

    event: ev.Event
    phase: Phase


class TurnResult(Struct, frozen=True):
    """What came of a command: the new state, and the events in their order."""

    state: State
    events: tuple[EventInPhase, ...] = ()


class Turn:
    """Collects the events of one act; applies each before the next is decided."""

    def __init__(self, state: State, now: float) -> None:
        self.state = state
        self.now = now
        self.act = state.acts + 1
        self.events: list[EventInPhase] = []

    def emit(self, kind: type[ev.Event], *, at: float | None = None, **data: Any) -> None:
        """Add an event, now or `at` another instant."""
        event = kind(at=self.now if at is None else at, act=self.act, **data)
        self.state = evolve(self.state, event)
        self.events.append(EventInPhase(event, self.state.phase))

    def emit_row(self, kind: type[ev.SetEvent], row: Row, **data: Any) -> None:
        """Add an event about a row."""
        self.emit(kind, **set_fields(row.planned_set, row.side, row.entry), **data)

    def decide_rest(self, *, again: bool = False) -> None:
        """Decide the rest before the next set, counted from the end of the last bout.

        `again`: the next set changed, so at least the get-ready time remains from now on; unless
        that bout ended just now, for then no rest was decided yet.
        """
        state, coming = self.state, self.state.coming
        resting = state.before_pause if state.phase == "paused" else state.phase
        if coming is None or resting not in ("rest", "warm-up"):
            return
        if resting == "warm-up" and again:
            return  # no rest yet
        rest = state.course.rest()
        since = self.now if state.rest_from is None else state.rest_from
        until, why = since + rest.seconds + state.asked, str(rest.why)
        anew = again and since < self.now
        least = self.now + state.workout.lead_in if anew else self.now
        if until < least:
            until, why = least, "lead-in" if anew else why
        planned_set, side = coming
        self.emit(ev.Resting, until=until, why=why, next=planned_set.exercise, side=side)

    def planned(self) -> tuple[int | None, int, Rest] | None:
        """The next set and the law's rest before it; None where there is no rest."""
        state = self.state
        if state.phase not in ("rest", "paused"):
            return None
        return state.course.next, state.course.side, state.course.rest()

    def start(self, by: ev.Who, at: float | None = None) -> None:
        """Start the next bout."""
        planned_set, side = coming_set(self.state)
        self.emit(
            ev.Started,
            at=at,
            **set_fields(planned_set, side, len(self.state.rows) + 1),
            by=by,
            to_beat=to_beat(self.state, planned_set, side),
        )

    def result(self) -> TurnResult:
        """What came of it."""
        return TurnResult(self.state, tuple(self.events))


def set_fields(planned_set: PlannedSet, side: Side, entry: int) -> dict[str, Any]:
    """The fields that every event about a set has."""
    return {
        "block": planned_set.block,
        "round": planned_set.round,
        "exercise": planned_set.exercise,
        "set": planned_set.number,
        "side": side,
        "version": planned_set.level.version,
        "entry": entry,
    }
