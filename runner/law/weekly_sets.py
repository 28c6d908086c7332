"""How many sets each muscle gets, and whether that is enough: the one place for both.

A plan's summary, the week in a rehearsal, what leaving sets out costs a week, and the weeks of the
record all count here. Left and right of one set are one set; warm-up sets count for nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Final, Literal

from msgspec import Struct

from runner.law.muscles import MUSCLES
from runner.law.workout import Exercise, Item
from runner.text import how_many

# What a set counts for a prime mover and for a synergist: Pelland et al. 2025, Sports Med,
# doi 10.1007/s40279-025-02344-w.
PRIME: Final = 1.0
SYNERGIST: Final = 0.5

LITTLE: Final = 4.0  # sets a week; at least this many: Iversen et al. 2021, Sports Med 51:2079-2095
# Sets a week aimed at where a plan names none: 10 or more: Schoenfeld, Ogborn, Krieger 2017,
# J Sports Sci 35:1073-1082; up to 20: Baz-Valle et al. 2022, J Hum Kinet 81:199-210.
AIM: Final = (10.0, 20.0)
_SAME = 1e-9  # halves times a share of a week: what differs by less is equal

Judgement = Literal["little", "under", "in", "over"]


class Sets(Struct, frozen=True):
    """That many work sets of an exercise that trains these muscles."""

    prime: tuple[str, ...]
    synergists: tuple[str, ...]  # with those that one-sided work loads on both sides
    number: float


def sets_of(exercise: Exercise, item: Item) -> Iterator[Sets]:
    """The work sets of an item, each as the version counts that the plan names for it.

    A one-sided version may load muscles that a two-sided one of the same exercise does not.
    """
    for version, number in Counter(item.versions or ("",) * item.sets).items():
        one = exercise.at(version)
        yield Sets(one.prime, one.helping, number)


def sets_text(work: int, warm_up: int = 0) -> str:
    """Sets as they are counted everywhere: `35 sets and 1 warm-up set`, both sides one set."""
    text = how_many(work, "set")
    return f"{text} and {how_many(warm_up, 'warm-up set')}" if warm_up else text


def sets_by_muscle(counted: Iterable[Sets]) -> dict[str, float]:
    """Sets of each muscle that gets any, in the order of `MUSCLES`.

    A muscle named in both roles counts as a prime mover.
    """
    found: dict[str, float] = {}
    for some in counted:
        for muscle, share in _shares(some).items():
            found[muscle] = found.get(muscle, 0.0) + share * some.number
    known = {muscle: found[muscle] for muscle in MUSCLES if muscle in found}
    return known | found


def judged(sets: float, target: tuple[float, float] | None = None) -> Judgement:
    """How a week's sets of one muscle compare with the aim (from, to), both included.

    `target` is the plan's for that muscle, or None for `AIM`. Returns "in" (from <= sets <= to),
    "over" (more than `to`), "under" (less than `from`, yet 4 or more) or "little" (less than
    `from`, and less than 4). So a plan may aim lower than 4.
    """
    low, high = AIM if target is None else target
    if sets > high + _SAME:
        return "over"
    if sets >= low - _SAME:
        return "in"
    return "under" if sets >= LITTLE - _SAME else "little"


def _shares(some: Sets) -> Mapping[str, float]:
    return dict.fromkeys(some.synergists, SYNERGIST) | dict.fromkeys(some.prime, PRIME)
