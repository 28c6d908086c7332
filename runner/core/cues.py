"""Which cue belongs to which instant: names only; how they sound is `runner.sound`'s business.

Two kinds. What a person brings about is asked for when it is committed (`of_events`); what time
brings is known beforehand and asked for at its instant (`ahead`; ticks of the pacer: `pacer`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from runner.core.progress.aims import mark
from runner.core.session import events as ev
from runner.core.session.state import State

Cue = Literal["start", "count", "logged", "mark", "block", "switch", "done", "tick"]

# Two onsets so near are one instant to somebody on the floor, and only one sounds; our choice.
NEAR = 0.1  # seconds
COUNTED = 3  # the last seconds of a rest that are counted down; our choice
# Of several at one instant only one sounds: the one that says most.
_ORDER: tuple[Cue, ...] = ("done", "start", "block", "switch", "logged")


def ahead(state: State) -> list[tuple[float, Cue]]:
    """The cues that time will bring while the state stays as it is: (session seconds, cue).

    In order, at most one for an instant.
    """
    if state.phase == "rest" and state.until is not None:
        since = state.rest_from if state.rest_from is not None else float("-inf")
        counts = [state.until - n for n in range(COUNTED, 0, -1)]
        cues: list[tuple[float, Cue]] = [(at, "count") for at in counts if at > since + NEAR]
        # Over, it waits for the person or the set starts by itself.
        return [*cues, (state.until, "mark" if state.waits_for_key else "start")]
    if state.phase in ("warm-up", "wrap-up") and state.until is not None:
        timed = state.workout.warm_up if state.phase == "warm-up" else state.workout.cool_down
        return [(state.until, "mark")] if timed > 0 else []
    row = state.running
    if state.phase == "set" and row is not None and row.start is not None:
        seconds = mark(state, row)
        return [] if seconds is None else [(row.start + seconds, "mark")]
    return []


def of_events(events: Iterable[ev.Event], before: State, after: State) -> Cue | None:
    """The cue that the events of one act bring at their instant, or None."""
    wanted = {_of(event, before, after) for event in events}
    if after.phase == "wrap-up" and before.phase not in ("wrap-up", "ready"):
        wanted.add("done")  # also where the last set was left out
    return next((cue for cue in _ORDER if cue in wanted), None)


def says_more(cue: Cue, other: Cue) -> bool:
    """Whether `cue` is to sound although `other` has just begun; both are brought by a person."""
    return _ORDER.index(cue) < _ORDER.index(other)


def _of(event: ev.Event, before: State, after: State) -> Cue | None:
    if isinstance(event, ev.Started):
        return "start"
    if isinstance(event, ev.Ended):
        return "done" if after.phase == "wrap-up" else "logged"
    if isinstance(event, ev.Entered) and event.by == "person":
        return "logged"
    if isinstance(event, ev.Resting):
        if event.why == "side":
            return "switch"
        return "block" if _new_block(before, after) else None
    return None


def _new_block(before: State, after: State) -> bool:
    """Whether what comes next stands in another block than what was under way."""
    was, now = before.coming, after.coming
    return was is not None and now is not None and was[0].block != now[0].block
