"""The timing law's own worked examples: the project's definition of it, not a publication."""

from __future__ import annotations

import pytest

from runner.law.timing import level
from runner.law.workout import Level, Station
from runner.planning.forecast import begin_course, remaining_steps, session_steps, straight, total
from tests.law.builders import (
    LEAD_IN,
    exercise,
    length,
    pair,
    part,
    recoveries,
    rests,
    timing,
    whys,
    workout,
)

PAIRS = [  # lengths, rest inside, total, recoveries, total as straight sets
    ((10, 10), 47.5, 412.5, (105, 105), 860),
    ((20, 20), 45, 475, (110, 110), 940),
    ((30, 30), 45, 555, (120, 120), 1020),
    ((40, 40), 40, 600, (120, 120), 1100),
    ((60, 60), 30, 690, (120, 120), 1260),
    ((75, 75), 30, 810, (135, 135), 1380),
    ((30, 50), 45, 635, (140, 120), 1100),
    ((20, 60), 45, 635, (150, 110), 1100),
]
MIXED = [(20, 32.5, 527.5, 120), (30, 30, 630, 135)]


@pytest.mark.parametrize(("lengths", "rest", "whole", "recovery", "alone"), PAIRS)
def test_pairs_of_four_and_four(
    lengths: tuple[float, float],
    rest: float,
    whole: float,
    recovery: tuple[float, float],
    alone: float,
) -> None:
    session = pair(*lengths, sets=4)
    steps = session_steps(session)
    assert rests(steps) == [rest] * 7
    assert total(steps) - LEAD_IN == whole
    assert recoveries(steps, "press") == [None, *[recovery[0]] * 3]
    assert recoveries(steps, "row") == [None, *[recovery[1]] * 3]
    assert length(straight(session)) == alone


def test_straight_sets_are_a_block_for_each_exercise() -> None:
    steps = session_steps(straight(pair(30, 50, sets=4)))
    assert rests(steps) == [120, 120, 120, 60, 120, 120, 120]
    assert whys(steps) == ["lead-in", *["recovery"] * 3, "block", *["recovery"] * 3]


def test_circuit_of_three() -> None:
    parts = [part(exercise(n, w)) for n, w in (("press", 30), ("row", 40), ("squat", 50))]
    steps = session_steps(workout(parts))
    assert rests(steps) == [30] * 8
    assert total(steps) - LEAD_IN == 600
    for name, recovery in (("press", 180), ("row", 170), ("squat", 160)):
        assert recoveries(steps, name) == [None, recovery, recovery]


def test_one_sided_straight_sets() -> None:
    steps = session_steps(workout([part(exercise("row", 40, sides="left first"))]))
    assert rests(steps) == [15, 65, 15, 65, 15]
    assert total(steps) - LEAD_IN == 415
    for side in ("left", "right"):
        assert recoveries(steps, "row", side) == [None, 120, 120]


@pytest.mark.parametrize(("seconds", "changeover", "whole", "recovery"), MIXED)
def test_two_sided_with_one_sided(
    seconds: float, changeover: float, whole: float, recovery: float
) -> None:
    row = exercise("row", seconds, sides="right first")
    steps = session_steps(workout([part(exercise("press", seconds), 4), part(row, 4)]))
    assert rests(steps) == [changeover, 15, changeover] * 3 + [changeover, 15]
    assert total(steps) - LEAD_IN == whole
    for name, side in (("press", "both"), ("row", "left"), ("row", "right")):
        assert recoveries(steps, name, side) == [None, *[recovery] * 3]


def test_four_sets_with_two() -> None:
    steps = session_steps(workout([part(exercise("press"), 4), part(exercise("row"), 2)]))
    assert rests(steps) == [40, 40, 40, 40, 120]
    assert total(steps) - LEAD_IN == 520
    assert recoveries(steps, "press") == [None, 120, 120, 120]
    assert recoveries(steps, "row") == [None, 120]
    # the press is alone in its third round, so straight sets decide from there on
    assert whys(steps) == ["lead-in", *["changeover"] * 3, "recovery", "recovery"]


def test_four_short_sets_with_two() -> None:
    steps = session_steps(workout([part(exercise("press", 10), 4), part(exercise("row", 10), 2)]))
    assert rests(steps) == [47.5, 47.5, 47.5, 62.5, 120]
    assert total(steps) - LEAD_IN == 385
    assert recoveries(steps, "press") == [None, 105, 120, 120]
    assert recoveries(steps, "row") == [None, 105]


def test_three_with_a_breather_after_the_third() -> None:
    parts = [part(exercise("press", 10)), part(exercise("row", 10))]
    parts.append(part(exercise("squat", 10), 2, timing(breather=50)))
    steps = session_steps(workout(parts))
    assert rests(steps) == [30, 30, 50, 30, 30, 50, 47.5]
    assert total(steps) - LEAD_IN == 347.5


def test_crossed_roles() -> None:
    press = exercise("press", 40, ["chest"], assist=("triceps",))
    steps = session_steps(workout([part(press), part(exercise("dip", 30, ["triceps"]))]))
    assert rests(steps) == [78.75] * 5
    assert total(steps) - LEAD_IN == 603.75
    assert timing().cross_least == 78.75


def test_breather_after_the_second() -> None:
    steps = session_steps(
        workout([part(exercise("press")), part(exercise("row"), 3, timing(breather=60))])
    )
    assert rests(steps) == [30, 60, 30, 60, 30]
    assert total(steps) - LEAD_IN == 450
    assert recoveries(steps, "press") == recoveries(steps, "row") == [None, 130, 130]
    assert whys(steps)[1:] == ["changeover", "breather"] * 2 + ["changeover"]


def test_change_of_station_before_every_second_set() -> None:
    """A change of 60 before every row and none before a press, given so to the law."""
    progression = tuple(Level(f"v{n}", "row", (("height", f"{n} cm"),)) for n in range(1, 4))
    row = exercise("row", 30, station="bar", progression=progression)
    item = part(row, versions=("v1", "v2", "v3"))
    session = workout(
        [part(exercise("press", 30)), item], stations=[Station("bar", "Low bar", change=60)]
    )
    course = begin_course(session)
    stood = type(course)(session, course.planned_sets, stations={"bar": (("height", "0 cm"),)})
    steps = remaining_steps(stood, 0.0)
    assert rests(steps) == [60, 30, 60, 30, 60]
    assert total(steps) - LEAD_IN == 420
    assert recoveries(steps, "press") == recoveries(steps, "row") == [None, 120, 120]
    assert whys(steps)[1:] == ["station", "changeover", "station", "changeover", "station"]


def test_longer_recovery() -> None:
    law = timing(180, recovery_least=160)
    steps = session_steps(
        workout([part(exercise("press", 20), 5, law), part(exercise("row", 20), 5, law)])
    )
    assert rests(steps) == [70] * 9
    assert total(steps) - LEAD_IN == 830
    assert recoveries(steps, "press")[1:] == recoveries(steps, "row")[1:] == [160] * 4


def test_totals_hold_warm_up_lead_in_and_cool_down() -> None:
    session = pair(sets=4, warm_up=300.0, cool_down=90.0)
    steps = session_steps(session)
    assert total(steps) == 300 + LEAD_IN + 600 + 90
    assert total(session_steps(straight(session))) == 300 + LEAD_IN + 1100 + 90
    assert [steps[0].kind, steps[-1].kind] == ["warm-up", "cool-down"]


@pytest.mark.parametrize("seconds", [20, 30, 40, 50, 60, 75])
def test_pairing_saves_time_beside_the_published_saving(seconds: float) -> None:
    """Equal two-sided pairs of 4 + 4, within the bounds that the law was drawn up for.

    Published, of whole sessions: 36 % shorter (Burke et al. 2024); straight sets took 66 %
    longer, that is 40 % saved (Andersen et al. 2022, Front Psychol 13:912368). Here the rests
    alone are compared, without warm-up and set-up, so more is saved.
    """
    session = pair(seconds, seconds, sets=4)
    saved = 1 - length(session) / length(straight(session))
    assert 0.41 <= round(saved, 2) <= 0.50
    andersen = 1 - 1 / 1.66
    assert saved > max(0.36, round(andersen, 2))


# -- what the law says in words, where the examples above do not reach ----------------------------


def test_level_is_the_smallest_that_reaches_the_need() -> None:
    assert level(90, [30, 30]) == 45
    assert level(90, [30, 50]) == 40
    assert level(90, [40, 50]) == 0
    assert level(90, [40, 51]) == 0
    assert level(180, [10, 20, 100]) == 40
    assert level(200, [50, 0, 10]) == pytest.approx(200 / 3)
    assert level(-5, [0, 0]) == 0


def test_every_reason_has_its_name() -> None:
    levels = (Level("low", "", (("h", "1"),)), Level("high", "", (("h", "2"),)))
    bar = Station("bar", "Low bar", change=35)
    row = exercise("row", 60, station="bar", progression=levels)
    calm = timing(8, changeover_from=3, changeover_to=6, block_rest=9, position=4)
    parts = [
        part(exercise("press", 60, sides="left first"), 1, calm),
        part(row, 2, calm, versions=("low", "high")),
    ]
    squat = part(exercise("squat", 20), 2, timing(16, changeover_from=0, block_rest=9, position=0))
    plank = part(exercise("plank", 60), 1, timing(8, changeover_from=0, position=12, breather=7))
    last = part(exercise("raise", 60), 1, timing(8, changeover_from=0, position=3))
    steps = session_steps(workout(parts, [squat], [plank, last], stations=[bar]))
    assert list(zip(whys(steps), [LEAD_IN, *rests(steps)], strict=True)) == [
        ("lead-in", 10),
        ("side", 15),
        ("position", 4),
        ("station", 35),
        ("block", 9),
        ("recovery", 16),
        ("block", 60),
        ("breather", 7),
    ]


def test_of_equal_reasons_the_first_is_named() -> None:
    law = timing(8, position=7, breather=7, changeover_from=7, changeover_to=7, block_rest=7)
    plain = timing(8, position=0, changeover_from=7, changeover_to=7, block_rest=7)
    one, two = exercise("press", 60), exercise("row", 60)
    assert whys(session_steps(workout([part(one, 1, law), part(two, 1, law)])))[1] == "breather"
    assert whys(session_steps(workout([part(one, 1, plain), part(two, 1, law)])))[1] == "position"
    assert whys(session_steps(workout([part(one, 1, plain)], [part(two, 1, plain)])))[1] == "block"
    assert (
        whys(session_steps(workout([part(one, 1, plain), part(two, 1, plain)])))[1] == "changeover"
    )


def test_over_the_range_it_is_recovery_that_decides() -> None:
    assert whys(session_steps(pair(10, 10)))[1:] == ["recovery"] * 5
    assert whys(session_steps(pair(20, 20)))[1:] == ["changeover"] * 5


def test_nothing_planned_takes_no_time() -> None:
    assert session_steps(workout()) == []
    assert total([]) == 0
    no_lead_in = session_steps(pair(lead_in=0.0))
    assert (no_lead_in[0].kind, no_lead_in[0].start) == ("set", 0.0)
