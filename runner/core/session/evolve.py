"""(state, event) -> state. Replaying a session's events gives its state again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from runner.core.adjust import Adjustment
from runner.core.course import Course, held_index, ramp_rung, with_slot
from runner.core.memory import Memory, begin_course
from runner.core.session import amend, events as ev
from runner.core.session.state import Phase, Row, State
from runner.core.session.transitions import Illegal, check
from runner.core.values import parse_setup
from runner.core.workout import Workout


def initial(workout: Workout, memory: Memory) -> State:
    """A session that has just been opened."""
    course = begin_course(workout, memory)
    return State(course.workout, memory, course, planned=workout, adjustments=memory.changes)


def replay(workout: Workout, memory: Memory, happened: Iterable[ev.Event]) -> State:
    """The state that the events have brought about. Takes no clock."""
    state = initial(workout, memory)
    for event in happened:
        state = evolve(state, event)
    return state


def evolve(state: State, event: ev.Event) -> State:
    """The state after `event`. Raises Illegal where it cannot follow, and changes nothing."""
    if isinstance(event, ev.Redone):
        return _redone(state, event)
    if isinstance(event, ev.Undone):
        return _undone(state, event)
    after = _ON[type(event)](state, event)
    check(event.name, state.phase, after.phase)
    # An undo can be taken back until something else happens than the rest that it decides anew.
    same = isinstance(event, ev.Resting) and event.act == state.acts
    return replace(
        after,
        acts=max(state.acts, event.act),
        log=(*state.log, event),
        undone_from=state.undone_from if same else None,
    )


def _undone(state: State, event: ev.Undone) -> State:
    """The session without the act taken back.

    The other events are replayed in their order. What the clock brought about since may no
    longer be possible (the next set cannot have begun when this one never ended): those
    events fall away with the act; so does a rest that an earlier undo decided anew, where
    now even the warm-up before it is not over.
    """
    again = initial(state.planned or state.workout, state.memory)
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
    """After a set has ended or been left out: on to what is next, or to the wrap-up."""
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


def _opened(state: State, event: ev.Opened) -> State:
    return state


def _adjusted(state: State, event: ev.Adjusted) -> State:
    changes = (*state.memory.changes, *map(Adjustment.from_data, event.changes))
    memory = replace(state.memory, changes=changes)
    course = begin_course(state.planned or state.workout, memory)
    after = replace(
        state,
        workout=course.workout,
        course=course,
        moved={},
        taken=tuple(event.taken),
        adjustments=changes,
    )
    for used in state.log:
        if isinstance(used, ev.Used):  # what stands there stands there all the same
            after = amend.ON[ev.Used](after, used)
    return after


def _begun(state: State, event: ev.Begun) -> State:
    if state.workout.warm_up > 0:
        return replace(state, phase="warm-up", until=event.at + state.workout.warm_up)
    return replace(state, phase="rest", rest_from=event.at)


def _resting(state: State, event: ev.Resting) -> State:
    since = event.at if state.phase == "warm-up" else state.rest_from
    phase: Phase = "paused" if state.phase == "paused" else "rest"
    return replace(state, phase=phase, rest_from=since, until=event.until, why=event.why)


def _started(state: State, event: ev.Started) -> State:
    coming, index = state.coming, state.course.next
    if coming is None or index is None or state.phase != "rest":
        raise Illegal("no set is to come")
    slot, side = coming
    if (slot.exercise, slot.number, side) != (event.exercise, event.set, event.side):
        raise Illegal("another set is to come")
    course = state.course.begin()
    first = state.course.ended is None
    rest = None if first or state.rest_from is None else event.at - state.rest_from
    row = Row(
        entry=len(state.rows) + 1,
        index=index,
        slot=course.slots[index],
        side=side,
        status="running",
        start=event.at,
        started_by=event.by,
        asked=state.asked != 0,
        rest_before=rest,
        recovery=state.course.recovered(event.at),
        to_beat=amend.to_beat(state, slot, side),
    )
    rows = (*state.rows, row)
    return replace(state, phase="set", course=course, rows=rows, until=None, why="", asked=0.0)


def _ended(state: State, event: ev.Ended) -> State:
    row = state.running
    if row is None:
        raise Illegal("no set is running")
    state = state.with_row(
        row.entry, status="done", end=event.at, cut_off=event.work_s is None, open=True
    )
    state = replace(state, rest_from=event.at)
    return _between(state, state.course.finish(event.at, event.work_s), event.at)


def _skipped(state: State, event: ev.Skipped) -> State:
    running = state.running
    if event.given_up == "yes":
        if running is None:
            raise Illegal("no set is running")
        state = state.with_row(running.entry, status="broken", end=event.at)
        state = replace(state, rest_from=event.at)
        return _between(state, state.course.finish(event.at, None, whole=False), event.at)
    index = _slot_index(state.course, event.exercise, event.set)
    if any((r.index, r.side) == (index, event.side) for r in state.rows):
        raise Illegal("that bout has been")
    slot, course = state.course.slots[index], state.course
    if slot.status == "todo":
        course = replace(course, slots=with_slot(course.slots, index, status="skipped"))
    elif index == course.last:
        course = replace(course, side=0)
    row = Row(len(state.rows) + 1, index, course.slots[index], event.side, "skipped")
    if (course.next, course.side) != (state.course.next, state.course.side):
        state = replace(state, asked=0.0)  # it was asked for another bout
    return _between(replace(state, rows=(*state.rows, row)), course, event.at)


def _slot_index(course: Course, exercise: str, number: int) -> int:
    for index, slot in enumerate(course.slots):
        if (slot.exercise, slot.number) == (exercise, number):
            return index
    raise Illegal(f"no set {number} of {exercise}")


def _written(state: State, event: ev.Written) -> State:
    index = _slot_index(state.course, event.exercise, event.set)
    if event.entry != len(state.rows) + 1:
        raise Illegal(f"entry {event.entry} is not the next")
    done = event.status == "done"
    rung = state.workout.exercises[event.exercise].ladder[event.step]
    rung = replace(rung, setup=parse_setup(event.setup), load=event.load_kg)
    slots = with_slot(state.course.slots, index, status="begun" if done else "skipped", rung=rung)
    row = Row(
        entry=event.entry,
        index=index,
        slot=slots[index],
        side=event.side,
        status=event.status,
        counted=event.counted == "yes",
        value=event.hold_s if event.reps is None else float(event.reps),
        reserve=event.reserve,
        to_beat=amend.to_beat(state, slots[index], event.side) if done else None,
        pain=event.pain is not None,
        pain_where=event.pain or "",
        note="\n".join(text for text in (event.pain and f"pain: {event.pain}", event.note) if text),
    )
    course = replace(state.course, slots=slots)
    return replace(state, course=course, rows=(*state.rows, row))


def _dropped(state: State, event: ev.Dropped) -> State:
    course = state.course
    slots = tuple(
        replace(s, status="dropped") if (s.exercise, s.status) == (event.exercise, "todo") else s
        for s in course.slots
    )
    left = replace(course, slots=slots)
    if state.running is not None:
        return replace(state, course=left)  # another exercise than the one that runs
    if left.next != course.next:
        state = replace(state, asked=0.0)  # it was asked for another bout
    return _between(state, left, event.at)


def _swapped(state: State, event: ev.Swapped) -> State:
    held = state.memory.held
    substitute = state.workout.exercises[event.to]
    work = substitute.ladder[held_index(substitute, "", held)]
    number = max((s.number for s in state.course.slots if s.exercise == event.to), default=0)
    slots = list(state.course.slots)
    for index, slot in enumerate(slots):
        if (slot.block, slot.exercise, slot.status) != (event.block, event.exercise, "todo"):
            continue
        number += 1
        rung = work if slot.kind == "work" else ramp_rung(substitute, work, held)
        planned = slot.swapped_for or slot.exercise
        slots[index] = replace(
            slot,
            exercise=event.to,
            number=number,
            group="",
            rung=rung,
            swapped_for="" if planned == event.to else planned,
        )
    return replace(state, course=replace(state.course, slots=tuple(slots)), asked=0.0)


def _version(state: State, event: ev.Version) -> State:
    exercise = state.workout.exercises[event.exercise]
    new = exercise.ladder[event.step]
    target = state.course.next_work(event.exercise)
    if target is None:
        raise Illegal(f"no further set of {event.exercise} is left")
    slots, moved = [], dict(state.moved)
    for slot in state.course.slots:
        if (slot.exercise, slot.status) != (event.exercise, "todo"):
            slots.append(slot)
        elif slot.kind == "ramp":
            slots.append(replace(slot, rung=ramp_rung(exercise, new, state.memory.held)))
        elif slot.rung == target.rung:
            slots.append(replace(slot, rung=new))
            moved[(event.exercise, slot.group)] = new
        else:
            slots.append(slot)
    return replace(state, course=replace(state.course, slots=tuple(slots)), moved=moved)


def _asked(state: State, event: ev.Asked) -> State:
    return replace(state, asked=state.asked + event.seconds, until=event.until)


def _paused(state: State, event: ev.Paused) -> State:
    return replace(state, phase="paused", before_pause=state.phase, paused_at=event.at)


def _resumed(state: State, event: ev.Resumed) -> State:
    if state.phase != "paused":
        return state  # it was cut off, not paused
    phase = state.before_pause or "rest"
    until = state.until
    if phase == "warm-up" and until is not None and state.paused_at is not None:
        until += event.at - state.paused_at
    return replace(state, phase=phase, before_pause=None, paused_at=None, until=until)


def _closed(state: State, event: ev.Closed) -> State:
    row = state.running
    if row is not None:
        state = state.with_row(row.entry, status="broken", end=event.at)
        state = replace(state, course=state.course.finish(event.at, None, whole=False))
    return replace(state, phase="closed", until=None, complete=event.complete == "yes")


_ON: Mapping[type[ev.Event], Callable[[State, Any], State]] = {
    ev.Opened: _opened,
    ev.Adjusted: _adjusted,
    ev.Begun: _begun,
    ev.Resting: _resting,
    ev.Started: _started,
    ev.Ended: _ended,
    ev.Skipped: _skipped,
    ev.Written: _written,
    ev.Dropped: _dropped,
    ev.Swapped: _swapped,
    ev.Version: _version,
    ev.Asked: _asked,
    ev.Paused: _paused,
    ev.Resumed: _resumed,
    ev.Closed: _closed,
    **amend.ON,
}
