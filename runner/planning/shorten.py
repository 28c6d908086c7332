"""Which sets to leave out so that a session ends in time, and how short it can be at all.

The goals in order (our choice, after the plan's priorities):

1. Every muscle that the session trains as a prime mover keeps at least one such set.
2. Sets of pushing and pulling patterns differ by no more than before, or by one.
3. As few sets of priority 1 as possible are left out, then of priority 2, then of 3.
4. Among those: push and pull as even as possible, then the most time saved.

An exercise loses its last sets in a block; if it loses all, its warm-up sets go too. Every answer
is the timing law's, asked without those sets. Few ways are all tried. Of many, each block's are
tried alone, for blocks hardly depend on each other, and the law judges the best of their sums as a
whole; where blocks do depend, a way with fewer sets may exist.

A session's length is no sum over its sets: leaving out one of a pair may save nothing, since its
partner still needs its recovery. Up to 256 ways are all tried. Beyond, a table over blocks adds up
savings by the sets lost of each priority, push less pull, and muscles kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby, product
from math import prod
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from runner.law.course import Course, PlannedSet
from runner.law.timing import SAME
from runner.law.weekly_sets import Sets, sets_by_muscle
from runner.law.workout import Block, Exercise, Workout
from runner.planning import forecast
from runner.progress.adjust import Baseline
from runner.session.state import State

FEW = 256  # this many ways are all tried
TRIED = 6  # this many of the best sums are asked of the law, for each number of sets
NEAR_S = 60.0  # a sum that misses the time by more is not asked for
BROAD = 125  # this many ways of one block are all tried; beyond, whole rounds and single sets

Cut = tuple[int, ...]  # sets left out of each part, in the order of the parts
Alone = tuple[Course, float]
Lost = tuple[int, int, int]  # sets left out of priority 1, 2, 3


class Part(Struct, frozen=True):
    """The sets still to come of one exercise in one block."""

    block: int
    exercise: Exercise
    work: tuple[int, ...]  # indices of planned sets
    ramps: tuple[int, ...]
    begun: int  # work sets of it that have been


class LeftOut(Struct, frozen=True):
    """That many of the last sets of an exercise in a block."""

    block: int
    exercise: str
    sets: int
    of: int  # that were still to come


class Fit(Struct, frozen=True):
    """The answer: what is left out, and when all is over then; `end` and `before` in seconds.

    Where it does not fit, it is the shortest that could be found.
    """

    fits: bool
    before: float
    end: float
    left_out: tuple[LeftOut, ...] = ()
    planned_sets: tuple[int, ...] = ()  # indices of all sets left out, lighter ones among them


def fit(course: Course, at: float, until: float, *, tail: float = 0.0) -> Fit:
    """Leave out as little as possible so that `course` is over by `until`, with `tail` behind it.

    `at` is where what is still to come is counted from (see `forecast.remaining_steps`); no bout
    may be running. Session seconds.
    """
    return _Search(course, at, until, tail).found()


def fit_session(course: Course, within: float) -> Fit:
    """The same for a session of which nothing is done: all of it in that many seconds."""
    workout = course.workout
    return fit(course, workout.warm_up, within, tail=workout.cool_down)


class Addition(Struct, frozen=True):
    """One set more that there is time for, and what it brings nearer to its aim."""

    exercise: str
    sets: int  # of the exercise in its block, with this one
    muscle: str  # that it serves most
    share: float  # that the set counts for it
    seconds: float  # that the session takes then


def addition(
    workout: Workout, baseline: Baseline | None, within: float, lacking: Mapping[str, float]
) -> Addition | None:
    """The set more that serves a week best and still fits; None where none does.

    `lacking`: by muscle, sets that a week has too few. Of several the one that brings most, then
    the one that takes least.
    """
    best: tuple[float, float] = (0.0, 0.0)
    found: Addition | None = None
    for b, block in enumerate(workout.blocks):
        for i, item in enumerate(block.items):
            e = workout.exercises[item.exercise]
            shares = sets_by_muscle([Sets(e.prime, e.helping, 1)])
            brings = {m: min(share, lacking.get(m, 0.0)) for m, share in shares.items()}
            if (gain := sum(brings.values())) <= 0 or gain < best[0]:
                continue
            more = replace(item, sets=item.sets + 1, versions=item.versions + item.versions[-1:])
            items = (*block.items[:i], more, *block.items[i + 1 :])
            blocks = (*workout.blocks[:b], replace(block, items=items), *workout.blocks[b + 1 :])
            longer = replace(workout, blocks=blocks)
            length = forecast.total(forecast.session_steps(longer, baseline))
            if length <= within and (gain, -length) > best:
                best = (gain, -length)
                muscle = max(brings, key=brings.__getitem__)
                found = Addition(e.id, more.sets, muscle, shares[muscle], length)
    return found


def without(course: Course, planned_sets: Iterable[int]) -> Course:
    """The course with these sets left out."""
    out = set(planned_sets)
    return replace(
        course,
        planned_sets=tuple(
            replace(s, status="dropped") if i in out else s
            for i, s in enumerate(course.planned_sets)
        ),
    )


def shortened(workout: Workout, left_out: Iterable[LeftOut]) -> Workout:
    """A session of which nothing is done, with those sets taken out of its blocks."""
    fewer = {(one.block, one.exercise): one.sets for one in left_out}
    blocks = []
    for number, block in enumerate(workout.blocks, 1):
        kept = ((item, item.sets - fewer.get((number, item.exercise), 0)) for item in block.items)
        items = tuple(
            replace(item, sets=sets, versions=item.versions[:sets]) for item, sets in kept if sets
        )
        if items:
            blocks.append(Block(items, block.timing, block.starts_by_key, block.reach))
    return replace(workout, blocks=tuple(blocks))


def parts_of(course: Course) -> tuple[Part, ...]:
    """What may be left out, by block and exercise."""
    found: dict[tuple[int, str], list[tuple[int, PlannedSet]]] = {}
    for index, planned_set in enumerate(course.planned_sets):
        found.setdefault((planned_set.block, planned_set.exercise), []).append((index, planned_set))
    parts = []
    for (block, exercise), planned_sets in sorted(found.items(), key=lambda one: one[1][0][0]):
        todo = {kind: tuple(i for i, s in planned_sets if (s.status, s.kind) == ("todo", kind))
                for kind in ("work", "ramp")}  # fmt: skip
        begun = sum((s.status, s.kind) == ("begun", "work") for _, s in planned_sets)
        if todo["work"]:
            known = course.workout.exercises[exercise]
            parts.append(Part(block, known, todo["work"], todo["ramp"], begun))
    return tuple(parts)


def direction(exercise: Exercise) -> int:
    """1 for a pushing pattern, -1 for a pulling one, 0 for all others."""
    return {"push": 1, "pull": -1}.get(exercise.pattern.rpartition(" ")[2], 0)


class _BlockCut(Struct, frozen=True):
    """A cut of one block, or of the first few; `saves` counts each block as if alone."""

    cut: Cut
    saves: float
    lost: Lost
    uneven: int  # pushing sets less pulling ones
    kept: frozenset[str]  # muscles of which a set as prime mover is left


class _Search:
    def __init__(self, course: Course, at: float, until: float, tail: float) -> None:
        self._course, self._at, self._until, self._tail = course, at, until, tail
        self._parts = parts_of(course)
        counted = [
            s for s in course.planned_sets if s.kind == "work" and s.status in ("todo", "begun")
        ]
        exercises = [course.workout.exercises[s.exercise] for s in counted]
        self._uneven = sum(direction(e) for e in exercises)
        self._most_uneven = max(abs(self._uneven), 1)
        done = [course.workout.exercises[s.exercise] for s in counted if s.status == "begun"]
        safe = {m for e in done for m in e.prime}
        self._needed = frozenset(m for e in exercises for m in e.prime) - safe
        self._nothing: Cut = (0,) * len(self._parts)
        self._few = prod(len(p.work) + 1 for p in self._parts) <= FEW
        self._ends: dict[Cut, float] = {}

    def found(self) -> Fit:
        before = self.end(self._nothing)
        if before <= self._until + SAME or not self._parts:
            return Fit(before <= self._until + SAME, before, before)
        ways = sorted(self._ways(), key=lambda way: (way.lost, -way.saves, way.cut))
        for _, group in groupby(ways, key=lambda way: way.lost):
            cut = self._best(list(group), before)
            if cut is not None:
                return self._answer(cut, before, fits=True)
        shortest = sorted(ways, key=lambda way: -way.saves)[: FEW if self._few else TRIED]
        cut = min((way.cut for way in shortest), key=lambda c: (self.end(c), c))
        # The sums had it longer than it is: blocks can save more together than each alone.
        return self._answer(cut, before, fits=self.end(cut) <= self._until + SAME)

    def _best(self, group: list[_BlockCut], before: float) -> Cut | None:
        """The best of these that fits, all with the same numbers of sets left out."""
        if not self._few:
            group = [w for w in group if before - w.saves <= self._until + NEAR_S][:TRIED]
        fitting = [w for w in group if self.end(w.cut) <= self._until + SAME]
        best = min(fitting, key=lambda w: (abs(w.uneven), self.end(w.cut), w.cut), default=None)
        return None if best is None else best.cut

    def _answer(self, cut: Cut, before: float, *, fits: bool) -> Fit:
        left_out = tuple(
            LeftOut(part.block, part.exercise.id, number, len(part.work))
            for part, number in zip(self._parts, cut, strict=True)
            if number
        )
        return Fit(fits, before, self.end(cut), left_out, self.planned_sets(cut))

    # What a cut means

    def planned_sets(self, cut: Cut) -> tuple[int, ...]:
        """The sets that it leaves out."""
        return tuple(sorted(_cut_sets(self._parts, cut)))

    def end(self, cut: Cut) -> float:
        """When all is over, by the law."""
        if cut not in self._ends:
            course = without(self._course, self.planned_sets(cut))
            self._ends[cut] = _end(course, self._at) + self._tail
        return self._ends[cut]

    # Ways to cut

    def _ways(self) -> Iterator[_BlockCut]:
        """Cuts that keep every muscle and the balance; of many, what saves most of each kind."""
        ways: dict[object, _BlockCut] = {
            (): _BlockCut((), 0.0, (0, 0, 0), self._uneven, frozenset())
        }
        blocks = [list(parts) for _, parts in groupby(self._parts, key=lambda part: part.block)]
        for number, block in enumerate(blocks):
            later = {m for parts in blocks[number + 1 :] for p in parts for m in p.exercise.prime}
            needed = self._needed - later
            alone = self._alone(block)
            cuts = [self._way(alone, block, cut) for cut in _block_cuts(block)]
            longer: dict[object, _BlockCut] = {}
            for way, cut in product(ways.values(), cuts):
                kept = way.kept | cut.kept
                if not needed <= kept:
                    continue
                a, b = way.lost, cut.lost
                lost = (a[0] + b[0], a[1] + b[1], a[2] + b[2])
                uneven, saves = way.uneven + cut.uneven, way.saves + cut.saves
                both = way.cut + cut.cut
                kind = both if self._few else (lost, uneven, kept & later)
                old = longer.get(kind)
                if old is None or saves > old.saves + SAME:
                    longer[kind] = _BlockCut(both, saves, lost, uneven, kept)
            ways = longer
        return (way for way in ways.values() if abs(way.uneven) <= self._most_uneven)

    def _way(self, alone: Alone, block: list[Part], cut: Cut) -> _BlockCut:
        """A cut of one block; muscles that later blocks alone have count as kept by those."""
        lost, uneven, kept = [0, 0, 0], 0, set[str]()
        for part, number in zip(block, cut, strict=True):
            lost[part.exercise.priority - 1] += number
            uneven -= direction(part.exercise) * number
            if number < len(part.work):
                kept.update(part.exercise.prime)
        course, end = alone
        saves = end - _end(without(course, _cut_sets(block, cut)), self._at)
        return _BlockCut(cut, saves, (lost[0], lost[1], lost[2]), uneven, frozenset(kept))

    def _alone(self, block: list[Part]) -> Alone:
        """The session with this block alone, and when it ends."""
        others = [i for p in self._parts if p.block != block[0].block for i in (*p.work, *p.ramps)]
        course = without(self._course, others)
        return course, _end(course, self._at)


def _cut_sets(parts: Iterable[Part], cut: Cut) -> list[int]:
    out: list[int] = []
    for part, number in zip(parts, cut, strict=True):
        out += part.work[len(part.work) - number :]
        if number == len(part.work) and not part.begun:
            out += part.ramps
    return out


def _end(course: Course, at: float) -> float:
    steps = forecast.remaining_steps(course, at)
    return steps[-1].end if steps else at


def _block_cuts(block: list[Part]) -> list[Cut]:
    """The ways to cut one block."""
    counts = [len(part.work) for part in block]
    if prod(n + 1 for n in counts) <= BROAD:
        return list(product(*(range(n + 1) for n in counts)))
    cuts = {tuple(min(r, n) for n in counts) for r in range(max(counts) + 1)}
    for cut in list(cuts):
        for i, n in enumerate(counts):
            for number in range(n + 1):
                cuts.add((*cut[:i], number, *cut[i + 1 :]))
    return sorted(cuts)


# The same for a running session: when it ends by the forecast, and how to shorten it.


class Remaining(NamedTuple):
    """What is still to come, from where the law counts it on. Session seconds."""

    course: Course  # no bout is running in it
    since: float  # where its first rest begins
    shift: float = 0.0  # that rest is longer by so much than the law says: asked for, or a pause


def remaining_of(state: State, now: float) -> Remaining:
    """What remains of a session that is not over; a set under way ends as expected, or now."""
    course, row = state.course, state.running
    if row is not None and row.start is not None:
        end = max(row.start + course.expected(row.planned_set, row.side), now)
        return Remaining(course.finish(end, None), end)
    if state.phase == "ready":
        return Remaining(course, now + state.workout.warm_up)
    since, until = state.rest_from, _until(state, now)
    if since is None:  # in the warm-up
        return Remaining(course, until)
    return Remaining(course, since, until - (since + course.rest().seconds))


def _until(state: State, now: float) -> float:
    """When warm-up or rest are over, at the earliest now; as if a pause ended now."""
    until = now if state.until is None else state.until
    if state.phase != "paused" or state.paused_at is None:
        return max(until, now)
    if state.before_pause == "warm-up":  # it stands still, unlike a rest
        return until + now - state.paused_at
    return max(until, now + state.workout.lead_in)


def finish(state: State, now: float) -> float | None:
    """Session second at which everything is over by the forecast, from here on.

    None before the begin and after the end.
    """
    if state.phase in ("ready", "closed"):
        return None
    if state.phase == "wrap-up":
        return state.until
    return end_of(state, now)


def end_of(state: State, now: float) -> float:
    """The same, with the begin taken to be now."""
    remaining = remaining_of(state, now)
    steps = forecast.remaining_steps(remaining.course, remaining.since)
    end = steps[-1].end + remaining.shift if steps else max(remaining.since, now)
    return end + state.workout.cool_down


def fit_remaining(state: State, now: float, until: float) -> Fit:
    """What to leave out so that all is over by session second `until`."""
    remaining = remaining_of(state, now)
    tail = state.workout.cool_down + remaining.shift
    return fit(remaining.course, remaining.since, until, tail=tail)
