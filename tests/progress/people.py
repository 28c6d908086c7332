"""Invented trainees of Kestrel Hut: what they can do at each position, drawn with a seed.

A person has a strength for each exercise, unknown to the program, that grows by training and
fades in a break. Repetitions to failure follow one equation from it, with good and bad days, and
later sets are worse. People stop with more left than they think (Halperin et al. 2022, Sports
Med 52:377-390: 0.95 repetitions).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from random import Random

from runner.law.workout import Exercise
from runner.progress.progression import load_moved

# What the plan does not say of its exercises, and nature does: the body's share.
HIDDEN_SHARE = {"squat": 0.886, "split-squat": 0.75, "hinge": 0.55}
SLOW = 1.12  # a slow tempo is so much harder at the same load
POSITION = 1.07  # where nothing is known, each position is so much harder than the one before
HOLD_S = 4.0  # seconds of a hold for a repetition's worth


def difficulty(exercise: Exercise, index: int, mass: float) -> float:
    """How hard a position really is, in units of its own for each exercise."""
    level = exercise.progression[index]
    share = level.body_share if level.body_share is not None else HIDDEN_SHARE.get(exercise.id)
    if share is None and level.load is not None:
        share = 0.0
    slow = SLOW if level.tempo else 1.0
    known = load_moved(share, mass, level.load)
    if known:
        versions = dict.fromkeys(r.body_share for r in exercise.progression)
        return known * slow * (POSITION**index if len(versions) == 1 and share == 0.943 else 1.0)
    return 20.0 * POSITION**index * slow


@dataclass
class Person:
    """A trainee; `level` is where in each progression 14 repetitions are possible, 0 to 1."""

    name: str
    seed: int
    level: float
    gain: float  # of strength, each time that an exercise is trained
    gains_until: date | None = None
    mass: float = 75.0
    strength: dict[str, float] = field(default_factory=dict)
    keeps: dict[str, float] = field(default_factory=dict)  # of a set's repetitions, to the next

    def __post_init__(self) -> None:
        self.random = Random(self.seed)  # noqa: S311 - a story, not a secret

    def meet(self, exercises: Mapping[str, Exercise]) -> None:
        """Draw what the person can do at the beginning."""
        for name, exercise in exercises.items():
            place = self.level * (len(exercise.progression) - 1) * self.random.uniform(0.6, 1.2)
            index = min(round(place), len(exercise.progression) - 1)
            hard = difficulty(exercise, index, self.mass)
            self.strength[name] = hard * (1 + self.random.uniform(15, 19) / 30)
            self.keeps[name] = self.random.uniform(0.89, 0.96)

    def train(self, exercise: str, on: date) -> None:
        """Grow by one session of an exercise."""
        if self.gains_until is None or on <= self.gains_until:
            self.strength[exercise] *= 1 + self.gain * self.random.uniform(0.5, 1.5)

    def rest(self, days: int) -> None:
        """Fade by a break: nothing in two weeks, then a percent in five days."""
        for name in self.strength:
            self.strength[name] *= 0.99 ** max(0, (days - 14) / 5)

    def day(self) -> float:
        """How good a day it is."""
        return self.random.gauss(1.0, 0.012)

    def able(self, exercise: Exercise, index: int, nth: int, form: float) -> float:
        """Repetitions (or seconds) to failure in the nth set, from 0."""
        ratio = self.strength[exercise.id] * form / difficulty(exercise, index, self.mass)
        reps = max(30 * (ratio - 1), 0.0) * self.keeps[exercise.id] ** nth
        return reps * HOLD_S if exercise.measure == "hold" else reps

    def do(
        self,
        exercise: Exercise,
        index: int,
        nth: int,
        form: float,
        aimed: int,
        most: float | None = None,
    ) -> tuple[float, int | None]:
        """A set, ended at `most`: what was done, and the reserve named for it, if one is."""
        able = self.able(exercise, index, nth, form)
        most = most or float("inf")
        if exercise.measure == "hold":
            held = min(max(able * 0.85 + self.random.gauss(0, 1.5), 0.0), most)
            return round(held, 1), None
        left = max(aimed + self.random.gauss(0.95, 0.7), 0.0)
        done = min(max(int(able - left), 0), int(min(most, 999)))
        named = min(max(round(able - done - 0.95 + self.random.gauss(0, 0.5)), 0), 10)
        says = done == most or self.random.random() < 0.5
        return float(done), named if says else None
