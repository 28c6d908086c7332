"""Taking back the last act, and taking the undo back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from runner.core.entry_text import amount_text
from runner.core.session import commands as cmd, events as ev
from runner.core.session.state import State
from runner.core.session.turn import Refused, Turn
from runner.core.workout import Measure

# Acts that begin with one of these are no actions of the person's that could be taken back.
_NOT_UNDOABLE = (ev.Opened, ev.Adjusted, ev.Written, ev.Begun, ev.Undone, ev.Closed)
# An act of nothing but these has not moved the rest, and taking it back does not either.
_KNOWLEDGE = (ev.Entered, ev.Noted, ev.Pain, ev.Used, ev.Rpe, ev.Mass, ev.Held)


def undo(turn: Turn, command: cmd.Undo) -> None:
    """Take back the last act that still counts, be it the person's or the clock's."""
    events = last_act(turn.state)
    if not events:
        raise Refused("there is nothing to take back")
    turn.emit(ev.Undone, **_about(turn.state, events))
    _rest_anew(turn, events)


def redo(turn: Turn, command: cmd.Redo) -> None:
    """Take back the last undo, until something else happens; a set is begun, not redone."""
    state = turn.state
    before = state.undone_from
    if before is None:
        raise Refused("there is no undo to take back: redo works until something else happens")
    events = act_taken_back(state)
    started = next((e for e in events if isinstance(e, ev.Started)), None)
    if started is not None:
        name = state.workout.exercises[started.exercise].name
        raise Refused(f"the begin of a set is not redone: start {name}, set {started.set}, anew")
    turn.emit(ev.Redone, **_about(before, events))
    _rest_anew(turn, events)


def last_act(state: State) -> tuple[ev.Event, ...]:
    """The events of the act that an undo would take back; empty where there is none."""
    acts: dict[int, list[ev.Event]] = {}
    for event in state.log:
        acts.setdefault(event.act, []).append(event)
    for events in reversed(acts.values()):
        if _came_back(events[0]):
            return ()  # what lies before the session was cut off stays
        if can_be_undone(events):
            return tuple(events)
    return ()


def can_be_undone(events: Sequence[ev.Event]) -> bool:
    """Whether an act of these events is one that an undo takes back."""
    return not isinstance(events[0], _NOT_UNDOABLE)


def act_taken_back(state: State) -> tuple[ev.Event, ...]:
    """The events of the act that a redo would bring back; empty where there is none."""
    before = state.undone_from
    if before is None:
        return ()
    undone = next(e for e in state.log if isinstance(e, ev.Undone) and e.act > before.acts)
    return tuple(e for e in before.log if e.act == undone.of)


def about(events: Sequence[ev.Event]) -> ev.Event:
    """The event that an act is about: pain, the begin of a set, else the first."""
    for kind in (ev.Pain, ev.Started):
        for event in events:
            if isinstance(event, kind):
                return event
    return events[0]


def _about(state: State, events: Sequence[ev.Event]) -> dict[str, Any]:
    """The fields of an undo or redo; `state` is the one in which the act still counts."""
    event = about(events)
    names = ("exercise", "set", "side", "entry")
    fields = {name: getattr(event, name, None) for name in names}
    if not isinstance(event, ev.SetEvent):
        fields["side"] = None  # a rest's is that of the set to come
    return {"of": event.act, "what": event.name, "count": _typed(state, events), **fields}


def _typed(state: State, events: Sequence[ev.Event]) -> str | None:
    """What a person typed to save counts, the left side first."""
    counts: dict[str, str] = {}
    for event in events:
        if isinstance(event, ev.Entered) and event.by == "person" and event.counted == "yes":
            measure = state.workout.exercises[event.exercise].measure
            value = event.hold_s if event.reps is None else event.reps
            counts[event.side] = _count(value, event.reserve, measure)
            if event.waits is not None:
                other = "right" if event.side == "left" else "left"
                counts[other] = _count(event.waits, event.waits_reserve, measure)
    return " ".join(counts[side] for side in ("both", "left", "right") if side in counts) or None


def _count(value: float | None, reserve: int | None, measure: Measure) -> str:
    text = amount_text(value or 0.0, measure)
    return text if reserve is None else f"{text}/{reserve}"


def _rest_anew(turn: Turn, events: Sequence[ev.Event]) -> None:
    if not all(isinstance(e, _KNOWLEDGE) for e in events):
        turn.decide_rest(again=True)


def _came_back(event: ev.Event) -> bool:
    """Whether an act that begins with `event` is the return after a crash."""
    cut_off = isinstance(event, ev.Ended) and event.work_s is None
    return cut_off or (isinstance(event, ev.Resumed) and event.why == "return")
