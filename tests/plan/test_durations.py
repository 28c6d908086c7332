from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from runner.plan.faults import BadValueError
from runner.plan.values import duration_text, parse_duration

THOUSANDTHS = st.integers(0, 24 * 3600 * 1000).map(lambda n: n / 1000)


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ("2:00", 120),
        ("0:05", 5),
        ("10:30", 630),
        ("1:02:03", 3723),
        ("45s", 45),
        ("7.5s", 7.5),
        ("2m", 120),
        ("1m30s", 90),
        ("1m 30s", 90),
        ("1h", 3600),
        ("1h5m", 3900),
        ("1h30s", 3630),
        ("90", 90),
        (" 45s ", 45),
        ("0s", 0),
        (90, 90),
        (7.5, 7.5),
        (0, 0),
    ],
)
def test_durations_read_as_a_person_writes_them(written: object, seconds: float) -> None:
    assert parse_duration(written) == seconds


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("2:75", '"2:75" is not a duration; did you mean "3:15"?'),
        ("1:2", '"1:2" is not a duration; did you mean "1:02"?'),
        ("2 min", '"2 min" is not a duration; did you mean "2m"?'),
        ("45 seconds", '"45 seconds" is not a duration; did you mean "45s"?'),
        ("7,5s", '"7,5s" is not a duration; did you mean "7.5s"?'),
        ("soon", '"soon" is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ("", '"" is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ("-5s", '"-5s" is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ("\u0664s", '"\u0664s" is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ("30s1m", '"30s1m" is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        (-1, '-1 is negative; write it like "2:00", "45s", "1m30s" or 90'),
        (-0.5, '-0.5 is negative; write it like "2:00", "45s", "1m30s" or 90'),
        (True, 'true is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ([], 'a list is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        (float("nan"), 'nan is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        (float("inf"), 'inf is not a duration; write it like "2:00", "45s", "1m30s" or 90'),
        ("25h", '"25h" is longer than a day; write at most "24h"'),
        pytest.param(
            10**5000, 'a huge number is longer than a day; write at most "24h"', id="huge"
        ),
        pytest.param(
            -(10**5000),
            'a huge number is negative; write it like "2:00", "45s", "1m30s" or 90',
            id="huge-negative",
        ),
    ],
)
def test_what_is_no_duration_is_refused_with_what_to_write(written: object, message: str) -> None:
    with pytest.raises(BadValueError) as refused:
        parse_duration(written)
    assert str(refused.value) == message


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0s"), (45, "45s"), (60, "1:00"), (120, "2:00"), (90.5, "1m30.5s"), (3723, "1:02:03")],
)
def test_a_duration_as_text(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


@given(THOUSANDTHS)
def test_a_duration_and_its_text_are_the_same(seconds: float) -> None:
    assert parse_duration(duration_text(seconds)) == seconds


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        seconds = parse_duration(text)
    except BadValueError:
        return
    assert 0 <= seconds <= 24 * 3600
