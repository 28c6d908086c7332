"""Typing the count of a set: what is taken, what is refused in place, what keys held down do."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.events import Paste

from runner.screen.mat import Mat
from runner.screen.view import clock
from tests.screen.hands import Hands, at_the_mat, to_first_rest


async def after_a_set(hands: Hands) -> None:
    await to_first_rest(hands)
    await hands.do_set()
    assert hands.state.phase == "rest"


async def after_both_sides(hands: Hands) -> None:
    """Push-ups entered, the row's left and right done and not entered."""
    await to_first_rest(hands)
    await hands.do_set("4", "enter")
    await hands.do_set()
    await hands.do_set()


async def test_digits_and_the_reserve(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("1", "2", "slash", "2")
        assert "12/2" in hands.text
        assert not hands.csv[0]["reps"]
        await hands.press("enter")
        assert (hands.csv[0]["reps"], hands.csv[0]["reserve"]) == ("12", "2")
        assert "Over 5: this version is getting too light." in hands.text


async def test_left_and_right_in_one_line(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_both_sides(hands)
        hands.pause = 0.4
        await hands.press(*"12", "space", *"14", "enter")
        assert [(r["side"], r["reps"]) for r in hands.csv] == [
            ("both", "4"),
            ("left", "12"),
            ("right", "14"),
        ]
        assert "ROW left 12 saved. ROW right 14 saved. Over 5" in hands.text
        assert hands.state.phase == "rest"  # the space was the entry's, and cut no rest


@pytest.mark.parametrize(
    ("keys", "reason"),
    [
        (("4", "minus"), "is no number"),
        (("4", "slash"), "Behind the slash stand the repetitions left in reserve"),
        (tuple("4000"), "Repetitions go from 0 to 999."),
        (("4", "a"), "is no number"),
    ],
)
async def test_nonsense_is_refused_in_place(
    tmp_path: Path, keys: tuple[str, ...], reason: str
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.1
        await hands.press(*keys)
        typed = hands.app.line
        assert typed is not None
        await hands.press("enter")
        assert reason in hands.text
        assert hands.app.line is not None
        assert hands.app.line.text == typed.text
        assert hands.state.open_rows


async def test_enter_on_an_untouched_entry_saves_nothing(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        until = hands.state.until
        await hands.press("enter", "enter")
        assert hands.state.open_rows
        assert hands.state.phase == "rest"
        assert hands.state.until == until


async def test_a_pasted_text_is_typed_text(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.app.post_message(Paste("\x1b[31m٣"))
        await hands.press("enter")
        assert "is no number" in hands.text
        assert "\x1b" not in hands.text
        assert hands.state.open_rows


async def test_the_entry_waits_through_the_next_set_oldest_first(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.do_set()
        assert "BENCH, set 1  (3)" in hands.text
        await hands.until("set")
        await hands.press("5", "enter")
        assert hands.state.phase == "set"
        assert hands.csv[0]["reps"] == "5"
        assert "ROW left, set 1  (3)" in hands.text


async def test_undo_of_a_wrong_end_gives_the_running_set_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        start = hands.state.rows[0].start
        await hands.wait(7)
        await hands.press("pagedown", "pageup")
        assert hands.state.phase == "set"
        assert hands.state.rows[0].start == start
        assert "0:09" in _time(hands)


def _time(hands: Hands) -> str:
    return clock(hands.app.screen_stack[0].query_one(Mat).view.seconds)


async def test_pause_and_on(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("p")
        assert "The session waits for you." in hands.text
        await hands.wait(60)
        assert hands.state.phase == "paused"
        await hands.press("full_stop")
        assert hands.state.phase == "rest"


@pytest.mark.parametrize("key", ["pagedown", "space", "right", "enter"])
async def test_a_main_key_held_down_goes_on_once(tmp_path: Path, key: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.hold(key)
        assert hands.state.phase == "warm-up"
        await hands.hold(key)
        assert hands.state.phase == "rest"
        await hands.until("set")
        await hands.wait(5)
        await hands.hold(key)
        assert hands.state.phase == "rest"
        assert len(hands.state.rows) == 1
        assert hands.state.open_rows


@pytest.mark.parametrize("key", ["pageup", "full_stop", "p", "k", "e", "d", "w", "l"])
async def test_other_keys_held_down_act_once(tmp_path: Path, key: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        before = len(hands.state.log)
        await hands.press(key)
        one = len(hands.state.log) - before
    async with at_the_mat(tmp_path / "again") as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        before = len(hands.state.log)
        await hands.hold(key)
        assert len(hands.state.log) - before == one


async def test_the_remotes_pause_held_down_opens_and_does_not_save(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.hold("full_stop")
        assert hands.state.open_rows
        assert hands.app.line is not None
        assert hands.app.line.mode == "value"


async def test_enter_held_down_after_a_dialog_reaches_nothing_else(tmp_path: Path) -> None:
    """The page of what to do when it hurts stays, and the session stays where it is."""
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.press("p", "x")
        await hands.pilot.press(*"knee")
        await hands.hold("enter")
        assert "It hurts" in hands.over
        assert hands.state.phase == "paused"
        await hands.press("pagedown")
        assert "It hurts" not in hands.over
        assert hands.state.phase == "paused"


async def test_enter_held_down_after_the_rating_does_not_close(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        for _ in range(3):
            await hands.press("d")
        assert hands.state.phase == "wrap-up"
        await hands.press("r", "7")
        await hands.hold("enter")
        assert hands.state.rpe == 7
        assert hands.state.phase == "wrap-up"


async def test_help_stays_while_its_key_is_held(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.hold("question_mark")
        assert "All keys." in hands.over or "Keys" in hands.over
        await hands.press("escape")
        assert hands.state.phase == "ready"
        assert len(hands.app.screen_stack) == 1


async def test_what_the_remote_has_opened_says_in_a_set_how_it_is_saved_there(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("full_stop")
        assert ". saves" in hands.text
        await hands.until("set")
        assert ". save" not in hands.text
        assert "enter saves" in hands.text
        await hands.press("enter")
        assert hands.csv[0]["reps"] == "3"
        assert hands.state.phase == "set"
