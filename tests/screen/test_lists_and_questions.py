"""Lists, questions, lines and help that lie over a session's screen: golden texts of each."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.screen.golden_text import all_same
from tests.screen.hands import Hands, at_the_mat
from tests.screen.test_pages import SIZES, train


@pytest.fixture(autouse=True)
def _for_its_owner_alone(tmp_path: Path) -> None:
    tmp_path.chmod(0o700)  # else the page would say that it is not


@pytest.mark.parametrize("size", SIZES)
async def test_what_lies_over_the_screen(tmp_path: Path, size: tuple[int, int]) -> None:
    wide, high = size
    found: dict[str, list[str]] = {}

    async def over(name: str, *keys: str) -> None:
        await hands.press(*keys)
        await hands.pilot.pause()
        found[f"over-{name}-{wide}x{high}"] = hands.over.splitlines()

    async def off(*keys: str) -> None:
        await hands.press(*keys)
        await hands.pilot.pause()

    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=size) as hands:
        await over("list-ready", "m")
        await off("m")
        await over("help-ready", "question_mark")
        await over("help-all", "question_mark")
        await off("z")
        await over("care", "c")
        await off("z", "space", "space")
        await _first_set(hands)
        await over("help-rest", "question_mark")
        await off("z")
        await over("list-rest", "m")
        await over("note", "n")
        await off("escape")
        await over("list-sound", "m", "s")
        await off("m")
        await over("which-hurts", "x")
        await over("where-it-hurts", "l")
        await off("enter", "u", "u")
        await hands.until("set")
        await hands.wait(21)
        await over("list-set", "m")
        await over("set-up-used", "g")
        await off("escape")
        await over("body-mass", "m", "b")
        await off("escape")
        await over("end", "q")
        await off("n")
    all_same(found)


@pytest.mark.parametrize("size", SIZES)
async def test_what_lies_over_the_wrap_up(tmp_path: Path, size: tuple[int, int]) -> None:
    wide, high = size
    found: dict[str, list[str]] = {}
    async with at_the_mat(tmp_path, "kestrel-hut", session="A", size=size) as hands:
        await train(hands, uncounted=1)
        for name, keys in (
            ("list-wrap-up", ("m",)),
            ("advice", ("m", "a")),
            ("effort", ("z", "r")),
            ("close-asks", ("escape", "space")),
        ):
            await hands.press(*keys)
            await hands.pilot.pause()
            found[f"over-{name}-{wide}x{high}"] = hands.over.splitlines()
    all_same(found)


async def _first_set(hands: Hands) -> None:
    await hands.do_set()
    await hands.wait(3)
