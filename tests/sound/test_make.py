"""The script that makes the sounds makes those that are shipped."""

from __future__ import annotations

import subprocess
import sys
import wave
from typing import TYPE_CHECKING

import numpy as np

from runner.resources import sounds_dir
from runner.sound.sounds import CUES
from tests.sound.listen import read_wav

if TYPE_CHECKING:
    from pathlib import Path


def test_the_script_makes_the_shipped_files_within_one_step(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(sounds_dir() / "make.py"), str(tmp_path)],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == [f"{name}.wav" for name in CUES]
    for name in CUES:
        rate, made = read_wav(tmp_path / f"{name}.wav")
        shipped_rate, shipped = read_wav(sounds_dir() / f"{name}.wav")
        assert rate == shipped_rate
        assert len(made) == len(shipped)
        assert np.abs(made - shipped).max() * 32767 <= 1.001


def test_the_files_are_16_bit_mono_at_48_khz() -> None:
    for name in CUES:
        with wave.open(str(sounds_dir() / f"{name}.wav"), "rb") as file:
            shape = (file.getnchannels(), file.getsampwidth(), file.getframerate())
        assert shape == (1, 2, 48_000)
