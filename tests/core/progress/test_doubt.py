"""A reserve stated in a set over 12 is worth little (Halperin 2022): said where it decides."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from tests.core.builders import exercise
from tests.core.progress.past import PUSH_UP, advice, ladder, past, session

TOP = (20, 18, 16)


def test_a_doubtful_reserve_is_named_where_it_decides() -> None:
    days = [session(PUSH_UP, (18, 17, 16), d, reserves=[5, 5, 5]) for d in (0, 3)]
    assert "Halperin" in advice(PUSH_UP, days).reason
    assert "Halperin" not in advice(PUSH_UP, past(PUSH_UP, TOP, TOP)).reason
    low = exercise("low", measure="reps", band=(6.0, 12.0), ladder=ladder(0.4, 0.5))
    days = [session(low, (11, 10, 10), d, reserves=[4, 4, 4]) for d in (0, 3)]
    assert advice(low, days).rule == "harder"
    assert "Halperin" not in advice(low, days).reason


HIGH = replace(PUSH_UP, band=(15.0, 30.0))


@pytest.mark.parametrize(
    ("rule", "counts", "reserves", "days", "named"),
    [
        # 16 done, none left of two aimed at: 14 of 15; the same by what was done; under 12
        ("easier", (16, 15, 14), [0, 0, 0], (0, 3), True),
        ("easier", (14, 13, 13), [1, 0, 0], (0, 3), False),
        # 16 and 13 left are 27 against 13: without the first reserve no drop
        ("drop", (16, 16, 13), [13, 2, 2], (0,), True),
        ("drop", (30, 16, 14), [3, 2, 2], (0,), False),
        # near to a limit that nobody knows so well, and near to one that one does
        ("flat", (18, 17, 17), [4, 4, 4], range(0, 30, 5), True),
        ("flat", (12, 12, 12), [4, 4, 4], range(0, 30, 5), False),
    ],
)
def test_a_doubtful_reserve_is_named_by_every_rule(
    rule: str,
    counts: tuple[int, ...],
    reserves: list[int],
    days: Iterable[int],
    named: bool,  # noqa: FBT001
) -> None:
    one = replace(HIGH, band=(10.0, 30.0)) if counts[0] == 12 else HIGH
    found = advice(one, [session(one, counts, day, 2, reserves) for day in days], 2)
    assert found.rule == rule
    assert ("Halperin" in found.reason) == named


def test_flat_by_doubtful_reserves_alone_says_so() -> None:
    days = [
        session(HIGH, (count, count), day, rung=2, reserves=[left, left])
        for day, (count, left) in zip(range(0, 30, 5), ((20, 2), (18, 4), (20, 2)) * 2, strict=True)
    ]
    found = advice(HIGH, days, 2)
    assert (found.rule, found.change and found.change.kind) == ("flat", "more sets")
    assert "Halperin" in found.reason


def test_a_bridge_crossed_by_a_doubtful_reserve_says_so() -> None:
    def crossed(count: int, left: int) -> str:
        days = [session(HIGH, (count,), day, rung=1, reserves=[left]) for day in (0, 3)]
        return advice(HIGH, days, 0, first_set=1).reason

    assert "Halperin" in crossed(14, 4)
    assert "at the floor twice" in crossed(14, 4)
    assert "Halperin" not in crossed(15, 2)
    assert "Halperin" in crossed(16, 0)
