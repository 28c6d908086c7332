"""A whole session on the full screen, from the ready sheet to the record."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from runner.record.record import Record
from runner.screen.paint import Mat
from runner.screen.view import word
from runner.testing import ManualClock
from tests.screen.hands import Hands, at_the_mat, to_first_rest

REMOTE = {"next": "pagedown", "back": "pageup", "pause": "full_stop"}


async def count_with_the_remote(hands: Hands, more: int) -> None:
    """Open what is suggested, add to it, save it."""
    await hands.press(REMOTE["pause"], *[REMOTE["next"]] * more, REMOTE["pause"])


async def read_on(hands: Hands, key: str) -> None:
    """Begin; the key reads the cautions to their end first."""
    assert hands.app.controller.live is not None
    pages = 0
    while hands.state.phase == "ready":
        await hands.wait(1)
        await hands.press(key)
        pages += 1
    assert pages > 1


async def test_a_whole_session_with_the_remote_alone(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, yes=False) as hands:
        assert "Read before you start" in hands.text
        await hands.press("escape", "f5")
        await read_on(hands, REMOTE["next"])
        assert hands.state.phase == "warm-up"
        await hands.press(REMOTE["next"])
        await hands.press("pageup")  # too soon out of the warm-up: back into it
        assert hands.state.phase == "warm-up"
        await hands.press(REMOTE["next"])
        hands.pause = 0.8
        for more in (1, 0, 2, 1, 0, 2):
            await hands.until("set")
            await hands.wait(9)
            await hands.press("escape", REMOTE["next"], "f5")
            if hands.state.phase == "set":  # a side gap may be over already
                await hands.press(REMOTE["next"])
            await hands.until("rest")
            while hands.state.open_rows and hands.state.phase == "rest":
                await count_with_the_remote(hands, more)
        await hands.until("set")
        assert "HOLD" in _word(hands)
        await hands.wait(7)
        await hands.press(REMOTE["next"])
        assert hands.state.phase == "wrap-up"
        while hands.state.open_rows:
            await count_with_the_remote(hands, 0)
        await hands.wait(10)
        await hands.press("escape", REMOTE["next"])
        assert hands.state.phase == "closed"
        assert "The session is complete." in hands.text
        rows = hands.csv
        await hands.press(REMOTE["next"])
        assert hands.app.return_value == 0
    done = [(r["exercise"], r["set"], r["side"], r["status"]) for r in rows]
    assert done == [
        ("bench-push-up", "1", "both", "done"),
        ("rucksack-row", "1", "left", "done"),
        ("rucksack-row", "1", "right", "done"),
        ("bench-push-up", "2", "both", "done"),
        ("rucksack-row", "2", "left", "done"),
        ("rucksack-row", "2", "right", "done"),
        ("bridge", "1", "both", "done"),
    ]
    assert [r["reps"] for r in rows if r["side"] == "both"][:2] == [
        "4",
        "5",
    ]  # 3 and one more, 4 and one more
    assert all(3 <= int(r["reps"]) <= 7 for r in rows[:-1])
    assert 7 <= float(rows[-1]["hold_s"]) <= 9


def _word(hands: Hands) -> str:
    return word(hands.app.screen_stack[0].query_one(Mat).view)


async def test_what_a_person_sees_from_ready_to_closed(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        for shown in (
            "Two minutes · Ada",
            "Ada is new here",
            "Bench: 45 cm",
            "Put it against the wall",
            "space start",
        ):
            assert shown in hands.text
        await hands.press("space")
        assert "Arm circles" in hands.text
        await hands.press("space")
        for shown in (
            "Next      Push-up, hands on the bench · set 1 of 2",
            "3 to 5, stop with 2 in reserve",
        ):
            assert shown in hands.text
        await hands.until("set")
        assert "at least" in hands.text
        await hands.wait(9)
        await hands.press("space")
        assert "BENCH 1: how many?" in hands.text
        assert "│ (3) " in hands.text
        assert "1 of 5 sets" in hands.text
        await hands.press("4", "enter")
        assert "BENCH 1: 4 saved · u takes it back" in hands.text
        for _ in range(5):
            await hands.do_set()
        await hands.do_set(lasts=6)
        assert hands.state.phase == "wrap-up"
        assert "How hard was it, 0 to 10?" in hands.text
        await hands.press("r")
        await hands.write("11")
        assert "0 to 10" in hands.over
        await hands.press("escape", "r", "backspace", "backspace")
        await hands.write("6")
        assert "rated 6 of 10" in hands.text
        assert "How hard was it" not in hands.text
        await hands.press("m", "n")
        await hands.write("cold hands")
        await hands.press("space")
        assert "counts are missing. Press again to close anyway." in hands.text
        await hands.press("space")
        assert "The session is complete." in hands.text
        assert "type it, space saves" in hands.text  # as a correction
        assert hands.state.rpe == 6
    with closing(sqlite3.connect(tmp_path / "trial.db")) as record:
        said = [row[0] for row in record.execute("SELECT data FROM event")]
    assert any("cold hands" in text for text in said)


async def test_the_count_to_beat_of_the_second_session_and_what_became_of_it(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("3", "enter")
        await hands.press("q", "y", "space")
    later = ManualClock()
    later.advance(3 * 86400.0)
    async with at_the_mat(tmp_path, clock=later) as hands:
        assert "last 3" in hands.text
        assert "is new here" not in hands.text
        await to_first_rest(hands)
        assert "next, beat" in hands.text
        assert "3 to 5, stop with 2 in reserve" in hands.text
        await hands.until("set")
        assert "to beat" in hands.text
        await hands.wait(8)
        await hands.press("space", "4", "enter")
        assert "BENCH 1: 4 saved, beaten (it was 3) · u takes it back" in hands.text
        assert hands.csv[0]["to_beat"] == "3"
        assert hands.csv[0]["beaten"] == "yes"


async def test_a_doubtful_count_is_asked_about_once_more(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("3", "enter")
        await hands.press("q", "y", "space")
    later = ManualClock()
    later.advance(3 * 86400.0)
    async with at_the_mat(tmp_path, clock=later) as hands:
        await to_first_rest(hands)
        await hands.do_set("3", "3", "enter")
        assert "33? Press save again, or type another number." in hands.text
        assert hands.state.rows[0].open
        await hands.press("enter")
        assert not hands.state.rows[0].open
        assert "BENCH 1: 33 saved, beaten (it was 3)" in hands.text


async def test_a_session_cut_off_is_offered_again(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.press("ctrl+c")
        assert hands.app.return_value == 130
        before = hands.csv
    later = ManualClock()
    later.advance(600)
    async with at_the_mat(tmp_path, clock=later) as hands:
        assert "was cut off. Continue it?" in hands.over
        await hands.press("m", "escape", "enter")
        assert hands.app.controller.live is None  # only an answer is an answer
        await hands.press("y")
        assert "1 of 5 sets" in hands.text
        assert hands.csv[0] == before[0]


async def test_a_session_cut_off_can_be_left_open(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("ctrl+c")
    later = ManualClock()
    later.advance(600)
    async with at_the_mat(tmp_path, clock=later) as hands:
        await hands.press("n")
        assert hands.state.phase == "ready"
        assert not hands.state.rows


async def test_the_cautions_are_asked_for_once(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, yes=False) as hands:
        assert "Read before you start" in hands.text
        await read_on(hands, "space")
        await hands.press("q", "y", "space")
    later = ManualClock()
    later.advance(86400)
    async with at_the_mat(tmp_path, yes=False, clock=later) as hands:
        assert "Read before you start" not in hands.text
        assert "c  before you start: 7 points" in hands.text
        assert "Put it against the wall and lean on it" in hands.text  # the checks come every time


async def test_a_record_that_cannot_be_written_says_so_to_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        with monkeypatch.context() as broken:
            broken.setattr(Record, "append", _full)
            await hands.do_set()
            assert "NOT KEPT: [Errno 28] the disk is full" in hands.text
        await hands.press("3", "enter")
        assert "NOT KEPT" not in hands.text
        assert "Kept now: 3 events. BENCH 1: 3 saved" in hands.text
        monkeypatch.setattr(Record, "append", _full)
        await hands.press("q", "y")
        assert hands.state.phase == "closed"
        assert "NOT KEPT: [Errno 28] the disk is full" in hands.text
        assert hands.app.controller.live is not None
        assert hands.app.controller.live.driver.keeper.lost


def _full(*_: object) -> None:
    raise OSError(28, "the disk is full")


async def test_what_is_open_after_an_early_end_is_taken_as_a_correction(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set()
        await hands.press("q", "space")  # the main key answers too
        assert (hands.state.phase, hands.state.complete) == ("closed", False)
        assert "■ 1 count  BENCH, set 1" in hands.text
        await hands.press("r")
        await hands.write("6")
        await hands.press("4", "enter")
        assert "BENCH 1: 4 saved" in hands.text
        assert "takes it back" not in hands.text
        await hands.press("u")
        assert "u: undo does nothing after the end" in hands.text
        row = hands.csv[0]
        assert (row["reps"], row["corrected"]) == ("4", "yes")
        await hands.press("space")
        assert hands.app.return_value == 0
    with Record.open_readonly(tmp_path / "trial.db") as record:
        assert [row.reps for row in record.rows()] == [4]
    with closing(sqlite3.connect(tmp_path / "trial.db")) as record:
        assert record.execute("SELECT rpe, status, complete FROM session").fetchall() == [
            (6, "closed", "no")
        ]
