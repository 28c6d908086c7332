"""`matside cues`: what is heard, and the report about sound and voice."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from runner.sound.cues import CUES
from tests.sound.fakes import noted
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


def test_one_cue_by_its_name_and_no_voice(tmp_path: Path) -> None:
    done = run(tmp_path, "count", "--volume", "50")
    assert done.returncode == 0
    assert done.stdout.startswith(f"count    {CUES['count'].meaning}\n")
    assert "Sound: recording." in done.stdout
    assert "Voice" not in done.stdout
    assert noted(tmp_path / "heard") == ["(level 0.25 1)", "count"]


def test_the_voice_says_a_text_as_people_would(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=0.3)
    done = run(tmp_path, "--say", "Bridge, 7.5 kg; $(touch x)", "--voice-volume", "20")
    assert (done.returncode, done.stderr) == (0, "")
    said = "Bridge, seven and a half kilos; touch x"
    lines = done.stdout.splitlines()
    assert lines[0] == f"voice    {said}"
    assert "Voice: on, by say." in lines
    assert "  say              works" in lines
    assert noted(tmp_path / "heard") == ["(level 1 0.04)", f"say {said}"]


def test_without_a_voice_it_says_why_not_and_how_to_get_one(tmp_path: Path) -> None:
    done = run(tmp_path, "--say", "hello", MATSIDE_VOICE_BY="espeak-ng,tuba", PATH=str(tmp_path))
    assert done.returncode == 0
    assert "(nothing to say it with)" in done.stdout
    assert "Voice: none." in done.stdout
    assert "  espeak-ng        does not work: not on this system\n" in done.stdout
    assert "to get it: on Debian: apt-get install espeak-ng\n" in done.stdout
    assert "no engine is called 'tuba'" in done.stdout


def test_a_text_too_long_for_a_rest_is_refused_with_the_reason(tmp_path: Path) -> None:
    fake_engine(tmp_path, "say", seconds=9.0)
    done = run(tmp_path, "--say", "hello", MATSIDE_SOUND="silence")
    assert "Voice: none." in done.stdout
    assert "s long" in done.stdout
