"""What is said to be left of a session is what happens if everything goes on as expected."""

from __future__ import annotations

import pytest

from runner.planning.shorten import end_of, finish
from runner.session import verb as cmd
from tests.law.builders import exercise, part, workout
from tests.session.mat import GO, Mat

LENGTHS = {"press": 30.0, "row": 40.0, "plank": 50.0}
PRESS, ROW, PLANK = (
    exercise("press", LENGTHS["press"]),
    exercise("row", LENGTHS["row"], sides="left first"),
    exercise("plank", LENGTHS["plank"]),
)


def mat() -> Mat:
    blocks = ([part(PRESS, 2), part(ROW, 2)], [part(PLANK, 2)])
    return Mat(workout(*blocks, warm_up=240.0, cool_down=60.0))


def over(there: Mat) -> float:
    """Goes on as expected from here; the session second at which the cool-down is over."""
    if there.phase in ("ready", "paused"):
        there.do(GO)
    while there.phase != "wrap-up":
        row = there.state.running
        if row is not None and row.start is not None:
            there.until(max(row.start + LENGTHS[row.planned_set.exercise], there.now)).do(GO)
        elif there.phase == "warm-up":
            assert there.state.until is not None
            there.until(max(there.state.until, there.now)).do(GO)
        else:
            there.start()
    assert there.state.until is not None
    return there.state.until


HERE = {
    "ready": lambda: mat().wait(20),
    "in the warm-up": lambda: mat().do(GO).wait(100),
    "warmed up for too long": lambda: mat().do(GO).wait(300),
    "a pause in the warm-up": lambda: mat().do(GO).do(cmd.Pause(), after=100).wait(500),
    "in the lead-in": lambda: mat().begin().wait(4),
    "in a set": lambda: mat().begin().start().wait(10),
    "in a set too long": lambda: mat().begin().start().wait(90),
    "in a rest": lambda: mat().begin().set(30).wait(10),
    "in a rest made longer": lambda: mat().begin().set(30).do(cmd.Ask(45), after=3),
    "in a rest made shorter": lambda: mat().begin().set(30).do(cmd.Ask(-10), after=3),
    "between the sides": lambda: mat().begin().set(30).set(40).wait(2),
    "a short pause in a rest": lambda: mat().begin().set(30).do(cmd.Pause(), after=3).wait(5),
    "a long pause in a rest": lambda: mat().begin().set(30).do(cmd.Pause(), after=3).wait(500),
    "a pause shortly before a set": lambda: mat().begin().set(30).do(cmd.Pause(), after=27),
    "a set left out": lambda: mat().begin().set(30).do(cmd.Skip(), after=3),
}


@pytest.mark.parametrize("where", HERE)
def test_it_is_over_when_it_is_expected_to_be(where: str) -> None:
    there = HERE[where]()
    expected = end_of(there.state, there.now)
    assert finish(there.state, there.now) == (None if there.phase == "ready" else expected)
    assert over(there) == pytest.approx(expected)


def test_in_the_cool_down_it_ends_with_that_and_then_not_at_all() -> None:
    there = mat()
    end = over(there)
    assert finish(there.state, there.now) == end
    there.do(GO)
    assert finish(there.state, there.now) is None
