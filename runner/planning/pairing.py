"""Which exercises of a session can take turns, how well they go together, and what it saves.

Two exercises that train the same muscle never take turns, nor do two where one trains what helps
the other. Of the others antagonists come first, then exercises with nothing in common, and last
those that share a helping muscle, because it tires in both (common practice; studies of paired sets
pair press with row and curl with extension).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from runner.law.muscles import ANTAGONISTS, MUSCLES
from runner.law.workout import Block, Exercise, Item, Workout
from runner.planning import forecast
from runner.progress.adjust import Baseline

Kinship = Literal["antagonists", "unrelated", "shared helper"]
KINSHIPS: tuple[Kinship, ...] = ("antagonists", "unrelated", "shared helper")  # the best first

_AGAINST: dict[str, tuple[str, ...]] = {str(m): others for m, others in ANTAGONISTS.items()}


class Entry(Struct, frozen=True, order=True):
    """Where an exercise stands in a session: block and index in it, both from 0."""

    block: int
    index: int


class Pair(Struct, frozen=True):
    """Two entries of a session that may alternate, the earlier first."""

    first: Entry
    second: Entry
    kinship: Kinship
    saves: float  # seconds against straight sets, by the timing law; under 0 where it costs


class Clash(Struct, frozen=True):
    """Two entries that must not alternate, and the muscles that forbid it."""

    first: Entry
    second: Entry
    shared: tuple[str, ...]  # prime movers of both
    crossed: tuple[str, ...]  # prime mover of one, helper of the other


def kinship(one: Exercise, other: Exercise) -> Kinship | None:
    """How two exercises go together; None where they must not alternate."""
    if shared_primes(one, other) or crossed(one, other):
        return None
    if set(one.helping) & set(other.helping):
        return "shared helper"
    opposed = any(
        muscle in other.prime for prime in one.prime for muscle in _AGAINST.get(prime, ())
    )
    return "antagonists" if opposed else "unrelated"


def shared_primes(one: Exercise, other: Exercise) -> tuple[str, ...]:
    """Muscles that are prime movers of both."""
    return _in_order(set(one.prime) & set(other.prime))


def crossed(one: Exercise, other: Exercise) -> tuple[str, ...]:
    """Muscles that are prime movers of one and helpers of the other."""
    first, second = set(one.helping), set(other.helping)
    return _in_order(first & set(other.prime) | set(one.prime) & second)


def _in_order(muscles: set[str]) -> tuple[str, ...]:
    return tuple(muscle for muscle in MUSCLES if muscle in muscles)


def entries(workout: Workout) -> list[Entry]:
    """Every exercise of a session where it stands, in order."""
    return [Entry(b, p) for b, block in enumerate(workout.blocks) for p in range(len(block.items))]


def item_at(workout: Workout, entry: Entry) -> Item:
    """What stands at an entry."""
    return workout.blocks[entry.block].items[entry.index]


def exercise_at(workout: Workout, entry: Entry) -> Exercise:
    """The exercise at an entry."""
    return workout.exercises[item_at(workout, entry).exercise]


def possible(workout: Workout, baseline: Baseline | None = None) -> list[Pair]:
    """Every pair of a session that may alternate: the best kinship first, then what saves most."""
    workout = workout if baseline is None else baseline.with_off_range(workout)
    found = [
        Pair(one, other, kin, _saved(workout, one, other, baseline))
        for one, other in _couples(workout)
        if (kin := kinship(exercise_at(workout, one), exercise_at(workout, other))) is not None
    ]
    return sorted(found, key=lambda p: (KINSHIPS.index(p.kinship), -p.saves, p.first, p.second))


def clashes(workout: Workout) -> list[Clash]:
    """Every pair of a session that must not alternate."""
    found = []
    for one, other in _couples(workout):
        a, b = exercise_at(workout, one), exercise_at(workout, other)
        shared, cross = shared_primes(a, b), crossed(a, b)
        if shared or cross:
            found.append(Clash(one, other, shared, cross))
    return found


def _couples(workout: Workout) -> Iterable[tuple[Entry, Entry]]:
    known = entries(workout)
    return ((one, other) for i, one in enumerate(known) for other in known[i + 1 :])


def _saved(workout: Workout, one: Entry, other: Entry, baseline: Baseline | None) -> float:
    """Seconds between the two as straight sets and the two in turn, with nothing around them.

    By their work sets: a warm-up set in front stands in a round of its own either way.
    """
    bare = tuple(
        replace(block, items=tuple(replace(item, ramp=0) for item in block.items))
        for block in workout.blocks
    )
    workout = replace(workout, blocks=bare)
    straight = [_block(workout, one), _block(workout, other)]
    return _alone(workout, straight, baseline) - _alone(
        workout, [_block(workout, one, other)], baseline
    )


def _alone(workout: Workout, blocks: Sequence[Block], baseline: Baseline | None) -> float:
    only = replace(workout, blocks=tuple(blocks), warm_up=0.0, cool_down=0.0)
    return forecast.total(forecast.session_steps(only, baseline))


def _block(workout: Workout, *members: Entry) -> Block:
    """A block of these entries, with the settings of the block where the first of them stands."""
    return replace(
        workout.blocks[members[0].block],
        items=tuple(item_at(workout, entry) for entry in members),
    )


def groups(workout: Workout, pairs: Iterable[Pair]) -> list[tuple[Entry, ...]]:
    """The session's entries as pairs and alone, in the order of the first of each.

    A block of three or more is meant so, and stays whole.
    """
    partner = {pair.first: pair.second for pair in pairs}
    second = set(partner.values())
    found: list[tuple[Entry, ...]] = []
    for entry in entries(workout):
        block = workout.blocks[entry.block]
        if len(block.items) > 2:
            if entry.index == 0:
                found.append(tuple(Entry(entry.block, p) for p in range(len(block.items))))
        elif entry not in second:
            found.append((entry, partner[entry]) if entry in partner else (entry,))
    return found


def free(workout: Workout, pairs: Iterable[Pair]) -> list[Pair]:
    """The pairs for which nothing that is meant so is taken apart.

    A circuit stays whole, and an exercise stays under the settings that its block has.
    """

    def settings(entry: Entry) -> object:
        block = workout.blocks[entry.block]
        return dict(block.timing), block.starts_by_key, block.reach

    return [
        pair
        for pair in pairs
        if all(len(workout.blocks[e.block].items) <= 2 for e in (pair.first, pair.second))
        and settings(pair.first) == settings(pair.second)
    ]


def alternated(workout: Workout, pairs: Iterable[Pair]) -> Workout:
    """The session with these pairs alternating and everything else as straight sets."""
    blocks = tuple(_block(workout, *group) for group in groups(workout, pairs))
    return replace(workout, blocks=blocks)


# The best set of pairs of a session: a maximum-weight matching.
#
# As many exercises in turn as can be, for one left alone costs minutes and the better kinship of
# another pair does not make up for it (our choice); of those sets the one with most antagonists,
# then with most unrelated pairs, then the one that saves most. The weights are whole numbers, so
# that nothing is decided by rounding, and so far apart that no number of lesser things outweighs
# a greater one.
#
# It is found by going through the exercises in order, each alone or with one behind it, and
# keeping the best for each set of exercises that is free. That is exact and short. It doubles
# with every exercise, so a session of more is gone through in parts. A library of graphs has no
# such bound; networkx is a third of all that was installed, for this one call.

MOST_AT_ONCE = 20  # exercises, 0.2 s; our choice, twice as many as a long session has


def best_pairs(possible: Iterable[Pair]) -> list[Pair]:
    """Pairs of which no two have an entry in common, best in the sense above; in session order.

    Pairs that save nothing are left out. Of more than `MOST_AT_ONCE` exercises it is the best of
    each part of that many, in session order.
    """
    worth = sorted((p for p in possible if p.saves > 0), key=lambda p: (p.first, p.second))
    weights = dict(zip(worth, weighed(worth), strict=True))
    entries = sorted({entry for pair in worth for entry in (pair.first, pair.second)})
    chosen: list[Pair] = []
    for start in range(0, len(entries), MOST_AT_ONCE):
        chosen += _matching(entries[start : start + MOST_AT_ONCE], weights)
    return sorted(chosen, key=lambda pair: pair.first)


def _matching(entries: Sequence[Entry], weights: Mapping[Pair, int]) -> tuple[Pair, ...]:
    """The pairs among these entries that weigh most together."""
    number = {entry: n for n, entry in enumerate(entries)}
    partners: list[list[tuple[int, int, Pair]]] = [[] for _ in entries]
    for pair, weight in weights.items():
        if pair.first in number and pair.second in number:
            partners[number[pair.first]].append((1 << number[pair.second], weight, pair))

    @cache
    def best(free: int) -> tuple[int, tuple[Pair, ...]]:
        if not free:
            return 0, ()
        first = free & -free
        others = free ^ first
        found = best(others)
        for partner, weight, pair in partners[first.bit_length() - 1]:
            if others & partner:
                total, pairs = best(others ^ partner)
                found = max(found, (total + weight, (pair, *pairs)), key=lambda way: way[0])
        return found

    return best((1 << len(entries)) - 1)[1]


def weighed(pairs: list[Pair]) -> list[int]:
    """What each pair is worth: being one, on top of its kinship, on top of its milliseconds."""
    savings = [round(pair.saves * 1000) for pair in pairs]
    step = sum(savings) + 1  # more than all savings together
    most = len(pairs) + 1  # more than there are pairs
    return [
        step * (most ** len(KINSHIPS) + most ** _rank(pair)) + saving
        for pair, saving in zip(pairs, savings, strict=True)
    ]


def _rank(pair: Pair) -> int:
    return len(KINSHIPS) - 1 - KINSHIPS.index(pair.kinship)
