"""Sets for each muscle, counted as published."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from runner.law.muscles import MUSCLES
from runner.law.weekly_sets import Sets, judged, sets_by_muscle, sets_text


def test_six_direct_and_four_assisting_sets_are_eight() -> None:
    # Pelland et al. 2025, Sports Med, doi 10.1007/s40279-025-02344-w: 6 + 4 x 0.5 = 8.0
    sets = [Sets(("biceps",), (), 6), Sets(("lats",), ("biceps",), 4)]
    assert sets_by_muscle(sets) == {"lats": 4.0, "biceps": 8.0}


def test_a_muscle_in_both_roles_is_a_prime_mover() -> None:
    assert sets_by_muscle([Sets(("glutes",), ("glutes", "low-back"), 3)]) == {
        "low-back": 1.5,
        "glutes": 3.0,
    }


def test_sets_are_counted_in_one_way_and_warm_up_sets_apart() -> None:
    assert sets_text(35, 1) == "35 sets and 1 warm-up set"
    assert (sets_text(1, 2), sets_text(4)) == ("1 set and 2 warm-up sets", "4 sets")


def test_nothing_done_is_nothing_counted() -> None:
    assert sets_by_muscle([]) == {}


@given(
    st.lists(
        st.tuples(
            st.lists(st.sampled_from(MUSCLES), unique=True, max_size=3),
            st.lists(st.sampled_from(MUSCLES), unique=True, max_size=3),
            st.integers(1, 9),
        ),
        max_size=6,
    )
)
def test_the_whole_is_the_sum_of_its_sets_whatever_their_order(
    drawn: list[tuple[list[str], list[str], int]],
) -> None:
    sets = [Sets(tuple(prime), tuple(helpers), number) for prime, helpers, number in drawn]
    counted = sets_by_muscle(sets)
    assert counted == sets_by_muscle(reversed(sets))
    expected = sum(
        number * (len(prime) + Fraction(len(set(helpers) - set(prime)), 2))
        for prime, helpers, number in drawn
    )
    assert sum(map(Fraction, counted.values())) == expected


@pytest.mark.parametrize(
    ("sets", "word"),
    [
        # At least 4: Iversen 2021; 10 and more: Schoenfeld 2017; up to 20: Baz-Valle 2022.
        (0, "little"),
        (3.5, "little"),
        (4, "under"),
        (9.5, "under"),
        (10, "in"),
        (20, "in"),
        (20.5, "over"),
    ],
)
def test_a_week_s_sets_against_the_published_bands(sets: float, word: str) -> None:
    assert judged(sets) == word


@pytest.mark.parametrize(
    ("sets", "target", "word"),
    [
        (0, (0, 10), "in"),
        (3, (3, 10), "in"),  # the plan aims lower than 4 and is taken at its word
        (2.5, (3, 10), "little"),
        (5.5, (6, 12), "under"),
        (12, (6, 12), "in"),
        (12.5, (6, 12), "over"),
        (0.1 + 0.2, (0, 0.3), "in"),  # the dust of binary fractions judges nobody
    ],
)
def test_where_a_plan_states_a_target_that_counts(
    sets: float, target: tuple[float, float], word: str
) -> None:
    assert judged(sets, target) == word
