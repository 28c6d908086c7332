"""Which settings are in force."""

from __future__ import annotations

from hypothesis import given, strategies as st

from runner.law.workout import Timing
from runner.plan.checks import Layer, resolve, timing_faults

SECONDS = st.integers(1, 600).map(float)
LAYERS = st.lists(
    st.fixed_dictionaries(
        {},
        optional={
            "recovery": SECONDS,
            "recovery_least": SECONDS,
            "recovery_cross": SECONDS,
            "position": SECONDS,
            "breather": SECONDS,
            "side_gap": SECONDS,
            "block_rest": SECONDS,
            "changeover": st.tuples(SECONDS, SECONDS),
        },
    ),
    max_size=3,
)


def nearest(layers: list[Layer], key: str, default: object) -> object:
    return next((layer[key] for layer in reversed(layers) if key in layer), default)  # type: ignore[literal-required]


def test_the_defaults() -> None:
    assert resolve([]) == Timing(
        recovery=120,
        recovery_least=105,
        recovery_cross=90,
        changeover_from=30,
        changeover_to=45,
        block_rest=60,
        side_gap=15,
        position=5,
        breather=0,
    )


def test_a_nearer_recovery_brings_its_own_least_and_cross() -> None:
    far: Layer = {"recovery": 100, "recovery_least": 99, "recovery_cross": 98}
    timing = resolve([far, {"recovery": 80}])
    assert (timing.recovery, timing.recovery_least, timing.recovery_cross) == (80, 70, 60)


def test_unless_they_stand_beside_it() -> None:
    timing = resolve([{"recovery": 100}, {"recovery": 80, "recovery_least": 75}])
    assert (timing.recovery, timing.recovery_least, timing.recovery_cross) == (80, 75, 60)


def test_a_nearer_least_alone_leaves_the_recovery() -> None:
    timing = resolve([{"recovery": 100, "recovery_cross": 10}, {"recovery_least": 95}, {}])
    assert (timing.recovery, timing.recovery_least, timing.recovery_cross) == (100, 95, 10)


@given(LAYERS)
def test_the_nearest_value_of_each_key_is_in_force(layers: list[Layer]) -> None:
    timing = resolve(layers)
    assert timing.recovery == nearest(layers, "recovery", 120)
    assert timing.position == nearest(layers, "position", 5)
    assert timing.breather == nearest(layers, "breather", 0)
    assert timing.side_gap == nearest(layers, "side_gap", 15)
    assert timing.block_rest == nearest(layers, "block_rest", 60)
    pair = (timing.changeover_from, timing.changeover_to)
    assert pair == nearest(layers, "changeover", (30, 45))


@given(LAYERS)
def test_least_and_cross_never_come_from_beyond_the_recovery_in_force(layers: list[Layer]) -> None:
    timing = resolve(layers)
    where = [i for i, layer in enumerate(layers) if "recovery" in layer]
    near = layers[where[-1] :] if where else layers
    assert timing.recovery_least == nearest(near, "recovery_least", timing.recovery * 7 / 8)
    assert timing.recovery_cross == nearest(near, "recovery_cross", timing.recovery * 3 / 4)


@given(LAYERS)
def test_what_cannot_hold_together_is_named(layers: list[Layer]) -> None:
    timing = resolve(layers)
    named = {key for key, _ in timing_faults(timing)}
    assert ("recovery_least" in named) == (not 0 < timing.recovery_least <= timing.recovery)
    assert ("recovery_cross" in named) == (not 0 <= timing.recovery_cross <= timing.recovery)
