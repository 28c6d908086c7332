"""Volume changes the samples, measured by a general library, in every way of playing."""

from __future__ import annotations

import importlib
import math
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from runner.resources import sounds_dir
from runner.sound import ways
from runner.sound.backends import Program, SimpleAudio, Windows
from runner.sound.sounds import gain
from runner.sound.wav import Files, Format, Scratch, read_wav, scaled, write_wav
from runner.text import read_volume
from tests.sound.fakes import SOON_S, came, double, fake_player, noted, only, playing

START = sounds_dir() / "start.wav"


def rms(frames: bytes) -> float:
    samples = np.frombuffer(frames, dtype="<i2").astype(float)
    return float(np.sqrt(np.mean(samples**2)))


def decibels(frames: bytes, reference: bytes) -> float:
    return 20 * math.log10(rms(frames) / rms(reference))


@pytest.mark.parametrize(("volume", "db"), [(100, 0.0), (50, -12.04), (71, -5.95), (10, -40.0)])
def test_a_volume_is_so_many_decibels(volume: int, db: float) -> None:
    kind, frames = read_wav(START)
    assert decibels(scaled(kind, frames, gain(volume)), frames) == pytest.approx(db, abs=0.2)


def test_none_is_silence_and_full_is_untouched() -> None:
    kind, frames = read_wav(START)
    assert scaled(kind, frames, gain(100)) is frames
    assert not np.frombuffer(scaled(kind, frames, gain(0)), dtype="<i2").any()


def test_other_sample_widths_are_left_alone() -> None:
    assert scaled(Format(1, 1, 8000), b"\x10\x20", 0.5) == b"\x10\x20"


def test_files_for_programs_are_as_loud_as_asked_for_and_go_away(tmp_path: Path) -> None:
    _, original = read_wav(START)
    scratch = Scratch(tmp_path / "own")
    files = Files(0.0, scratch)
    files.load("start", START)
    assert files["start"][0] == START
    for volume in (50, 20):
        files.level(gain(volume))
        path, length_s = files["start"]
        kind, frames = read_wav(path)
        assert kind.seconds(frames) == length_s
        assert decibels(frames, original) == pytest.approx(40 * math.log10(volume / 100), abs=0.3)
    files.level(1.0)
    assert files["start"][0] == START
    scratch.remove()
    assert not path.exists()


class Library:
    """simpleaudio's documented interface, with what was played."""

    def __init__(self) -> None:
        self.played: list[bytes] = []
        self.stopped = 0

    def WaveObject(self, data: bytes, *_format: int) -> SimpleNamespace:  # noqa: N802
        def play() -> SimpleNamespace:
            self.played.append(data)
            sounding = [True]

            def stop() -> None:
                self.stopped += 1
                sounding.clear()

            return SimpleNamespace(is_playing=lambda: bool(sounding), stop=stop)

        return SimpleNamespace(play=play)


def spoken_file(folder: Path) -> Path:
    path = folder / "phrase.wav"
    times = np.arange(round(0.5 * 22_050)) / 22_050
    samples = (0.4 * 32_767 * np.sin(2 * np.pi * 200 * times)).astype("<i2")
    write_wav(path, Format(1, 2, 22_050), samples.tobytes())
    return path


def test_simpleaudio_gets_samples_of_that_loudness(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = Library()
    monkeypatch.setattr(importlib, "import_module", lambda _: library)
    backend = SimpleAudio(0.0)
    backend.load("start", START)
    _, cue = read_wav(START)
    _, phrase = read_wav(spoken_file(tmp_path))
    backend.level(gain(50), gain(20))
    backend.play("start")
    backend.say(tmp_path / "phrase.wav", "hello")
    assert decibels(library.played[0], cue) == pytest.approx(-12.04, abs=0.1)
    assert decibels(library.played[1], phrase) == pytest.approx(-27.96, abs=0.1)
    backend.level(1.0, 1.0)
    backend.play("start")
    assert library.played[-1] == cue


def test_a_cue_cuts_the_phrase_and_does_not_wait_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = Library()
    monkeypatch.setattr(importlib, "import_module", lambda _: library)
    backend = SimpleAudio(0.0)
    backend.load("start", START)
    path = spoken_file(tmp_path)
    backend.say(path, "one")
    assert backend.busy()
    backend.play("start")
    assert (len(library.played), library.stopped) == (2, 1)
    backend.hush()
    assert library.stopped == 1
    backend.say(path, "one")
    backend.say(path, "two")
    assert library.stopped == 2, "never two phrases at once"


def test_a_program_is_given_the_phrase_and_killed_for_a_cue(tmp_path: Path) -> None:
    log = fake_player(tmp_path, "stalls", "stalls")
    program = Program([str(tmp_path / "stalls")], 0.0)
    program.load("start", START)
    program.say(spoken_file(tmp_path), "one")
    phrase = program._phrase
    assert phrase is not None
    program.play("start")
    assert phrase[0].returncode == -9
    assert program._phrase is None
    program.say(spoken_file(tmp_path), "two")
    second = program._phrase
    assert second is not None
    program.close()
    assert second[0].returncode == -9
    del log


def test_a_program_speaks_as_loud_as_asked_for_whatever_the_cues(tmp_path: Path) -> None:
    fake_player(tmp_path, "works", "works")
    program = Program([str(tmp_path / "works")], 0.0)
    program.level(1.0, gain(20))
    path = spoken_file(tmp_path)
    program.say(path, "one")
    assert program._phrase is not None
    program._phrase[0].wait()
    given = Path((tmp_path / "works.log").read_text().strip())
    assert decibels(read_wav(given)[1], read_wav(path)[1]) == pytest.approx(-27.96, abs=0.1)
    program.level(gain(20), 1.0)
    program.say(path, "one")
    program._phrase[0].wait()
    assert (tmp_path / "works.log").read_text().splitlines()[-1] == str(path)
    program.close()
    assert not given.exists()


def test_a_helper_that_takes_anothers_place_is_as_loud(tmp_path: Path) -> None:
    file = tmp_path / "cues"
    with playing(only(double(file, "die:1"))) as player:
        player.volume = 50
        player.play("start")  # dies
        assert player.wait_for(lambda: player.counts.lost == 1, SOON_S)
        assert came(
            player, lambda: noted(file).count("(level 0.25 1)") == 2
        )  # no reply tells of it


def test_a_phrase_that_fails_is_no_trouble_of_the_way(tmp_path: Path) -> None:
    fake_player(tmp_path, "fails", "fails")
    program = Program([str(tmp_path / "fails")], 0.0)
    program.say(spoken_file(tmp_path), "one")
    assert program._phrase is not None
    program._phrase[0].wait()
    assert program.poll() is None
    assert not program.busy()


def test_windows_speaks_only_where_no_cue_is_cut_by_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[str | None] = []
    module = SimpleNamespace(
        SND_FILENAME=0x20000, SND_NODEFAULT=2, SND_ASYNC=1, PlaySound=lambda s, _: calls.append(s)
    )
    monkeypatch.setitem(sys.modules, "winsound", module)
    backend = Windows(0.0)
    backend.load("start", START)
    path = spoken_file(tmp_path)
    backend.play("start")
    with pytest.raises(Exception, match="a cue sounds"):
        backend.say(path, "one")
    backend.stop()
    backend._until = 0.0
    backend.say(path, "one")
    assert calls[-1] == str(path)
    backend.level(1.0, gain(50))
    backend.say(path, "two")
    assert calls[-2] is None, "its copy is written over only when nothing plays it"
    _, louder = read_wav(path)
    assert calls[-1] is not None
    assert decibels(read_wav(Path(calls[-1]))[1], louder) == pytest.approx(-12.04, abs=0.2)
    backend.close()


def test_the_player_passes_volumes_on_and_keeps_quiet_at_none(tmp_path: Path) -> None:
    file, phrases = tmp_path / "cues", tmp_path
    spoken_file(tmp_path)
    with playing(only(double(file)), phrases=phrases) as player:
        player.volume = 50
        player.play("start")
        assert player.wait_for(lambda: player.counts.played == 1, SOON_S)
        player.voice_volume = 20
        assert player.say("phrase.wav", "next, rucksack row", 1.0)
        assert player.wait_for(lambda: player.counts.said == 1, SOON_S)
        player.play("count")
        player.volume = 0
        player.play("start")
        player.voice_volume = 0
        assert not player.say("phrase.wav", "not this", 1.0)
        assert player.wait_for(lambda: player.counts.played == 2, SOON_S)
        counts = player.counts
    assert (counts.asked, counts.played, counts.silent, counts.said) == (3, 2, 1, 1)
    assert noted(file)[:6] == [
        "(level 0.25 1)", "start", "(level 0.25 0.04)", "say next, rucksack row", "(cut)", "count",
    ]  # fmt: skip


def test_a_phrase_that_is_not_there_costs_no_way(tmp_path: Path) -> None:
    """Nor is one played that lies elsewhere."""
    file, phrases, outside = tmp_path / "cues", tmp_path / "voice", spoken_file(tmp_path)
    phrases.mkdir()
    with playing(only(double(file)), phrases=phrases) as player:
        for name in ("gone.wav", "../phrase.wav", str(outside), "gone.wav"):
            assert player.wait_for(lambda name=name: player.say(name, "nothing", 1.0), SOON_S)
        player.play("start")
        assert player.wait_for(lambda: player.counts.played == 1, SOON_S)
        assert player.counts.said == player.counts.lost == 0
    assert noted(file) == ["start"]


def test_settings(tmp_path: Path) -> None:
    names = {ways.VOLUME_SETTING: "60", ways.VOICE_VOLUME_SETTING: " 30 "}
    settings = ways.read_settings(names)
    assert (settings.volume, settings.voice_volume, settings.faults) == (60, 30, ())
    for wrong in ("101", "-1", "loud", "5.5", "\u0663"):
        settings = ways.read_settings({ways.VOLUME_SETTING: wrong})
        assert settings.volume == 100
        assert settings.faults[0].startswith("MATSIDE_VOLUME: ")
        assert "write 0 to 100" in settings.faults[0]
    assert read_volume("007") == 7
