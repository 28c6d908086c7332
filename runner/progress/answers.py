"""What a trainee answered to advice, and what follows for the sessions to come.

An accepted level becomes the working level, as a decision in the record. Anything else that was
accepted (a longer recovery, a set more or fewer, a substitute, a lighter week) is an adjustment: it
is different from the plan from then on. `as planned` ends those of an exercise.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import FIRST, LATER, WorkingLevels
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
        """What was said to this advice."""
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
    """Whether this was answered already, and nothing new has been done since `last`."""
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
    elif change.kind == "move":
        yield group, change.index
        for part in (FIRST + group, LATER + group):
            if (name, part) in working:  # the sets stand together again
                yield part, change.index


def in_force(
    answers: Sequence[Answer], today: date | None = None, known: Container[str] | None = None
) -> tuple[Adjustment, ...]:
    """What is different from the plan, by all that was accepted; a lighter week only `today`.

    `known` are the exercises that the plan has: a substitute that is no longer among them counts
    for nothing, for example one that is avoided now.
    """
    found: list[Adjustment] = []
    for one in answers:
        if not one.accepted:
            continue
        if one.rule == AS_PLANNED:
            found = [a for a in found if a.exercise != one.exercise]
            continue
        found += _adjustments(one, today)
    return _joined(one for one in found if known is None or not one.to or one.to in known)


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
