"""The list that `m` opens: what stands in it, what it covers, what its keys and clicks do."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.screen.keys import letter_at, list_rows
from runner.screen.paint import Mat, as_text, list_area
from tests.screen.hands import Hands, at_the_mat, to_first_rest
from tests.screen.watchers import watching

CHOICES = tuple((letter, f"line {letter}") for letter in "wehkdcbygfnilts")


def lines(hands: Hands) -> dict[str, str]:
    """The lines of the list that is open, by letter."""
    return dict(hands.app.controller.choices)


async def in_a_rest(hands: Hands) -> None:
    """The first count is missing; the row comes next, left side first."""
    await to_first_rest(hands)
    hands.pause = 0.1
    await hands.do_set(lasts=12)
    assert hands.state.phase == "rest"


async def test_each_line_names_what_it_acts_on(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m")
        wanted = {
            "w": "swap ROW for BLADES",
            "h": "ROW harder: 4 kg",
            "k": "skip ROW set 1",
            "d": "drop ROW, 2 sets",
            "c": "BENCH 1 is not counted",
            "b": "body mass",
            "g": "load or set-up you used",
            "f": "fix an earlier count",
            "n": "note",
            "i": "in time: leave out sets",
            "l": "key came late: 5 s off the last set",
            "t": "pacer on",
            "s": "sound, voice, volume, light or dark",
        }
        assert wanted.items() <= lines(hands).items()
        for letter, text in lines(hands).items():
            assert f"{letter}  {text}" in hands.text


async def test_what_cannot_be_done_now_has_no_line_and_its_letter_says_why(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m")
        assert "e" not in lines(hands)
        await hands.press("e")
        assert "Rucksack row is at its easiest level." in hands.text


async def test_time_and_count_stay_and_digits_go_to_the_count(tmp_path: Path) -> None:
    for size in ((80, 24), (120, 40), (60, 20), (100, 30)):
        async with at_the_mat(tmp_path / str(size[0]), size=size) as hands:
            await in_a_rest(hands)
            await hands.press("1")
            mat = hands.app.screen_stack[0].query_one(Mat)
            before = hands.rows
            await hands.press("m")
            top = list_area(mat.view, *size).y
            assert any("skip ROW set 1" in row for row in hands.rows[top:])
            assert hands.rows[2:top] == before[2:top]  # above: bar and head
            await hands.press("1", "enter")
            assert "11? Press save again" in hands.text  # although its field is covered
            await hands.press("4", "enter")
            assert hands.csv[0]["reps"] == "4"
            assert hands.app.controller.more == ""


async def test_a_letter_does_it_and_m_or_escape_closes(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m", "d")
        assert "ROW dropped, 2 sets · u takes it back" in hands.text
        hands.pause = 0.8
        for closing in ("m", "escape"):
            await hands.press("m")
            assert "MORE" in hands.text
            await hands.press(closing)
            assert "MORE" not in hands.text


async def test_the_main_key_closes_it_and_acts(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.wait(3)
        await hands.press("m", "space")
        assert hands.state.phase == "set"
        assert "MORE" not in hands.text


@pytest.mark.parametrize(("key", "phase"), [("p", "paused"), ("x", "rest"), ("u", "rest")])
async def test_the_single_keys_act_through_it(tmp_path: Path, key: str, phase: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("p", "space", "m", key)
        assert hands.app.controller.more is None
        assert hands.state.phase == (phase if key != "u" else "paused")


async def test_a_letter_that_is_not_in_it_says_so_and_leaves_it_open(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m", "v")
        assert "v does nothing in a rest" in hands.text
        assert "k  skip ROW set 1" in hands.text


async def test_it_closes_as_a_set_begins_and_as_one_ends(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m")
        await hands.until("set")
        assert hands.app.controller.more is None
        await hands.wait(5)
        await hands.press("m")
        assert "k  give up ROW set 1" in hands.text
        await hands.press("space")
        assert hands.state.phase == "rest"
        assert hands.app.controller.more is None


async def test_what_was_being_typed_as_a_set_begins_stands_there_again(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m", "n")
        await hands.pilot.press(*"cold")
        await hands.until("set")
        await hands.pilot.pause()
        assert len(hands.app.screen_stack) == 1
        assert "What you typed is kept. The same keys show it again." in hands.text
        await hands.press("m", "n")
        await hands.write(" bar")
        assert hands.state.rows[1].note == "cold bar"


async def test_a_question_closes_as_a_set_begins(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("q")
        assert "Close the session now?" in hands.over
        await hands.until("set")
        await hands.pilot.pause()
        await hands.press("y")
        assert hands.state.phase == "set"
        assert "y: press m first" in hands.text


async def test_redo_is_there_after_an_undo_until_something_else_happens(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await in_a_rest(hands)
        await hands.press("m", "d", "u")
        assert "Taken back: ROW dropped, 2 sets · m y does it again" in hands.text
        await hands.press("m", "y")
        assert "Redone: ROW dropped, 2 sets · u takes it back" in hands.text
        await hands.press("u", "4", "enter", "m")
        assert "y" not in lines(hands)
        await hands.press("y")
        assert "Nothing to redo" in hands.text


async def test_a_set_is_begun_and_not_redone(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        await hands.press("u", "u")
        assert "Taken back: BENCH set 1 begun" in hands.text
        assert "m y" not in hands.text
        await hands.press("m")
        assert "y" not in lines(hands)


async def test_sound_and_look_have_a_list_of_their_own_which_stays_open(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("m", "s")
        assert set(lines(hands)) == {"s", "v", "c", "d", "l"}
        await hands.press("c", "c")
        assert lines(hands)["c"] == "cues quieter (60 of 100)"
        await hands.press("m")
        assert hands.app.controller.more is None


async def test_a_rehearsal_has_it_without_what_is_only_kept(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=1) as demo:
        await demo.press("space")
        await demo.go("rest")
        await demo.press("m")
        known = dict(demo.app.controller.choices)
        assert "k" in known
        assert not {"n", "b", "c", "f", "l"} & set(known)


@pytest.mark.parametrize("size", [(20, 5), (40, 12), (60, 20)])
async def test_where_rows_are_few_down_shows_the_rest_and_the_count_stays(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", size=size) as hands:
        await in_a_rest(hands)
        await hands.press("1", "m")
        everything, seen = set(lines(hands)), set()
        for _ in everything:
            seen |= {known for known in everything if f"{known}  " in hands.text}
            asked = "SQUAT 1: how many?" if size[0] == 60 else "SQUAT 1   1▏"
            assert asked in hands.text
            await hands.press("down")
        assert seen == everything
        hands.pause = 0.8
        await hands.press("up", "m")
        assert hands.app.controller.more is None


async def click(hands: Hands, text: str) -> None:
    """Click on the first sign of a text on the mat."""
    y, x = next((y, row.find(text)) for y, row in enumerate(hands.rows) if text in row)
    await hands.wait(hands.pause)
    await hands.pilot.click(offset=(x, y))
    await hands.pilot.pause()


async def test_a_click_on_the_footer_or_on_a_line_presses_its_key(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await click(hands, "space start")
        assert hands.state.phase == "warm-up"
        await click(hands, "go on")
        assert hands.state.phase == "rest"
        await click(hands, "more")
        await click(hands, "drop BENCH, 2 sets")
        assert "BENCH dropped, 2 sets · u takes it back" in hands.text
        await click(hands, "undo")
        assert "Taken back: BENCH dropped" in hands.text
        await click(hands, "? help")
        assert "Keys" in hands.over


async def test_a_click_on_an_offer_of_the_footer_takes_it(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        assert [offer.kind for offer in hands.state.baseline.offers][:1] == ["lighter"]
        await click(hands, "e f take")
        assert hands.state.taken == ("lighter",)


async def test_a_click_elsewhere_does_nothing(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        before = hands.state
        for offset in ((0, 0), (30, 5), (79, 23), (0, 23)):
            await hands.pilot.click(offset=offset)
        await hands.press("m")
        await hands.pilot.click(offset=(5, 5))
        assert hands.state == before
        assert hands.app.controller.more == ""


@pytest.mark.parametrize("width", [76, 116, 58, 38, 20])
@pytest.mark.parametrize("height", [1, 2, 4, 8, 12, 20])
def test_a_line_stands_where_a_click_finds_it(width: int, height: int) -> None:
    rows = as_text(list_rows(CHOICES, width, height))
    assert len(rows) == height
    assert max(map(len, rows)) <= width
    for letter, _ in CHOICES:
        for y, row in enumerate(rows):
            x = row.find(f"{letter}  l")
            if x >= 0:
                assert letter_at(CHOICES, width, height, (x, y)) == letter
                assert letter_at(CHOICES, width, height, (x + 4, y)) == letter
    shown = {letter for letter, _ in CHOICES if any(f"{letter}  l" in row for row in rows)}
    found = {letter_at(CHOICES, width, height, (x, y)) for x in range(width) for y in range(height)}
    assert found - {None} == shown
    if width >= 76 and height >= 8:
        assert len(shown) == len(CHOICES)
