"""What is aimed at, the recovery that each prime mover has, and the cues that time will bring."""

from __future__ import annotations

from runner.law.workout import Level
from runner.progress.adjust import Baseline, beat_key
from runner.session import sounds, verb as cmd
from runner.session.aims import aim, recovering, target_time, too_light
from tests.law.builders import exercise, pair, part, workout
from tests.session.mat import GO, Mat, reps

BAND = exercise("press", measure="reps", rep_range=(8.0, 12.0))
HOLD = exercise("plank", rep_range=(20.0, 60.0))


def test_what_is_aimed_at() -> None:
    assert aim(BAND) == "8 to 12, stop with 2 in reserve"
    assert aim(HOLD) == "20 to 60 s"
    assert [too_light(BAND, count) for count in (12, 13)] == [False, True]


def test_the_mark_of_a_hold_has_the_reach_on_top() -> None:
    baseline = Baseline(to_beat={beat_key("plank", Level("plain", "plain"), 2, "both"): 33.5})
    mat = Mat(workout([part(HOLD, 2)], reach=1.5), baseline).begin().start()
    assert target_time(mat.state, mat.row) == 21.5
    assert sounds.ahead(mat.state) == [(10 + 21.5, "mark")]
    mat.do(GO, after=20.0).start()
    assert target_time(mat.state, mat.row) == 35.0
    repetitions = Mat(workout([part(BAND, 2)])).begin().start()
    assert target_time(repetitions.state, repetitions.row) is None


def test_recovery_had_of_the_one_aimed_at() -> None:
    mat = Mat(pair()).begin()
    press, row = "muscle of press", "muscle of row"
    assert recovering(mat.state, mat.now) == [
        (press, "both", None, 120.0),
        (row, "both", None, 120.0),
    ]
    mat.set().set()
    assert recovering(mat.state, mat.now + 10.0) == [
        (press, "both", 90.0, 120.0),
        (row, "both", 10.0, 120.0),
    ]
    mat.start()
    assert recovering(mat.state, mat.now)[0][2] == 0.0  # it works
    mat.do(GO, after=40.0).to_the_end()
    assert recovering(mat.state, mat.now) == []  # none remains


def test_a_muscle_has_recovered_when_the_law_lets_it_work_again() -> None:
    mat = Mat(workout([part(BAND, 2)])).begin().set()
    assert mat.state.until is not None
    (had,) = (line[2:] for line in recovering(mat.state, mat.state.until))
    assert had == (120.0, 120.0)


def test_recovery_of_each_side() -> None:
    row = exercise("row", prime=["lats", "biceps"], sides="left first")
    mat = Mat(workout([part(row, 2)])).begin().set().set()
    found = recovering(mat.state, mat.now)
    assert [line[:2] for line in found] == [
        ("lats", "left"),
        ("lats", "right"),
        ("biceps", "left"),
        ("biceps", "right"),
    ]
    assert [line[2] for line in found] == [55.0, 0.0, 55.0, 0.0]


# -- cues ----------------------------------------------------------------------------------------


def cue_of(mat: Mat, command: cmd.Command) -> sounds.Cue | None:
    before = mat.state
    mat.do(command)
    return sounds.of_events(mat.latest, before, mat.state)


def test_the_last_seconds_of_a_rest_are_counted() -> None:
    mat = Mat(pair(warm_up=60.0, cool_down=30.0))
    assert sounds.ahead(mat.state) == []
    mat.do(GO)
    assert sounds.ahead(mat.state) == [(60.0, "mark")]
    mat.do(GO, after=60.0)
    assert sounds.ahead(mat.state) == [
        (67.0, "count"),
        (68.0, "count"),
        (69.0, "count"),
        (70.0, "start"),
    ]
    mat.to_the_end()
    assert sounds.ahead(mat.state) == [(mat.now + 30.0, "done")]
    mat.do(GO)
    assert sounds.ahead(mat.state) == []
    over = Mat(pair(sets=1)).begin().to_the_end()
    assert sounds.ahead(over.state) == []  # no cool-down


def test_a_short_rest_counts_what_there_is_of_it() -> None:
    mat = Mat(pair(lead_in=2.5)).do(GO)
    assert sounds.ahead(mat.state) == [(0.5, "count"), (1.5, "count"), (2.5, "start")]


def test_a_rest_that_waits_for_the_key_has_a_mark() -> None:
    mat = Mat(pair(by_key=True)).begin()
    assert sounds.ahead(mat.state)[-1] == (10.0, "mark")


def test_repetitions_have_no_mark() -> None:
    assert sounds.ahead(Mat(workout([part(BAND)])).begin().start().state) == []


def test_what_happens_has_its_cue() -> None:
    row = exercise("row", sides="left first", measure="reps")
    mat = Mat(workout([part(row, 1), part(BAND, 1)], [part(HOLD, 1)]))
    assert cue_of(mat, GO) == "begin"
    assert cue_of(mat, cmd.StartNow()) == "start"
    assert cue_of(mat.wait(30.0), GO) == "switch"
    mat.start()
    assert cue_of(mat.wait(30.0), GO) == "ended"
    assert cue_of(mat, reps(12, 14)) == "logged"
    assert cue_of(mat, cmd.Ask(15.0)) is None
    mat.start()
    assert cue_of(mat.wait(30.0), GO) == "block"
    mat.start()
    assert cue_of(mat.wait(30.0), GO) == "block"  # a count is still to be entered
    assert cue_of(mat, reps(15)) == "done"
