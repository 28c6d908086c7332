"""`matside cues`: what is heard, and the report about sound and voice."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from runner.sound.sounds import CUES
from tests.sound.fakes import fake_player, noted
from tests.sound.speakers import fake_engine

ROOT = Path(__file__).resolve().parents[2]


def run(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "runner.cli.main", "cues", *arguments],
        env={
            **os.environ,
            "PATH": f"{folder}:/bin:/usr/bin",
            "MATSIDE_CACHE": str(folder / "cache"),
            "MATSIDE_SOUND": f"recording:{folder / 'heard'}",
            "MATSIDE_VOICE_BY": "say",
            **environment,
        },
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


# The command as it is, but that it goes on as soon as a sound has begun.
HASTE = """
import os, sys, time
from runner.cli import cues
from runner.cli.main import main
from runner.sound.player import Player
play = Player.play
def played(self, name):
    play(self, name)
    assert self.wait_for(lambda: self.counts.played == self.counts.asked, 20)
Player.play = played
def sleep(seconds):
    assert "SLEEPS" not in os.environ, "it waits for nothing"
time.sleep = sleep
sys.exit(main())
"""


def in_haste(folder: Path, **environment: str) -> str:
    """What it prints, where there are no other programs than those of the folder."""
    for program in ("cat", "cp", "sh"):
        (folder / program).symlink_to(shutil.which(program) or "")
    done = subprocess.run(
        [sys.executable, "-c", HASTE, "cues"],
        env={
            **os.environ,
            "PATH": str(folder),
            "MATSIDE_CACHE": str(folder / "cache"),
            **environment,
        },
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout


def test_one_cue_by_its_name_and_no_voice(tmp_path: Path) -> None:
    done = run(tmp_path, "count", "--volume", "50")
    assert done.returncode == 0
    assert done.stdout.startswith(f"count    {CUES['count'].meaning}\n")
    assert "Sound: recording." in done.stdout
    assert "Voice" not in done.stdout
    assert noted(tmp_path / "heard") == ["(level 0.25 1)", "count"]


def test_all_cues_with_their_meanings_the_voice_and_why_no_better_way(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    heard = tmp_path / "heard"
    done = in_haste(
        tmp_path,
        MATSIDE_SOUND=f"pw-play,recording:{heard}",
        MATSIDE_VOICE_BY="espeak-ng,say",
    )
    said = "next, rucksack row, left, twelve kilos"
    assert noted(heard) == [*CUES, f"say {said}"]
    lines = done.splitlines()
    assert lines[: len(CUES)] == [f"{c.name:<8} {c.meaning}" for c in CUES.values()]
    assert lines[len(CUES)] == f"voice    {said}"
    assert "Sound: recording." in lines, "it does not send people to itself"
    missing = lines.index("  pw-play          unavailable: not on this system")
    assert lines[missing + 1].endswith("to install: on Debian: apt-get install pipewire-bin")
    assert "Voice: on, by say." in lines
    assert "  espeak-ng        unavailable: not on this system" in lines


def test_the_voice_says_a_text_as_people_would(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    done = run(tmp_path, "--say", "Bridge, 7.5 kg; $(touch x)", "--voice-volume", "20")
    assert (done.returncode, done.stderr) == (0, "")
    said = "Bridge, seven point five kilos; touch x"
    lines = done.stdout.splitlines()
    assert lines[0] == f"voice    {said}"
    assert "Voice: on, by say." in lines
    assert "  say              works" in lines
    assert noted(tmp_path / "heard") == ["(level 1 0.04)", f"say {said}"]


def test_without_a_voice_it_says_why_not_and_how_to_get_one(tmp_path: Path) -> None:
    done = run(tmp_path, "--say", "hello", MATSIDE_VOICE_BY="espeak-ng,tuba", PATH=str(tmp_path))
    assert done.returncode == 0
    assert "(no voice)" in done.stdout
    assert "Voice: none." in done.stdout
    assert "  espeak-ng        unavailable: not on this system\n" in done.stdout
    assert "to install: on Debian: apt-get install espeak-ng\n" in done.stdout
    assert "unknown engine 'tuba'" in done.stdout


def test_a_text_too_long_for_a_rest_is_refused_with_the_reason(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=9.0)
    done = run(tmp_path, "--say", "hello", MATSIDE_SOUND="silence")
    assert "Voice: none." in done.stdout
    assert "s long" in done.stdout


def test_without_a_player_the_meanings_come_at_once_and_nothing_is_said_twice(
    tmp_path: Path,
) -> None:
    done = in_haste(
        tmp_path, MATSIDE_VOICE_BY="espeak-ng", SLEEPS="never", MATSIDE_SOUND="paplay,aplay"
    )
    lines = [line.strip() for line in done.splitlines() if line.strip()]
    assert lines[: len(CUES)] == [f"{c.name:<8} {c.meaning}".strip() for c in CUES.values()]
    assert lines.count("(no player)") == 1
    assert "Sound: none." in lines


def test_silence_that_was_asked_for_is_called_so(tmp_path: Path) -> None:
    done = in_haste(tmp_path, MATSIDE_SOUND="silence", MATSIDE_VOICE_BY="espeak-ng")
    assert "Sound: off, because MATSIDE_SOUND says so." in done
    assert "Sound: none" not in done
    assert "To get" not in done.split("Voice")[0]


def test_what_is_installed_and_cannot_play_wants_a_device_and_no_installation(
    tmp_path: Path,
) -> None:
    for name in ("paplay", "aplay"):
        fake_player(tmp_path, name, "fails")
    done = in_haste(tmp_path, MATSIDE_VOICE_BY="espeak-ng", MATSIDE_SOUND="paplay,aplay,pw-play")
    sound, _, voice = done.partition("Sound: none.")[2].partition("Voice: none.")
    assert sound.count("unavailable: ended with status 7") == 2
    assert sound.count("to mend: connect a sound device, or start the sound server") == 1
    assert sound.count("to install: ") == 1  # for the one that is not there
    assert "to install: on Debian: apt-get install espeak-ng" in voice


def test_at_volume_0_it_does_not_say_that_there_is_no_player(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    done = run(tmp_path, "start", "--say", "hello", "--volume", "0", "--voice-volume", "0")
    assert done.stdout.count("(volume 0)") == 2
    assert "(no player)" not in done.stdout
    assert "Sound: recording." in done.stdout
    assert "start" not in noted(tmp_path / "heard")


def test_a_voice_that_nothing_plays_is_not_called_on(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    done = run(tmp_path, "--say", "hello", MATSIDE_SOUND="silence")
    assert "Sound: off, because MATSIDE_SOUND says so." in done.stdout
    assert "Voice: none, for nothing here plays it." in done.stdout
    assert "Voice: on" not in done.stdout
