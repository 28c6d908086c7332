"""The shipped sounds, measured on the files by a general library (NumPy), not by their maker."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from runner.resources import sounds_dir
from runner.sound.sounds import CUES, HARMONICS, Note, contour, count, differences, rhythm
from tests.sound.listen import FLOOR, find_cues, find_notes, read_wav, sounding, spectrum

if TYPE_CHECKING:
    from tests.sound.listen import Samples

# f = 440 * 2^(n/12) on ISO 16's A4; A5 880, E5 659.255 and C6 1046.502 Hz are known values.
ISO_16 = {"C5": 523.251, "E5": 659.255, "G5": 783.991, "A5": 880.0, "C6": 1046.502}
MELODIES = {
    "begin": "C5 E5 G5 C6",
    "ended": "G5 E5 C5",
    "pause": "E5 E5 E5",
    "resume": "G5 C5 G5 C6",
    "skip": "C5 G5 G5 C5",
    "drop": "C6 A5 G5 E5 C5",
    "undo": "E5 C6 E5",
    "redo": "E5 C6 E5 G5",
    "count": "C5",
    "start": "G5 C6",
    "mark": "A5 A5 A5 A5",
    "switch": "C6 E5 C6",
    "logged": "A5 E5",
    "block": "C5 G5 C6",
    "done": "C6 G5 E5 C5",
    "tick": "A5 A5",
}
NAMES = sorted(CUES)
# The pacer's tick is under all others on purpose, and is measured as such.
LOUD = [name for name in NAMES if name != "tick"]


def sound(name: str) -> tuple[int, Samples]:
    return read_wav(sounds_dir() / f"{name}.wav")


def notes_of(name: str) -> list[Note]:
    rate, samples = sound(name)
    return find_notes(samples, rate)


def test_the_files_are_those_of_the_table() -> None:
    assert sorted(path.stem for path in sounds_dir().glob("*.wav")) == NAMES
    assert set(MELODIES) == set(CUES)
    for name, cue in CUES.items():
        assert cue.name == name
        assert cue.meaning
        assert "\n" not in cue.meaning


@pytest.mark.parametrize("name", NAMES)
def test_pitches_are_those_of_iso_16(name: str) -> None:
    heard = [note.pitch_hz for note in notes_of(name)]
    meant = [ISO_16[pitch] for pitch in MELODIES[name].split()]
    assert heard == pytest.approx(meant, rel=0.001)  # 1.7 cents; a semitone is 100
    assert all(500 <= pitch <= 1100 for pitch in heard)


@pytest.mark.parametrize("name", NAMES)
def test_each_note_has_a_second_and_third_harmonic_below_its_fundamental(name: str) -> None:
    rate, samples = sound(name)
    for note in notes_of(name):
        first = round(note.onset_s * rate)
        part = samples[first : first + round(note.length_s * rate)]
        frequencies, magnitudes = spectrum(part, rate)

        def strength(number: int, of: Note = note, f: Samples = frequencies) -> float:
            near = abs(f - number * of.pitch_hz) < 30
            return float(magnitudes[near].max())  # noqa: B023 - called in its own round

        measured = [strength(number) / strength(1) for number in (1, 2, 3)]
        assert measured == pytest.approx(HARMONICS, rel=0.05)
        assert strength(4) / strength(1) < 0.01


@pytest.mark.parametrize("name", LOUD)
def test_two_cues_may_overlap_without_clipping(name: str) -> None:
    _, samples = sound(name)
    peak_dbfs = 20 * np.log10(abs(samples).max())
    assert -7.0 < peak_dbfs <= -6.0


def loudness_dbfs(name: str) -> float:
    rate, samples = sound(name)
    parts = np.concatenate([samples[a:b] for a, b in sounding(samples, rate)])
    return float(20 * np.log10(np.sqrt(np.mean(parts**2))))


def test_all_are_equally_loud_within_1_db() -> None:
    levels = [loudness_dbfs(name) for name in LOUD]
    assert max(levels) - min(levels) < 1.0
    assert min(levels) > -13


def test_the_tick_lies_well_under_the_others_and_fits_beside_two_of_them() -> None:
    under_db = min(loudness_dbfs(name) for name in LOUD) - loudness_dbfs("tick")
    assert 10 < under_db < 16  # 10 dB: about half as loud (common practice)
    _, tick = sound("tick")
    loudest = max(abs(sound(name)[1]).max() for name in LOUD)
    assert 2 * loudest < 1.0
    assert abs(tick).max() == pytest.approx(0.1, rel=0.05)
    assert len(tick) / 48_000 < 0.17


def test_all_are_equally_loud_by_single_samples_too() -> None:
    levels = []
    for name in LOUD:
        _, samples = sound(name)
        loud = samples[abs(samples) > FLOOR]
        levels.append(20 * np.log10(np.sqrt(np.mean(loud**2))))
    assert max(levels) - min(levels) < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_edges_are_raised_cosines_of_5_to_10_ms(name: str) -> None:
    rate, samples = sound(name)
    for note in CUES[name].notes:
        first, after = (round(at * rate) for at in (note.onset_s, note.end_s))
        part = samples[first:after]
        for one in (part, part[::-1]):
            ramp_ms, misfit = fitted_ramp(one, note.pitch_hz, rate)
            assert 5 <= ramp_ms <= 10
            assert misfit < 0.01


def fitted_ramp(part: Samples, pitch_hz: float, rate: int) -> tuple[float, float]:
    """Length in ms of the raised cosine that explains the note's beginning best, and its misfit.

    The steady middle gives the strengths and phases of the harmonics, by least squares; carried on
    to the edge they say what would be there without a ramp. The misfit is the RMS of what the ramp
    leaves unexplained, over that of the steady tone.
    """
    times = np.arange(len(part)) / rate
    angles = 2 * np.pi * pitch_hz * times[:, None] * np.arange(1, 4)
    waves = np.hstack([np.sin(angles), np.cos(angles)])
    middle = slice(round(0.02 * rate), len(part) - round(0.02 * rate))
    strengths, *_ = np.linalg.lstsq(waves[middle], part[middle], rcond=None)
    steady = waves @ strengths
    edge = slice(0, round(0.015 * rate))
    best = (0.0, np.inf)
    for ramp_ms in np.arange(1.0, 15.0, 0.25):
        rise = np.minimum(times[edge] / (ramp_ms / 1000), 1.0)
        model = steady[edge] * (0.5 - 0.5 * np.cos(np.pi * rise))
        misfit = np.sqrt(np.mean((part[edge] - model) ** 2) / np.mean(steady**2))
        best = min(best, (float(ramp_ms), float(misfit)), key=lambda pair: pair[1])
    return best


@pytest.mark.parametrize("name", NAMES)
def test_no_click_above_the_harmonics(name: str) -> None:
    rate, samples = sound(name)
    frequencies = np.fft.rfftfreq(len(samples), 1 / rate)
    magnitudes = abs(np.fft.rfft(samples))
    click = magnitudes[frequencies > 5000].max() / magnitudes.max()
    assert 20 * np.log10(click) < -70


def traits(name: str) -> tuple[int, tuple[int, ...], tuple[str, ...]]:
    """Count, contour and rhythm from onsets and fundamentals in the file, nothing of the table.

    Runs of like steps are one: more of the same is another count, not another contour or rhythm.
    """
    heard = notes_of(name)
    semitones = np.diff(12 * np.log2([note.pitch_hz for note in heard]))
    ways = [int(np.sign(step)) for step in semitones if abs(step) > 0.5]
    steps = np.diff([note.onset_s for note in heard])
    kinds = [("quick", "short", "long")[int(np.searchsorted([0.12, 0.22], s))] for s in steps]
    contour_of = tuple(a for a, b in pairwise([*ways, None]) if a != b)
    return len(heard), contour_of, tuple(a for a, b in pairwise([*kinds, ""]) if a != b)


@pytest.mark.parametrize(("one", "other"), list(combinations(NAMES, 2)))
def test_any_two_differ_in_two_of_contour_count_and_rhythm(one: str, other: str) -> None:
    differ = sum(a != b for a, b in zip(traits(one), traits(other), strict=True))
    assert differ >= 2
    assert differences(notes_of(one), notes_of(other)) == differ


def test_no_step_is_near_the_limit_between_two_rhythms() -> None:
    steps = [s for n in NAMES for s in np.diff([note.onset_s for note in notes_of(n)])]
    assert min(abs(np.log(step / limit)) for step in steps for limit in (0.12, 0.22)) > 0.18


@pytest.mark.parametrize("name", NAMES)
def test_what_is_heard_has_the_traits_of_the_table(name: str) -> None:
    heard, meant = notes_of(name), CUES[name].notes
    for trait in (count, contour, rhythm):
        assert trait(heard) == trait(meant)
    for note, plan in zip(heard, meant, strict=True):
        assert note.onset_s == pytest.approx(plan.onset_s, abs=0.003)
        assert note.length_s == pytest.approx(plan.length_s, abs=0.005)


def test_the_traits_do_not_call_more_of_the_same_different() -> None:
    two = [Note(0, 0.1, 500), Note(0.2, 0.1, 600)]
    three = [*two, Note(0.4, 0.3, 700)]
    assert (contour(two), contour(three)) == ("up", "up")
    assert (rhythm(two), rhythm(three)) == ("short", "short")
    assert differences(two, three) == 1
    assert contour([*three, Note(0.8, 0.4, 600)]) == "up-down"
    assert rhythm([*three, Note(0.8, 0.4, 600)]) == "short-long"
    assert rhythm(two[:1]) == "single"
    assert contour([Note(0, 0.1, 500), Note(0.2, 0.1, 505)]) == "level"


@pytest.mark.parametrize("name", NAMES)
def test_no_danger_signal_is_imitated(name: str) -> None:
    """No sweep, no two-tone siren, no temporal-three pattern (three like pulses, ISO 8201).

    The mark has four of one pitch, in two pairs: never three in even steps.
    """
    rate, samples = sound(name)
    heard = notes_of(name)
    for note in heard:
        first = round(note.onset_s * rate)
        half = round(note.length_s * rate / 2)
        halves = [samples[first : first + half], samples[first + half : first + 2 * half]]
        before, after = (spectrum(part, rate) for part in halves)
        peaks = [float(f[np.argmax(magnitudes)]) for f, magnitudes in (before, after)]
        assert peaks[0] == pytest.approx(peaks[1], rel=0.01)
    pitches = [round(note.pitch_hz) for note in heard]
    for a, b, c in zip(heard, heard[1:], heard[2:], strict=False):
        alike = round(a.pitch_hz) == round(b.pitch_hz) == round(c.pitch_hz)
        steps = sorted([b.onset_s - a.onset_s, c.onset_s - b.onset_s])
        assert not alike or steps[1] > 1.5 * steps[0]
    for w, x, y, z in zip(pitches, pitches[1:], pitches[2:], pitches[3:], strict=False):
        assert w == x or (w, x) != (y, z)
    assert all(there.onset_s - here.end_s < 0.4 for here, there in pairwise(heard))


def test_files_are_short_and_end_in_quiet() -> None:
    for name in NAMES:
        rate, samples = sound(name)
        assert rate == 48_000
        assert len(samples) / rate < 1.2
        assert not samples[-round(0.025 * rate) :].any()


def test_the_finder_takes_the_sounds_apart_again() -> None:
    rate = 48_000
    order = [
        "block",
        "count",
        "count",
        "count",
        "start",
        "switch",
        "mark",
        "tick",
        "logged",
        "done",
    ]
    quiet = np.zeros(round(0.3 * rate))
    recording = np.concatenate([part for name in order for part in (quiet, sound(name)[1])])
    tone = 0.4 * np.sin(2 * np.pi * 600 * np.arange(rate // 4) / rate)
    heard = find_cues(find_notes(np.concatenate([recording, tone]), rate))
    assert [one.name for one in heard] == [*order, "?"]
