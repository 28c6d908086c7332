"""Equivalent repetitions, and the load moved."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from runner.law.workout import Level
from runner.progress.progression import load_moved, ratio
from runner.progress.reps import counts_of, doubtful, equivalent
from tests.progress.past import PLANK, PUSH_UP, hurt, session


@pytest.mark.parametrize(
    ("reps", "reserve", "aimed", "value"),
    [
        (10, 2, 2, 10),
        (10, 4, 2, 12),
        (10, 0, 2, 8),
        (10, None, 2, 10),
        (0, None, 2, 0),
        (1, 0, 4, 0),
        (10, 9, 2, 12),  # at most two are credited
        (12, 4, 2, 14),
        (13, 4, 2, 13),  # none over 12 repetitions
        (13, 0, 2, 13),
    ],
)
def test_worked_examples(reps: float, reserve: int | None, aimed: int, value: float) -> None:
    assert equivalent(reps, reserve, aimed) == value


def test_a_session_that_aimed_at_more_is_compared_at_the_usual_reserve() -> None:
    assert equivalent(10, None, 4, usual_aim=2) == 12
    assert equivalent(10, 3, 4, usual_aim=2) == 11


@given(st.integers(0, 60), st.integers(0, 10), st.integers(0, 5))
def test_the_reserve_credits_two_at_most_and_never_takes_the_count_under_0(
    reps: int, reserve: int, aimed: int
) -> None:
    value = equivalent(reps, reserve, aimed)
    assert 0 <= value <= reps + 2
    if reps > 12:
        assert value == reps
    elif value > 0:
        assert value - reps == min(reserve - aimed, 2)
    assert equivalent(reps, aimed, aimed) == equivalent(reps, None, aimed) == reps


def test_in_sets_over_twelve_a_stated_reserve_is_worth_little() -> None:
    # Halperin et al. 2022, Sports Med 52:377-390: the guess worsens in sets longer than 12.
    assert [doubtful(reps, 3) for reps in (12, 13)] == [False, True]
    assert not doubtful(20, None)
    counts = counts_of(session(PUSH_UP, [12, 13, 14], reserves=[4, 4, 2]))
    assert [c.doubtful for c in counts] == [False, True, True]
    assert [c.value for c in counts] == [14, 13, 14]
    assert [c.text for c in counts] == ["12 (14 with reserve)", "13", "14"]


def test_of_one_sided_work_the_weaker_side_counts() -> None:
    both = session(PUSH_UP, [(12, 10), (9, 11)])
    assert [c.value for c in counts_of(both)] == [10, 9]
    half = replace(both, sets=both.sets[:3])  # the right side of the second set was never done
    assert [c.number for c in counts_of(half)] == [1]
    # By what was done the left side is the weaker one, with its reserve the right.
    one = session(PUSH_UP, [(8, 9)])
    sides = (replace(one.sets[0], reserve=4), replace(one.sets[1], reserve=2))
    (count,) = counts_of(replace(one, sets=sides))
    assert (count.plain, count.value, count.beside) == (8, 9, 9)


def test_what_does_not_count() -> None:
    done = session(PUSH_UP, [None, 10, 9])  # the first was not counted
    assert [c.number for c in counts_of(done)] == [2, 3]
    skipped = replace(done, sets=(replace(done.sets[1], status="skipped"), done.sets[2]))
    assert [c.number for c in counts_of(skipped)] == [3]
    ramp = replace(done, sets=(replace(done.sets[1], kind="ramp"), done.sets[2]))
    assert [c.number for c in counts_of(ramp)] == [3]
    assert hurt(done, 2).pain


def test_a_hold_has_no_reserve() -> None:
    assert [c.value for c in counts_of(session(PLANK, [41.5], reserves=[4]))] == [41.5]


# Push-ups at 75 kg: Ebben et al. 2011, J Strength Cond Res 25:2891-2894, by exact arithmetic.
@pytest.mark.parametrize(
    ("share", "moved"),
    [(0.41, 30.75), (0.49, 36.75), (0.55, 41.25), (0.64, 48.0), (0.70, 52.5), (0.74, 55.5)],
)
def test_push_ups_at_75_kg(share: float, moved: float) -> None:
    assert load_moved(share, 75, None) == pytest.approx(moved)
    assert load_moved(share, 75, 10) == pytest.approx(moved + 10)


@pytest.mark.parametrize(
    ("angle", "share"), [(30, 0.3744), (45, 0.5288), (60, 0.6808), (75, 0.7938)]
)
def test_a_leaning_row(angle: int, share: float) -> None:
    # Melrose & Dawes 2015, J Athl Enhanc
    assert load_moved(share, 100, None) == pytest.approx(100 * share)


# Lifted shares by leaving out what stays put: de Leva 1996, J Biomech 29:1223-1230, men.
@pytest.mark.parametrize(
    ("stays", "share"),
    [
        (2 * (0.0433 + 0.0137), 0.886),  # two-leg squat: shanks and feet
        (0.0433 + 0.0137, 0.943),  # single-leg squat, step-up
        (2 * (0.0162 + 0.0061), 0.955),  # pull-up and dip: forearms and hands
        (0.0137, 0.986),  # single-leg calf raise: the standing foot
    ],
)
def test_lifted_shares_of_the_body(stays: float, share: float) -> None:
    assert 1 - stays == pytest.approx(share, abs=0.0005)


@pytest.mark.parametrize("mass", [None, 0, -1.0])
def test_without_a_body_mass_it_is_unknown(mass: float | None) -> None:
    assert load_moved(0.64, mass, 10) is None
    assert load_moved(0.0, mass, 10) == 10
    assert load_moved(None, 75, 10) is None


def test_steps_between_versions_are_far_larger_than_ten_percent() -> None:
    # By exact arithmetic from the shares above; a load step is 2 to 10 % (ACSM 2009).
    def step(one: float, other: float) -> float | None:
        return ratio(Level("a", "a", body_share=one), Level("b", "b", body_share=other), None)

    assert step(0.64, 0.70) == pytest.approx(1.094, abs=0.0005)
    assert step(0.55, 0.64) == pytest.approx(1.164, abs=0.0005)


def test_levels_are_compared_for_one_limb() -> None:
    # Two-leg to one-leg squat, shares of de Leva 1996: +113 % a leg, not +6 %.
    two = Level("two", "both legs", body_share=0.886)
    one = Level("one", "one leg", body_share=0.943, sides="left first")
    assert ratio(two, one, None) == pytest.approx(0.943 / (0.886 / 2))
    assert ratio(two, one, None) == pytest.approx(2.13, abs=0.005)
    packed = replace(two, load=10.0)
    assert ratio(packed, one, 75) == pytest.approx(0.943 * 75 / ((0.886 * 75 + 10) / 2))


def test_a_load_beside_a_share_needs_the_mass() -> None:
    bare, packed = Level("a", "a", body_share=0.5), Level("a", "a", load=10.0, body_share=0.5)
    assert ratio(bare, packed, None) is None
    assert ratio(bare, packed, 80) == pytest.approx(50 / 40)
