"""What lies over the session: how lines of pages go on, and that it closes once."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console
from textual.events import Key

from runner.live.controller import WhereItHurts
from runner.screen.dialogs import AskLine, HangingLines, Page, PainPlace, Question
from runner.session.events import Noted, Pain
from tests.screen.hands import at_the_mat, to_first_rest

KEYS = f"{'p . b':<28}Pause the rehearsal; this key or the main key resumes it."


def test_an_explanation_goes_on_below_itself() -> None:
    console = Console(width=66, color_system=None)
    with console.capture() as said:
        console.print(HangingLines(("Keys", "", KEYS)))
    column = " " * 28
    assert said.get().splitlines() == [
        "Keys",
        "",
        "p . b                       Pause the rehearsal; this key or the",
        f"{column}main key resumes it.",
    ]


async def test_keys_on_their_way_to_a_page_that_closes_do_nothing(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("space", "question_mark")
        page = hands.app.screen
        assert isinstance(page, Page)
        for key in ("x", "x", "escape"):
            page.post_message(Key(key, None))
        await hands.pilot.pause()
        assert len(hands.app.screen_stack) == 1
        assert hands.state.phase == "warm-up"


PAIN = WhereItHurts("Press ended.", (), lambda _: None, lambda: None)
LINES: dict[str, Callable[[], AskLine | PainPlace]] = {
    "a line": lambda: AskLine("Note", lambda _: None),
    "the place of a pain": lambda: PainPlace(PAIN, lambda _: None),
}


@pytest.mark.parametrize("line", LINES)
async def test_a_line_can_be_left_before_and_after_its_widgets_are_there(
    tmp_path: Path, line: str
) -> None:
    async with at_the_mat(tmp_path) as hands:
        for stood in (False, True):
            over = LINES[line]()
            there = hands.app.push_screen(over)
            if stood:
                await there
                await over.remove_children()
            assert not over.children
            over.give_way()
            await hands.pilot.pause()
            assert len(hands.app.screen_stack) == 1


async def test_what_fails_while_the_screen_is_taken_down_changes_no_exit_code(
    tmp_path: Path,
) -> None:
    failed = asyncio.Event()

    def fails() -> None:
        failed.set()
        raise AssertionError("what is taken down")

    async with at_the_mat(tmp_path) as hands:
        hands.app.leave(130)
        hands.app.call_later(fails)
        await failed.wait()
    assert hands.app.return_code == 130


async def test_a_fault_shows_no_values_of_variables(tmp_path: Path) -> None:
    console = Console(width=200)
    async with at_the_mat(tmp_path) as hands:
        typed = "what somebody " + "typed"
        try:
            typed[len(typed)]
        except IndexError as fault:
            hands.app._handle_exception(fault)
        with console.capture() as said:
            console.print(*hands.app._exit_renderables)
        hands.app._exception = None  # else it is raised here
    assert "in test_a_fault_shows" in said.get()
    assert "what somebody typed" not in said.get()


async def test_a_question_is_answered_once(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        answers: list[bool | None] = []
        await hands.app.push_screen(Question("Go on?"), answers.append)
        question = hands.app.screen
        for key in ("n", "y", "y"):
            question.post_message(Key(key, None))
        await hands.pilot.pause()
        assert answers == [False]
        assert len(hands.app.screen_stack) == 1


async def test_a_late_key_to_a_question_under_a_page_closes_nothing(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        answers: list[bool | None] = []
        await hands.app.push_screen(Question("Go on?"), answers.append)
        question = hands.app.screen
        await hands.app.push_screen(Page("Read", ["this"]))
        for key in ("n", "y", "y"):
            question.post_message(Key(key, None))
        await hands.pilot.pause()
        assert [type(s) for s in hands.app.screen_stack[1:]] == [Question, Page]
        assert answers == []
        await hands.press("space", "n")
        assert answers == [False]


async def test_there_is_no_command_palette(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("ctrl+p", "ctrl+backslash")
        hands.app.action_command_palette()
        await hands.pilot.pause()
        assert len(hands.app.screen_stack) == 1


async def test_keys_that_come_at_once_are_done_in_their_order(tmp_path: Path) -> None:
    """As a terminal sends them that was held up: the list, a line in it, a count after it."""
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set()
        await hands.wait(3.0)
        for sign in ("m", "n", *"n1 low bar", "enter", *"12"):
            key = {" ": "space"}.get(sign, sign)
            hands.app.post_message(Key(key, sign if len(sign) == 1 else None))
        await hands.pilot.pause()
        assert len(hands.app.screen_stack) == 1
        assert [e.note for e in hands.state.log if isinstance(e, Noted)] == ["n1 low bar"]
        assert hands.app.controller.line is not None
        assert hands.app.controller.line.text == "12"
        for sign in ("x", "l", *"knee", "enter", "1", "3"):  # l: the last exercise
            hands.app.post_message(Key(sign, sign if len(sign) == 1 else None))
        await hands.pilot.pause()
        assert [e.where for e in hands.state.log if isinstance(e, Pain)][-1] == "knee"
