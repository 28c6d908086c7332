"""The aim of a set, and whether it was reached.

The record's `to_beat` and `beaten` are strict and plain, so that anybody can compute them again.
The judgements here are for screens: a set under its count is not missed while the running total
holds.
"""

from __future__ import annotations

from runner.law.workout import Exercise, Side
from runner.session.state import Row, State


def target_time(state: State, row: Row) -> float | None:
    """Seconds into a hold when its target time is reached: the time to beat, else the bottom.

    Later the reach for the key is subtracted from a hold, so it is added here. None for
    repetitions.
    """
    if state.exercise(row).measure != "hold":
        return None
    aimed_at = state.exercise(row).rep_range[0] if row.to_beat is None else row.to_beat
    return aimed_at + state.block_of(row.planned_set).reach


def aim(exercise: Exercise) -> str:
    """The aim in words: the rep range and the reserve."""
    low, high = exercise.rep_range
    if exercise.measure == "hold":
        return f"{low:g} to {high:g} s"
    return f"{low:g} to {high:g}, stop with {exercise.reserve} in reserve"


def too_light(exercise: Exercise, value: float) -> bool:
    """Whether a count is over the top of the rep range, so that the level is too light."""
    return value > exercise.rep_range[1]


def recovering(state: State, now: float) -> list[tuple[str, Side, float | None, float]]:
    """For each main muscle of this block: (muscle, side, seconds had, of).

    `of` is the recovery of the first exercise in the block that trains it. A muscle at work has 0;
    for one that has not worked yet the seconds are None. Left and right with the same value are one
    line, "both".
    """
    if state.coming is None:
        return []
    running, course = state.running, state.course
    at_work = course.bout(running.index, running.side).prime if running is not None else ()
    ends = {**course.ledger.prime, **dict.fromkeys(at_work, now)}
    block = state.block_of(state.coming[0])
    found: dict[str, list[tuple[str, Side, float | None, float]]] = {}
    for item in block.items:
        of = block.timing[item.exercise].recovery
        for muscle in state.workout.exercises[item.exercise].prime:
            sides: tuple[Side, ...] = ("left", "right")
            known = [(side, ends.get((muscle, side))) for side in sides]
            alike: list[tuple[Side, float | None]] = [("both", known[0][1])]
            of_sides = alike if known[0][1] == known[1][1] else known
            found.setdefault(
                muscle,
                [
                    (muscle, side, None if end is None else max(now - end, 0.0), of)
                    for side, end in of_sides
                ],
            )
    return [line for lines in found.values() for line in lines]
