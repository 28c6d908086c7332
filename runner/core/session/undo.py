"""Taking back the last action."""

from __future__ import annotations

from runner.core.session import commands as cmd, events as ev
from runner.core.session.turn import Refused, Turn

# Acts that begin with one of these are no actions of the person's that could be taken back.
_NOT_UNDOABLE = (ev.Opened, ev.Adjusted, ev.Written, ev.Begun, ev.Undone, ev.Closed)
# An act of nothing but these has not moved the rest, and taking it back does not either.
_KNOWLEDGE = (ev.Entered, ev.Noted, ev.Pain, ev.Used, ev.Rpe, ev.Mass, ev.Held)


def undo(turn: Turn, command: cmd.Undo) -> None:
    """Take back the last act of the person's (or of a suspend) that still counts."""
    event = last_action(turn.state.log)
    if event is None:
        raise Refused("there is nothing to take back")
    moved = any(e.act == event.act and not isinstance(e, _KNOWLEDGE) for e in turn.state.log)
    turn.emit(ev.Undone, of=event.act, what=event.name)
    if moved:
        turn.decide_rest(again=True)


def last_action(log: tuple[ev.Event, ...]) -> ev.Event | None:
    """The event that names the last act that can be taken back."""
    firsts: dict[int, ev.Event] = {}
    for event in log:
        firsts.setdefault(event.act, event)
    for event in reversed(firsts.values()):
        if _came_back(event):
            return None  # what lies before the session was cut off stays
        by_clock = isinstance(event, ev.Started) and event.by == "clock"
        if not by_clock and not isinstance(event, _NOT_UNDOABLE):
            return event
    return None


def _came_back(event: ev.Event) -> bool:
    """Whether an act that begins with `event` is the return after a crash."""
    cut_off = isinstance(event, ev.Ended) and event.work_s is None
    return cut_off or (isinstance(event, ev.Resumed) and event.why == "return")
