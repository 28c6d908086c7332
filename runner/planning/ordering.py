"""The order of a session's blocks that makes it shortest, by the timing law; exact.

A block's rests depend on the past only through the ledger of muscles and the set-up of stations. So
a search over sets of done blocks is enough, and need not try every order. Of two orders of the same
blocks, one that ended no later, left no muscle later and left the stations alike is at least as
good whatever follows, for every rest of the law ends later or at the same time when what it waits
for does. A muscle that will have recovered before anything can follow does not count. So where
blocks outlast the recovery, only the last block counts; otherwise more orders are kept, up to all
of them. The search continues with the order whose session can still become shortest.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from runner.law.course import Course, PlannedSet, RemainingSets, list_planned_sets
from runner.law.timing import LONG_AGO, SAME, Ledger
from runner.law.workout import Block, Setup, Workout
from runner.planning import forecast
from runner.progress.adjust import Baseline

MOST_BLOCKS = 12  # our choice: the ways to be looked at double with every block


class Order(Struct, frozen=True):
    """Blocks in an order, by their places in the session as it stands, and the session's length."""

    blocks: tuple[int, ...]
    seconds: float


class _PartialOrder(Struct, frozen=True):
    """A way to have done some of the blocks, and what it leaves behind."""

    blocks: tuple[int, ...] = ()
    end: float = 0.0  # of the last bout, in seconds from the lead-in's begin
    last: PlannedSet | None = None
    ledger: Ledger = field(default_factory=Ledger)
    stations: Mapping[str, Setup] = field(default_factory=dict)

    def no_worse_than(self, other: _PartialOrder, recovery: float) -> bool:
        """Whether nothing can follow `other` that would not end as early after this way.

        Both have done the same blocks and left the stations alike. `recovery`: the longest that
        any set of the session can wait for a muscle, in seconds.
        """
        return self.end <= other.end + SAME and all(
            end + recovery <= other.end or end <= theirs.get(site, LONG_AGO) + SAME
            for ours, theirs in (
                (self.ledger.prime, other.ledger.prime),
                (self.ledger.synergist, other.ledger.synergist),
            )
            for site, end in ours.items()
        )


def reordered(workout: Workout, blocks: tuple[int, ...]) -> Workout:
    """The session with its blocks in that order."""
    return replace(workout, blocks=tuple(workout.blocks[i] for i in blocks))


def length_of(workout: Workout, baseline: Baseline | None = None) -> float:
    """Forecast seconds of the whole session."""
    return forecast.total(forecast.session_steps(workout, baseline))


def shortest_order(
    workout: Workout, baseline: Baseline | None = None, *, by_priority: bool = True
) -> Order:
    """The order of blocks with the shortest session; the plan's own where none is shorter.

    With `by_priority` blocks that have an exercise of priority 1 come before all that have none.
    Raises ValueError for more than `MOST_BLOCKS` blocks.
    """
    if len(workout.blocks) > MOST_BLOCKS:
        raise ValueError(f"more than {MOST_BLOCKS} blocks")
    early = early_blocks(workout) if by_priority else frozenset()
    found = _Search(workout, baseline or Baseline(), early).best()
    best = Order(found, length_of(reordered(workout, found), baseline))
    own = Order(tuple(range(len(workout.blocks))), length_of(workout, baseline))
    keeps = set(own.blocks[: len(early)]) == early
    return own if keeps and own.seconds <= best.seconds + SAME else best


def early_blocks(workout: Workout) -> frozenset[int]:
    """Places of the blocks that have an exercise of priority 1."""
    return frozenset(
        number
        for number, block in enumerate(workout.blocks)
        if any(workout.exercises[item.exercise].priority == 1 for item in block.items)
    )


class _Search:
    """Best first: the way after which a session can still become the shortest is taken up next."""

    def __init__(self, workout: Workout, baseline: Baseline, early: frozenset[int]) -> None:
        self._workout, self._baseline, self._early = workout, baseline, early
        planned_sets = list_planned_sets(baseline.with_off_range(workout), baseline.working_levels)
        self._planned_sets = [
            tuple(planned_set for planned_set in planned_sets if planned_set.block == number)
            for number in range(1, len(workout.blocks) + 1)
        ]
        self._remaining: dict[tuple[object, ...], RemainingSets] = {}
        self._least = [self._least_seconds(block) for block in range(len(workout.blocks))]
        self._recovery = max(map(_longest_recovery, workout.blocks))
        self._kept: dict[tuple[frozenset[int], object], list[_PartialOrder]] = {}

    def best(self) -> tuple[int, ...]:
        """The blocks in the shortest order."""
        everything = len(self._planned_sets)
        heap: list[tuple[float, int, tuple[int, ...], _PartialOrder]] = []
        ways = iter([_PartialOrder()])
        while True:
            for way in ways:
                if self._is_needed(way):
                    least = way.end + sum(
                        seconds for b, seconds in enumerate(self._least) if b not in way.blocks
                    )
                    heapq.heappush(heap, (round(least, 6), -len(way.blocks), way.blocks, way))
            way = heapq.heappop(heap)[-1]
            if len(way.blocks) == everything:
                return way.blocks
            ways = self._onward(way)

    def _onward(self, way: _PartialOrder) -> Iterator[_PartialOrder]:
        for block in range(len(self._planned_sets)):
            early = block in self._early or self._early <= set(way.blocks)
            if block not in way.blocks and early:
                yield self._walk(way, block)

    def _is_needed(self, way: _PartialOrder) -> bool:
        """Whether no way known makes this one needless; it is known from now on."""
        key = (frozenset(way.blocks), frozenset(way.stations.items()))
        rivals = self._kept.setdefault(key, [])
        if any(rival.no_worse_than(way, self._recovery) for rival in rivals):
            return False
        rivals.append(way)
        return True

    def _walk(self, way: _PartialOrder, block: int) -> _PartialOrder:
        """That way with one more block, as the law has it."""
        ledger, stations, last, end = way.ledger, dict(way.stations), way.last, way.end
        remaining = self._remaining_after(way, block)
        for coming in remaining.walk(end, lambda _, bout: bout.expected, after=ledger):
            last, end = coming.planned_set, coming.end
            ledger = ledger.after(coming.timed.bouts[coming.number], end)
            station = self._workout.exercises[last.exercise].at(last.level.version).station
            if station is not None and last.level.setup:
                stations[station] = last.level.setup
        return _PartialOrder((*way.blocks, block), end, last, ledger, stations)

    def _remaining_after(self, way: _PartialOrder, block: int) -> RemainingSets:
        """The block's sets after that way; kept, for only its last set and the stations count."""
        key = (block, way.blocks[-1:], frozenset(way.stations.items()))
        if key not in self._remaining:
            course = Course(
                self._workout,
                (*(() if way.last is None else (way.last,)), *self._planned_sets[block]),
                self._baseline.lengths,
                stations=way.stations,
                last=None if way.last is None else 0,
                ended=None if way.last is None else way.end,
            )
            self._remaining[key] = RemainingSets(course)
        return self._remaining[key]

    def _least_seconds(self, block: int) -> float:
        """The least that a block can add to a session, wherever it comes.

        With nothing before it, a block rests no longer than anywhere else, and the first of its
        rests is at least its block rest. Only a station that others leave differently can
        shift its rests; such a block counts with its work alone.
        """
        alone = self._walk(_PartialOrder(), block).end
        timing = self._workout.blocks[block].timing[self._planned_sets[block][0].exercise]
        if any(self._changes(planned_set) for planned_set in self._planned_sets[block]):
            course = Course(self._workout, self._planned_sets[block], self._baseline.lengths)
            return timing.block_rest + sum(
                course.timed(index).work for index in range(len(course.planned_sets))
            )
        return alone - self._workout.lead_in + max(timing.block_rest, timing.position)

    def _changes(self, planned_set: PlannedSet) -> bool:
        station = (
            self._workout.exercises[planned_set.exercise].at(planned_set.level.version).station
        )
        return station is not None and self._workout.stations[station].change > 0


def _longest_recovery(block: Block) -> float:
    """The longest that a set of the block can wait for a muscle, in seconds."""
    timings = [block.timing[item.exercise] for item in block.items]
    return max(max(timing.recovery, timing.recovery_cross) for timing in timings)
