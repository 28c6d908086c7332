"""Line mode by ear: its cues, its voice, the words for both, and what is said of them."""

from __future__ import annotations

import re
import signal
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("the stand-in for a speech engine is a shell script", allow_module_level=True)

from tests.lines.process import DEADLINE, Session, session
from tests.sound.fakes import fake_player, left_of, marked, noted
from tests.sound.real_session import PLAN
from tests.sound.speakers import fake_engine


def wait_until(condition: Callable[[], bool]) -> None:
    until = time.monotonic() + DEADLINE
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.01)


@contextmanager
def opened(folder: Path, *options: str, sound: str, **more: str) -> Iterator[Session]:
    """A session in line mode that is heard as `sound` says; programs of the folder come first."""
    plan = folder / "by-ear.toml"
    plan.write_text(PLAN, encoding="utf-8")
    with session(
        plan,
        folder,
        "--yes",
        *options,
        mute=False,
        PATH=f"{folder}:/bin:/usr/bin",
        MATSIDE_SOUND=sound,
        MATSIDE_CACHE=str(folder / "cache"),
        MATSIDE_VOICE_BY="say",
        **more,  # type: ignore[arg-type]
    ) as live:
        yield live


def test_a_session_in_line_mode_is_heard_and_spoken(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    heard = tmp_path / "heard"
    with opened(tmp_path, "--voice", "on", sound=f"recording:{heard}") as live:
        live.said("Sound: recording.")
        live.send("volume 50")
        live.said("Volume 50 of 100.")
        live.send("voice-volume 20")
        live.said("Voice volume 20 of 100.")
        live.send()
        live.event("resting")
        announced = "say next, Rucksack row, left, last set"
        wait_until(lambda: announced in noted(heard))
        live.event("started")
        live.send("pacer")
        live.said("Pacer off.")
        live.send("voice off")
        live.said("Voice: off.")
        live.send()
        live.event("ended")
        wait_until(lambda: "switch" in noted(heard))
        live.send("sound")
        live.said("Sound: off.")
        live.send("go")
        live.event("started", side="right")
        live.send()
        live.event("ended")
        live.send("end")
        assert live.wait() == 0
        assert [line for line in live.err.seen if line.startswith("Sound:")] == [
            "Sound: recording.",
            "Sound: off.",
        ]
    names = [name for name in noted(heard) if name != "tick" and not name.startswith("say ")]
    assert names == [
        "(level 0.25 1)", "(level 0.25 0.04)", "begin",
        "count", "count", "count", "start", "switch",
    ]  # fmt: skip


def test_cues_that_would_not_play_are_told_at_the_end(tmp_path: Path) -> None:
    log = fake_player(tmp_path, "paplay", "breaks")
    with opened(tmp_path, sound="paplay") as live:
        live.said("Sound: paplay.")
        live.send()
        live.event("resting")
        wait_until(lambda: log.exists() and "begin.wav" in log.read_text())
        live.send("go")
        live.send("end")
        assert live.wait() == 0
        (told,) = [line for line in live.err.seen if line.startswith("Sound: of")]
        assert re.fullmatch(r"Sound: of [1-4] cues, [1-4] not played\.", told)


@pytest.mark.skipif(sys.platform != "linux", reason="looks for processes as Linux shows them")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_nothing_is_left_running_however_it_ends(number: signal.Signals, tmp_path: Path) -> None:
    """A player that hangs in a sound, and a voice that hangs in a word."""
    log = fake_player(tmp_path, "paplay", "stalls")
    fake_engine(tmp_path, "say", "chokes")
    mark = f"matside-test-{uuid.uuid4()}"
    with opened(tmp_path, "--voice", "on", sound="paplay", MARK=mark) as live:
        live.said("Sound: paplay.")
        live.send()
        live.event("resting")
        live.send("go")
        wait_until(lambda: log.exists() and (tmp_path / "say.texts").exists())
        wait_until(lambda: len(marked(mark)) >= 4)  # itself, its helper, a player, the voice
        live.kill(number)
    assert left_of(mark) == []


def test_no_voice_is_said_once_and_before_the_session_begins(tmp_path: Path) -> None:
    with opened(tmp_path, "--voice", "on", sound=f"recording:{tmp_path / 'heard'}") as live:
        live.said("Voice: none. matside cues shows how to get one")
        live.send()
        live.event("resting")
        live.send("end")
        assert live.wait() == 0
        assert len([line for line in live.err.seen if line.startswith("Voice:")]) == 1
