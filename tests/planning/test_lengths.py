"""How widely lengths of sets vary: one's own from five sets on, else a default."""

from __future__ import annotations

from math import exp, inf, log, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, strategies as st

from runner.law.course import RemainingSets
from runner.planning.forecast import begin_course
from runner.planning.simulate import (
    LATEST,
    MAD_TO_SD,
    VARIATION,
    Spread,
    UncertainLength,
    default_spread,
    spread_of,
    uncertain,
)
from tests.law.builders import exercise, part, workout

OWN = (20.0, 22.0, 25.0, 24.0, 200.0)


def test_the_constant_makes_a_mad_a_standard_deviation() -> None:
    assert pytest.approx(1 / NormalDist().inv_cdf(0.75), abs=5e-5) == MAD_TO_SD


def test_four_sets_have_the_default_and_five_their_own() -> None:
    assert spread_of(OWN[:4]) == default_spread() == spread_of(())
    own = spread_of(OWN)
    assert own.own
    # Median 24; the ratios to it have the median deviation 24 to 22.
    assert own.ratio == pytest.approx(1.4826 * log(24 / 22))


def test_one_set_cut_short_or_chatted_through_changes_little() -> None:
    steady = (20.0, 22.0, 24.0, 25.0, 26.0, 27.0)
    assert spread_of((*steady, 500.0)).ratio < 0.2
    assert spread_of((*steady, 1.0)).ratio < 0.2
    assert np.std(np.log([*steady, 500.0])) > 1


def test_the_default_is_a_coefficient_of_variation() -> None:
    """Of a lognormal length: drawn in great number, its deviation is a fifth of its mean."""
    one = UncertainLength(40.0, default_spread())
    z = np.random.default_rng(5).standard_normal(200_000)
    drawn = 40.0 * np.exp(one.spread.ratio * z)
    assert drawn.std() / drawn.mean() == pytest.approx(VARIATION, rel=0.02)
    assert one.drawn(1.0) == pytest.approx(40.0 * exp(sqrt(log(1 + VARIATION**2))))


def test_twelve_ten_nine_and_eight_repetitions_spread_as_said() -> None:
    reps = np.array([12, 10, 9, 8])
    assert reps.std(ddof=1) / reps.mean() == pytest.approx(0.18, abs=0.005)


def test_half_of_all_draws_lie_under_the_middle_and_eight_in_ten_as_said() -> None:
    one = UncertainLength(30.0, spread_of(OWN))
    tenth = NormalDist().inv_cdf(0.9)
    assert one.drawn(0.0) == 30.0
    assert one.drawn(tenth) == pytest.approx(30 * exp(1.28 * one.spread.ratio), rel=1e-3)
    assert one.drawn(-tenth) == pytest.approx(30 * exp(-1.28 * one.spread.ratio), rel=1e-3)


TENTHS = st.integers(0, 36000).map(lambda tenths: tenths / 10)  # as fine as the record has them


@given(st.lists(TENTHS, max_size=30), st.floats(-8, 8), st.floats(0.0, 3600.0))
def test_a_length_is_never_less_than_nothing(past: list[float], z: float, middle: float) -> None:
    assert 0 <= UncertainLength(middle, spread_of(past)).drawn(z) < inf


@given(st.lists(st.floats(0.5, 600.0), min_size=5, max_size=20), st.floats(0.1, 10.0))
def test_the_spread_is_a_ratio(past: list[float], factor: float) -> None:
    assert spread_of([factor * one for one in past]).ratio == pytest.approx(spread_of(past).ratio)


def test_sets_of_no_length_are_no_sets_and_old_ones_no_longer_count() -> None:
    assert not spread_of((0.0, *OWN[:4])).own
    assert spread_of((0.0, *OWN)) == spread_of(OWN)
    assert spread_of((*[1000.0] * 30, *[20.0] * LATEST)).ratio == 0.0


def test_ramp_sets_have_the_default_and_each_side_its_own() -> None:
    row = exercise("row", 30.0, sides="left first", rep_range=(20.0, 40.0))
    bouts = list(RemainingSets(begin_course(workout([part(row, 1, ramp=1)]))).bouts())
    key = ("row", "plain", "")
    found = uncertain(bouts, {(*key, "left"): OWN, (*key, "right"): (30.0,) * 5})
    usual = default_spread()
    assert found == [
        UncertainLength(20.0, usual),
        UncertainLength(20.0, usual),
        UncertainLength(30.0, spread_of(OWN)),
        UncertainLength(30.0, Spread(0.0, own=True)),
    ]


def test_another_version_or_tempo_is_another_exercise() -> None:
    press = exercise("press", 30.0)
    bouts = list(RemainingSets(begin_course(workout([part(press, 1)]))).bouts())
    for key in (("press", "other", "", "both"), ("press", "plain", "3-0-3", "both")):
        assert [one.spread for one in uncertain(bouts, {key: OWN})] == [default_spread()]
