"""Undo: each kind of action taken back, and what stays."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from msgspec.structs import asdict

from runner.law.workout import Level, Station
from runner.session import events as ev, flow, verb as cmd
from runner.session.apply import replay
from runner.session.state import Illegal
from tests.law.builders import exercise, pair, part, workout
from tests.session.mat import GO, Mat, advisor, reps, seconds

PROGRESSION = tuple(Level(name, name) for name in ("light", "middle", "heavy"))


def fresh() -> Mat:
    press = exercise("press", measure="reps", instead=("bench",), progression=PROGRESSION)
    parts = [part(press, 3, versions=("middle",) * 3), part(exercise("plank"), 3)]
    return Mat(workout(parts, beside=[exercise("bench")], warm_up=60.0))


ACTIONS: Mapping[str, cmd.Command] = {
    "count": reps(12),
    "uncounted": cmd.NoCount(),
    "correction": cmd.Fix(1, "reps", cmd.Count(13)),
    "seconds": seconds(45),
    "late": cmd.Late(),
    "note": cmd.Note("cold hands"),
    "rpe": cmd.Rate(7.0),
    "mass": cmd.Weigh(74.5),
    "load": cmd.Use(load=8.0),
    "setup": cmd.Use(setup=(("height", "60 cm"),)),
    "more rest": cmd.Ask(15.0),
    "less rest": cmd.Ask(-15.0),
    "start now": cmd.StartNow(),
    "pause": cmd.Pause(),
    "suspend": cmd.Pause("suspend"),
    "skip": cmd.Skip(),
    "drop": cmd.Drop(),
    "leave out": cmd.LeaveOut((("press", 3), ("plank", 2), ("press", 2))),
    "swap": cmd.Swap(),
    "easier": cmd.Step(-1),
    "harder": cmd.Step(1),
    "pain": cmd.Hurt("knee"),
}


@pytest.mark.parametrize("name", ACTIONS)
def test_undo_at_once_gives_the_state_before(name: str) -> None:
    """In a rest with the press to come; the rest has more than the lead-in left."""
    mat = fresh().begin().set().set()
    before = advisor(mat.state)
    first = mat.do(ACTIONS[name], after=2.0).latest[0]
    after = advisor(mat.state)
    assert after != before
    undone = mat.do(cmd.Undo(), after=3.0).latest[0]
    assert isinstance(undone, ev.Undone)
    what = "started" if name == "start now" else first.name
    assert (undone.of, undone.what, undone.act) == (first.act, what, first.act + 1)
    assert advisor(mat.state) == before
    if name == "start now":
        return
    redone = mat.do(cmd.Redo(), after=1.0).latest[0]
    assert redone == ev.Redone(**asdict(undone) | {"at": mat.now, "act": undone.act + 1})
    assert advisor(mat.state) == after
    mat.do(cmd.Undo(), after=1.0)
    assert advisor(mat.state) == before


@pytest.mark.parametrize("name", ["skip", "drop", "swap", "pain", "pause", "late", "note"])
def test_undo_in_a_running_set_lets_it_run_on(name: str) -> None:
    mat = fresh().begin().set().set().start()
    before = advisor(mat.state)
    assert mat.phase == "set"
    mat.do(ACTIONS[name], after=5.0).do(cmd.Undo(), after=3.0)
    assert advisor(mat.state) == before


def test_undo_of_a_wrong_end_gives_the_running_set_back_with_its_first_start() -> None:
    mat = fresh().begin().start()
    before, start = advisor(mat.state), mat.row.start
    mat.do(GO, after=3.0)
    assert mat.phase == "rest"
    mat.do(cmd.Undo(), after=2.0)
    assert advisor(mat.state) == before
    assert (mat.phase, mat.row.start, mat.row.status) == ("set", start, "running")
    assert flow.deadline(mat.state) is None
    mat.do(GO, after=35.0)
    assert mat.row.work == 40.0


def test_undo_of_a_wrong_end_after_the_next_set_has_begun_by_the_clock() -> None:
    mat = fresh().begin().start()
    before = advisor(mat.state)
    mat.do(GO, after=3.0).start().wait(4.0)
    assert (mat.phase, mat.coming, len(mat.rows)) == ("set", ("plank", 1, "both"), 2)
    mat.do(cmd.Undo())
    assert mat.names == ["undone", "resting"]
    assert (mat.phase, mat.coming, mat.left) == ("rest", ("plank", 1, "both"), 10.0)
    mat.do(cmd.Undo(), after=2.0)
    assert mat.names == ["undone"]
    assert advisor(mat.state) == before
    assert mat.coming == ("press", 1, "both")
    assert (mat.state.course.ledger.prime, mat.state.course.lengths) == ({}, {})


def test_a_start_by_the_clock_is_taken_back_before_the_count() -> None:
    mat = fresh().begin().set().do(reps(12)).start()
    undone = mat.do(cmd.Undo(), after=1.0).latest[0]
    assert isinstance(undone, ev.Undone)
    assert (undone.what, undone.exercise, undone.set, undone.side, undone.entry) == (
        "started", "plank", 1, "both", 2,
    )  # fmt: skip
    assert (mat.phase, mat.left, mat.rows[0].value) == ("rest", 10.0, 12)
    assert mat.refused(cmd.Redo()) == (
        "redo cannot start a set; start Plank at the hut, set 1, again"
    )
    mat.do(cmd.Undo(), after=1.0)
    assert (mat.phase, mat.state.open_rows[0].entry) == ("rest", 1)


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        (cmd.Enter("reps", (cmd.Count(12, 2),)), "12/2"),
        (reps(12), "12"),
        (reps(12, 14), "12 14"),
        (cmd.Enter("reps", (cmd.Count(12), cmd.Count(14, 1))), "12 14/1"),
        (cmd.NoCount(), None),
    ],
)
@pytest.mark.parametrize("sides", [1, 2])
def test_an_undone_count_comes_with_its_text(
    typed: cmd.Enter | cmd.NoCount, text: str | None, sides: int
) -> None:
    """Both numbers, be the second side done already or still to come."""
    mat = Mat(workout([part(exercise("row", sides="left first", measure="reps"))])).begin()
    for _ in range(sides):
        mat.set()
    undone = mat.do(typed).do(cmd.Undo()).latest[0]
    assert isinstance(undone, ev.Undone)
    assert (undone.what, undone.entry, undone.side, undone.count) == ("entered", 1, "left", text)


def test_undos_are_taken_back_one_by_one_until_something_else_happens() -> None:
    mat = fresh().begin().set().do(reps(12)).do(cmd.Note("cold"))
    done = advisor(mat.state)
    for _ in range(2):
        mat.do(cmd.Undo())
    for _ in range(2):
        mat.do(cmd.Redo())
    assert advisor(mat.state) == done
    assert "nothing to redo" in mat.refused(cmd.Redo())
    mat.do(cmd.Undo()).do(cmd.Note("warm"))
    assert "nothing to redo" in mat.refused(cmd.Redo())
    mat.do(cmd.Undo()).start()  # the clock starts the next set
    assert "nothing to redo" in mat.refused(cmd.Redo())


def test_a_redo_leaves_the_lead_in_before_the_next_set() -> None:
    mat = fresh().begin().set().do(cmd.Undo(), after=30.0)
    assert mat.phase == "set"
    mat.do(cmd.Redo(), after=30.0)  # the rest of 40 would be over
    assert (mat.names, mat.phase, mat.left) == (["redone", "resting"], "rest", 10.0)
    assert (mat.rows[0].status, mat.rows[0].work) == ("done", 40.0)


def test_action_by_action_down_to_the_warm_up() -> None:
    mat = fresh().do(GO)
    warm = advisor(mat.state)
    mat.do(GO, after=50.0).do(cmd.Ask(15.0), after=1.0).do(cmd.Note("late"), after=1.0)
    mat.set().do(reps(12)).do(cmd.Skip())
    undone = 0
    while mat.phase != "warm-up":
        mat.do(cmd.Undo(), after=1.0)
        undone += 1
    assert undone == 7  # skip, count, end, start by the clock, note, asked, end of the warm-up
    assert advisor(mat.state) == warm
    assert mat.refused(cmd.Undo()) == "nothing to undo"
    mat.do(GO)
    assert (mat.phase, mat.left) == ("rest", 10.0)


def test_a_rest_that_an_undo_decided_anew_falls_away_with_its_warm_up() -> None:
    mat = fresh().do(GO)
    warm = advisor(mat.state)
    mat.do(GO, after=50.0).do(cmd.Ask(15.0)).do(cmd.Undo())
    assert mat.names == ["undone", "resting"]
    mat.do(cmd.Undo())
    assert advisor(mat.state) == warm


def test_undo_decides_the_rest_anew_with_the_lead_in_left() -> None:
    mat = fresh().begin().set()  # 40 to the plank
    mat.do(cmd.Skip(), after=35.0)  # press again, straight: 120 after its end
    assert (mat.coming, mat.left) == (("press", 2, "both"), 85.0)
    mat.do(cmd.Undo(), after=2.0)
    assert (mat.coming, mat.left, mat.state.why) == (("plank", 1, "both"), 10.0, "lead-in")


def test_undo_of_a_count_or_a_note_does_not_move_the_rest() -> None:
    mat = fresh().begin().set()
    mat.do(reps(12), after=36.0)
    mat.do(cmd.Undo(), after=1.0)
    assert (mat.names, mat.left) == (["undone"], 3.0)
    mat.do(cmd.Note("cold")).do(cmd.Undo())
    assert mat.left == 3.0


def test_undo_of_what_was_asked_for() -> None:
    mat = fresh().begin().set().do(cmd.Ask(15.0)).do(cmd.Ask(15.0))
    assert (mat.left, mat.state.asked) == (70.0, 30.0)
    mat.do(cmd.Undo(), after=1.0)
    assert (mat.left, mat.state.asked) == (54.0, 15.0)
    mat.do(cmd.Undo(), after=1.0)
    assert (mat.left, mat.state.asked) == (38.0, 0.0)
    mat.start()
    assert not mat.row.asked


def test_undo_of_a_start_at_the_key() -> None:
    mat = Mat(pair(by_key=True)).begin().wait(20.0)
    before = mat.state.coming
    mat.do(GO).do(cmd.Undo(), after=2.0)
    assert (mat.phase, mat.state.coming, mat.rows) == ("rest", before, ())
    assert mat.left == 10.0


def test_undo_of_go_on_after_a_pause_pauses_again() -> None:
    mat = fresh().begin().start().do(cmd.Pause(), after=5.0)
    paused = advisor(mat.state)
    mat.do(GO, after=60.0).do(cmd.Undo(), after=2.0)
    assert mat.phase == "paused"
    assert (mat.state.before_pause, mat.state.paused_at) == ("rest", paused.paused_at)
    mat.do(cmd.Undo(), after=2.0)
    assert (mat.phase, mat.row.status, mat.row.work) == ("set", "running", None)


def test_undo_in_a_pause_of_the_warm_up_stays_in_the_warm_up() -> None:
    mat = fresh().do(GO).do(cmd.Pause(), after=10.0).do(cmd.Skip(), after=1.0)
    assert (mat.phase, mat.names) == ("paused", ["skipped"])
    mat.do(cmd.Undo())
    mat.do(GO, after=19.0)
    assert (mat.phase, mat.state.until) == ("warm-up", 80.0)


def test_undo_of_the_last_end_leaves_the_wrap_up() -> None:
    mat = Mat(pair(sets=1, cool_down=60.0)).begin().to_the_end()
    mat.do(cmd.Rate(6.0), after=20.0).do(cmd.Undo())
    assert (mat.phase, mat.state.rpe) == ("wrap-up", None)
    mat.do(cmd.Undo())
    assert (mat.phase, mat.row.planned_set.exercise) == ("set", "row")


def test_what_lies_before_a_return_stays() -> None:
    mat = fresh().begin().set().do(reps(12)).start()
    mat.do(cmd.Return(), after=10.0)
    assert mat.refused(cmd.Undo()) == "nothing to undo"
    mat.do(cmd.Note("back again")).do(cmd.Undo())
    assert mat.refused(cmd.Undo()) == "nothing to undo"
    assert mat.rows[0].value == 12


def test_a_return_outside_a_set_stays_too() -> None:
    mat = fresh().begin().set().do(reps(12)).do(cmd.Return(), after=5.0)
    assert mat.refused(cmd.Undo()) == "nothing to undo"


def test_undo_of_a_changed_setup_puts_the_station_back() -> None:
    levels = (Level("low", "low", (("height", "60 cm"),)),)
    row = exercise("row", station="bar", progression=levels)
    mat = Mat(workout([part(row, 3)], stations=[Station("bar", "Low bar", change=200.0)]))
    mat.begin().set()
    before = advisor(mat.state)
    mat.do(cmd.Use(setup=(("height", "65 cm"),)), after=1.0)
    assert mat.state.course.stations == {"bar": (("height", "65 cm"),)}
    mat.do(cmd.Undo())
    assert advisor(mat.state) == before


def test_undo_of_the_last_one_sided_set_skipped_whole() -> None:
    row = exercise("row", sides="left first")
    mat = Mat(workout([part(row, 1)])).begin()
    before = advisor(mat.state)
    mat.do(cmd.Skip())
    assert (mat.phase, [r.side for r in mat.rows]) == ("wrap-up", ["left", "right"])
    mat.do(cmd.Undo())
    assert advisor(mat.state) == before


def test_a_redo_without_an_undo_is_no_record_of_a_session() -> None:
    mat = Mat().begin().set().do(cmd.Undo()).do(cmd.Redo())
    without = [event for event in mat.events if event.name != "undone"]
    with pytest.raises(Illegal, match="no undo to take back"):
        replay(mat.workout, mat.baseline, without)
