"""Plans of the winter crew of Kestrel Hut, built without a plan file. Times in seconds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from msgspec.structs import replace

from runner.law.workout import (
    Block,
    Exercise,
    Item,
    Level,
    Measure,
    Sides,
    Station,
    Timing,
    Workout,
)
from runner.planning.forecast import Step, session_steps, total

LEAD_IN = 10.0

Part = tuple[Exercise, Item, Timing]  # an exercise in a block


def timing(recovery: float = 120.0, **changes: float) -> Timing:
    """The law's defaults; a recovery of one's own brings its least and cross."""
    usual = Timing(
        recovery=recovery,
        recovery_least=recovery * 7 / 8,
        recovery_cross=recovery * 3 / 4,
        changeover_from=30.0,
        changeover_to=45.0,
        block_rest=60.0,
        side_gap=15.0,
        position=5.0,
        breather=0.0,
    )
    return replace(usual, **changes)


def exercise(
    name: str,
    seconds: float = 40.0,
    prime: Iterable[str] | None = None,
    *,
    sides: Sides = "together",
    measure: Measure = "hold",
    **changes: Any,
) -> Exercise:
    """An exercise expected to take `seconds` a side; its prime mover is its own by default."""
    usual = Exercise(
        id=name,
        name=f"{name.capitalize()} at the hut",
        short=name.upper()[:7],
        pattern="other",
        prime=(f"muscle of {name}",) if prime is None else tuple(prime),
        assist=(),
        both_sides=(),
        sides=sides,
        measure=measure,
        rep_range=(seconds, seconds) if measure == "hold" else (seconds / 2, seconds / 2),
        reserve=2,
        rep_limit=40,
        progression=(Level("plain", "plain"),),
    )
    return replace(usual, **changes)


def part(done: Exercise, sets: int = 3, law: Timing | None = None, **item: Any) -> Part:
    """So many sets of an exercise, as one part of a block."""
    return done, Item(done.id, sets, **item), law or timing()


def block(
    parts: Iterable[Part], beside: Iterable[Exercise] = (), **changes: Any
) -> tuple[Block, list[Exercise]]:
    """A block, with the exercises that it names; `beside` may come in by a swap."""
    parts = list(parts)
    here = {one.id: law for one, _, law in parts}
    others = {one.id: timing() for one in beside}
    exercises = [one for one, _, _ in parts] + list(beside)
    return Block(tuple(item for _, item, _ in parts), others | here, **changes), exercises


def workout(
    *parts_of_blocks: Iterable[Part],
    beside: Iterable[Exercise] = (),
    stations: Iterable[Station] = (),
    by_key: bool = False,
    reach: float = 0.0,
    **changes: Any,
) -> Workout:
    """A session of so many blocks, without warm-up and cool-down unless they are given."""
    beside = list(beside)
    built = [block(parts, beside, starts_by_key=by_key, reach=reach) for parts in parts_of_blocks]
    exercises = {one.id: one for _, found in built for one in found}
    everywhere = {name: timing() for name in exercises}
    blocks = tuple(replace(b, timing=everywhere | dict(b.timing)) for b, _ in built)
    usual = Workout(
        plan="Kestrel Hut",
        session="A",
        name="Morning",
        blocks=blocks,
        exercises=exercises,
        stations={one.id: one for one in stations},
        lead_in=LEAD_IN,
    )
    return replace(usual, **changes)


def pair(first: float = 40.0, second: float = 40.0, sets: int = 3, **changes: Any) -> Workout:
    """Press and row in turn."""
    parts = [part(exercise("press", first), sets), part(exercise("row", second), sets)]
    return workout(parts, **changes)


def rests(steps: Iterable[Step]) -> list[float]:
    """The rests inside a session, without the lead-in."""
    return [step.seconds for step in steps if step.kind == "rest"][1:]


def whys(steps: Iterable[Step]) -> list[str | None]:
    """What decided each rest, the lead-in among them."""
    return [step.why for step in steps if step.kind == "rest"]


def recoveries(steps: Iterable[Step], name: str, side: str = "both") -> list[float | None]:
    """What an exercise's prime movers had before each of its sets."""
    return [
        step.recovered
        for step in steps
        if step.planned_set is not None and (step.planned_set.exercise, step.side) == (name, side)
    ]


def length(session: Workout) -> float:
    """From the first set to the last, without the lead-in."""
    return total(session_steps(session)) - LEAD_IN
