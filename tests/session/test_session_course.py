"""A session from ready to closed: each step, the whole state after it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from runner.law.timing import Ledger
from runner.progress.adjust import Baseline
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import initial
from runner.session.state import Row, State
from tests.law.builders import exercise, pair, part, timing, workout
from tests.session.mat import GO, Mat, reps


def test_begin_and_first_set_step_by_step() -> None:
    mat = Mat(pair(sets=1, warm_up=60.0, cool_down=30.0))
    opened = initial(mat.workout, mat.baseline)
    (first,) = mat.events
    assert first == ev.Opened(at=0.0, act=1, history=Baseline().as_data())
    assert mat.state == replace(opened, acts=1, log=(first,))

    mat.do(GO, after=5.0)
    begun = ev.Begun(at=5.0, act=2)
    assert mat.latest == [begun]
    warm: State = replace(opened, phase="warm-up", until=65.0, acts=2, log=(first, begun))
    assert mat.state == warm
    assert flow.deadline(mat.state) is None  # its end only tells; the person goes on

    mat.do(GO, after=70.0)
    resting = ev.Resting(at=75.0, act=3, until=85.0, why="lead-in", next="press", side="both")
    assert mat.latest == [resting]
    rest: State = replace(
        warm, phase="rest", rest_from=75.0, until=85.0, why="lead-in", acts=3,
        log=(first, begun, resting),
    )  # fmt: skip
    assert mat.state == rest

    mat.wait(12.0)
    planned_set = opened.course.planned_sets[0]
    fields = {"block": 1, "round": 1, "exercise": "press", "set": 1, "side": "both"}
    where = fields | {"version": "plain", "entry": 1}
    started = ev.Started(at=85.0, act=4, by="clock", **where)  # type: ignore[arg-type]
    assert mat.latest == [started]  # dated at its deadline, not when it was noticed
    course = rest.course.begin()
    running = Row(1, 0, course.planned_sets[0], "both", "running", start=85.0, started_by="clock")
    assert course.planned_sets[0] == replace(planned_set, status="begun")
    assert mat.state == replace(
        rest, phase="set", course=course, rows=(running,), until=None, why="", acts=4,
        log=(*rest.log, started),
    )  # fmt: skip

    mat.do(GO, after=38.0)
    ended = ev.Ended(at=125.0, act=5, by="person", work_s=40.0, **where)  # type: ignore[arg-type]
    held = ev.Entered(at=125.0, act=5, by="clock", hold_s=40.0, **where)  # type: ignore[arg-type]
    more = ev.Resting(at=125.0, act=5, until=165.0, why="changeover", next="row", side="both")
    assert mat.latest == [ended, held, more]
    places = frozenset({("muscle of press", "left"), ("muscle of press", "right")})
    assert mat.state.course.ledger == Ledger(dict.fromkeys(places, 125.0), {})
    assert mat.row == replace(running, status="done", end=125.0, value=40.0, measured=True)
    assert (mat.phase, mat.state.rest_from, mat.state.until) == ("rest", 125.0, 165.0)

    mat.start().do(GO, after=40.0)
    assert mat.names == ["ended", "entered"]
    assert (mat.phase, mat.state.until, mat.coming) == ("wrap-up", 205.0 + 30.0, None)
    assert (mat.row.rest_before, mat.row.recovery) == (40.0, None)

    mat.do(GO, after=1.0)
    assert mat.latest == [ev.Closed(at=206.0, act=8, complete="yes")]
    assert (mat.phase, mat.state.complete, mat.state.until) == ("closed", True, None)


def test_without_a_warm_up_the_lead_in_begins_at_once() -> None:
    mat = Mat().do(GO, after=3.0)
    assert mat.names == ["begun", "resting"]
    assert (mat.phase, mat.state.rest_from, mat.state.until) == ("rest", 3.0, 13.0)


def test_rests_and_recoveries_of_the_rows() -> None:
    mat = Mat(pair(sets=2)).begin()
    for lasting in (40.0, 50.0, 40.0, 40.0):
        mat.set(lasting)
    # After the row of 50 the press is due in 30, but the share is 40: W = 90, need = 80.
    assert [row.rest_before for row in mat.rows] == [None, 40, 40, 40]
    assert [row.recovery for row in mat.rows] == [None, None, 130, 120]
    assert [row.planned_set.exercise for row in mat.rows] == ["press", "row", "press", "row"]
    assert [row.entry for row in mat.rows] == [1, 2, 3, 4]


def test_an_empty_line_in_a_rest_does_nothing() -> None:
    mat = Mat().begin()
    before = mat.state
    assert mat.do(GO, after=2.0).latest == []
    assert mat.state == before


def test_key_starts_wait_for_the_person() -> None:
    mat = Mat(pair(by_key=True)).begin()
    assert mat.state.waits_for_key
    assert flow.deadline(mat.state) is None
    mat.do(GO, after=9.0)
    assert (mat.phase, mat.latest) == ("rest", [])
    assert not flow.rest_is_over(mat.state, mat.now)
    mat.wait(30.0)
    assert (mat.phase, flow.rest_is_over(mat.state, mat.now)) == ("rest", True)
    mat.do(GO, after=1.0)
    assert mat.names == ["started"]
    assert (mat.row.start, mat.row.started_by, mat.row.asked) == (40.0, "person", False)
    mat.do(GO, after=40.0).do(cmd.Ask(15.0), after=60.0)  # over since 20 s: not below now
    assert (mat.state.until, mat.state.asked) == (140.0, 20.0)


def test_advance_does_nothing_before_its_time() -> None:
    mat = Mat().begin()
    assert flow.advance(mat.state, mat.now + 9.9).events == ()
    (started,) = flow.advance(mat.state, mat.now + 10.0).events
    assert (started.event.name, started.phase) == ("started", "set")


def test_one_sided_sets_go_side_by_side() -> None:
    row = exercise("row", 20.0, sides="right first", measure="reps")
    mat = Mat(workout([part(row, 2)])).begin().set(20.0)
    assert (mat.row.side, mat.coming, mat.state.why) == ("right", ("row", 1, "left"), "side")
    assert mat.left == 15.0
    mat.set(25.0)
    assert mat.coming == ("row", 2, "right")
    # right is due 120 after its end, 15 + 25 of which have passed; left in 120, with 20 + 15 ahead
    assert mat.left == 85.0
    mat.set(20.0).set(20.0)
    assert mat.phase == "wrap-up"
    assert [(r.side, r.planned_set.number, r.recovery) for r in mat.rows] == [
        ("right", 1, None),
        ("left", 1, None),
        ("right", 2, 125.0),
        ("left", 2, 120.0),
    ]


@pytest.mark.parametrize("phase", ["ready", "warm-up", "rest", "set", "paused", "wrap-up"])
@pytest.mark.parametrize("by", ["person", "end of input"])
def test_end_in_each_phase(phase: str, by: str) -> None:
    mat = Mat(pair(sets=1, warm_up=60.0))
    if phase != "ready":
        mat.do(GO)
    if phase not in ("ready", "warm-up"):
        mat.do(GO)
    if phase == "set":
        mat.start()
    elif phase == "paused":
        mat.do(cmd.Pause())
    elif phase == "wrap-up":
        mat.to_the_end()
    assert mat.phase == phase
    mat.do(cmd.End(by), after=7.0)  # type: ignore[arg-type]
    closed = mat.latest[-1]
    assert closed == ev.Closed(
        at=mat.now,
        act=closed.act,
        complete="yes" if phase == "wrap-up" else "no",
        by=by,  # type: ignore[arg-type]
    )
    assert mat.state.complete is (phase == "wrap-up")
    if phase == "set":
        assert (mat.row.status, mat.row.work, mat.row.value) == ("broken", 7.0, None)
        assert mat.state.course.ledger.prime["muscle of press", "left"] == mat.now
    assert flow.deadline(mat.state) is None
    assert mat.refused(GO) == "the session is closed"


def test_complete_when_no_set_is_left_though_some_were_left_out() -> None:
    mat = Mat(pair(sets=2)).begin().set().do(cmd.Drop()).do(cmd.Skip())
    assert mat.phase == "wrap-up"
    mat.do(cmd.End())
    assert (mat.state.complete, [row.status for row in mat.rows]) == (True, ["done", "skipped"])


def test_expected_lengths_learn_from_what_was_done() -> None:
    ten = exercise("press", 10.0, measure="reps")
    mat = Mat(workout([part(ten, 4), part(exercise("row", 10.0), 4)])).begin().set(30.0)
    # W = 30 + 10, need = 150 - 40 = 110: a level of 55, held to the ceiling of 47.5 that L needs
    assert mat.left == 47.5
    mat.do(reps(12)).set(30.0)
    assert mat.left == 45.0
    assert mat.state.course.lengths == {
        ("press", "plain", "", "both"): (30.0,),
        ("row", "plain", "", "both"): (30.0,),
    }


def test_memory_of_lengths_shapes_the_first_rest() -> None:
    baseline = Baseline(lengths={("press", "plain", "", "both"): (20.0, 60.0, 60.0, 60.0)})
    law = timing()
    mat = Mat(workout([part(exercise("press"), 2, law), part(exercise("row"), 2, law)]), baseline)
    mat.begin().set(60.0)
    assert mat.left == 40.0  # 60 and 40: need 80
    assert mat.state.course.lengths["press", "plain", "", "both"] == (60.0, 60.0, 60.0)
