"""Sets written up from paper, and entries put right once the session is closed."""

from __future__ import annotations

import pytest

from runner.law.workout import Level
from runner.progress.adjust import Baseline, beat_key
from runner.session import flow, verb as cmd
from runner.session.apply import Refused, replay
from tests.law.builders import exercise, pair, part, workout
from tests.session.mat import Mat, reps

LEVELS = (Level("light", "light", load=4.0), Level("heavy", "heavy", load=8.0))
PRESS = exercise("press", measure="reps", progression=LEVELS)
ROW = exercise("row", measure="reps", sides="left first")


def hut(baseline: Baseline | None = None) -> Mat:
    return Mat(workout([part(PRESS), part(ROW)]), baseline)


def one(count: float, reserve: int | None = None) -> tuple[tuple[str, cmd.Count], ...]:
    return (("both", cmd.Count(count, reserve)),)


def test_a_set_written_up_has_its_count_and_none_of_its_times() -> None:
    baseline = Baseline(to_beat={beat_key("press", LEVELS[0], 1, "both"): 11.0})
    mat = hut(baseline).do(cmd.WriteUp(0, 0, one(12, 2), load=4.0, note="cold"))
    row = mat.row
    assert (row.status, row.value, row.reserve, row.to_beat, row.beaten) == (
        "done", 12.0, 2, 11.0, "yes",
    )  # fmt: skip
    assert (row.start, row.end, row.work, row.rest_before, row.recovery) == (None,) * 5
    assert (row.started_by, row.note, mat.phase) == (None, "cold", "ready")


def test_what_was_really_used_is_kept_and_has_its_own_count_to_beat() -> None:
    baseline = Baseline(to_beat={beat_key("press", LEVELS[0], 1, "both"): 11.0})
    mat = hut(baseline).do(cmd.WriteUp(0, 1, one(12), load=10.0))
    assert (mat.row.planned_set.level.version, mat.row.planned_set.level.load) == ("heavy", 10.0)
    assert mat.row.to_beat is None


def test_sides_left_out_sets_left_out_and_sets_not_counted() -> None:
    mat = hut().do(cmd.WriteUp(1, 0, (("left", cmd.Count(9)), ("right", None))))
    assert [(r.side, r.status, r.value, r.counted) for r in mat.rows] == [
        ("left", "done", 9.0, True),
        ("right", "done", None, False),
    ]
    mat.do(cmd.WriteUp(0, 0))
    assert (mat.row.status, mat.row.value) == ("skipped", None)


def test_pain_is_a_note_on_every_row_and_beats_nothing() -> None:
    baseline = Baseline(to_beat={beat_key("press", LEVELS[0], 1, "both"): 11.0})
    mat = hut(baseline).do(cmd.WriteUp(0, 0, one(12), load=4.0, pain="left elbow", note="cold"))
    assert (mat.row.pain, mat.row.beaten, mat.row.note) == (True, None, "pain: left elbow\ncold")


def test_complete_when_no_work_set_is_left_whatever_the_lighter_ones() -> None:
    mat = Mat(workout([part(PRESS, 1, ramp=2)])).do(cmd.WriteUp(2, 0, one(12)))
    assert mat.do(cmd.End()).state.complete is True
    mat = hut().do(cmd.WriteUp(0, 0, one(12))).do(cmd.End())
    assert mat.state.complete is False


def test_it_is_written_up_before_it_is_begun_and_once() -> None:
    mat = hut().do(cmd.WriteUp(0, 0, one(12)))
    assert "already" in mat.refused(cmd.WriteUp(0, 0, one(12)))
    assert "is running" in Mat(pair()).begin().refused(cmd.WriteUp(0, 0, one(12)))


def test_an_entry_of_a_closed_session_is_put_right() -> None:
    mat = Mat(workout([part(PRESS, 2)])).begin().set().do(reps(12)).do(cmd.End())
    result = flow.correct(mat.state, cmd.Fix(1, "reps", cmd.Count(10, 1)), 86400.0)
    row = result.state.rows[0]
    assert (row.value, row.reserve, row.corrected) == (10.0, 1, True)
    assert (result.state.phase, result.state.complete) == ("closed", mat.state.complete)
    events = [*mat.events, *(one.event for one in result.events)]
    assert replay(mat.workout, mat.baseline, events) == result.state


def test_what_cannot_be_put_right() -> None:
    mat = Mat(workout([part(PRESS, 2)])).begin().set()
    with pytest.raises(Refused, match="not closed"):
        flow.correct(mat.state, cmd.Fix(1, "reps", cmd.Count(10)), 99.0)
    mat.do(cmd.End())
    for command, said in (
        (cmd.Fix(7, "reps", cmd.Count(10)), "no entry 7"),
        (cmd.Fix(1, "hold", cmd.Count(10)), "repetitions"),
        (cmd.NoCount(), "name the entry: fix N nocount"),
    ):
        with pytest.raises(Refused, match=said):
            flow.correct(mat.state, command, 99.0)
    state = flow.correct(mat.state, cmd.NoCount(1), 99.0).state
    assert (state.rows[0].counted, state.rows[0].corrected, state.rows[0].open) == (
        False, True, False,
    )  # fmt: skip
