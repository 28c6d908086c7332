"""What is left of a running session: when it is expected to be over, and how to shorten it."""

from __future__ import annotations

from typing import NamedTuple

from runner.core import forecast
from runner.core.course import Course
from runner.core.rehearsal.fit import Fit, fit
from runner.core.session.state import State


class Left(NamedTuple):
    """What is still to come, from where the law counts it on. Session seconds."""

    course: Course  # no bout is running in it
    since: float  # where its first rest begins
    shift: float = 0.0  # that rest is longer by so much than the law says: asked for, or a pause


def left_of(state: State, now: float) -> Left:
    """The rest of a session; a set under way ends when it is expected to, at the earliest now."""
    course, row = state.course, state.running
    if row is not None and row.start is not None:
        end = max(row.start + course.expected(row.slot, row.side), now)
        return Left(course.finish(end, None), end)
    if state.phase == "ready":
        return Left(course, now + state.workout.warm_up)
    since, until = state.rest_from, _until(state, now)
    if since is None:
        return Left(course, now if until is None else until)
    shift = 0.0
    if until is not None and course.next is not None:
        shift = until - (since + course.rest().seconds)
    return Left(course, since, shift)


def _until(state: State, now: float) -> float | None:
    """When warm-up or rest are over, at the earliest now; as if a pause ended now."""
    if state.until is None:
        return None
    if state.phase != "paused" or state.paused_at is None:
        return max(state.until, now)
    if state.before_pause == "warm-up":  # it stands still, unlike a rest
        return state.until + now - state.paused_at
    return max(state.until, now + state.workout.lead_in)


def finish(state: State, now: float) -> float | None:
    """Session second at which everything is expected to be over, by the law from here on.

    None before the begin and after the end.
    """
    if state.phase in ("ready", "closed"):
        return None
    if state.phase == "wrap-up":
        return state.until
    return end_of(state, now)


def end_of(state: State, now: float) -> float:
    """The same, with the begin taken to be now."""
    left = left_of(state, now)
    steps = forecast.rest_of(left.course, left.since)
    end = steps[-1].end + left.shift if steps else max(left.since, now)
    return end + state.workout.cool_down


def fit_left(state: State, now: float, until: float) -> Fit:
    """What to leave out so that all is over by session second `until`."""
    left = left_of(state, now)
    tail = state.workout.cool_down + left.shift
    return fit(left.course, left.since, until, tail=tail)
