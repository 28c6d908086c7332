"""Which cue comes at which instant: only names; `runner.sound` makes the sound.

There are two kinds. A cue for what a person does is asked for at once (`of_events`). A cue for what
time does is known in advance and asked for at its instant (`ahead`; `next_tick` for the pacer).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate
from math import floor
from typing import Literal

from runner.session import events as ev
from runner.session.aims import target_time
from runner.session.state import State

Cue = Literal[
    "begin", "count", "start", "mark", "switch", "ended", "logged", "block", "pause", "resume",
    "skip", "drop", "undo", "redo", "done", "tick",
]  # fmt: skip

# A person on the floor hears two onsets this close as one, so only one sounds; our choice.
NEAR = 0.1  # seconds
COUNTED = 3  # the last seconds of a rest that are counted down; our choice
# Of several cues at one instant only one sounds: the one that says most.
_ORDER: tuple[Cue, ...] = (
    "done", "undo", "redo", "drop", "skip", "pause", "resume", "begin", "start", "block", "switch",
    "ended", "logged",
)  # fmt: skip
_KNOWN: Mapping[type[ev.Event], Cue] = {
    ev.Begun: "begin",
    ev.Started: "start",
    ev.Ended: "ended",
    ev.Skipped: "skip",
    ev.Dropped: "drop",
    ev.Paused: "pause",
    ev.Resumed: "resume",
    ev.Undone: "undo",
    ev.Redone: "redo",
}


def ahead(state: State) -> list[tuple[float, Cue]]:
    """The cues that time will cause while the state stays as it is: (session seconds, cue).

    In order, at most one at an instant.
    """
    if state.phase == "rest" and state.until is not None:
        since = state.rest_from if state.rest_from is not None else float("-inf")
        counts = [state.until - n for n in range(COUNTED, 0, -1)]
        cues: list[tuple[float, Cue]] = [(at, "count") for at in counts if at > since + NEAR]
        # At its end it waits for the person, or the set starts by itself.
        return [*cues, (state.until, "mark" if state.waits_for_key else "start")]
    if state.phase == "warm-up" and state.until is not None:
        return [(state.until, "mark")] if state.workout.warm_up > 0 else []
    if state.phase == "wrap-up" and state.until is not None:
        # Not all is done while a count is missing.
        over: Cue = "mark" if state.open_rows else "done"
        return [(state.until, over)] if state.workout.cool_down > 0 else []
    row = state.running
    if state.phase == "set" and row is not None and row.start is not None:
        seconds = target_time(state, row)
        return [] if seconds is None else [(row.start + seconds, "mark")]
    return []


def of_events(events: Sequence[ev.Event], before: State, after: State) -> Cue | None:
    """The cue for the events of one act, at their instant; or None."""
    if not events or (before.phase == "ready" and after.phase in ("wrap-up", "closed")):
        return None  # written up, or not begun at all
    at = events[-1].at
    if _is_over(after, at) and not _is_over(before, at):
        return "done"
    wanted = {_of(event, before, after) for event in events}
    if after.phase == "wrap-up" and before.phase != "wrap-up":
        return "block"  # also if the last set was left out
    return next((cue for cue in _ORDER if cue in wanted), None)


def _is_over(state: State, at: float) -> bool:
    """Whether everything is done: sets, counts and cool-down; or the session is closed."""
    if state.phase == "closed":
        return True
    cooled = state.phase == "wrap-up" and state.until is not None and at >= state.until
    return cooled and not state.open_rows


def says_more(cue: Cue, other: Cue) -> bool:
    """Whether `cue` should sound although `other` has just begun; both are for a person's acts."""
    return _ORDER.index(cue) < _ORDER.index(other)


def _of(event: ev.Event, before: State, after: State) -> Cue | None:
    if isinstance(event, ev.Entered):
        return "logged" if event.by == "person" else None
    if isinstance(event, ev.Resting):
        if event.why == "side":
            return "switch"
        return "block" if before.phase == "warm-up" or _new_block(before, after) else None
    return _KNOWN.get(type(event))


def _new_block(before: State, after: State) -> bool:
    """Whether the next set is in another block than the last one."""
    was, now = before.coming, after.coming
    return was is not None and now is not None and was[0].block != now[0].block


# The tempo pacer: when each phase of a repetition begins, for as long as its set runs.
#
# A tempo is "down-pause-up" in seconds. A set begins with the first way down, for getting into
# place belongs to the rest before it. So the start cue announces the first phase, and ticks come
# after it. A phase of 0 s has no tick. Holds, and versions without a tempo, have no ticks.


def phases(tempo: str) -> tuple[tuple[float, ...], float]:
    """When the phases that last begin, in seconds of a repetition, and how long that is.

    >>> phases("2-0-1")
    ((0.0, 2.0), 3.0)
    """
    lengths = [float(part) for part in tempo.split("-")]
    begins = [0.0, *accumulate(lengths)]
    lasting = tuple(at for at, length in zip(begins, lengths, strict=False) if length > 0)
    return lasting, begins[-1]


def tempo_of(state: State) -> str | None:
    """The tempo of the running or next bout; None without one to keep."""
    coming = state.coming
    if coming is None or state.course.exercise_of(coming[0]).measure != "reps":
        return None
    return coming[0].level.tempo


def wanted(state: State, asked: bool | None) -> bool:  # noqa: FBT001 - what a person has said
    """Whether the running or next set has ticks: as `asked`, else by the plan."""
    coming = state.coming
    if asked is not None or coming is None:
        return asked or False
    return state.workout.exercises[coming[0].exercise].pacer


def pacer_text(state: State, *, on: bool) -> str:
    """What turning the pacer on or off did, in a sentence."""
    if not on:
        return "Pacer off."
    tempo = tempo_of(state)
    if tempo is None:
        return "Pacer on. This exercise has no tempo to keep."
    return f"Pacer on: {tempo} seconds down, held, up."


def next_tick(state: State, after: float) -> float | None:
    """Session seconds of the first tick later than `after`; None where no set runs at a tempo.

    Each is computed from the set's start, so that a long set does not drift.
    """
    row, tempo = state.running, tempo_of(state)
    if state.phase != "set" or row is None or row.start is None or tempo is None:
        return None
    begins, length = phases(tempo)
    after = max(after, row.start)
    number = max(floor((after - row.start) / length) - 1, 0)
    ticks = (row.start + (n * length + at) for n in range(number, number + 4) for at in begins)
    return next(tick for tick in ticks if tick > after)
