"""Plays the trainee in a rehearsal, on time.

Pure: from a state to the next act and its session second. Counts stay missing, since there are
none.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from runner.session import flow, verb as cmd
from runner.session.apply import TurnResult
from runner.session.state import State


class Act(NamedTuple):
    """A command, and the session second at which it is given."""

    at: float
    command: cmd.Command


def next_act(state: State) -> Act | None:
    """What is done next if nothing happens before it; None where nobody is waited for.

    A set ends after its expected length, warm-up and cool-down when their time is over, and a
    rest that waits for a key is followed at once. To begin, and to go on after a pause, is left
    to whoever watches.
    """
    at = _instant(state)
    if at is None:
        return None
    earliest = state.log[-1].at if state.log else 0.0  # an undo may come after the instant
    return Act(max(at, earliest), cmd.Proceed())


def _instant(state: State) -> float | None:
    row = state.running
    if row is not None and row.start is not None:
        return row.start + state.course.expected(row.planned_set, row.side)
    if state.phase in ("warm-up", "wrap-up") or (state.phase == "rest" and state.waits_for_key):
        return state.until
    return None


def due(state: State) -> float | None:
    """When something happens next, by time or by that person; None while nothing will."""
    act, deadline = next_act(state), flow.deadline(state)
    times = [at for at in (act.at if act else None, deadline) if at is not None]
    return min(times, default=None)


def come_due(state: State, now: float) -> TurnResult:
    """What has happened next by `now`, dated at its own instant."""
    act, deadline = next_act(state), flow.deadline(state)
    if act is not None and act.at <= now and (deadline is None or act.at <= deadline):
        return flow.handle(state, act.command, act.at)
    return flow.advance(state, now)


def play_on(state: State) -> Iterator[TurnResult]:
    """All that happens from here on by time and that person, one act after another."""
    while (at := due(state)) is not None:
        result = come_due(state, at)
        yield result
        state = result.state
