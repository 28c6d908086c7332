"""The forecast: a session's steps by the timing law, from any point on.

Each set has an expected length; from these the law makes the forecast. Reports ask for the whole
session, the live screen for what remains. Like the session machine, this module asks the law at
every rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import ComingBout, Course, Length, PlannedSet, RemainingSets
from runner.law.timing import SAME, Bout, TimedSet, Why
from runner.law.workout import Block, Side, Workout
from runner.progress.adjust import Baseline, begin_course

StepKind = Literal["warm-up", "rest", "set", "cool-down"]


class Step(Struct, frozen=True):
    """One step of a timeline; times are session seconds."""

    kind: StepKind
    start: float
    end: float
    why: Why | None = None  # of a rest
    index: int | None = None  # of a set: its place among the planned sets
    planned_set: PlannedSet | None = None
    side: Side | None = None
    timed: TimedSet | None = None  # of a set: what the law saw
    recovered: float | None = None  # of a set: its prime movers' least recovery
    first_side: bool = True  # of a set

    @property
    def seconds(self) -> float:
        """How long the step lasts."""
        return self.end - self.start


def as_expected(_planned_set: PlannedSet, bout: Bout) -> float:
    """A bout lasts its expected length."""
    return bout.expected


def session_steps(
    workout: Workout, baseline: Baseline | None = None, length: Length = as_expected
) -> list[Step]:
    """The whole session's timeline from 0: no gaps, no step of length 0."""
    steps: list[Step] = []
    now = 0.0
    if workout.warm_up > 0:
        steps.append(Step("warm-up", 0.0, workout.warm_up))
        now = workout.warm_up
    steps += remaining_steps(begin_course(workout, baseline), now, length)
    now = steps[-1].end if steps else 0.0
    if workout.cool_down > 0:
        steps.append(Step("cool-down", now, now + workout.cool_down))
    return steps


def remaining_steps(course: Course, now: float, length: Length = as_expected) -> list[Step]:
    """The rests and sets still to come, from `now` on.

    `now` is the end of the last bout (or, before any, when the lead-in begins). No bout
    may be running.
    """
    return list(_steps(RemainingSets(course).walk(now, length)))


def _steps(bouts: Iterable[ComingBout]) -> Iterator[Step]:
    for a in bouts:
        if a.rest.seconds > SAME:  # less is the dust of binary fractions, and no rest
            yield Step("rest", a.since, a.start, why=a.rest.why)
        if a.end > a.start:
            side, first = a.timed.bouts[a.number].side, a.number == 0
            yield Step(
                "set",
                a.start,
                a.end,
                None,
                a.set_index,
                a.planned_set,
                side,
                a.timed,
                a.recovered,
                first,
            )


def straight(workout: Workout) -> Workout:
    """The same session with each exercise of each block as a block of its own."""
    return replace(
        workout,
        blocks=tuple(Block((item,), b.timing) for b in workout.blocks for item in b.items),
    )


def total(steps: list[Step]) -> float:
    """Seconds from 0 to the end of the last step."""
    return steps[-1].end if steps else 0.0
