"""What is done differently: easier, harder, what was really used, pain, notes."""

from __future__ import annotations

import pytest

from runner.law.workout import Exercise, Level, Setup, Station
from runner.progress.adjust import Baseline
from runner.session import events as ev, verb as cmd
from runner.session.apply import NewLevel, new_levels
from runner.session.changes import level_words
from tests.law.builders import exercise, pair, part, timing, workout
from tests.session.mat import GO, Mat, reps

PROGRESSION = tuple(Level(name, name) for name in ("light", "middle", "heavy"))
BAND = tuple(Level("rows", "rows", (("anchor", f"{cm} cm"),)) for cm in (120, 140, 160))
WEIGHTS = tuple(Level("sack", "sack", load=kg, load_step=2.0) for kg in (8.0, 10.0, 12.0))


def todo(mat: Mat) -> list[tuple[str, int]]:
    """Exercise and number of the sets that are still to come."""
    return [(s.exercise, s.number) for s in mat.state.course.planned_sets if s.status == "todo"]


# -- easier and harder ---------------------------


def test_easier_and_harder_from_here_on() -> None:
    press = exercise("press", progression=PROGRESSION)
    mat = Mat(workout([part(press, 3)]), Baseline(working_levels={("press", ""): 1})).begin().set()
    mat.do(cmd.Step(1), after=115.0)
    version = mat.latest[0]
    assert version == ev.Version(
        at=165.0, act=version.act, exercise="press", way="harder", version="heavy", step=2,
        setup="", load_kg=None, was="middle",
    )  # fmt: skip
    assert [s.level.version for s in mat.state.course.planned_sets] == ["middle", "heavy", "heavy"]
    assert (mat.left, mat.state.why) == (10.0, "lead-in")
    assert mat.refused(cmd.Step(1)) == "Press at the hut is at its hardest level"
    mat.do(cmd.Step(-1)).do(cmd.Step(-1))
    assert mat.refused(cmd.Step(-1)) == "Press at the hut is at its easiest level"
    assert mat.rows[0].planned_set.level.version == "middle"


DOWN = tuple(Level("push", "push", (("height", f"{cm} cm"),)) for cm in (90, 75, 60))


@pytest.mark.parametrize(
    ("progression", "used", "easier", "harder"),
    [
        (BAND, "anchor=110 cm", None, "anchor=120 cm"),
        (BAND, "anchor=130 cm", "anchor=120 cm", "anchor=140 cm"),
        (BAND, "anchor=150 cm", "anchor=140 cm", "anchor=160 cm"),
        (BAND, "anchor=155 cm", "anchor=140 cm", "anchor=160 cm"),
        (BAND, "anchor=170 cm", "anchor=160 cm", None),
        (DOWN, "height=65 cm", "height=75 cm", "height=60 cm"),
        (DOWN, "height=50 cm", "height=60 cm", None),
    ],
)
def test_a_set_up_off_the_range_has_its_neighbours_as_easier_and_harder(
    progression: tuple[Level, ...], used: str, easier: str | None, harder: str | None
) -> None:
    name, _, value = used.partition("=")
    mat = Mat(workout([part(exercise("rows", progression=progression), 3)])).begin().set()
    mat.do(cmd.Use(setup=((name, value),)))
    for by, setup in ((-1, easier), (1, harder)):
        if setup is None:
            end = "easiest" if by < 0 else "hardest"
            assert mat.refused(cmd.Step(by)) == f"Rows at the hut is at its {end} level"
            continue
        mat.do(cmd.Step(by))
        version = mat.latest[0]
        assert isinstance(version, ev.Version)
        assert (version.setup, version.way) == (setup, "easier" if by < 0 else "harder")
        mat.do(cmd.Undo())


CURLS = (
    *(Level("straps", "straps", load=kg, load_step=2.0) for kg in (4.0, 6.0, 8.0)),
    *(Level("slow", "slow", load=kg, load_step=2.0, tempo="3-0-1") for kg in (6.0, 8.0)),
)
SLOW_6 = {("curl", ""): 3}


@pytest.mark.parametrize(
    ("baseline", "by", "after"),
    [
        (
            Baseline(working_levels=SLOW_6),
            -1,
            ("straps", 6.0),
        ),  # not 8 kg, the end of the quick range
        (Baseline(working_levels=SLOW_6, last_used={("curl", "straps"): 0}), -1, ("straps", 4.0)),
        (Baseline(working_levels=SLOW_6, last_used={("curl", "straps"): 2}), -1, ("straps", 6.0)),
        (
            Baseline(working_levels={("curl", ""): 2}, last_used={("curl", "slow"): 4}),
            1,
            ("slow", 8.0),
        ),
        (Baseline(working_levels={("curl", ""): 2}), 1, ("slow", 6.0)),
    ],
)
def test_easier_never_gives_a_heavier_load(
    baseline: Baseline, by: int, after: tuple[str, float]
) -> None:
    mat = Mat(workout([part(exercise("curl", progression=CURLS), 2)]), baseline).begin()
    mat.do(cmd.Step(by))
    (version,) = (e for e in mat.events if isinstance(e, ev.Version))
    assert (version.version, version.load_kg) == after


def test_easier_goes_by_what_was_counted_there_before() -> None:
    counted = {
        ("curl", "straps", "", "6", "", 1, "both"): 9.0,
        ("curl", "slow", "", "6", "3-0-1", 1, "both"): 12.0,
    }
    mat = Mat(
        workout([part(exercise("curl", progression=CURLS), 2)]), Baseline(SLOW_6, {}, counted)
    )
    mat.begin().do(cmd.Step(-1))
    assert mat.state.course.planned_sets[0].level == CURLS[0]


def test_where_no_load_is_light_enough_easier_says_what_to_do_instead() -> None:
    only = (Level("quick", "quick", load=8.0), Level("slow", "slow", load=6.0, tempo="3-0-1"))
    curl = exercise("curl", progression=only, instead=("band",))
    plan = workout([part(curl, 2)], beside=[exercise("band")])
    mat = Mat(plan, Baseline(working_levels={("curl", ""): 1})).begin()
    assert mat.refused(cmd.Step(-1)) == (
        "Curl at the hut has no easier level with 6 kg or less: swap it, or do fewer repetitions"
    )


def test_a_version_changed_in_a_running_set_concerns_the_next() -> None:
    mat = Mat(workout([part(exercise("press", progression=PROGRESSION), 2)])).begin().start()
    mat.do(cmd.Step(1), after=5.0)
    assert (mat.names, mat.phase) == (["version"], "set")
    assert [s.level.version for s in mat.state.course.planned_sets] == ["light", "middle"]
    mat.do(cmd.Proceed()).start()
    assert mat.refused(cmd.Step(1)) == "Press at the hut has no set to go"


def test_a_list_of_versions_moves_those_at_the_same_level() -> None:
    press = exercise("press", progression=PROGRESSION)
    item = part(press, 4, versions=("middle", "heavy", "middle", "middle"))
    mat = Mat(workout([item])).begin().set()
    assert mat.coming == ("press", 2, "both")
    mat.do(cmd.Skip()).do(cmd.Step(-1))
    assert [s.level.version for s in mat.state.course.planned_sets] == [
        "middle",
        "heavy",
        "light",
        "light",
    ]
    assert {key: level.version for key, level in mat.state.moved.items()} == {
        ("press", "middle"): "light"
    }
    other = Mat(workout([item])).begin().do(cmd.Step(-1))
    assert [s.level.version for s in other.state.course.planned_sets] == [
        "light", "heavy", "light", "light",
    ]  # fmt: skip


def test_a_ramp_follows_its_version() -> None:
    mat = Mat(workout([part(exercise("sack", progression=WEIGHTS), 2, ramp=1)])).begin()
    assert [s.level.load for s in mat.state.course.planned_sets] == [4.0, 8.0, 8.0]
    mat.do(cmd.Step(1)).do(cmd.Step(1))
    assert [s.level.load for s in mat.state.course.planned_sets] == [6.0, 12.0, 12.0]


def counted(name: str, progression: tuple[Level, ...]) -> Exercise:
    return exercise(name, measure="reps", rep_range=(8, 20), progression=progression)


def test_levels_used_are_carried_forward_unless_they_are_of_today_only() -> None:
    parts = [part(counted("press", PROGRESSION), 2), part(counted("rows", BAND), 2)]
    mat = Mat(workout(parts)).begin().do(cmd.Step(1)).set().do(reps(12))
    mat.do(cmd.Step(1))  # the two take turns
    for _ in range(3):
        mat.set().do(reps(12))
    assert mat.phase == "wrap-up"
    assert [one.text for one in new_levels(mat.state)] == [
        "PRESS middle, was light",
        "ROWS 140 cm, was 120 cm",
    ]
    assert "no change: " in mat.refused(cmd.Keep())
    mat.do(cmd.Keep("rows", today_only=True))
    (held,) = mat.latest
    assert held == ev.Held(
        at=mat.now, act=held.act, exercise="rows", group="", version="rows",
        setup="anchor=140 cm", load_kg=None, for_="today",
    )  # fmt: skip
    assert {r.planned_set.exercise for r in mat.state.rows if r.today_only} == {"rows"}
    mat.do(cmd.Keep(today_only=True))
    assert [e.exercise for e in mat.latest if isinstance(e, ev.Held)] == ["press"]
    assert "for today only" in mat.refused(cmd.Keep(today_only=True))
    mat.do(cmd.Undo())
    assert mat.state.today == {("rows", "")}
    mat.do(cmd.Keep())
    assert not any(r.today_only for r in mat.state.rows)


def test_of_a_level_in_phrases_the_list_names_what_differs() -> None:
    knees, feet = (Level(n, f"hands on the bench, {n} on the floor") for n in ("knees", "feet"))
    assert level_words(feet, knees) == "feet on the floor"
    assert level_words(feet) == "hands on the bench, feet on the floor"
    assert level_words(Level("other", knees.name), knees) == knees.name  # the id alone differs


BENCH = (("height", "45 cm"),)


@pytest.mark.parametrize(
    ("new", "was", "said"),
    [
        (("sack", BENCH, 6.0), ("sack", BENCH, 4.0), "45 cm, 6 kg, was 45 cm, 4 kg"),
        (("sack", (), 6.0), ("sack", (), 4.0), "6 kg, was 4"),
        (("sack", (), 6.0), ("sack", (), None), "6 kg, was no load"),
        (("sack", BENCH, None), ("sack", (("height", "60 cm"),), None), "45 cm, was 60 cm"),
        (("hug", BENCH, 4.0), ("sack", BENCH, 4.0), "hug, was sack"),
        (("hug", BENCH, 6.0), ("sack", (), 4.0), "hug 45 cm, 6 kg, was sack 4 kg"),
    ],
)
def test_a_new_level_names_what_it_was_in_full_where_a_number_would_say_nothing(
    new: tuple[str, Setup, float | None], was: tuple[str, Setup, float | None], said: str
) -> None:
    level, planned = (Level(name, name, setup, load) for name, setup, load in (new, was))
    found = NewLevel(exercise("squat"), "", level, planned, today_only=False)
    assert found.text == f"SQUAT {said}"


def test_before_an_early_end_a_level_may_be_of_today_only_and_so_are_its_later_sets() -> None:
    mat = Mat(workout([part(counted("press", PROGRESSION), 3)])).begin()
    assert mat.refused(cmd.Keep(today_only=True)) == "every level is as planned; nothing to keep"
    mat.do(cmd.Step(1)).set().do(reps(12)).do(cmd.Keep(today_only=True))
    assert mat.phase == "rest"
    mat.set().do(reps(12))
    assert [r.today_only for r in mat.state.rows] == [True, True]
    mat.do(cmd.Keep())
    assert [r.today_only for r in mat.state.rows] == [False, False]
    mat.do(cmd.Undo()).do(cmd.End())
    assert [r.today_only for r in mat.state.rows] == [True, True]
    assert all(one.today_only for one in new_levels(mat.state))


def test_a_load_told_after_the_word_today_is_of_today_too() -> None:
    mat = Mat(workout([part(counted("sack", WEIGHTS), 3)])).begin()
    mat.do(cmd.Use(12.0)).set().do(reps(12)).do(cmd.Keep(today_only=True))
    mat.set().do(cmd.Use(14.0)).do(reps(12))
    assert [r.today_only for r in mat.state.rows] == [True, True]
    mat.do(cmd.Use(mat.state.workout.exercises["sack"].progression[0].load))
    assert [r.today_only for r in mat.state.rows] == [True, False]  # as planned


def test_after_it_was_closed_a_level_may_still_be_of_today_only() -> None:
    mat = Mat(workout([part(counted("press", PROGRESSION), 3)])).begin().do(cmd.Step(1))
    mat.set().do(reps(12)).do(cmd.End())
    assert [one.text for one in new_levels(mat.state)] == ["PRESS middle, was light"]
    mat.do(cmd.Keep(today_only=True))
    assert (mat.phase, mat.row.today_only) == ("closed", True)


def test_a_level_above_the_planned_one_that_never_reached_the_bottom_is_not_kept() -> None:
    mat = (
        Mat(workout([part(counted("press", PROGRESSION), 2)]))
        .begin()
        .do(cmd.Step(1))
        .set()
        .do(reps(7))
        .to_the_end()
    )
    assert new_levels(mat.state) == []
    mat.do(reps(8))
    assert [one.level.version for one in new_levels(mat.state)] == ["middle"]


# -- what was really used ---------------------------


def test_the_load_really_used_holds_for_the_last_set_begun_and_later_ones() -> None:
    mat = Mat(workout([part(exercise("sack", progression=WEIGHTS), 3)])).begin().set().set()
    mat.do(cmd.Use(load=9.0), after=115.0)
    assert mat.names == ["used"]  # a load is changed within the position: the rest stays
    assert (mat.left, [r.planned_set.level.load for r in mat.rows]) == (5.0, [8.0, 9.0])
    assert [s.level.load for s in mat.state.course.planned_sets] == [8.0, 9.0, 9.0]
    assert mat.state.moved["sack", ""].load == 9.0
    mat.do(cmd.Step(1))  # from the nearest position of the progression
    version = mat.latest[0]
    assert isinstance(version, ev.Version)
    assert (version.load_kg, version.was) == (10.0, "sack, 9 kg")


def test_the_load_of_a_ramp_set_says_nothing_about_the_work_sets() -> None:
    mat = Mat(workout([part(exercise("sack", progression=WEIGHTS), 2, ramp=1)])).begin().set()
    mat.do(cmd.Use(load=5.0))
    assert [s.level.load for s in mat.state.course.planned_sets] == [5.0, 8.0, 8.0]
    assert mat.state.moved == {}
    mat.set().do(cmd.Use(load=7.0))
    assert [s.level.load for s in mat.state.course.planned_sets] == [5.0, 7.0, 7.0]


def test_before_the_first_set_what_is_used_is_for_those_to_come() -> None:
    mat = Mat(workout([part(exercise("sack", progression=WEIGHTS), 2)])).do(cmd.Use(load=9.0))
    assert (mat.phase, [s.level.load for s in mat.state.course.planned_sets]) == (
        "ready",
        [9.0, 9.0],
    )
    empty = Mat(pair(sets=1)).begin().do(cmd.Skip()).do(cmd.Skip())
    assert empty.refused(cmd.Use(load=9.0)) == "no set remains"


def stations(change: float) -> Mat:
    """The press at 60 cm and the row at 90 cm of one bar."""
    press = exercise("press", station="bar", progression=(Level("p", "p", (("height", "60 cm"),)),))
    row = exercise("row", station="bar", progression=(Level("r", "r", (("height", "60 cm"),)),))
    return Mat(
        workout([part(press), part(row)], stations=[Station("bar", "Low bar", change=change)])
    )


def test_a_station_really_left_otherwise_needs_its_change() -> None:
    mat = stations(100.0).begin().set()
    assert mat.state.until == 90.0
    mat.do(cmd.Use(setup=(("height", "70 cm"),)), after=2.0)
    assert (mat.names, mat.state.until, mat.state.why) == (["used", "resting"], 150.0, "station")
    assert mat.row.planned_set.level.setup == (("height", "70 cm"),)
    assert (
        mat.refused(cmd.Use(setup=(("width", "2"),))) == "the set-up has no 'width'; it has height"
    )
    mat.start()
    assert mat.state.course.planned_sets[1].change == 100.0


def test_a_setup_that_changes_no_rest_moves_none() -> None:
    mat = Mat(workout([part(exercise("rows", progression=BAND))])).begin().set()
    mat.do(cmd.Use(setup=(("anchor", "125 cm"),)), after=115.0)
    assert (mat.names, mat.left) == (["used"], 5.0)
    assert [s.level.setup[0][1] for s in mat.state.course.planned_sets] == ["125 cm"] * 3


# -- pain and notes ---------------------------


def test_pain_ends_the_exercise_for_today_in_every_block() -> None:
    press, row = exercise("press", measure="reps"), exercise("row")
    mat = Mat(workout([part(press, 2), part(row, 2)], [part(press, 1)])).begin().set()
    mat.do(cmd.Hurt("left shoulder"), after=5.0)
    pain, dropped = mat.latest
    assert pain == ev.Pain(at=55.0, act=pain.act, where="left shoulder", exercise="press", entry=1)
    assert dropped == ev.Dropped(at=55.0, act=pain.act, exercise="press", why="pain")
    assert todo(mat) == [("row", 1), ("row", 2)]
    assert (mat.row.pain, mat.row.note, mat.row.open) == (True, "pain: left shoulder", True)
    assert mat.do(reps(5)).row.value == 5


def test_pain_in_a_running_set() -> None:
    mat = Mat(workout([part(exercise("row", sides="left first")), part(exercise("press"))]))
    mat.begin().set().start().do(cmd.Hurt("elbow"), after=3.0)
    assert mat.names == ["pain", "skipped", "dropped", "resting"]
    assert [(r.status, r.pain) for r in mat.rows] == [("done", True), ("broken", True)]
    assert mat.coming == ("press", 1, "both")


def test_pain_between_the_sides_leaves_the_second_out() -> None:
    mat = Mat(workout([part(exercise("row", sides="left first"), 2), part(exercise("press"), 2)]))
    mat.begin().set().do(cmd.Hurt("elbow"), after=3.0)
    assert [(r.side, r.status, r.pain) for r in mat.rows] == [
        ("left", "done", True),
        ("right", "skipped", False),
    ]
    assert mat.coming == ("press", 1, "both")


def test_pain_leaves_the_partner_in_straight_sets_at_once() -> None:
    """The press comes as before, but alone in its round: 120 after its last end."""
    law = timing(changeover_from=10, changeover_to=20)
    mat = Mat(workout([part(exercise(n), 2, law) for n in ("press", "row")])).begin().set().set()
    ended = mat.rows[0].end
    assert ended is not None
    assert mat.left == 32.5  # the ceiling that L needs
    mat.do(cmd.Hurt("elbow"), after=5.0)
    assert mat.names == ["pain", "dropped", "resting"]
    assert (mat.coming, mat.state.until) == (("press", 2, "both"), ended + 120.0)


def test_pain_keeps_what_was_asked_for_the_bout_to_come() -> None:
    mat = Mat().begin().set().do(cmd.Ask(15.0)).do(cmd.Hurt("elbow"))
    assert (mat.state.asked, mat.state.until, mat.coming) == (15.0, 105.0, ("row", 1, "both"))


def test_pain_on_the_ready_screen_there_is_no_session_today() -> None:
    mat = Mat().do(cmd.Hurt("knee"))
    assert (mat.phase, mat.state.complete) == ("closed", False)
    assert mat.state.note == "pain: knee\nnot started: ill, or a new pain"


@pytest.mark.parametrize("begun", [False, True])
def test_pain_before_the_first_set_leaves_the_next_exercise_out(begun: bool) -> None:  # noqa: FBT001
    sided = exercise("row", sides="left first")
    mat = Mat(workout([part(sided, 2), part(exercise("press"))], warm_up=60.0)).do(GO)
    mat = mat.do(GO) if begun else mat
    mat.do(cmd.Hurt("knee"))
    assert mat.names == ["skipped", "skipped", "pain", "dropped", *["resting"] * begun]
    assert [(r.side, r.status, r.pain, r.pain_where) for r in mat.rows] == [
        ("left", "skipped", True, "knee"),
        ("right", "skipped", True, "knee"),
    ]
    assert mat.coming == ("press", 1, "both")


def test_pain_asked_for_the_next_exercise_leaves_that_one_out() -> None:
    mat = Mat(pair(sets=2)).begin().set().do(cmd.Hurt(exercise="row"))
    assert mat.names == ["skipped", "pain", "dropped", "resting"]
    assert [(r.planned_set.exercise, r.status, r.pain) for r in mat.rows] == [
        ("press", "done", False),
        ("row", "skipped", True),
    ]
    assert todo(mat) == [("press", 2)]


def test_pain_asked_for_the_last_exercise_while_the_next_runs() -> None:
    mat = Mat(pair(sets=2)).begin().set().start().do(cmd.Hurt(exercise="press"), after=2.0)
    assert (mat.names, mat.phase) == (["pain", "dropped"], "set")
    assert [r.pain for r in mat.rows] == [True, False]
    mat.do(cmd.Hurt(exercise="row"))
    assert (mat.phase, [r.status for r in mat.rows]) == ("wrap-up", ["done", "broken"])


def test_pain_of_an_exercise_that_is_neither_last_nor_next() -> None:
    mat = Mat(workout([part(exercise("press"))], [part(exercise("row"))])).begin().set()
    assert "is neither the last exercise nor the next one" in mat.refused(cmd.Hurt(exercise="row"))


def test_the_place_of_a_pain_comes_later_until_another_set_begins() -> None:
    mat = Mat(pair()).begin().set().do(cmd.Hurt())
    assert mat.names == ["pain", "dropped"]
    assert (mat.rows[0].pain, mat.rows[0].pain_where, mat.rows[0].note) == (True, "", "")
    mat.do(cmd.Hurt("left knee"), after=1.0)
    assert mat.names == ["pain"]
    assert (mat.rows[0].pain_where, mat.rows[0].note) == ("left knee", "pain: left knee")
    mat.do(cmd.Undo()).do(cmd.Hurt("right knee"))
    assert mat.rows[0].pain_where == "right knee"
    mat.do(cmd.Undo())
    mat.start().do(cmd.Hurt("elbow"), after=2.0)  # of the row that runs, not of the press
    assert [(r.planned_set.exercise, r.pain_where) for r in mat.rows] == [
        ("press", ""),
        ("row", "elbow"),
    ]


def test_notes_go_to_the_last_set_begun_or_to_the_session() -> None:
    mat = Mat(pair(sets=1)).begin().set().do(cmd.Note("one")).do(cmd.Note("two"))
    assert (mat.row.note, mat.state.note) == ("one\ntwo", "")
    mat.to_the_end().do(cmd.Note("snow on the mat")).do(cmd.Rate(6.5)).do(cmd.Weigh(74.5))
    assert (mat.state.note, mat.state.rpe, mat.state.mass) == ("snow on the mat", 6.5, 74.5)
