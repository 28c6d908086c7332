"""Offers on the ready sheet, and what a session has brought, on the full screen."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.live.driver import PendingAnswer
from runner.output import record_path
from runner.record.record import Record
from runner.session.events import Pain
from runner.testing import ManualClock
from tests.screen.hands import Hands, at_the_mat, to_first_rest


async def test_a_lighter_session_is_taken_and_given_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        planned = len(hands.state.course.planned_sets)
        await hands.press("e")
        assert hands.state.taken == ("lighter",)
        assert len(hands.state.course.planned_sets) < planned
        await hands.press("f")
        assert hands.state.taken == ("lighter", "place")
        await hands.press("e")
        assert hands.state.taken == ("place",)
        await hands.press("f")
        assert (hands.state.taken, len(hands.state.course.planned_sets)) == ((), planned)


async def test_without_a_key_the_session_is_as_planned(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        planned = hands.state.course.planned_sets
        await to_first_rest(hands)
        assert hands.state.course.planned_sets == planned
        assert hands.state.taken == ()


@pytest.mark.parametrize("back", ["pageup", "left", "escape"])
async def test_ill_or_hurt_ends_it_unless_it_is_taken_back(tmp_path: Path, back: str) -> None:
    async with at_the_mat(tmp_path, yes=False) as hands:
        await hands.press("space")  # the cautions are read
        assert "x  ill, or a new pain" in hands.text
        await hands.press("c")
        assert "chest pain or pressure" in hands.over
        await hands.press("escape", "x")
        assert "No session today." in hands.over
        assert "call the emergency number" in " ".join(hands.over.split())
        await hands.press(back)
        assert "The session is still on." in hands.text
        assert hands.state.phase == "ready"
        await hands.press("x", "space")
        assert (hands.state.phase, hands.state.note) == (
            "closed", "not started: ill, or a new pain",
        )  # fmt: skip
    assert hands.app.return_code == 0


async def test_what_hurts_before_the_start_is_kept(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("x")
        await hands.write("left knee")
        assert hands.state.phase == "closed"
        (pain,) = [event for event in hands.state.log if isinstance(event, Pain)]
        assert (pain.where, pain.exercise) == ("left knee", None)
    assert hands.app.return_code == 0


async def look(hands: Hands) -> None:
    """What stands there once the second session is closed, and the advice in it answered."""
    assert hands.state.phase == "closed"
    for word in ("BEATEN", "ADVICE", "WEEK", "NEXT", "SESSION"):
        assert f"\n  {word} " in hands.text
    assert "more:" not in hands.text  # one screen, also at 80 x 24
    await hands.press("a")
    assert "y  accept:" in hands.over
    assert "n  refuse" in hands.over
    await hands.press("enter", "m")  # neither is an answer
    hands.pause = 1.0
    assert "y  accept:" in hands.over
    await hands.press("y")
    assert "accept:" not in hands.over


async def test_after_the_session_the_advice_is_answered_key_by_key(tmp_path: Path) -> None:
    for day in (0, 3):
        clock = ManualClock()
        clock.advance(day * 86400.0)
        async with at_the_mat(tmp_path, clock=clock) as hands:
            await to_first_rest(hands)
            hands.pause = 0.4
            await hands.do_set("9", "enter", "enter")  # far over the ceiling
            await hands.press("q", "y")
            if day:
                await look(hands)
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        (answer,) = record.answers("Ada")
        assert (answer.accepted, answer.rule) == (True, "harder")
        held = record.level_decisions("Ada")[-1]
        assert held.reason.startswith("harder")
        assert held.session_id is not None


async def test_an_answer_waits_for_no_lock(tmp_path: Path) -> None:
    """It goes to the thread that writes, and is said once it is on file."""
    for day in (0, 3):
        clock = ManualClock()
        clock.advance(day * 86400.0)
        async with at_the_mat(tmp_path, clock=clock) as hands:
            await to_first_rest(hands)
            hands.pause = 0.4
            await hands.do_set("9", "enter", "enter")  # far over the rep limit
            await hands.press("q", "y")
            if not day:
                continue
            keeper = hands.app.controller.live.driver.keeper
            handed: list[PendingAnswer] = []
            keeper.agree = handed.append
            await hands.press("a", "y")
            assert "accept:" not in hands.over
            with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
                assert record.answers("Ada") == []
            (one,) = handed
            one.on_result(OSError("database is locked"))
            await hands.press()
            assert "NOT KEPT: database is locked" in hands.text
            keeper._answers.append(one)
            await hands.press("a")
            assert "Press a again in a moment" in hands.text
            keeper._write_answers(keeper._here.store)
            await hands.press()
            assert ": the first set with feet, height 45 cm." in hands.text
    with Record.open_readonly(record_path(tmp_path, trial=True)) as record:
        assert [one.accepted for one in record.answers("Ada")] == [True]


async def test_a_changed_set_up_starts_a_new_count_and_says_so(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("3", "enter")
        await hands.press("q", "y", "space")
    later = ManualClock()
    later.advance(3 * 86400.0)
    async with at_the_mat(tmp_path, clock=later) as hands:
        await to_first_rest(hands)
        await hands.press("m", "h")
        await hands.do_set("4", "enter")
        assert "a new count to beat · u takes it back" in " ".join(hands.text.split())
