"""A line from a paper diary: the counts of one exercise, set after set.

A set is written as it is in a session: `12`, `12/2`, `45s`, left and right of a one-sided set
`12 14`. Between one-sided sets stands a comma (`12 14, 11 13`), or a space where left and right
are written as they are printed (`12|14 11|13`); where both sides were the same one number will do
(`12, 11`). Between two-sided sets a space is enough. `-` is a set left out,
`nocount` one that was done and not counted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from runner.core.entry_text import SIDES, Refusal, read_entry
from runner.core.session.commands import Count
from runner.core.workout import Exercise, Side

_AROUND = re.compile(rf"\s*{re.escape(SIDES)}\s*")
LEFT_OUT, NOT_COUNTED = "-", "nocount"
PaperSet = tuple[tuple[Side, Count | None], ...]  # the sides done; () for a set left out


@dataclass(frozen=True, slots=True)
class Counts:
    """The sets of a line, in their order."""

    sets: tuple[PaperSet, ...]


def read_counts(text: str, exercise: Exercise, planned: int) -> Counts | Refusal:
    """The sets that a line stands for; at most `planned` of them.

    Fewer are fine: those behind were not done.
    """
    one_sided = exercise.sides != "together"
    parts = _parts(text, one_sided=one_sided)
    if isinstance(parts, Refusal):
        return parts
    sets = []
    for part in parts:
        one = _set(part, exercise, one_sided=one_sided)
        if isinstance(one, Refusal):
            return one
        sets.append(one)
    if len(sets) > planned:
        return Refusal(
            f"That is {len(sets)} sets, and the plan has {planned} of {exercise.name}: "
            "leave the others to a note."
        )
    return Counts(tuple(sets))


def _parts(text: str, *, one_sided: bool) -> list[str] | Refusal:
    """The line cut into sets."""
    if "," in text:
        parts = [part.strip() for part in text.split(",")]
        if not all(parts):
            return Refusal("Nothing stands between two commas: write - for a set left out.")
        return parts
    words = _AROUND.sub(SIDES, text).split()
    if not one_sided or not words:
        return words
    if all(SIDES in word or word in (LEFT_OUT, NOT_COUNTED) for word in words):
        return words
    if len(words) > 2 or SIDES in text:
        return Refusal(
            "One-sided: write left and right of each set, with a comma between sets: 12 14, 11 13."
        )
    return [text.strip()]


def _set(part: str, exercise: Exercise, *, one_sided: bool) -> PaperSet | Refusal:
    sides: tuple[Side, ...] = ("left", "right") if one_sided else ("both",)
    if part == LEFT_OUT:
        return ()
    if part == NOT_COUNTED:
        return tuple((side, None) for side in sides)
    entry = read_entry(part, bare=exercise.measure)
    if isinstance(entry, Refusal):
        return entry
    if entry.measure != exercise.measure:
        wanted = "seconds: 45" if exercise.measure == "hold" else "repetitions: 12"
        return Refusal(f"{exercise.name} is counted in {wanted}.")
    counts = entry.counts
    if len(counts) > len(sides):
        return Refusal(f"{exercise.name} has no sides: one number a set.")
    if len(counts) < len(sides):
        counts = counts * 2
    return tuple(zip(sides, counts, strict=True))
