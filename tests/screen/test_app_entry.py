"""Typing the count of a set: what is taken, what is refused in place, what keys held down do."""

from __future__ import annotations

from itertools import count
from pathlib import Path
from unittest.mock import patch

import pytest
from textual.events import Paste

from runner.screen.paint import Mat
from runner.screen.view import clock
from tests.screen.hands import EVERY_KEY, Hands, at_the_mat, to_first_rest


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
        await hands.press("6", "slash", "2")
        assert " /2 " in hands.text  # small, behind the large 6
        assert not hands.csv[0]["reps"]
        await hands.press("enter")
        assert (hands.csv[0]["reps"], hands.csv[0]["reserve"]) == ("6", "2")
        assert "BENCH 1: 6 with 2 in reserve saved" in hands.text
        remark = "u takes it back · Over 5: this level is too light."
        assert remark in " ".join(hands.text.split())


async def test_a_digit_twice_is_two_digits_however_fast_they_come(tmp_path: Path) -> None:
    """In one read the second key may seem earlier than the first, by microseconds."""
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        at = count(hands.app.hand_time(), -0.00002)
        with patch.object(hands.app, "hand_time", lambda: next(at)):
            await hands.pilot.press("1", "1")
        await hands.press("space")
        hands.pause = 2.0
        await hands.press("space")  # over twice the top: asked about
        assert hands.csv[0]["reps"] == "11"


async def test_each_side_has_a_number_of_its_own(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_both_sides(hands)
        hands.pause = 0.4
        await hands.press("4", "space", "5", "space")
        assert [(r["side"], r["reps"]) for r in hands.csv] == [
            ("both", "4"),
            ("left", "4"),
            ("right", "5"),
        ]
        assert "ROW R 1: 5 saved · u takes it back" in hands.text
        assert hands.state.phase == "rest"  # the space saved, and cut no rest


async def test_a_number_typed_during_the_second_side_is_the_first_ones(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "space")
        await hands.do_set()
        await hands.until("set")
        await hands.wait(2)
        await hands.press("4", "space")
        assert "ROW L 1: 4 saved" in hands.text
        await hands.press("5", "space")
        assert [r["reps"] for r in hands.csv] == ["4", "4", "5"]


async def test_left_and_right_pasted_in_one_line(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_both_sides(hands)
        hands.app.post_message(Paste("4 5"))
        await hands.press("enter")
        assert [r["reps"] for r in hands.csv] == ["4", "4", "5"]


@pytest.mark.parametrize(
    ("keys", "reason"),
    [
        (("4", "slash"), "Write the repetitions in reserve after the slash"),
        (tuple("4000"), "Repetitions go from 0 to 999."),
    ],
)
async def test_nonsense_is_refused_in_place(
    tmp_path: Path, keys: tuple[str, ...], reason: str
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.1
        await hands.press(*keys)
        typed = hands.app.controller.line
        assert typed is not None
        await hands.press("enter")
        assert reason in hands.text
        assert hands.app.controller.line is not None
        assert hands.app.controller.line.text == typed.text
        assert hands.state.open_rows


async def test_enter_with_nothing_typed_names_the_main_key(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("enter")
        assert "No count typed. space: start." in hands.text
        assert hands.state.phase == "ready"
        await after_a_set(hands)
        until = hands.state.until
        await hands.press("enter", "enter")
        assert "No count typed. space: start now." in hands.text
        assert hands.state.open_rows
        assert hands.state.phase == "rest"
        assert hands.state.until == until


async def test_a_pasted_text_is_typed_text(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.app.post_message(Paste("\x1b[31m٣"))
        await hands.press("enter")
        assert "is not a number" in hands.text
        assert "\x1b" not in hands.text
        assert hands.state.open_rows


async def test_the_field_waits_through_the_next_set_oldest_first(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.do_set()
        assert "BENCH 1: how many?" in hands.text
        assert "│ (3) " in hands.text
        await hands.until("set")
        await hands.press("5", "enter")
        assert hands.state.phase == "set"
        assert hands.csv[0]["reps"] == "5"
        assert "ROW L 1: how many?" in hands.text


async def test_digits_and_space_alone_give_each_set_its_count(tmp_path: Path) -> None:
    """Set 1, 12, space, space, end, 9, space: `129` was saved."""
    async with at_the_mat(tmp_path) as hands:
        hands.pause = 2.1
        await to_first_rest(hands)
        await hands.press("space")
        for number in ("4", "5", "3"):
            await hands.press("space", number, "space", "space")
        assert [r["reps"] for r in hands.csv][:3] == ["4", "5", "3"]
        assert hands.state.phase == "set"


async def test_the_clock_starts_the_set_then_saves_what_was_typed(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("4")
        await hands.until("set")
        assert hands.csv[0]["reps"] == "4"
        assert "BENCH 1: 4 saved · u takes it back" in hands.text
        names = [e.name for e in hands.state.log]
        assert names[-2:] == ["started", "entered"]


async def test_the_clock_saves_nothing_doubtful_and_nothing_that_was_only_opened(
    tmp_path: Path,
) -> None:
    for keys in (("4", "4"), ("0",), ("4", "4", "space"), ("full_stop",)):
        async with at_the_mat(tmp_path / "".join(keys)) as hands:
            await after_a_set(hands)
            await hands.press(*keys)
            await hands.until("set")
            assert not hands.csv[0]["reps"]
            await hands.wait(5)
            await hands.press("space")
            assert hands.state.phase == "rest"
            assert not hands.csv[0]["reps"]
            await hands.press("space")
            if keys != ("full_stop",):
                assert "? Press save again, or type another number." in hands.text
                await hands.press("space")
            assert hands.csv[0]["reps"] == {"4": "44", "0": "0", "full_stop": "3"}[keys[0]]


async def test_where_sets_wait_for_the_person_only_keys_save(tmp_path: Path) -> None:
    plan = tmp_path / "waits.toml"
    plan.write_text(EVERY_KEY.read_text().replace('set_starts = "clock"', 'set_starts = "key"'))
    async with at_the_mat(tmp_path / "data", plan) as hands:
        await to_first_rest(hands)
        await hands.wait(10)
        await hands.press("space")
        await hands.wait(10)
        await hands.press("space", "9")
        await hands.wait(60)
        assert hands.state.phase == "rest"
        assert not hands.csv[0]["reps"]
        await hands.press("space")
        assert hands.csv[0]["reps"] == "9"
        assert hands.state.phase == "rest"
        await hands.wait(2)
        await hands.press("space")
        assert hands.state.phase == "set"


async def test_what_the_remote_stepped_is_saved_as_the_clock_starts_the_set(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("full_stop", "pagedown")
        await hands.until("set")
        assert hands.csv[0]["reps"] == "4"
        assert "page up takes it back" in hands.text


async def test_the_main_key_in_a_set_ends_it_and_then_saves(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.until("set")
        await hands.wait(5)
        await hands.press("5", "space")
        assert [e.name for e in hands.state.log][-3:] == ["ended", "resting", "entered"]
        assert "BENCH 1: 5 saved" in hands.text
        assert hands.text.count("takes it back") == 1  # the count first, then the end
        await hands.press("u")
        assert hands.app.controller.line is not None
        assert (hands.app.controller.line.asked.label, hands.app.controller.line.text) == (
            "BENCH 1",
            "5",
        )
        assert hands.state.phase == "rest"  # the end stands; the count is back in its field
        await hands.press("3", "space")
        assert hands.csv[0]["reps"] == "3"


async def test_page_up_empties_what_is_typed_and_then_takes_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("4", "pageup")
        assert "BENCH 1: how many?" in hands.text
        assert "│ (3) " in hands.text
        assert hands.state.phase == "rest"
        await hands.press("pageup", "pageup")
        assert hands.state.phase == "set"


async def test_digits_correct_the_last_count_where_none_is_missing(tmp_path: Path) -> None:
    """`1 enter` then `2 enter`: the 2 was ignored, and the enter started a set."""
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.3
        await hands.press("1", "enter", "2")
        assert "BENCH 1 was 1 → 2▏ enter changes it" in hands.text
        await hands.press("space")
        assert "Enter changes BENCH 1." in hands.text
        await hands.press("enter")
        assert "BENCH 1: 2 instead of 1 · u takes it back" in hands.text
        assert (hands.csv[0]["reps"], hands.csv[0]["corrected"]) == ("2", "yes")
        assert hands.state.phase == "rest"


async def test_a_correction_is_dropped_as_a_set_begins(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.3
        await hands.press("1", "enter", "2", "pageup")
        assert "BENCH 1 stays 1." in hands.text
        await hands.press("2")
        await hands.until("set")
        assert "BENCH 1 stays 1." in hands.text
        assert hands.csv[0]["reps"] == "1"
        await hands.press("2")
        assert "End the set first: space" in hands.text


async def test_an_emptied_correction_ends_by_itself(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.3
        await hands.press("1", "enter", "5", "backspace")
        assert "BENCH 1 stays 1." in hands.text
        assert hands.app.controller.line is None
        await hands.wait(3)
        await hands.press("space")  # the main key acts
        assert hands.state.phase == "set"
        assert hands.csv[0]["reps"] == "1"


async def test_a_doubtful_correction_is_asked_about_by_field_and_by_dialog(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.3
        await hands.press("1", "enter", "1", "2", "0", "enter")
        assert "120? Press save again, or type another number." in hands.text
        assert hands.csv[0]["reps"] == "1"
        hands.pause = 0.8
        await hands.press("enter")
        assert hands.csv[0]["reps"] == "120"
        hands.pause = 0.3
        await hands.press("m", "f")
        await hands.write("1 90")
        assert "90? Press enter again" in hands.over
        await hands.press("enter")
        assert hands.csv[0]["reps"] == "90"


async def test_q_saves_what_is_typed_first_unless_it_is_doubtful(tmp_path: Path) -> None:
    for typed, kept in (("4", "4"), ("9", "9"), ("0", "")):
        async with at_the_mat(tmp_path / typed) as hands:
            await after_a_set(hands)
            await hands.press(typed, "q", "y")
            assert hands.state.phase == "closed"
            assert hands.csv[0]["reps"] == kept


async def test_saving_needs_no_pause_after_the_end_only_another_key(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set()
        hands.pause = 0.1
        await hands.press("4", "space")
        assert hands.csv[0]["reps"] == "4"
        hands.pause = 1.9
        await hands.press("space")
        assert hands.state.phase == "rest"  # within two seconds of saving no rest is cut


@pytest.mark.parametrize("keys", [("4",), ("4", "space"), ("4", "4")])
async def test_the_key_that_saves_held_down_does_nothing_more(
    tmp_path: Path, keys: tuple[str, ...]
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        hands.pause = 0.3
        await hands.press(*keys)
        await hands.hold("space", repeats=40)
        assert hands.state.phase == "rest"
        assert hands.csv[0]["reps"] == ("" if keys == ("4", "4") else "4")


async def test_undo_of_a_wrong_end_gives_the_running_set_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        start = hands.state.rows[0].start
        await hands.wait(7)
        await hands.press("pagedown", "pageup")
        assert "page up again takes back: BENCH set 1 ended" in hands.text
        assert hands.state.phase == "rest"
        await hands.press("pageup")
        assert hands.state.phase == "set"
        assert hands.state.rows[0].start == start
        assert "0:10" in _time(hands)


def _time(hands: Hands) -> str:
    return clock(hands.app.screen_stack[0].query_one(Mat).view.seconds)


async def test_pause_and_on(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("p")
        assert "Paused · u takes it back" in hands.text
        await hands.wait(60)
        assert hands.state.phase == "paused"
        await hands.press("full_stop")
        assert hands.state.phase == "rest"


@pytest.mark.parametrize("key", ["pagedown", "space", "right"])
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
        assert hands.app.controller.line is not None
        assert hands.app.controller.line.mode == "value"


async def test_enter_held_down_after_a_dialog_reaches_nothing_else(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.press("p", "x", "l")
        await hands.pilot.press(*"knee")
        await hands.hold("enter")
        assert len(hands.app.screen_stack) == 1
        assert hands.csv[0]["pain_where"] == "knee"
        assert hands.state.phase == "paused"


async def test_enter_held_down_after_the_rating_does_not_close(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        for _ in range(3):
            await hands.press("m", "d")
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


async def test_what_the_remote_has_opened_is_saved_by_its_button_in_a_set_too(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_a_set(hands)
        await hands.press("full_stop")
        assert ". save" in hands.text
        await hands.until("set")
        assert ". save" in hands.text
        assert not hands.csv[0]["reps"]
        await hands.press("full_stop")
        assert hands.csv[0]["reps"] == "3"
        assert hands.state.phase == "set"


async def test_what_is_said_of_an_exercise_has_its_newest_count(tmp_path: Path) -> None:
    """The suggestion for the next set, and the last page, after each count."""
    names = ("BENCH 1", "ROW L 1", "ROW R 1", "BENCH 2", "ROW L 2", "ROW R 2")
    suggested = ("3", "3", "5", "4", "4", "4")  # the bottom, then the last count today
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        for name, grey, count in zip(names, suggested, "454344", strict=True):
            await hands.do_set()
            assert f"{name}: how many?" in hands.text
            assert f"│ ({grey}) " in hands.text
            await hands.press(count, "enter")
        await hands.do_set(lasts=8)
        assert hands.state.phase == "wrap-up"
        await hands.press("m", "f")
        await hands.write("6 5")  # the row's last right side
        await hands.press("space")
        for line in ("BENCH 4 3 ", "ROW 5|4 4|5 ", "BRIDGE 9s"):
            assert line in hands.text
