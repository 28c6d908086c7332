"""The session many times by the law: percentiles, seeds, closed forms, the least recovery."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import partial
from statistics import quantiles

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from runner.law.course import RemainingSets
from runner.law.timing import Site
from runner.law.workout import Item, Workout
from runner.planning.forecast import begin_course, session_steps, total
from runner.planning.simulate import LATEST, Past, Simulation, percentiles, simulate, uncertain
from runner.progress.adjust import Baseline
from runner.record.record import Record
from tests.law.builders import LEAD_IN, exercise, pair, part, timing, workout
from tests.oracle.draw import sessions
from tests.oracle.model import Session
from tests.record.hut import Sitting, morning
from tests.session.translate import Machine, fitted

FEW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
STEADY: Sequence[float] = (40.0,) * 5  # sets that never vary


def dice(seed: int) -> Callable[[], float]:
    return partial(random.Random(seed).gauss, 0.0, 1.0)  # noqa: S311 - no secret


def simulated(
    session: Workout, runs: int = 200, seed: int = 1, past: Past | None = None
) -> Simulation:
    return simulate(session, Baseline(), past or {}, range(runs), dice(seed))


def steady(session: Workout) -> Past:
    """A past without any spread."""
    return {(name, "plain", "", "both"): STEADY for name in session.exercises}


@FEW
@given(st.lists(st.floats(0, 1e5), min_size=2, max_size=300))
def test_percentiles_against_numpy_and_the_statistics_module(values: list[float]) -> None:
    got = percentiles(values)
    assert (got.p10, got.p50, got.p90) == pytest.approx(np.percentile(values, [10, 50, 90]))
    tenths = quantiles(values, n=10, method="inclusive")
    assert (got.p10, got.p50, got.p90) == (tenths[0], tenths[4], tenths[8])


def test_percentiles_of_a_simulation_are_those_of_its_totals() -> None:
    done = simulated(pair(30, 50, sets=4), runs=500)
    wanted = np.percentile(np.array(done.totals), [10, 50, 90])
    assert (done.length.p10, done.length.p50, done.length.p90) == pytest.approx(tuple(wanted))
    assert len(done.totals) == 500
    assert len(set(done.totals)) > 400


def test_the_same_seed_gives_the_same_runs_and_another_others() -> None:
    session = pair(30, 50, sets=4)
    assert simulated(session, seed=7) == simulated(session, seed=7)
    assert simulated(session, seed=7) != simulated(session, seed=8)


@pytest.mark.parametrize(
    ("lengths", "whole"),
    [((10, 10), 412.5), ((40, 40), 600), ((75, 75), 810), ((30, 50), 635), ((20, 60), 635)],
)
def test_without_spread_the_worked_examples_of_the_law_hold(
    lengths: tuple[float, float], whole: float
) -> None:
    session = pair(*lengths, sets=4, warm_up=60.0, cool_down=30.0)
    done = simulated(session, runs=20, past=steady(session))
    assert set(done.totals) == {whole + LEAD_IN + 90}
    assert (done.short, done.own, done.bouts) == (0, 8, 8)


def test_each_run_is_the_law_on_the_lengths_of_that_run() -> None:
    """The totals are those of timelines rehearsed with the same lengths, one after another."""
    session = workout(
        [part(exercise("press", 30), 4), part(exercise("row", 40, sides="left first"), 3)],
        [part(exercise("squat", 50), 3, timing(breather=60.0))],
        warm_up=100.0,
        cool_down=40.0,
    )
    bouts = uncertain(RemainingSets(begin_course(session)).bouts(), {})
    draw = dice(3)
    wanted = []
    for _ in range(30):
        drawn = iter([one.drawn(draw()) for one in bouts])
        wanted.append(
            total(session_steps(session, None, lambda _planned_set, _bout, d=drawn: next(d)))
        )  # type: ignore[misc]
    assert list(simulated(session, runs=30, seed=3).totals) == wanted


def test_lengths_are_drawn_about_what_was_expected_beforehand() -> None:
    """One long set shapes rests; it does not make the sets after it longer."""
    session = workout([part(exercise("press", 40), 12)])
    done = simulated(session, runs=2000)
    middle = 12 * 40 * np.exp(0.5 * np.log1p(0.04)) + 11 * 120 + LEAD_IN
    assert np.mean(done.totals) == pytest.approx(middle, abs=3)
    assert np.std(done.totals) == pytest.approx(np.sqrt(12) * 0.2 * 40 * 1.02, rel=0.1)


@FEW
@given(sessions(disturbed=False), st.integers(0, 10_000))
def test_in_no_run_less_than_the_least_recovery(drawn: Session, seed: int) -> None:
    """Counted by the simulation, and anew from the ends of every muscle's bouts."""
    course = Machine(fitted(drawn)).state.course
    remaining = RemainingSets(course)
    roll = random.Random(seed)  # noqa: S311 - no secret
    for _ in range(5):
        ends: dict[Site, float] = {}
        for ahead in remaining.walk(
            0.0, lambda _planned_set, bout: bout.expected * roll.lognormvariate(0, 1)
        ):
            bout = ahead.timed.bouts[ahead.number]
            least = ahead.timed.timing.recovery_least
            for place in bout.prime:
                assert ahead.start - ends.get(place, -1e9) >= least - 1e-6
            ends |= dict.fromkeys(bout.prime, ahead.end)
    assert simulate(course.workout, Baseline(), {}, range(5), dice(seed)).short == 0


def test_the_count_of_short_recoveries_can_be_more_than_none() -> None:
    """Were the law to give less than the least, the count would say so."""
    session = workout([part(exercise("press"), 3)])
    generous = RemainingSets.walk

    def hurried(self: RemainingSets, now: float, length: object) -> object:
        for ahead in generous(self, now, length):  # type: ignore[arg-type]
            had = ahead.recovered
            yield ahead._replace(recovered=None if had is None else had - 20.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(RemainingSets, "walk", hurried)
        assert simulated(session, runs=10).short == 10
    assert simulated(session, runs=10).short == 0


def test_a_past_made_by_sessions_in_the_record() -> None:
    """Five sets of the press of 20 to 28 s: its own spread; four of the row: the default."""
    plan = morning((Item("press", 5),), (Item("row", 2),))
    with closing(Record.in_memory()) as record:
        sitting = Sitting(record, plan).begin()
        for seconds in (28, 26, 24, 22, 20):
            sitting.set(10, seconds)
        for seconds in (30, 40, 32, 38):
            sitting.set(10, seconds)
        sitting.close()
        past = record.lengths("Runa", plan, LATEST)
        known = record.baseline("Runa", plan)
    assert past["press", "mark-1", "", "both"] == (28.0, 26.0, 24.0, 22.0, 20.0)
    assert {key[3]: found for key, found in past.items() if key[0] == "row"} == {
        "left": (30.0, 32.0),
        "right": (40.0, 38.0),
    }
    assert known.lengths["press", "mark-1", "", "both"] == (24.0, 22.0, 20.0)
    bouts = list(RemainingSets(begin_course(plan, known)).bouts())
    found = defaultdict(set)
    for (planned_set, _), one in zip(bouts, uncertain(bouts, past), strict=True):
        found[planned_set.exercise].add((one.middle, one.spread.own))
    assert found == {"press": {(22.0, True)}, "row": {(31.0, False), (39.0, False)}}
    done = simulate(plan, known, past, range(300), dice(1))
    assert (done.own, done.bouts) == (5, 9)
    assert done.length.p10 < done.length.p50 < done.length.p90
