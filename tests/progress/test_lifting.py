"""What is said of a load beside the advice."""

from __future__ import annotations

from msgspec.structs import replace

from runner.progress.advice import load_lines, where_rules_come_from
from runner.progress.rules import CurrentLevel
from tests.progress.past import PLANK, PUSH_UP, ROW, hurt, loads, past, session

SQUAT = replace(
    ROW, id="squat", rep_range=(4.0, 8.0), progression=loads(*range(4, 25, 2), share=0.886)
)


def test_what_is_moved_and_the_maximum() -> None:
    # 0.886 x 75 kg + 4 kg = 70.45 kg; 7 repetitions with 2 left are 9 to failure:
    # O'Conner 70.45 x 1.225 = 86.3 kg at the least, Wathan x 1.3124 = 92.5 kg at the most.
    lines = load_lines(CurrentLevel(SQUAT, 0, mass=75.0), past(SQUAT, (7, 6, 6)))
    assert lines == [
        "moves about 70 kg: 89 % of 75 kg and 4 kg (published)",
        "one-repetition maximum about 86 to 92 kg by Epley, Brzycki, Lander, Lombardi, O'Conner, "
        "Wathan (published)",
    ]


def test_over_ten_with_caution_and_over_fifteen_none() -> None:
    caution = load_lines(CurrentLevel(PUSH_UP, 3, mass=75.0), past(PUSH_UP, (10, 9), level=3))
    assert caution[1] == (
        "one-repetition maximum about 68 kg by Wathan; with caution, because few equations hold "
        "above 10 "
        "(published)"
    )
    none = load_lines(CurrentLevel(PUSH_UP, 3, mass=75.0), past(PUSH_UP, (20, 19), level=3))
    assert none == [
        "moves about 48 kg: 64 % of 75 kg (published)",
        "22 repetitions to failure; above 15 no equation holds",
    ]


def test_a_set_of_nothing_tells_nothing() -> None:
    assert load_lines(CurrentLevel(SQUAT, 0, mass=75.0), past(SQUAT, (0, 0))) == [
        "moves about 70 kg: 89 % of 75 kg and 4 kg (published)"
    ]


def test_the_claim_stands_beside_what_contradicts_it() -> None:
    said = "\n".join(where_rules_come_from())
    claim = said[said.index("rep limit (common practice)") :]
    assert "30 to 40 % of the maximum; measured" in claim
    assert "29.9 squats at 60 %" in claim


def test_nothing_is_made_up() -> None:
    assert load_lines(CurrentLevel(PLANK, 0, mass=75.0), past(PLANK, (40,))) == []
    assert load_lines(CurrentLevel(PUSH_UP, 0), past(PUSH_UP, (10,))) == []
    assert load_lines(CurrentLevel(PUSH_UP, 0, mass=0.0), past(PUSH_UP, (10,))) == []
    only = ["moves about 31 kg: 41 % of 75 kg (published)"]
    assert load_lines(CurrentLevel(PUSH_UP, 0, mass=75.0), []) == only
    assert load_lines(CurrentLevel(PUSH_UP, 0, mass=75.0), [hurt(session(PUSH_UP, (10,)))]) == only
    zero = replace(PUSH_UP, reserve=0)
    assert load_lines(CurrentLevel(zero, 0, mass=75.0), past(zero, (0,))) == only
    unknown = replace(SQUAT, progression=loads(4, 6, share=None))
    assert load_lines(CurrentLevel(unknown, 0, mass=75.0), past(unknown, (9, 8))) == []
