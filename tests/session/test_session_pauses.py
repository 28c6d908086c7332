"""The body does not pause: pauses, a suspended laptop, a session that was cut off."""

from __future__ import annotations

import pytest

from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import replay
from tests.law.builders import exercise, pair, part, workout
from tests.session.mat import GO, Mat, reps


def test_pause_in_a_rest_keeps_the_planned_instant() -> None:
    mat = Mat().begin().set()
    mat.do(cmd.Pause(), after=5.0)
    assert (mat.phase, mat.state.before_pause, mat.state.paused_at) == ("paused", "rest", 55.0)
    assert flow.deadline(mat.state) is None
    mat.do(GO, after=10.0)
    assert mat.latest == [ev.Resumed(at=65.0, act=mat.state.acts)]
    assert (mat.phase, mat.state.until, mat.state.paused_at) == ("rest", 90.0, None)


@pytest.mark.parametrize("away", [25.0, 30.0, 500.0])
def test_after_a_longer_pause_the_lead_in_is_left(away: float) -> None:
    mat = Mat().begin().set().do(cmd.Pause(), after=5.0).wait(away)
    assert mat.phase == "paused"  # nothing starts by itself meanwhile
    mat.do(GO)
    assert mat.left == max(35.0 - away, 10.0)
    assert mat.state.why == ("lead-in" if away > 25 else "changeover")
    mat.set()
    assert mat.row.rest_before == max(40.0, 5.0 + away + 10.0)
    mat.set()
    # the press has had all that time: its recovery went on
    assert mat.row.recovery == pytest.approx(mat.row.start - 50.0 if mat.row.start else None)


def test_pause_ends_a_running_set() -> None:
    mat = Mat().begin().start().do(cmd.Pause(), after=25.0)
    assert mat.names == ["ended", "entered", "resting", "paused"]
    assert (mat.phase, mat.row.status, mat.row.work, mat.row.value) == ("paused", "done", 25, 25)
    assert mat.state.course.lengths["press", "plain", "", "both"] == (25.0,)
    mat.do(GO, after=100.0)
    assert (mat.coming, mat.left) == (("row", 1, "both"), 10.0)
    mat.set().start()
    assert mat.row.recovery == 100 + 10 + 40 + mat.row.rest_before  # type: ignore[operator]


def test_pause_between_the_sides() -> None:
    mat = Mat(workout([part(exercise("row", sides="left first"))])).begin().start()
    mat.do(cmd.Pause(), after=30.0).do(GO, after=60.0).set()
    assert [(row.side, row.rest_before) for row in mat.rows] == [("left", None), ("right", 70.0)]
    assert mat.coming == ("row", 2, "left")


def test_pause_of_the_last_set_ends_the_work() -> None:
    mat = Mat(pair(sets=1)).begin().set().start().do(cmd.Pause(), after=40.0)
    assert (mat.phase, mat.names) == ("wrap-up", ["ended", "entered"])
    assert "pause works in a set or a rest" in mat.refused(cmd.Pause())


def test_pause_in_the_warm_up_gives_its_time_back() -> None:
    mat = Mat(pair(warm_up=60.0)).do(GO).do(cmd.Pause(), after=20.0).do(GO, after=500.0)
    assert (mat.phase, mat.state.until) == ("warm-up", 560.0)


def test_what_was_asked_for_outlasts_a_pause() -> None:
    mat = Mat().begin().set().do(cmd.Ask(15.0)).do(cmd.Pause()).do(GO, after=5.0)
    assert (mat.state.until, mat.state.asked) == (105.0, 15.0)
    mat.start()
    assert (mat.row.asked, mat.row.rest_before) == (True, 55.0)


def test_skip_and_drop_while_paused() -> None:
    mat = Mat(pair(sets=2)).begin().set().do(cmd.Pause(), after=5.0)
    mat.do(cmd.Skip(), after=5.0)
    assert (mat.phase, mat.coming, mat.state.until) == ("paused", ("press", 2, "both"), 170.0)
    mat.do(GO, after=5.0)
    assert (mat.phase, mat.state.until) == ("rest", 170.0)
    mat.do(cmd.Pause()).do(cmd.Drop()).do(cmd.Drop())
    assert (mat.phase, mat.state.before_pause, mat.state.paused_at) == ("wrap-up", None, None)


# -- a laptop that was suspended ---------------------------


def test_a_suspend_is_noticed_afterwards() -> None:
    mat = Mat().begin().start().wait(30.0)
    mat.now += 600.0  # asleep
    mat.at_once(cmd.Pause("suspend", since=41.0))
    ended, held, resting, paused = mat.latest
    assert (ended.at, held.at, resting.at, paused.at) == (41.0, 41.0, 41.0, 41.0)
    assert isinstance(paused, ev.Paused)
    assert paused.why == "suspend"
    assert (mat.row.work, mat.state.until) == (31.0, 85.5)  # as planned, long over
    mat.do(GO, after=3.0)
    assert mat.left == 10.0


def test_a_suspend_does_not_begin_before_what_was_known() -> None:
    mat = Mat().begin().set().do(cmd.Note("cold"), after=8.0)
    mat.now += 600.0
    mat.at_once(cmd.Pause("suspend", since=12.0))
    assert mat.state.paused_at == 58.0


# -- cut off and back ---------------------------


def cut_off(mat: Mat, away: float) -> Mat:
    """The program is gone, and comes back: a new one replays what was kept."""
    back = Mat(mat.workout, mat.baseline)
    back.events, back.state = mat.events, replay(mat.workout, mat.baseline, mat.events)
    back.now = mat.now + away
    return back.at_once(cmd.Return())


def test_a_set_cut_off_has_no_known_length() -> None:
    row = exercise("row", measure="reps")
    mat = Mat(workout([part(exercise("press", measure="reps")), part(row)])).begin().start()
    back = cut_off(mat.wait(12.0), away=300.0)
    assert back.names == ["ended", "resting", "resumed", "resting"]
    ended = back.latest[0]
    assert isinstance(ended, ev.Ended)
    assert (ended.at, ended.work_s, ended.by) == (50.0, None, "clock")  # start + expected
    row_back = back.row
    assert (row_back.status, row_back.cut_off, row_back.work) == ("done", True, None)
    assert row_back.open
    assert back.state.course.lengths == {}
    assert back.state.course.ledger.prime["muscle of press", "left"] == 50.0
    assert (back.phase, back.left, back.coming) == ("rest", 10.0, ("row", 1, "both"))
    back.do(reps(9))
    assert back.rows[0].value == 9
    assert "no set has ended" in back.refused(cmd.Late())


def test_a_set_cut_off_ended_at_the_latest_at_the_return() -> None:
    mat = Mat().begin().start()
    back = cut_off(mat.wait(12.0), away=8.0)
    assert back.rows[0].end == 30.0
    assert back.state.until == 70.0  # 40 from there, more than the lead-in


def test_the_seconds_of_a_hold_cut_off_are_asked_for() -> None:
    back = cut_off(Mat().begin().start(), away=100.0)
    assert [row.open for row in back.rows] == [True]
    back.do(cmd.Enter("hold", (cmd.Count(33.5),)))
    assert (back.rows[0].value, back.rows[0].corrected, back.state.open_rows) == (33.5, False, ())


def test_a_count_that_waited_meets_a_side_cut_off() -> None:
    row = exercise("row", sides="left first", measure="reps")
    mat = Mat(workout([part(row)])).begin().set().do(reps(12, 14)).start()
    back = cut_off(mat, away=5.0)
    assert [row.value for row in back.rows] == [12, 14]


@pytest.mark.parametrize(
    ("away", "left"), [(1.0, 34.0), (20.0, 15.0), (25.0, 10.0), (35.0, 10.0), (3000.0, 10.0)]
)
def test_cut_off_in_a_rest(away: float, left: float) -> None:
    back = cut_off(Mat().begin().set().wait(5.0), away)
    assert (back.phase, back.left, back.coming) == ("rest", left, ("row", 1, "both"))
    assert back.set().rows[1].recovery is None


def test_cut_off_elsewhere() -> None:
    ready = cut_off(Mat(), 9.0)
    assert (ready.phase, ready.names) == ("ready", ["resumed"])
    warm = cut_off(Mat(pair(warm_up=60.0)).do(GO), 100.0)
    assert (warm.phase, warm.state.until) == ("warm-up", 60.0)
    paused = cut_off(Mat().begin().set().do(cmd.Pause(), after=2.0), 100.0)
    assert (paused.phase, paused.left, paused.state.paused_at) == ("rest", 10.0, None)
    over = cut_off(Mat(pair(sets=1)).begin().to_the_end(), 100.0)
    assert over.phase == "wrap-up"
    assert over.do(GO).state.complete


def test_cut_off_in_the_last_set() -> None:
    back = cut_off(Mat(pair(sets=1)).begin().set().start(), 1000.0)
    assert (back.phase, back.names) == ("wrap-up", ["ended", "resumed"])
    assert back.row.open


def test_cut_off_where_sets_wait_for_the_key() -> None:
    back = cut_off(Mat(pair(by_key=True)).begin(), 1000.0)
    assert (back.phase, back.left) == ("rest", 10.0)
    assert back.do(GO).latest == []
    assert back.do(GO, after=10.0).names == ["started"]
