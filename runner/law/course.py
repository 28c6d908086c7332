"""A session's progress as the timing law sees it: sets done and remaining, ledger, stations.

A `Course` is a frozen value; `begin` and `finish` return the next one. The session machine keeps
one and moves it by what really happens. `RemainingSets` walks the remaining sets in order: the
forecast asks it for one way through the session, a simulation for a thousand. It computes once
whatever does not depend on set lengths: what a set loads, its settings, the sets of its round, the
changes of stations. Both ask `timing.rest_at` for every rest, and
`tests/planning/test_remaining_sets.py` checks that they agree, bout by bout.

Times are session seconds, from 0 when the session is opened.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from math import ceil
from statistics import median
from typing import Literal, NamedTuple

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law import timing
from runner.law.timing import Bout, Ledger, Rest, TimedSet
from runner.law.workout import Exercise, Item, Level, SetKind, Setup, Side, Workout

Status = Literal["todo", "begun", "skipped", "dropped"]
LengthKey = tuple[str, str, str, Side]  # exercise, version, tempo ("" for none), side
GroupKey = tuple[str, str]  # exercise, group of sets ("" or the version that the plan names)
WorkingLevels = Mapping[GroupKey, int]  # the index in the progression at which a group is done
RECENT = 3  # this many work sets make an expected length; our choice
FIRST, LATER = "first:", "later:"  # before a group's name: the part of it with a level of its own
LATE_KEY = 5.0  # seconds that a late key takes off the end of its set; our choice


class PlannedSet(Struct, frozen=True):
    """One set of the session: where it stands, and at which version."""

    block: int  # 1, 2, …
    round: int  # 1, 2, … within the block
    exercise: str
    number: int  # 1, 2, … within exercise and session, ramp sets counted along
    kind: SetKind
    group: str  # "" or the version that the plan names for this set
    level: Level
    status: Status = "todo"
    change: float = 0.0  # seconds that its station really needed; known once begun
    swapped_for: str = ""  # the exercise that the plan has here, where it is another


class Course(Struct, frozen=True):
    """The sets in their order, and what the law must know of the past."""

    workout: Workout
    planned_sets: tuple[PlannedSet, ...]
    lengths: Mapping[LengthKey, tuple[float, ...]] = field(default_factory=dict)
    ledger: Ledger = field(default_factory=Ledger)
    before_bout: Ledger = field(default_factory=Ledger)  # before the last bout that ended
    before_set: Ledger = field(default_factory=Ledger)  # before the first side of the last set
    stations: Mapping[str, Setup] = field(default_factory=dict)  # how the last set left each
    last: int | None = None  # index of the set last begun
    side: int = 0  # which of its sides is under way or comes next; 0 between sets
    running: bool = False
    ended: float | None = None  # when the last bout ended

    @property
    def next(self) -> int | None:
        """Index of the set under way, or else of the one to come; None when none is left."""
        if self.last is not None and (self.running or self.side):
            return self.last
        return next((i for i, s in enumerate(self.planned_sets) if s.status == "todo"), None)

    def next_work(self, exercise: str) -> PlannedSet | None:
        """The first work set of an exercise that is still to come; None when none is left."""
        for planned_set in self.planned_sets:
            if (planned_set.exercise, planned_set.status, planned_set.kind) == (
                exercise,
                "todo",
                "work",
            ):
                return planned_set
        return None

    def exercise(self, index: int) -> Exercise:
        """The exercise of a planned set, in the set's version."""
        return self.exercise_of(self.planned_sets[index])

    def exercise_of(self, planned_set: PlannedSet) -> Exercise:
        """The same, for a set that need not be planned so."""
        return self.workout.exercises[planned_set.exercise].at(planned_set.level.version)

    def side_of(self, index: int) -> Side:
        """The side under way or to come, for the planned set that `next` names."""
        return self.exercise(index).side_order[self.side if index == self.last else 0]

    def expected(self, planned_set: PlannedSet, side: Side) -> float:
        """Expected seconds of one bout: the median of the last three, else by the rep range."""
        exercise = self.exercise_of(planned_set)
        if planned_set.kind == "ramp":
            return exercise.rep_range[0] * _seconds_a_count(exercise, planned_set.level)
        recent = self.lengths.get(length_key(planned_set, side))
        if recent:
            return median(recent[-RECENT:])
        return sum(exercise.rep_range) / 2 * _seconds_a_count(exercise, planned_set.level)

    def timed(self, index: int, change: float | None = None) -> TimedSet:
        """A set as the law sees it; `change` is its station's, by default the one it had."""
        planned_set = self.planned_sets[index]
        exercise = self.exercise(index)
        return TimedSet(
            planned_set.block,
            planned_set.round,
            planned_set.exercise,
            tuple(
                Bout(side, *_loads(*exercise.muscles, side), self.expected(planned_set, side))
                for side in exercise.side_order
            ),
            self.workout.blocks[planned_set.block - 1].timing[planned_set.exercise],
            planned_set.change if change is None else change,
        )

    def round_of(self, index: int) -> list[TimedSet]:
        """The sets of the same round, done or to be done; each with its change of station."""
        stations = dict(self.stations)
        return [
            self.timed(
                i, None if self.planned_sets[i].status == "begun" else self._visit(i, stations)
            )
            for i in self.members(index)
        ]

    def members(self, index: int) -> tuple[int, ...]:
        """Indices of the sets of a planned set's round, without those skipped or dropped."""
        here = self.planned_sets[index]
        return tuple(
            i
            for i, s in enumerate(self.planned_sets)
            if (s.block, s.round) == (here.block, here.round)
            and s.status not in ("skipped", "dropped")
        )

    def change(self, index: int) -> float:
        """Seconds that the station of a coming planned set needs, as it stands now."""
        return self._visit(index, dict(self.stations))

    def _visit(self, index: int, stations: dict[str, Setup]) -> float:
        """Seconds to change the set's station, which `stations` then has as the set wants it.

        A set without a measured set-up takes the station as it stands; the first that names
        one finds it ready.
        """
        planned_set = self.planned_sets[index]
        station = self.exercise(index).station
        if station is None or not planned_set.level.setup:
            return 0.0
        setup = stations.get(station)
        stations[station] = planned_set.level.setup
        if setup is None or dict(setup) == dict(planned_set.level.setup):
            return 0.0
        return self.workout.stations[station].change

    def rest(self) -> Rest:
        """The rest before what comes next, by the law, from the end of the last bout.

        Raises ValueError when nothing is left.
        """
        index = self.next
        if index is None:
            raise ValueError("no set remains")
        first = self.last is None or self.ended is None
        return timing.rest_at(
            self.timed(index, self.change(index)),
            self.side,
            None if first else self.timed(self.last or 0),
            () if first or self.side else self.round_of(index),
            self.ledger,
            before_set=self.before_set,
            now=self.ended or 0.0,
            lead_in_s=self.workout.lead_in,
        )

    def recovered(self, start: float) -> float | None:
        """Least recovery in seconds that the bout to come will have had at `start`, or None."""
        index = self.next
        if index is None:
            return None
        return self.ledger.recovered(self.timed(index).bouts[self.side], start)

    def begin(self) -> Course:
        """The coming bout has begun."""
        index = self.next
        if index is None:
            raise ValueError("no set remains")
        if self.side:
            return replace(self, running=True)
        stations = dict(self.stations)
        change = self._visit(index, stations)
        return replace(
            self,
            planned_sets=with_planned_set(self.planned_sets, index, status="begun", change=change),
            stations=stations,
            before_set=self.ledger,
            last=index,
            side=0,
            running=True,
        )

    def finish(self, end: float, length: float | None, *, whole: bool = True) -> Course:
        """The bout under way has ended at `end`; `length` counts for later expectations.

        `length` is None where it must not (given up, cut off). With `whole` False the set is
        given up: its second side does not follow.
        """
        if self.last is None or not self.running:
            raise ValueError("no set is running")
        index = self.last
        planned_set, timed = self.planned_sets[index], self.timed(index)
        bout = timed.bouts[self.side]
        lengths = self.lengths
        if length is not None and planned_set.kind == "work":
            key = length_key(planned_set, bout.side)
            lengths = {**lengths, key: (*lengths.get(key, ()), length)[-RECENT:]}
        more = whole and self.side + 1 < len(timed.bouts)
        return replace(
            self,
            lengths=lengths,
            before_bout=self.ledger,
            ledger=self.ledger.after(bout, end),
            side=self.side + 1 if more else 0,
            running=False,
            ended=end,
        )

    def bout(self, index: int, side: Side) -> Bout:
        """One bout of a planned set, as the law sees it."""
        return next(b for b in self.timed(index).bouts if b.side == side)

    def ledger_of(self, side: Side) -> Ledger:
        """The ledger that the bout under way began with."""
        first = self.last is None or self.exercise(self.last).side_order[0] == side
        return self.before_set if first else self.ledger

    def ended_earlier(self, index: int, side: Side, end: float, length: float) -> Course:
        """The last bout that ended did so at `end`, earlier than was thought."""
        planned_set = self.planned_sets[index]
        ledger = self.before_bout.after(self.bout(index, side), end)
        lengths = self.lengths
        key = length_key(planned_set, side)
        if planned_set.kind == "work" and lengths.get(key):
            lengths = {**lengths, key: (*lengths[key][:-1], length)}
        # The first side of a later set has already taken its own copy of the ledger.
        stale = self.running and self.last != index
        return replace(
            self,
            lengths=lengths,
            ledger=ledger,
            before_set=ledger if stale else self.before_set,
            ended=end,
        )


def length_key(planned_set: PlannedSet, side: Side) -> LengthKey:
    """Under what the lengths of a planned set's bouts are remembered."""
    return (planned_set.exercise, planned_set.level.version, planned_set.level.tempo or "", side)


def with_planned_set(
    planned_sets: tuple[PlannedSet, ...], index: int, **changes: object
) -> tuple[PlannedSet, ...]:
    """The planned sets with one of them changed."""
    changed = replace(planned_sets[index], **changes)
    return (*planned_sets[:index], changed, *planned_sets[index + 1 :])


def list_planned_sets(workout: Workout, working: WorkingLevels) -> tuple[PlannedSet, ...]:
    """Every set of a session in its order: block by block, and in a block round by round.

    `working` gives the working levels by exercise and group of sets.
    Without a working level a trainee starts at the first level of the first version.
    """
    planned_sets: list[PlannedSet] = []
    numbers: dict[str, int] = {}
    for number, block in enumerate(workout.blocks, 1):
        levels = {item.exercise: _item_levels(workout, item, working) for item in block.items}
        rounds = max((len(r) for r in levels.values()), default=0)
        for round_number in range(1, rounds + 1):
            for item in block.items:
                sets = levels[item.exercise]
                if round_number > len(sets):
                    continue
                kind, group, level = sets[round_number - 1]
                numbers[item.exercise] = numbers.get(item.exercise, 0) + 1
                planned_sets.append(
                    PlannedSet(
                        number,
                        round_number,
                        item.exercise,
                        numbers[item.exercise],
                        kind,
                        group,
                        level,
                    )
                )
    return tuple(planned_sets)


def _item_levels(
    workout: Workout, item: Item, working: WorkingLevels
) -> list[tuple[SetKind, str, Level]]:
    """Kind, group and level of each set of one exercise in a block, ramp sets in front."""
    exercise = workout.exercises[item.exercise]
    work: list[tuple[SetKind, str, Level]] = []
    for number, plain in enumerate(groups := item.versions or ("",) * item.sets):
        group = part_of(plain, exercise.id, working, first=plain not in groups[:number])
        work.append(("work", group, exercise.progression[working_index(exercise, group, working)]))
    first_group, first = work[0][1], work[0][2]
    lighter = ramp_level(exercise, first, working)
    ramps: list[tuple[SetKind, str, Level]] = [("ramp", first_group, lighter)] * item.ramp
    return ramps + work


def part_of(group: str, exercise: str, working: WorkingLevels, *, first: bool) -> str:
    """The group that a set counts in: its own, or a part of it with a working level of its own.

    The first set may be at another level than the later ones: at a harder one already, or at one
    that is too hard for the later ones.
    """
    part = (FIRST if first else LATER) + group
    return part if (exercise, part) in working else group


def working_index(exercise: Exercise, group: str, working: WorkingLevels) -> int:
    """Index in the progression of the working level, else of the first (of the version named).

    Where the exercise says at which level to begin, the first is that one.
    """
    index = working.get((exercise.id, group))
    if index is not None:
        return index
    begins = exercise.begins
    if begins is not None and without_part(group) in ("", begins.version):
        return find_level(exercise, begins)
    return exercise.first_level(group) if group else 0


def find_level(exercise: Exercise, level: Level) -> int:
    """Index in the progression of a level, or of the nearest of its version.

    The nearest set-up counts first, then the nearest load; of equals the first. A used level may
    be off the progression. A version that the plan no longer has counts as the first level.
    """
    if level in exercise.progression:
        return exercise.progression.index(level)
    same = [i for i, r in enumerate(exercise.progression) if r.version == level.version]
    if not same:
        return 0
    here = level_order(exercise, level) or ()

    def far(index: int) -> tuple[float, float]:
        there = level_order(exercise, exercise.progression[index]) or ()
        *setup, load = (abs(one - other) for one, other in zip(there, here, strict=True))
        return sum(setup), load

    return min(same, key=far)


def without_part(group: str) -> str:
    """The group of sets that a part of it belongs to."""
    return group.removeprefix(FIRST).removeprefix(LATER)


def level_order(exercise: Exercise, level: Level) -> tuple[float, ...] | None:
    """The key by which levels are compared, on the progression or off it; larger is harder.

    The version first, then the measured set-up and the load, each in the direction in which the
    plan's range goes. None for a version that the plan does not have.
    """
    same = [r for r in exercise.progression if r.version == level.version]
    if not same:
        return None
    first, last = same[0], same[-1]
    begin, end, here = dict(first.setup), dict(last.setup), dict(level.setup)
    pairs = [
        (_measure(begin[name]), _measure(end.get(name, "")), _measure(here.get(name, begin[name])))
        for name in begin
    ]
    pairs.append((first.load or 0.0, last.load or 0.0, level.load or 0.0))
    return (
        exercise.first_level(level.version),
        *(-value if to < start else value for start, to, value in pairs),
    )


def _measure(text: str) -> float:
    """The number that a measured value begins with; 0 where it begins with none."""
    found = re.match(r"-?[0-9]+(\.[0-9]+)?", text)
    return float(found[0]) if found else 0.0


def with_level(exercise: Exercise, level: Level) -> Exercise:
    """The exercise with a level that was used, where its range does not have it.

    So the step after it is the range's next value. What the plan's range cannot be compared
    with (no such version, a set-up by other names) leaves the exercise as it is.
    """
    same = [i for i, r in enumerate(exercise.progression) if r.version == level.version]
    alike = (
        r for r in exercise.progression if r.version == level.version and r.setup == level.setup
    )
    if not same or any(r.load == level.load for r in alike):
        return exercise
    nearest = exercise.progression[find_level(exercise, level)]
    if dict(nearest.setup).keys() != dict(level.setup).keys():
        return exercise
    order = level_order(exercise, level) or ()
    easier = [i for i in same if (level_order(exercise, exercise.progression[i]) or ()) <= order]
    index = easier[-1] + 1 if easier else same[0]
    used = replace(nearest, setup=level.setup, load=level.load)
    progression = exercise.progression
    return replace(exercise, progression=(*progression[:index], used, *progression[index:]))


def ramp_level(exercise: Exercise, work: Level, working: WorkingLevels | None = None) -> Level:
    """What a ramp set uses in front of a first work set at `work`.

    Half its load, rounded down to what can be set: the load range's own steps, carried on
    below its start; whole kilograms where the version has no range. Without a load the
    version before it, else the same.
    """
    if work.load is not None:
        load, step = Fraction(str(work.load)), Fraction(str(work.load_step or 1))
        # With a range, counted from the work load, so that the result falls on its grid.
        half = load - ceil(load / 2 / step) * step if work.load_step else load / 2 // step * step
        return replace(work, load=float(max(half, Fraction(0))))
    versions = list(dict.fromkeys(r.version for r in exercise.progression))
    number = versions.index(work.version) if work.version in versions else 0
    if number == 0:
        return work
    before = versions[number - 1]
    return exercise.progression[working_index(exercise, before, working or {})]


def station_setups(planned_sets: Iterable[PlannedSet], workout: Workout) -> dict[str, Setup]:
    """How each station has to stand before the session: the first set-up that a set names."""
    setups: dict[str, Setup] = {}
    for planned_set in planned_sets:
        station = workout.exercises[planned_set.exercise].at(planned_set.level.version).station
        if station is not None and not setups.get(station):
            setups[station] = planned_set.level.setup
    return setups


def _seconds_a_count(exercise: Exercise, level: Level) -> float:
    """Seconds for one unit of the rep range: one for a hold, the tempo's for repetitions."""
    return 1.0 if exercise.measure == "hold" else level.seconds_a_rep


@lru_cache(maxsize=1024)
def _loads(
    prime: tuple[str, ...], assist: tuple[str, ...], both_sides: tuple[str, ...], side: Side
) -> tuple[frozenset[timing.Site], frozenset[timing.Site]]:
    return timing.loads(prime, assist, both_sides, side)


# The walk over the remaining sets.

Length = Callable[[PlannedSet, Bout], float]
"""Seconds that a bout of a set lasts; the bout has the side, and what is expected of it."""


class ComingBout(NamedTuple):
    """A bout to come: the rest before it, and when it begins and ends in session seconds."""

    set_index: int  # of its set among the planned sets, from 0
    planned_set: PlannedSet  # as the set stands once it has begun
    number: int  # 0 for the first side of the set, 1 for the second
    rest: Rest
    since: float  # when that rest began
    start: float
    end: float
    timed: TimedSet  # what the law saw of the set when the rest was decided
    recovered: float | None  # least recovery of the bout's prime movers at its start


class _ComingSet(Struct, frozen=True):
    """A set to come: what does not depend on how long bouts last."""

    planned_set: PlannedSet
    first_side: int  # 1 where its first side is done
    round: tuple[int, ...]  # the sets of its round, done or to be done
    keys: tuple[LengthKey | None, ...]  # for each side: where its length counts, None for nowhere


class RemainingSets:
    """All sets still to come of a course between bouts, each to be done in its turn."""

    def __init__(self, course: Course) -> None:
        if course.running:
            raise ValueError("a bout is under way")
        self._course = course
        self._coming: dict[int, _ComingSet] = {}
        self._users: dict[LengthKey, list[int]] = {}  # sets whose expected length a key decides
        at = course
        while (index := at.next) is not None:
            side = at.side
            at = at.begin()
            planned_set, order = at.planned_sets[index], at.exercise(index).side_order
            keys = tuple(
                length_key(planned_set, s) if planned_set.kind == "work" else None for s in order
            )
            self._coming[index] = _ComingSet(planned_set, side, at.members(index), keys)
            at = replace(at, running=False, side=0)
        # At the end of that way every set has begun, and has its change of station.
        seen = {*self._coming, *(i for coming in self._coming.values() for i in coming.round)}
        seen |= set() if course.last is None else {course.last}
        self._sets = {index: at.timed(index) for index in sorted(seen)}
        for index, timed in self._sets.items():
            planned_set = at.planned_sets[index]
            for bout in timed.bouts if planned_set.kind == "work" else ():
                self._users.setdefault(length_key(planned_set, bout.side), []).append(index)

    def bouts(self) -> Iterator[tuple[PlannedSet, Bout]]:
        """The bouts to come in their order, each with what is expected of it now."""
        for index, coming in self._coming.items():
            for bout in self._sets[index].bouts[coming.first_side :]:
                yield coming.planned_set, bout

    def walk(
        self, now: float, length: Length, *, after: Ledger | None = None
    ) -> Iterator[ComingBout]:
        """The bouts to come, each as long as `length` says.

        `now` is the end of the last bout (or, before any, when the lead-in begins). `after` is
        another past than the course's own, between sets, that ended at `now`.
        """
        course = self._course
        lengths, sets = dict(course.lengths), _Sets(self._sets)
        ledger, before_set = after or course.ledger, course.before_set
        last, lead_in_s = None if course.ended is None else course.last, course.workout.lead_in
        ended = now if course.ended is None or after is not None else course.ended
        for index, coming in self._coming.items():
            for number in range(coming.first_side, len(coming.keys)):
                timed = sets[index]
                bout = timed.bouts[number]
                before_set = before_set if number else ledger
                rest = timing.rest_at(
                    timed,
                    number,
                    None if last is None else sets[last],
                    () if number else [sets[i] for i in coming.round],
                    ledger,
                    before_set=before_set,
                    now=ended,
                    lead_in_s=lead_in_s,
                )
                start = now + rest.seconds
                had = ledger.recovered(bout, start)
                ended = start + length(coming.planned_set, bout)
                yield ComingBout(
                    index, coming.planned_set, number, rest, now, start, ended, timed, had
                )
                now, ledger, last = ended, ledger.after(bout, ended), index
                key = coming.keys[number]
                if key is not None:
                    lengths[key] = (*lengths.get(key, ()), ended - start)[-RECENT:]
                    sets.learn(self._users[key], bout.side, median(lengths[key]))


class _Sets:
    """The sets as the law sees them, with lengths expected as they are known by then."""

    def __init__(self, sets: Mapping[int, TimedSet]) -> None:
        self._sets = dict(sets)
        self._learnt: dict[int, dict[Side, float]] = {}  # expected lengths not yet put in

    def learn(self, indices: list[int], side: Side, expected: float) -> None:
        """Expect this length of these sets on that side from now on."""
        for index in indices:
            self._learnt.setdefault(index, {})[side] = expected

    def __getitem__(self, index: int) -> TimedSet:
        learnt = self._learnt.pop(index, None)
        if learnt is None:
            return self._sets[index]
        was = self._sets[index]
        bouts = tuple(
            [
                Bout(b.side, b.prime, b.synergist, learnt[b.side]) if b.side in learnt else b
                for b in was.bouts
            ]
        )
        now = TimedSet(was.block, was.round, was.exercise, bouts, was.timing, was.change)
        self._sets[index] = now
        return now
