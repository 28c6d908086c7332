"""A whole session of an hour, driven by a clock that is set by hand."""

from __future__ import annotations

from runner.law.workout import Workout
from runner.planning.forecast import session_steps, total
from runner.progress.adjust import Baseline
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import TurnResult, initial, replay
from runner.session.state import State
from tests.law.builders import exercise, part, timing, workout


def morning() -> Workout:
    """Three pairs, one-sided legs with a breather, a hold; warm-up and cool-down."""
    legs = timing(breather=60.0)
    return workout(
        [part(exercise("press", measure="reps"), 4), part(exercise("row", measure="reps"), 4)],
        [
            part(exercise("split", 40.0, sides="left first", measure="reps"), 4, legs),
            part(exercise("pull", measure="reps"), 4),
        ],
        [part(exercise("dip", 30.0, measure="reps"), 4), part(exercise("curl", 30.0), 4)],
        [part(exercise("raise", 30.0, measure="reps"), 4), part(exercise("plank", 60.0), 4)],
        warm_up=420.0,
        cool_down=300.0,
    )


def drive(plan: Workout) -> tuple[State, list[ev.Event]]:
    """The session as a person would do it who takes as long as expected."""
    state = initial(plan, Baseline())
    events: list[ev.Event] = []
    now = 0.0

    def take(result: TurnResult) -> State:
        events.extend(one.event for one in result.events)
        return result.state

    state = take(flow.opened(state))
    state = take(flow.handle(state, cmd.Proceed(), now))
    now += plan.warm_up
    state = take(flow.handle(state, cmd.Proceed(), now))
    while state.phase != "wrap-up":
        due = flow.deadline(state)
        assert due is not None
        state = take(flow.advance(state, due))
        row = state.running
        assert row is not None
        now = due + state.course.expected(row.planned_set, row.side)
        state = take(flow.handle(state, cmd.Proceed(), now))
        for _ in state.open_rows:
            state = take(flow.handle(state, cmd.Enter("reps", (cmd.Count(12),)), now))
    now += plan.cool_down
    return take(flow.handle(state, cmd.Proceed(), now)), events


def test_an_hour_by_the_manual_clock_is_the_rehearsal() -> None:
    plan = morning()
    state, events = drive(plan)
    steps = session_steps(plan)
    assert events[-1].at == total(steps)
    assert events[-1].at >= 3600.0
    assert state.complete
    done = [(row.planned_set.exercise, row.side, row.start, row.end) for row in state.rows]
    assert done == [
        (step.planned_set.exercise, step.side, step.start, step.end)
        for step in steps
        if step.planned_set is not None
    ]
    assert [row.recovery for row in state.rows] == [s.recovered for s in steps if s.planned_set]
    assert len(done) == 36
    assert replay(plan, Baseline(), events) == state
