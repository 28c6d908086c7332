"""What is said of each act: on which exercise, set and side, and what takes it back."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from runner.law.workout import Level
from runner.session import flow, verb as cmd
from runner.session.feedback import begins_or_ends, described, report, sentence
from runner.session.flow import last_act
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat, reps

PROGRESSION = (Level("low", "low bar", load=8.0), Level("high", "high bar", load=10.0))


def fresh() -> Mat:
    press = exercise("press", measure="reps", instead=("bench",), progression=PROGRESSION)
    row = exercise("row", sides="left first", measure="reps")
    parts = [part(press, 3, versions=("low",) * 3), part(row, 2)]
    return Mat(workout(parts, beside=[exercise("bench")], warm_up=60.0, cool_down=30.0))


def said(mat: Mat) -> str:
    """What the last step is told as, where the key is u."""
    return report(mat.latest, mat.state, undo="u takes it back", redo="redo does it again")


PRESS_NEXT: Mapping[str, cmd.Command] = {
    "PRESS set 1 begun": cmd.StartNow(),
    "Rest before PRESS set 1 15 s longer": cmd.Ask(15.0),
    "Rest before PRESS set 1 5 s shorter": cmd.Ask(-5.0),
    "Paused": cmd.Pause(),
    "PRESS set 1 skipped": cmd.Skip(),
    "PRESS dropped, 3 sets": cmd.Drop(),
    "PRESS swapped for BENCH, 3 sets": cmd.Swap(),
    "PRESS harder: high bar, 10 kg": cmd.Step(1),
    "PRESS used 9 kg": cmd.Use(load=9.0),
    "PRESS used height 60 cm": cmd.Use(setup=(("height", "60 cm"),)),
    "3 sets left out: ROW 2, PRESS 1": cmd.LeaveOut((("press", 3), ("row", 1), ("row", 2))),
    "PRESS ends for today, 3 sets left out: pain": cmd.Hurt(),
    "PRESS ends for today, 3 sets left out: pain, left knee": cmd.Hurt("left knee"),
    "Note saved for the session": cmd.Note("cold"),
    "Session rated 7 of 10": cmd.Rate(7.0),
    "Body mass 74.5 kg": cmd.Weigh(74.5),
}
IN_ROW_RIGHT: Mapping[str, cmd.Command] = {
    "ROW set 1 right ended": GO,
    "ROW set 1 right ended, paused": cmd.Pause(),
    "ROW set 1 right given up": cmd.Skip(),
    "ROW dropped, 2 sets": cmd.Drop(),
    "PRESS set 1: 12": reps(12),
    "PRESS set 1: 12 with 2 in reserve": cmd.Enter("reps", (cmd.Count(12, 2),)),
    "PRESS set 1 not counted": cmd.NoCount(),
    "ROW set 1 left: 9": cmd.Fix(2, "reps", cmd.Count(9)),
    "ROW set 1 left: 5 s off its end": cmd.Late(),
    "ROW ends for today, 2 sets left out: pain": cmd.Hurt(),
    "Note saved for ROW set 1": cmd.Note("tight"),
}


@pytest.mark.parametrize("text", PRESS_NEXT)
def test_in_the_first_rest(text: str) -> None:
    mat = fresh().begin().do(PRESS_NEXT[text])
    assert said(mat) == f"{text} · u takes it back"
    assert described(last_act(mat.state), mat.state) == text


@pytest.mark.parametrize("text", IN_ROW_RIGHT)
def test_in_a_running_second_side(text: str) -> None:
    mat = fresh().begin().set().set().start()
    mat.do(IN_ROW_RIGHT[text], after=8.0)
    assert said(mat) == f"{text} · u takes it back"


@pytest.mark.parametrize("commands", [PRESS_NEXT, IN_ROW_RIGHT])
def test_undo_and_redo_say_of_what(commands: Mapping[str, cmd.Command]) -> None:
    for text, command in commands.items():
        mat = fresh().begin()
        mat = mat.set().set().start() if commands is IN_ROW_RIGHT else mat
        mat.do(command, after=8.0 if commands is IN_ROW_RIGHT else 1.0)
        mat.do(cmd.Undo(), after=1.0)
        started = isinstance(command, cmd.StartNow)
        back = "" if started else " · redo does it again"
        assert said(mat) == f"Taken back: {text}{back}"
        if not started:
            assert said(mat.do(cmd.Redo())) == f"Redone: {text} · u takes it back"


def test_what_the_clock_does_is_told_only_when_it_is_taken_back() -> None:
    mat = fresh().begin().start()
    assert said(mat) == ""
    mat.do(cmd.Undo(), after=1.0)
    assert said(mat) == "Taken back: PRESS set 1 begun"


def test_the_begin_and_the_end_cannot_be_taken_back() -> None:
    assert said(fresh().do(GO)) == "Warm-up begun"
    assert said(fresh().begin()) == "Warm-up ended · u takes it back"
    assert said(fresh().begin().do(cmd.End())) == ""


def test_both_sides_in_one_line() -> None:
    mat = fresh().begin().set().do(reps(1)).set().set()
    assert said(mat.do(reps(12, 14))) == (
        "ROW set 1 left: 12; ROW set 1 right: 14 · u takes it back"
    )
    assert said(mat.do(cmd.Fix(2, "reps", cmd.Count(11)))) == (
        "ROW set 1 left corrected to 11 · u takes it back"
    )


def test_a_refusal_names_the_set() -> None:
    mat = fresh().begin().set(lasting=4.0)
    assert flow.deadline(mat.state) is not None
    assert mat.refused(cmd.Late()) == "Press at the hut, set 1, lasted only 4.0 s"


def test_levels_kept_and_of_today_only_are_named() -> None:
    mat = fresh().begin().set().do(reps(20)).do(cmd.Use(load=9.0)).to_the_end()
    assert said(mat.do(cmd.Keep(today_only=True))) == "Today only: PRESS · u takes it back"
    assert said(mat.do(cmd.Keep())) == "Kept for next time: PRESS · u takes it back"


def test_what_begins_or_ends_a_set() -> None:
    mat = fresh().begin()
    assert not any(map(begins_or_ends, mat.do(cmd.Skip()).latest))  # it was only to come
    assert [begins_or_ends(event) for event in mat.start().latest] == [True]
    assert any(map(begins_or_ends, mat.do(cmd.Skip(), after=5.0).latest))  # given up
    assert not any(map(begins_or_ends, mat.do(cmd.Ask(15.0)).latest))
    assert any(map(begins_or_ends, mat.start().do(GO, after=20.0).latest))


@pytest.mark.parametrize(
    ("text", "line"),
    [("no set remains", "No set remains."), ("stop!", "Stop!"), ("Why?", "Why?"), ("", ".")],
)
def test_a_refusal_as_a_line(text: str, line: str) -> None:
    assert sentence(text) == line
