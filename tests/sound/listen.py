"""Ears for the tests: notes and cues found in samples, by NumPy alone.

Nothing of the maker of the sounds is used; the cue table only names what was found.
"""

from __future__ import annotations

import wave
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from runner.sound.sounds import CUES, Cue, Note

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    Samples = NDArray[np.float64]

FLOOR = 10 ** (-40 / 20)  # of full scale: what counts as sounding
WINDOW_S, HOP_S = 0.004, 0.001
PITCH_FIT = 0.02  # relative; a semitone is 0.059
TIME_FIT_S = 0.03  # of onsets within a cue, and of lengths


@dataclass(frozen=True)
class Heard:
    """A cue found in a recording: `name` from the table, or `?` for a note of no cue."""

    name: str
    at_s: float
    notes: tuple[Note, ...]


def read_wav(path: Path) -> tuple[int, Samples]:
    """Rate in Hz and samples, full scale 1, of a 16-bit mono file."""
    with wave.open(str(path), "rb") as source:
        assert (source.getnchannels(), source.getsampwidth()) == (1, 2)
        raw = source.readframes(source.getnframes())
        return source.getframerate(), from_s16(raw)


def from_s16(raw: bytes) -> Samples:
    """Little-endian 16-bit samples as floats, full scale 1."""
    return np.frombuffer(raw, dtype="<i2").astype(np.float64) / 32767


def envelope(samples: Samples, rate: int) -> Samples:
    """RMS in windows of 4 ms, one for each millisecond."""
    width, hop = round(WINDOW_S * rate), round(HOP_S * rate)
    half = width // 2
    power = np.concatenate(([0.0], np.cumsum(np.pad(samples, half) ** 2)))
    starts = np.arange(0, len(samples), hop)
    return np.sqrt((power[starts + width] - power[starts]) / width)


def sounding(samples: Samples, rate: int) -> list[tuple[int, int]]:
    """First and last-plus-one sample of each part above -40 dBFS."""
    loud = np.concatenate(([False], envelope(samples, rate) > FLOOR, [False]))
    edges = np.flatnonzero(loud[1:] != loud[:-1]).reshape(-1, 2)
    hop = round(HOP_S * rate)
    return [(int(a) * hop, min(int(b) * hop, len(samples))) for a, b in edges]


def spectrum(samples: Samples, rate: int) -> tuple[Samples, Samples]:
    """Frequencies in Hz and magnitudes, finely padded, with a Hann window."""
    size = 1 << 17
    magnitudes: Samples = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size))
    frequencies: Samples = np.fft.rfftfreq(size, 1 / rate).astype(np.float64)
    return frequencies, magnitudes


def pitch_of(samples: Samples, rate: int) -> float:
    """Frequency in Hz of the strongest part below 3 kHz, from a parabola over three bins."""
    frequencies, magnitudes = spectrum(samples, rate)
    below = int(np.searchsorted(frequencies, 3000.0))
    top = int(np.argmax(magnitudes[:below]))
    left, mid, right = np.log(magnitudes[top - 1 : top + 2] + 1e-12)
    shift = 0.5 * (left - right) / (left - 2 * mid + right)
    return float((top + shift) * rate / (1 << 17))


def find_notes(samples: Samples, rate: int, shortest_s: float = 0.03) -> list[Note]:
    """The notes of a recording, in order, with onsets from its beginning."""
    notes = []
    for first, after in sounding(samples, rate):
        length_s = (after - first) / rate
        if length_s >= shortest_s:
            notes.append(Note(first / rate, length_s, pitch_of(samples[first:after], rate)))
    return notes


def _fits(cue: Cue, notes: Sequence[Note]) -> bool:
    if len(notes) < len(cue.notes):
        return False
    zero = notes[0].onset_s
    return all(
        abs(heard.pitch_hz / meant.pitch_hz - 1) < PITCH_FIT
        and abs(heard.onset_s - zero - meant.onset_s) < TIME_FIT_S
        and abs(heard.length_s - meant.length_s) < TIME_FIT_S
        for heard, meant in zip(notes, cue.notes, strict=False)
    )


def find_cues(notes: Sequence[Note]) -> list[Heard]:
    """The notes taken together to cues, the longest cue that fits first."""
    by_length = sorted(CUES.values(), key=lambda cue: -len(cue.notes))
    heard: list[Heard] = []
    at = 0
    while at < len(notes):
        cue = next((cue for cue in by_length if _fits(cue, notes[at:])), None)
        size = len(cue.notes) if cue else 1
        mine = tuple(notes[at : at + size])
        heard.append(Heard(cue.name if cue else "?", mine[0].onset_s, mine))
        at += size
    return heard
