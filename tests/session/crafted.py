"""Sessions in which a second of a rule decides that drawn sessions seldom ask for (ticks)."""

from __future__ import annotations

from typing import Any

from tests.oracle.model import Act, Exercise, Session, Settings

USUAL = {"T": 96, "L": 84, "A": 72, "c1": 12, "c2": 36, "gap": 0, "block_rest": 48}


def exercise(name: str, seconds: int = 24, sets: int = 2, **other: Any) -> Exercise:
    """An exercise with a prime mover of its own; keys of the law go to its settings."""
    keys = {key: other.pop(key) for key in list(other) if key in vars(Settings)["__annotations__"]}
    own = Settings(**({"position": 0, "breather": 0} | USUAL | keys))
    order = ("both",) if other.get("sides", "together") == "together" else ("left", "right")
    given: dict[str, Any] = {
        "prime": (f"muscle of {name}",),
        "expected": dict.fromkeys(order, seconds),
        "expected_ramp": dict.fromkeys(order, seconds),
    }
    return Exercise(name, sets, own, **(given | other))


def session(*block: Exercise, **other: Any) -> Session:
    return Session((block,), lead_in=12, **other)


CRAFTED = (
    # What comes next changes 4 before the end of a block rest: the lead-in of 12 is left.
    Session(
        ((exercise("press", sets=1),), (exercise("row", sets=1),), (exercise("dip", sets=1),)),
        lead_in=12,
        acts=(Act("skip", "rest", 1, 44),),
    ),
    # Need 72: what row's breather, or press's position, holds anyway lightens the other share.
    session(exercise("press"), exercise("row", breather=48)),
    session(exercise("press", position=48), exercise("row")),
    # The press's change lightens row's share in round 2; a long press, and row is due by then.
    session(
        exercise(
            "press",
            history={"both": (24, 24, 24)},
            actual={(2, "both"): 48},
            station="bar",
            setups=("low", "high"),
        ),
        exercise("row"),
        stations={"bar": 48},
    ),
    # Need 73, of which 48 are held: a level of 25, one over c1.
    session(exercise("press", 23, c1=24), exercise("row", 23, c1=24, breather=48)),
    # level(L) is 30, one over c2: recovery decides, not the changeover.
    session(exercise("press", c2=29), exercise("row", c2=29)),
    # A ramp set in front: its expected length shapes the share of its round.
    session(exercise("press", ramp=1), exercise("row", ramp=1)),
    # The row is shorter than expected on its left: its right waits for A·L/T, after press's right.
    session(
        exercise("press", sets=1, sides="left first", gap=12, prime=("chest",), c1=24),
        exercise(
            "row",
            sets=1,
            sides="left first",
            assist=("chest",),
            history={"left": (72,), "right": (72,)},
            c1=24,
        ),
    ),
    # The left is over early: the right waits for L.
    session(exercise("row", sides="left first", actual={(2, "left"): 2})),
    # One-sided work helps on both sides: the left of the lift waits on the row's right.
    session(
        exercise("row", sets=1, sides="left first", both_sides=("back",), c2=12),
        exercise("lift", sets=1, sides="left first", prime=("back",), c2=12),
    ),
)
