"""Other sets and repetitions, and the figures that two sessions are compared by."""

from __future__ import annotations

from functools import partial
from random import Random

import pytest
from msgspec.structs import replace

from runner.law.workout import Level, Workout
from runner.planning.forecast import session_steps
from runner.planning.simulate import figures, simulate, with_reps, without_own_pace
from runner.progress.adjust import Adjustment, Baseline
from tests.law.builders import exercise, pair, part, workout

PROGRESSION = (
    Level("plain", "plain", seconds_a_rep=2.0),
    Level("slow", "slow", tempo="3-0-1", seconds_a_rep=4.0),
)
PRESS = exercise("press", measure="reps", rep_range=(8.0, 30.0), progression=PROGRESSION)
ROW = exercise("row", measure="reps", sides="left first", rep_range=(8.0, 30.0))
PLANK = exercise("plank", 40.0)
KNOWN = Baseline(
    lengths={
        ("press", "plain", "", "both"): (22.0, 24.0, 26.0),
        ("press", "slow", "3-0-1", "both"): (50.0,),
        ("plank", "plain", "", "both"): (33.0,),
    }
)


def session() -> Workout:
    return workout([part(PRESS, 3, ramp=1), part(ROW, 3)], [part(PLANK, 3)])


def work(of: Workout, baseline: Baseline) -> list[float]:
    """The lengths of the first bout of each exercise, the press's ramp set first."""
    steps = [s for s in session_steps(of, baseline) if s.planned_set is not None]
    first = {
        (s.planned_set.exercise, s.planned_set.kind): s.seconds
        for s in reversed(steps)
        if s.planned_set
    }
    return [
        first[key]
        for key in (("press", "ramp"), ("press", "work"), ("row", "work"), ("plank", "work"))
    ]


def test_so_many_repetitions_take_the_place_of_record_and_band() -> None:
    assert work(session(), KNOWN) == [16, 24, 38, 33]
    assert work(session(), with_reps(session(), KNOWN, 15)) == [16, 30, 30, 33]
    slow = replace(KNOWN, working_levels={("press", ""): 1})
    assert work(session(), with_reps(session(), slow, 15))[1] == 60


def test_without_ones_own_pace_the_band_counts_where_there_is_no_tempo() -> None:
    found = without_own_pace(session(), KNOWN)
    assert set(found.lengths) == {
        ("press", "slow", "3-0-1", "both"),
        ("plank", "plain", "", "both"),
    }
    assert work(session(), found) == [16, 38, 38, 33]
    assert found.working_levels == KNOWN.working_levels


def test_figures_of_a_worked_example() -> None:
    """40 and 40, four sets each: 600 s from first set to last, and 1100 as straight sets."""
    steady = {(name, "plain", "", "both"): (40.0,) * 5 for name in ("press", "row")}
    one = pair(40, 40, sets=4, warm_up=100.0, cool_down=100.0)
    draw = partial(Random(1).gauss, 0.0, 1.0)  # noqa: S311 - no secret
    found = figures(one, Baseline(), simulate(one, Baseline(), steady, range(100), draw))
    assert (found.total, found.straight) == (810, 1310)
    assert (found.length.p10, found.length.p50, found.length.p90) == (810, 810, 810)
    assert (found.work, found.rest) == (pytest.approx(320 / 810), pytest.approx(290 / 810))
    assert (found.least_recovery, found.sets, found.short) == (120, 8, 0)


def test_figures_where_nothing_is_done_twice() -> None:
    one = workout([part(exercise("press"), 1)])
    draw = partial(Random(1).gauss, 0.0, 1.0)  # noqa: S311 - no secret
    assert (
        figures(one, Baseline(), simulate(one, Baseline(), {}, range(10), draw)).least_recovery
        is None
    )


def test_the_sets_are_those_of_the_timeline_also_where_some_were_agreed() -> None:
    def draw() -> float:
        return 0.0

    more = Baseline(
        changes=(Adjustment("sets", "press", number=1), Adjustment("sets", "row", "", -2))
    )
    for baseline, sets in ((Baseline(), 9), (more, 8)):  # ramp sets left out, two sides are one
        found = figures(session(), baseline, simulate(session(), baseline, {}, range(2), draw))
        assert found.sets == sets
