from __future__ import annotations

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from runner.plan.faults import BadValueError
from runner.plan.values import decimal, measures, number_text, parse_measure, positions

HUNDREDTHS = st.integers(-100_000, 100_000).map(lambda n: Decimal(n) / 100)
STEPS = st.integers(1, 1000).map(lambda n: Decimal(n) / 100)


def test_a_range_goes_up_and_both_its_ends_belong_to_it() -> None:
    assert measures("120 cm", "200 cm", "20 cm") == (
        "120 cm",
        "140 cm",
        "160 cm",
        "180 cm",
        "200 cm",
    )


def test_a_range_goes_down() -> None:
    assert measures("60 cm", "30 cm", "15 cm") == ("60 cm", "45 cm", "30 cm")
    assert measures("60 cm", "30 cm", "-15 cm") == ("60 cm", "45 cm", "30 cm")


def test_a_range_of_one_position() -> None:
    assert measures(3, 3, 1) == ("3",)


def test_a_range_has_no_dust_of_binary_fractions() -> None:
    steps = positions(decimal(0.1), decimal(0.7), decimal(0.1))
    assert [float(step) for step in steps] == [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]
    assert measures("1 m", "2 m", "0.25 m") == ("1 m", "1.25 m", "1.5 m", "1.75 m", "2 m")


@given(HUNDREDTHS, STEPS, st.integers(0, 199), st.sampled_from([1, -1]))
def test_every_step_is_exact(start: Decimal, step: Decimal, count: int, sign: int) -> None:
    way = step * sign
    found = positions(start, start + count * way, step)
    assert found == tuple(start + index * way for index in range(count + 1))


@given(HUNDREDTHS, HUNDREDTHS, STEPS)
def test_a_range_reaches_its_end_or_is_refused(
    start: Decimal, stop: Decimal, step: Decimal
) -> None:
    try:
        found = positions(start, stop, step)
    except BadValueError:
        assert abs(stop - start) % step or abs(stop - start) / step >= 200
    else:
        assert (found[0], found[-1]) == (start, stop)
        assert {abs(b - a) for a, b in pairwise(found)} <= {step}


@pytest.mark.parametrize(
    ("range_", "message"),
    [
        (
            ("120 cm", "200 cm", "30 cm"),
            "by 30 from 120 does not reach 200; write 180 or 210 for to, or another step",
        ),
        (
            ("60 cm", "30 cm", "20 cm"),
            "by 20 from 60 does not reach 30; write 40 or 20 for to, or another step",
        ),
        (("1 m", "2 m", "0 m"), "by is 0; write 1 for by"),
        (("1 m", "2 m", "-1 m"), "by leads away from to; write 1 for by"),
        (
            ("1 m", "2 m", "10 cm"),
            'different units in one range: "cm", "m"; write one unit in all three',
        ),
        (("red", "2 m", "1 m"), '"red" is not a measure; write a number and a unit: "60 cm"'),
        (
            ("0", "9999", "1"),
            "the range has 10000 values; write 99.99 for by; at most 200 values",
        ),
        (("0", "1", "9999999"), "a number over a million; write smaller numbers"),
    ],
)
def test_a_range_that_cannot_be_gone_through(range_: tuple[str, str, str], message: str) -> None:
    with pytest.raises(BadValueError) as refused:
        measures(*range_)
    assert str(refused.value) == message


@pytest.mark.parametrize("value", [True, None, [], float("nan"), 10**400, "٦0 cm", ""])
def test_what_is_no_measure(value: object) -> None:
    with pytest.raises(BadValueError, match="is not a measure"):
        parse_measure(value)


def test_numbers_as_text() -> None:
    assert [number_text(Decimal(t)) for t in ("2.50", "1E+2", "0.00", "100")] == [
        "2.5",
        "100",
        "0",
        "100",
    ]
