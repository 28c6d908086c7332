"""The equations against published tables and what was measured; refused where they break."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from runner.progress.one_rep_max import EQUATIONS, estimate, expected_reps, maximum

NAMES = [e.name for e in EQUATIONS]
ORDER = ["Epley", "Brzycki", "Lander", "Lombardi", "Mayhew", "O'Conner", "Wathan"]

# Worked from the formulas by exact arithmetic; sources of the formulas stand in the module.
WORKED = {
    (40, 12): (56.000, 57.600, 57.766, 51.284, 54.159, 52.000, 56.598),
    (60, 8): (76.000, 74.483, 75.066, 73.869, 75.772, 72.000, 76.603),
    (20, 20): (33.333, 42.353, 41.775, 26.986, 30.236, 30.000, 32.892),
}


@pytest.mark.parametrize(("load", "reps"), WORKED)
def test_worked_examples(load: int, reps: int) -> None:
    for name, value in zip(ORDER, WORKED[load, reps], strict=True):
        if name == "Lombardi" and reps > 10:
            with pytest.raises(ValueError, match="Lombardi breaks"):
                estimate(name, load, reps)
            found = load * next(e for e in EQUATIONS if e.name == name).factor(reps)
        else:
            found = estimate(name, load, reps)
        assert found == pytest.approx(value, abs=0.001)


def test_the_range_at_eight_and_at_twelve() -> None:
    eight = maximum(60, 8)
    assert eight is not None
    assert (round(eight.low, 3), round(eight.high, 3), eight.caution) == (72.0, 76.603, False)
    assert eight.names == ("Epley", "Brzycki", "Lander", "Lombardi", "O'Conner", "Wathan")
    twelve = maximum(40, 12)
    assert twelve is not None
    assert (twelve.names, twelve.caution) == (("Wathan",), True)
    assert twelve.low == twelve.high == pytest.approx(56.598, abs=0.001)
    cautions = [found.caution for reps in (10, 10.5, 11) if (found := maximum(40, reps))]
    assert cautions == [False, True, True]
    assert [maximum(40, reps) is None for reps in (15, 16, 30)] == [False, True, True]


def test_an_equation_of_one_lift_holds_for_that_alone() -> None:
    # Fixed 225 lb (102 kg) bench test, mean 12.3 repetitions, n = 51: true mean 310.0 lb, by
    # Epley 316.3, by Brzycki 345.8. (The 320.1 given there for Mayhew is not this equation: it
    # gives 306.1 at the mean, and as it bends downwards its mean is less still.)
    assert estimate("Mayhew", 225, 12.3) == pytest.approx(306.1, abs=0.05)
    found = maximum(225, 12.3)
    assert found is not None
    assert found.names == ("Wathan",)
    assert found.low == found.high == pytest.approx(320.6, abs=0.05)
    assert estimate("Epley", 225, 12.3) == pytest.approx(316.3, abs=1.5)
    # Brzycki bends upwards, so the mean of its estimates is over the estimate of the mean.
    assert 310.0 < estimate("Brzycki", 225, 12.3) < 345.8


def test_what_was_measured_at_sixty_percent_is_outside_all_of_them() -> None:
    # Back squat at 60 % of the maximum, trained: 29.9 repetitions (J Strength Cond Res 2019,
    # 33(3)). There Epley errs by +20 %, Brzycki by +204 %, Mayhew by -0.5 %.
    errors = {n: estimate(n, 60, 29.9) / 100 - 1 for n in ("Epley", "Brzycki", "Mayhew")}
    assert errors["Epley"] == pytest.approx(0.20, abs=0.005)
    assert errors["Brzycki"] == pytest.approx(2.04, abs=0.005)
    assert errors["Mayhew"] == pytest.approx(-0.005, abs=0.0005)
    assert maximum(60, 29.9) is None


@pytest.mark.parametrize("reps", range(1, 11))
def test_the_range_holds_the_handbook_chart_within_a_few_percent(reps: int) -> None:
    # Baechle, Earle, Haff, Essentials of Strength Training and Conditioning: % of the maximum.
    chart = (100, 95, 93, 90, 87, 85, 83, 80, 77, 75)
    found = maximum(chart[reps - 1], reps)
    assert found is not None
    assert found.low - 5 < 100 < found.high + 4


@pytest.mark.parametrize(("name", "reps"), [("Brzycki", 37), ("Brzycki", 40), ("Lander", 38)])
def test_refused_where_they_break(name: str, reps: int) -> None:
    with pytest.raises(ValueError, match=f"{name} breaks at"):
        estimate(name, 20, reps)


@pytest.mark.parametrize(("load", "reps"), [(0, 5), (-4, 5), (float("nan"), 5), (40, 0), (40, -1)])
def test_nothing_comes_of_nothing(load: float, reps: float) -> None:
    with pytest.raises(ValueError, match="no maximum"):
        estimate("Epley", load, reps)
    assert maximum(load, reps) is None


def test_an_unknown_load_has_no_maximum() -> None:
    assert maximum(None, 5) is None


def test_epley_and_brzycki_cross_at_ten() -> None:
    assert estimate("Epley", 60, 10) == pytest.approx(estimate("Brzycki", 60, 10))
    assert all(estimate("Epley", 60, r) > estimate("Brzycki", 60, r) for r in range(1, 10))
    assert all(estimate("Epley", 60, r) < estimate("Brzycki", 60, r) for r in range(11, 37))


def test_only_two_return_the_load_itself_at_one_repetition() -> None:
    exact = {e.name for e in EQUATIONS if e.factor(1) == pytest.approx(1)}
    assert exact == {"Brzycki", "Lombardi"}


@given(st.sampled_from(EQUATIONS), st.floats(1, 36), st.floats(0.01, 1), st.floats(1, 200))
def test_all_rise_with_repetitions_and_are_linear_in_the_load(
    equation: object, reps: float, more: float, load: float
) -> None:
    name = equation.name  # type: ignore[attr-defined]
    if reps + more >= equation.breaks_at:  # type: ignore[attr-defined]
        return
    assert estimate(name, load, reps) < estimate(name, load, reps + more)
    assert estimate(name, 2 * load, reps) == pytest.approx(2 * estimate(name, load, reps))


@given(st.sampled_from(EQUATIONS), st.floats(1, 30))
def test_the_inverse_gives_the_repetitions_back(equation: object, reps: float) -> None:
    factor = equation.factor(reps)  # type: ignore[attr-defined]
    assert equation.reps(factor) == pytest.approx(reps, rel=1e-6)  # type: ignore[attr-defined]


@given(st.floats(0.5, 2), st.floats(1.0, 36))
def test_more_load_never_leaves_more_repetitions(ratio: float, reps: float) -> None:
    one, more = expected_reps(ratio, reps), expected_reps(ratio * 1.05, reps)
    assert one is not None
    assert more is not None
    assert one.low <= one.high
    for equation in set(one.names) & set(more.names):
        found = next(e for e in EQUATIONS if e.name == equation)
        factor = found.factor(reps)
        assert found.reps(factor / (ratio * 1.05)) <= found.reps(factor / ratio) + 1e-9


def test_epley_from_twenty_flat_push_ups() -> None:
    # Shares of Ebben et al. 2011, J Strength Cond Res 25:2891-2894; worked by exact arithmetic.
    epley = EQUATIONS[0]
    found = [
        epley.reps(epley.factor(20) * 0.64 / share)
        for share in (0.41, 0.49, 0.55, 0.64, 0.70, 0.74)
    ]
    assert found == pytest.approx([48.05, 35.31, 28.18, 20, 15.71, 13.24], abs=0.005)
    wide = expected_reps(0.70 / 0.64, 20)
    assert wide is not None
    assert wide.extrapolated
    assert wide.low < 15.71 < wide.high
    assert "Lombardi" not in wide.names  # too flat above 10


def test_inside_the_validity_it_is_no_guess() -> None:
    sure = expected_reps(1.05, 9)
    assert sure is not None
    assert not sure.extrapolated
    assert 5 < sure.low < sure.high < 9
    assert expected_reps(0, 10) is None
    assert expected_reps(1, 0) is None


def test_linear_equations_are_not_used_above_ten() -> None:
    # Reynolds, Gordon, Robergs 2006, J Strength Cond Res 20:584-592: not above 10 repetitions.
    # Their own: chest press 1.1307 x 5RM + 0.6999 kg, leg press 1.0970 x 5RM + 14.2546 kg.
    assert pytest.approx(68.542, abs=0.001) == 1.1307 * 60 + 0.6999
    assert pytest.approx(123.955, abs=0.001) == 1.0970 * 100 + 14.2546
    chest = maximum(60, 5)
    assert chest is not None
    assert chest.low <= 68.542 <= chest.high
    for reps in (11, 15):
        found = maximum(60, reps)
        assert found is not None
        assert not {"Epley", "O'Conner", "Brzycki", "Lander"} & set(found.names)
