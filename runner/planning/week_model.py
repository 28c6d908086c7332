"""A week from a shelf of exercises as a linear model: its constraints and its goals.

The variables are the sets of each exercise in each session. Every session holds a squat or lunge, a
hinge, a push, a pull and something for the trunk; where sessions fall on following days, those days
together hold them, and no muscle is a main muscle on both. Every muscle's weekly sets lie in its
band, main 1, helping 0.5. The goals, in order: bands missed, minutes, changes against a plan to
keep, even sessions, priorities. Each is settled before the next.

The model is plain data, and the function that solves it is an argument.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import combinations, pairwise

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law.muscles import PATTERN_GROUPS
from runner.law.weekly_sets import Sets, sets_by_muscle
from runner.law.workout import Exercise
from runner.text import clock

LAST = 3  # the priority of what is left out first
LEAST_SETS, MOST_SETS = 2, 4  # of an exercise in a session; our choice
MOST_EXERCISES = 16  # of a session; our choice
MOST_OF_MUSCLE = 10  # sets of a muscle in a session, main 1, helping 0.5; our choice
MOST_WORK_SETS = 40  # of a session; our choice
# Large muscles, and the share of their sets that train them as main muscles, at least; our choice.
LARGE, DIRECT = ("chest", "upper-back", "lats", "glutes", "quadriceps", "hamstrings"), 1 / 3
CLOSE = 0.8  # push against pull, the smaller at least so much of the larger; our choice
FARTHEST = 0.6  # the same where the shelf has no vertical push, or the like; our choice
NEAR = 1e-6  # two results of a solver that differ by less are equal

EVEN = 60.0  # seconds; the longest session is at most so much longer than it could be; our choice

INFINITE = float("inf")


class Column(Struct, frozen=True):
    """A variable of the model and its bounds."""

    name: str
    low: float
    high: float
    whole: bool = False  # takes whole numbers only


class Row(Struct, frozen=True):
    """low <= sum of factor x variable <= high; `wish` names what asks for it."""

    wish: str
    factors: Mapping[int, float]  # by the variable's number
    low: float
    high: float


class Model(Struct, frozen=True):
    """A linear model; what is to be as small as possible is said with each question."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


Goal = Mapping[int, float]  # factors of the variables
Solver = Callable[[Model, Goal, float, Sequence[float] | None], Sequence[float] | None]
"""Values for which the goal is smallest, or at most so much more; None where no values hold.

The last argument gives values known to hold, or None. The answer is the same every time.
"""


class Choice(Struct, frozen=True):
    """An exercise that may stand in a session."""

    exercise: Exercise
    seconds: float  # that a set of it adds to a session, with its rest, as estimated
    least: float  # that it adds at the least, by the law
    least_rest: float = 0.0  # of which is rest
    block: float = 0.0  # that the exercise adds beside, once a session, as estimated

    @property
    def shares(self) -> Mapping[str, float]:
        """What one set counts for each muscle."""
        e = self.exercise
        return sets_by_muscle([Sets(e.prime, e.helping, 1)])


class Wishes(Struct, frozen=True):
    """What a week is to be."""

    sessions: int
    seconds: float  # of each session
    bands: Mapping[str, tuple[float, float]]  # sets a week, by muscle; may be missed
    aims: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # must not be missed
    following: tuple[tuple[int, int], ...] = ()  # sessions a day apart
    keep: Sequence[Mapping[str, int]] = ()  # sets by exercise, for each session of a plan to keep


SetsOf = tuple[Mapping[str, int], ...]  # for each session, sets by exercise


class Solution(Struct, frozen=True):
    """What the model comes to."""

    sets: SetsOf
    missed: float  # sets by which bands are missed, what lacks to half of one counted twice
    seconds: float  # of all sessions, as estimated


class Composer:
    """A shelf and wishes as a model; asked again with what the estimates were wrong by."""

    def __init__(
        self, choices: Sequence[Choice], wishes: Wishes, fixed: float, solve: Solver
    ) -> None:
        """`fixed`: seconds of each session beside its exercises, warm-up and cool-down included."""
        self._choices, self._wishes, self._fixed, self._solve = choices, wishes, fixed, solve
        self._columns: list[Column] = []
        sessions = range(wishes.sessions)
        most = MOST_SETS
        self._x = {
            (e, s): self._column(f"sets {choice.exercise.id} {s}", most, whole=True)
            for e, choice in enumerate(choices)
            for s in sessions
        }
        self._y = {key: self._column("does", 1.0, whole=True) for key in self._x}
        self._missed = {muscle: self._column(f"missed {muscle}") for muscle in wishes.bands}
        self._far = {muscle: self._column(f"far {muscle}") for muscle in wishes.bands}
        self._length = [self._column("length") for _ in sessions]
        self._longest = self._column("longest")
        self._main = {
            (muscle, s): self._column("main", 1.0, whole=True)
            for s in sorted({s for pair in wishes.following for s in pair})
            for muscle in self._muscles()
        }
        self._change = {key: self._column("change") for key in self._x} if wishes.keep else {}
        self._rows = tuple(self._all_rows())

    def _column(self, name: str, high: float = INFINITE, *, whole: bool = False) -> int:
        self._columns.append(Column(name, 0.0, high, whole))
        return len(self._columns) - 1

    def _muscles(self) -> tuple[str, ...]:
        found = (muscle for choice in self._choices for muscle in choice.exercise.prime)
        return tuple(dict.fromkeys(found))

    # The rows.

    def _all_rows(self) -> Iterator[Row]:
        for key, x in self._x.items():
            y = self._y[key]
            yield Row("", {x: 1.0, y: -LEAST_SETS}, 0.0, INFINITE)
            yield Row("", {x: 1.0, y: -MOST_SETS}, -INFINITE, 0.0)
        yield from self._bands()
        for s in range(self._wishes.sessions):
            yield from self._session(s)
        yield from self._last()
        yield from self._patterns()
        yield from self._push_and_pull()
        yield from self._following()
        for s, length in enumerate(self._length):
            yield Row("", {length: 1.0, self._longest: -1.0}, -INFINITE, 0.0)
            kept = self._wishes.keep[s] if s < len(self._wishes.keep) else {}
            for e, choice in enumerate(self._choices if self._change else ()):
                was, x, d = kept.get(choice.exercise.id, 0), self._x[e, s], self._change[e, s]
                yield Row("", {d: 1.0, x: -1.0}, -was, INFINITE)
                yield Row("", {d: 1.0, x: 1.0}, was, INFINITE)

    def _bands(self) -> Iterator[Row]:
        for muscle, (low, high) in self._wishes.bands.items():
            sets, missed = self._sets_of(muscle), self._missed[muscle]
            yield Row("", {**sets, missed: 1.0}, low, INFINITE)
            yield Row("", {**sets, missed: -1.0}, -INFINITE, high)
            yield Row("", {**sets, self._far[muscle]: 1.0}, low / 2, INFINITE)
        for muscle, (low, high) in self._wishes.aims.items():
            wish = f"{low:g} to {high:g} sets of {muscle} a week"
            yield Row(wish, self._sets_of(muscle), low, high)

        for muscle in LARGE:
            main = [e for e, c in enumerate(self._choices) if muscle in c.exercise.prime]
            direct = {self._x[e, s]: 1.0 for e in main for s in range(self._wishes.sessions)}
            if direct:
                every = {x: -DIRECT * share for x, share in self._sets_of(muscle).items()}
                sets = {x: share + direct.get(x, 0.0) for x, share in every.items()}
                yield Row("", sets, 0.0, INFINITE)

    def _sets_of(self, muscle: str, sessions: Iterable[int] | None = None) -> dict[int, float]:
        within = range(self._wishes.sessions) if sessions is None else sessions
        shares = {e: c.shares[muscle] for e, c in enumerate(self._choices) if muscle in c.shares}
        return {self._x[e, s]: share for e, share in shares.items() for s in within}

    def _session(self, s: int) -> Iterator[Row]:
        muscles = dict.fromkeys(muscle for choice in self._choices for muscle in choice.shares)
        for muscle in muscles:
            wish = f"at most {MOST_OF_MUSCLE} sets of a muscle in a session"
            yield Row(wish, self._sets_of(muscle, [s]), -INFINITE, MOST_OF_MUSCLE)
        every = range(len(self._choices))
        wish = f"at most {MOST_WORK_SETS} sets and {MOST_EXERCISES} exercises in a session"
        yield Row(wish, {self._x[e, s]: 1.0 for e in every}, -INFINITE, MOST_WORK_SETS)
        yield Row(wish, {self._y[e, s]: 1.0 for e in every}, -INFINITE, MOST_EXERCISES)
        for one, other in combinations(every, 2):
            a, b = self._choices[one].exercise, self._choices[other].exercise
            if a.id in b.instead or b.id in a.instead:
                both = {self._y[one, s]: 1.0, self._y[other, s]: 1.0}
                yield Row("no exercise beside its substitute", both, -INFINITE, 1.0)

    def _last(self) -> Iterator[Row]:
        last = last_resorts(choice.exercise for choice in self._choices)
        for e, choice in enumerate(self._choices):
            if choice.exercise.id in last:
                wish = "an exercise of priority 3 in one session a week at most"
                does = {self._y[e, s]: 1.0 for s in range(self._wishes.sessions)}
                yield Row(wish, does, -INFINITE, 1.0)

    def _patterns(self) -> Iterator[Row]:
        wish = "a squat or lunge, a hinge, a push, a pull and the trunk in each session"
        for patterns in PATTERN_GROUPS.values():
            fitting = [e for e, c in enumerate(self._choices) if c.exercise.pattern in patterns]
            for run in self._runs() if fitting else ():
                does = {self._y[e, s]: 1.0 for e in fitting for s in run}
                yield Row(wish, does, 1.0, INFINITE)

    def _runs(self) -> list[list[int]]:
        """Sessions in groups: those on following days together, every other one alone."""
        runs = [[s] for s in range(self._wishes.sessions)]
        for before, after in self._wishes.following:
            one = next(run for run in runs if before in run)
            other = next(run for run in runs if after in run)
            one += other  # never itself: a week has a day without a session
            runs.remove(other)
        return runs

    def _push_and_pull(self) -> Iterator[Row]:
        """Horizontal, vertical and all of them.

        Where only one of the two kinds has both, the week may have more of one: nobody whose
        shoulder bears nothing overhead is to press forward for what they pull down.
        """
        kinds = {
            k: [self._of(f"{k}push"), self._of(f"{k}pull")]
            for k in ("horizontal ", "vertical ", "")
        }
        whole = sum(all(sides) for kind, sides in kinds.items() if kind) != 1
        for kind, sides in kinds.items():
            close = CLOSE if kind or whole else FARTHEST
            for one, other in (sides, sides[::-1]) if all(sides) else ():
                sets = dict.fromkeys(one, 1.0) | dict.fromkeys(other, -close)
                yield Row(f"push and pull within {1 - close:.0%}", sets, 0.0, INFINITE)

    def _of(self, ending: str) -> list[int]:
        fitting = [e for e, c in enumerate(self._choices) if c.exercise.pattern.endswith(ending)]
        return [self._x[e, s] for e in fitting for s in range(self._wishes.sessions)]

    def _following(self) -> Iterator[Row]:
        for (muscle, s), main in self._main.items():
            for e, choice in enumerate(self._choices):
                if muscle in choice.exercise.prime:
                    yield Row("", {main: 1.0, self._y[e, s]: -1.0}, 0.0, INFINITE)
        wish = "48 h between sessions for the same main muscle"
        for before, after in self._wishes.following:
            for muscle in self._muscles():
                both = {self._main[muscle, before]: 1.0, self._main[muscle, after]: 1.0}
                yield Row(wish, both, -INFINITE, 1.0)

    def _lengths(self, wrong: Sequence[float], *, least: bool = False) -> Iterator[Row]:
        """How long each session is, `wrong` seconds longer than the estimate says."""
        for s, length in enumerate(self._length):
            factors = {length: 1.0}
            for e, choice in enumerate(self._choices):
                factors[self._x[e, s]] = -(choice.least if least else choice.seconds)
                if not least:
                    factors[self._y[e, s]] = -choice.block
            # Before the first set stands the get-ready time in place of a rest.
            first = max((c.least_rest for c in self._choices), default=0.0) if least else 0.0
            offset = self._fixed + wrong[s] - first
            yield Row("", factors, offset, offset)
            yield Row(self._minutes, {length: 1.0}, -INFINITE, self._wishes.seconds)

        # Sessions that nothing tells apart may stand in any order: one of them is enough to try.
        # By what their sets take: by their lengths the differences in `wrong` would forbid weeks.
        for s, (one, other) in enumerate(pairwise(self._length if not self._change else ())):
            if not self._main:
                yield Row("", {one: 1.0, other: -1.0}, wrong[s] - wrong[s + 1], INFINITE)

    @property
    def _minutes(self) -> str:
        seconds = self._wishes.seconds
        return "" if seconds == INFINITE else f"{clock(seconds)} a session"

    # The questions.

    def best(self, wrong: Sequence[float]) -> Solution | None:
        """The best week in the order of the goals; None where the wishes cannot hold together.

        `wrong`: for each session, seconds by which it is longer than the estimate.
        """
        rows = [*self._rows, *self._lengths(wrong)]
        values: Sequence[float] | None = None
        for goal, gap in self._goals():
            better = self._solve(self._model(rows), goal, gap, values)
            values = values if better is None else better
            if values is None:
                return None
            reached = _total(goal, values)
            rows.append(Row("", goal, -INFINITE, reached + NEAR * max(1.0, abs(reached))))
        return None if values is None else self._solution(values)

    def _model(self, rows: Iterable[Row]) -> Model:
        return Model(tuple(self._columns), tuple(rows))

    def _goals(self) -> Iterator[tuple[Goal, float]]:
        """What is to be small, the first first, and how far from its least each may stay."""
        yield self._misses(), 0.2  # half sets, and halves of a band's: the gap hides none
        yield dict.fromkeys(self._length, 1.0), 0.0
        if self._change:
            yield dict.fromkeys(self._change.values(), 1.0), 0.9  # whole sets
        yield {self._longest: 1.0}, EVEN
        yield {x: float(self._choices[e].exercise.priority) for (e, _), x in self._x.items()}, 0.9

    def _misses(self) -> Goal:
        """Sets missed; what lacks to half of a band counts twice, so that none stays at nothing."""
        return dict.fromkeys((*self._missed.values(), *self._far.values()), 1.0)

    def _solution(self, values: Sequence[float]) -> Solution:
        sets = tuple(
            {
                choice.exercise.id: number
                for e, choice in enumerate(self._choices)
                if (number := round(values[self._x[e, s]]))
            }
            for s in range(self._wishes.sessions)
        )
        missed = _total(self._misses(), values)
        return Solution(sets, missed, sum(values[column] for column in self._length))

    def estimate(self, sets: Mapping[str, int]) -> float:
        """Seconds of a session of these sets, as estimated."""
        by_name = {choice.exercise.id: choice for choice in self._choices}
        each = (by_name[name].seconds * n + by_name[name].block for name, n in sets.items())
        return self._fixed + sum(each)

    def bound(self, missed: float) -> float:
        """Seconds that no week which misses its bands by no more sets goes below, by the law.

        Parts of sets are allowed here: that makes the bound lower and quick to find.
        """
        goal = dict.fromkeys(self._length, 1.0)
        rows = [*self._rows, *self._lengths([0.0] * len(self._length), least=True)]
        rows.append(Row("", self._misses(), -INFINITE, missed + NEAR))
        parts = tuple(replace(column, whole=False) for column in self._columns)
        values = self._solve(Model(parts, tuple(rows)), goal, 0.0, None)
        return 0.0 if values is None else _total(goal, values)

    def holds(self, sets: SetsOf) -> bool:
        """Whether sets are allowed, the time they take apart."""
        values = dict.fromkeys((*self._x.values(), *self._y.values(), *self._main.values()), 0.0)
        for (e, s), x in self._x.items():
            exercise = self._choices[e].exercise
            values[x] = float(sets[s].get(exercise.id, 0))
            values[self._y[e, s]] = float(values[x] > 0)
            for muscle in exercise.prime if values[x] else ():
                if (muscle, s) in self._main:
                    values[self._main[muscle, s]] = 1.0
        return all(
            row.low - NEAR <= _total(row.factors, values) <= row.high + NEAR
            for row in self._rows
            if row.factors.keys() <= values.keys()
        )

    def missed(self, sets: SetsOf) -> float:
        """Sets by which the bands are missed, as the model counts them."""
        total = 0.0
        for muscle, (low, high) in self._wishes.bands.items():
            number = sum(
                choice.shares.get(muscle, 0.0) * one.get(choice.exercise.id, 0)
                for choice in self._choices
                for one in sets
            )
            total += max(low - number, number - high, 0.0) + max(low / 2 - number, 0.0)
        return total

    def conflict(self, wrong: Sequence[float]) -> list[str]:
        """Wishes that cannot hold together, and can without any one of them.

        A wish that is not needed for the contradiction is dropped, one after another.
        """
        rows = [*self._rows, *self._lengths(wrong)]
        for wish in dict.fromkeys(row.wish for row in rows if row.wish):
            without = [row for row in rows if row.wish != wish]
            if self._solve(self._model(without), {}, 0.0, None) is None:
                rows = without
        return list(dict.fromkeys(row.wish for row in rows if row.wish))

    def shortest(self, wrong: Sequence[float]) -> Solution | None:
        """The week whose longest session is shortest, whatever time there is; None: no week."""
        rows = [*self._rows, *self._lengths(wrong)]
        rows = [row for row in rows if row.wish != self._minutes]
        goal, gap = {self._longest: 1.0}, EVEN
        values = self._solve(self._model(rows), goal, gap, None)
        return None if values is None else self._solution(values)


def _total(goal: Goal, values: Sequence[float] | Mapping[int, float]) -> float:
    return sum(factor * values[column] for column, factor in goal.items())


def last_resorts(exercises: Iterable[Exercise]) -> set[str]:
    """Exercises of priority 3 for whose first main muscle there is another."""
    every = list(exercises)
    usual = {one.prime[0] for one in every if one.priority < LAST}
    return {one.id for one in every if one.priority == LAST and one.prime[0] in usual}
