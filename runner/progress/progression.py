"""From one level of an exercise's progression to the next, up and down, and what to expect there.

One code for advice, for `easier` and `harder` in a session, and for what is written up from
paper. `easier` never gives a heavier load, nor a level that shares of body mass or the person's
own counts call harder: from a version's lightest load it goes to the version before, at the load
last used there if that is not above the present one, else at the heaviest that is not. `harder`
past the heaviest load goes to the next version at the load last used there, else at its lightest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final, Literal

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law.course import find_level, level_order
from runner.law.workout import Exercise, Level
from runner.progress.history import PastSession, Use
from runner.progress.one_rep_max import ExpectedReps, expected_reps
from runner.progress.reps import first_done

# The load really moved: a share of the body's mass, and the load added.


def load_moved(share: float | None, mass: float | None, added: float | None) -> float | None:
    """Share x body mass + added load, in kg; None where it is unknown.

    Unknown are: a share that nobody has measured, and a body mass that is not on file or not
    above 0, unless the share is 0: then the load is the added one alone.
    """
    if share is None:
        return None
    if share == 0:
        return added or 0.0
    if mass is None or not mass > 0:
        return None
    return share * mass + (added or 0.0)


def level_moved(level: Level, mass: float | None) -> float | None:
    """The load moved at one level, by all limbs together, in kg; None where it is unknown."""
    return load_moved(level.body_share, mass, level.load)


def limb_moved(level: Level, mass: float | None) -> float | None:
    """The load moved by one limb, in kg: two-sided work shares it between two."""
    moved = level_moved(level, mass)
    return None if moved is None else moved / _limbs(level)


def ratio(old: Level, new: Level, mass: float | None) -> float | None:
    """How many times the load of `old` the load of `new` is, for one limb; None if unknown.

    Without any added load the body's mass cancels out and need not be on file.
    """
    if not (old.load or new.load) and old.body_share and new.body_share:
        return new.body_share / _limbs(new) / (old.body_share / _limbs(old))
    before, after = limb_moved(old, mass), limb_moved(new, mass)
    return after / before if before and after else None


def _limbs(level: Level) -> int:
    return 2 if level.sides == "together" else 1


LEAST_STEP: Final = 1.02  # of the load moved: ACSM 2009
MOST_STEP: Final = 1.10
EQUATIONS_TO: Final = 1.25  # times the load: further on the equations say nothing; our choice

StepKind = Literal["load", "set-up", "version", "top"]


class LevelsDone(Struct, frozen=True):
    """What a person has done of an exercise: levels by their index in the progression."""

    last: Mapping[str, int] = field(default_factory=dict)  # version -> level last used
    counts: Mapping[int, float] = field(default_factory=dict)  # level -> last first set


NOTHING_DONE: Final = LevelsDone()


class Step(Struct, frozen=True):
    """A step from one level to another."""

    kind: StepKind  # "top" at the hardest level
    index: int  # of the new level; of the old for "top"
    ratio: float | None  # new load over old, for one limb; None where it is unknown

    @property
    def small(self) -> bool:
        """2 to 10 % of the load moved, or one increment where that is unknown.

        Up to 10 %: ACSM 2009 (Ratamess et al., Med Sci Sports Exerc 41:687-708).
        """
        within = self.ratio is None or self.ratio <= MOST_STEP
        return self.kind in ("load", "set-up") and within


def step_up(
    exercise: Exercise, index: int, mass: float | None = None, done: LevelsDone = NOTHING_DONE
) -> Step:
    """The next level: the range's next value, else the next version."""
    if index + 1 >= len(exercise.progression):
        return Step("top", index, None)
    here, version = exercise.progression[index], exercise.progression[index + 1].version
    if version == here.version:
        return _step(exercise, here, index + 1, mass)
    last = done.last.get(version)
    known = last is not None and last > index and exercise.progression[last].version == version
    return _step(exercise, here, last if known and last is not None else index + 1, mass)


def step_down(
    exercise: Exercise, index: int, mass: float | None = None, done: LevelsDone = NOTHING_DONE
) -> Step:
    """The level before that is easier; kind "top" without one."""
    found = next(_easier(exercise, index, mass, done), None)
    if found is None:
        return Step("top", index, None)
    return _step(exercise, exercise.progression[index], found, mass)


def easier_than(
    exercise: Exercise, level: Level, mass: float | None = None, done: LevelsDone = NOTHING_DONE
) -> Step:
    """The level before the one used, which may be off the plan's range."""
    index = find_level(exercise, level)
    below = exercise.progression[index]
    if _further(exercise, level, below) and (below.load or 0.0) <= (level.load or 0.0):
        return _step(exercise, level, index, mass)
    return step_down(exercise, index, mass, done)


def harder_than(
    exercise: Exercise, level: Level, mass: float | None = None, done: LevelsDone = NOTHING_DONE
) -> Step:
    """The level after the one used, which may be off the plan's range."""
    index = find_level(exercise, level)
    if _further(exercise, exercise.progression[index], level):
        return _step(exercise, level, index, mass)
    return step_up(exercise, index, mass, done)


def _further(exercise: Exercise, one: Level, other: Level) -> bool:
    """Whether a level lies further along the range of its version than another of that version."""
    orders = (level_order(exercise, one) or (), level_order(exercise, other) or ())
    return one.version == other.version and orders[0] > orders[1]


def no_easier(exercise: Exercise, level: Level) -> str:
    """Why there is nothing easier, and what to do instead."""
    if find_level(exercise, level) == 0:
        return f"{exercise.name} is at its easiest level"
    kg = "" if level.load is None else f" with {level.load:g} kg or less"
    swap = "swap it, or do" if exercise.instead else "do"
    return f"{exercise.name} has no easier level{kg}: {swap} fewer repetitions"


def load_up(
    exercise: Exercise, index: int, mass: float | None = None, done: LevelsDone = NOTHING_DONE
) -> Step:
    """The next load of a version: the first that is 2 % more of the load moved, or the next.

    Where the next load is already more than 10 %, it is still given; `ratio` says so.
    Where there is no load after this one, the step up.
    """
    first = step = step_up(exercise, index, mass, done)
    while step.kind == "load" and step.ratio is not None and step.ratio < LEAST_STEP:
        further = step_up(exercise, step.index, mass, done)
        if further.kind != "load":
            return first
        step = _step(exercise, exercise.progression[index], further.index, mass)
    small = step.ratio is None or step.ratio <= MOST_STEP
    return step if small else first


def unforeseen(exercise: Exercise, index: int, step: Step) -> bool:
    """Whether nobody can say what to expect after a step up.

    So it is for holds, for a version of unknown difficulty, and for a load over a quarter up: of
    the load moved, or of what is added where that is unknown.
    """
    new_version = exercise.progression[step.index].version
    here, there = exercise.at(exercise.progression[index].version), exercise.at(new_version)
    if "hold" in (here.measure, there.measure):
        return True
    if step.ratio is not None:
        return step.ratio > EQUATIONS_TO
    if step.kind == "load":
        old, new = (exercise.progression[other].load or 0.0 for other in (index, step.index))
        return new > EQUATIONS_TO * old
    return step.kind == "version"


def _easier(exercise: Exercise, index: int, mass: float | None, done: LevelsDone) -> Iterator[int]:
    """The levels that are easier, the best one first."""
    here = exercise.progression[index]
    versions: dict[str, list[int]] = {}
    for other in range(index):
        versions.setdefault(exercise.progression[other].version, []).append(other)

    def ok(other: int) -> bool:
        return _not_harder(exercise, index, other, mass, done)

    for version in reversed(versions):
        indexes = [other for other in versions[version] if ok(other)]
        last = done.last.get(version)
        if version != here.version and last in indexes:
            yield last
        yield from sorted(
            indexes, key=lambda p: (exercise.progression[p].load or 0.0, p), reverse=True
        )


def _not_harder(
    exercise: Exercise, index: int, other: int, mass: float | None, done: LevelsDone
) -> bool:
    here, there = exercise.progression[index], exercise.progression[other]
    if (there.load or 0.0) > (here.load or 0.0):
        return False
    moved = ratio(here, there, mass)
    if moved is not None and moved > 1:
        return False
    if there.version != here.version and _beyond(exercise, index, other):
        return False
    mine, theirs = done.counts.get(index), done.counts.get(other)
    return mine is None or theirs is None or theirs >= mine


def _beyond(exercise: Exercise, index: int, other: int) -> bool:
    """Whether a measured set-up lies further along its version's range than the present one."""
    here, there = exercise.progression[index], exercise.progression[other]
    mine = level_order(exercise, replace(here, version=there.version)) or ()
    theirs = level_order(exercise, there) or ()
    return any(far > near for far, near in zip(theirs[1:-1], mine[1:-1], strict=True))


def done_in(exercise: Exercise, past: Iterable[PastSession]) -> LevelsDone:
    """What past sessions of an exercise say of its levels; they come the oldest first.

    A load off the range counts as the nearest level for where a version was last, not for counts.
    """
    exact = {Use.of(level): index for index, level in enumerate(exercise.progression)}
    last: dict[str, int] = {}
    counts: dict[int, float] = {}
    indexes: dict[Use, int | None] = dict(exact)
    for session in past:
        for use in dict.fromkeys(s.use for s in session.counted):
            if use not in indexes:
                indexes[use] = use.index_in(exercise)
            index = indexes[use]
            if index is not None:
                last[use.version] = index
            if use in exact and not session.pain:
                first = first_done(session, use)
                if first is not None:
                    counts[exact[use]] = first
    return LevelsDone(last, counts)


def _step(exercise: Exercise, before: Level, new: int, mass: float | None) -> Step:
    after = exercise.progression[new]
    kind: StepKind = "version"
    if before.version == after.version:
        loaded = after.load is not None and after.load != before.load
        kind = "load" if loaded else "set-up"  # from a load that the plan has not, a set-up
    return Step(kind, new, _ratio(before, after, mass))


def _ratio(before: Level, after: Level, mass: float | None) -> float | None:
    """The ratio of the loads where it says how much harder the step is, else None.

    Repetitions at different tempos do not compare (Rozenek et al. 2022, J Strength Cond Res 36),
    and where the load stays the same, what makes a level harder is something else.
    """
    if before.tempo != after.tempo:
        return None
    found = ratio(before, after, mass)
    return None if found == 1 else found


def expect(step: Step, done: float, in_reserve: float, aimed: int) -> ExpectedReps | None:
    """Repetitions to expect after a step, stopping with `aimed` left.

    `done` repetitions were done with `left` in reserve; the equations speak of repetitions to
    failure. None where the loads are unknown.
    """
    found = None if step.ratio is None else expected_reps(step.ratio, done + in_reserve)
    if found is None:
        return None
    low, high, middle = (max(r - aimed, 0.0) for r in (found.low, found.high, found.middle))
    return ExpectedReps(low, high, middle, found.extrapolated, found.names)
