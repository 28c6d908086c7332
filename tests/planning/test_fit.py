"""Which sets are left out: against every way there is, and what always has to hold."""

from __future__ import annotations

from collections import Counter
from itertools import product
from unittest.mock import patch

import pytest
from hypothesis import given, settings, strategies as st

from runner.law.workout import Exercise, Workout
from runner.planning import shorten as module
from runner.planning.forecast import begin_course, session_steps, total
from runner.planning.shorten import (
    Fit,
    LeftOut,
    addition,
    fit,
    fit_session,
    shortened,
    without,
)
from tests.law.builders import Part, exercise, part, timing, workout

PATTERNS = ("horizontal push", "horizontal pull", "vertical push", "vertical pull", "trunk")
MUSCLES = ("chest", "upper-back", "lats", "triceps", "quadriceps", "abdomen")

exercises = st.builds(
    lambda seconds, pattern, prime, priority, sides: (seconds, pattern, prime, priority, sides),
    st.sampled_from([10.0, 20.0, 40.0, 60.0]),
    st.sampled_from(PATTERNS),
    st.lists(st.sampled_from(MUSCLES), min_size=1, max_size=2, unique=True),
    st.sampled_from([1, 2, 3]),
    st.sampled_from(["together", "left first"]),
)


@st.composite
def sessions(draw: st.DrawFn, most_blocks: int = 2) -> Workout:
    """Small sessions: up to two blocks of one or two exercises, one to three sets of each."""
    blocks: list[list[Part]] = []
    for _ in range(draw(st.integers(1, most_blocks))):
        parts: list[Part] = []
        for _ in range(draw(st.integers(1, 2))):
            seconds, pattern, prime, priority, sides = draw(exercises)
            name = f"e{sum(map(len, blocks)) + len(parts)}"
            done = exercise(name, seconds, prime, pattern=pattern, priority=priority, sides=sides)
            law = timing(breather=draw(st.sampled_from([0.0, 60.0])))
            ramp = draw(st.sampled_from([0, 0, 1]))
            parts.append(part(done, draw(st.integers(1, 3)), law, ramp=ramp))
        blocks.append(parts)
    return workout(*blocks, warm_up=draw(st.sampled_from([0.0, 120.0])), cool_down=60.0)


def length(session: Workout) -> float:
    """By the forecast of a session whose items are fewer."""
    return total(session_steps(session)) if session.blocks else session.warm_up + session.cool_down


def primes(session: Workout) -> Counter[str]:
    return Counter(
        muscle
        for block in session.blocks
        for item in block.items
        for muscle in session.exercises[item.exercise].prime
        for _ in range(item.sets)
    )


def uneven(session: Workout) -> int:
    def way(one: Exercise) -> int:
        return one.pattern.endswith("push") - one.pattern.endswith("pull")

    return abs(
        sum(way(session.exercises[i.exercise]) * i.sets for b in session.blocks for i in b.items)
    )


def lost(session: Workout, left_out: tuple[LeftOut, ...]) -> tuple[int, ...]:
    counts = Counter[int]()
    for one in left_out:
        counts[session.exercises[one.exercise].priority] += one.sets
    return counts[1], counts[2], counts[3]


def allowed(session: Workout, shorter: Workout) -> bool:
    """Every muscle keeps a set, and push and pull are as even as before, or one apart."""
    kept = primes(shorter).keys() == primes(session).keys()
    return kept and uneven(shorter) <= max(uneven(session), 1)


def every_way(session: Workout) -> list[tuple[tuple[LeftOut, ...], Workout]]:
    items = [(n, item) for n, block in enumerate(session.blocks, 1) for item in block.items]
    ways = []
    for numbers in product(*(range(item.sets + 1) for _, item in items)):
        left_out = tuple(
            LeftOut(block, item.exercise, number, item.sets)
            for (block, item), number in zip(items, numbers, strict=True)
            if number
        )
        shorter = shortened(session, left_out)
        if allowed(session, shorter):
            ways.append((left_out, shorter))
    return ways


def check(session: Workout, within: float, found: Fit) -> None:
    """What holds whatever was asked for."""
    shorter = shortened(session, found.left_out)
    assert allowed(session, shorter)
    assert found.before == pytest.approx(length(session))
    assert found.end == pytest.approx(length(shorter))
    assert found.fits == (found.end <= within + 1e-6)
    assert (found.left_out == ()) == (found.planned_sets == ())
    if length(session) <= within:
        assert found.left_out == ()


@settings(max_examples=40, deadline=None)
@given(sessions(), st.floats(0.3, 1.05))
def test_against_every_way_there_is(session: Workout, share: float) -> None:
    within = length(session) * share
    found = fit_session(begin_course(session), within)
    check(session, within, found)
    ways = every_way(session)
    fitting = [left_out for left_out, shorter in ways if length(shorter) <= within + 1e-6]
    assert found.fits == bool(fitting)
    if fitting:
        assert lost(session, found.left_out) == min(lost(session, way) for way in fitting)
    else:
        assert found.end == pytest.approx(min(length(shorter) for _, shorter in ways))


@settings(max_examples=25, deadline=None)
@given(sessions(), st.floats(0.3, 1.05))
def test_by_sums_of_blocks_what_is_found_is_allowed_and_as_few_of_the_first_priority(
    session: Workout, share: float
) -> None:
    within = length(session) * share
    with patch.object(module, "FEW", 0):
        found = fit_session(begin_course(session), within)
    check(session, within, found)
    if found.fits:
        best = fit_session(begin_course(session), within)
        assert lost(session, found.left_out) >= lost(session, best.left_out)


def independent() -> Workout:
    """Three blocks that share no muscle: their sums are exact."""
    made = [
        (exercise(f"{a}{n}", 40.0, [f"m{a}{n}"], pattern=p, priority=n + 1), p)
        for n in range(3)
        for a, p in (("push", "horizontal push"), ("pull", "horizontal pull"))
    ]
    return workout(*([part(made[i][0], 3), part(made[i + 1][0], 3)] for i in (0, 2, 4)))


@pytest.mark.parametrize("minutes", [31, 28, 25, 22, 19, 16, 12])
def test_many_ways_whose_blocks_do_not_depend_are_answered_as_by_trying_them_all(
    minutes: int,
) -> None:
    session = independent()
    found = fit_session(begin_course(session), minutes * 60)
    check(session, minutes * 60, found)
    fitting = [w for w, shorter in every_way(session) if length(shorter) <= minutes * 60 + 1e-6]
    assert found.fits == bool(fitting)
    if fitting:
        assert lost(session, found.left_out) == min(lost(session, way) for way in fitting)


def test_what_is_left_out_first() -> None:
    session = independent()
    found = fit_session(begin_course(session), length(session) - 60)
    # One of each, for the pair of priority 3 would else be two apart at the most: one is enough.
    assert {session.exercises[one.exercise].priority for one in found.left_out} == {3}
    assert sum(one.sets for one in found.left_out) == 1


def test_the_same_question_has_the_same_answer() -> None:
    session = independent()
    answers = {fit_session(begin_course(session), 1200).left_out for _ in range(3)}
    assert len(answers) == 1


def test_lighter_sets_go_with_the_last_of_their_exercise() -> None:
    press = exercise("press", 60.0, ["chest"], pattern="horizontal push")
    fly = exercise("fly", 60.0, ["chest"], pattern="other", priority=3)
    session = workout([part(press, 2)], [part(fly, 1, ramp=1)])
    whole = length(session)
    found = fit_session(begin_course(session), whole - 30)
    assert found.left_out == (LeftOut(2, "fly", 1, 1),)
    assert len(found.planned_sets) == 2
    assert shortened(session, found.left_out).blocks == session.blocks[:1]


def test_from_the_middle_of_a_session_what_is_done_counts() -> None:
    press = exercise("press", 40.0, ["chest"], pattern="horizontal push")
    row = exercise("row", 40.0, ["upper-back"], pattern="horizontal pull")
    course = begin_course(workout([part(press, 3), part(row, 3)]))
    now = 10.0
    for _ in range(2):  # one set of each
        course = course.begin().finish(now + 40, 40.0)
        now += 40 + 40
    now -= 40
    found = fit(course, now, now + 5)
    assert found.fits is True  # both muscles have had a set: all that is left may go
    assert found.left_out == (LeftOut(1, "press", 2, 2), LeftOut(1, "row", 2, 2))
    assert found.end == now
    assert without(course, found.planned_sets).next is None


def test_nothing_is_left_to_leave_out() -> None:
    course = begin_course(workout([part(exercise("press"), 1)]))
    done = course.begin().finish(50.0, 40.0)
    assert fit(done, 50.0, 40.0, tail=60.0) == Fit(fits=False, before=110.0, end=110.0)


def test_a_wide_circuit_is_answered_too() -> None:
    parts = [part(exercise(f"e{n}", 30.0, [f"m{n}"], priority=1 + n % 3), 4) for n in range(5)]
    session = workout(parts)
    within = length(session) * 0.6
    check(session, within, fit_session(begin_course(session), within))


LACKING = {"chest": 2.0, "upper-back": 0.5}


def test_the_set_more_that_serves_the_week_best_is_one_for_which_there_is_time() -> None:
    press = exercise("press", 60.0, ["chest"])
    row = exercise("row", 20.0, ["upper-back"])
    session = workout([part(press, 2)], [part(row, 2)])
    whole = addition(session, None, 10_000, LACKING)
    assert whole is not None
    assert (whole.exercise, whole.sets, whole.muscle, whole.share) == ("press", 3, "chest", 1.0)
    assert whole.seconds == length(workout([part(press, 3)], [part(row, 2)]))
    for within in (whole.seconds - 1, length(workout([part(press, 2)], [part(row, 3)]))):
        shorter = addition(session, None, within, LACKING)
        assert shorter is not None
        assert (shorter.exercise, shorter.sets) == ("row", 3)
    assert addition(session, None, length(session), LACKING) is None
    assert addition(session, None, 10_000, {"calves": 3.0}) is None
