"""What is still to come, changed: skip, drop, asked for, swap."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from runner.law.workout import Exercise, Level
from runner.progress.adjust import Baseline
from runner.session import events as ev, verb as cmd
from runner.session.apply import Refused
from runner.session.verb import VERBS
from tests.law.builders import exercise, pair, part, timing, workout
from tests.session.mat import GO, Mat

WEIGHTS = tuple(Level("sack", "sack", load=kg, load_step=2.0) for kg in (8.0, 10.0, 12.0))


def todo(mat: Mat) -> list[tuple[str, int]]:
    """Exercise and number of the sets that are still to come."""
    return [(s.exercise, s.number) for s in mat.state.course.planned_sets if s.status == "todo"]


# -- skip and drop ---------------------------


def test_skip_in_a_rest_decides_it_anew_from_the_same_end() -> None:
    mat = Mat().begin().set().do(cmd.Skip("no bar"), after=10.0)
    skipped, resting = mat.latest
    assert isinstance(skipped, ev.Skipped)
    assert isinstance(resting, ev.Resting)
    assert (skipped.why, skipped.given_up, skipped.entry) == ("no bar", "no", 2)
    row = mat.row
    assert (row.status, row.start, row.end, row.open) == ("skipped", None, None, False)
    assert (resting.until, resting.why, resting.next) == (170.0, "recovery", "press")
    assert mat.state.rest_from == 50.0


def test_skip_leaves_at_least_the_lead_in() -> None:
    parts = [part(exercise(name)) for name in ("press", "row", "squat", "plank")]
    mat = Mat(workout(parts)).begin().set().do(cmd.Skip(), after=29.0)
    # still 30 from the end of the press, of which 1 is left
    assert (mat.coming, mat.left, mat.state.why) == (("squat", 1, "both"), 10.0, "lead-in")


def test_a_set_given_up_counts_to_that_instant() -> None:
    mat = Mat(pair(sets=2)).begin().start().do(cmd.Skip(), after=12.0)
    skipped = mat.latest[0]
    assert isinstance(skipped, ev.Skipped)
    assert (skipped.why, skipped.given_up) == ("asked", "yes")
    assert (mat.row.status, mat.row.work, mat.row.value, mat.row.open) == (
        "broken",
        12,
        None,
        False,
    )
    assert mat.state.course.ledger.prime["muscle of press", "left"] == 22.0
    assert mat.state.course.lengths == {}
    assert mat.left == 40.0  # a rest like any other, decided here for the first time
    assert mat.coming == ("row", 1, "both")


def test_the_rest_after_a_set_given_up_has_no_lead_in_of_its_own() -> None:
    law = timing(8, changeover_from=2, changeover_to=3, position=1)
    parts = [part(exercise(n), 2, law) for n in ("press", "row")]
    mat = Mat(workout(parts)).begin().start().do(cmd.Skip(), after=12.0)
    assert (mat.left, mat.state.why) == (2.0, "changeover")


def test_skip_of_a_one_sided_set_has_a_row_for_each_side() -> None:
    parts = [part(exercise("row", sides="right first"), 2), part(exercise("press"), 2)]
    mat = Mat(workout(parts)).begin().do(cmd.Skip())
    assert [(r.side, r.status, r.entry) for r in mat.rows] == [
        ("right", "skipped", 1),
        ("left", "skipped", 2),
    ]
    assert mat.coming == ("press", 1, "both")
    mat.set().start().do(cmd.Skip(), after=5.0)  # its right side runs
    assert [(r.side, r.status) for r in mat.rows[3:]] == [("right", "broken"), ("left", "skipped")]
    assert mat.coming == ("press", 2, "both")
    assert {muscle for muscle, side in mat.state.course.ledger.prime if side == "left"} == {
        "muscle of press"
    }


def test_skip_of_the_second_side_alone() -> None:
    mat = Mat(workout([part(exercise("row", sides="left first"), 2)])).begin().set()
    mat.do(cmd.Skip(), after=5.0)
    assert [(r.side, r.status) for r in mat.rows] == [("left", "done"), ("right", "skipped")]
    assert (mat.coming, mat.state.until) == (("row", 2, "left"), 50.0 + 120.0)


@pytest.mark.parametrize(("after", "first"), [(5.0, "skipped"), (15.0, "broken")])
def test_skip_of_the_last_one_sided_set(after: float, first: str) -> None:
    mat = Mat(workout([part(exercise("row", sides="left first"), 1)])).begin()
    mat.do(cmd.Skip(), after=after)
    assert mat.phase == "wrap-up"
    assert [r.status for r in mat.rows] == [first, "skipped"]


def test_drop_leaves_the_partner_in_straight_sets() -> None:
    mat = Mat().begin().set().do(cmd.Drop("door is in the way"), after=10.0)
    dropped = mat.latest[0]
    assert dropped == ev.Dropped(at=60.0, act=dropped.act, exercise="row", why="door is in the way")
    assert todo(mat) == [("press", 2), ("press", 3)]
    assert (mat.state.until, mat.state.why) == (170.0, "recovery")
    assert len(mat.rows) == 1  # what was never reached has no row
    assert mat.to_the_end().do(GO).state.complete


def test_drop_of_the_running_exercise_gives_the_bout_up() -> None:
    mat = Mat().begin().set().start().do(cmd.Drop(), after=7.0)
    assert mat.names == ["skipped", "dropped", "resting"]
    assert (mat.row.status, mat.row.work) == ("broken", 7.0)
    assert todo(mat) == [("press", 2), ("press", 3)]


def test_drop_of_the_last_set_running() -> None:
    mat = Mat(pair(sets=1)).begin().set().start().do(cmd.Drop(), after=7.0)
    assert (mat.names, mat.phase) == (["skipped"], "wrap-up")


def test_skip_and_drop_in_the_warm_up() -> None:
    mat = Mat(pair(warm_up=60.0, sets=2)).do(GO).do(cmd.Skip()).do(cmd.Drop())
    assert (mat.phase, mat.coming) == ("warm-up", ("press", 2, "both"))
    mat.do(cmd.Drop())
    assert (mat.phase, mat.coming) == ("wrap-up", None)


def test_what_was_asked_for_ends_with_the_bout_it_was_asked_for() -> None:
    mat = Mat().begin().set().do(cmd.Ask(15.0)).do(cmd.Skip())
    assert (mat.state.asked, mat.state.until) == (0.0, 170.0)
    mat.start()
    assert not mat.row.asked


# -- asked for ---------------------------


def test_more_and_less_rest() -> None:
    mat = Mat().begin().set().do(cmd.Ask(15.0))
    asked = mat.latest[0]
    assert asked == ev.Asked(at=50.0, act=asked.act, seconds=15.0, until=105.0)
    mat.do(cmd.Ask(-15.0)).do(cmd.Ask(-15.0))
    assert (mat.state.until, mat.state.asked) == (75.0, -15.0)
    mat.do(cmd.Ask(-15.0), after=15.0)  # not below now
    assert (mat.phase, mat.state.until) == ("rest", 65.0)
    mat.wait(0.0)
    assert (mat.phase, mat.row.asked, mat.row.rest_before) == ("set", True, 15.0)


def test_start_now_may_go_under_the_least() -> None:
    mat = Mat().begin().set().set().do(cmd.StartNow(), after=3.0)
    asked, started = mat.latest
    assert isinstance(asked, ev.Asked)
    assert isinstance(started, ev.Started)
    assert (asked.seconds, asked.until, started.by) == (-37.0, 133.0, "person")
    assert (mat.row.asked, mat.row.recovery, mat.row.rest_before) == (True, 83.0, 3.0)
    mat.do(GO, after=40.0)
    assert mat.left == 62.0  # it moved that rest alone: the row waits for its least of 105


def test_start_now_where_the_rest_is_over_asks_for_nothing() -> None:
    mat = Mat(pair(by_key=True)).begin().do(cmd.StartNow(), after=12.0)
    assert mat.names == ["started"]
    assert (mat.row.asked, mat.row.start) == (False, 12.0)


# -- swap ---------------------------


def swapping(*instead: str, beside: tuple[str, ...] = ("bench", "dip")) -> Mat:
    press = exercise("press", instead=instead)
    others: list[Exercise] = [exercise(name, 20.0) for name in beside]
    return Mat(workout([part(press), part(exercise("row"))], beside=others))


def test_swap_does_what_is_left_as_the_first_substitute_outside_the_block() -> None:
    mat = swapping("row", "bench", "dip").begin().do(cmd.Swap())
    swapped = mat.latest[0]
    assert swapped == ev.Swapped(at=0.0, act=swapped.act, exercise="press", to="bench", block=1)
    assert todo(mat) == [
        ("bench", 1), ("row", 1), ("bench", 2), ("row", 2), ("bench", 3), ("row", 3),
    ]  # fmt: skip
    mat.set(20.0)
    assert mat.row.planned_set.exercise == "bench"
    assert mat.left == 45.0  # 20 and 40: need 100, a level of 50, held to the ceiling


def test_swap_gives_up_a_running_set() -> None:
    mat = swapping("bench").begin().start().do(cmd.Swap(), after=6.0)
    assert mat.names == ["skipped", "swapped", "resting"]
    skipped = mat.latest[0]
    assert isinstance(skipped, ev.Skipped)
    assert (skipped.why, mat.row.status) == ("swapped", "broken")
    assert todo(mat)[:2] == [("row", 1), ("bench", 1)]


def test_swap_of_a_last_set_that_runs_is_refused() -> None:
    mat = Mat(workout([part(exercise("press", instead=("bench",)), 1)], beside=[exercise("bench")]))
    mat.begin().start()
    assert mat.refused(cmd.Swap()) == "Press at the hut has no set to go in this block"


def test_numbers_of_a_substitute_follow_on() -> None:
    blocks = [[part(exercise("bench"), 2)], [part(exercise("press", instead=("bench",)), 2)]]
    mat = Mat(workout(*blocks)).begin().set().set().do(cmd.Swap())
    assert todo(mat) == [("bench", 3), ("bench", 4)]
    assert mat.set().row.recovery == 120.0


def test_swap_and_the_ramp_in_front() -> None:
    bench = exercise("bench", progression=(Level("b", "b", load=9.0, load_step=2.0),))
    press = exercise("press", instead=("bench",), progression=WEIGHTS)
    mat = Mat(workout([part(press, 1, ramp=1)], beside=[bench])).begin().do(cmd.Swap())
    loads = [(s.kind, s.level.load) for s in mat.state.course.planned_sets]
    assert loads == [("ramp", 3.0), ("work", 9.0)]


def test_no_substitute_that_hurt() -> None:
    mat = swapping("bench", "dip").begin().do(cmd.Swap()).set(20.0).do(cmd.Hurt("wrist"))
    assert mat.refused(cmd.Swap()) == "Row at the hut has no substitute outside this block"
    assert todo(mat) == [("row", 1), ("row", 2), ("row", 3)]


# -- what the list of `m` says ---------------------------


def listed(mat: Mat, *names: str) -> list[str]:
    """The lines of these verbs, or why they cannot be used now."""
    found = []
    for name in names:
        try:
            found.append(VERBS[name].line(mat.state))
        except Refused as refused:
            found.append(f"({refused})")
    return found


def test_the_list_names_the_set_and_the_exercise_that_a_verb_acts_on() -> None:
    row = exercise("row", sides="left first", instead=("bench",))
    mat = Mat(workout([part(row, 2), part(exercise("press"), 2)], beside=[exercise("bench")]))
    not_begun = "(the session has not started; start it first)"
    assert listed(mat, "skip", "drop", "swap") == [not_begun] * 3
    mat.begin()
    to_come = ["skip ROW set 1", "drop ROW, 2 sets", "swap ROW for bench at the hut"]
    assert listed(mat, "skip", "drop", "swap") == to_come
    mat.start()
    under_way = ["give up ROW set 1", "drop ROW, 2 sets", "swap ROW for bench at the hut"]
    assert listed(mat, "skip", "drop", "swap") == under_way
    mat.do(GO, after=40.0)  # between its sides
    assert listed(mat, "skip", "drop", "swap") == to_come
    mat.set()
    no_other = "(Press at the hut has no substitute outside this block)"
    assert listed(mat, "skip", "drop", "swap") == [
        "skip PRESS set 1",
        "drop PRESS, 2 sets",
        no_other,
    ]
    mat.set().start()
    no_set = "(Row at the hut has no set to go in this block)"
    assert listed(mat, "skip", "drop", "swap") == ["give up ROW set 2", "drop ROW, 1 set", no_set]
    mat.do(GO, after=40.0).set().set()
    assert mat.phase == "wrap-up"
    assert listed(mat, "skip", "drop", "swap") == ["(no set remains)"] * 3


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Bench at the hut", "bench at the hut"),
        ("Bench in the hut's porch", "BENCH"),
        ("DB bench", "DB bench"),
    ],
)
def test_a_substitute_stands_in_the_list_by_its_name_or_the_short_one(
    name: str, shown: str
) -> None:
    press = exercise("press", instead=("bench",))
    bench = replace(exercise("bench"), name=name)
    mat = Mat(workout([part(press)], beside=[bench])).begin()
    assert listed(mat, "swap") == [f"swap PRESS for {shown}"]


def test_the_list_names_the_next_level_by_what_is_new_in_it() -> None:
    levels = (*WEIGHTS[:2], Level("bar", "low bar", (("height", "90 cm"),)))
    press = exercise("press", progression=levels)
    mat = Mat(workout([part(press)]), Baseline(working_levels={("press", ""): 1})).begin()
    assert listed(mat, "easier", "harder") == [
        "PRESS easier: 8 kg",
        "PRESS harder: low bar, height 90 cm",
    ]
    mat.do(cmd.Step(1))
    at_the_end = "(Press at the hut is at its hardest level)"
    assert listed(mat, "harder") == [at_the_end]


def test_the_list_names_the_count_and_the_end_that_are_put_right() -> None:
    row = exercise("row", sides="left first", measure="reps")
    mat = Mat(workout([part(row, 2)])).begin()
    names = ("nocount", "fix", "late", "redo")
    assert listed(mat, *names) == [
        "(no count to enter; fix N nocount clears an earlier one)",
        "(no set has ended yet)",
        "(no set has ended yet)",
        "(nothing to redo; redo works only straight after undo)",
    ]
    mat.set().do(cmd.Undo())
    assert listed(mat, "redo") == ["redo"]
    mat.do(GO)
    assert listed(mat, *names[:3]) == [
        "ROW L 1 is not counted",
        "fix an earlier count",
        "key came late: 5 s off the last set",
    ]
    assert VERBS["pain"].line(mat.state) == "it hurts"


# -- pain where nothing was done ---------------------------


def test_pain_after_a_session_of_skipped_sets_is_kept_for_the_session() -> None:
    mat = Mat(pair(sets=1)).begin().do(cmd.Skip()).do(cmd.Skip())
    assert mat.phase == "wrap-up"
    mat.do(cmd.Hurt("left elbow"))
    (pain,) = mat.latest
    assert isinstance(pain, ev.Pain)
    assert (pain.where, pain.exercise, pain.entry) == ("left elbow", None, None)
    assert mat.state.note == "pain: left elbow"
    assert not any(row.pain for row in mat.rows)
