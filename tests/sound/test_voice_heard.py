"""A phrase and a cue in a real sound server: the cue is not held up, and the phrase is cut."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from runner.sound.player import open_player
from runner.sound.wav import Format, write_wav
from runner.sound.ways import SETTING, read_settings
from tests.sound.listen import find_cues, find_notes, from_s16
from tests.sound.mat_sink import RATE, Sink, in_time, mat_sink, missing

PHRASE_S, PHRASE_HZ = 2.0, 150.0  # a hum, far under the cues, so that both can be told apart
TURNS = 4
# From the cue's onset until the phrase is gone: what is in the buffers still sounds. Neither is
# louder than -6 dBFS, so that does not clip.
CUT_S = {"simpleaudio": 0.3, "aplay": 0.12}


def hum(path: Path) -> None:
    times = np.arange(round(PHRASE_S * 22_050)) / 22_050
    samples = (0.45 * 32_767 * np.sin(2 * np.pi * PHRASE_HZ * times)).astype("<i2")
    write_wav(path, Format(1, 2, 22_050), samples.tobytes())


def split(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What is under 300 Hz, and what is over it."""
    spectrum = np.fft.rfft(samples)
    over = np.fft.rfftfreq(len(samples), 1 / RATE) > 300
    low, high = (np.fft.irfft(np.where(part, spectrum, 0), len(samples)) for part in (~over, over))
    return low, high


def loudness(samples: np.ndarray, from_s: float, to_s: float) -> float:
    return float(np.sqrt(np.mean(samples[round(from_s * RATE) : round(to_s * RATE)] ** 2)))


@pytest.mark.slow
@pytest.mark.parametrize("way", ["simpleaudio", "aplay"])
def test_a_cue_sounds_as_soon_over_a_phrase_as_in_the_quiet(
    way: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    record_property: Callable[[str, object], None],
) -> None:
    reason = missing(*(() if way == "simpleaudio" else (way,)))
    if way == "simpleaudio" and importlib.util.find_spec(way) is None:
        reason = "simpleaudio is not installed"
    if reason:
        pytest.skip(reason)
    hum(tmp_path / "hum.wav")
    with mat_sink() as sink:
        for key, text in sink.environ.items():
            monkeypatch.setenv(key, text)
        print()  # noqa: T201 - beside the test's name
        in_time(lambda _: added_by_a_phrase(way, sink, tmp_path), record_property)


def added_by_a_phrase(way: str, sink: Sink, folder: Path) -> list[float]:
    """How much later a cue sounds over a phrase than in the quiet, in ms."""
    asked: list[float] = []
    player = open_player(settings=read_settings({SETTING: way}), phrases=folder)
    with player, sink.recording() as recorder:
        assert player.settled(10), player.report()
        at_s = recorder.length_s + 0.2
        for turn in range(2 * TURNS):
            recorder.wait_for(at_s, 10)
            if turn % 2:  # every other cue comes in the middle of a phrase
                assert player.say("hum.wav", "hum", 1.0)
                recorder.wait_for(at_s + 0.4, 10)
            asked.append(time.monotonic())
            player.play("count")
            at_s += 1.0
        recorder.wait_for(at_s + 0.5, 10)
        counts = player.counts
    assert (counts.played, counts.said, counts.lost, counts.late) == (2 * TURNS, TURNS, 0, 0)
    low, high = split(from_s16(recorder.raw))
    onsets = [one.at_s for one in find_cues(find_notes(high, RATE)) if one.name == "count"]
    assert len(onsets) == 2 * TURNS, "every cue is heard"

    for onset in onsets[1::2]:
        assert loudness(low, onset - 0.2, onset - 0.05) > 0.2, "the phrase was sounding"
        assert loudness(low, onset + CUT_S[way], onset + 0.5) < 0.02, "and is cut"

    # From a cue in the quiet to one over a phrase and back: what the phrase adds, both ways.
    steps = zip(pairwise(onsets), pairwise(asked), strict=True)
    errors_ms = [1000 * ((b - a) - (then - now)) for (a, b), (now, then) in steps]
    return [error if n % 2 == 0 else -error for n, error in enumerate(errors_ms)]
