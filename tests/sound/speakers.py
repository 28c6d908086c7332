"""Stand-ins for speech programs, and samples like speech."""

from __future__ import annotations

import stat
from pathlib import Path

import numpy as np

from runner.sound.wav import Format, write_wav

RATE = 22_050

# Finds where to write as each program is told, says what it was called with, and does as told.
_SCRIPT = """#!/bin/sh
case "$1" in --version) echo "stand-in 1.0"; exit 0;; esac
target="$MATSIDE_PHRASE"
for word in "$@"; do
  case "$before" in -w|-o) target="$word";; esac
  before="$word"
done
printf '%s\\n' "$@" >> "{log}.arguments"
{doing}
"""
DOING = {
    "speaks": 'cat >> "{log}.texts"; echo >> "{log}.texts"; cp "{sample}" "$target"',
    "fails": "cat > /dev/null; echo no voice >&2; exit 4",
    "hangs": "exec /bin/sleep 600",
    # Says its first word and hangs in the next.
    "chokes": 'read -r text; echo "$text" >> "{log}.texts"; case "$text" in ready) '
    'cp "{sample}" "$target";; *) exec /bin/sleep 600;; esac',
    "silent": 'cat > /dev/null; cp "{silence}" "$target"',
    "lies": 'cat > /dev/null; echo "no wave at all" > "$target"',
    # Says its first word and then no other.
    "tires": 'read -r text; case "$text" in ready) cp "{sample}" "$target";; *) exit 5;; esac',
}


def speech_like(seconds: float = 1.0, level: float = 0.7) -> bytes:
    """Syllables of a buzz with pauses: peaks as far above their RMS as those of speech."""
    times = np.arange(round(seconds * RATE)) / RATE
    buzz = sum(np.sin(2 * np.pi * 120 * n * times) / n for n in range(1, 25))
    syllables = np.clip(np.sin(2 * np.pi * 4 * times), 0, None)
    made = buzz * syllables
    samples = (level * 32_767 * made / np.abs(made).max()).astype("<i2")
    return bytes(2 * 4_000) + samples.tobytes() + bytes(2 * 4_000)


def fake_engine(folder: Path, program: str, doing: str = "speaks", seconds: float = 1.0) -> Path:
    """Put a program into `folder`; arguments and texts stand in files that begin with the path."""
    sample, silence = folder / "sample.wav", folder / "silence.wav"
    write_wav(sample, Format(1, 2, RATE), speech_like(seconds))
    write_wav(silence, Format(1, 2, RATE), bytes(2 * RATE))
    log = folder / program
    path = folder / program
    text = DOING[doing].format(log=log, sample=sample, silence=silence)
    path.write_text(_SCRIPT.format(log=log, doing=text))
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


def texts(path: Path) -> list[str]:
    """What a stand-in was given to say, without the word that it is tried with."""
    return [t for t in Path(f"{path}.texts").read_text().split("\n") if t not in ("", "ready")]


def arguments(path: Path) -> list[str]:
    """Every argument that a stand-in was called with."""
    return Path(f"{path}.arguments").read_text().split("\n")
