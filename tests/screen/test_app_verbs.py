"""A key says what it did, on what, what takes it back; undo asks; pain asks which and where."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.events import Key

from runner.screen.dialogs import AskLine, PainPlace
from tests.screen.hands import ROOT, Hands, at_the_mat, to_first_rest


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("m k", "ROW set 1 skipped · u takes it back"),
        ("m d", "ROW dropped, 2 sets · u takes it back"),
        ("m h", "ROW harder: rucksack by its handle, 4 kg · u takes it back"),
        ("m e", "Rucksack row is at its easiest level."),
        ("m w", "ROW swapped for BLADES, 2 sets · u takes it back"),
        ("m l", "BENCH set 1: 5 s off its end · u takes it back"),
        ("m c", "No count to enter; fix N nocount clears an earlier one."),
        ("p", "Paused · u takes it back"),
        ("plus", "Rest before ROW set 1 15 s longer · u takes it back"),
        ("space", "ROW set 1 left begun · u takes it back"),
        ("m r", "r does nothing in a rest"),
        ("d", "d: press m first"),
        ("r", "r: press m first"),
        ("j", "j: press m first"),
        ("slash", "/ does nothing in a rest; ? shows the keys"),
    ],
)
async def test_a_key_says_what_it_did_or_why_not(tmp_path: Path, key: str, said: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        hands.pause = 2.0 if key == "space" else 0.4
        await hands.press(*key.split())
        assert said in hands.text


async def test_a_key_that_the_guard_ignores_is_silent(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        hands.pause = 0.2
        await hands.press("space")  # within the first 1.5 s no key ends a set
        assert hands.state.phase == "set"
        assert hands.app.controller.message == ""


async def test_a_set_begun_by_the_clock_is_taken_back_at_the_second_press(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.until("set")
        await hands.press("u")
        assert hands.state.phase == "set"
        assert "u again takes back: ROW set 1 left begun" in hands.text
        await hands.press("u")
        assert "Taken back: ROW set 1 left begun" in hands.text
        assert (hands.state.phase, len(hands.state.rows)) == ("rest", 1)
        await hands.press("u")
        assert "Taken back: BENCH set 1: 4" in hands.text
        assert "BENCH 1: how many?" in hands.text  # and it stands there as it was typed
        line = hands.app.controller.line
        assert line is not None
        assert line.text == "4"
        assert hands.csv[0]["reps"] == ""


async def test_what_is_older_than_ten_seconds_is_taken_back_at_the_second_press(
    tmp_path: Path,
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter", "p")
        await hands.wait(20)
        await hands.press("u")
        assert "u again takes back: Paused" in hands.text
        assert hands.state.phase == "paused"
        await hands.press("u")
        assert "Taken back: Paused" in hands.text
        assert hands.state.phase == "rest"


@pytest.mark.parametrize("between", ["z", "nothing for ten seconds"])
async def test_another_key_or_ten_seconds_end_the_question(tmp_path: Path, between: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        await hands.press("u")
        assert "u again" in hands.text
        if between == "z":
            await hands.press("z")
        else:
            await hands.wait(10)
            hands.app._ring()
            assert "u again" not in hands.text
        await hands.press("u")
        assert "u again" in hands.text
        assert hands.state.phase == "set"


async def test_what_was_done_just_now_is_taken_back_at_once(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("m", "d", "u")
        assert "Taken back: BENCH dropped, 2 sets" in hands.text
        assert all(planned_set.status == "todo" for planned_set in hands.state.course.planned_sets)


async def test_pain_in_a_set_acts_at_once_and_needs_no_word(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        await hands.wait(5)
        await hands.press("x")
        assert hands.state.phase == "rest"
        assert "BENCH ends for today, 2 sets left out: pain · u takes it back" in hands.over
        await hands.press("x", "x")  # the key is still held down
        await hands.press("enter")
        assert len(hands.app.screen_stack) == 1
        row = hands.csv[0]
        assert (row["status"], row["pain"], row["pain_where"]) == ("broken", "yes", "")
        assert "BENCH ends for today" in hands.text


@pytest.mark.parametrize("key", ["space", "pagedown", "right"])
async def test_the_main_key_leaves_the_place_out(tmp_path: Path, key: str) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("x", key)
        assert len(hands.app.screen_stack) == 1
        assert hands.state.phase == "rest"
        row = hands.csv[0]
        assert (row["exercise"], row["status"], row["pain"]) == ("bench-push-up", "skipped", "yes")


async def test_the_place_is_typed_with_spaces(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("x")
        await hands.write("left knee")
        assert hands.csv[0]["pain_where"] == "left knee"
        assert "BENCH: pain, left knee · u takes it back" in hands.text


async def test_a_place_typed_in_one_go_is_kept(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("x")
        for sign in "knee x ":
            hands.app.post_message(Key({" ": "space"}.get(sign, sign), sign))
        hands.app.post_message(Key("enter", "\r"))
        await hands.pilot.pause()
        await hands.pilot.pause()
        assert hands.csv[0]["pain_where"] == "knee x"


@pytest.mark.parametrize("key", ["pageup", "left"])
async def test_previous_in_the_field_for_the_place_takes_the_pain_back(
    tmp_path: Path, key: str
) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("x")
        await hands.pilot.press(*"kn")
        await hands.press(key)
        assert len(hands.app.screen_stack) == 1
        assert (hands.state.rows, hands.state.phase) == ((), "rest")


async def after_one_set(hands: Hands) -> None:
    await to_first_rest(hands)
    await hands.do_set()
    await hands.press("x")


async def test_which_hurts_is_asked_while_the_rest_goes_on(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_one_set(hands)
        assert "Which hurts? l BENCH, last · n ROW, next" in hands.text
        await hands.press("4", "enter")  # digits are the count's
        assert hands.csv[0]["reps"] == "4"
        assert "Which hurts?" in hands.text
        await hands.press("n")
        assert "ROW ends for today" in hands.over
        await hands.press("enter")
        hurt = [(r["exercise"], r["side"], r["status"], r["pain"]) for r in hands.csv]
        assert hurt == [
            ("bench-push-up", "both", "done", ""),
            ("rucksack-row", "left", "skipped", "yes"),
            ("rucksack-row", "right", "skipped", "yes"),
        ]


async def test_while_the_list_is_open_its_letters_are_its_own(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("1", "2", "space")
        await hands.press("x", "m", "n")  # n is a note there
        assert isinstance(hands.app.screen, AskLine)
        await hands.press("escape")
        assert "Which hurts?" in hands.text
        await hands.press("l")
        assert isinstance(hands.app.screen, PainPlace)


async def test_the_question_outlives_the_begin_of_a_set_which_n_ends(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_one_set(hands)
        await hands.until("set")
        await hands.wait(2)
        assert "n ROW, next" in hands.text
        await hands.press("n", "enter")
        assert hands.state.phase == "rest"
        assert [(r.status, r.pain) for r in hands.state.rows][1] == ("broken", True)
        assert "Which hurts?" not in hands.text


async def test_a_set_that_begins_closes_the_field_and_keeps_the_place(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await after_one_set(hands)
        await hands.press("l")
        await hands.pilot.press(*"wrist")
        await hands.until("set")
        await hands.pilot.pause()
        assert len(hands.app.screen_stack) == 1
        assert hands.csv[0]["pain_where"] == "wrist"
        assert hands.state.phase == "set"


@pytest.mark.parametrize("size", [(20, 5), (40, 12), (60, 20), (80, 24)])
async def test_the_line_for_the_place_is_in_sight_on_every_terminal(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async with at_the_mat(tmp_path, size=size) as hands:
        await after_one_set(hands)
        await hands.press("l")
        await hands.pilot.press(*"wrist")
        assert isinstance(hands.app.screen, PainPlace)
        asked, line = hands.app.screen.query_one("Static").region, hands.app.screen.line.region
        assert line.bottom <= size[1]
        assert asked.y >= 0
        assert "Where does it" in hands.over
        assert "wrist" in hands.over
        await hands.press("enter")
        assert hands.csv[0]["pain_where"] == "wrist"


async def test_a_set_given_up_is_not_counted_as_done(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        assert "1 of 5 sets" in hands.text
        await hands.until("set")
        await hands.press("m", "k")  # the set under way
        assert [row.status for row in hands.state.rows][:2] == ["done", "broken"]
        assert "1 of 5 sets" in hands.text
        await hands.press("m", "l")
        assert "was given up; only the end of a set" in " ".join(hands.text.split())


async def test_a_set_too_short_for_a_late_key_is_named(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set(lasts=1.0)
        await hands.press("m", "l")
        assert "Push-up, hands on the bench, set 1, lasted only 2.0 s." in hands.text


async def test_without_a_cool_down_none_is_over(tmp_path: Path) -> None:
    text = (ROOT / "plans" / "demo.toml").read_text(encoding="utf-8")
    plan = tmp_path / "no-cool-down.toml"
    plan.write_text("".join(x for x in text.splitlines(keepends=True) if "cool_down" not in x))
    assert plan.read_text() != text
    async with at_the_mat(tmp_path, plan) as hands:
        await to_first_rest(hands)
        await hands.press(*"md" * 8)
        await hands.wait(5)
        assert hands.state.phase == "wrap-up"
        assert "The cool-down is over" not in hands.text
