"""The trainee of a rehearsal does everything on time, and never before what has just happened."""

from __future__ import annotations

from runner.planning import trainee
from runner.session import verb as cmd
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat


def test_what_was_taken_back_is_done_again_no_earlier_than_that() -> None:
    there = Mat(workout([part(exercise("press", 30.0), 2)])).begin().start()
    act = trainee.next_act(there.state)
    assert act is not None
    assert (act.at, act.command) == (there.now + 30, GO)
    there.do(GO, after=30).do(cmd.Undo(), after=5)
    assert there.phase == "set"
    again = trainee.next_act(there.state)
    assert again is not None
    assert again.at == there.now
    result = trainee.come_due(there.state, there.now)
    assert [one.event.at for one in result.events] == [there.now] * len(result.events)


def test_nobody_is_waited_for_before_the_begin_and_in_a_pause() -> None:
    there = Mat(workout([part(exercise("press", 30.0), 2)], warm_up=60.0))
    assert trainee.next_act(there.state) is None
    warming = there.do(GO)
    act = trainee.next_act(warming.state)
    assert act is not None
    assert act.at == 60
    warming.do(cmd.Pause(), after=20)
    assert trainee.next_act(warming.state) is None
    assert trainee.due(warming.state) is None
