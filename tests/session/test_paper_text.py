"""A line from a paper diary, read into sets or refused."""

from __future__ import annotations

import re

import pytest

from runner.law.workout import Exercise
from runner.session.apply import Refused
from runner.session.paper import PaperSet, read_counts
from runner.session.verb import Count
from tests.law.builders import exercise

PRESS = exercise("press", measure="reps")
ROW = exercise("row", measure="reps", sides="left first")
PLANK = exercise("plank", measure="hold")


def both(value: float, reserve: int | None = None) -> PaperSet:
    return (("both", Count(value, reserve)),)


def sides(left: Count | None, right: Count | None) -> PaperSet:
    return (("left", left), ("right", right))


@pytest.mark.parametrize(
    ("text", "of", "sets"),
    [
        ("12 11 9", PRESS, [both(12), both(11), both(9)]),
        ("12/2 11 9/0", PRESS, [both(12, 2), both(11), both(9, 0)]),
        ("12, 11, 9", PRESS, [both(12), both(11), both(9)]),
        ("0", PRESS, [both(0)]),
        ("- 11", PRESS, [(), both(11)]),
        ("12 nocount", PRESS, [both(12), (("both", None),)]),
        ("", PRESS, []),
        ("   ", ROW, []),
        ("12 14, 11/1 13", ROW, [sides(Count(12), Count(14)), sides(Count(11, 1), Count(13))]),
        ("12 14", ROW, [sides(Count(12), Count(14))]),
        ("12|14 11/1|13", ROW, [sides(Count(12), Count(14)), sides(Count(11, 1), Count(13))]),
        ("12 | 14, 11|13", ROW, [sides(Count(12), Count(14)), sides(Count(11), Count(13))]),
        ("12|14 - nocount", ROW, [sides(Count(12), Count(14)), (), sides(None, None)]),
        ("- -", ROW, [(), ()]),
        ("12, 11/2", ROW, [sides(Count(12), Count(12)), sides(Count(11, 2), Count(11, 2))]),
        ("-, nocount", ROW, [(), sides(None, None)]),
        ("45 40.5s", PLANK, [both(45), both(40.5)]),
    ],
)
def test_what_a_line_stands_for(text: str, of: Exercise, sets: list[PaperSet]) -> None:
    assert read_counts(text, of) == tuple(sets)


@pytest.mark.parametrize(
    ("text", "of", "said"),
    [
        ("12 14 11", ROW, "comma between sets"),
        ("12 14 11 13", ROW, "comma between sets"),
        ("12 14 11|13", ROW, "comma between sets"),  # one set before it, or two?
        ("12|14|13", ROW, "More than two numbers"),
        ("12|", ROW, "left and right"),
        ("12|14", PRESS, "no sides"),
        ("12,,9", PRESS, "between two commas"),
        ("12 11, 9", PRESS, "one number a set"),
        ("12s", PRESS, "repetitions"),
        ("twelve", PRESS, "not a number"),
        ("-3", PRESS, "less than 0"),
        ("12/x", PRESS, "reserve"),
        ("1e9", PRESS, "not a number"),
        ("99999", PRESS, "999"),
    ],
)
def test_what_is_refused(text: str, of: Exercise, said: str) -> None:
    with pytest.raises(Refused, match=re.escape(said)):
        read_counts(text, of)
