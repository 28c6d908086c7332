"""From one position of an exercise's ladder to the next, and what to expect there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from runner.core.progress.history import Use
from runner.core.progress.load_moved import ratio
from runner.core.progress.one_rep_max import Expected, expected_reps
from runner.core.workout import Exercise, Rung

LEAST_STEP: Final = 1.02  # of the load moved: ACSM 2009
MOST_STEP: Final = 1.10

StepKind = Literal["load", "set-up", "version", "top"]


@dataclass(frozen=True, slots=True)
class Step:
    """A step from one position to another of the ladder."""

    kind: StepKind  # "top" where there is none
    index: int  # of the new position; of the old where there is none
    ratio: float | None  # new load over old; None where it is unknown


def step_up(exercise: Exercise, index: int, mass: float | None = None) -> Step:
    """The next position: the range's increment, else the next version."""
    return _step(exercise, index, index + 1, mass)


def step_down(
    exercise: Exercise, index: int, mass: float | None = None, past: Iterable[Use] = ()
) -> Step:
    """The position before: the range's increment, else the version before.

    Of the version before, a position that was used in the `past` (the latest one), else its
    hardest that has no more load than now: a slower version may begin far under the end of the
    quick one's range.
    """
    if index == 0:
        return Step("top", 0, None)
    here, before = exercise.ladder[index], exercise.ladder[index - 1]
    if before.version == here.version:
        return _step(exercise, index, index - 1, mass)
    places = [i for i in range(index) if exercise.ladder[i].version == before.version]
    used = [u.place_in(exercise) for u in past if u.version == before.version]
    known = [place for place in used if place is not None and place in places]
    if known:
        return _step(exercise, index, known[-1], mass)
    if here.load is not None:
        places = [i for i in places if (exercise.ladder[i].load or 0.0) <= here.load] or places[:1]
    return _step(exercise, index, places[-1], mass)


def load_up(exercise: Exercise, index: int, mass: float | None = None) -> Step:
    """The next load of a version: the first that is 2 % more of the load moved, or the next.

    2 to 10 %: ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708). Where the next load
    is already more than 10 %, it is given all the same; `ratio` says so. Where there is no load
    after this one, the step up.
    """
    first = step = step_up(exercise, index, mass)
    while step.kind == "load" and step.ratio is not None and step.ratio < LEAST_STEP:
        further = _step(exercise, index, step.index + 1, mass)
        if further.kind != "load":
            return first
        step = further
    small = step.ratio is None or step.ratio <= MOST_STEP
    return step if small else first


def _step(exercise: Exercise, old: int, new: int, mass: float | None) -> Step:
    if not 0 <= new < len(exercise.ladder):
        return Step("top", old, None)
    before, after = exercise.ladder[old], exercise.ladder[new]
    kind: StepKind = "version"
    if before.version == after.version:
        kind = "load" if before.load != after.load else "set-up"
    return Step(kind, new, _ratio(before, after, mass))


def _ratio(before: Rung, after: Rung, mass: float | None) -> float | None:
    """The ratio of the loads where it says how much harder the step is, else None.

    Repetitions at different tempos do not compare (Rozenek et al. 2022, J Strength Cond Res 36),
    and where the load stays the same, what makes a position harder is something else.
    """
    if before.tempo != after.tempo:
        return None
    found = ratio(before, after, mass)
    return None if found == 1 else found


def expect(step: Step, done: float, left: float, aimed: int) -> Expected | None:
    """Repetitions to expect after a step, stopping with `aimed` left.

    `done` repetitions were done with `left` in reserve; the equations speak of repetitions to
    failure. None where the loads are unknown.
    """
    if step.ratio is None:
        return None
    found = expected_reps(step.ratio, done + left)
    if found is None:
        return None
    low, high, middle = (max(r - aimed, 0.0) for r in (found.low, found.high, found.middle))
    return Expected(low, high, middle, found.extrapolated, found.names)
