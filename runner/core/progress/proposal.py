"""What advice consists of, as data: what is held, what is proposed, and by which rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from math import floor
from typing import Final, Literal

from runner.core.progress.breaks import Layoff
from runner.core.progress.history import Use
from runner.core.progress.marks import RULES, Mark
from runner.core.progress.one_rep_max import Expected
from runner.core.workout import Exercise, Workout

LONGER: Final = 30.0  # seconds of recovery proposed after a drop; our choice

RuleName = Literal[
    "pain",
    "layoff",
    "harder",
    "bridge",
    "load",
    "easier",
    "drop",
    "falling",
    "flat",
    "one set more",
    "effort",
    "sides",
    "stay",
    "lighter week",
]
ChangeKind = Literal[
    "move",  # all sets to the position `index`
    "bridge",  # the first set to the position `index`, the others as they are
    "recovery",  # `seconds` more for each muscle
    "fewer sets",  # one fewer
    "more sets",  # one more
    "easier later",  # the later sets at the position `index`
    "swap",  # the exercise named
    "lighter week",
]


@dataclass(frozen=True, slots=True)
class Change:
    """What is proposed, as data; nothing changes until it is accepted."""

    kind: ChangeKind
    text: str  # in a few words
    index: int | None = None  # in the exercise's ladder
    seconds: float | None = None
    exercise: str | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """One line for one exercise and group of sets."""

    exercise: str
    group: str
    rule: RuleName
    reason: str
    change: Change | None = None  # None: go on as before
    others: tuple[Change, ...] = ()  # what else would serve
    expected: Expected | None = None  # repetitions after the change
    source: Mark | None = None  # where the rule comes from, if it depends on the plan

    @property
    def mark(self) -> Mark:
        """Where the rule comes from."""
        return self.source or RULES[self.rule].mark

    @property
    def line(self) -> str:
        """Rule, mark, reason and what is proposed, in one line."""
        proposed = "" if self.change is None else f" -> {self.change.text}"
        return f"{self.rule} ({self.mark}): {self.reason}{proposed}{self.expectation}"

    @property
    def expectation(self) -> str:
        """The repetitions to expect after the change, in words; empty where nothing is known."""
        if self.expected is None or self.change is None:
            return ""
        low, high, middle = (
            floor(value + 0.5)
            for value in (self.expected.low, self.expected.high, self.expected.middle)
        )
        source = f"{len(self.expected.names)} published equations"
        guess = ", outside the counts they hold for" if self.expected.extrapolated else ""
        return f"; expect {middle} ({low} to {high} by {source}{guess})"


@dataclass(frozen=True, slots=True)
class Holding:
    """What a trainee holds in one exercise and group of sets."""

    exercise: Exercise
    index: int  # in the ladder
    group: str = ""
    first_set: int | None = None  # a bridge: where the first set stands already
    mass: float | None = None  # the body's, kg
    refused: Mapping[RuleName, date] = field(default_factory=dict)  # local dates of refusals
    since: date | None = None  # of the last advice accepted: what lasts weeks counts from then
    tried: frozenset[ChangeKind] = frozenset()  # what was accepted here when it was flat
    room: bool = True  # whether one set more is wanted: see `Standing`
    pain: str = ""  # why pain rules out a step up
    layoff: Layoff | None = None  # the last one

    @property
    def since_layoff(self) -> date | None:
        """The first day after the last layoff, which ends a run of sessions."""
        return None if self.layoff is None else self.layoff.back

    @property
    def use(self) -> Use:
        """What the sets use."""
        return Use.of(self.exercise.ladder[self.index])


def on_side(holding: Holding) -> str:
    """What to add to counts of one-sided work."""
    return "" if holding.exercise.sides == "together" else " on the weaker side"


def named(holding: Holding, index: int) -> str:
    """A position of the ladder in words."""
    return Use.of(holding.exercise.ladder[index]).text


def move(holding: Holding, index: int) -> Change:
    """All sets to another position."""
    return Change("move", named(holding, index), index)


def with_free_substitutes(exercise: Exercise, week: Iterable[Workout]) -> Exercise:
    """The exercise with those substitutes alone that none of its sessions has already."""
    there: set[str] = set()
    for workout in week:
        names = {item.exercise for block in workout.blocks for item in block.items}
        there |= names if exercise.id in names else set()
    return replace(exercise, instead=tuple(n for n in exercise.instead if n not in there))


def swaps(holding: Holding) -> tuple[Change, ...]:
    """The substitutes that the plan names."""
    names = holding.exercise.instead
    return tuple(Change("swap", f"{name} instead", exercise=name) for name in names)


def at_the_end(holding: Holding, *ways: str) -> str:
    """What else there is where the plan has no further level; substitutes are choices of theirs."""
    known = bool(holding.exercise.instead)
    *most, last = ways if known else (*ways, "a substitute")
    text = f"{', '.join(most)} or {last}" if most else last
    return f"a substitute, or {text} put into the plan" if known else f"put {text} into the plan"


def propose(
    holding: Holding,
    rule: RuleName,
    reason: str,
    change: Change | None = None,
    others: tuple[Change, ...] = (),
    *,
    expected: Expected | None = None,
    source: Mark | None = None,
) -> Advice:
    """A piece of advice for what is held."""
    name, group = holding.exercise.id, holding.group
    return Advice(name, group, rule, reason, change, others, expected, source)


def stay(holding: Holding, reason: str, others: tuple[Change, ...] = ()) -> Advice:
    """No change; `others` would serve all the same."""
    return propose(holding, "stay", reason, None, others)
