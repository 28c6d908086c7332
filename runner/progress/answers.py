"""A trainee's answers to advice, and what follows for later sessions.

An accepted level becomes the working level, as a decision in the record. Anything else that was
accepted (a longer recovery, a set more or fewer, a substitute, a lighter week) is an adjustment to
the plan from then on. `as planned` ends the adjustments of an exercise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import FIRST, LATER, WorkingLevels
from runner.law.workout import Workout
from runner.progress.adjust import Adjustment
from runner.progress.deload import MORE_IN_RESERVE, SHARE
from runner.progress.rules import Advice, Change, CurrentLevel

AS_PLANNED: Final = "as planned"
BY_HAND: Final = "set by hand"
WEEK: Final = timedelta(days=7)


class Answer(Struct, frozen=True):
    """An answer to one piece of advice. `change` is what was proposed, as plain data."""

    exercise: str
    group: str
    rule: str
    reason: str
    change: Mapping[str, Any]
    accepted: bool
    on: date  # local

    @classmethod
    def to(cls, advice: Advice, on: date, *, accepted: bool) -> Answer:
        """The trainee's reply to this advice."""
        change = advice.change
        data: dict[str, Any] = {}
        if change is not None:
            data = {
                name: value
                for name in ("kind", "text", "index", "seconds", "exercise")
                if (value := getattr(change, name)) is not None
            }
        return cls(advice.exercise, advice.group, advice.rule, advice.reason, data, accepted, on)


def refused(answers: Iterable[Answer], exercise: str, group: str) -> dict[Any, date]:
    """When each rule's advice was last refused for an exercise and group of sets."""
    return {
        one.rule: one.on
        for one in answers
        if (one.exercise, one.group, one.accepted) == (exercise, group, False)
    }


def accepted(
    answers: Iterable[Answer], exercise: str, group: str
) -> tuple[date | None, frozenset[Any]]:
    """When advice was last accepted there, and the kinds of changes since the last new level.

    A new level begins anew: what was tried before it may help again. Only a set fewer is tried
    once: a new level does not give it back, and one more after each level would leave no sets.
    """
    since: date | None = None
    kinds: set[Any] = set()
    for one in answers:
        if (one.exercise, one.group) != (exercise, group) or not one.accepted:
            continue
        kind = one.change.get("kind")
        since = one.on
        if kind is None:
            kinds = set()
        elif kind == "move":
            kinds &= {"fewer sets"}
        else:
            kinds.add(kind)
    return since, frozenset(kinds)


def is_answered(advice: Advice, answers: Iterable[Answer], last: date | None) -> bool:
    """Whether this was answered already, with nothing new done since `last`."""
    return any(
        (one.exercise, one.group, one.rule) == (advice.exercise, advice.group, advice.rule)
        and (last is None or one.on >= last)
        for one in answers
    )


def positions(
    current: CurrentLevel, change: Change, working: WorkingLevels
) -> Iterator[tuple[str, int]]:
    """The working levels once a change is accepted: (group or part of it, progression index)."""
    if change.index is None:
        return
    group, name = current.group, current.exercise.id
    if change.kind == "bridge":
        yield FIRST + group, change.index
    elif change.kind == "easier later":
        yield LATER + group, change.index
    else:  # a move
        yield group, change.index
        for part in (FIRST + group, LATER + group):
            if (name, part) in working:  # the sets stand together again
                yield part, change.index


def in_force(
    answers: Sequence[Answer], today: date | None = None, workout: Workout | None = None
) -> tuple[Adjustment, ...]:
    """What is different from the plan, by all that was accepted; a lighter week only `today`.

    In a `workout` a substitute that it no longer knows counts for nothing, for example one that
    is avoided now, and so does one of those `left_out`.
    """
    found: list[Adjustment] = []
    for one in answers:
        if not one.accepted:
            continue
        if one.rule == AS_PLANNED:
            found = [a for a in found if a.exercise != one.exercise]
            continue
        found += _adjustments(one, today)
    joined = _joined(found)
    return joined if workout is None else tuple(_fitting(joined, workout))


def left_out(answers: Sequence[Answer], workout: Workout) -> tuple[Adjustment, ...]:
    """The swaps accepted for a session that are not in force.

    With them one exercise would stand in two places of the plan, and another in none.
    """
    there, fit = _names(workout), in_force(answers, workout=workout)
    return tuple(
        one
        for one in in_force(answers)
        if one.exercise in there and one.to in workout.exercises and one not in fit
    )


def left_out_line(one: Adjustment, workout: Workout) -> str:
    """A swap left out, for people."""
    here, there = (workout.exercises[name].name for name in (one.exercise, one.to))
    return f"{here}: {there} instead is left out, for the plan would have it twice"


def _fitting(found: Sequence[Adjustment], workout: Workout) -> Iterator[Adjustment]:
    """Without swaps to what is unknown, to each other, or to what the session has by then."""
    there = _names(workout)
    pairs = {(one.exercise, one.to) for one in found if one.to}
    for one in found:
        if one.to:
            twice = one.exercise in there and one.to in there
            if twice or one.to not in workout.exercises or (one.to, one.exercise) in pairs:
                continue
            there = there - {one.exercise} | ({one.to} if one.exercise in there else set())
        yield one


def _names(workout: Workout) -> set[str]:
    return {item.exercise for block in workout.blocks for item in block.items}


def lighter_until(answers: Iterable[Answer], today: date, exercise: str = "") -> date | None:
    """The last day of a lighter week that runs, of an exercise or of all (""); None without one."""
    last: date | None = None
    for one in answers:
        if one.rule == AS_PLANNED and one.exercise == exercise:
            last = None
        taken = one.accepted and one.change.get("kind") == "lighter week"
        same = taken and one.change.get("exercise", "") == exercise
        if same and one.on <= today < one.on + WEEK:
            last = one.on + WEEK - timedelta(days=1)
    return last


def _adjustments(one: Answer, today: date | None) -> list[Adjustment]:
    kind, change = one.change.get("kind"), one.change
    if kind == "recovery":
        return [Adjustment("recovery", one.exercise, number=float(change["seconds"]))]
    if kind in ("fewer sets", "more sets"):
        number = 1.0 if kind == "more sets" else -1.0
        return [Adjustment("sets", one.exercise, one.group, number)]
    if kind == "swap":
        return [Adjustment("swap", one.exercise, to=str(change["exercise"]))]
    if kind == "lighter week" and today is not None and one.on <= today < one.on + WEEK:
        return [replace(part, exercise=str(change.get("exercise", ""))) for part in LIGHTER]
    return []


def _joined(found: Iterable[Adjustment]) -> tuple[Adjustment, ...]:
    """Adds up the numbers for the same thing; leaves out a sum of zero."""
    sums: dict[tuple[str, str, str, str], float] = {}
    for one in found:
        key = (one.kind, one.exercise, one.group, one.to)
        if one.kind in ("recovery", "sets"):
            sums[key] = sums.get(key, 0.0) + one.number
        else:
            sums[key] = one.number
    return tuple(
        Adjustment(kind, exercise, group, number, to)  # type: ignore[arg-type]
        for (kind, exercise, group, to), number in sums.items()
        if number or kind not in ("recovery", "sets")
    )


LIGHTER: Final[tuple[Adjustment, ...]] = (
    Adjustment("share", number=SHARE),
    Adjustment("reserve", number=float(MORE_IN_RESERVE)),
    Adjustment("no count"),
)
"""What a deload changes."""
