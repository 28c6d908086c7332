"""What else the screen is asked for: dialogs, looks, sizes, texts that must stay texts."""

from __future__ import annotations

from pathlib import Path

import pytest

from runner.live.session_setup import prepare
from runner.live.sound_controls import SoundOptions
from runner.record.record import Record
from runner.screen.app import LiveApp, run_screen
from runner.screen.paint import Mat
from runner.sound.player import Player
from runner.testing import ManualClock
from tests.plan.plans import whole
from tests.screen.hands import ROOT, Hands, at_the_mat, to_first_rest

DEMO = ROOT / "plans" / "demo.toml"


async def test_escape_never_quits_and_never_loses_anything(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("escape", "f5")
        await to_first_rest(hands)
        await hands.press("escape")
        await hands.do_set("4")
        before = hands.state
        await hands.press("escape", "f5", "escape")
        assert hands.state == before
        assert hands.app.controller.line is not None
        assert hands.app.controller.line.text == "4"
        await hands.press("enter")
        assert hands.csv[0]["reps"] == "4"
        assert hands.app.return_value is None


async def test_help_says_every_key_and_any_key_closes_it(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, size=(120, 60)) as hands:
        await hands.press("question_mark")
        for said in (
            "page down",
            "Do what comes next",
            "Read the cautions of this plan.",
        ):
            assert said in hands.over
        assert "Take back the last undo" not in hands.over  # a key of the list, not of this phase
        await hands.press("question_mark")
        assert "By remote: take the suggested count" in hands.over
        assert "y                        Take the last undo back." in hands.over
        for _ in range(110):
            await hands.pilot.press("down")
        await hands.pilot.pause()
        assert "29.9 squats at 60 %" in " ".join(
            hands.over.split()
        )  # the last rule, with where it comes from
        await hands.press("pagedown")
        assert len(hands.app.screen_stack) == 1
        assert hands.state.phase == "ready"  # the key that closed the page began nothing


async def test_body_mass_before_the_start(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("m", "b")
        await hands.write("heavy")
        assert "heavy" in hands.over  # what is typed stays to be mended, with the reason
        assert "write 20 to 500" in hands.over
        await hands.press("escape", "m", "b")
        assert "heavy" in hands.over  # nothing typed is lost
        await hands.press(*["backspace"] * 5)
        await hands.write("74.5")
        assert hands.state.mass == 74.5


async def test_note_gear_and_fix(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.press("p", "m", "n")
        await hands.write("cold [b]hands[/b]")
        assert hands.state.phase == "paused"
        await hands.press("m", "g")
        await hands.write("height=50 cm")
        await hands.press("m", "f")
        await hands.write("9 5")
        assert "there are 1:BENCH" in hands.over
        await hands.press(*["backspace"] * 3)
        await hands.write("1 5")
        row = hands.csv[0]
        assert (row["reps"], row["note"]) == ("5", "cold [b]hands[/b]")
        assert "50 cm" in row["setup"]


async def test_pain_ends_the_exercise_and_says_what_to_do(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.do_set("4", "enter")
        await hands.press("x")
        assert "Which hurts? l BENCH, last · n ROW, next" in hands.text
        await hands.press("l")
        assert "BENCH ends for today, 1 set left out: pain · u takes it back" in hands.over
        assert "see a doctor or physiotherapist" in hands.over
        await hands.write("left wrist")
        assert hands.csv[0]["pain_where"] == "left wrist"
        for _ in range(2):
            await hands.do_set("4", "enter")
        assert {r["exercise"] for r in hands.csv if r["status"] != "skipped"} == {
            "bench-push-up",
            "rucksack-row",
        }
        later = [s for s in hands.state.course.planned_sets if s.exercise == "bench-push-up"]
        assert all(s.status != "todo" for s in later)


async def test_a_harder_level_is_kept_unless_it_is_said_to_be_of_today(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("m", "h")
        assert "on the feet" in hands.text
        await hands.do_set("4", "enter")
        for _ in range(3):
            await hands.press("m", "d")
        assert "KEPT FOR NEXT TIME   BENCH feet (was knees)   t: only today" in hands.text
        await hands.press("t")
        assert "ONLY TODAY   BENCH feet (was knees)   t: keep it" in hands.text
        await hands.press("t")
        assert "KEPT FOR NEXT TIME   BENCH feet" in hands.text


async def test_a_session_ended_early_says_which_levels_are_kept(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("m", "h")
        await hands.do_set("4", "enter")
        await hands.press("q", "y")
        assert "Closed before its end." in hands.text
        assert "KEPT FOR NEXT TIME   BENCH feet (was knees)   t: only today" in hands.text
        await hands.press("t")
        assert "ONLY TODAY   BENCH feet (was knees)   t: keep it" in hands.text
    with Record.open_readonly(tmp_path / "trial.db") as record:
        assert {row.today_only for row in record.rows() if row.status == "done"} == {"yes"}


async def test_sound_is_switched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Player, "start", lambda _: None)
    async with at_the_mat(tmp_path) as hands:
        assert hands.app.hearing.player.muted
        await hands.press("m", "s", "s")
        assert not hands.app.hearing.player.muted
        assert "Sound: still looking" in hands.text
        assert "s  sound off" in hands.text  # this list stays open
        await hands.press("s")
        assert hands.app.hearing.player.muted


async def test_voice_and_volumes_have_their_keys(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        assert "SOUND    off · voice off" in hands.text
        await hands.press("m", "s", "v")
        assert "Voice: on, once sound is on again." in hands.text
        await hands.press("c")
        assert "Volume 80 of 100." in hands.text
        await hands.press("d", "d")
        assert "Voice volume 60 of 100." in hands.text
        assert (hands.app.hearing.player.volume, hands.app.hearing.player.voice_volume) == (80, 60)


async def test_what_is_told_of_the_sound_waits_until_it_can_be_seen(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.press("ctrl+c")
    async with at_the_mat(tmp_path) as hands:
        hands.app._hear_news()
        assert "was cut off. Continue it?" in hands.over
        await hands.press("y")
        assert "Sound: off." not in hands.text
        hands.app._hear_news()
        await hands.pilot.pause()
        assert "Sound: off." in hands.text


def test_cues_that_were_left_out_are_told_after_the_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def ran(app: LiveApp) -> int:
        app.hearing.player.play("start", late_s=1.0)
        return 0

    monkeypatch.setattr("runner.screen.app.run", ran)
    opening = prepare("demo", data=tmp_path, trainee="Ada", clock=ManualClock())
    code, _ = run_screen(opening, resume=None, yes=True, wanted=SoundOptions(mute=True))
    opening.record.close()
    assert code == 0
    assert "Sound: of 1 cues, 1 left out (over 0.3 s late)." in capsys.readouterr().err


async def test_a_set_is_tried_out_before_the_start(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await hands.press("m", "t")
        assert "Can you read this from the mat?" in hands.text
        await hands.press("pagedown", "pagedown")
        assert "Key seen: 2." in hands.text
        assert hands.state.phase == "ready"
        await hands.press("t", "space")
        assert hands.state.phase == "warm-up"


def colours(hands: Hands) -> set[tuple[str, str]]:
    mat = hands.app.screen_stack[0].query_one(Mat)
    return {
        (str(segment.style.color), str(segment.style.bgcolor))
        for y in range(mat.size.height)
        for segment in mat.render_line(y)
        if segment.style
    }


async def test_the_light_theme_and_back(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        dark, text = colours(hands), hands.text
        await hands.press("m", "s", "l")
        assert "Light screen." in hands.text
        await hands.press("m")
        assert not colours(hands) & dark
        assert hands.text == text
        await hands.press("m", "s", "l", "m")
        assert colours(hands) == dark


async def test_without_colour_the_session_looks_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_the_mat(tmp_path / "a") as hands:
        await to_first_rest(hands)
        await hands.do_set("4")
        coloured = hands.text
    monkeypatch.setenv("NO_COLOR", "1")
    async with at_the_mat(tmp_path / "b") as hands:
        await to_first_rest(hands)
        await hands.do_set("4")
        assert hands.text == coloured
        assert "rgb" not in hands.app.export_screenshot() or hands.app.no_color


@pytest.mark.parametrize("size", [(20, 5), (120, 40), (10, 3), (80, 24)])
async def test_another_size_in_mid_session(tmp_path: Path, size: tuple[int, int]) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        await hands.until("set")
        await hands.wait(7)
        await hands.pilot.resize_terminal(*size)
        await hands.pilot.pause()
        assert len(hands.rows) == size[1]
        assert all(len(row) == size[0] for row in hands.rows)
        assert any(row.strip() for row in hands.rows)
        await hands.press("space", "4", "enter")
        assert hands.csv[0]["reps"] == "4"
        await hands.pilot.resize_terminal(80, 24)
        await hands.pilot.pause()
        assert "1 of 5 sets" in hands.text


async def test_markup_in_a_plan_is_text(tmp_path: Path) -> None:
    text = whole("demo")
    for old, new in (
        ('"Body in one line"', '"[bold red]Body[/] in one [link=x]line"'),
        ("Arm circles", "Arm [/] [@click=app.quit]circles[/]"),
        ('"title" = "Kestrel Hut, demo"', '"title" = "[reverse]Hut"'),
    ):
        assert old in text
        text = text.replace(old, new)
    plan = tmp_path / "hut.toml"
    plan.write_text(text, encoding="utf-8")
    async with at_the_mat(tmp_path / "data", plan) as hands:
        assert "[reverse]Hut" in hands.text
        await hands.press("space")
        assert "[bold red]Body[/] in one [link=x]line" in hands.text
        assert "Arm [/] [@click=app.quit]circles[/]" in hands.text


async def test_the_page_is_scrolled_no_further_than_it_goes(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, "kestrel-hut", size=(80, 20)) as hands:
        top = hands.rows[1:]
        assert "more: arrow down" in hands.text
        await hands.hold("down", repeats=30)
        assert "arrow down" not in hands.text
        bottom = hands.text
        await hands.press("up")
        assert hands.text != bottom
        await hands.hold("up", repeats=30)
        assert hands.rows[1:] == top  # in the first row stands when it would be over
