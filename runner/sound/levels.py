"""How loud: what a volume from 0 to 100 does to the samples, and how it is written."""

from __future__ import annotations

FULL = 100
STEP = 20  # what a key takes; our choice


def gain(volume: int) -> float:
    """The factor for the samples: the square, so that equal steps sound about equal.

    50 is -12 dB and 10 is -40 dB; a volume control with such a taper is common practice. 100
    leaves the sounds as they are, at their -6 dBFS.
    """
    return (max(0, min(volume, FULL)) / FULL) ** 2


def read_volume(text: str) -> int:
    """A volume as written; ValueError, with what to write instead, for what is none."""
    text = text.strip()
    if not (text.isascii() and text.isdigit()) or int(text) > FULL:
        raise ValueError(f"{text!r} is no volume; write 0 to {FULL}")
    return int(text)
