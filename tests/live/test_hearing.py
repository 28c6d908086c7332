"""What a session is heard by: options, environment, and what the keys do."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from runner.live.sound_controls import Hearing, SoundOptions, voice_mode
from runner.sound.player import Player
from tests.sound.fakes import SOON_S, noted
from tests.sound.speakers import fake_engine


@contextmanager
def hearing(
    folder: Path, wanted: SoundOptions | None = None, **environment: str
) -> Iterator[Hearing]:
    environ = {
        "MATSIDE_SOUND": f"recording:{folder / 'heard'}",
        "MATSIDE_CACHE": str(folder / "cache"),
        "MATSIDE_VOICE_BY": "say",
        **environment,
    }
    with Hearing(environ, wanted) as made:
        yield made


@pytest.fixture(autouse=True)
def an_engine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fake_engine(tmp_path, "say")
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")


def test_by_default_nothing_speaks_and_nothing_is_started(tmp_path: Path) -> None:
    with hearing(tmp_path) as heard:
        assert heard.speaker.mode == "off"
        assert heard.voice_notice() == "Voice: off."
        assert not heard.voice._renderer._thread.is_alive()
        assert (heard.player.volume, heard.player.voice_volume) == (100, 100)
    assert not (tmp_path / "cache").exists()


def test_options_go_before_the_environment(tmp_path: Path) -> None:
    environment = {"MATSIDE_VOICE": "On", "MATSIDE_VOLUME": "60", "MATSIDE_VOICE_VOLUME": "40"}
    with hearing(tmp_path, **environment) as heard:
        assert heard.speaker.mode == "on"
        assert (heard.player.volume, heard.player.voice_volume) == (60, 40)
    wanted = SoundOptions(voice="names", volume=0, voice_volume=100)
    with hearing(tmp_path, wanted, **environment) as heard:
        assert heard.speaker.mode == "names"
        assert (heard.player.volume, heard.player.voice_volume) == (0, 100)


def test_a_wrong_setting_is_told_once_and_changes_nothing(tmp_path: Path) -> None:
    assert voice_mode({"MATSIDE_VOICE": "loud"}) == (
        "off",
        "MATSIDE_VOICE: 'loud' is not a mode of the voice; write off, on or names",
    )
    with hearing(tmp_path, MATSIDE_VOICE="loud", MATSIDE_VOLUME="11%") as heard:
        assert heard.speaker.mode == "off"
        told = heard.news()
        assert told is not None
        assert "MATSIDE_VOICE: " in told
        assert "MATSIDE_VOLUME: '11%' is not a volume; write 0 to 100" in told
        later = heard.news()
        assert later is None or later.startswith("Sound: ")


def test_the_key_goes_from_one_mode_to_the_next(tmp_path: Path) -> None:
    with hearing(tmp_path) as heard:
        assert heard.next_mode().startswith("Voice: on")
        assert heard.speaker.mode == "on"
        assert heard.voice.wait_for(lambda: heard.voice.engine == "say", SOON_S)
        assert heard.next_mode() == "Voice: names only, by say."
        assert heard.next_mode() == "Voice: off."
        assert heard.speaker.mode == "off"


def test_a_muted_voice_comes_back_with_the_sound(tmp_path: Path) -> None:
    with hearing(tmp_path, SoundOptions(voice="on", mute=True)) as heard:
        assert heard.voice_notice() == "Voice: on, once sound is on again."
        heard.toggle_sound()
        assert heard.player.settled(SOON_S)
        assert heard.voice.wait_for(lambda: heard.voice.engine == "say", SOON_S)
        assert heard.voice_notice() == "Voice: on, by say."


def test_no_voice_is_told_once(tmp_path: Path) -> None:
    with hearing(tmp_path, SoundOptions(voice="on"), MATSIDE_VOICE_BY="windows-speech") as heard:
        assert heard.voice.wait_for(lambda: heard.voice.none, SOON_S)
        assert heard.player.settled(SOON_S)
        told = [heard.news() for _ in range(4)]
        assert told.count("Voice: none. matside cues shows how to get one") == 1
        assert heard.voice_notice() == "Voice: none. matside cues shows how to get one"


def test_what_a_key_or_word_has_told_is_no_news(tmp_path: Path) -> None:
    with hearing(tmp_path, MATSIDE_VOICE_BY="windows-speech") as heard:
        assert heard.player.settled(SOON_S)
        assert heard.toggle_sound() == "Sound: off."
        assert heard.toggle_sound() == "Sound: recording."
        assert heard.news() is None
        heard.speak("on")
        assert heard.voice.wait_for(lambda: heard.voice.none, SOON_S)
        assert heard.speak("names") == "Voice: none. matside cues shows how to get one"
        assert heard.news() is None


def test_muted_nothing_is_started_until_it_is_not(tmp_path: Path) -> None:
    with hearing(tmp_path, SoundOptions(mute=True, voice="on")) as heard:
        assert heard.speaker.mode == "off"
        assert not heard.voice._renderer._thread.is_alive()
        assert heard.next_mode() == "Voice: names only, once sound is on again."
        heard.toggle_sound()
        assert heard.speaker.mode == "names"
        assert heard.voice.wait_for(lambda: heard.voice.engine == "say", SOON_S)
        heard.toggle_sound()
        assert heard.player.muted


def test_words_say_what_is_to_be_heard(tmp_path: Path) -> None:
    with hearing(tmp_path) as heard:
        assert heard.at_volume(30) == "Volume 30 of 100."
        assert heard.voice_at_volume(0) == "Voice volume 0 of 100."
        assert (heard.player.volume, heard.player.voice_volume) == (30, 0)
        assert heard.speak("names").startswith("Voice: names only")
        assert heard.speaker.mode == "names"
        assert heard.toggle_sound() == "Sound: off."
        assert heard.speak("on") == "Voice: on, once sound is on again."
        assert heard.speaker.mode == "names"
        heard.toggle_sound()
        assert (heard.player.muted, heard.speaker.mode) == (False, "on")


def test_it_is_looked_for_a_way_and_a_voice_until_both_are_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with hearing(tmp_path, SoundOptions(voice="on"), MATSIDE_VOICE_BY="windows-speech") as heard:
        assert heard.player.settled(SOON_S)
        assert heard.voice.wait_for(lambda: heard.voice.none, SOON_S)
        assert not heard.looking
    with hearing(tmp_path) as heard:
        assert heard.player.settled(SOON_S)
        assert not heard.looking
        heard.speak("on")
        assert heard.voice.wait_for(lambda: heard.voice.engine == "say", SOON_S)
        assert not heard.looking
    with hearing(tmp_path, SoundOptions(mute=True, voice="on")) as heard:
        assert not heard.looking
    monkeypatch.setattr(Player, "start", lambda _: None)
    with hearing(tmp_path) as heard:
        assert heard.looking


def test_cues_that_did_not_come_are_told_at_the_end(tmp_path: Path) -> None:
    with hearing(tmp_path) as heard:
        assert heard.player.settled(SOON_S)
        heard.player.play("count", late_s=0.2)
        assert heard.player.wait_for(lambda: heard.player.counts.played == 1, SOON_S)
        assert heard.missed() == ""
        heard.player.play("start", late_s=0.31)
        assert heard.missed() == "Sound: of 2 cues, 1 left out (over 0.3 s late)."


def test_the_report_is_what_was_really_not_heard(tmp_path: Path) -> None:
    """With a helper that is killed while a cue sounds, and cues until the next one plays."""
    with hearing(tmp_path) as heard:
        player = heard.player
        assert player.settled(SOON_S)
        player.play("done")  # sounds for a second
        assert player.wait_for(lambda: player.counts.played == 1, SOON_S)
        link = player._link
        assert link is not None
        assert link.pid is not None
        os.kill(link.pid, signal.SIGKILL)
        assert player.wait_for(lambda: link.gone, SOON_S)
        while player._link in (None, link):
            player.play("count")
            player.wait_for(lambda: False, 0.01)
        player.play("start")
        assert player.wait_for(lambda: last_noted(tmp_path / "heard") == "start", SOON_S)

        def settled() -> bool:
            counts = player.counts
            return counts.asked == counts.played + counts.lost + counts.late

        assert player.wait_for(settled, SOON_S)
        counts = player.counts
        assert counts.late == 0
        assert 1 <= counts.played <= 2, "the last one, and perhaps the count before it"
        assert heard.missed() == f"Sound: of {counts.asked} cues, {counts.lost} not played."


def last_noted(file: Path) -> str:
    return (noted(file) or [""])[-1]


def test_volume_goes_down_in_steps_and_then_up_to_full(tmp_path: Path) -> None:
    with hearing(tmp_path, SoundOptions(volume=70, voice_volume=20)) as heard:
        assert [heard.quieter() for _ in range(4)] == [
            "Volume 60 of 100.", "Volume 40 of 100.", "Volume 20 of 100.", "Volume 100 of 100.",
        ]  # fmt: skip
        assert heard.player.voice_volume == 20
        assert heard.voice_quieter() == "Voice volume 100 of 100."
        assert heard.player.volume == 100
