"""What a newcomer reads at 80x24: nothing cut off that matters, and no key that is not true."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest
from msgspec.structs import replace

from runner.screen.info import entry_lines
from runner.screen.keys import Do, Edit, help_page, hints, meaning
from runner.screen.paint import as_text, paint
from runner.screen.view import Section, View
from runner.session.state import Phase
from runner.text import hanging
from tests.screen.hands import at_the_mat, to_first_rest
from tests.screen.scenes import BASE, OPEN, SCENES


def screen(view: View) -> str:
    return "\n".join(as_text(paint(view, 80, 24)))


def test_a_time_that_is_over_is_said_whole() -> None:
    shown = screen(replace(SCENES["warm-up"], waits=True))
    assert "Time is up. Go on when you are ready." in shown
    assert "COOL DOWN over" in screen(replace(SCENES["wrap-up"], waits=True))
    assert "COOL DOWN 1:40   Walk a round of the hut" in screen(SCENES["wrap-up"])


def test_the_head_keeps_the_block_and_lets_the_session_go() -> None:
    view = replace(SCENES["rest"], session="Squat and push-up, the long one of the winter")
    head = as_text(paint(view, 80, 24))[0]
    assert head.startswith("  block 1 of 3 ")
    assert "…" not in head
    assert "of the winter · block 1 of 3" in as_text(paint(view, 120, 40))[0]


def test_a_long_message_takes_two_rows_and_loses_nothing() -> None:
    told = "ROW right 12: as last time, 12 to beat stays. Over 5: this level is too light."
    view = replace(SCENES["set"], entry=None, message=told)
    assert told in " ".join(screen(view).replace("\n", " ").split())
    assert len(entry_lines(view, {}, 76, 1)) == 1  # where there is one row it is one


def test_a_line_of_a_page_hangs_behind_its_word() -> None:
    advice = (
        "1 Push-up, hands on the bench -> feet, height 45 cm; "
        "harder (common practice): first set 6, twice running at the top of 5"
    )
    page = (Section("ADVICE", (((advice, "ink"),),), label=9),)
    view = replace(BASE, phase="closed", page=page)
    rows = [row[2:] for row in as_text(paint(view, 80, 24)) if "Push-up" in row or "running" in row]
    assert len(rows) == 2
    assert rows[1].startswith("         ")
    assert " ".join(" ".join(rows).split()) == f"ADVICE {advice}"


def test_how_late_it_is_stands_before_the_tips() -> None:
    view = replace(SCENES["rest"], late="4:10 late")
    assert "Late      4:10 late · m i: leave out sets" in screen(view)
    assert "late" not in screen(replace(SCENES["set"], late="4:10 late"))


def test_a_key_in_the_footer_does_what_it_says() -> None:
    for phase in ("rest", "wrap-up"):
        assert isinstance(meaning("space", phase, OPEN.open()), Edit)
        assert "space" not in dict(hints(phase, OPEN.open()))
        assert dict(hints(phase, OPEN.type("1")))["space"] == "save"
        assert isinstance(meaning("space", phase, OPEN), Do)
        assert "space" in dict(hints(phase, OPEN))


def test_arrows_up_and_down_read_on_and_change_no_count() -> None:
    assert meaning("down", "wrap-up", OPEN.open()) == Do("down")
    assert meaning("up", "wrap-up", OPEN.open()) == Do("up")
    assert meaning("down", "rest", OPEN.open()) is None


async def test_closing_with_a_count_missing_says_so_first(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set()
        await hands.press("q")
        assert "Close the session now?" in hands.over
        assert "1 count is missing." in hands.over
        await hands.press("n", "4", "enter", "q")
        assert "not entered" not in hands.over


async def test_help_shows_the_keys_that_count_now_and_then_all(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, size=(120, 70)) as hands:
        await hands.press("question_mark")
        now = hands.over
        assert "any other key closes this" in now
        assert "no session today" in now  # x on the ready sheet
        await hands.press("question_mark")
        later = set(hands.over.split("\n")) - set(now.split("\n"))
        for said in ("End this exercise for today", "Accept or refuse the advice", "After m:"):
            assert said not in now
            assert any(said in row for row in later)
        await hands.press("question_mark")
        assert len(hands.app.screen_stack) == 1


@pytest.mark.parametrize("phase", get_args(Phase))
def test_help_of_a_phase_is_one_screen(phase: Phase) -> None:
    rows = [row for line in help_page(phase, rehearses=False) for row in hanging(line, 76)]
    assert len(rows) <= 24 - 2  # a title and a blank row above them


async def test_the_last_count_is_not_left_out_by_a_quick_close(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set()
        await hands.press(*"mdmdmd")
        assert hands.state.phase == "wrap-up"
        await hands.press("pagedown")  # a remote has no y to answer a question with
        assert hands.state.phase == "wrap-up"
        assert "1 count is missing. Press again to close anyway." in hands.text
        await hands.press("pagedown")
        assert hands.state.phase == "closed"
