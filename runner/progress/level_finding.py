"""Level finding in a first session: from the easiest version up, well short of the limit.

Each set is stopped with three or four repetitions left. Repetitions and reserve together are about
what could have been done. The working level is the one where that sum lies in the rep range, and
still reaches its bottom with the reserve that the exercise aims at. Three or four, because people
judge their reserve to about a repetition there (Hackett et al. 2017, J Strength Cond Res
31:2162-2168), and because a first session stays short of the limit. A hold is stopped while it is
still steady; only its seconds count.

A long layoff ends for each exercise by itself. Sessions take turns: when the second one comes, few
days have passed since the last session, but its levels are as old as those of the first one were.
So level finding comes again for an exercise that was neither done nor set for eight weeks.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

from msgspec import Struct

from runner.law.workout import Exercise
from runner.progress.history import PastSession
from runner.progress.progression import step_down
from runner.progress.reps import counts_of

LEAVE: Final = (3, 4)  # repetitions in reserve with which a set of level finding is stopped
MOST_NAMED: Final = 10  # a reserve named larger than that says no more; our choice
REASON: Final = "placed"  # of the decision in the record
FAR: Final = 1.25  # each 25 % over the top passes over one more level; our choice
MOST: Final = 3  # levels of one range gone up at once, at most; our choice
DOUBLE: Final = 2.0  # times the load that a range goes up at once, at most; our choice


class Trial(Struct, frozen=True):
    """A set of level finding that was done."""

    index: int  # in the exercise's progression
    value: float  # repetitions, or seconds; of one-sided work the weaker side
    reserve: int | None = None  # none given counts as the least asked for


class FoundLevel(Struct, frozen=True):
    """The result of a trial."""

    outcome: Literal["harder", "placed", "easier"]
    index: int  # where the next set stands, or where the exercise is placed
    settled: bool  # the level is found: it is the working level from now on
    text: str


def wants_level_finding(past: Sequence[PastSession], working: int | None) -> bool:
    """Whether the level has yet to be found: no working level, nothing done but level finding.

    A layoff of over eight weeks wants it as well: `runner.progress.layoff`. What such a session has
    left open: `unfinished_trial`.
    """
    return working is None and all(s.level_finding for s in past if s.counted)


def unfinished_trial(exercise: Exercise, past: Sequence[PastSession]) -> FoundLevel | None:
    """Where the last session stopped level finding; None where it was no such session.

    None as well where it found the level.
    """
    last = next((s for s in reversed(past) if s.counted), None)
    if last is None or not last.level_finding:
        return None
    found = next_trial(exercise, trials_of(exercise, last))
    return None if found.settled else found


def trials_of(exercise: Exercise, session: PastSession) -> list[Trial]:
    """The trials of a session of level finding, without sets of versions that are gone."""
    indexes = {s.number: s.use.index_in(exercise) for s in session.counted}
    found = []
    for count in counts_of(session):
        index = indexes[count.number]
        if index is not None:
            found.append(Trial(index, count.beside, round(count.in_reserve)))
    return found


def goes_on_at(exercise: Exercise, past: Sequence[PastSession]) -> int:
    """Where level finding begins: at the easiest, or where a session before did not finish it."""
    found = unfinished_trial(exercise, past)
    return 0 if found is None else found.index


def next_trial(exercise: Exercise, trials: Sequence[Trial], start: int = 0) -> FoundLevel:
    """What to do after the trials so far; before the first, the set at `start`.

    Where the sets of a session do not suffice, level finding goes on in the next one, at
    `goes_on_at`.
    """
    if not trials:
        text = _ask(exercise.at(exercise.progression[start].version))
        return FoundLevel("harder", start, settled=False, text=text)
    last = trials[-1]
    exercise = _at(exercise, last)
    able = last.value + _reserve(exercise, last)
    bottom, top = exercise.rep_range
    if able - _aim(exercise) < bottom:
        return _too_hard(exercise, last, trials)
    if able <= top and not (exercise.measure == "hold" and able >= stop_at(exercise)):
        return FoundLevel("placed", last.index, settled=True, text=_inside(able, exercise))
    higher = _further(exercise, last.index, able / top if top else 1.0)
    refused = {t.index for t in trials if _under(_at(exercise, t), t)}
    if higher == last.index or higher in refused:
        why = (
            "the plan has no harder level" if higher == last.index else "the next level is too hard"
        )
        return FoundLevel(
            "placed", last.index, settled=True, text=f"working level found here: {why}"
        )
    text = f"about {able:g} to failure, over the top of {top:g}: one level harder"
    return FoundLevel("harder", higher, settled=False, text=text)


def _at(exercise: Exercise, trial: Trial) -> Exercise:
    """The exercise in the version of a trial."""
    return exercise.at(exercise.progression[trial.index].version)


def _under(exercise: Exercise, trial: Trial) -> bool:
    """Whether a trial was too hard."""
    able = trial.value + _reserve(exercise, trial)
    return able < exercise.rep_range[0] + _aim(exercise)


def stop_at(exercise: Exercise) -> float:
    """Repetitions (or seconds) at which a trial is stopped, whatever reserve is left.

    The top of the rep range decides: with some reserve there, the level is too light.
    """
    return exercise.rep_range[1]


def _reserve(exercise: Exercise, trial: Trial) -> float:
    if exercise.measure == "hold":
        return 0.0
    return LEAVE[0] if trial.reserve is None else min(trial.reserve, MOST_NAMED)


def _aim(exercise: Exercise) -> int:
    """Repetitions that are left undone in the sessions to come."""
    return 0 if exercise.measure == "hold" else exercise.reserve


def _ask(exercise: Exercise) -> str:
    if exercise.measure == "hold":
        return (
            f"start here; stop while the hold is steady, at {stop_at(exercise):g} s at the latest"
        )
    few, more = LEAVE
    return (
        f"start here; stop with {few} or {more} in reserve, at {stop_at(exercise):g} at the latest"
    )


def _inside(able: float, exercise: Exercise) -> str:
    bottom, top = exercise.rep_range
    aim = _aim(exercise)
    short = f"{able - aim:g} with {aim} in reserve" if aim else f"{able:g} to failure"
    return f"working level found here: about {short}, between {bottom:g} and {top:g}"


def _too_hard(exercise: Exercise, last: Trial, trials: Sequence[Trial]) -> FoundLevel:
    """Under the bottom: back to what was tried before, else one level down, and try that."""
    tried = [t.index for t in trials[:-1] if t.index < last.index]
    if tried:
        text = "working level found one level easier: this set is under the bottom of the rep range"
        lower = _between(exercise, max(tried), last.index)
        return FoundLevel("placed", lower, settled=True, text=text)
    lower = step_down(exercise, last.index).index
    if lower == last.index:
        text = (
            "the easiest level is your working level; build up to the bottom of the rep range first"
        )
        return FoundLevel("placed", lower, settled=True, text=text)
    return FoundLevel(
        "easier", lower, settled=False, text="under the bottom of the rep range: one level easier"
    )


def _between(exercise: Exercise, good: int, bad: int) -> int:
    """After levels were passed over: the middle between one too light and one too heavy."""
    same = exercise.progression[good].version == exercise.progression[bad].version
    return good + (bad - good) // 2 if same else good


def _further(exercise: Exercise, index: int, surplus: float) -> int:
    """The next trial's level: one on; in a range further by the surplus, never past its end.

    Nor to more than double the load: nobody has tested the levels that are passed over.
    """
    progression, here = exercise.progression, exercise.progression[index]
    furthest = index + min(MOST, 1 + int((surplus - 1) / (FAR - 1)))
    found = min(index + 1, len(progression) - 1)
    for further in range(index + 2, min(furthest, len(progression) - 1) + 1):
        there = progression[further]
        heavy = here.load and there.load and there.load > DOUBLE * here.load
        if there.version != here.version or heavy:
            break
        found = further
    return found
