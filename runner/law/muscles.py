"""Muscle ids that plans may name, and which muscle works against which.

The names are Terminologia Anatomica's in common English (the list from memory, not re-read).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final, Literal, get_args

Muscle = Literal[
    "chest",
    "upper-chest",
    "front-shoulder",
    "side-shoulder",
    "rear-shoulder",
    "upper-back",
    "lats",
    "biceps",
    "triceps",
    "forearms",
    "abdomen",
    "obliques",
    "low-back",
    "glutes",
    "hip-flexors",
    "quadriceps",
    "hamstrings",
    "adductors",
    "abductors",
    "calves",
    "shins",
    "neck",
]

MUSCLES: Final[tuple[Muscle, ...]] = get_args(Muscle)

# Groups and antagonists (from memory; biceps and triceps verified). The deltoid stands against
# the latissimus with its front and side parts; its rear part helps the latissimus and stands
# against the chest. Forearm flexors and extensors share one id, so that id has no antagonist;
# the obliques work against each other's sides, and the neck has one id for all of its muscles.
_OPPOSED: Final[tuple[tuple[Muscle, Muscle], ...]] = (
    ("chest", "upper-back"),
    ("chest", "rear-shoulder"),
    ("upper-chest", "upper-back"),
    ("upper-chest", "rear-shoulder"),
    ("lats", "front-shoulder"),
    ("lats", "side-shoulder"),
    ("biceps", "triceps"),
    ("abdomen", "low-back"),
    ("glutes", "hip-flexors"),
    ("quadriceps", "hamstrings"),
    ("adductors", "abductors"),
    ("calves", "shins"),
)


def _antagonists() -> dict[Muscle, tuple[Muscle, ...]]:
    found: dict[Muscle, list[Muscle]] = {muscle: [] for muscle in MUSCLES}
    for one, other in _OPPOSED:
        found[one].append(other)
        found[other].append(one)
    return {muscle: tuple(others) for muscle, others in found.items()}


ANTAGONISTS: Final[Mapping[Muscle, tuple[Muscle, ...]]] = MappingProxyType(_antagonists())
"""For every muscle id, the ids that work against it; empty for a muscle without an antagonist."""


# Patterns of movement: which of them stand for the same thing in a week, and which muscles each
# may train as main muscles. Common practice; `other` may train any.

PATTERN_GROUPS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "squat or lunge": ("squat", "lunge"),
        "hinge": ("hinge",),
        "push": ("horizontal push", "vertical push"),
        "pull": ("horizontal pull", "vertical pull"),
        "trunk": ("trunk",),
    }
)
"""What a whole-body week holds, each by one of its patterns."""

MOVERS: Final[Mapping[str, frozenset[Muscle]]] = MappingProxyType(
    {
        "horizontal push": frozenset({"chest", "upper-chest", "front-shoulder", "triceps"}),
        "vertical push": frozenset({"front-shoulder", "side-shoulder", "upper-chest", "triceps"}),
        "horizontal pull": frozenset({"upper-back", "rear-shoulder", "lats", "biceps"}),
        "vertical pull": frozenset({"lats", "upper-back", "biceps"}),
        "squat": frozenset({"quadriceps", "glutes", "adductors"}),
        "hinge": frozenset({"hamstrings", "glutes", "low-back"}),
        "lunge": frozenset({"quadriceps", "glutes", "adductors", "abductors", "hamstrings"}),
        "trunk": frozenset({"abdomen", "obliques", "low-back", "hip-flexors", "glutes"}),
        "elbow": frozenset({"biceps", "triceps", "forearms"}),
        "shoulder": frozenset({"front-shoulder", "side-shoulder", "rear-shoulder", "upper-back"}),
        "calf": frozenset({"calves", "shins"}),
        "carry": frozenset(
            {"forearms", "abdomen", "obliques", "low-back", "glutes", "upper-back", "side-shoulder"}
        ),
    }
)
"""Main muscles that a pattern may have; one of an exercise's is enough to fit."""


def fits(pattern: str, prime: Iterable[str]) -> bool:
    """Whether a pattern goes with an exercise's main muscles; an unknown pattern does."""
    known = MOVERS.get(pattern)
    muscles = set(prime) & set(MUSCLES)
    return known is None or not muscles or bool(muscles & known)
