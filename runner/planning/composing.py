"""A balanced week from a shelf of exercises: from the linear model to sessions, and back.

How long a session lasts depends on pairs and order, which no sum expresses. So the model uses an
estimate: each set with the rest that it has in an alternating pair, each exercise with its half of
a block's rest. The exact finders make pairs and order of the result, the timing law says how long
each session really is, and the difference goes back into the model until every session fits. The
same model with rests that the law never goes below gives a lower bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from runner.law.muscles import PATTERN_GROUPS
from runner.law.workout import Block, Exercise, Item, Workout
from runner.planning import ordering
from runner.planning.pairing import alternated, best_pairs, exercise_at, possible
from runner.planning.week_model import (
    INFINITE,
    LEAST_SETS,
    NEAR,
    Choice,
    Composer,
    SetsOf,
    Solution,
    Solver,
    Wishes,
    last_resorts,
)
from runner.progress.adjust import Baseline, begin_course

TURNS, MOST_TURNS = 2, 20  # so often the law's lengths go back into the model; our choice
# Patterns of several joints: what takes a warm-up set where it is loaded (common practice).
MULTI_JOINT = tuple(
    p for group in ("squat or lunge", "hinge", "push", "pull") for p in PATTERN_GROUPS[group]
)


def suited(shelf: Workout, baseline: Baseline | None, keep: Iterable[str] = ()) -> Workout:
    """The shelf without exercises with which a trainee should not begin.

    An exercise of the last priority stays only for trainees who have a working level of it, or have
    it in their plan to `keep` (our choice).
    """
    known = {name for name, _ in baseline.working_levels} if baseline is not None else set()
    last = last_resorts(shelf.exercises.values()) - known - set(keep)
    return replace(shelf, exercises={n: e for n, e in shelf.exercises.items() if n not in last})


class Week(Struct, frozen=True):
    """A week composed: its sessions as blocks, and what there is to say of it."""

    workouts: tuple[Workout, ...]
    sets: SetsOf
    lengths: tuple[float, ...]  # seconds of each session, by the law
    missed: float  # sets by which bands are missed, what lacks to half of one counted twice
    bound: float  # seconds that no such week goes below
    unwarmed: tuple[tuple[str, ...], ...] = ()  # by session: no time for their warm-up set
    needed: float | None = None  # seconds a session in which no band is missed, about
    needs: int = 0  # sets of that week
    apart: tuple[str, ...] = ()  # wishes that keep bands from all holding, whatever time there is


class Impossible(Struct, frozen=True):
    """Wishes that contradict each other, and do not without any one of them."""

    wishes: tuple[str, ...]
    needed: float | None  # seconds a session that would do; None where time is not the matter


def compose(
    shelf: Workout, wishes: Wishes, solve: Solver, baseline: Baseline | None = None
) -> Week | Impossible:
    """The best week that fits.

    `shelf` is a session whose exercises may all be chosen, with its warm-up and cool-down; its
    first block has the timing.
    """
    choices = choices_of(shelf, baseline)
    composer = Composer(choices, wishes, _fixed(shelf), solve)
    wrong = [0.0] * wishes.sessions
    best: Week | None = None
    for turn in range(MOST_TURNS):
        if best is not None and turn >= TURNS * (1 if best.missed < NEAR else 2):
            break
        if (found := composer.best(wrong)) is None:
            break
        week = _timed(shelf, found, baseline)
        offsets = [
            length - composer.estimate(sets)
            for length, sets in zip(week.lengths, week.sets, strict=True)
        ]
        fitted = _Fit(shelf, wishes, composer, baseline).fitted(week)
        if fitted is not None:
            best = fitted if best is None else min(best, fitted, key=_worth)
        # Where nothing fits, no more swinging to and fro.
        worse = turn >= TURNS and best is None
        wrong = [max(a, b) for a, b in zip(wrong, offsets, strict=True)] if worse else offsets
    if best is None:
        # Sums may be wrong by a minute that the law has: the shortest week is asked of it too.
        found = composer.shortest(wrong)
        short = None if found is None else _timed(shelf, found, baseline)
        if short is None or max(short.lengths) > wishes.seconds:
            needed = None if short is None else max(short.lengths)
            return Impossible(tuple(composer.conflict(wrong)), needed)
        best = _Fit(shelf, wishes, composer, baseline).fitted(short) or short
    best = _warmed(replace(best, bound=composer.bound(best.missed)), wishes.seconds, baseline)
    if best.missed < NEAR:
        return best
    strict = replace(wishes, bands={}, aims={**wishes.bands, **wishes.aims})
    whole = Composer(choices, strict, _fixed(shelf), solve).shortest(wrong)
    if whole is None:
        unhurried = replace(strict, seconds=INFINITE)
        apart = Composer(choices, unhurried, _fixed(shelf), solve).conflict(wrong)
        return replace(best, apart=tuple(apart))
    needed = max(_timed(shelf, whole, baseline).lengths)
    return replace(best, needed=needed, needs=sum(sum(sets.values()) for sets in whole.sets))


def _warmed(week: Week, seconds: float, baseline: Baseline | None) -> Week:
    """The week with its warm-up sets, as far as there is time."""
    warmed = [with_warm_up_sets(workout, seconds, baseline) for workout in week.workouts]
    workouts = tuple(workout for workout, _ in warmed)
    return replace(
        week,
        workouts=workouts,
        lengths=tuple(ordering.length_of(workout, baseline) for workout in workouts),
        unwarmed=tuple(names for _, names in warmed),
    )


class _Fit:
    """Single sets fewer or more, timed by the law, until every session fits and is full."""

    def __init__(
        self, shelf: Workout, wishes: Wishes, composer: Composer, baseline: Baseline | None
    ) -> None:
        self._shelf, self._baseline = shelf, baseline
        self._seconds, self._composer = wishes.seconds, composer

    def fitted(self, week: Week) -> Week | None:
        """The week cut down to the time, then filled up; None where it cannot be cut.

        Moves that bring bands nearer, or miss them least, come first; of equal ones the first.
        """
        while max(week.lengths) > self._seconds:
            over = week.lengths.index(max(week.lengths))
            shorter = min(self._moves(week, over, -1), key=lambda move: move[0], default=None)
            if shorter is None:
                return None
            week = self._with(week, over, shorter)
        while True:
            moves = [
                (missed, s, sets)
                for s in range(len(week.sets))
                for missed, sets in self._moves(week, s, 1)
                if missed < week.missed - NEAR
            ]
            for missed, s, sets in sorted(moves, key=lambda move: move[0]):
                longer = self._with(week, s, (missed, sets))
                if longer.lengths[s] <= self._seconds:
                    week = longer
                    break
            else:
                return week

    def _moves(self, week: Week, s: int, step: int) -> list[tuple[float, SetsOf]]:
        """Weeks with a set more or fewer in a session, and what they miss.

        Two sets where one alone puts push and pull too far apart.
        """
        found: list[tuple[float, SetsOf]] = []
        for number in (1, 2):
            for names in combinations(week.sets[s], number):
                sets = {name: n + step * (name in names) for name, n in week.sets[s].items()}
                sets = {name: n for name, n in sets.items() if n >= LEAST_SETS}
                tried = (*week.sets[:s], sets, *week.sets[s + 1 :])
                if self._composer.holds(tried):
                    found.append((self._composer.missed(tried), tried))
            if found:
                break
        return found

    def _with(self, week: Week, s: int, move: tuple[float, SetsOf]) -> Week:
        missed, sets = move
        workouts, lengths = list(week.workouts), list(week.lengths)
        workouts[s] = arranged(self._shelf, sets[s], self._baseline)
        lengths[s] = ordering.length_of(workouts[s], self._baseline)
        return replace(
            week, workouts=tuple(workouts), sets=sets, lengths=tuple(lengths), missed=missed
        )


def _worth(week: Week) -> tuple[float, float]:
    return round(week.missed, 6), sum(week.lengths)


def choices_of(shelf: Workout, baseline: Baseline | None = None) -> list[Choice]:
    """Every exercise, with what its sets are estimated to take at the level they are done at."""
    found = []
    for exercise in shelf.exercises.values():
        timed = begin_course(_straight(shelf, {exercise.id: 1}), baseline).timed(0)
        timing, work = timed.timing, timed.work
        # Of a pair of equal sets each muscle recovers through both rests and the other's work.
        least, most = timing.changeover_from, timing.changeover_to
        rest = min(max((timing.recovery - work) / 2, least), most)
        forced = max(timing.breather, timing.position)
        never_less = max(min(least, timing.block_rest), timing.position)
        block = (max(timing.block_rest, forced) - rest) / 2
        seconds, at_least = work + max(rest, forced), work + never_less
        found.append(Choice(exercise, seconds, at_least, never_less, block))
    return found


def _fixed(shelf: Workout) -> float:
    return shelf.warm_up + shelf.lead_in + shelf.cool_down


def _straight(shelf: Workout, sets: Mapping[str, int]) -> Workout:
    timing = shelf.blocks[0].timing
    blocks = tuple(Block((Item(name, number),), timing) for name, number in sets.items())
    return replace(shelf, blocks=blocks)


def arranged(shelf: Workout, sets: Mapping[str, int], baseline: Baseline | None = None) -> Workout:
    """A session of these sets in the best pairs and the shortest order.

    In a pair the better priority leads. Two that share a helper do not take turns here, nor two
    that both load the grip or the low back: what a set tires besides its muscles would not rest.
    """
    early = sorted(sets, key=lambda name: (shelf.exercises[name].priority, -sets[name]))
    straight = _straight(shelf, {name: sets[name] for name in early})
    apart = [
        pair
        for pair in possible(straight, baseline)
        if pair.kinship != "shared helper"
        and not _loaded(exercise_at(straight, pair.first))
        & _loaded(exercise_at(straight, pair.second))
    ]
    paired = alternated(straight, best_pairs(apart))
    if len(paired.blocks) > ordering.MOST_BLOCKS:
        return paired
    return ordering.reordered(paired, ordering.shortest_order(paired, baseline).blocks)


def _loaded(exercise: Exercise) -> set[str]:
    """What an exercise states that it loads: `grip loaded`, `low-back loaded`."""
    return {word for word in exercise.stress or () if word.endswith(" loaded")}


def with_warm_up_sets(
    workout: Workout, seconds: float, baseline: Baseline | None = None
) -> tuple[Workout, tuple[str, ...]]:
    """The session with a warm-up set for each loaded exercise that begins a muscle.

    And those exercises for which `seconds` leave no time: bands come before warm-up sets, for the
    warm-up of a composed session has easy repetitions of its first exercises. In a pair the
    exercise with the warm-up set comes first, or its last set would wait for a whole recovery.
    """
    lacking, trained = [], set[str]()
    loaded = {
        one.exercise for one in begin_course(workout, baseline).planned_sets if one.level.load
    }
    for number, block in enumerate(workout.blocks):
        for item in block.items:
            exercise = workout.exercises[item.exercise]
            begins = exercise.prime[0] not in trained
            if item.exercise not in loaded or exercise.pattern not in MULTI_JOINT or not begins:
                continue
            others = tuple(one for one in block.items if one is not item)
            warmed = replace(block, items=(replace(item, ramp=1), *others))
            blocks = (*workout.blocks[:number], warmed, *workout.blocks[number + 1 :])
            longer = replace(workout, blocks=blocks)
            if ordering.length_of(longer, baseline) <= seconds:
                workout = longer
            else:
                lacking.append(item.exercise)
        trained |= {
            muscle for item in block.items for muscle in workout.exercises[item.exercise].prime
        }
    return workout, tuple(lacking)


def _timed(shelf: Workout, found: Solution, baseline: Baseline | None) -> Week:
    workouts = tuple(arranged(shelf, sets, baseline) for sets in found.sets)
    lengths = tuple(ordering.length_of(workout, baseline) for workout in workouts)
    return Week(workouts, found.sets, lengths, found.missed, 0.0)
