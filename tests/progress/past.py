"""Pasts of the winter crew, made quickly: an exercise, and sessions of it day by day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from msgspec.structs import replace

from runner.law.workout import Exercise, Level
from runner.progress.history import PastSession, PastSet, Use
from runner.progress.rules import Advice, CurrentLevel, advise
from tests.law.builders import exercise

MONDAY = date(2026, 11, 2)
LEFT_RIGHT = ("left", "right")


def progression(*shares: float | None) -> tuple[Level, ...]:
    """Versions v1, v2, … with these shares of the body's mass."""
    return tuple(Level(f"v{n}", f"version {n}", body_share=s) for n, s in enumerate(shares, 1))


def loads(*kg: float, share: float | None = 0.0, **changes: Any) -> tuple[Level, ...]:
    """One version with a load range."""
    step = kg[1] - kg[0] if len(kg) > 1 else 1.0
    level = Level("rucksack", "rucksack", load_step=step, body_share=share)
    return tuple(replace(level, load=float(load), **changes) for load in kg)


# Push-ups, Ebben et al. 2011, J Strength Cond Res 25:2891-2894.
PUSH_UP = exercise(
    "push-up",
    measure="reps",
    rep_range=(8.0, 20.0),
    progression=progression(0.41, 0.49, 0.55, 0.64, 0.70, 0.74),
    instead=("press",),
)
ROW = exercise("row", measure="reps", rep_range=(8.0, 12.0), progression=loads(20, 21, 22, 23, 24))
PLANK = exercise(
    "plank", measure="hold", rep_range=(20.0, 60.0), progression=progression(None, None, None)
)


def session(
    of: Exercise,
    counts: Sequence[float | tuple[float, float] | None],
    day: int = 0,
    level: int = 0,
    reserves: Iterable[int | None] = (),
    **changes: Any,
) -> PastSession:
    """A session `day` days after the first Monday; a pair of counts is left and right."""
    given = [*reserves, *[None] * len(counts)]
    use = Use.of(of.progression[level])
    sets = []
    for number, count in enumerate(counts, 1):
        sides = (
            zip(LEFT_RIGHT, count, strict=True) if isinstance(count, tuple) else [("both", count)]
        )
        sets += [
            PastSet(number, use, value, side, reserve=given[number - 1], reserve_aimed=of.reserve)  # type: ignore[arg-type]
            for side, value in sides
        ]
    on = MONDAY + timedelta(days=day)
    usual = PastSession(f"{on:%Y%m%d}", on, of.id, tuple(sets), measure=of.measure)
    return replace(usual, **changes)


def past(
    of: Exercise,
    *sessions: Sequence[float | tuple[float, float] | None],
    level: int = 0,
    every: int = 3,
) -> list[PastSession]:
    """Sessions at one position, so many days apart."""
    return [session(of, counts, n * every, level) for n, counts in enumerate(sessions)]


def advice(
    of: Exercise, sessions: Sequence[PastSession], working: int = 0, **changes: Any
) -> Advice:
    """The advice after the last of them, at 75 kg."""
    return advise(replace(CurrentLevel(of, working, mass=75.0), **changes), sessions)


def facing(today: PastSession, *before: PastSession) -> PastSession:
    """The same with the counts to beat that the record would give it, set by set."""

    def count(done: PastSet) -> float | None:
        there = (
            s.value
            for one in reversed(before)
            for s in one.counted
            if (s.number, s.side, s.use, s.pain) == (done.number, done.side, done.use, False)
        )
        return next(there, None)

    return replace(today, sets=tuple(replace(s, to_beat=count(s)) for s in today.sets))


def hurt(done: PastSession, number: int = 1) -> PastSession:
    """The same with pain in one set."""
    sets = tuple(replace(s, pain=s.number == number) for s in done.sets)
    return replace(done, sets=sets)
