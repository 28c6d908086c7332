"""What is aimed at in a set, and what became of it.

The record's `to_beat` and `beaten` are strict and plain, so that anybody can recompute them. What
is judged here is for screens: a set under its count is not missed while the running total holds.
"""

from __future__ import annotations

from runner.law.workout import Exercise, Side
from runner.session.apply import to_beat
from runner.session.state import Row, State

__all__ = ["aim", "mark", "recoveries", "to_beat", "too_light"]


def mark(state: State, row: Row) -> float | None:
    """Seconds into a hold at which its mark is passed: the time to beat, else the floor.

    The reach for the key is taken off a hold afterwards, so it comes on top here. None for
    repetitions.
    """
    if state.exercise(row).measure != "hold":
        return None
    aimed_at = state.exercise(row).rep_range[0] if row.to_beat is None else row.to_beat
    return aimed_at + state.block_of(row.planned_set).reach


def aim(exercise: Exercise) -> str:
    """What is aimed at, in words: the band and the reserve."""
    low, high = exercise.rep_range
    if exercise.measure == "hold":
        return f"{low:g} to {high:g} s"
    return f"{low:g} to {high:g}, stop with {exercise.reserve} in reserve"


def too_light(exercise: Exercise, value: float) -> bool:
    """Whether a count is over the ceiling of the band: the version has become too light."""
    return value > exercise.rep_range[1]


def recoveries(state: State, now: float) -> list[tuple[str, Side, float, float]]:
    """For each prime mover of the coming bout: (muscle, side, had by now, had at its start).

    Seconds; muscles that have not been prime movers yet are left out. Left and right of
    two-sided work with the same value are one line, "both".
    """
    index = state.course.next
    coming = state.coming
    if index is None or coming is None or state.until is None:
        return []
    bout = state.course.bout(index, coming[1])
    ends = {p: e for p, e in state.course.ledger.prime.items() if p in bout.prime}
    lines: dict[tuple[str, float], Side] = {}
    for (muscle, side), end in sorted(ends.items()):
        place: Side = "left" if side == "left" else "right"
        lines[muscle, end] = "both" if (muscle, end) in lines else place
    return [
        (muscle, side, max(now - end, 0.0), state.until - end)
        for (muscle, end), side in lines.items()
    ]
