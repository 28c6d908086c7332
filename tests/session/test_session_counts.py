"""Counts: entered, late, corrected, left out; what there was to beat; the key that came late."""

from __future__ import annotations

import pytest

from runner.law.workout import Level, Measure, Sides
from runner.progress.adjust import Baseline, beat_key, level_key
from runner.session import events as ev, verb as cmd
from runner.session.entries import doubtful, doubts, set_name, suggestion
from tests.law.builders import exercise, pair, part, workout
from tests.session.mat import GO, Mat, reps, seconds

LOADED = Level("slow", "slow", (("height", "60 cm"),), load=7.5, tempo="2-0-1")


def counted(sets: int = 2) -> Mat:
    """Press and row, both counted in repetitions."""
    parts = [part(exercise(name, measure="reps"), sets) for name in ("press", "row")]
    return Mat(workout(parts))


def sided(sides: Sides = "left first", measure: Measure = "reps") -> Mat:
    row = exercise("row", 20.0, sides=sides, measure=measure)
    return Mat(workout([part(row, 2)]))


def values(mat: Mat) -> list[tuple[str, float | None, bool]]:
    return [(row.side, row.value, row.open) for row in mat.rows]


def test_a_count_goes_to_the_oldest_open_entry_also_during_a_set() -> None:
    mat = counted().begin().set().set().start()
    assert [row.entry for row in mat.state.open_rows] == [1, 2]
    mat.do(cmd.Enter("reps", (cmd.Count(12, 2),)), after=5.0)
    (entered,) = mat.latest
    assert entered == ev.Entered(
        at=mat.now, act=entered.act, block=1, round=1, exercise="press", set=1, side="both",
        version="plain", entry=1, reps=12, reserve=2,
    )  # fmt: skip
    assert (mat.phase, mat.rows[0].value, mat.rows[0].reserve) == ("set", 12.0, 2)
    mat.do(reps(9))
    assert mat.rows[1].value == 9.0
    assert "no count to enter" in mat.refused(reps(9))


def test_an_entry_does_not_move_the_rest() -> None:
    mat = counted().begin().set()
    until = mat.state.until
    mat.do(reps(12), after=39.0)
    assert mat.state.until == until


def test_not_counted_and_counted_after_all() -> None:
    mat = counted().begin().set().do(cmd.NoCount())
    (entered,) = mat.latest
    assert isinstance(entered, ev.Entered)
    assert (entered.counted, entered.reps, mat.row.open, mat.row.counted) == (
        "no",
        None,
        False,
        False,
    )
    mat.do(cmd.Fix(1, "reps", cmd.Count(11)))
    assert mat.names == ["corrected"]
    assert (mat.row.value, mat.row.counted, mat.row.corrected) == (11, True, True)
    mat.do(cmd.NoCount(1))
    assert (mat.names, mat.row.value) == (["corrected"], None)
    assert mat.refused(cmd.NoCount(7)) == "no entry 7; entries so far: 1 to 1"


def test_fix_of_an_open_entry_is_its_first_count() -> None:
    mat = counted().begin().set().do(cmd.Fix(1, "reps", cmd.Count(11)))
    assert (mat.names, mat.row.corrected) == (["entered"], False)
    mat.do(cmd.NoCount(1))
    assert mat.names == ["corrected"]


def test_what_cannot_be_fixed() -> None:
    mat = counted().begin().do(cmd.Skip()).start()
    fix = cmd.Fix(1, "reps", cmd.Count(3))
    assert mat.refused(fix) == "entry 1 was skipped and has no count"
    assert (
        mat.refused(cmd.Fix(2, "reps", cmd.Count(3)))
        == "entry 2 is still running; end the set first"
    )
    assert mat.refused(cmd.Fix(0, "reps", cmd.Count(3))) == "no entry 0; entries so far: 1 to 2"
    mat.do(GO, after=40.0)
    wrong = mat.refused(cmd.Fix(2, "hold", cmd.Count(3)))
    assert wrong == "Row at the hut counts repetitions: 12"


def test_a_set_given_up_has_no_entry_but_can_have_a_count() -> None:
    mat = counted().begin().start().do(cmd.Skip(), after=20.0)
    assert (mat.row.status, mat.row.open, mat.row.work) == ("broken", False, 20.0)
    mat.do(cmd.Fix(1, "reps", cmd.Count(5)))
    assert (mat.names, mat.row.value, mat.row.status) == (["corrected"], 5, "broken")


# -- one-sided ---------------------------


@pytest.mark.parametrize(("sides", "first"), [("left first", 12), ("right first", 14)])
def test_left_and_right_always_in_that_order(sides: Sides, first: int) -> None:
    mat = sided(sides).begin().set()
    mat.do(reps(12, 14))
    assert mat.row.value == first
    assert mat.state.waits == {(0, mat.coming[2]): (26 - first, None)}  # type: ignore[index]
    mat.set()
    assert mat.names == ["ended", "entered", "resting"]
    assert {row.side: row.value for row in mat.rows} == {"left": 12, "right": 14}
    assert (mat.state.waits, mat.state.open_rows) == ({}, ())


def test_left_and_right_during_the_second_side_and_after() -> None:
    mat = sided().begin().set().start().do(reps(12, 14), after=3.0)
    mat.do(GO)
    assert values(mat) == [("left", 12, False), ("right", 14, False)]
    mat.set().set().do(reps(10, 9))
    assert values(mat)[2:] == [("left", 10, False), ("right", 9, False)]
    assert mat.names == ["entered", "entered"]


def test_each_side_after_itself() -> None:
    mat = sided().begin().set().do(reps(12)).set().do(reps(14))
    assert values(mat) == [("left", 12, False), ("right", 14, False)]


def test_two_numbers_where_one_side_has_its_own_already() -> None:
    mat = sided().begin().set().set().do(cmd.Fix(2, "reps", cmd.Count(14)))
    mat.do(reps(12, 14))
    assert (mat.names, values(mat)[1]) == (["entered"], ("right", 14, False))
    again = sided().begin().set().set().do(cmd.Fix(2, "reps", cmd.Count(14)))
    again.do(reps(12, 13))
    assert (again.names, again.rows[1].value) == (["entered", "corrected"], 13)


def test_two_numbers_are_refused_where_they_fit_nothing() -> None:
    two = "two numbers need a one-sided set without a count; write one number"
    assert counted().begin().set().refused(reps(12, 14)) == two
    mat = sided().begin()
    assert mat.refused(reps(12, 14)) == two
    mat.start()
    assert mat.refused(reps(12, 14)) == two  # the first side still runs
    mat.do(GO, after=20.0).do(cmd.Skip())
    left_out = "that set has no right side; write one number"
    assert mat.refused(reps(12, 14)) == left_out
    assert mat.refused(seconds(12, 14)) == two
    assert mat.do(reps(12)).rows[0].value == 12


def test_a_number_that_waits_is_dropped_with_its_side() -> None:
    mat = sided().begin().set().do(reps(12, 14)).do(cmd.Skip())
    assert [(row.side, row.status, row.value) for row in mat.rows] == [
        ("left", "done", 12),
        ("right", "skipped", None),
    ]
    mat.set().set()
    assert [row.value for row in mat.rows] == [12, None, None, None]


# -- holds ---------------------------


def test_the_clock_makes_the_entry_of_a_hold_less_the_reach() -> None:
    mat = Mat(pair(reach=1.5)).begin().set(40.0)
    assert (mat.row.value, mat.row.measured, mat.row.open) == (38.5, True, False)
    mat.set(1.0)
    assert mat.row.value == 0.0  # never under nothing


def test_seconds_correct_the_last_hold() -> None:
    parts = [part(exercise("plank", 30.0)), part(exercise("press", measure="reps"))]
    mat = Mat(workout(parts)).begin().set(30.0).set()
    assert [row.entry for row in mat.state.open_rows] == [2]
    mat.do(seconds(28.5))
    assert (mat.names, mat.rows[0].value, mat.rows[0].corrected) == (["corrected"], 28.5, True)
    assert not mat.rows[0].measured
    assert [row.entry for row in mat.state.open_rows] == [2]
    assert mat.refused(cmd.Fix(1, "reps", cmd.Count(3))) == ("Plank at the hut counts seconds: 45s")


def test_left_and_right_of_a_one_sided_hold() -> None:
    mat = sided(measure="hold").begin().set(20.0)
    mat.do(seconds(19, 18))
    assert mat.names == ["corrected"]
    mat.set(20.0)
    assert [(row.side, row.value) for row in mat.rows] == [("left", 19), ("right", 18)]
    mat.do(seconds(17, 16))
    assert [(row.side, row.value) for row in mat.rows] == [("left", 17), ("right", 16)]
    assert mat.names == ["corrected", "corrected"]
    two_sided = Mat().begin().set()
    assert "one-sided" in two_sided.refused(seconds(19, 18))


def test_repetitions_for_a_hold_are_refused() -> None:
    mat = Mat().begin().start().at_once(cmd.Return())
    assert mat.refused(reps(12)) == "Press at the hut counts seconds: 45s"


# -- to beat ---------------------------


def test_to_beat_and_beaten() -> None:
    press = exercise("press", measure="reps", progression=(LOADED,))
    key = beat_key("press", LOADED, 2, "both")
    assert key == ("press", "slow", "height=60 cm", "7.5", "2-0-1", 2, "both")
    baseline = Baseline(to_beat={key: 12.0})
    mat = Mat(workout([part(press, 3)]), baseline).begin().set().do(reps(20))
    assert (mat.row.to_beat, mat.row.beaten) == (None, None)
    mat.start()
    started = mat.latest[0]
    assert isinstance(started, ev.Started)
    assert (started.to_beat, mat.row.to_beat, mat.row.beaten) == (12.0, 12.0, None)
    mat.do(GO, after=40.0)
    for count, beaten in ((12, "no"), (13, "yes")):
        mat.do(cmd.Fix(2, "reps", cmd.Count(count)))
        (entered,) = mat.latest
        assert isinstance(entered, ev.Entered)
        assert (entered.to_beat, entered.beaten, mat.row.beaten) == (12.0, beaten, beaten)
    mat.do(cmd.NoCount(2))
    assert mat.row.beaten is None


def test_what_was_really_used_changes_what_there_is_to_beat() -> None:
    press = exercise("press", measure="reps", progression=(LOADED,))
    heavier = Level("slow", "slow", (("height", "60 cm"),), load=10.0, tempo="2-0-1")
    baseline = Baseline(
        to_beat={beat_key("press", LOADED, 1, "both"): 12.0,
                 beat_key("press", heavier, 1, "both"): 8.0}
    )  # fmt: skip
    mat = Mat(workout([part(press, 1)]), baseline).begin().start()
    assert mat.row.to_beat == 12.0
    mat.do(cmd.Use(load=10.0)).do(GO, after=40.0).do(reps(9))
    assert (mat.row.to_beat, mat.row.beaten, mat.row.planned_set.level.load) == (8.0, "yes", 10.0)


def test_a_set_with_pain_is_kept_out_of_bests() -> None:
    press = exercise("press", measure="reps", progression=(LOADED,))
    baseline = Baseline(to_beat={beat_key("press", LOADED, 1, "both"): 12.0})
    mat = Mat(workout([part(press, 2)]), baseline).begin().set().do(cmd.Hurt("elbow"))
    assert mat.do(reps(20)).rows[0].beaten is None
    (entered,) = mat.latest
    assert isinstance(entered, ev.Entered)
    assert entered.beaten is None


def test_a_ramp_set_has_nothing_to_beat() -> None:
    press = exercise("press", measure="reps", progression=(LOADED,))
    lighter = Level("slow", "slow", (("height", "60 cm"),), load=3.0, tempo="2-0-1")
    baseline = Baseline(to_beat={beat_key("press", lighter, 1, "both"): 12.0})
    mat = Mat(workout([part(press, 1, ramp=1)]), baseline).begin().start()
    assert (mat.row.planned_set.kind, mat.row.planned_set.level.load, mat.row.to_beat) == (
        "ramp",
        3.0,
        None,
    )


# -- the key came late ---------------------------


def test_late_takes_five_seconds_off_and_moves_the_rest() -> None:
    mat = Mat().begin().set(45.0)
    assert mat.state.until == 55.0 + 40.0
    mat.do(cmd.Late(), after=2.0)
    late = mat.latest[0]
    assert isinstance(late, ev.Late)
    assert (late.seconds, late.work_s, late.entry) == (5.0, 40.0, 1)
    assert (mat.row.work, mat.row.end, mat.row.value) == (40.0, 50.0, 40.0)
    assert (mat.state.rest_from, mat.state.until) == (50.0, 90.0)
    assert mat.state.course.lengths["press", "plain", "", "both"] == (40.0,)
    mat.set().set()
    assert (mat.rows[1].rest_before, mat.rows[2].recovery) == (40.0, 120.0)


def test_late_leaves_the_lead_in_and_never_lengthens_the_rest() -> None:
    mat = Mat().begin().set(45.0).do(cmd.Late(), after=32.0)
    assert (mat.names, mat.left) == (["late"], 8.0)  # less than the lead-in was left already
    near = Mat().begin().set(45.0).do(cmd.Late(), after=27.0)
    assert (near.left, near.state.why) == (10.0, "lead-in")  # not 8, for 90


def test_late_with_what_was_asked_for() -> None:
    mat = Mat().begin().set(45.0).do(cmd.Ask(15.0)).do(cmd.Late())
    assert mat.state.until == 90.0 + 15.0


def test_late_during_the_next_set_changes_what_it_had() -> None:
    mat = Mat(workout([part(exercise("press"), 3)])).begin().set().set(50.0).start()
    assert (mat.row.rest_before, mat.row.recovery) == (120.0, 120.0)
    mat.do(cmd.Late(), after=3.0)
    assert mat.names == ["late"]
    assert (mat.row.rest_before, mat.row.recovery) == (125.0, 125.0)
    assert mat.rows[1].work == 45.0
    assert mat.state.course.ledger.prime["muscle of press", "left"] == mat.rows[1].end


def test_late_between_the_sides_and_in_the_second() -> None:
    mat = sided().begin().set(25.0).do(cmd.Late())
    assert (mat.row.work, mat.left) == (20.0, 10.0)
    mat.start().do(cmd.Late(), after=1.0)
    assert (mat.rows[0].work, mat.rows[1].rest_before) == (15.0, 20.0)
    mat.do(GO, after=20.0).set(20.0).start()
    assert mat.row.recovery == pytest.approx(mat.row.start - mat.rows[1].end)  # type: ignore[operator]


def test_late_in_the_first_side_of_the_next_set() -> None:
    mat = sided().begin().set(20.0).set(25.0).start().do(cmd.Late(), after=2.0)
    right = ("muscle of row", "right")
    assert mat.state.course.before_set.prime[right] == mat.rows[1].end
    assert mat.state.course.ledger.prime[right] == mat.rows[1].end


def test_late_where_there_is_nothing_to_take_off() -> None:
    mat = Mat().begin()
    assert mat.refused(cmd.Late()) == "no set has ended yet"
    mat.set(4.0)
    assert mat.refused(cmd.Late()) == "Press at the hut, set 1, lasted only 4.0 s"
    broken = Mat().begin().start().do(cmd.Skip(), after=30.0)
    assert broken.refused(cmd.Late()) == (
        "Press at the hut, set 1, was given up; only the end of a set that was done can move"
    )


def test_late_after_a_ramp_set_teaches_no_length() -> None:
    mat = Mat(workout([part(exercise("press"), 1, ramp=1)])).begin().set().do(cmd.Late())
    assert (mat.row.work, mat.state.course.lengths) == (35.0, {})


def test_late_after_the_last_set() -> None:
    mat = Mat(pair(sets=1, cool_down=60.0)).begin().to_the_end().do(cmd.Late(), after=3.0)
    assert (mat.phase, mat.row.work, mat.names) == ("wrap-up", 35.0, ["late"])


def test_late_leaves_a_corrected_hold_alone() -> None:
    mat = Mat().begin().set().do(seconds(38)).do(cmd.Late())
    assert (mat.row.value, mat.row.work) == (38, 35.0)


# -- Doubtful counts, by screens.md: 0, over twice the top, over 1.5 times the best and 5 more -----

BAND = exercise("press", measure="reps", rep_range=(8.0, 12.0))
PLAIN = Level("plain", "plain")


@pytest.mark.parametrize(
    ("count", "best", "asks"),
    [
        (0, None, True),
        (1, None, False),
        (24, None, False),
        (25, None, True),
        (122, None, True),
        (12, 8, False),  # 1.5 times the best, not over it
        (13, 8, True),
        (14, 9, True),
        (13, 9, False),  # over 1.5 times, but only four more
        (5, 1, False),
        (6, 1, True),
        (24, 40, False),
        (25, 40, True),
    ],
)
def test_a_doubtful_count(count: float, best: float | None, *, asks: bool) -> None:
    assert bool(doubtful(count, 12.0, best)) is asks


def test_doubts_of_a_command_name_the_set_that_it_goes_to() -> None:
    baseline = Baseline(best={level_key("press", PLAIN): 8.0})
    mat = Mat(workout([part(BAND, 2)]), baseline).begin()
    assert doubts(mat.state, reps(122)) == ()  # refused all the same
    mat.set().set()
    (doubt,) = doubts(mat.state, reps(13))
    assert (set_name(mat.state, doubt.row), doubt.value) == ("PRESS 1", 13)
    assert doubt.why == "far above the best, 8"
    assert doubts(mat.state, reps(12)) == ()
    mat.do(reps(12))
    fix = cmd.Fix(1, "reps", cmd.Count(120))
    assert [one.why for one in doubts(mat.state, fix)] == [
        "over twice the top of the rep range, 12"
    ]
    assert doubts(mat.state, cmd.Proceed()) == ()


def test_each_side_is_doubted_by_itself() -> None:
    mat = sided().begin().set().set()
    found = doubts(mat.state, reps(12, 0))
    assert [(set_name(mat.state, one.row), one.value) for one in found] == [("ROW L 1", 0)]


def test_a_best_comes_back_with_the_events_and_an_old_session_has_none() -> None:
    baseline = Baseline(best={level_key("press", LOADED): 14.0})
    assert Baseline.from_data(baseline.as_data()) == baseline
    assert "best" not in Baseline().as_data()


def test_what_is_suggested() -> None:
    """The count to beat, else the last one today at that level, else the bottom of the range."""
    baseline = Baseline(to_beat={beat_key("press", PLAIN, 2, "both"): 11.0})
    mat = Mat(workout([part(BAND, 3)]), baseline).begin().set().set().set()
    assert [suggestion(mat.state, row) for row in mat.rows] == [8.0, 11.0, 8.0]
    mat.do(reps(9))
    assert [suggestion(mat.state, row) for row in mat.rows[1:]] == [11.0, 9.0]
    mat.do(reps(10))
    assert suggestion(mat.state, mat.rows[2]) == 10.0
    mat.do(cmd.Use(load=4.0))  # the third set was done at another level
    assert suggestion(mat.state, mat.rows[2]) == 8.0


def test_what_is_said_once_the_session_is_closed_corrects_it() -> None:
    mat = counted().begin().set().set().do(reps(12)).do(cmd.End())
    mat.do(reps(9))
    assert (mat.names, mat.phase, values(mat)[1]) == (["corrected"], "closed", ("both", 9.0, False))
    mat.do(cmd.Fix(1, "reps", cmd.Count(13)))
    mat.do(cmd.Rate(7))
    assert (mat.rows[0].value, mat.state.rpe) == (13.0, 7)
    assert "no count to enter" in mat.refused(cmd.NoCount())
    assert mat.refused(cmd.Note("late")) == "the session is closed"
