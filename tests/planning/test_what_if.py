"""Other sets and repetitions, and the figures that two sessions are compared by."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from random import Random

import pytest

from runner.law.workout import Rung, Workout
from runner.planning.forecast import rehearse
from runner.planning.simulate import figures, simulate, with_reps, without_own_pace
from runner.progress.adjust import Adjustment, Memory
from tests.law.builders import exercise, pair, part, workout

LADDER = (
    Rung("plain", "plain", seconds_a_rep=2.0),
    Rung("slow", "slow", tempo="3-0-1", seconds_a_rep=4.0),
)
PRESS = exercise("press", measure="reps", band=(8.0, 30.0), ladder=LADDER)
ROW = exercise("row", measure="reps", sides="left first", band=(8.0, 30.0))
PLANK = exercise("plank", 40.0)
KNOWN = Memory(
    lengths={
        ("press", "plain", "", "both"): (22.0, 24.0, 26.0),
        ("press", "slow", "3-0-1", "both"): (50.0,),
        ("plank", "plain", "", "both"): (33.0,),
    }
)


def session() -> Workout:
    return workout([part(PRESS, 3, ramp=1), part(ROW, 3)], [part(PLANK, 3)])


def work(of: Workout, memory: Memory) -> list[float]:
    """The lengths of the first bout of each exercise, the press's ramp set first."""
    steps = [s for s in rehearse(of, memory) if s.slot is not None]
    first = {(s.slot.exercise, s.slot.kind): s.seconds for s in reversed(steps) if s.slot}
    return [
        first[key]
        for key in (("press", "ramp"), ("press", "work"), ("row", "work"), ("plank", "work"))
    ]


def test_so_many_repetitions_take_the_place_of_record_and_band() -> None:
    assert work(session(), KNOWN) == [16, 24, 38, 33]
    assert work(session(), with_reps(session(), KNOWN, 15)) == [16, 30, 30, 33]
    slow = replace(KNOWN, held={("press", ""): 1})
    assert work(session(), with_reps(session(), slow, 15))[1] == 60


def test_without_ones_own_pace_the_band_counts_where_there_is_no_tempo() -> None:
    found = without_own_pace(session(), KNOWN)
    assert set(found.lengths) == {
        ("press", "slow", "3-0-1", "both"),
        ("plank", "plain", "", "both"),
    }
    assert work(session(), found) == [16, 38, 38, 33]
    assert found.held == KNOWN.held


def test_figures_of_a_worked_example() -> None:
    """40 and 40, four sets each: 600 s from first set to last, and 1100 as straight sets."""
    steady = {(name, "plain", "", "both"): (40.0,) * 5 for name in ("press", "row")}
    one = pair(40, 40, sets=4, warm_up=100.0, cool_down=100.0)
    draw = partial(Random(1).gauss, 0.0, 1.0)  # noqa: S311 - no secret
    found = figures(one, Memory(), simulate(one, Memory(), steady, 100, draw))
    assert (found.total, found.straight) == (810, 1310)
    assert (found.length.p10, found.length.p50, found.length.p90) == (810, 810, 810)
    assert (found.work, found.rest) == (pytest.approx(320 / 810), pytest.approx(290 / 810))
    assert (found.least_recovery, found.sets, found.short) == (120, 8, 0)


def test_figures_where_nothing_is_done_twice() -> None:
    one = workout([part(exercise("press"), 1)])
    draw = partial(Random(1).gauss, 0.0, 1.0)  # noqa: S311 - no secret
    assert figures(one, Memory(), simulate(one, Memory(), {}, 10, draw)).least_recovery is None


def test_the_sets_are_those_of_the_timeline_also_where_some_were_agreed() -> None:
    def draw() -> float:
        return 0.0

    more = Memory(
        changes=(Adjustment("sets", "press", number=1), Adjustment("sets", "row", "", -2))
    )
    for memory, sets in ((Memory(), 9), (more, 8)):  # ramp sets left out, two sides are one
        found = figures(session(), memory, simulate(session(), memory, {}, 2, draw))
        assert found.sets == sets
