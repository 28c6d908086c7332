"""Which timing settings are in force: the exercise's beat the block's, the block's the plan's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypedDict

from runner.core.workout import Timing
from runner.plan.durations import duration_text
from runner.plan.words import BadValueError


class Layer(TypedDict, total=False):
    """The settings that stand in one place of a plan, in seconds."""

    recovery: float
    recovery_least: float
    recovery_cross: float
    changeover: tuple[float, float]
    block_rest: float
    side_gap: float
    position: float
    breather: float


LEAST_SHARE = 7 / 8  # of the recovery; "about two minutes"
CROSS_SHARE = 3 / 4  # of the recovery; our choice

DEFAULTS: Layer = {
    "recovery": 120.0,  # common practice
    "changeover": (30.0, 45.0),  # common practice
    "block_rest": 60.0,  # our choice
    "side_gap": 15.0,  # our choice
    "position": 5.0,  # our choice
    "breather": 0.0,  # our choice
}


def resolve(layers: Sequence[Layer]) -> Timing:
    """The settings in force, from layers ordered from the farthest (the plan) to the nearest.

    A nearer `recovery` brings its own least and cross, unless they stand beside it. What results
    is not checked here; `timing_fault` does.
    """
    merged: Layer = {}
    for layer in (DEFAULTS, *layers):
        if "recovery" in layer:
            merged["recovery_least"] = layer["recovery"] * LEAST_SHARE
            merged["recovery_cross"] = layer["recovery"] * CROSS_SHARE
        merged = {**merged, **layer}
    return Timing(
        recovery=merged["recovery"],
        recovery_least=merged["recovery_least"],
        recovery_cross=merged["recovery_cross"],
        changeover_from=merged["changeover"][0],
        changeover_to=merged["changeover"][1],
        block_rest=merged["block_rest"],
        side_gap=merged["side_gap"],
        position=merged["position"],
        breather=merged["breather"],
    )


def timing_faults(timing: Timing) -> Iterable[tuple[str, BadValueError]]:
    """Each key whose value cannot be in force with the others: 0 < L <= T, 0 <= A <= T."""
    recovery = duration_text(timing.recovery)
    if timing.recovery <= 0:
        yield "recovery", BadValueError("a recovery of 0", "write more than 0")
        return
    if timing.recovery_least <= 0:
        yield (
            "recovery_least",
            BadValueError("a least recovery of 0", f'write more than 0, at most "{recovery}"'),
        )
    for key, value in (
        ("recovery_least", timing.recovery_least),
        ("recovery_cross", timing.recovery_cross),
    ):
        if value > timing.recovery:
            wrong = f'"{duration_text(value)}" is longer than the recovery of "{recovery}" here'
            yield key, BadValueError(wrong, f'write at most "{recovery}", or a longer recovery')
