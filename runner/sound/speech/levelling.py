"""Makes a rendered phrase fit to stand beside the cues: trimmed, near their loudness, no louder.

The cues have a peak of -6 dBFS and, over their sounding parts, an RMS of -10.6 dBFS. Speech has far
higher peaks for the same loudness: brought down to that peak alone it would be 12 dB under them. So
its highest peaks are rounded off (a hyperbolic tangent, a usual soft limiter).
"""

from __future__ import annotations

import array
import math
import sys

from runner.sound.cues import PEAK
from runner.sound.wav import Format

# Of full scale. Speech is a little quieter than the cues, which have to be heard first (our
# choice). Before limiting, so what comes out is about a decibel less.
TARGET_RMS = 0.2
MOST_DRIVE = 3.0  # peaks are pressed by no more than that, or it sounds hoarse (our choice)
SOUNDING = 0.01  # of the peak, -40 dB: what is quieter is a pause
QUIET = 0.005  # of full scale: what is quieter at the ends is cut off
EDGE_S = 0.008  # raised-cosine, as the cues have
LEAD_S, TAIL_S = 0.01, 0.03  # left of the silence at the ends


def levelled(kind: Format, frames: bytes) -> tuple[Format, bytes]:
    """The phrase as mono samples of 16 bits; ValueError where it is silent or of another kind.

    The rate stays: every way of playing takes those of the engines, 22,050 Hz.
    """
    samples = _mono(kind, frames)
    samples = _trimmed(samples, kind.rate)
    peak = max(map(abs, samples)) / 32768
    loud = [s for s in samples if abs(s) > SOUNDING * peak * 32768]
    rms = math.sqrt(sum(s * s for s in loud) / len(loud)) / 32768
    gain = min(TARGET_RMS / rms, MOST_DRIVE * PEAK / peak)
    factor, most = gain / (32768 * PEAK), PEAK * 32767
    tanh = math.tanh
    made = array.array("h", [round(most * tanh(factor * s)) for s in samples])
    _ramp(made, round(EDGE_S * kind.rate))
    if sys.byteorder == "big":
        made.byteswap()
    return Format(1, 2, kind.rate), made.tobytes()


def _mono(kind: Format, frames: bytes) -> array.array[int]:
    if kind.width != 2:
        raise ValueError(f"samples of {8 * kind.width} bits")
    samples = array.array("h", frames[: len(frames) // 2 * 2])
    if sys.byteorder == "big":
        samples.byteswap()
    return samples[:: kind.channels]  # of several channels the first; engines repeat it


def _trimmed(samples: array.array[int], rate: int) -> array.array[int]:
    loud = [i for i, s in enumerate(samples) if abs(s) > QUIET * 32768]
    if not loud:
        raise ValueError("silence")
    return samples[max(loud[0] - round(LEAD_S * rate), 0) : loud[-1] + 1 + round(TAIL_S * rate)]


def _ramp(samples: array.array[int], length: int) -> None:
    for i in range(min(length, len(samples) // 2)):
        factor = 0.5 - 0.5 * math.cos(math.pi * (i + 0.5) / length)
        samples[i] = round(samples[i] * factor)
        samples[-1 - i] = round(samples[-1 - i] * factor)
