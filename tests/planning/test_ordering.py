"""The shortest order of blocks, against every order gone through."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings, strategies as st

from runner.law.workout import Exercise, Level, Station, Workout
from runner.planning.ordering import MOST_BLOCKS, early_blocks, length_of, reordered, shortest_order
from tests.law.builders import exercise, part, timing, workout

MUSCLES = ("chest", "lats", "glutes", "calves")


def by_brute_force(session: Workout, *, by_priority: bool = True) -> float:
    """The shortest length of any order that is allowed."""
    early = early_blocks(session) if by_priority else frozenset()
    return min(
        length_of(reordered(session, order))
        for order in permutations(range(len(session.blocks)))
        if set(order[: len(early)]) == early
    )


@st.composite
def sessions(draw: st.DrawFn) -> Workout:
    """Blocks short and long, with muscles and stations in common."""
    bar = Station("bar", "Low bar", change=draw(st.sampled_from([0.0, 40.0, 90.0])))
    blocks = []
    for number in range(draw(st.integers(2, 5))):
        names = [f"e{number}{place}" for place in range(draw(st.integers(1, 2)))]
        blocks.append(
            [
                part(
                    drawn_exercise(draw, name),
                    draw(st.integers(1, 3)),
                    timing(draw(st.sampled_from([60.0, 120.0, 240.0])), breather=0.0),
                )
                for name in names
            ]
        )
    return workout(*blocks, stations=[bar])


def drawn_exercise(draw: st.DrawFn, name: str) -> Exercise:
    prime = draw(st.lists(st.sampled_from(MUSCLES), min_size=1, max_size=2, unique=True))
    helpers = draw(st.lists(st.sampled_from(MUSCLES), max_size=1))
    height = draw(st.sampled_from(["60 cm", "80 cm"]))
    at_bar = draw(st.booleans())
    return exercise(
        name,
        draw(st.sampled_from([10.0, 30.0, 50.0])),
        prime,
        sides=draw(st.sampled_from(["together", "left first"])),
        assist=tuple(h for h in helpers if h not in prime),
        station="bar" if at_bar else None,
        progression=(Level("plain", "plain", (("height", height),) if at_bar else ()),),
        priority=draw(st.sampled_from([1, 2, 2, 3])),
    )


@settings(max_examples=25, deadline=None)
@given(sessions())
def test_no_order_is_shorter(session: Workout) -> None:
    for by_priority in (True, False):
        found = shortest_order(session, by_priority=by_priority)
        assert sorted(found.blocks) == list(range(len(session.blocks)))
        assert found.seconds == pytest.approx(length_of(reordered(session, found.blocks)))
        assert found.seconds == pytest.approx(by_brute_force(session, by_priority=by_priority))


def test_a_muscle_s_blocks_are_drawn_apart() -> None:
    chest, more, legs = (
        exercise("press", 20, ("chest",)),
        exercise("fly", 20, ("chest",)),
        exercise("squat", 20, ("quadriceps",)),
    )
    session = workout([part(chest, 1)], [part(more, 1)], [part(legs, 1)])
    order = shortest_order(session)
    assert order.blocks == (0, 2, 1)
    # 10 lead-in, 20, rest 60, 20, rest 60 (the chest has had 140), 20; side by side it is 120.
    assert order.seconds == 190
    assert length_of(session) == 10 + 20 + 120 + 20 + 60 + 20


def test_the_plan_s_own_order_is_kept_where_none_is_shorter() -> None:
    session = workout(*([part(exercise(n, 40), 3)] for n in ("press", "row", "squat")))
    assert shortest_order(session).blocks == (0, 1, 2)


def test_priority_fixes_what_comes_early() -> None:
    chest = exercise("press", 20, ("chest",), priority=1)
    more = exercise("fly", 20, ("chest",), priority=1)
    legs = exercise("squat", 20, ("quadriceps",))
    session = workout([part(legs, 1)], [part(chest, 1)], [part(more, 1)])
    fixed, free = shortest_order(session), shortest_order(session, by_priority=False)
    assert fixed.blocks[-1] == 0
    assert free.blocks[1] == 0
    assert free.seconds < fixed.seconds


def test_more_blocks_than_can_be_looked_at() -> None:
    session = workout(*([part(exercise(f"e{i}"), 1)] for i in range(MOST_BLOCKS + 1)))
    with pytest.raises(ValueError, match="more than"):
        shortest_order(session)
