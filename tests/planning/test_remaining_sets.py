"""Going through what is to come at one stroke, and step by step as the machine does: the same."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from runner.law.course import ComingBout, Course, Length, RemainingSets
from runner.law.timing import Bout
from runner.planning.forecast import as_expected, begin_course, session_steps
from runner.session.apply import TurnResult as Came
from tests.law.builders import exercise, pair, part, workout
from tests.oracle.draw import sessions
from tests.oracle.model import Session
from tests.oracle.ticks import simulate
from tests.session.translate import Machine, commands_of, fitted

some = settings(
    max_examples=60,
    suppress_health_check=[
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
        HealthCheck.large_base_example,
    ],
)


def step_by_step(course: Course, now: float, length: Length) -> list[ComingBout]:
    """What is to come, the course moved on by each bout."""
    found = []
    while (index := course.next) is not None:
        rest, side, number = course.rest(), course.side_of(index), course.side
        start = now + rest.seconds
        recovered = course.recovered(start)
        course = course.begin()
        planned_set, timed = course.planned_sets[index], course.timed(index)
        end = start + length(planned_set, course.bout(index, side))
        found.append(
            ComingBout(index, planned_set, number, rest, now, start, end, timed, recovered)
        )
        now, course = end, course.finish(end, end - start)
    return found


def lengths(seed: int) -> Length:
    """Lengths around what is expected, some of them nothing at all."""
    dice = random.Random(seed)  # noqa: S311 - no secret
    return lambda _planned_set, bout: bout.expected * dice.choice((0, 0.5, 0.9, 1, 1.25, 2))


def agree(course: Course, now: float, seed: int) -> None:
    walked = list(RemainingSets(course).walk(now, lengths(seed)))
    assert walked == step_by_step(course, now, lengths(seed))


@some
@given(sessions(disturbed=False), st.integers(0, 1000))
def test_from_the_beginning(drawn: Session, seed: int) -> None:
    agree(Machine(fitted(drawn)).state.course, 0.0, seed)


class Watched(Machine):
    """A machine whose courses between bouts are kept."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.between: list[Course] = []

    def _take(self, came: Came) -> None:
        super()._take(came)
        if self.state.running is None:
            self.between.append(self.state.course)


@some
@given(sessions(), st.integers(0, 1000))
def test_from_anywhere_with_sets_skipped_and_dropped(drawn: Session, seed: int) -> None:
    session = fitted(drawn)
    machine = Watched(session)
    machine.run(commands_of(simulate(session)))
    assert machine.between
    for course in machine.between[:: 1 + len(machine.between) // 6]:
        agree(course, course.ended or 0.0, seed)


def walked(course: Course) -> list[ComingBout]:
    return list(RemainingSets(course).walk(0.0, as_expected))


def test_remaining_sets_can_be_walked_again_and_again() -> None:
    remaining = RemainingSets(begin_course(pair(30, 50, sets=4)))
    first = list(remaining.walk(0.0, lengths(1)))
    assert list(remaining.walk(0.0, lengths(2))) != first
    assert list(remaining.walk(0.0, lengths(1))) == first


def test_a_ramp_set_teaches_nothing_about_work_sets() -> None:
    one = exercise("press", 30.0, rep_range=(10.0, 50.0))
    ahead = walked(begin_course(workout([part(one, 3, ramp=2)])))
    assert [a.end - a.start for a in ahead] == [10, 10, 30, 30, 30]
    remaining = RemainingSets(begin_course(workout([part(one, 3, ramp=2)])))
    said: list[float] = []

    def longer(_planned_set: object, bout: Bout) -> float:
        said.append(bout.expected)
        return bout.expected + 6

    list(remaining.walk(0.0, longer))
    assert said == [10, 10, 30, 36, 39]  # medians of (36), (36, 42)


def test_none_where_a_bout_is_under_way() -> None:
    with pytest.raises(ValueError, match="under way"):
        RemainingSets(begin_course(pair()).begin())


def test_rehearsal_and_walk_are_one() -> None:
    session = pair(30, 50, sets=4)
    ends = [s.end for s in session_steps(session) if s.kind == "set"]
    assert ends == [a.end for a in walked(begin_course(session))]
