"""Makes the WAV files beside it from the cue table: `python sounds/make.py [FOLDER]`.

16-bit mono at 48 kHz, the standard library only, the same bytes every time on one machine; on
another, the sine of another C library may move a sample by one step.
"""

from __future__ import annotations

import array
import math
import sys
import wave
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent
if __name__ == "__main__":  # run from anywhere, also without an installed package
    sys.path.insert(0, str(HERE.parent))

from runner.sound.sounds import CUES, RAMP_S, TAIL_S, Cue, Note  # noqa: E402

RATE = 48_000  # samples a second
FULL = 32_767  # the largest 16-bit step


def _wave_peak(harmonics: Sequence[float]) -> float:
    """Largest value of one period, by sampling it finely: the amplitude to scale by."""
    steps = 4_800
    return max(abs(_tone(i / steps, harmonics)) for i in range(steps))


def _tone(turns: float, harmonics: Sequence[float]) -> float:
    """The sum of the harmonics after `turns` periods of the fundamental, all begun at zero."""
    return sum(
        amplitude * math.sin(2 * math.pi * turns * number)
        for number, amplitude in enumerate(harmonics, start=1)
    )


def _edge(at_s: float, length_s: float) -> float:
    """The raised-cosine envelope, 0 to 1, `at_s` into a note of `length_s`."""
    inside_s = min(at_s, length_s - at_s)
    if inside_s >= RAMP_S:
        return 1.0
    return 0.5 - 0.5 * math.cos(math.pi * max(0.0, inside_s) / RAMP_S)


def _add(note: Note, peak: float, samples: list[float]) -> None:
    scale = peak / _wave_peak(note.harmonics)
    first = round(note.onset_s * RATE)
    for i in range(round(note.length_s * RATE)):
        at_s = i / RATE
        tone = _tone(note.pitch_hz * at_s, note.harmonics)
        samples[first + i] += scale * _edge(at_s, note.length_s) * tone


def samples_of(cue: Cue) -> array.array[int]:
    """The cue as 16-bit samples at `RATE`, with `TAIL_S` of quiet behind it."""
    samples = [0.0] * round((cue.length_s + TAIL_S) * RATE)
    for note in cue.notes:
        _add(note, cue.peak, samples)
    return array.array("h", (round(value * FULL) for value in samples))


def write(folder: Path) -> list[Path]:
    """Write one WAV for each cue into `folder`, which must exist; the paths, in table order."""
    paths = []
    for cue in CUES.values():
        samples = samples_of(cue)
        if sys.byteorder == "big":
            samples.byteswap()  # WAV is little-endian
        path = folder / f"{cue.name}.wav"
        with wave.open(str(path), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            out.writeframes(samples.tobytes())
        paths.append(path)
    return paths


if __name__ == "__main__":
    for made in write(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE):
        print(made.name)
