"""What is aimed at in a set, and what became of it.

The record's `to_beat` and `beaten` are strict and plain, so that anybody can recompute them. What
is judged here is for screens: a set under its count is not missed while the running total holds.
"""

from __future__ import annotations

from runner.law.workout import Exercise, Side
from runner.session.state import Row, State


def target_time(state: State, row: Row) -> float | None:
    """Seconds into a hold at which its target time is reached: the time to beat, else the bottom.

    The reach for the key is taken off a hold afterwards, so it comes on top here. None for
    repetitions.
    """
    if state.exercise(row).measure != "hold":
        return None
    aimed_at = state.exercise(row).rep_range[0] if row.to_beat is None else row.to_beat
    return aimed_at + state.block_of(row.planned_set).reach


def aim(exercise: Exercise) -> str:
    """What is aimed at, in words: the rep range and the reserve."""
    low, high = exercise.rep_range
    if exercise.measure == "hold":
        return f"{low:g} to {high:g} s"
    return f"{low:g} to {high:g}, stop with {exercise.reserve} in reserve"


def too_light(exercise: Exercise, value: float) -> bool:
    """Whether a count is over the top of the rep range: the level has become too light."""
    return value > exercise.rep_range[1]


def recovering(state: State, now: float) -> list[tuple[str, Side, float | None, float]]:
    """For each main muscle of this block: (muscle, side, seconds had, of).

    `of` is the recovery aimed at by the first of the block's exercises that it drives. A muscle at
    work has had none; of one that has not worked yet it is not known. Left and right with the same
    value are one line, "both".
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
