"""Finding the version in a first session: from the easiest up, well short of the limit.

Each set is stopped with three or four repetitions left. Repetitions and reserve together are
about what could have been done; the version is the one where that lies in the band. Three or
four, for people judge their reserve to about a repetition there (Hackett et al. 2017, J Strength
Cond Res 31:2162-2168), and a first session stays short of the limit. A hold is stopped while it
is still steady; its seconds alone count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from runner.core.progress.equivalent import counts_of
from runner.core.progress.history import PastSession
from runner.core.progress.ladder import step_down
from runner.core.workout import Exercise

LEAVE: Final = (3, 4)  # repetitions in reserve that a placing set is stopped with
REASON: Final = "placed"  # for the record's list of what is held
FAR: Final = 1.25  # over the ceiling by so much: another position may be passed; our choice
MOST: Final = 3  # positions of one range passed at once; our choice

Outcome = Literal["harder", "placed", "easier"]


@dataclass(frozen=True, slots=True)
class Trial:
    """A set that was done to find the version."""

    index: int  # in the exercise's ladder
    value: float  # repetitions, or seconds; of one-sided work the weaker side
    reserve: int | None = None  # none given counts as the least asked for


@dataclass(frozen=True, slots=True)
class Placing:
    """What follows from a trial."""

    outcome: Outcome
    index: int  # where the next set stands, or where the exercise is placed
    settled: bool  # the version is found: it is held from now on
    text: str


def wants_placing(past: Sequence[PastSession], held: int | None) -> bool:
    """Whether the version has yet to be found: nothing is held, nothing done but to find it."""
    return held is None and all(s.placing for s in past if s.counted)


def trials_of(exercise: Exercise, session: PastSession) -> list[Trial]:
    """The trials of a session for placing; sets of a version that is gone are left out."""
    places = {s.number: s.use.place_in(exercise) for s in session.counted}
    found = []
    for count in counts_of(session):
        place_ = places[count.number]
        if place_ is not None:
            found.append(Trial(place_, count.plain, round(count.left)))
    return found


def goes_on_at(exercise: Exercise, past: Sequence[PastSession]) -> int:
    """Where placing begins: at the easiest, or where the session before had come to."""
    before = [s for s in past if s.placing and s.counted]
    return place(exercise, trials_of(exercise, before[-1])).index if before else 0


def place(exercise: Exercise, trials: Sequence[Trial], start: int = 0) -> Placing:
    """What to do after the trials so far; before the first, the set at `start`.

    Where a session's sets are used up before it is settled, placing goes on in the next one, at
    `goes_on_at`.
    """
    if not trials:
        return Placing("harder", start, settled=False, text="begin here, stop with 3 or 4 left")
    last = trials[-1]
    able = last.value + _reserve(exercise, last)
    floor, ceiling = exercise.band
    if able < floor:
        return _too_hard(exercise, last, trials)
    if able <= ceiling:
        return Placing("placed", last.index, settled=True, text=_inside(able, exercise))
    higher = _further(exercise, last.index, able / ceiling if ceiling else 1.0)
    refused = {t.index for t in trials if t.value + _reserve(exercise, t) < floor}
    if higher == last.index or higher in refused:
        why = "the hardest there is" if higher == last.index else "the next is too hard"
        return Placing("placed", last.index, settled=True, text=f"placed here: {why}")
    text = f"about {able:g} in all, over the ceiling of {ceiling:g}: harder"
    return Placing("harder", higher, settled=False, text=text)


def _reserve(exercise: Exercise, trial: Trial) -> float:
    if exercise.measure == "hold":
        return 0.0
    return LEAVE[0] if trial.reserve is None else trial.reserve


def _inside(able: float, exercise: Exercise) -> str:
    floor, ceiling = exercise.band
    return f"placed here: about {able:g} in all, inside {floor:g} to {ceiling:g}"


def _too_hard(exercise: Exercise, last: Trial, trials: Sequence[Trial]) -> Placing:
    """Under the floor: back to what was tried before, else one position down and try."""
    tried = [t.index for t in trials[:-1] if t.index < last.index]
    if tried:
        text = "placed one step back: this one is under the floor"
        lower = _between(exercise, max(tried), last.index)
        return Placing("placed", lower, settled=True, text=text)
    lower = step_down(exercise, last.index).index
    if lower == last.index:
        text = "placed at the easiest; build up repetitions to the floor first"
        return Placing("placed", lower, settled=True, text=text)
    return Placing("easier", lower, settled=False, text="under the floor: easier")


def _between(exercise: Exercise, good: int, bad: int) -> int:
    """After positions were passed, the middle between one too light and one too heavy."""
    same = exercise.ladder[good].version == exercise.ladder[bad].version
    return good + (bad - good) // 2 if same else good


def _further(exercise: Exercise, index: int, surplus: float) -> int:
    """The next trial's position: one on, in a range more by the surplus, never past its end."""
    ladder = exercise.ladder
    steps, wanted = 1, 1 + int((surplus - 1) / (FAR - 1))
    while steps < min(wanted, MOST):
        place_ = index + steps + 1
        if place_ >= len(ladder) or ladder[place_].version != ladder[index].version:
            break
        steps += 1
    return min(index + steps, len(ladder) - 1)
