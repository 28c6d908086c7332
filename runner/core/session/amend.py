"""Events that change what is known of sets, not where the session stands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from runner.core.course import HeldKey, Slot, held_index
from runner.core.memory import beat_key
from runner.core.progress.history import Use
from runner.core.progress.levels import session_level, weaker_sides
from runner.core.session import events as ev
from runner.core.session.state import Row, State
from runner.core.session.transitions import Illegal
from runner.core.values import load_text, parse_setup
from runner.core.workout import Exercise, Rung, Setup, Side


def to_beat(state: State, slot: Slot, side: Side) -> float | None:
    """The count of last time for this set; None for a ramp set, and where a session holds back."""
    if slot.kind == "ramp" or slot.exercise in state.workout.nothing_to_beat:
        return None
    return state.memory.to_beat.get(beat_key(slot.exercise, slot.rung, slot.number, side))


def row_of(state: State, entry: int) -> Row:
    """The row numbered `entry`; Illegal where there is none."""
    if not 1 <= entry <= len(state.rows):
        raise Illegal(f"no entry {entry}")
    return state.rows[entry - 1]


def merged(setup: Setup, changes: Setup) -> Setup:
    """A measured set-up with some of its values replaced, new names at the end."""
    new = dict(changes)
    kept = tuple((name, new.pop(name, value)) for name, value in setup)
    return (*kept, *new.items())


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


def _corrected(state: State, event: ev.Corrected) -> State:
    return _entered(state, event).with_row(event.entry, corrected=True, corrected_at=event.at)


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
        # What the running set has had is longer by as much.
        before = running.rest_before
        state = state.with_row(
            running.entry,
            rest_before=None if before is None else before + event.seconds,
            recovery=course.ledger_of(running.side).recovered(
                course.bout(running.index, running.side), running.start
            ),
        )
    return replace(state, course=course, rest_from=end if running is None else state.rest_from)


def _used(state: State, event: ev.Used) -> State:
    changes = parse_setup(event.setup or "")
    begun = state.last_begun
    used = begun.slot if begun is not None else state.coming[0] if state.coming else None

    def really(slot: Slot) -> Rung:
        # The lighter load of a ramp set says nothing about the work sets, nor theirs about it.
        other = event.load_kg is None or used is None or slot.kind != used.kind
        load = slot.rung.load if other else event.load_kg
        return replace(slot.rung, load=load, setup=merged(slot.rung.setup, changes))

    slots, moved = list(state.course.slots), dict(state.moved)
    for index, slot in enumerate(slots):
        concerned = slot.status == "todo" or (begun is not None and index == begun.index)
        if concerned and (slot.exercise, slot.rung.version) == (event.exercise, event.version):
            slots[index] = replace(slot, rung=really(slot))
            if slot.kind == "work" and slots[index].rung != slot.rung:
                moved[slot.exercise, slot.group] = slots[index].rung
    course = replace(state.course, slots=tuple(slots))
    state = replace(state, moved=moved, course=course)
    if begun is None:
        return state
    for row in state.rows:
        if row.index == begun.index and row.start is not None:
            slot = replace(row.slot, rung=slots[row.index].rung)
            state = state.with_row(row.entry, slot=slot, to_beat=to_beat(state, slot, row.side))
    station = state.workout.exercises[event.exercise].station
    if changes and station is not None:
        stations = {**course.stations, station: slots[begun.index].rung.setup}
        state = replace(state, course=replace(course, stations=stations))
    return state


def _noted(state: State, event: ev.Noted) -> State:
    if event.entry is None:
        return replace(state, note=joined(state.note, event.note))
    row = row_of(state, event.entry)
    return state.with_row(row.entry, note=joined(row.note, event.note))


def joined(before: str, more: str) -> str:
    """A note with a line added."""
    return f"{before}\n{more}" if before else more


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


def _rpe(state: State, event: ev.Rpe) -> State:
    return replace(state, rpe=event.rpe)


def _mass(state: State, event: ev.Mass) -> State:
    return replace(state, mass=event.mass_kg)


@dataclass(frozen=True, slots=True)
class NewLevel:
    """A level that a session used, and that is not the one planned for it."""

    exercise: Exercise
    group: str
    rung: Rung
    was: Rung
    today_only: bool

    @property
    def text(self) -> str:
        """In a few words: `ROW 12 kg, was 8`, `PUSH-UP floor, was knees`."""
        new, old = _gear(self.rung), _gear(self.was)
        if self.rung.version == self.was.version:
            was = old.removesuffix(" kg") or "no load"
            return f"{self.exercise.short} {new}, was {was}"
        if new == old:  # the version alone is another
            new = old = ""
        words = (self.exercise.short, self.rung.version, new)
        return f"{' '.join(filter(None, words))}, was {f'{self.was.version} {old}'.strip()}"


def _gear(rung: Rung) -> str:
    values = [value for _, value in rung.setup]
    return ", ".join([*values, *([] if rung.load is None else [f"{load_text(rung.load)} kg"])])


def new_levels(state: State) -> list[NewLevel]:
    """The levels that the next session starts at by this one, as far as they are not as planned.

    Those marked as for today only stand among them.
    """
    counts: dict[HeldKey, list[tuple[int, Use, float]]] = {}
    for row in state.rows:
        if _gives_level(state, row) and row.value is not None:
            use = replace(Use.of(row.slot.rung), tempo="")
            key = (row.slot.exercise, row.slot.group)
            counts.setdefault(key, []).append((row.slot.number, use, row.value))
    found = []
    for key, of_sets in counts.items():
        exercise, was = state.workout.exercises[key[0]], planned_rung(state, key)
        planned = replace(Use.of(was), tempo="")
        level = session_level(exercise, weaker_sides(of_sets), planned)
        if level is not None and level != planned:
            rungs = (row.slot.rung for row in state.rows if row.slot.exercise == key[0])
            rung = next(r for r in rungs if replace(Use.of(r), tempo="") == level)
            found.append(NewLevel(exercise, key[1], rung, was, key in state.today))
    return found


def planned_rung(state: State, key: HeldKey) -> Rung:
    """The level at which a session begins an exercise's group of sets if nothing is different."""
    exercise = state.workout.exercises[key[0]]
    return exercise.ladder[held_index(exercise, key[1], state.memory.held)]


def _gives_level(state: State, row: Row) -> bool:
    """As `levels.carries` has it of a row on file, but for the mark as of today only."""
    slot = row.slot
    passing = row.pain or slot.swapped_for or slot.exercise in state.workout.placing
    deload = slot.exercise in state.workout.nothing_to_beat
    return slot.kind == "work" and row.status == "done" and not (passing or deload)


def _held(state: State, event: ev.Held) -> State:
    key, today = (event.exercise, event.group), event.for_ == "today"
    rows = [r for r in state.rows if (r.slot.exercise, r.slot.group) == key]
    if not rows:
        raise Illegal(f"{event.exercise} was not done")
    planned = planned_rung(state, key)
    for row in rows:
        if row.slot.kind == "work" and row.slot.rung != planned:
            state = state.with_row(row.entry, today_only=today)
    return replace(state, today=state.today | {key} if today else state.today - {key})


ON: Mapping[type[ev.Event], Callable[[State, Any], State]] = {
    ev.Entered: _entered,
    ev.Corrected: _corrected,
    ev.Late: _late,
    ev.Used: _used,
    ev.Noted: _noted,
    ev.Pain: _pain,
    ev.Rpe: _rpe,
    ev.Mass: _mass,
    ev.Held: _held,
}
