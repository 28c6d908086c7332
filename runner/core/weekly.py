"""How many sets each muscle gets: the one place where sets are counted for muscles.

A plan's summary, the week in a rehearsal, what leaving sets out costs a week, and the weeks of
the record all count here. Left and right of one set are one set; ramp sets count for nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from runner.core.muscles import MUSCLES

# What a set counts for a prime mover and for a synergist: Pelland et al. 2025, Sports Med,
# doi 10.1007/s40279-025-02344-w.
PRIME: Final = 1.0
SYNERGIST: Final = 0.5


@dataclass(frozen=True, slots=True)
class Sets:
    """So many work sets of an exercise that trains these muscles."""

    prime: tuple[str, ...]
    synergists: tuple[str, ...]  # with those that one-sided work loads on both sides
    number: float


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


def _shares(some: Sets) -> Mapping[str, float]:
    return dict.fromkeys(some.synergists, SYNERGIST) | dict.fromkeys(some.prime, PRIME)
