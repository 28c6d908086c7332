"""The cue language: every signal as notes, and the three traits by which ears tell them apart.

A person on the floor hears a cue and need not look. There are few cues, and any two differ in at
least two of pitch contour, count and rhythm, so that a poor ear for one of these still tells them
apart (our choice). All three follow from onsets and fundamentals alone: how long a note rings
depends on the room and the loudspeaker. `sounds/make.py` makes the WAV files in `sounds/` from this
table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType

from msgspec import Struct

from runner.text import FULL

A4_HZ = 440.0  # ISO 16: the standard tuning frequency

# Strength of the fundamental, the second and the third harmonic (our choice). Harmonics help small
# loudspeakers, and ears that have lost one region (common practice). The fundamental is the
# strongest, so that it is heard as the pitch.
HARMONICS = (1.0, 0.4, 0.2)

RAMP_S = 0.008  # raised-cosine edge, both ends of a note: no click, still a clear beginning
PEAK = 0.49  # of full scale, -6.2 dBFS: two cues may overlap without clipping
# The pacer's tick may sound three times a second through a whole set. So it is much softer than the
# other cues, which are equally loud, and never hides one.
SOFT_PEAK = 0.098  # -20.2 dBFS, 14 dB under; 10 dB is about half as loud (common practice)
TAIL_S = 0.03  # quiet at the end of a file: some outputs swallow the last few milliseconds
# Seconds from one onset to the next, for `rhythm` (our choice); no cue is near a limit.
QUICK_S = 0.12  # shorter: a flutter
LONG_S = 0.22  # from here on: a long step

LATE_S = 0.3  # seconds; a later cue would say something untrue, and is skipped


def pitch(semitones: int) -> float:
    """Frequency in Hz, `semitones` above A4: f = 440 * 2^(n/12), equal temperament on ISO 16."""
    return float(A4_HZ * 2.0 ** (semitones / 12))


C5, E5, G5, A5, C6 = (pitch(n) for n in (3, 7, 10, 12, 15))


class Note(Struct, frozen=True):
    """One tone: `onset_s` after the cue's instant, `length_s` with both ramps, `pitch_hz`.

    `harmonics` are relative amplitudes, the fundamental first.
    """

    onset_s: float
    length_s: float
    pitch_hz: float
    harmonics: tuple[float, ...] = HARMONICS

    @property
    def end_s(self) -> float:
        """Seconds from the cue's instant to the note's end."""
        return self.onset_s + self.length_s


class Cue(Struct, frozen=True):
    """One signal: `name` is also the stem of its file; `meaning` is one line for people."""

    name: str
    meaning: str
    notes: tuple[Note, ...]
    peak: float = PEAK  # of full scale

    @property
    def length_s(self) -> float:
        """Seconds from the cue's instant to the end of its last note."""
        return max(note.end_s for note in self.notes)


def _cue(name: str, meaning: str, *notes: tuple[float, float, float], peak: float = PEAK) -> Cue:
    return Cue(name, meaning, tuple(Note(*note) for note in notes), peak)


# No note begins before its cue's instant: the first onset is the moment that the cue announces.
_ALL = (
    _cue(
        "begin",
        "the session starts",
        (0.0, 0.22, C5),
        (0.28, 0.22, E5),
        (0.56, 0.12, G5),
        (0.72, 0.30, C6),
    ),
    _cue("count", "the rest ends in three, two, one seconds", (0.0, 0.12, C5)),
    _cue("start", "start the set now", (0.0, 0.12, G5), (0.16, 0.40, C6)),
    _cue(
        "mark",
        "time is up: a hold reaches its target time, or a warm-up, rest or cool-down waits for you",
        (0.0, 0.12, A5),
        (0.16, 0.24, A5),
        (0.52, 0.12, A5),
        (0.68, 0.24, A5),
    ),
    _cue(
        "ended",
        "the set ends",
        # Short, so that a short rest has room for the next name after it.
        (0.0, 0.10, G5),
        (0.15, 0.12, E5),
        (0.42, 0.12, C5),
    ),
    _cue("logged", "the count is saved", (0.0, 0.12, A5), (0.30, 0.12, E5)),
    _cue(
        "switch",
        "the first side ends: change sides",
        (0.0, 0.26, C6),
        (0.31, 0.11, E5),
        (0.47, 0.11, C6),
    ),
    _cue(
        "block",
        "the next part comes: a block, or the cool-down",
        (0.0, 0.22, C5),
        (0.28, 0.22, G5),
        (0.56, 0.22, C6),
    ),
    _cue(
        "pause",
        "the session is paused",
        (0.0, 0.05, E5),
        (0.08, 0.05, E5),
        (0.40, 0.24, E5),
    ),
    _cue(
        "resume",
        "the session resumes",
        (0.0, 0.12, G5),
        (0.16, 0.12, C5),
        (0.32, 0.24, G5),
        (0.62, 0.24, C6),
    ),
    _cue(
        "skip",
        "a set is skipped",
        (0.0, 0.06, C5),
        (0.09, 0.24, G5),
        (0.39, 0.06, G5),
        (0.48, 0.12, C5),
    ),
    _cue(
        "drop",
        "an exercise is dropped for today",
        (0.0, 0.06, C6),
        (0.09, 0.06, A5),
        (0.18, 0.06, G5),
        (0.27, 0.06, E5),
        (0.36, 0.24, C5),
    ),
    _cue("undo", "undo", (0.0, 0.12, E5), (0.16, 0.12, C6), (0.32, 0.24, E5)),
    _cue(
        "redo",
        "redo",
        (0.0, 0.22, E5),
        (0.28, 0.06, C6),
        (0.37, 0.06, E5),
        (0.46, 0.24, G5),
    ),
    _cue(
        "done",
        "sets, counts and cool-down are done, or you close the session",
        (0.0, 0.13, C6),
        (0.18, 0.13, G5),
        (0.36, 0.13, E5),
        (0.54, 0.50, C5),
    ),
    _cue(
        "tick",
        "the pacer: the next part of a repetition starts (much softer than the other cues)",
        (0.0, 0.05, A5),
        (0.08, 0.05, A5),
        peak=SOFT_PEAK,
    ),
)
CUES: Mapping[str, Cue] = MappingProxyType({cue.name: cue for cue in _ALL})


def count(notes: Sequence[Note]) -> int:
    """How many notes there are."""
    return len(notes)


def contour(notes: Sequence[Note]) -> str:
    """The course of the pitch in words: `level`, `up`, `down`, `down-up` and so on.

    Steps in one direction count as one; a step under half a semitone does not count. So two cues
    do not differ in contour merely because one has more notes.
    """
    ways: list[str] = []
    for before, after in pairwise(notes):
        ratio = after.pitch_hz / before.pitch_hz
        if max(ratio, 1 / ratio) < 2.0 ** (0.5 / 12):
            continue
        way = "up" if ratio > 1 else "down"
        if ways[-1:] != [way]:
            ways.append(way)
    return "-".join(ways) or "level"


def rhythm(notes: Sequence[Note]) -> str:
    """The steps from onset to onset, equal ones in a row taken together.

    `single` for one note; `quick` for a flutter; else words joined by dashes: `long-short`.
    """
    kinds: list[str] = []
    for before, after in pairwise(notes):
        step_s = after.onset_s - before.onset_s
        kind = "long" if step_s >= LONG_S else "short" if step_s >= QUICK_S else "quick"
        if kinds[-1:] != [kind]:
            kinds.append(kind)
    return "-".join(kinds) or "single"


def differences(one: Sequence[Note], other: Sequence[Note]) -> int:
    """In how many of count, contour and rhythm two cues differ: 0 to 3."""
    return sum(trait(one) != trait(other) for trait in (count, contour, rhythm))


# Loudness: what a volume from 0 to 100 does to the samples.

STEP = 20  # the step of one key press; our choice


def gain(volume: int) -> float:
    """The factor for the samples: the square of the volume, so that equal steps sound about equal.

    50 is -12 dB and 10 is -40 dB; such a taper is common practice for volume controls. 100 leaves
    the sounds as they are, at their -6 dBFS.
    """
    return (max(0, min(volume, FULL)) / FULL) ** 2
