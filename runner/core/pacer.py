"""The tempo pacer: when each phase of a repetition begins, for as long as its set runs.

A tempo is written "down-held-up" in seconds. A set begins with the first way down, for getting
into place is part of the rest before it, so the start cue is the first phase's own sign and the
ticks come after it. A phase of 0 s gives none. Holds, and versions without a tempo, have no pace.
"""

from __future__ import annotations

from itertools import accumulate
from math import floor

from runner.core.session.state import State


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
    """The tempo of the bout under way or to come; None where there is none to keep."""
    coming = state.coming
    if coming is None or state.workout.exercises[coming[0].exercise].measure != "reps":
        return None
    return coming[0].rung.tempo


def wanted(state: State, asked: bool | None) -> bool:  # noqa: FBT001 - what a person has said
    """Whether a tempo is to be ticked in this or the coming set: as `asked`, else by the plan."""
    coming = state.coming
    if asked is not None or coming is None:
        return asked or False
    return state.workout.exercises[coming[0].exercise].pacer


def told(state: State, *, on: bool) -> str:
    """What turning the pacer on or off has brought, in a sentence."""
    if not on:
        return "Pacer off."
    tempo = tempo_of(state)
    if tempo is None:
        return "Pacer on. This exercise has no tempo to keep."
    return f"Pacer on: {tempo} seconds down, held, up."


def next_tick(state: State, after: float) -> float | None:
    """Session seconds of the first tick later than `after`; None where nothing runs at a tempo.

    Each is worked out from the set's start, so that a long set does not drift.
    """
    row, tempo = state.running, tempo_of(state)
    if state.phase != "set" or row is None or row.start is None or tempo is None:
        return None
    begins, length = phases(tempo)
    after = max(after, row.start)
    number = max(floor((after - row.start) / length) - 1, 0)
    ticks = (row.start + (n * length + at) for n in range(number, number + 4) for at in begins)
    return next(tick for tick in ticks if tick > after)
