"""A rehearsal on the screen: its mark, its keys, its cues, and that nothing of it is kept."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from runner.cli.main import main
from tests.oracle.cues import expected_cues
from tests.plan.plans import whole
from tests.screen.hands import at_the_mat, to_first_rest
from tests.screen.watchers import Watcher, watching


async def test_sixty_times_as_fast_every_cue_of_the_full_plan_is_asked_for_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["rehearse", "kestrel-hut", "--session", "B", "--json", "--data", str(tmp_path)])
    timeline = json.loads(capsys.readouterr().out)
    wanted = expected_cues(timeline, whole("kestrel-hut"))
    async with watching(tmp_path, "kestrel-hut", "B", speed=60) as hut:
        await hut.press("space")
        begun = hut.state.log[-1].at
        first = hut.real.seconds - (hut.second - begun) / 60
        await hut.go("closed")
        asked = [((at - late - first) * 60, name) for at, name, late in hut.heard.asked]
        assert "49:36" in hut.text  # 2976 s
    assert sorted(asked) == [(pytest.approx(at, abs=0.05), name) for at, name in sorted(wanted)]
    assert len(asked) == len(wanted) == 180
    assert max(late for _, _, late in hut.heard.asked) < 0.01


async def test_a_session_is_counted_alike_everywhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Session A: 31 work sets, three of them on both sides, and one warm-up set."""
    data = ("--data", str(tmp_path))
    main(["check", "kestrel-hut", *data])
    assert "10 exercises, 31 sets and 1 warm-up set\n" in capsys.readouterr().out
    main(["rehearse", "kestrel-hut", "--session", "A", "--runs", "100", *data])
    assert "31 sets and 1 warm-up set in 5 blocks" in capsys.readouterr().out
    async with at_the_mat(tmp_path, "kestrel-hut", size=(100, 40)) as hands:
        each = re.findall(r"(\d)(?: \+ (\d))? sets ", hands.text)
        assert sum(int(work) for work, _ in each) == 31
        assert sum(int(warm_up or 0) for _, warm_up in each) == 1
    async with watching(tmp_path, "kestrel-hut", "A", speed=60) as hut:
        await hut.press("space")
        await hut.go("rest")
        assert "0 of 31 sets" in hut.text
        await hut.go("set")
        await hut.go("rest")
        assert hut.state.rows[0].planned_set.kind == "ramp"
        assert "0 of 31 sets" in hut.text
        await hut.go("closed")
        assert "31 sets and 1 warm-up set, 5 blocks." in hut.text


async def marked(watcher: Watcher, where: str) -> None:
    assert "REHEARSAL" in watcher.top, where
    assert any("REHEARSAL" in banner for banner in watcher.banners), where


@pytest.mark.parametrize("size", [(80, 24), (20, 5)])
async def test_every_screen_and_every_dialog_says_that_it_is_a_rehearsal(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async with watching(tmp_path, size=size, speed=1) as demo:
        await marked(demo, "ready")
        await demo.press("m", "t")
        await marked(demo, "tried out")
        await demo.press("t", "space")
        for phase in ("warm-up", "rest", "set", "wrap-up", "closed"):
            await demo.go(phase)
            await demo.pilot.pause()
            await marked(demo, phase)
            if phase in ("warm-up", "wrap-up"):
                continue
            await demo.press("question_mark")
            await marked(demo, f"help over {phase}")
            await demo.press("escape", "q")
            await marked(demo, f"question over {phase}")
            await demo.press("n")
            if phase == "set":
                await demo.press("p")
                assert "PAUSED" in demo.top or size[0] == 20
                await demo.press("x")
                await marked(demo, "a line to type")
                await demo.press("l", "enter")
                await demo.pilot.pause()
                await marked(demo, "what to do about pain")
                await demo.press("escape", "ctrl+p")
                await demo.pilot.pause()
                await marked(demo, "palette")
                await demo.press("escape", "space")


async def test_nothing_of_it_is_kept(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path, yes=False) as hands:
        while hands.state.phase == "ready":
            await hands.press("space")
        await hands.press("space")
        await hands.do_set("4", "enter")
        await hands.press("ctrl+c")
    before = _files(tmp_path)
    assert "trial.db" in before
    async with watching(tmp_path, speed=1) as demo:
        await demo.press("m", "g", "space")  # no mass is asked for
        await demo.go("rest")
        await demo.press("e", "k")
        await demo.go("wrap-up")
        await demo.press("t", "f")
        await demo.go("closed")
        assert not demo.state.today
        assert demo.state.mass is None
        assert demo.state.rpe is None
        assert "matside keeps nothing of it" in demo.text
        await demo.press("space")
        assert demo.app.return_value == 0
    assert _files(tmp_path) == before
    async with at_the_mat(tmp_path, resume=True) as hands:  # the one cut off is still offered
        assert [row.status for row in hands.state.rows] == ["done"]


async def test_a_rehearsal_makes_no_file(tmp_path: Path) -> None:
    async with watching(tmp_path / "none", speed=60) as demo:
        await demo.press("space")
        await demo.go("closed")
    assert not (tmp_path / "none").exists()


def _files(folder: Path) -> dict[str, str]:
    return {
        p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir() if p.is_file()
    }


async def test_no_counts_are_asked_for_and_sets_end_by_themselves_at_the_real_speed_too(
    tmp_path: Path,
) -> None:
    async with watching(tmp_path, speed=1) as demo:
        assert "each set ends by itself" in demo.text
        await demo.press("space")
        assert "at real speed" in demo.top
        await demo.go("set")
        row = demo.state.rows[-1]
        await demo.go("rest")
        row = demo.state.rows[0]
        assert row.end == pytest.approx((row.start or 0) + 12, abs=0.01)  # 4 repetitions of 3 s
        assert demo.app.controller.line is None
        assert "1 of 5 sets" in demo.text
        assert "how many?" not in demo.text
        await demo.press("4", "enter", "f", "c")  # counts, and keys for them: nothing happens
        assert demo.state.rows[0].open


async def test_the_speed_goes_by_keys_without_a_jump_in_time(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=20) as demo:
        await demo.press("space")
        for key, speed in (
            ("less_than_sign", 10), ("less_than_sign", 5), ("less_than_sign", 2),
            ("less_than_sign", 1), ("less_than_sign", 1), ("greater_than_sign", 2),
        ):  # fmt: skip
            await demo.wait(0.75)
            before = demo.second
            await demo.pilot.press(key)
            assert demo.second == before
            assert demo.app.clock.speed == speed
            assert (f"{speed} times" if speed > 1 else "real speed") in demo.top
        before = demo.second
        await demo.wait(1.5)
        assert demo.second == pytest.approx(before + 3)


async def test_it_stops_anywhere_and_goes_on_by_the_main_key(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=20) as demo:
        await demo.press("space")
        for phase in ("rest", "set"):
            await demo.go(phase)
            await demo.pilot.press("p")
            assert "PAUSED" in demo.top
            before, heard = demo.second, len(demo.heard.asked)
            await demo.wait(600)
            assert (demo.second, len(demo.heard.asked)) == (before, heard)
            assert demo.state.phase == phase
            await demo.pilot.press("space")
            assert "STILL" not in demo.top
            assert demo.state.phase == phase  # it has gone on, and has not ended the set
            await demo.wait(0.05)
            assert demo.second == pytest.approx(before + 1, abs=0.01)


async def test_to_the_next_set_and_back_by_keys(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=1) as demo:
        await demo.press("n")
        assert "space start" in demo.text  # there is nothing to go to yet
        await demo.press("space", "p", "n")
        assert "0:04" not in demo.text  # large, not text
        assert "set 1 of 2" in demo.text
        await demo.press("n", "n")
        assert "Rucksack row, right" in demo.text
        await demo.press("r")
        assert "Rucksack row, left" in demo.text
        await demo.press("r", "r")
        assert demo.state.phase == "warm-up"
        await demo.press("p")
        await demo.go("closed")
        await demo.press("r")
        assert demo.state.phase == "rest"
        assert demo.state.coming is not None
        assert demo.state.coming[0].exercise == "bridge"


async def test_the_main_key_ends_a_set_earlier(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=1) as demo:
        await demo.press("space")
        await demo.go("set")
        await demo.press("space")
        assert demo.state.phase == "rest"


async def test_it_speaks_at_the_real_speed_alone(tmp_path: Path) -> None:
    async with watching(tmp_path, speed=1) as demo:
        speaker = demo.app.hearing.speaker
        assert demo.app.controller.live is not None
        assert demo.app.controller.live.driver.speaker is speaker
        await demo.press("space")
        assert not speaker.silent
        await demo.press("greater_than_sign")
        assert speaker.silent
        await demo.press("m", "s", "v")
        assert "The voice speaks at real speed only." in demo.text
        await demo.press("less_than_sign", "m", "s", "v")
        assert not speaker.silent
        assert "Voice: on, once sound is on again." in demo.text
    async with watching(tmp_path, speed=20) as demo:
        assert demo.app.hearing.speaker.silent


async def test_leaving_asks_first(tmp_path: Path) -> None:
    async with watching(tmp_path) as demo:
        await demo.press("space", "q")
        assert "Leave the rehearsal?" in demo.over
        await demo.press("n", "ctrl+q", "y")
        assert demo.app.return_value == 0


async def test_the_live_session_has_none_of_these_keys(tmp_path: Path) -> None:
    async with at_the_mat(tmp_path) as hands:
        await to_first_rest(hands)
        before = hands.state
        await hands.press("greater_than_sign", "less_than_sign")
        assert hands.state.phase == before.phase
        assert "faster" not in hands.text
        await hands.press("question_mark")
        assert "rehearsal" not in hands.over.lower()
