"""Days of a week, against a calendar walked day by day through every choice."""

from __future__ import annotations

from itertools import combinations
from math import lcm

import pytest
from hypothesis import given, strategies as st

from runner.progress.weekdays import following, sessions_a_week, suggest


def walked(prime: list[frozenset[str]], days: tuple[int, ...]) -> tuple[int, list[tuple[str, int]]]:
    """Hours under 48 in one run of the sequence, and where: (muscle, hours), day by day."""
    period = lcm(len(prime), len(days)) // len(days) * 7
    turn, last = 0, dict[str, int]()
    short: list[tuple[str, int]] = []
    for day in range(2 * period):
        if day % 7 not in days:
            continue
        for muscle in sorted(prime[turn % len(prime)]):
            if muscle in last and period <= day:  # the first run only warms up the calendar
                hours = 24 * (day - last[muscle])
                if hours < 48:
                    short.append((muscle, hours))
            last[muscle] = day
        turn += 1
    return sum(48 - hours for _, hours in short), sorted(short)


def uneven(days: tuple[int, ...]) -> int:
    gaps = [(days[(i + 1) % len(days)] - d - 1) % 7 + 1 for i, d in enumerate(days)]
    return sum(gap * gap for gap in gaps)


@given(
    st.lists(
        st.frozensets(st.sampled_from(["chest", "lats", "glutes", "calves"]), min_size=1),
        min_size=1,
        max_size=4,
    ),
    st.integers(1, 7),
)
def test_no_choice_of_days_is_better(prime: list[frozenset[str]], number: int) -> None:
    found = suggest(prime, number)
    best = min(
        (walked(prime, days)[0], uneven(days), days) for days in combinations(range(7), number)
    )
    assert found.days == best[2]
    assert sorted((short.muscle, short.hours) for short in found.short) == walked(prime, best[2])[1]
    assert [v.session for v in found.visits] == [i % len(prime) for i in range(len(found.visits))]
    assert len(found.visits) == lcm(len(prime), number) == found.weeks * number


def test_three_whole_body_sessions_leave_two_days_each() -> None:
    found = suggest([frozenset({"chest", "glutes"})] * 3, 3)
    assert found.days == (0, 2, 4)
    assert found.short == ()


def test_four_sessions_meet_where_they_share_least() -> None:
    # Seven days cannot hold four gaps of two: upper and lower body take the neighbouring days.
    upper, lower, whole = (
        frozenset({"chest"}),
        frozenset({"glutes"}),
        frozenset({"chest", "glutes"}),
    )
    found = suggest([whole, upper, lower, whole], 4)
    assert found.days == (0, 2, 3, 5)
    assert found.short == ()


def test_every_day_s_training_is_short_for_every_muscle() -> None:
    found = suggest([frozenset({"chest"})], 7)
    assert [(s.muscle, s.hours) for s in found.short] == [("chest", 24)] * 7


def test_more_sessions_than_days_get_no_days() -> None:
    assert suggest([frozenset({"chest"})], 8).days == ()
    assert suggest([], 3).days == ()


@pytest.mark.parametrize(
    ("planned", "aim", "counted"),
    [
        (3, None, 3),
        (3, (3, 4), 3),
        (3, (3, 3), 3),
        (2, (3, 4), 3),
        (5, (3, 4), 4),
        (1, (2, 3), 2),
        (3, (0, 0), 1),
    ],
)
def test_sessions_counted_for_a_week(
    planned: int, aim: tuple[int, int] | None, counted: int
) -> None:
    assert sessions_a_week(planned, aim) == counted


def test_days_that_the_plan_names_are_taken_as_they_are() -> None:
    whole = [frozenset({"chest"})] * 2
    found = suggest(whole, 2, [3, 2])
    assert (found.days, found.given) == ((2, 3), True)  # Wednesday and Thursday
    assert [(s.muscle, s.hours) for s in found.short] == [("chest", 24)]
    assert walked(whole, (2, 3)) == (24, [("chest", 24)])
    assert not suggest(whole, 2).given


@given(st.integers(1, 5))
def test_the_most_even_days_follow_each_other_where_a_week_leaves_no_choice(number: int) -> None:
    best = min(combinations(range(7), number), key=uneven)
    pairs = [(n, (n + 1) % number) for n in range(number)]
    apart = [(best[other] - best[one]) % 7 for one, other in pairs]
    assert list(following(number)) == [
        pair for pair, days in zip(pairs, apart, strict=True) if days == 1
    ]


def test_sessions_on_following_days() -> None:
    assert following(3) == ()
    assert following(3, [4, 0, 5]) == ((1, 2),)  # Monday, Friday, Saturday
    assert following(3, [0, 1, 6]) == ((0, 1), (2, 0))  # over the end of the week too
    assert following(1, [3]) == ()
